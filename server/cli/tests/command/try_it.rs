//! `waybill try`: a rule, an edit list or a header without a server.

use std::fs;

use serde_json::{Value, json};

use crate::support::{Scratch, sample};

#[test]
fn a_header_is_told() {
    let scratch = Scratch::new();
    let file = sample("media/clip_2997_df.mov");
    let run = scratch.run(&["try", "media", file.to_str().expect("text")]);
    assert_eq!(run.code, 0, "{}", run.err);
    let facts: Value = serde_json::from_str(&run.out).expect("JSON");
    assert_eq!(facts["timecode"]["end_label_exclusive"], "01:01:00;17");
    fs::write(scratch.path("text.mov"), "not a film").expect("room");
    let run = scratch.run(&["try", "media", "text.mov"]);
    assert_eq!(run.code, 65);
    assert!(run.err.contains("no MOV, MP4, MXF or WAV"), "{}", run.err);
}

#[test]
fn a_rule_is_worked_on_a_case_or_a_list() {
    let scratch = Scratch::new();
    let case = json!([{ "id": "a", "born": "2010-02-28", "on": "2028-02-28" }]);
    let file = sample("cases/ages.json");
    let run = scratch.run(&["try", "ages", file.to_str().expect("text")]);
    assert_eq!(run.code, 0, "{}", run.err);
    let answers: Value = serde_json::from_str(&run.out).expect("JSON");
    let cases: Value = serde_json::from_slice(&fs::read(file).expect("cases")).expect("JSON");
    assert_eq!(
        answers.as_array().map(Vec::len),
        cases.as_array().map(Vec::len)
    );
    fs::write(scratch.path("bad.json"), case.to_string()).expect("room");
    let run = scratch.run(&["try", "coverage", "bad.json"]);
    assert_eq!(run.code, 65);
    assert!(run.err.contains("bad.json: case"), "{}", run.err);
    let strange = json!({ "born": "2010-02-28", "on": "2028-02-28", "onn": "2029-02-28" });
    fs::write(scratch.path("bad.json"), strange.to_string()).expect("room");
    let run = scratch.run(&["try", "ages", "bad.json"]);
    assert_eq!(run.code, 65);
    assert!(run.err.contains("at /onn: the member"), "{}", run.err);
    fs::write(scratch.path("bad.json"), "{").expect("room");
    assert_eq!(scratch.run(&["try", "ages", "bad.json"]).code, 65);
    assert_eq!(scratch.run(&["try", "ages", "missing.json"]).code, 66);
}
