//! Footage on drives: what a roll's name says, and when a card may be wiped.

pub mod roll;
pub mod wipe;
