//! Footage on drives: what a roll's name says, how far a file is logged, when a card may be wiped, when a drive is to be
//! checked, what would be gone with it, and how its files are looked for.

pub mod checks;
pub mod custody;
pub mod levels;
pub mod logged;
pub mod odds;
pub mod one_device;
pub mod plan;
pub mod risk;
pub mod roll;
pub mod sequence;
pub mod storage;
pub mod wipe;
pub mod words;
