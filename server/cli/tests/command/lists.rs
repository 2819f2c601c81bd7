//! `waybill verify` and `waybill list`: every difference by name, nothing else; whole generations or none.

use std::collections::BTreeSet;
use std::fs;
use std::process::{Command, Stdio};
use std::time::Duration;

use serde_json::Value;

use crate::support::Scratch;

/// The account of a run: paths with one answer.
pub fn told(scratch: &Scratch, verdict: &str) -> BTreeSet<String> {
    let text = fs::read_to_string(scratch.path("account")).expect("an account");
    let lines = text
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).expect("JSON"));
    lines
        .filter(|line| line["file"]["verdict"] == verdict)
        .map(|line| line["file"]["path"].as_str().expect("a path").to_owned())
        .collect()
}

pub fn verify(scratch: &Scratch, more: &[&str]) -> i32 {
    let args = [&["verify", "drive", "--report", "account"], more].concat();
    scratch.run(&args).code
}

/// Numbers that look random and are the same in every run.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

#[test]
fn one_flipped_bit_in_each_of_200_files_is_found_by_name() {
    let scratch = Scratch::new();
    let mut numbers = Numbers(7);
    for number in 0..1_000 {
        let length = 1 + numbers.below(20_000) as usize;
        let bytes: Vec<u8> = (0..length).map(|_| numbers.below(256) as u8).collect();
        scratch.write(format!("day {}/clip {number}.mov", number % 9), &bytes);
    }
    assert_eq!(scratch.run(&["list", "make", "drive"]).code, 0);
    assert_eq!(
        scratch
            .run(&[
                "list", "plain", "drive", "--hash", "md5", "--out", "MD5SUMS"
            ])
            .code,
        0
    );
    assert_eq!(verify(&scratch, &["--no-record"]), 0);
    assert_eq!(told(&scratch, "verified").len(), 1_000);
    let mut flipped = BTreeSet::new();
    while flipped.len() < 200 {
        let number = numbers.below(1_000);
        let name = format!("day {}/clip {number}.mov", number % 9);
        if !flipped.insert(name.clone()) {
            continue;
        }
        let path = scratch.drive().join(name);
        let mut bytes = fs::read(&path).expect("a file");
        let place = numbers.below(bytes.len() as u64) as usize;
        bytes[place] ^= 1 << numbers.below(8);
        fs::write(&path, bytes).expect("a file");
    }
    for more in [&["--list", "MD5SUMS"][..], &[], &[]] {
        assert_eq!(verify(&scratch, more), 1);
        assert_eq!(told(&scratch, "changed"), flipped);
        assert_eq!(told(&scratch, "verified").len(), 800);
        for other in [
            "missing",
            "new",
            "renamed",
            "unreadable",
            "unproven",
            "missing_folder",
        ] {
            assert_eq!(told(&scratch, other), BTreeSet::new());
        }
    }
}

#[test]
fn renames_are_told_and_recorded_when_accepted() {
    let scratch = Scratch::new();
    scratch.write("Clips/one.mov", b"one");
    scratch.write("Clips/two.mov", b"two");
    assert_eq!(scratch.run(&["list", "make", "drive"]).code, 0);
    fs::rename(scratch.drive().join("Clips"), scratch.drive().join("Takes")).expect("a rename");
    assert_eq!(verify(&scratch, &[]), 1);
    let both = BTreeSet::from(["Takes/one.mov".to_owned(), "Takes/two.mov".to_owned()]);
    assert_eq!(told(&scratch, "renamed"), both);
    assert_eq!(told(&scratch, "missing"), BTreeSet::new());
    // still told, although the new names are recorded by now
    assert_eq!(verify(&scratch, &[]), 1);
    assert_eq!(told(&scratch, "renamed"), both);
    assert_eq!(verify(&scratch, &["--accept-renames"]), 1);
    assert_eq!(verify(&scratch, &[]), 0);
    let shown = scratch.run(&["list", "show", "drive", "--file", "Takes/one.mov"]);
    assert!(shown.out.contains("before: Clips/one.mov"), "{}", shown.out);
    assert!(
        shown.out.contains("generation 1: Clips/one.mov"),
        "{}",
        shown.out
    );
}

#[test]
fn a_part_several_histories_and_a_gathered_list() {
    let scratch = Scratch::new();
    scratch.write("A/one.mov", b"one");
    scratch.write("A/in/two.mov", b"two");
    scratch.write("B/three.mov", b"three");
    for card in ["drive/A", "drive/B"] {
        assert_eq!(
            scratch
                .run(&["list", "make", card, "--hash", "md5,c4"])
                .code,
            0
        );
    }
    assert_eq!(verify(&scratch, &[]), 0);
    assert_eq!(told(&scratch, "verified").len(), 3);
    let part = scratch.run(&["verify", "drive/A/in"]);
    assert_eq!(part.code, 0, "{}{}", part.out, part.err);
    assert_eq!(scratch.run(&["list", "make", "drive"]).code, 0);
    assert_eq!(verify(&scratch, &[]), 0);
    assert_eq!(
        scratch
            .run(&["list", "gather", "drive", "--out", "all.mhl"])
            .code,
        0
    );
    let list = fs::read_to_string(scratch.path("all.mhl")).expect("a list");
    assert!(
        list.contains(">A/in/two.mov<") && list.contains("<process>flatten<"),
        "{list}"
    );
    scratch.write("loose.txt", b"loose");
    fs::remove_file(scratch.drive().join("A/one.mov")).expect("a file");
    assert_eq!(verify(&scratch, &[]), 1);
    assert_eq!(
        told(&scratch, "missing"),
        BTreeSet::from(["A/one.mov".to_owned()])
    );
    assert_eq!(
        told(&scratch, "new"),
        BTreeSet::from(["loose.txt".to_owned()])
    );
}

#[test]
fn broken_lists_are_never_all_well() {
    let scratch = Scratch::new();
    scratch.write("one.mov", b"one");
    assert_eq!(scratch.run(&["list", "make", "drive"]).code, 0);
    let folder = scratch.drive().join("ascmhl");
    let chain = fs::read_to_string(folder.join("ascmhl_chain.xml")).expect("a chain");
    let name = chain
        .split("<path>")
        .nth(1)
        .and_then(|rest| rest.split('<').next())
        .expect("a name");
    let list = fs::read_to_string(folder.join(name)).expect("a list");
    let breaks: [(&str, String); 6] = [
        (name, list.replace("waybill</tool>", "other</tool>")),
        (name, list[..list.len() / 2].to_owned()),
        (name, String::new()),
        (
            "ascmhl_chain.xml",
            chain.replace("sequencenr=\"1\"", "sequencenr=\"2\""),
        ),
        ("ascmhl_chain.xml", "<!DOCTYPE x><x/>".to_owned()),
        ("0002_drive_2026-03-14_083000Z.mhl", list.clone()),
    ];
    for (file, text) in breaks {
        let path = folder.join(file);
        let before = fs::read(&path).ok();
        fs::write(&path, &text).expect("a file");
        assert_eq!(verify(&scratch, &[]), 2, "{file}: {text}");
        match before {
            Some(before) => fs::write(&path, before).expect("a file"),
            None => fs::remove_file(&path).expect("a file"),
        }
    }
    fs::rename(folder.join("ascmhl_chain.xml"), scratch.path("chain")).expect("a rename");
    assert_eq!(verify(&scratch, &[]), 2);
    fs::rename(scratch.path("chain"), folder.join("ascmhl_chain.xml")).expect("a rename");
    assert_eq!(verify(&scratch, &[]), 0);
}

#[cfg(unix)]
#[test]
fn odd_names_links_and_plain_lists_of_other_programs() {
    use std::os::unix::ffi::OsStrExt;
    let scratch = Scratch::new();
    for name in [
        &b"a\nb.mov"[..],
        b"back\\slash.mov",
        b"plain  two.mov",
        b"\xff\xfe.mov",
    ] {
        scratch.write(std::ffi::OsStr::from_bytes(name), name);
    }
    std::os::unix::fs::symlink("plain  two.mov", scratch.drive().join("link.mov")).expect("a link");
    for (program, more) in [
        ("md5sum", None),
        ("sha1sum", None),
        ("sha256sum", Some("--tag")),
    ] {
        let output = Command::new("sh")
            .current_dir(scratch.drive())
            .arg("-c")
            .arg(format!(
                "find . -type f -exec {program} {} {{}} + > ../other.list",
                more.unwrap_or_default()
            ))
            .status();
        assert!(output.expect("a shell").success(), "{program}");
        let kind = program.trim_end_matches("sum");
        let ran = verify(&scratch, &["--list", "other.list", "--list-hash", kind]);
        assert_eq!(ran, 0, "{program}");
        assert_eq!(told(&scratch, "verified").len(), 4, "{program}");
        let out = [
            "list", "plain", "drive", "--hash", kind, "--out", "own.list",
        ];
        assert_eq!(scratch.run(&out).code, 0);
        let check = Command::new(program)
            .current_dir(scratch.drive())
            .args(["--check", "--strict", "--quiet", "../own.list"])
            .status();
        assert!(
            check.expect("the program").success(),
            "{program} reads our list"
        );
    }
    // a history cannot hold the name that is no text, and says so
    assert_eq!(scratch.run(&["list", "make", "drive"]).code, 2);
    assert_eq!(verify(&scratch, &[]), 2);
    assert_eq!(
        told(&scratch, "unreadable"),
        BTreeSet::from(["\\xff\\xfe.mov".to_owned()])
    );
    fs::write(scratch.path("empty.md5"), "").expect("a file");
    assert_eq!(verify(&scratch, &["--list", "empty.md5"]), 2);
}

#[test]
fn a_killed_run_leaves_a_whole_generation_or_none() {
    let scratch = Scratch::new();
    for number in 0..200 {
        scratch.write(format!("{number}.mov"), &[number as u8; 5_000]);
    }
    assert_eq!(scratch.run(&["list", "make", "drive"]).code, 0);
    let mut numbers = Numbers(11);
    for _ in 0..20 {
        let mut command = scratch.command(&["verify", "drive"]);
        command.stdout(Stdio::null()).stderr(Stdio::null());
        let mut child = command.spawn().expect("the program starts");
        std::thread::sleep(Duration::from_millis(numbers.below(120)));
        // it may have ended already
        let _ = child.kill();
        child.wait().expect("it ends");
        assert_eq!(verify(&scratch, &["--no-record"]), 0);
    }
    assert_eq!(verify(&scratch, &[]), 0);
    let left = fs::read_dir(scratch.drive().join("ascmhl")).expect("a folder");
    let left = left.map(|entry| {
        entry
            .expect("an entry")
            .file_name()
            .to_string_lossy()
            .into_owned()
    });
    assert_eq!(left.filter(|name| name.starts_with('.')).count(), 0);
}
