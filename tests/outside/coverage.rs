//! Coverage (R1–R3) against brute-force cases. Its property test stands beside the code.

use serde_json::json;
use waybill_domain::try_rule::try_rule;

use crate::cases::all_agree;

/// Source: data/cases/coverage.json, brute force day by day.
#[test]
fn coverage_cases_agree() {
    all_agree("coverage");
}

/// Malformed cases are refused with their id and the place in them.
#[test]
fn malformed_cases_are_named() {
    let good = json!({
        "id": 3,
        "need": {"territories": ["GB"], "media": ["cinema"], "from": "2028-01-01", "to": "2028-01-02"},
        "events": {"signature": null},
        "grants": [{"territories": ["WORLD"], "media": ["all"], "starts": "2028-01-01",
                    "term": "perpetuity"}],
    });
    assert!(try_rule("coverage", &good).is_ok());
    let faults = [
        ("/need/to", json!("2027-12-31"), "before the first"),
        ("/need/from", json!("1 Jan"), "expected a date"),
        (
            "/need/territories/0",
            json!("UK"),
            "\"UK\" is not a territory",
        ),
        ("/need/media/0", json!("Cinema"), "lower-case"),
        ("/events/signature", json!(7), "expected a date"),
        ("/grants/0/territories", json!("WORLD"), "expected a list"),
        (
            "/grants/0/starts",
            json!("lunch"),
            "expected a date, or one of",
        ),
        ("/grants/0/term", json!("for ever"), "expected {"),
    ];
    for (pointer, value, words) in faults {
        let mut case = good.clone();
        *case.pointer_mut(pointer).expect("a place in the case") = value;
        let error = try_rule("coverage", &case).expect_err(pointer).to_string();
        assert!(
            error.contains(&format!("case 3, at {pointer}: ")),
            "{error}"
        );
        assert!(error.contains(words), "{error}");
    }
    // A misspelt member is not passed over: without it the answer would be more than was granted.
    let strange = [
        ("/need/until", "/need"),
        ("/events/first_show", "/events"),
        ("/grants/0/territory_except", "/grants/0"),
        ("/grants/0/countin", "/grants/0"),
        ("/grant", ""),
    ];
    for (pointer, place) in strange {
        let mut case = good.clone();
        let name = pointer.rsplit('/').next().expect("a name");
        case.pointer_mut(place).expect("a place in the case")[name] = json!(["GB"]);
        let error = try_rule("coverage", &case).expect_err(pointer).to_string();
        let words = format!("case 3, at {pointer}: the member \"{name}\" is not known here");
        assert!(error.contains(&words), "{error}");
    }
    let mut about = good.clone();
    about["source"] = json!("by hand");
    about["expected"] = json!([]);
    assert!(try_rule("coverage", &about).is_ok());
    assert!(try_rule("coverage", &json!([1])).is_err());
    let error = try_rule("charm", &good)
        .expect_err("no such rule")
        .to_string();
    assert!(error.contains("coverage, reminder-instants"), "{error}");
}
