//! Scans and verifications of a drive that does not give everything back: what could not be read is told by its name,
//! nothing is said of it, and no run ends well.

use std::collections::BTreeSet;
use std::fs;

use fuser::Errno;

use crate::faulty::{Asked, Done, Faulty};
use crate::lists::{told, verify};
use crate::support::{Scratch, noise};

/// A drive of twelve files in memory, two of which will fail.
fn drive(scratch: &Scratch) -> Option<Faulty> {
    let drive = Faulty::mount(&scratch.drive())?;
    for number in 0..10_u64 {
        scratch.write(format!("day/{number}.XML"), &noise(number, 2_000));
    }
    scratch.write("day/A.MOV", &noise(20, 5 << 20));
    scratch.write("day/B.MOV", &noise(21, 5 << 20));
    Some(drive)
}

fn fail(drive: &Faulty) {
    drive.fails(|asked| match asked {
        Asked::Read("3.XML", _) => Done::Refused(Errno::EIO),
        Asked::Read("B.MOV", at) if *at >= 3 << 20 => Done::Refused(Errno::EIO),
        _ => Done::Well,
    });
}

fn bad() -> BTreeSet<String> {
    BTreeSet::from(["day/3.XML".to_owned(), "day/B.MOV".to_owned()])
}

#[test]
fn a_scan_names_what_it_could_not_read() {
    let scratch = Scratch::new();
    let Some(drive) = drive(&scratch) else {
        return;
    };
    fail(&drive);
    for more in [
        &[][..],
        &["--hash", "md5,sha1"],
        &["--jobs", "3"],
        &["--rehash"],
    ] {
        let scan = scratch.scan(more);
        assert_eq!(scan.code, 2, "{more:?}: {}{}", scan.err, scan.out);
        let manifest = scratch.manifest();
        assert_eq!(manifest.files.len(), 10, "{more:?}");
        let skipped = manifest.skipped.iter();
        let skipped: BTreeSet<String> = skipped
            .map(|one| one["path"].as_str().expect("text").to_owned())
            .collect();
        assert_eq!(skipped, bad(), "{more:?}");
        for path in bad() {
            assert!(scan.err.contains(&path), "{more:?}: {}", scan.err);
            assert!(!manifest.files.contains_key(&path), "{more:?}");
        }
    }
    drive.heals();
    let well = scratch.scan(&[]);
    assert_eq!(well.code, 0, "{}{}", well.err, well.out);
    assert_eq!(scratch.manifest().files.len(), 12);
}

#[test]
fn a_file_that_is_known_and_cannot_be_read_again_is_not_called_well() {
    let scratch = Scratch::new();
    let Some(drive) = drive(&scratch) else {
        return;
    };
    assert_eq!(scratch.scan(&[]).code, 0);
    fail(&drive);
    let again = scratch.scan(&["--rehash"]);
    assert_eq!(again.code, 2, "{}{}", again.err, again.out);
    for path in bad() {
        assert!(again.err.contains(&path), "{}", again.err);
        assert!(!scratch.manifest().files.contains_key(&path), "{path}");
    }
    assert!(
        again.out.contains("10 read again and the same"),
        "{}",
        again.out
    );
}

#[test]
fn a_verification_fails_closed_and_names_what_it_could_not_read() {
    let scratch = Scratch::new();
    let Some(drive) = drive(&scratch) else {
        return;
    };
    let plain = [
        "list", "plain", "drive", "--hash", "md5", "--out", "MD5SUMS",
    ];
    assert_eq!(scratch.run(&plain).code, 0);
    assert_eq!(scratch.run(&["list", "make", "drive"]).code, 0);
    assert_eq!(verify(&scratch, &[]), 0);
    fail(&drive);
    for more in [
        &[][..],
        &["--no-record"],
        &["--hash", "sha1"],
        &["--list", "MD5SUMS"],
    ] {
        let args = [&["verify", "drive", "--report", "account"], more].concat();
        let ended = scratch.run(&args);
        assert_eq!(ended.code, 2, "{more:?}: {}{}", ended.err, ended.out);
        assert_eq!(told(&scratch, "unreadable"), bad(), "{more:?}");
        assert_eq!(told(&scratch, "verified").len(), 10, "{more:?}");
        for other in ["changed", "missing", "new", "renamed"] {
            assert_eq!(told(&scratch, other), BTreeSet::new(), "{more:?}");
        }
        for path in bad() {
            assert!(ended.out.contains(&path), "{more:?}: {}", ended.out);
        }
    }
    // a list that cannot be read says nothing of any file
    drive.fails(|asked| match asked {
        Asked::Read(name, _) if name.ends_with(".mhl") => Done::Refused(Errno::EIO),
        _ => Done::Well,
    });
    let ended = scratch.run(&["verify", "drive", "--report", "account", "--afresh"]);
    assert_eq!(ended.code, 2, "{}{}", ended.err, ended.out);
    assert_eq!(told(&scratch, "verified"), BTreeSet::new());
    // a folder that cannot be read neither
    drive.heals();
    assert_eq!(
        verify(&scratch, &["--afresh"]),
        0,
        "what was recorded meanwhile is sound"
    );
    assert_eq!(told(&scratch, "verified").len(), 12);
}

/// A new list does not hold what could not be read, and says so.
#[test]
fn a_list_of_a_drive_that_fails_is_no_whole_list() {
    let scratch = Scratch::new();
    let Some(drive) = drive(&scratch) else {
        return;
    };
    fail(&drive);
    let plain = [
        "list", "plain", "drive", "--hash", "md5", "--out", "MD5SUMS",
    ];
    let made = scratch.run(&plain);
    assert_eq!(made.code, 2, "{}{}", made.err, made.out);
    for path in bad() {
        assert!(
            format!("{}{}", made.err, made.out).contains(&path),
            "{}",
            made.err
        );
    }
    if let Ok(text) = fs::read_to_string(scratch.path("MD5SUMS")) {
        assert!(!text.contains("3.XML") && !text.contains("B.MOV"), "{text}");
    }
}
