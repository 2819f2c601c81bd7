//! Does a release hold for one use of one person (R19)?

use crate::cases::all_agree;

/// Source: data/cases/releases.json, brute force; every reason in the order of its README.
#[test]
fn release_cases_agree() {
    all_agree("releases");
}
