//! Destinations that fail: full, read-only, taken away, with a device that gives errors, with a bit that flips. Those
//! that need a file system of their own are mounted where the tests run as root; elsewhere that is said and passed.

use std::fs::{self, File};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread::sleep;
use std::time::Duration;

use crate::copy::{ROLL, card_file, copy, receipt, start, tree};
use crate::support::{Ended, Scratch, copying, ended, noise};

/// A mounted file system, unmounted at the end.
struct Mounted {
    at: PathBuf,
}

impl Drop for Mounted {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.at).status();
    }
}

fn succeeds(program: &str, args: &[&str]) -> Result<(), String> {
    let output = Command::new(program).args(args).output();
    match output {
        Ok(output) if output.status.success() => Ok(()),
        Ok(output) => Err(format!(
            "{program} {}: {}",
            args.join(" "),
            String::from_utf8_lossy(&output.stderr).trim()
        )),
        Err(error) => Err(format!("{program}: {error}")),
    }
}

/// Mounts something at `name`, or says why this machine does not and gives nothing.
fn mount(scratch: &Scratch, name: &str, args: &[&str]) -> Option<Mounted> {
    let at = scratch.path(name);
    fs::create_dir_all(&at).expect("a folder");
    let shown = at.display().to_string();
    match succeeds("mount", &[args, &[&shown]].concat()) {
        Ok(()) => Some(Mounted { at }),
        Err(reason) => {
            eprintln!("NOT TESTED on this machine: {reason}");
            None
        }
    }
}

/// An ext4 file system in a file of `size` bytes that takes room only as it is written.
fn image(folder: &Path, size: u64) -> Option<PathBuf> {
    let path = folder.join("image");
    let file = File::create(&path).expect("a file");
    file.set_len(size).expect("room");
    let shown = path.display().to_string();
    match succeeds(
        "mkfs.ext4",
        &["-q", "-F", "-m", "0", "-E", "nodiscard", &shown],
    ) {
        Ok(()) => Some(path),
        Err(reason) => {
            eprintln!("NOT TESTED on this machine: {reason}");
            None
        }
    }
}

fn card(scratch: &Scratch) {
    for number in 0..20_u64 {
        card_file(
            scratch,
            &format!("SUB/{number:02}.XML"),
            &noise(number, 3_000),
        );
    }
    for number in 0..12_u64 {
        card_file(
            scratch,
            &format!("CLIPS/{number:02}.MOV"),
            &noise(number, 4 << 20),
        );
    }
}

fn is_whole(scratch: &Scratch, drive: &str) -> bool {
    tree(&scratch.path(drive).join(ROLL)) == tree(&scratch.path("card"))
}

/// What stands under a final name is the card's.
fn nothing_half_has_a_name(scratch: &Scratch, drive: &str) {
    let card = tree(&scratch.path("card"));
    for (path, file) in tree(&scratch.path(drive).join(ROLL)) {
        if !path.contains(".waybill-") {
            assert!(card.get(&path) == Some(&file), "{path}");
        }
    }
}

fn wait_for(path: &Path) {
    for _ in 0..800 {
        if path.exists() {
            return;
        }
        sleep(Duration::from_millis(10));
    }
    panic!("{} does not come", path.display());
}

#[test]
fn a_drive_without_room_is_refused_before_it_starts() {
    let scratch = Scratch::new();
    card(&scratch);
    let Some(_two) = mount(&scratch, "two", &["-t", "tmpfs", "-o", "size=20m", "tmpfs"]) else {
        return;
    };
    let refused = copy(&scratch, &[]);
    assert_eq!(refused.code, 73, "{}", refused.err);
    assert!(
        refused.err.contains("not enough room on two"),
        "{}",
        refused.err
    );
    assert_eq!(fs::read_dir(scratch.path("one")).expect("there").count(), 0);
    // in memory, and said so
    drop(_two);
    let Some(_two) = mount(
        &scratch,
        "two",
        &["-t", "tmpfs", "-o", "size=200m", "tmpfs"],
    ) else {
        return;
    };
    let copied = copy(&scratch, &[]);
    assert_eq!(copied.code, 0, "{}", copied.err);
    let receipt = receipt(&scratch);
    assert_eq!(
        receipt["destinations"][1]["ways"],
        serde_json::json!(["memory"])
    );
    assert_eq!(receipt["same_device"], serde_json::json!([]));
}

/// What a run left half written on a drive that was pulled out goes when the copy goes on, and is room for it.
#[test]
fn what_was_left_half_written_is_room() {
    let scratch = Scratch::new();
    card(&scratch);
    let Some(_two) = mount(&scratch, "two", &["-t", "tmpfs", "-o", "size=60m", "tmpfs"]) else {
        return;
    };
    let clips = scratch.path("two").join(ROLL).join("CLIPS");
    fs::create_dir_all(&clips).expect("a folder");
    let half = clips.join(".waybill-0123456789abcdef.part");
    fs::write(&half, vec![7; 30 << 20]).expect("room for half");
    let copied = copy(&scratch, &[]);
    assert_eq!(copied.code, 0, "{}{}", copied.err, copied.out);
    assert!(!half.exists() && is_whole(&scratch, "two"));
}

/// Runs the program where no file may grow beyond a few MiB: the same kind of error as a disk that is full.
pub fn with_short_files(scratch: &Scratch, args: &[&str]) -> Ended {
    let program = scratch.command(args);
    let mut limited = Command::new("sh");
    limited
        .arg("-c")
        .arg("trap '' XFSZ; ulimit -f 8192; exec \"$@\"")
        .arg("sh");
    limited.arg(program.get_program()).args(program.get_args());
    limited
        .current_dir(scratch.folder.path())
        .env("HOME", scratch.folder.path());
    limited
        .env_remove("XDG_STATE_HOME")
        .env_remove("WAYBILL_STATE");
    ended(limited.output().expect("sh is everywhere"))
}

/// No mount needed.
#[test]
fn a_file_that_cannot_be_written_is_a_fault_and_the_others_are_copied() {
    let scratch = Scratch::new();
    card(&scratch);
    card_file(&scratch, "CLIPS/long.MOV", &noise(99, 9 << 20));
    fs::create_dir_all(scratch.path("one")).expect("a folder");
    let ended = with_short_files(&scratch, &copying(ROLL, &["one"]));
    // blocks of 512 bytes in some shells, of 1,024 in others: 4 or 8 MiB
    assert_eq!(ended.code, 2, "{}{}", ended.err, ended.out);
    assert!(
        ended
            .err
            .contains("long.MOV on one: it could not be written"),
        "{}",
        ended.err
    );
    assert!(
        !scratch
            .path("one")
            .join(ROLL)
            .join("CLIPS/long.MOV")
            .exists()
    );
    nothing_half_has_a_name(&scratch, "one");
    let receipt = receipt(&scratch);
    assert_eq!(
        (
            &receipt["is_whole"],
            &receipt["destinations"][0]["is_whole"]
        ),
        (&false.into(), &false.into())
    );
    assert_eq!(receipt["faults"][0]["path"], "CLIPS/long.MOV");
    let again = copy(&scratch, &[]);
    assert_eq!(again.code, 0, "{}{}", again.err, again.out);
    assert!(is_whole(&scratch, "one") && is_whole(&scratch, "two"));
}

#[test]
fn a_read_only_drive_is_a_fault_and_the_other_gets_its_copy() {
    let scratch = Scratch::new();
    card(&scratch);
    let Some(two) = mount(
        &scratch,
        "two",
        &["-t", "tmpfs", "-o", "ro,size=200m", "tmpfs"],
    ) else {
        return;
    };
    let copied = copy(&scratch, &[]);
    assert_eq!(copied.code, 2, "{}{}", copied.err, copied.out);
    assert!(copied.err.contains("two"), "{}", copied.err);
    assert!(is_whole(&scratch, "one"));
    let whole = receipt(&scratch);
    assert_eq!(whole["destinations"][0]["is_whole"], true);
    assert_eq!(whole["destinations"][1]["is_whole"], false);
    let alone = scratch.run(&["copy", "card", "--to", "two", "--roll", ROLL]);
    assert_eq!(alone.code, 74, "{}{}", alone.err, alone.out);
    drop(two);
}

#[test]
fn a_drive_that_fills_up_on_the_way_is_a_fault_and_goes_on_later() {
    let scratch = Scratch::new();
    card(&scratch);
    let Some(_two) = mount(&scratch, "two", &["-t", "tmpfs", "-o", "size=80m", "tmpfs"]) else {
        return;
    };
    let child = start(&scratch);
    wait_for(&scratch.path("two").join(ROLL));
    // somebody else takes the room
    let _ = fs::write(scratch.path("two/other"), vec![1; 76 << 20]);
    let ended = ended(child.wait_with_output().expect("it was started"));
    nothing_half_has_a_name(&scratch, "two");
    assert!(is_whole(&scratch, "one"), "{}", ended.err);
    // where the copy was quicker it is whole
    assert!([0, 2].contains(&ended.code), "{}{}", ended.err, ended.out);
    fs::remove_file(scratch.path("two/other")).expect("there");
    let again = copy(&scratch, &[]);
    assert_eq!(again.code, 0, "{}{}", again.err, again.out);
    assert!(is_whole(&scratch, "two"));
}

/// The device below the file system has less room than it says, and gives I/O errors from some point on.
#[test]
fn a_device_with_errors_is_a_fault_and_claims_nothing() {
    let scratch = Scratch::new();
    card(&scratch);
    let Some(_back) = mount(
        &scratch,
        "back",
        &["-t", "tmpfs", "-o", "size=24m", "tmpfs"],
    ) else {
        return;
    };
    let Some(image) = image(&scratch.path("back"), 200 << 20) else {
        return;
    };
    let shown = image.display().to_string();
    let Some(_two) = mount(&scratch, "two", &["-o", "loop", &shown]) else {
        return;
    };
    let copied = copy(&scratch, &[]);
    assert_eq!(copied.code, 2, "{}{}", copied.err, copied.out);
    assert!(is_whole(&scratch, "one"));
    let receipt = receipt(&scratch);
    assert_eq!(receipt["destinations"][0]["is_whole"], true);
    assert_eq!(receipt["destinations"][1]["is_whole"], false);
    let files = receipt["files"].as_array().expect("files");
    let claimed = files
        .iter()
        .filter(|file| !file["verified"][1].is_null())
        .count();
    assert!(claimed < files.len(), "{claimed} claimed");
    // every copy that is claimed can be read from the device, and is right
    for file in files.iter().filter(|file| !file["verified"][1].is_null()) {
        let path = file["path"].as_str().expect("text");
        let copy = fs::read(scratch.path("two").join(ROLL).join(path));
        let copy = copy.unwrap_or_else(|error| panic!("{path}: {error}"));
        assert!(
            copy == fs::read(scratch.path("card").join(path)).expect("there"),
            "{path}"
        );
    }
}

/// As when a cable is pulled: the drive is there no more, in the middle of the copy.
#[test]
fn a_drive_that_goes_away_is_told_and_the_copy_goes_on_when_it_is_back() {
    let scratch = Scratch::new();
    card(&scratch);
    let long = card_file(&scratch, "z", b"");
    let file = File::options().write(true).open(long).expect("there");
    file.set_len(300 << 20).expect("room");
    let Some(image) = image(scratch.folder.path(), 500 << 20) else {
        return;
    };
    let shown = image.display().to_string();
    let Some(two) = mount(&scratch, "two", &["-o", "loop", &shown]) else {
        return;
    };
    let child = start(&scratch);
    wait_for(&scratch.path("two").join(ROLL).join("SUB/00.XML"));
    succeeds("umount", &["-l", &two.at.display().to_string()]).expect("it is mounted");
    let gone = ended(child.wait_with_output().expect("it was started"));
    assert_eq!(gone.code, 2, "{}{}", gone.err, gone.out);
    assert!(
        gone.err.contains("two: it is not there any more"),
        "{}",
        gone.err
    );
    assert!(is_whole(&scratch, "one"));
    assert_eq!(receipt(&scratch)["destinations"][1]["is_whole"], false);
    // nothing landed in the empty folder that it was mounted on
    assert_eq!(fs::read_dir(&two.at).expect("there").count(), 0);
    let Some(_two) = mount(&scratch, "two", &["-o", "loop", &shown]) else {
        return;
    };
    nothing_half_has_a_name(&scratch, "two");
    let again = copy(&scratch, &[]);
    assert_eq!(again.code, 0, "{}{}", again.err, again.out);
    assert!(is_whole(&scratch, "two"));
}

/// A copy that was right and is not any more: found by the next run of the same command, which reads it.
#[test]
fn a_bit_that_flips_in_a_finished_copy_is_found_when_the_copy_goes_on() {
    let scratch = Scratch::new();
    card(&scratch);
    assert_eq!(copy(&scratch, &[]).code, 0);
    let path = scratch.path("two").join(ROLL).join("CLIPS/07.MOV");
    let date = fs::metadata(&path)
        .and_then(|m| m.modified())
        .expect("a date");
    let file = File::options()
        .read(true)
        .write(true)
        .open(&path)
        .expect("there");
    let mut byte = [0];
    file.read_exact_at(&mut byte, 1_234_567)
        .expect("long enough");
    file.write_all_at(&[byte[0] ^ 4], 1_234_567).expect("room");
    file.set_modified(date).expect("a date");
    let found = copy(&scratch, &[]);
    assert_eq!(found.code, 65, "{}{}", found.err, found.out);
    assert!(found.err.contains("CLIPS/07.MOV"), "{}", found.err);
    let other = scratch.run(&["copy", "card", "--to", "one", "--roll", ROLL]);
    assert_eq!(other.code, 0, "{}", other.err);
}
