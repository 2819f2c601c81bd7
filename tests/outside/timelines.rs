//! Edit lists and OpenTimelineIO files.
//!
//! Source: data/timelines, published samples (Apache-2.0; repositories and commits in the README
//! there) and some made for this project. Every sample found is taken, and every field of its
//! expected values is compared, but for what tells about the sample and not about the cut.
//!
//! Readings taken where a sample allows several, as its expected values do:
//! - the outgoing side of a dissolve is what its own line says, even where it does not continue the
//!   event before (`dissolve_test_3`);
//! - FCM makes labels drop-frame even when they are written with colons (`made_drop_frame`);
//! - with a speed line, the longer of its length and the event's own counts (`speed_effects_small`);
//! - "used" means present in the file: hidden below another clip still counts.
//!
//! Not compared: the field `opentimelineio`, another reader's view, which the samples themselves
//! call one reading.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;
use waybill_domain::timecode::Rate;
use waybill_domain::timeline::{read, try_model};
use waybill_domain::usage;

use crate::cases::data;

/// Fields that are about the sample.
const ABOUT_THE_SAMPLE: [&str; 7] = [
    "sample",
    "source",
    "notes",
    "checks",
    "rate_note",
    "computed_with",
    "opentimelineio",
];

/// One sample with its expected values.
struct Sample {
    name: String,
    bytes: Vec<u8>,
    rate: Option<Rate>,
    expected: serde_json::Map<String, Value>,
}

fn samples(folder: &str) -> Vec<Sample> {
    let files = fs::read_dir(data().join("timelines").join(folder)).expect("the folder");
    let mut paths: Vec<PathBuf> = files.map(|file| file.expect("an entry").path()).collect();
    paths.retain(|path| path.extension().is_some_and(|end| end == folder));
    paths.sort();
    assert!(!paths.is_empty(), "no samples in {folder}");
    paths.iter().map(|path| sample(path)).collect()
}

fn sample(path: &Path) -> Sample {
    let expected = fs::read_to_string(path.with_extension("expected.json"))
        .unwrap_or_else(|e| panic!("{path:?}: {e}"));
    let expected: Value = serde_json::from_str(&expected).expect("JSON");
    let rate = expected["rate"].as_str();
    Sample {
        name: path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned(),
        bytes: fs::read(path).expect("the sample"),
        rate: rate.map(|rate| rate.parse().expect("a rate")),
        expected: expected.as_object().expect("an object").clone(),
    }
}

#[test]
fn every_sample_gives_its_expected_values() {
    for sample in samples("edl").into_iter().chain(samples("otio")) {
        let model = try_model(&sample.bytes, &sample.name, sample.rate)
            .unwrap_or_else(|e| panic!("{}: {e}", sample.name));
        for (key, expected) in &sample.expected {
            if ABOUT_THE_SAMPLE.contains(&key.as_str()) {
                continue;
            }
            if key == "union" {
                union_of_reels(&sample, &model, expected);
            } else {
                compare(&format!("{}: {key}", sample.name), expected, &model[key]);
            }
        }
    }
}

/// `union` states the joined range of reels whose name is long enough to be one source.
fn union_of_reels(sample: &Sample, model: &Value, expected: &Value) {
    let end = |one: &Value, key: &str| one[key].as_i64().expect("a frame");
    let ends = |one: &Value| (end(one, "in"), end(one, "out"));
    let used = model["used_source"].as_array().expect("a list");
    for reel in expected.as_array().expect("a list") {
        let used = used.iter().filter(|one| one["reel"] == reel["reel"]);
        assert_eq!(
            usage::union(used.map(ends)),
            [ends(reel)],
            "{}",
            sample.name
        );
    }
}

/// Everything expected is there and equal, 24 and 24.0 being one number; lists have no more.
fn compare(at: &str, expected: &Value, found: &Value) {
    match (expected, found) {
        (Value::Object(expected), Value::Object(found)) => {
            for (key, expected) in expected {
                let found = found.get(key).unwrap_or_else(|| panic!("{at}: no {key}"));
                compare(&format!("{at}.{key}"), expected, found);
            }
        }
        (Value::Array(expected), Value::Array(found)) => {
            assert_eq!(expected.len(), found.len(), "{at}: {found:?}");
            for (index, (expected, found)) in expected.iter().zip(found).enumerate() {
                compare(&format!("{at}[{index}]"), expected, found);
            }
        }
        (Value::Number(expected), Value::Number(found)) => {
            assert_eq!(expected.as_f64(), found.as_f64(), "{at}");
        }
        _ => assert_eq!(expected, found, "{at}"),
    }
}

/// The common model keeps every edit and every clip, in record order, with the used ranges.
#[test]
fn every_sample_becomes_events() {
    for sample in samples("edl").into_iter().chain(samples("otio")) {
        let cut = read(&sample.bytes, &sample.name, sample.rate).expect("read");
        let list = sample
            .expected
            .get("edits")
            .or(sample.expected.get("clips"));
        let written = list
            .and_then(Value::as_array)
            .expect("edits or clips")
            .len();
        assert_eq!(cut.events.len(), written, "{}", sample.name);
        assert!(cut.events.is_sorted_by_key(|event| event.record_in));
        if let Some(used) = sample.expected.get("used_source").and_then(Value::as_array) {
            let frames: i64 = used.iter().filter_map(|one| one["frames"].as_i64()).sum();
            let ranges = cut.events.iter().filter_map(|event| event.source);
            assert_eq!(
                ranges.map(|range| range.end - range.start).sum::<i64>(),
                frames
            );
        }
        if let Some(frames) = sample.expected.get("duration_frames") {
            assert_eq!(frames.as_i64(), Some(cut.duration), "{}", sample.name);
        }
    }
}
