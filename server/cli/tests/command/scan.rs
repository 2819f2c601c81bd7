//! Whole scans: digests as other programs make them, and what a second scan says.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::process::Command;

use crate::support::{Scratch, noise, sample};

/// A drive of 240 files: sizes around every limit of the reader, names that need care, media.
fn fill(scratch: &Scratch) {
    let sizes = [0, 1, 3, 240, 241, 4_095, 65_537, 300_000];
    for number in 0..236_u64 {
        let size = sizes[usize::try_from(number).expect("small") % sizes.len()];
        let name = format!(
            "2026031{}_A00{}_CAMB_SLIPWAY/C{number:04}.bin",
            number % 7,
            number % 3
        );
        scratch.write(name, &noise(number, size));
    }
    scratch.write("Bootshaus Süd/öffnen & schließen.txt", b"x");
    scratch.write("large/four.bin", &noise(1, 4 << 20));
    scratch.write("large/over.bin", &noise(2, (4 << 20) + 1));
    scratch.write("large/nine.bin", &noise(3, (9 << 20) + 77));
    for name in ["clip_2997_df.mov", "sound_48k_bext.wav"] {
        let bytes = fs::read(sample(&format!("media/{name}"))).expect("a sample");
        scratch.write(format!("20260314_A003_CAMB_SLIPWAY/{name}"), &bytes);
    }
}

/// Digests of all files as a well-known program prints them; `None` where it is not installed.
fn digests_by(
    program: &[&str],
    scratch: &Scratch,
    paths: &[String],
) -> Option<BTreeMap<String, String>> {
    let mut command = Command::new(program[0]);
    command
        .args(&program[1..])
        .args(paths)
        .current_dir(scratch.drive());
    let output = command.output().ok()?;
    assert!(output.status.success(), "{program:?}");
    let text = String::from_utf8(output.stdout).expect("text");
    let lines = text
        .lines()
        .map(|line| line.split_once("  ").expect("digest and name"));
    Some(
        lines
            .map(|(digest, name)| (name.to_owned(), digest.to_owned()))
            .collect(),
    )
}

/// Source: coreutils' sha1sum, md5sum and sha256sum, and xxhsum (Debian package xxhash).
#[test]
fn digests_are_those_of_other_programs() {
    let scratch = Scratch::new();
    fill(&scratch);
    let scan = scratch.scan(&["--hash", "sha1,md5,sha256,xxh64", "--jobs", "3"]);
    assert_eq!(
        (scan.code, scan.err.lines().count()),
        (0, 1),
        "{}",
        scan.err
    );
    assert!(
        scan.err
            .trim()
            .ends_with(" and 27 more: The file is empty."),
        "{}",
        scan.err
    );
    let manifest = scratch.manifest();
    assert_eq!(manifest.files.len(), 242);
    assert_eq!(manifest.end["files"], 242);
    let paths: Vec<String> = manifest.files.keys().cloned().collect();
    let programs: [(&str, &[&str]); 5] = [
        ("sha1", &["sha1sum"]),
        ("md5", &["md5sum"]),
        ("sha256", &["sha256sum"]),
        ("xxh64", &["xxhsum", "-H1"]),
        ("xxh128", &["xxhsum", "-H2"]),
    ];
    let mut compared = 0;
    for (kind, program) in programs {
        if let Some(expected) = digests_by(program, &scratch, &paths) {
            assert_eq!(manifest.digests(kind), expected, "{kind}");
            compared += 1;
        }
    }
    assert!(compared >= 3, "coreutils are everywhere");
    let roll = &manifest.files["20260314_A003_CAMB_SLIPWAY/clip_2997_df.mov"];
    assert_eq!(roll["roll"]["card"], "A003");
    assert_eq!(roll["media"]["start"]["label"], "01:00:59;15");
    assert_eq!(
        manifest.files["large/four.bin"]["roll"],
        serde_json::Value::Null
    );
}

#[test]
fn files_stand_in_byte_order_and_nothing_follows_a_link() {
    let scratch = Scratch::new();
    for name in ["b", "a/z", "a.txt", "B", "a/ä", "a/y/1"] {
        scratch.write(name, b"1");
    }
    scratch.write("System Volume Information/IndexerVolumeGuid", b"1");
    scratch.write(".DS_Store", b"1");
    #[cfg(unix)]
    std::os::unix::fs::symlink("..", scratch.drive().join("a/up")).expect("a link");
    assert_eq!(scratch.scan(&[]).code, 0);
    let text = fs::read_to_string(scratch.path("out.jsonl")).expect("a manifest");
    let order: Vec<&str> = text
        .lines()
        .filter(|l| l.starts_with("{\"file\""))
        .collect();
    let place = |path: &str| {
        order
            .iter()
            .position(|line| line.contains(path))
            .expect(path)
    };
    let expected = [
        "[\"B\"]",
        "[\"a\",\"y\",\"1\"]",
        "[\"a\",\"z\"]",
        "[\"a\",\"ä\"]",
        "[\"a.txt\"]",
        "[\"b\"]",
    ];
    assert_eq!(expected.map(place), [0, 1, 2, 3, 4, 5]);
    let manifest = scratch.manifest();
    let reasons: Vec<_> = manifest
        .skipped
        .iter()
        .map(|s| s["reason"].as_str())
        .collect();
    assert_eq!(reasons, [Some("system"), Some("system"), Some("link")]);
}

#[test]
fn a_second_scan_changes_nothing() {
    let scratch = Scratch::new();
    fill(&scratch);
    assert_eq!(scratch.scan(&[]).code, 0);
    let first = fs::read(scratch.path("out.jsonl")).expect("a manifest");
    let written = fs::metadata(scratch.path("out.jsonl"))
        .and_then(|m| m.modified())
        .expect("a time");
    let second = scratch.scan(&[]);
    assert_eq!(second.code, 0);
    assert!(second.out.contains("Nothing has changed"), "{}", second.out);
    assert!(second.out.contains("242 untouched"), "{}", second.out);
    assert_eq!(
        fs::read(scratch.path("out.jsonl")).expect("a manifest"),
        first
    );
    let again = fs::metadata(scratch.path("out.jsonl"))
        .and_then(|m| m.modified())
        .expect("a time");
    assert_eq!(again, written);
    fs::remove_file(scratch.path("out.jsonl")).expect("it is there");
    assert_eq!(scratch.scan(&[]).code, 0);
    assert_eq!(
        fs::read(scratch.path("out.jsonl")).expect("a manifest"),
        first
    );
}

#[test]
fn a_changed_drive_is_told_by_kind_of_change() {
    let scratch = Scratch::new();
    for name in ["a", "b", "c", "d"] {
        scratch.write(name, name.as_bytes());
    }
    assert_eq!(scratch.scan(&[]).code, 0);
    let id = scratch.manifest().header["id"].clone();
    fs::remove_file(scratch.drive().join("a")).expect("it is there");
    scratch.write("b", b"longer");
    let touched = File::options()
        .append(true)
        .open(scratch.drive().join("c"))
        .expect("it is there");
    touched
        .set_modified(std::time::SystemTime::UNIX_EPOCH)
        .expect("a new time");
    scratch.write("e", b"e");
    let second = scratch.scan(&[]);
    let says =
        "1 new, 1 changed, 1 read again and the same, 1 untouched since they were read, 1 gone";
    assert!(second.out.contains(says), "{}", second.out);
    assert_ne!(scratch.manifest().header["id"], id);
    let more_hashes = scratch.scan(&["--hash", "sha1"]);
    assert!(
        more_hashes.out.contains("4 read again and the same"),
        "{}",
        more_hashes.out
    );
    assert_eq!(scratch.manifest().digests("sha1").len(), 4);
}

#[test]
fn content_that_changed_under_the_same_size_and_date_is_a_difference() {
    let scratch = Scratch::new();
    let path = scratch.write("clip.bin", b"light");
    let date = fs::metadata(&path)
        .and_then(|m| m.modified())
        .expect("a time");
    assert_eq!(scratch.scan(&[]).code, 0);
    fs::write(&path, b"night").expect("it is there");
    File::options()
        .append(true)
        .open(&path)
        .and_then(|f| f.set_modified(date))
        .expect("a time");
    let second = scratch.scan(&["--rehash"]);
    assert_eq!(second.code, 1, "{}", second.err);
    assert!(
        second
            .err
            .contains("clip.bin: Its content is not what was read on"),
        "{}",
        second.err
    );
    let warnings = scratch.manifest().files["clip.bin"]["warnings"].clone();
    assert!(
        warnings[0]
            .as_str()
            .is_some_and(|text| text.contains("another copy"))
    );
}

#[test]
fn what_a_scan_writes_is_not_part_of_the_drive() {
    let scratch = Scratch::new();
    scratch.write("a", b"a");
    for _ in 0..2 {
        let args = ["scan", "drive", "--drive", "H", "--out", "drive/out.jsonl"];
        assert_eq!(scratch.run(&args).code, 0);
    }
    let manifest = crate::support::Manifest::read(&scratch.drive().join("out.jsonl"));
    assert_eq!(manifest.files.keys().collect::<Vec<_>>(), ["a"]);
}

#[test]
fn a_broken_header_is_a_warning_on_its_file() {
    let scratch = Scratch::new();
    scratch.write("broken.mov", &[0; 5_000]);
    scratch.write("cut.wav", b"RIFF\0\0\0\0WAVEfmt ");
    let scan = scratch.scan(&[]);
    assert_eq!(scan.code, 0);
    let manifest = scratch.manifest();
    for file in manifest.files.values() {
        assert!(
            file["warnings"][0]
                .as_str()
                .is_some_and(|w| w.starts_with("The header could not"))
        );
        assert_eq!(file["hashes"]["xxh128"].as_str().map(str::len), Some(32));
    }
}

#[test]
fn json_lines_say_the_same() {
    let scratch = Scratch::new();
    scratch.write("a", b"a");
    let scan = scratch.scan(&["--json"]);
    let line: serde_json::Value = serde_json::from_str(scan.out.trim()).expect("one JSON line");
    assert_eq!(
        (&line["event"], &line["files"], &line["new"]),
        (&"scanned".into(), &1.into(), &1.into())
    );
    assert_eq!(scan.err, "");
}
