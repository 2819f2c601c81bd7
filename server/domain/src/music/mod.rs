//! Music as the societies count it: cue durations. Permissions for music are in `clearance`.

pub mod cue;
