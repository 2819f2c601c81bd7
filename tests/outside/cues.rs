//! How long a piece of music is heard (R14, R46).

use crate::cases::all_agree;

/// Source: data/cases/cue-durations.json, brute force frame by frame.
#[test]
fn cue_duration_cases_agree() {
    all_agree("cue-durations");
}
