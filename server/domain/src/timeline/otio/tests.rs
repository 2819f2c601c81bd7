//! Files that no outside sample holds. The samples themselves are compared in `tests/outside`.
#![expect(clippy::unwrap_used, reason = "tests")]

use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;
use crate::timeline::{EventKind, Timeline};

fn time(value: f64, rate: f64) -> Value {
    json!({"OTIO_SCHEMA": "RationalTime.1", "value": value, "rate": rate})
}

fn range(start: f64, duration: f64, rate: f64) -> Value {
    json!({
        "OTIO_SCHEMA": "TimeRange.1",
        "start_time": time(start, rate),
        "duration": time(duration, rate),
    })
}

fn clip(name: &str, source: Value) -> Value {
    json!({
        "OTIO_SCHEMA": "Clip.2",
        "name": name,
        "source_range": source,
        "media_references": {"DEFAULT_MEDIA": {
            "OTIO_SCHEMA": "ExternalReference.1",
            "target_url": format!("{name}.mov"),
            "metadata": {"any": {"reel": "A001"}},
        }},
        "active_media_reference_key": "DEFAULT_MEDIA",
    })
}

fn track(children: &[Value]) -> Value {
    json!({"OTIO_SCHEMA": "Track.1", "name": "V1", "kind": "Video", "children": children})
}

fn timeline(tracks: &[Value]) -> Value {
    json!({
        "OTIO_SCHEMA": "Timeline.1",
        "name": "Regatta",
        "tracks": {"OTIO_SCHEMA": "Stack.1", "children": tracks},
    })
}

fn composition(value: &Value) -> Composition {
    read(&value.to_string()).unwrap()
}

fn cut(value: &Value) -> Timeline {
    composition(value).timeline(None).unwrap()
}

#[test]
fn a_track_may_begin_before_its_content() {
    // as in tests/sample_data/multiple_track.otio of github AcademySoftwareFoundation/OpenTimelineIO
    let mut late = track(&[clip("a", range(100.0, 9.0, 24.0))]);
    late["source_range"] = range(-7.0, 16.0, 24.0);
    let model = composition(&timeline(&[late])).model();
    assert_eq!(model["clips"][0]["record"], json!([7, 16]));
    assert_eq!(
        model["clips"][0]["used_after_parent_trims"],
        json!([100, 109])
    );
    assert_eq!(model["duration_frames"], 16);
}

#[test]
fn mixed_rates_are_exact() {
    let ntsc = 30000.0 / 1001.0;
    let value = timeline(&[track(&[
        clip("a", range(0.0, 30.0, ntsc)),
        clip("b", range(50.0, 25.0, 25.0)),
    ])]);
    let model = composition(&value).model();
    // 30 frames of 1001/30000 s are 1.001 s
    assert_eq!(model["clips"][1]["source"], json!([50, 75]));
    assert_eq!(model["clips"][1]["record"][0], 30);
    let cut = composition(&value).timeline("25".parse().ok()).unwrap();
    let second = cut.events.last().unwrap();
    // 1.001 s is inside frame 25, and 2.001 s inside frame 50
    assert_eq!((second.record_in, second.record_out), (25, 51));
}

#[test]
fn transitions_lengthen_both_sides_and_name_the_event() {
    let value = timeline(&[track(&[
        clip("a", range(10.0, 20.0, 25.0)),
        json!({
            "OTIO_SCHEMA": "Transition.1",
            "transition_type": "SMPTE_Dissolve",
            "in_offset": time(2.0, 25.0),
            "out_offset": time(3.0, 25.0),
        }),
        clip("b", range(50.0, 20.0, 25.0)),
    ])]);
    let cut = cut(&value);
    let used: Vec<_> = cut.events.iter().filter_map(|event| event.source).collect();
    assert_eq!(
        used.iter().map(|u| (u.start, u.end)).collect::<Vec<_>>(),
        [(10, 33), (48, 70)]
    );
    let shown: Vec<_> = cut
        .events
        .iter()
        .map(|e| (e.record_in, e.record_out))
        .collect();
    assert_eq!(shown, [(0, 23), (18, 40)]);
    assert!(
        cut.events
            .iter()
            .all(|event| event.kind == EventKind::Dissolve)
    );
    assert!(cut.events.iter().all(|event| event.reel == "A001"));
}

#[test]
fn unknown_objects_are_left_out_and_reported() {
    let strange = json!({"OTIO_SCHEMA": "Hologram.9", "name": "x"});
    let mut newer = clip("a", range(0.0, 5.0, 25.0));
    newer["OTIO_SCHEMA"] = json!("Clip.7");
    let cut = cut(&timeline(&[track(&[strange, newer])]));
    assert_eq!(cut.events.len(), 1);
    let [warning] = cut.warnings.as_slice() else {
        panic!("{:?}", cut.warnings)
    };
    assert_eq!(warning.at, "/tracks/children/0/children/0");
    assert!(warning.text.contains("Hologram"));
}

#[test]
fn old_names_and_lone_objects_are_read() {
    let mut old = track(&[
        json!({"OTIO_SCHEMA": "Filler.1", "source_range": range(0.0, 5.0, 25.0)}),
        clip("a", range(0.0, 5.0, 25.0)),
    ]);
    old["OTIO_SCHEMA"] = json!("Sequence.1");
    let model = composition(&old).model();
    assert_eq!(model["tracks"][0]["children"], json!(["Gap", "Clip"]));
    let collection = json!({
        "OTIO_SCHEMA": "SerializableCollection.1",
        "children": [timeline(&[old])],
    });
    assert_eq!(cut(&collection).events.first().unwrap().record_in, 5);
}

#[test]
fn a_clip_without_a_range_is_kept_and_reported() {
    let mut unknown = clip("b", Value::Null);
    unknown["source_range"] = json!({"start_time": time(0.0, 25.0)});
    let cut = cut(&timeline(&[track(&[
        clip("a", range(0.0, 5.0, 25.0)),
        unknown,
    ])]));
    let lost = cut.events.last().unwrap();
    assert_eq!(
        (lost.clip.as_str(), lost.record_in, lost.source),
        ("b", 5, None)
    );
    assert_eq!(cut.warnings.len(), 2);
}

#[test]
fn what_is_no_timeline_is_refused() {
    let found = |text: &str| read(text).unwrap_err().to_string();
    assert!(found("{\"a\": 1}").contains("no OTIO_SCHEMA"));
    assert!(found("{\"OTIO_SCHEMA\": \"Marker.2\"}").contains("its schema is Marker"));
    assert!(found("{\"OTIO_SCHEMA\": \"Timeline.1\",").contains("breaks off at line 1"));
}

fn numbers() -> impl Strategy<Value = f64> {
    let odd = proptest::sample::select(vec![0.0, -7.0, 0.5, 1e11, -1e11, 1e300, 23.976, 48_000.0]);
    prop_oneof![odd, (-100.0..1e6_f64), (0_u32..100).prop_map(f64::from)]
}

proptest! {
    #[test]
    fn no_numbers_make_the_reader_panic(n in proptest::collection::vec(numbers(), 12)) {
        let mut first = clip("a", range(n[0], n[1], n[2]));
        first["effects"] = json!([{"OTIO_SCHEMA": "LinearTimeWarp.1", "time_scalar": n[3]}]);
        let transition = json!({
            "OTIO_SCHEMA": "Transition.1",
            "in_offset": time(n[4], n[2]),
            "out_offset": time(n[5], n[6]),
        });
        let mut inner = track(&[first, transition, clip("b", range(n[7], n[8], n[9]))]);
        inner["source_range"] = range(n[10], n[11], n[2]);
        let composition = composition(&timeline(&[inner]));
        drop((composition.model(), composition.timeline("25".parse().ok())));
    }
}
