//! Footage on drives: what a roll's name says, how far a file is logged, and when a card may be wiped.

pub mod logged;
pub mod roll;
pub mod wipe;
