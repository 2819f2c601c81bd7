//! Music as the societies count it: who has a share in it, cues from what is heard in a cut, the sheet that lists
//! them, and when it is due. Permissions for music are in `clearance`.

pub mod cue;
pub mod cues;
pub mod filing;
pub mod keep;
pub mod shares;
pub mod sheet;
pub mod stale;
