//! Checks against published sources. Each module names its own; the data stand in `data/`.

mod ages;
mod cases;
mod coverage;
mod cues;
mod currencies;
mod hash_lists;
mod hashes;
mod identifiers;
mod media;
mod releases;
mod roll_script;
mod schedule;
mod spoken;
mod territories;
mod timecode;
mod timelines;
mod wipe;
