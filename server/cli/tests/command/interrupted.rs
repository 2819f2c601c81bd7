//! Scans that do not reach their end: Ctrl-C, kill, a drive that is pulled out, two at once.

use std::fs;
use std::hash::{BuildHasher, RandomState};
use std::process::{Child, Command};
use std::thread::sleep;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::support::{Ended, Scratch, ended, noise};

fn fill(scratch: &Scratch) {
    for number in 0..400_u64 {
        scratch.write(format!("small/{number:03}"), &noise(number, 2_000));
    }
    for number in 0..12_u64 {
        scratch.write_sparse(&format!("take/{number:02}"), (4 << 20) + number);
    }
}

fn signal(child: &Child, name: &str) {
    let sent = Command::new("kill")
        .args([name, &child.id().to_string()])
        .status();
    assert!(sent.expect("kill is everywhere").success());
}

/// Files in the journals of the scratch home, torn lines left out.
fn recorded(scratch: &Scratch) -> usize {
    let folder = scratch.path(".local/state/waybill/scans");
    let Ok(entries) = fs::read_dir(folder) else {
        return 0;
    };
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let texts = paths.filter(|path| path.extension().is_some_and(|end| end == "jsonl"));
    let mut files = std::collections::BTreeSet::new();
    for text in
        texts.map(|path| String::from_utf8_lossy(&fs::read(path).expect("a file")).into_owned())
    {
        let lines = text
            .lines()
            .filter_map(|l| serde_json::from_str::<serde_json::Value>(l).ok());
        let paths = lines.filter(|line| line["file"].is_object());
        files.extend(paths.map(|line| line["file"]["file"]["path"].to_string()));
    }
    files.len()
}

/// A number from 0 to 1 that nobody chose.
fn by_chance() -> f64 {
    let bits = RandomState::new().hash_one(0) >> 11;
    bits as f64 / (1_u64 << 53) as f64
}

#[test]
fn fifty_kills_at_random_moments_lose_nothing() {
    let scratch = Scratch::new();
    fill(&scratch);
    let more = ["--jobs", "2", "--hash", "sha1"];
    let began = Instant::now();
    let clean = scratch.scan(&[&more[..], &["--state", "other"]].concat());
    let whole_run = began.elapsed();
    assert!(clean.out.contains("412 new"), "{}", clean.out);
    let expected = scratch.manifest();
    let forget = || {
        fs::remove_dir_all(scratch.path(".local")).expect("journals");
        fs::remove_file(scratch.path("out.jsonl")).expect("a manifest");
    };
    fs::remove_file(scratch.path("out.jsonl")).expect("a manifest");
    let (mut kills, mut before) = (0, 0);
    while kills < 50 {
        let moment = whole_run.mul_f64(by_chance());
        let mut child = scratch.start_scan(&more);
        sleep(moment);
        // a scan that is done already cannot be killed
        let _ = child.kill();
        let status = child.wait().expect("it was started");
        let after = recorded(&scratch);
        assert!(
            after >= before,
            "killed after {moment:?}: {before} files were recorded, now {after}"
        );
        // what bears the manifest's name is a whole one
        let named = scratch.path("out.jsonl").exists();
        if named {
            assert_eq!(scratch.manifest().timeless(), expected.timeless());
            assert_eq!(scratch.manifest().end, expected.end);
        }
        before = after;
        kills += u32::from(!status.success());
        if status.success() {
            assert!(named, "a scan that reached its end has its manifest");
            forget();
            before = 0;
        }
    }
    let last = scratch.scan(&more);
    assert_eq!(last.code, 0, "{}", last.err);
    assert_eq!(scratch.manifest().timeless(), expected.timeless());
    assert_eq!(scratch.manifest().end, expected.end);
}

#[test]
fn ctrl_c_keeps_what_is_done_and_says_how_to_go_on() {
    let scratch = Scratch::new();
    scratch.write("a", b"a");
    scratch.write("b", b"b");
    scratch.write_sparse("long", 4 << 40);
    let child = scratch.start_scan(&[]);
    sleep(Duration::from_millis(700));
    signal(&child, "-INT");
    let stopped = ended(child.wait_with_output().expect("it was started"));
    assert_eq!(stopped.code, 130, "{}", stopped.err);
    assert!(
        stopped
            .err
            .contains("2 files recorded; the same command goes on"),
        "{}",
        stopped.err
    );
    assert!(!scratch.path("out.jsonl").exists());
    scratch.write_sparse("long", 10 << 20);
    let resumed = scratch.scan(&[]);
    assert_eq!(resumed.code, 0);
    assert!(
        resumed.out.contains("1 new, 2 untouched"),
        "{}",
        resumed.out
    );
}

#[test]
fn a_drive_that_is_pulled_out_is_told_and_what_was_read_is_kept() {
    let scratch = Scratch::new();
    scratch.write("a", b"a");
    // long enough to be under way when the drive goes; the next file is missing then
    scratch.write_sparse("b", 2 << 30);
    for number in 0..300_u64 {
        scratch.write(format!("c/{number:03}"), &noise(number, 100));
    }
    let child = scratch.start_scan(&[]);
    sleep(Duration::from_millis(500));
    fs::rename(scratch.drive(), scratch.path("pulled")).expect("a free name");
    let gone = ended(child.wait_with_output().expect("it was started"));
    assert_eq!(gone.code, 74, "{}", gone.err);
    assert!(gone.err.contains("\"HARBOUR 1\""), "{}", gone.err);
    assert!(gone.err.contains("connect it again"), "{}", gone.err);
    assert!(recorded(&scratch) >= 1);
    fs::rename(scratch.path("pulled"), scratch.drive()).expect("a free name");
    let resumed = scratch.scan(&[]);
    assert_eq!(resumed.code, 0);
    assert_eq!(scratch.manifest().files.len(), 302);
}

#[test]
fn a_reading_of_everything_again_goes_on_too() {
    let scratch = Scratch::new();
    for name in ["a", "b", "c"] {
        scratch.write(name, name.as_bytes());
    }
    assert_eq!(scratch.scan(&[]).code, 0);
    scratch.write_sparse("long", 4 << 40);
    let child = scratch.start_scan(&["--rehash"]);
    sleep(Duration::from_millis(700));
    signal(&child, "-INT");
    assert_eq!(
        ended(child.wait_with_output().expect("it was started")).code,
        130
    );
    scratch.write_sparse("long", 10 << 20);
    let resumed = scratch.scan(&["--rehash"]);
    assert!(
        resumed
            .err
            .contains("Going on with the reading that began on"),
        "{}",
        resumed.err
    );
    assert!(
        resumed.out.contains("1 new, 3 untouched"),
        "{}",
        resumed.out
    );
    let all = scratch.scan(&["--rehash"]);
    assert!(all.out.contains("4 read again and the same"), "{}", all.out);
}

#[test]
fn two_scans_of_one_drive_do_not_mix() {
    let scratch = Scratch::new();
    scratch.write_sparse("long", 4 << 40);
    let mut first = scratch.start_scan(&[]);
    sleep(Duration::from_millis(500));
    let second = scratch.scan(&[]);
    assert_eq!(second.code, 65, "{}", second.err);
    assert!(second.err.contains("another run"), "{}", second.err);
    first.kill().expect("it is running");
    first.wait().expect("it was started");
}

#[test]
fn a_verification_that_was_killed_goes_on() {
    let scratch = Scratch::new();
    scratch.write("a", b"abc");
    scratch.write_sparse("long", 4 << 40);
    // RFC 1321, test suite: MD5 of "abc"; nobody knows the other
    let zeros = "0".repeat(32);
    let list = format!("900150983cd24fb0d6963f7d28e17f72  a\n{zeros}  long\n");
    fs::write(scratch.path("MD5SUMS"), list).expect("room");
    let args = [
        "verify",
        "drive",
        "--list",
        "MD5SUMS",
        "--list-hash",
        "md5",
        "--report",
        "told",
    ];
    let mut child = scratch.command(&args).spawn().expect("the program starts");
    sleep(Duration::from_millis(2_500));
    child.kill().expect("it is running");
    child.wait().expect("it was started");
    scratch.write_sparse("long", 10 << 20);
    let began: chrono::DateTime<chrono::Utc> = std::time::SystemTime::now().into();
    let read_at = |ended: &Ended| {
        assert_eq!(ended.code, 1, "{}", ended.err);
        let told = fs::read_to_string(scratch.path("told")).expect("an account");
        let mut lines = told
            .lines()
            .map(|line| serde_json::from_str::<Value>(line).expect("JSON"));
        let line = lines.find(|line| line["file"]["path"] == "a").expect("a");
        let at = line["file"]["at"].as_str().expect("a time").to_owned();
        at.parse::<chrono::DateTime<chrono::Utc>>().expect("a time")
    };
    let resumed = scratch.run(&args);
    assert!(
        resumed
            .err
            .contains("Going on with the verification that began on"),
        "{}",
        resumed.err
    );
    assert!(
        read_at(&resumed) < began - chrono::TimeDelta::seconds(1),
        "not read again"
    );
    let anew = scratch.run(&args);
    assert!(!anew.err.contains("Going on"), "{}", anew.err);
    assert!(read_at(&anew) >= began - chrono::TimeDelta::seconds(1));
}
