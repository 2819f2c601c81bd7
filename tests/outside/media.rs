//! Header facts of `data/media`, made and read by other programs (ffprobe 5.1.9, mediainfo and an own
//! reader; `expected.json` says which for each file). Every file listed there is compared in every field.

use std::fs::File;
use std::io::Write;

use serde_json::Value;
use waybill_domain::media::try_facts;

use crate::cases::{data, read};

/// What says how the values were found, not what they are.
const ABOUT: [&str; 2] = ["file", "checked_with"];

/// A sample; of a long one only the head is kept, and what follows takes no room.
fn open(name: &str, bytes: u64) -> File {
    let path = data().join("media").join(name);
    if !name.ends_with(".head") {
        return File::open(path).expect(name);
    }
    let mut long = tempfile::tempfile().expect("a scratch file");
    let head = std::fs::read(path).expect(name);
    long.write_all(&head).expect("room");
    long.set_len(bytes).expect("a sparse file");
    long
}

#[test]
fn every_sample_says_what_other_programs_read() {
    let expected = read("media/expected.json");
    let files = expected["files"].as_array().expect("a list of files");
    assert!(!files.is_empty());
    for expected in files {
        let name = expected["file"].as_str().expect("a name");
        let file = open(name, expected["bytes"].as_u64().expect("a length"));
        let len = file.metadata().expect(name).len();
        let facts = try_facts(file, len).expect(name);
        for (field, value) in expected.as_object().expect("fields") {
            if !ABOUT.contains(&field.as_str()) {
                assert_eq!(&facts[field], value, "{name}: {field}");
            }
        }
        assert_eq!(facts["warnings"], Value::Array(Vec::new()), "{name}");
    }
}
