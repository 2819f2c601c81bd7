//! Age on a day (R20).

use crate::cases::all_agree;

/// Source: data/cases/ages.json, brute force.
#[test]
fn age_cases_agree() {
    all_agree("ages");
}
