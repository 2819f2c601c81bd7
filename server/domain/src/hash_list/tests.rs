//! Tests of lists in memory. Published lists are compared in the project's tests against outside sources.
#![expect(clippy::unwrap_used, reason = "tests")]

use proptest::prelude::*;
use sha2::Digest as _;

use super::chain::{ChainEntry, ChainFault, chain_text, number_faults, read_chain};
use super::compare::{Judgement, Unproven, judge, next_values};
use super::digest::Digest;
use super::history::{History, Known, KnownValue, Renamed};
use super::ignore::Ignore;
use super::model::{About, Action, Creator, FileRecord, Head, Manifest, Process, Record, Value};
use super::read::ListError;
use super::renames::{Candidate, Lost, find_renames};
use super::{manifest_text, read_manifest};
use crate::hashes::HashKind;

fn digest(kind: HashKind, content: &str) -> Digest {
    let sum = sha2::Sha256::digest(content.as_bytes());
    let hex: String = sum.iter().map(|byte| format!("{byte:02x}")).collect();
    Digest::from_text(kind, &hex[..kind.text_length()]).unwrap()
}

fn value(kind: HashKind, content: &str, action: Action) -> Value {
    Value {
        digest: digest(kind, content),
        action: Some(action),
        date: Some("2026-03-14T08:30:00Z".parse().unwrap()),
    }
}

fn head(ignore: &[&str]) -> Head {
    Head {
        creator: Creator {
            date: "2026-03-14T08:30:00Z".parse().unwrap(),
            host: "slipway.example.invalid".to_owned(),
            tool: "waybill".to_owned(),
            tool_version: Some("0.1.0".to_owned()),
            authors: Vec::new(),
            location: None,
            comment: None,
        },
        process: Process::InPlace,
        root: None,
        ignore: ignore.iter().map(|pattern| (*pattern).to_owned()).collect(),
    }
}

fn file(path: &str, content: &str, action: Action, previous: Option<&str>) -> Record {
    Record::File(FileRecord {
        path: path.to_owned(),
        size: Some(content.len() as u64),
        created: None,
        modified: None,
        values: vec![value(HashKind::Xxh64, content, action)],
        previous: previous.map(str::to_owned),
    })
}

fn sample() -> Manifest {
    Manifest {
        head: head(&[".DS_Store", "a & b"]),
        records: vec![
            file(
                " two  spaces & <angle>\n\"'\r.mov",
                "one",
                Action::Original,
                None,
            ),
            file("b.mov", "two", Action::Verified, Some("a.mov")),
        ],
        references: Vec::new(),
    }
}

fn read(text: &str) -> Result<(super::read::Read, Vec<Record>), ListError> {
    let mut records = Vec::new();
    let read = read_manifest(text.as_bytes(), &mut |record| records.push(record))?;
    Ok((read, records))
}

#[test]
fn a_list_comes_back_as_it_was_written() {
    let manifest = sample();
    let (read, records) = read(&manifest_text(&manifest)).unwrap();
    assert_eq!(read.doubts, []);
    assert_eq!(read.head, manifest.head);
    assert_eq!(records, manifest.records);
}

#[test]
fn any_prefix_and_upper_case_digits_are_read() {
    let text = manifest_text(&sample());
    let text = text.replace("</", "</m:").replace("xmlns=", "xmlns:m=");
    let mut prefixed = String::new();
    for (number, part) in text.split('<').enumerate() {
        if number > 0 {
            prefixed.push_str(if part.starts_with(['/', '?']) {
                "<"
            } else {
                "<m:"
            });
        }
        prefixed.push_str(part);
    }
    let wanted = digest(HashKind::Xxh64, "one").text();
    let (found, records) = read(&prefixed.replace(&wanted, &wanted.to_uppercase())).unwrap();
    assert_eq!(found.doubts, []);
    assert_eq!(records, sample().records);
}

#[test]
fn a_list_cut_anywhere_is_an_error() {
    let text = manifest_text(&sample());
    let whole = text.trim_end().len();
    for end in 0..whole {
        if text.is_char_boundary(end) {
            assert!(read(&text[..end]).is_err(), "cut at {end}");
        }
    }
    assert!(read(&format!("{text}more")).is_err());
}

#[test]
fn bombs_other_versions_and_other_documents_are_refused_by_name() {
    let text = manifest_text(&sample());
    let bomb = text.replace(
        "<hashlist",
        "<!DOCTYPE x [<!ENTITY a \"b\"><!ENTITY c \"&a;&a;\">]><hashlist",
    );
    assert!(matches!(read(&bomb), Err(ListError::DocumentType)));
    let entity = text.replace("waybill</tool>", "&a;</tool>");
    assert!(matches!(read(&entity), Err(ListError::Entity(_))));
    let higher = text.replace("v2.0", "v3.0").replace("\"2.0\"", "\"3.0\"");
    assert!(matches!(read(&higher), Err(ListError::Version(version)) if version == "3.0"));
    let attribute = text.replace("version=\"2.0\"", "version=\"2.1\"");
    assert!(matches!(read(&attribute), Err(ListError::Version(version)) if version == "2.1"));
    let old = "<hashlist version=\"1.1\"><hash/></hashlist>";
    assert!(matches!(read(old), Err(ListError::Version(version)) if version == "1.1"));
    assert!(matches!(read("<html/>"), Err(ListError::Root { .. })));
    let control = text.replace("waybill</tool>", "&#1;</tool>");
    assert!(read(&control).is_err());
    let deep = text.replace("</hash>", &format!("<metadata>{}", "<x>".repeat(100_000)));
    assert!(matches!(read(&deep), Err(ListError::TooDeep)));
    let endless = text.replace("waybill</tool>", &"x".repeat(3 << 20));
    assert!(read(&endless).is_err());
}

#[test]
fn what_cannot_be_used_is_a_doubt_and_the_rest_is_read() {
    let text = manifest_text(&sample())
        .replace(">b.mov<", ">../b.mov<")
        .replacen("</xxh64>", "</xxh64><blake3>00</blake3>", 1);
    let (found, records) = read(&text).unwrap();
    let about: Vec<About> = found.doubts.iter().map(|doubt| doubt.about).collect();
    assert_eq!(about, [About::UnknownElement, About::BadPath]);
    assert_eq!(records.len(), 1);
    assert!(about.iter().all(|about| about.is_serious()));
}

#[test]
fn a_chain_comes_back_and_its_gaps_are_told() {
    let entry = |sequence| ChainEntry {
        sequence,
        path: format!("{sequence:04}_A001_2026-03-14_083000Z.mhl"),
        c4: Digest::from_text(HashKind::C4, &format!("c4{}", "1".repeat(88))).unwrap(),
    };
    let entries = vec![entry(1), entry(2), entry(4)];
    let (read, doubts) = read_chain(chain_text(&entries).as_bytes()).unwrap();
    assert_eq!((&read, doubts.len()), (&entries, 0));
    let gap = ChainFault::Numbers {
        expected: 3,
        found: 4,
    };
    assert_eq!(number_faults(&entries), [gap]);
    let text = chain_text(&entries);
    for end in 0..text.trim_end().len() {
        assert!(read_chain(&text.as_bytes()[..end]).is_err(), "cut at {end}");
    }
}

fn history(generations: &[&[Record]]) -> History {
    let mut history = History::default();
    for (number, records) in generations.iter().enumerate() {
        let mut renamed = Renamed::default();
        records.iter().for_each(|record| renamed.note(record));
        history.begin(number as u32 + 1, "list", head(&[]), true, renamed);
        records
            .iter()
            .for_each(|record| history.take(record.clone()));
    }
    history
}

#[test]
fn two_files_may_change_places_in_one_generation() {
    let history = history(&[
        &[
            file("a", "A", Action::Original, None),
            file("b", "B", Action::Original, None),
        ],
        &[
            file("b", "A", Action::Verified, Some("a")),
            file("a", "B", Action::Verified, Some("b")),
        ],
    ]);
    assert!(history.doubts.is_empty());
    let found = |path: &str, content: &str| {
        judge(
            history.files.get(path),
            1,
            &[digest(HashKind::Xxh64, content)],
        )
    };
    assert_eq!(found("b", "A"), Judgement::Verified);
    assert_eq!(found("a", "B"), Judgement::Verified);
    assert!(matches!(found("a", "A"), Judgement::Changed { .. }));
    assert_eq!(found("c", "A"), Judgement::New);
}

#[test]
fn failed_hashes_are_never_compared_with() {
    let bad = history(&[
        &[file("a", "good", Action::Original, None)],
        &[file("a", "bad!", Action::Failed, None)],
    ]);
    let judged = |content: &str| judge(bad.files.get("a"), 4, &[digest(HashKind::Xxh64, content)]);
    assert!(matches!(judged("bad!"), Judgement::Changed { .. }));
    assert_eq!(judged("good"), Judgement::Verified);
    let only = history(&[&[file("a", "bad!", Action::Failed, None)]]);
    let judged = judge(only.files.get("a"), 4, &[digest(HashKind::Xxh64, "bad!")]);
    assert_eq!(judged, Judgement::Unproven(Unproven::NoHash));
}

#[test]
fn a_changed_file_enters_no_further_type() {
    let known = history(&[&[file("a", "good", Action::Original, None)]]);
    let digests = [
        digest(HashKind::Xxh64, "bad!"),
        digest(HashKind::Md5, "bad!"),
    ];
    let judged = judge(known.files.get("a"), 4, &digests);
    let values = next_values(&judged, &digests, "2026-03-15T08:30:00Z".parse().unwrap());
    assert_eq!(values.len(), 1);
    assert_eq!(values[0].action, Some(Action::Failed));
    let digests = [
        digest(HashKind::Xxh64, "good"),
        digest(HashKind::Md5, "good"),
    ];
    let judged = judge(known.files.get("a"), 4, &digests);
    let values = next_values(&judged, &digests, "2026-03-15T08:30:00Z".parse().unwrap());
    assert!(
        values
            .iter()
            .all(|value| value.action == Some(Action::Verified))
    );
    assert_eq!(values.len(), 2);
}

#[test]
fn only_a_size_can_say_no_and_never_yes() {
    let known = history(&[&[file("a", "good", Action::Original, None)]]);
    let other = [digest(HashKind::Md5, "good")];
    let judged = judge(known.files.get("a"), 4, &other);
    assert_eq!(judged, Judgement::Unproven(Unproven::NothingInCommon));
    assert!(matches!(
        judge(known.files.get("a"), 5, &other),
        Judgement::Changed { mismatches, .. } if mismatches.is_empty()
    ));
}

#[test]
fn lists_that_contradict_each_other_are_told() {
    let history = history(&[
        &[file("a", "good", Action::Original, None)],
        &[
            file("a", "else", Action::Verified, None),
            file("a", "else", Action::Verified, None),
        ],
    ]);
    let about: Vec<About> = history
        .doubts
        .iter()
        .map(|(_, doubt)| doubt.about)
        .collect();
    assert_eq!(about, [About::Contradiction, About::Repeated]);
}

#[test]
fn a_renamed_folder_takes_its_files_along() {
    let mut renamed = Renamed::default();
    let folder = |path: &str, previous: &str| {
        Record::Folder(super::model::FolderRecord {
            path: path.to_owned(),
            created: None,
            modified: None,
            pair: super::model::Pair::default(),
            previous: Some(previous.to_owned()),
        })
    };
    let mut history = history(&[&[
        file("old/x", "1", Action::Original, None),
        file("old/in/y", "2", Action::Original, None),
        file("older/z", "3", Action::Original, None),
    ]]);
    renamed.note(&folder("new", "old"));
    history.begin(2, "list", head(&[]), true, renamed);
    let mut paths: Vec<&str> = history.files.keys().map(|path| &**path).collect();
    paths.sort_unstable();
    assert_eq!(paths, ["new/in/y", "new/x", "older/z"]);
    assert_eq!(
        history.missing(&Ignore::new(["in/"]), None),
        ["new/x", "older/z"]
    );
}

#[test]
fn only_what_fits_once_is_taken_as_renamed() {
    let known = |content: &str| Known {
        first: 1,
        last: 1,
        values: vec![KnownValue {
            digest: digest(HashKind::Xxh64, content),
            generation: 1,
            trusted: true,
        }],
        ..Known::default()
    };
    let (one, twin, gone) = (known("one"), known("twin"), known("gone"));
    let lost = [
        ("a/one.mov", &one),
        ("a/t1.mov", &twin),
        ("a/t2.mov", &twin),
        ("a/gone.mov", &gone),
    ];
    let lost = lost.map(|(path, known)| Lost { path, known });
    let content = |content: &str| vec![digest(HashKind::Xxh64, content)];
    let (one, twin) = (content("one"), content("twin"));
    let candidate = |path, digests, since| Candidate {
        path,
        size: 4,
        digests,
        since,
    };
    let found = |candidates: &[Candidate<'_>]| {
        let renames = find_renames(&lost, candidates);
        let pairs = renames
            .iter()
            .map(|rename| (lost[rename.lost].path, candidates[rename.candidate].path));
        pairs
            .map(|(from, to)| format!("{from} {to}"))
            .collect::<Vec<_>>()
    };
    assert_eq!(
        found(&[candidate("b/uno.mov", &one, None)]),
        ["a/one.mov b/uno.mov"]
    );
    // recorded beside the lost one already: another file with the same content
    assert_eq!(found(&[candidate("b/uno.mov", &one, Some(1))]), [""; 0]);
    assert_eq!(
        found(&[candidate("b/uno.mov", &one, Some(2))]),
        ["a/one.mov b/uno.mov"]
    );
    // two that could be either, and one that is told by its name
    assert_eq!(found(&[candidate("b/x.mov", &twin, None)]), [""; 0]);
    assert_eq!(
        found(&[candidate("b/t2.mov", &twin, None)]),
        ["a/t2.mov b/t2.mov"]
    );
    assert_eq!(
        found(&[
            candidate("b/one.mov", &one, None),
            candidate("c/uno.mov", &one, None)
        ]),
        ["a/one.mov b/one.mov"]
    );
}

proptest! {
    /// Whatever a few flipped bytes make of a list, it is an answer and no panic.
    #[test]
    fn damaged_lists_never_panic(places in prop::collection::vec((0_usize..2_000, any::<u8>()), 1..8)) {
        let mut bytes = manifest_text(&sample()).into_bytes();
        for (place, byte) in places {
            let length = bytes.len();
            bytes[place % length] = byte;
        }
        let _ = read_manifest(bytes.as_slice(), &mut |_| {});
        let _ = read_chain(bytes.as_slice());
        let _ = super::plain::read_plain(bytes.as_slice(), None);
    }
}
