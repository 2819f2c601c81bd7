//! Working days (R32) and reminder instants (R6, RFC 5545 3.3.5).

use serde_json::json;
use waybill_domain::try_rule::try_rule;

use crate::cases::all_agree;

/// Source: data/cases/working-days.json, brute force.
#[test]
fn working_day_cases_agree() {
    all_agree("working-days");
}

/// Source: data/cases/reminder-instants.json, brute force over the IANA time zone database.
#[test]
fn reminder_instant_cases_agree() {
    all_agree("reminder-instants");
}

/// A malformed case is named with its id and the place in it.
#[test]
fn an_unknown_zone_is_named() {
    let case = json!({"id": "a", "zone": "Europe/Lundon", "local_date": "2027-01-01",
                      "local_time": "09:00"});
    let error = try_rule("reminder-instants", &case)
        .expect_err("no such zone")
        .to_string();
    assert!(
        error.contains("case a, at /zone") && error.contains("Europe/Lundon"),
        "{error}"
    );
}
