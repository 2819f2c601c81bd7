//! Timecode.
//!
//! Source: data/timecode-cases.json, computed by the published drop-frame formula (SMPTE ST 12-1)
//! and kept only where two open libraries agreed with it; how is told in the file.

use serde_json::{Value, json};
use waybill_domain::timecode::{Rate, Ratio};

use crate::cases;

/// Each case by its kind; a kind that is not known here fails, so that none is passed over.
#[test]
fn every_case_agrees() {
    let file = cases::read("timecode-cases.json");
    let cases = file["cases"].as_array().expect("a list of cases");
    assert!(!cases.is_empty());
    for case in cases {
        let rate = rate(&case["rate"]);
        let check = match case["kind"].as_str().expect("a kind") {
            "label" => label,
            "duration" => duration,
            "add" => add,
            "invalid" => invalid,
            "instant" => instant,
            other => panic!("{}: unknown kind {other}", case["id"]),
        };
        check(case, rate);
    }
}

/// The rate by its name, which must give the exact numbers beside it.
fn rate(given: &Value) -> Rate {
    let name = text(&given["name"]);
    let rate: Rate = name.parse().unwrap_or_else(|e| panic!("{name}: {e}"));
    assert_eq!(given["num"], rate.num(), "{name}");
    assert_eq!(given["den"], rate.den(), "{name}");
    assert_eq!(given["nominal"], rate.nominal(), "{name}");
    assert_eq!(given["drop"], rate.drop(), "{name}");
    rate
}

fn label(case: &Value, rate: Rate) {
    let frame = int(&case["frame"]);
    assert_eq!(rate.frame(text(&case["label"])), Ok(frame), "{case}");
    assert_eq!(rate.label(frame), case["label"], "{case}");
    assert_eq!(json!(rate.seconds(frame)), case["seconds"], "{case}");
}

fn duration(case: &Value, rate: Rate) {
    let ends = [&case["in"], &case["out"]].map(|label| rate.frame(text(label)).expect("a label"));
    let frames = rate.frames_between(ends[0], ends[1]);
    assert_eq!(case["frames"], frames, "{case}");
    assert_eq!(json!(rate.seconds(frames)), case["seconds"], "{case}");
}

fn add(case: &Value, rate: Rate) {
    let frame = rate.frame(text(&case["label"])).expect("a label");
    let (sum, days) = rate.add(frame, int(&case["add_frames"]));
    assert_eq!(rate.label(sum), case["result"], "{case}");
    assert_eq!(case["wrapped_days"], days, "{case}");
}

fn invalid(case: &Value, rate: Rate) {
    assert!(rate.frame(text(&case["label"])).is_err(), "{case}");
}

fn instant(case: &Value, rate: Rate) {
    let seconds = &case["seconds"];
    let seconds = Ratio::new(int(&seconds["num"]), int(&seconds["den"])).expect("a fraction");
    let frame = rate.frame_at(seconds);
    assert_eq!(case["frame"], frame, "{case}");
    assert_eq!(rate.label(frame), case["label"], "{case}");
}

fn int(value: &Value) -> i64 {
    value
        .as_i64()
        .unwrap_or_else(|| panic!("{value} is no whole number"))
}

fn text(value: &Value) -> &str {
    value
        .as_str()
        .unwrap_or_else(|| panic!("{value} is no text"))
}
