//! May a card be wiped (R38)?

use crate::cases::all_agree;

/// Source: data/cases/safe-to-wipe.json, brute force.
#[test]
fn safe_to_wipe_cases_agree() {
    all_agree("safe-to-wipe");
}
