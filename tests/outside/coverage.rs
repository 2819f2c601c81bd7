//! Coverage (R1–R3) against brute-force cases, and territories × media × days counted one by one.

use crate::cases::all_agree;

/// Source: data/cases/coverage.json, brute force day by day.
#[test]
fn coverage_cases_agree() {
    all_agree("coverage");
}
