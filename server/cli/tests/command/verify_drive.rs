//! Verifying a drive against the server's catalogue: every kind of difference by name, and what is sent.

use std::collections::BTreeMap;
use std::fs;

use serde_json::{Value, json};
use waybill_domain::verification::{ExpectedFile, VerifiedFile, VerifyResult};

use crate::server::{SERIES, Server};
use crate::support::{Ended, Scratch, ended};

/// Scans the drive, and lets the server know what was found.
fn known(scratch: &Scratch, server: &Server, more: &[&str]) {
    assert_eq!(scratch.scan(more).code, 0);
    let expected = scratch.manifest().files.into_values().map(|file| {
        let parts = file["path"].as_array().expect("a path").iter();
        let parts = parts.map(|part| part.as_str().expect("text").to_owned());
        ExpectedFile {
            path: std::iter::once("drive".to_owned()).chain(parts).collect(),
            size: file["size"].as_u64().expect("a size"),
            hashes: serde_json::from_value(file["hashes"].clone()).expect("digests"),
            state: "verified".to_owned(),
            checked_at: chrono::DateTime::UNIX_EPOCH,
        }
    });
    let mut expected: Vec<ExpectedFile> = expected.collect();
    expected.sort_by_key(|file| file.path.join("/"));
    server.scans.lock().expect("no panic").expected = expected;
}

fn verify(scratch: &Scratch, server: &Server, folder: &str, more: &[&str]) -> Ended {
    let args = ["verify", folder, "--drive", "h", "--to", &server.url];
    let mut command = scratch.command(&[&args[..], &["--series", SERIES], more].concat());
    let command = command.env("WAYBILL_TOKEN", "sesame");
    ended(command.output().expect("it starts"))
}

fn sent(server: &Server) -> BTreeMap<String, VerifiedFile> {
    let scans = server.scans.lock().expect("no panic");
    let files = scans.verified.iter().cloned();
    files.map(|file| (file.path_text(), file)).collect()
}

fn fill(scratch: &Scratch) {
    for name in [
        "A001/C001.mov",
        "A001/C002.mov",
        "A001/C003.mov",
        "A002/C001.mov",
        "notes.txt",
    ] {
        scratch.write(name, format!("the content of {name}").as_bytes());
    }
}

#[test]
fn a_drive_as_the_catalogue_knows_it_is_verified_and_told() {
    let (scratch, server) = (Scratch::new(), Server::start());
    fill(&scratch);
    known(&scratch, &server, &["--hash", "md5"]);
    let well = verify(&scratch, &server, "drive", &[]);
    assert_eq!(well.code, 0, "{}{}", well.out, well.err);
    assert!(well.out.contains("5 files verified"), "{}", well.out);
    assert!(
        well.out.contains(
            "has 5 copies as verified now. The next check of the drive is due on 9 Jul 2029."
        ),
        "{}",
        well.out
    );
    let sent = sent(&server);
    assert!(
        sent.values()
            .all(|file| file.result == VerifyResult::Verified && file.read.is_some())
    );
    let start = server.scans.lock().expect("no panic").verification.clone();
    assert_eq!(start["root"], "drive");

    // a folder inside the scanned one, by a second type of hash too
    let part = verify(&scratch, &server, "drive/A001", &["--hash", "md5"]);
    assert_eq!(part.code, 0, "{}{}", part.out, part.err);
    assert!(part.out.contains("3 files verified"), "{}", part.out);
    let start = server.scans.lock().expect("no panic").verification.clone();
    assert_eq!(start["root"], "drive/A001");

    // mounted under another name
    fs::rename(scratch.drive(), scratch.path("mnt")).expect("a free name");
    let lost = verify(&scratch, &server, "mnt", &[]);
    assert_eq!(lost.code, 66, "{}", lost.err);
    assert!(
        lost.err.contains("these folders: drive. --scanned-as NAME"),
        "{}",
        lost.err
    );
    let found = verify(&scratch, &server, "mnt", &["--scanned-as", "drive"]);
    assert_eq!(found.code, 0, "{}", found.err);
}

#[test]
fn every_difference_is_told_and_sent_by_name() {
    let (scratch, server) = (Scratch::new(), Server::start());
    fill(&scratch);
    known(&scratch, &server, &[]);
    scratch.write("A001/C001.mov", b"the content of A001/C001.mow");
    fs::remove_file(scratch.drive().join("A001/C002.mov")).expect("it is there");
    fs::rename(
        scratch.drive().join("notes.txt"),
        scratch.drive().join("A002/Notes.txt"),
    )
    .expect("free");
    scratch.write("A002/new.mov", b"nobody knows it");
    let report = ["--report", "account.jsonl"];
    let told = verify(&scratch, &server, "drive", &report);
    assert_eq!(told.code, 1, "{}{}", told.out, told.err);
    for words in [
        "A001/C001.mov: changed; xxh128 was ",
        "A001/C002.mov: missing",
        "A002/Notes.txt: renamed from notes.txt",
        "A002/new.mov: new, not recorded",
        "2 files verified",
        "1 changed; 1 missing; 1 renamed; 1 new",
    ] {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
    let sent = sent(&server);
    let results: Vec<(&str, &str)> = sent
        .iter()
        .map(|(path, file)| (path.as_str(), file.result.word()))
        .collect();
    assert_eq!(
        results,
        [
            ("A001/C001.mov", "changed"),
            ("A001/C002.mov", "missing"),
            ("A001/C003.mov", "verified"),
            ("A002/C001.mov", "verified"),
            ("A002/Notes.txt", "renamed"),
            ("A002/new.mov", "new"),
        ]
    );
    let renamed = &sent["A002/Notes.txt"];
    assert_eq!(
        renamed.previous_path.as_deref(),
        Some(&["notes.txt".to_owned()][..])
    );
    let account = fs::read_to_string(scratch.path("account.jsonl")).expect("an account");
    let begin: Value = serde_json::from_str(account.lines().next().expect("a line")).expect("JSON");
    assert_eq!(begin["begin"]["against"], json!("catalogue"));
}

#[test]
fn what_cannot_be_read_or_is_not_there_at_all_is_no_answer() {
    let (scratch, server) = (Scratch::new(), Server::start());
    fill(&scratch);
    known(&scratch, &server, &[]);
    // another drive at the same place: nothing that is recorded is there
    fs::rename(scratch.drive(), scratch.path("kept")).expect("a free name");
    fs::create_dir(scratch.drive()).expect("a folder");
    let empty = verify(&scratch, &server, "drive", &[]);
    assert_eq!(empty.code, 66, "{}", empty.err);
    assert!(empty.err.contains("is the drive mounted?"), "{}", empty.err);
    scratch.write("other.txt", b"another drive's");
    let other = verify(&scratch, &server, "drive", &[]);
    assert_eq!(other.code, 2, "{}", other.err);
    assert!(other.err.contains("nothing was sent"), "{}", other.err);
    assert_eq!(
        server.scans.lock().expect("no panic").verification,
        Value::Null
    );
    let unknown = verify(&scratch, &server, "drive", &["--drive", "none"]);
    assert_eq!(unknown.code, 64, "given twice: {}", unknown.err);
}

#[test]
fn a_result_that_could_not_be_sent_is_kept_and_sent_by_the_next_run() {
    let (scratch, server) = (Scratch::new(), Server::start());
    fill(&scratch);
    known(&scratch, &server, &[]);
    scratch.write("A001/C001.mov", b"the content of A001/C001.mow");
    // from the end: the requests before the sending are answered, then it is refused for good
    let dry = verify(&scratch, &server, "drive", &["--no-record"]);
    assert_eq!(dry.code, 1, "{}", dry.err);
    let before = server.scans.lock().expect("no panic").requests.len();
    let trouble: Vec<u16> = std::iter::once(400)
        .chain(std::iter::repeat_n(1, before))
        .collect();
    server.trouble(&trouble);
    let refused = verify(&scratch, &server, "drive", &[]);
    assert_eq!(refused.code, 65, "{}", refused.err);
    assert!(
        refused
            .err
            .contains("The result is kept; the same command sends it."),
        "{}",
        refused.err
    );
    assert_eq!(
        server.scans.lock().expect("no panic").verification,
        Value::Null
    );
    scratch.write("A001/C003.mov", b"changed after the reading");
    let again = verify(&scratch, &server, "drive", &[]);
    assert_eq!(again.code, 1, "{}", again.err);
    assert!(
        again.err.contains("was not sent yet and is sent now"),
        "{}",
        again.err
    );
    let sent = sent(&server);
    assert_eq!(
        sent["A001/C003.mov"].result,
        VerifyResult::Verified,
        "as it was read then"
    );
    assert_eq!(sent["A001/C001.mov"].result, VerifyResult::Changed);
    let anew = verify(&scratch, &server, "drive", &[]);
    assert!(anew.out.contains("2 changed"), "{}", anew.out);
}
