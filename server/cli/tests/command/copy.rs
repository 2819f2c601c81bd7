//! Copies that reach their end: content, dates, names, lists and receipts.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, SystemTime};

use serde_json::Value;

use crate::support::{Ended, Scratch, copying, noise};

pub const ROLL: &str = "20260314_A003_CAMB_SLIPWAY";

/// A card with what cards have: a few large files, many small ones, empty files and folders, names that need care.
pub fn fill(scratch: &Scratch) {
    let sizes = [0, 1, 511, 4_096, 4_097, 65_537, 300_000, (1 << 20) + 1];
    for number in 0..40_u64 {
        let size = sizes[usize::try_from(number).expect("small") % sizes.len()];
        card_file(
            scratch,
            &format!("SUB/C{number:04}.XML"),
            &noise(number, size),
        );
    }
    card_file(scratch, "CLIPS/A.MOV", &noise(100, (9 << 20) + 77));
    card_file(scratch, "CLIPS/B.MOV", &noise(101, 8 << 20));
    card_file(scratch, "CLIPS/Öffnung 東.MOV", &noise(102, 5_000_000));
    card_file(
        scratch,
        &format!("{}.txt", "n".repeat(250)),
        b"a name as long as names can be",
    );
    fs::create_dir_all(scratch.path("card/EMPTY/INNER")).expect("folders");
}

pub fn card_file(scratch: &Scratch, name: &str, bytes: &[u8]) -> PathBuf {
    let path = scratch.path("card").join(name);
    fs::create_dir_all(path.parent().expect("a folder")).expect("folders");
    fs::write(&path, bytes).expect("a file");
    // long ago, with a fraction of a second, as cameras write it
    let seconds = 1_773_000_000 + bytes.len() as u64 % 86_400;
    let date = SystemTime::UNIX_EPOCH + Duration::new(seconds, 120_000_000);
    let file = File::options().append(true).open(&path).expect("there");
    file.set_modified(date).expect("a date");
    path
}

/// Copying the card to the drives `one` and `two`; what these cards hold is noise, so no pictures.
pub fn to_both() -> Vec<&'static str> {
    [copying(ROLL, &["one", "two"]), vec!["--no-pictures"]].concat()
}

/// Folders that stand for the drives.
pub fn drives(scratch: &Scratch) {
    for drive in ["one", "two"] {
        fs::create_dir_all(scratch.path(drive)).expect("a folder");
    }
}

/// Begins to copy.
pub fn start(scratch: &Scratch) -> Child {
    drives(scratch);
    let mut command = scratch.command(&to_both());
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command.spawn().expect("the program starts")
}

/// Copies the card to `one` and `two`.
pub fn copy(scratch: &Scratch, more: &[&str]) -> Ended {
    drives(scratch);
    scratch.run(&[&to_both()[..], more].concat())
}

/// Every file below a folder by its path, but for lists: content and date.
pub fn tree(root: &Path) -> BTreeMap<String, (Vec<u8>, SystemTime)> {
    let mut found = BTreeMap::new();
    let mut folders = vec![root.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() && path.file_name() != Some("ascmhl".as_ref()) {
                folders.push(path);
            } else if path.is_file() {
                let below = path
                    .strip_prefix(root)
                    .expect("below")
                    .display()
                    .to_string();
                let date = fs::metadata(&path)
                    .and_then(|m| m.modified())
                    .expect("a date");
                found.insert(below, (fs::read(&path).expect("a file"), date));
            }
        }
    }
    found
}

/// The newest receipt.
pub fn receipt(scratch: &Scratch) -> Value {
    let entries = fs::read_dir(scratch.path("paper")).expect("receipts");
    let mut paths: Vec<PathBuf> = entries
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.retain(|path| path.extension().is_some_and(|end| end == "json"));
    let written = |path: &PathBuf| {
        fs::metadata(path)
            .and_then(|m| m.modified())
            .expect("a date")
    };
    paths.sort_by_key(written);
    let text = fs::read(paths.last().expect("a receipt")).expect("a file");
    serde_json::from_slice(&text).expect("JSON")
}

#[test]
fn every_destination_gets_the_same_bytes_and_dates() {
    let scratch = Scratch::new();
    fill(&scratch);
    let before = tree(&scratch.path("card"));
    let copied = copy(&scratch, &["--hash", "md5,sha1"]);
    assert_eq!(copied.code, 0, "{}{}", copied.err, copied.out);
    for drive in ["one", "two"] {
        let roll = scratch.path(drive).join(ROLL);
        let there = tree(&roll);
        assert_eq!(
            there.keys().collect::<Vec<_>>(),
            before.keys().collect::<Vec<_>>()
        );
        assert!(there == before, "content or dates differ on {drive}");
        assert!(roll.join("EMPTY/INNER").is_dir());
    }
    assert!(
        tree(&scratch.path("card")) == before,
        "the card is as it was"
    );
    let receipt = receipt(&scratch);
    assert_eq!(receipt["is_whole"], true);
    assert_eq!(receipt["card"]["totals"]["files"], 44);
    assert_eq!(receipt["faults"].as_array().map(Vec::len), Some(0));
    assert!(
        receipt["caution"]
            .as_str()
            .is_some_and(|text| text.contains("until post reports"))
    );
    // both lie in one scratch folder
    assert_eq!(receipt["same_device"], serde_json::json!([[0, 1]]));
    assert!(
        copied.err.contains("together they are one copy"),
        "{}",
        copied.err
    );
    for destination in receipt["destinations"].as_array().expect("two") {
        assert_eq!(
            (&destination["files"], &destination["is_whole"]),
            (&44.into(), &true.into())
        );
        assert!(
            destination["verified_by"]
                .as_str()
                .is_some_and(|text| text.contains("read back"))
        );
        assert_eq!(destination["lists"].as_array().map(Vec::len), Some(1));
    }
}

/// Source: coreutils' md5sum and sha1sum, and xxhsum (Debian package xxhash), on the copies.
#[test]
fn the_receipt_has_the_hashes_of_other_programs() {
    let scratch = Scratch::new();
    fill(&scratch);
    assert_eq!(copy(&scratch, &["--hash", "md5,sha1,xxh64"]).code, 0);
    let receipt = receipt(&scratch);
    let mut compared = 0;
    let programs: [(&str, &[&str]); 4] = [
        ("md5", &["md5sum"]),
        ("sha1", &["sha1sum"]),
        ("xxh64", &["xxhsum", "-H1"]),
        ("xxh128", &["xxhsum", "-H2"]),
    ];
    for (kind, program) in programs {
        let files = receipt["files"].as_array().expect("files");
        let paths = files
            .iter()
            .map(|file| file["path"].as_str().expect("text"));
        let mut command = Command::new(program[0]);
        command
            .args(&program[1..])
            .args(paths)
            .current_dir(scratch.path("one").join(ROLL));
        let Ok(output) = command.output() else {
            continue;
        };
        let text = String::from_utf8(output.stdout).expect("text");
        let theirs: Vec<&str> = text
            .lines()
            .filter_map(|line| line.split("  ").next())
            .collect();
        let ours: Vec<&str> = files
            .iter()
            .map(|file| file["hashes"][kind].as_str().expect("a digest"))
            .collect();
        assert_eq!(ours, theirs, "{kind}");
        compared += 1;
    }
    assert!(compared >= 2, "coreutils are everywhere");
}

#[test]
fn the_list_at_the_destination_is_a_transfer_and_verifies() {
    let scratch = Scratch::new();
    fill(&scratch);
    assert_eq!(
        copy(&scratch, &["--author", "Ada Quill", "--location", "Quay 4"]).code,
        0
    );
    let lists = scratch.path("two").join(ROLL).join("ascmhl");
    let list = fs::read_dir(&lists)
        .expect("a history")
        .map(|entry| entry.expect("an entry").path())
        .find(|path| path.extension().is_some_and(|end| end == "mhl"))
        .expect("a list");
    let text = fs::read_to_string(&list).expect("text");
    assert!(text.contains("<process>transfer</process>"), "{text}");
    assert!(text.contains("Ada Quill") && text.contains("Quay 4"));
    let verified = scratch.run(&["verify", &format!("two/{ROLL}")]);
    assert_eq!(verified.code, 0, "{}{}", verified.err, verified.out);
    assert!(
        verified.out.contains("44 files verified"),
        "{}",
        verified.out
    );
}

#[test]
fn a_history_on_the_card_goes_on_at_the_destination() {
    let scratch = Scratch::new();
    fill(&scratch);
    assert_eq!(
        scratch.run(&["list", "make", "card", "--hash", "md5"]).code,
        0
    );
    for round in 1..3 {
        let copied = copy(&scratch, &[]);
        assert_eq!(copied.code, 0, "{round}: {}{}", copied.err, copied.out);
    }
    let shown = scratch.run(&["list", "show", &format!("one/{ROLL}")]);
    assert!(
        shown.out.contains('3'),
        "one of the card, one for each copy: {}",
        shown.out
    );
    let verified = scratch.run(&["verify", &format!("one/{ROLL}")]);
    assert_eq!(verified.code, 0, "{}{}", verified.err, verified.out);
    // what the card's own list contradicts is told
    fs::write(scratch.path("card/CLIPS/B.MOV"), noise(7, 8 << 20)).expect("there");
    let other = scratch.run(&["copy", "card", "--to", "drive", "--roll", ROLL]);
    assert_eq!(other.code, 2, "{}{}", other.err, other.out);
    assert!(other.out.contains("B.MOV"), "{}", other.out);
}

#[test]
fn the_same_command_again_reads_everything_and_writes_nothing() {
    let scratch = Scratch::new();
    fill(&scratch);
    assert_eq!(copy(&scratch, &[]).code, 0);
    let inode = |drive: &str| {
        use std::os::unix::fs::MetadataExt;
        let path = scratch.path(drive).join(ROLL).join("CLIPS/A.MOV");
        fs::metadata(path).expect("there").ino()
    };
    let before = (inode("one"), inode("two"));
    fs::remove_file(scratch.path("two").join(ROLL).join("CLIPS/B.MOV")).expect("there");
    let again = copy(&scratch, &[]);
    assert_eq!(again.code, 0, "{}{}", again.err, again.out);
    assert_eq!((inode("one"), inode("two")), before);
    assert!(tree(&scratch.path("two").join(ROLL)) == tree(&scratch.path("card")));
    assert_eq!(receipt(&scratch)["is_whole"], true);
}

#[test]
fn names_that_do_not_fit_are_refused_before_anything_is_written() {
    let scratch = Scratch::new();
    fill(&scratch);
    for (roll, code, says) in [
        ("CLIPS", 64, "does not follow the series' pattern"),
        ("20261403_A003_CAMB_X", 64, "is not a date"),
        ("20260314_A003_CAMB_slip", 64, "only A to Z"),
        ("../20260314_A003_CAMB_X", 64, "does not follow"),
    ] {
        let refused = scratch.run(&["copy", "card", "--to", "drive", "--roll", roll]);
        assert_eq!(refused.code, code, "{roll}: {}", refused.err);
        assert!(refused.err.contains(says), "{roll}: {}", refused.err);
        assert_eq!(fs::read_dir(scratch.drive()).expect("there").count(), 0);
    }
    let own = scratch.run(&["copy", "card", "--to", "drive"]);
    assert_eq!(own.code, 64);
    assert!(own.err.contains("--roll NAME"), "{}", own.err);
    let pattern = [
        "--roll",
        "260314_A003",
        "--roll-pattern",
        "{date:YYMMDD}_{card}",
    ];
    let other = scratch.run(&[&["copy", "card", "--to", "drive"][..], &pattern].concat());
    assert_eq!(other.code, 0, "{}", other.err);
}

#[test]
fn a_name_taken_by_other_content_is_refused_before_anything_is_written() {
    for (what, says) in [
        ("another file", "is not on the card"),
        ("another size", "bytes"),
        ("another content", "has not the content"),
        ("a file", "is not a folder"),
        ("other letters", "big and small letters"),
    ] {
        let scratch = Scratch::new();
        fill(&scratch);
        let two = scratch.path("two");
        fs::create_dir_all(&two).expect("a folder");
        let roll = two.join(ROLL);
        match what {
            "a file" => fs::write(&roll, b"x").expect("a file"),
            "other letters" => {
                fs::create_dir(two.join("20260314_a003_camb_slipway")).expect("a folder");
            }
            _ => fs::create_dir_all(roll.join("CLIPS")).expect("folders"),
        }
        match what {
            "another file" => fs::write(roll.join("CLIPS/Z.MOV"), b"x").expect("a file"),
            "another size" => fs::write(roll.join("CLIPS/A.MOV"), b"x").expect("a file"),
            "another content" => {
                fs::write(roll.join("CLIPS/B.MOV"), noise(1, 8 << 20)).expect("a file");
            }
            _ => {}
        }
        let before = tree(&two);
        let refused = copy(&scratch, &[]);
        assert_eq!(refused.code, 65, "{what}: {}{}", refused.err, refused.out);
        assert!(refused.err.contains(says), "{what}: {}", refused.err);
        assert!(tree(&two) == before, "{what}");
        assert_eq!(
            fs::read_dir(scratch.path("one")).expect("there").count(),
            0,
            "{what}"
        );
        assert!(!scratch.path("paper").exists(), "{what}");
    }
}

#[test]
fn places_that_make_no_copy_are_refused() {
    let scratch = Scratch::new();
    fill(&scratch);
    for (to, says) in [
        (&["--to", "card/EMPTY"][..], "never written to"),
        (&["--to", "drive", "--to", "./drive"], "given twice"),
        (&["--to", "nowhere"], "nowhere"),
    ] {
        let args = [&["copy", "card", "--roll", ROLL][..], to].concat();
        let refused = scratch.run(&args);
        assert!([64, 66].contains(&refused.code), "{}", refused.err);
        assert!(refused.err.contains(says), "{}", refused.err);
    }
    let empty = scratch.run(&["copy", "drive", "--to", "card/EMPTY", "--roll", ROLL]);
    assert_eq!(empty.code, 66, "{}", empty.err);
    assert!(empty.err.contains("There is no file in"), "{}", empty.err);
}

#[test]
fn what_is_not_copied_is_told_and_is_no_whole_copy() {
    use std::os::unix::ffi::OsStrExt;
    let scratch = Scratch::new();
    card_file(&scratch, "a", b"a");
    let odd = std::ffi::OsStr::from_bytes(b"odd\xff");
    fs::write(scratch.path("card").join(odd), b"x").expect("a file");
    std::os::unix::fs::symlink("a", scratch.path("card/link")).expect("a link");
    let copied = copy(&scratch, &[]);
    assert_eq!(copied.code, 2, "{}", copied.err);
    assert!(
        copied.err.contains("Not copied: odd\\xff"),
        "{}",
        copied.err
    );
    let receipt = receipt(&scratch);
    assert_eq!(receipt["is_whole"], false);
    assert_eq!(receipt["passed_over"].as_array().map(Vec::len), Some(2));
    assert_eq!(
        fs::read(scratch.path("one").join(ROLL).join("a")).expect("copied"),
        b"a"
    );
}

#[test]
fn json_lines_say_the_same() {
    let scratch = Scratch::new();
    card_file(&scratch, "a", b"a");
    let copied = copy(&scratch, &["--json"]);
    assert_eq!(copied.code, 0, "{}", copied.err);
    let last = copied.out.lines().last().expect("a result");
    let value: Value = serde_json::from_str(last).expect("JSON");
    assert_eq!(
        (&value["event"], &value["whole"]),
        (&"copied".into(), &true.into())
    );
    assert!(
        scratch
            .path(value["receipt"].as_str().expect("a path"))
            .is_file()
    );
}
