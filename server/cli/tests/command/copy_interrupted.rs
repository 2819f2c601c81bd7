//! Copies that do not reach their end: killed, stopped, the card pulled out, two at once.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::thread::sleep;
use std::time::Duration;

use crate::copy::{ROLL, card_file, copy, receipt, start, tree};
use crate::support::{Scratch, ended, noise};

/// Every file under its final name is whole, and nothing else has one.
fn nothing_half_has_a_name(
    scratch: &Scratch,
    card: &std::collections::BTreeMap<String, (Vec<u8>, std::time::SystemTime)>,
) {
    for drive in ["one", "two"] {
        let roll = scratch.path(drive).join(ROLL);
        if !roll.exists() {
            continue;
        }
        for (path, file) in tree(&roll) {
            let name = path.rsplit('/').next().unwrap_or_default();
            if name.starts_with(".waybill-") && name.ends_with(".part") {
                continue;
            }
            assert!(
                card.get(&path) == Some(&file),
                "{path} on {drive} is not the card's"
            );
        }
    }
}

/// Fifty kills at moments that go through the whole of a run.
#[test]
fn after_a_kill_at_any_moment_every_byte_is_right() {
    let scratch = Scratch::new();
    for number in 0..60_u64 {
        card_file(
            &scratch,
            &format!("SUB/{number:02}.XML"),
            &noise(number, 3_000),
        );
    }
    for number in 0..6_u64 {
        let size = (2 << 20) + usize::try_from(number).expect("small");
        card_file(
            &scratch,
            &format!("CLIPS/{number}.MOV"),
            &noise(number, size),
        );
    }
    let card = tree(&scratch.path("card"));
    let mut killed = 0;
    for round in 0..50_u64 {
        let mut child = start(&scratch);
        sleep(Duration::from_millis((round * 37) % 160));
        // one that is done already cannot be killed
        let _ = child.kill();
        let status = child.wait().expect("it was started");
        killed += u64::from(!status.success());
        nothing_half_has_a_name(&scratch, &card);
        if round % 10 == 9 {
            // from the start again, so that the kills hit every part of a run
            for place in ["one", "two", ".local"] {
                let _ = fs::remove_dir_all(scratch.path(place));
            }
        }
    }
    assert!(killed >= 20, "only {killed} runs were killed");
    let last = copy(&scratch, &[]);
    assert_eq!(last.code, 0, "{}{}", last.err, last.out);
    for drive in ["one", "two"] {
        assert!(tree(&scratch.path(drive).join(ROLL)) == card, "{drive}");
        let verified = scratch.run(&["verify", &format!("{drive}/{ROLL}")]);
        assert_eq!(verified.code, 0, "{}{}", verified.err, verified.out);
    }
    assert_eq!(receipt(&scratch)["is_whole"], true);
}

/// A card that takes a while: the last file is long and takes no room.
fn long_card(scratch: &Scratch) {
    card_file(scratch, "a", b"a");
    card_file(scratch, "b", &noise(1, 100_000));
    let long = card_file(scratch, "z", b"");
    let file = fs::File::options().write(true).open(long).expect("there");
    file.set_len(300 << 20).expect("room");
}

fn wait_for(path: &Path) {
    for _ in 0..400 {
        if path.exists() {
            return;
        }
        sleep(Duration::from_millis(25));
    }
    panic!("{} does not come", path.display());
}

#[test]
fn ctrl_c_leaves_no_half_file_and_says_how_to_go_on() {
    let scratch = Scratch::new();
    long_card(&scratch);
    let child = start(&scratch);
    wait_for(&scratch.path("two").join(ROLL).join("b"));
    let sent = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(sent.expect("kill is everywhere").success());
    let stopped = ended(child.wait_with_output().expect("it was started"));
    assert_eq!(stopped.code, 130, "{}", stopped.err);
    assert!(
        stopped.err.contains("the same command goes on"),
        "{}",
        stopped.err
    );
    assert!(!scratch.path("paper").exists());
    for drive in ["one", "two"] {
        let there = tree(&scratch.path(drive).join(ROLL));
        assert!(
            there.keys().all(|path| path == "a" || path == "b"),
            "{:?}",
            there.keys()
        );
    }
}

#[test]
fn a_card_that_is_pulled_out_is_told() {
    let scratch = Scratch::new();
    long_card(&scratch);
    for number in 0..50_u64 {
        card_file(&scratch, &format!("zz/{number:03}"), &noise(number, 100));
    }
    let child = start(&scratch);
    wait_for(&scratch.path("two").join(ROLL).join("b"));
    fs::rename(scratch.path("card"), scratch.path("pulled")).expect("a free name");
    let gone = ended(child.wait_with_output().expect("it was started"));
    assert_eq!(gone.code, 74, "{}", gone.err);
    assert!(gone.err.contains("connect it again"), "{}", gone.err);
    fs::rename(scratch.path("pulled"), scratch.path("card")).expect("a free name");
    let file = fs::File::options()
        .write(true)
        .open(scratch.path("card/z"))
        .expect("there");
    file.set_len(1 << 20).expect("room");
    for drive in ["one", "two"] {
        // it was copied when it was long
        let _ = fs::remove_file(scratch.path(drive).join(ROLL).join("z"));
    }
    let resumed = copy(&scratch, &[]);
    assert_eq!(resumed.code, 0, "{}{}", resumed.err, resumed.out);
    assert_eq!(tree(&scratch.path("one").join(ROLL)).len(), 53);
}

#[test]
fn two_copies_of_one_card_do_not_mix() {
    let scratch = Scratch::new();
    long_card(&scratch);
    let mut first = start(&scratch);
    wait_for(&scratch.path("one").join(ROLL).join("a"));
    let second = copy(&scratch, &[]);
    assert_eq!(second.code, 65, "{}", second.err);
    assert!(second.err.contains("another run"), "{}", second.err);
    let elsewhere = copy(&scratch, &["--state", "other"]);
    assert_eq!(elsewhere.code, 65, "{}", elsewhere.err);
    assert!(
        elsewhere.err.contains("Another run is copying into"),
        "{}",
        elsewhere.err
    );
    first.kill().expect("it is running");
    first.wait().expect("it was started");
}

#[test]
fn what_changes_on_the_card_meanwhile_is_noticed() {
    let scratch = Scratch::new();
    long_card(&scratch);
    let child = start(&scratch);
    wait_for(&scratch.path("two").join(ROLL).join("b"));
    card_file(&scratch, "late", b"late");
    card_file(&scratch, "a", b"other");
    let changed = ended(child.wait_with_output().expect("it was started"));
    assert_eq!(changed.code, 2, "{}{}", changed.err, changed.out);
    assert!(
        changed.err.contains("late: it came onto the card"),
        "{}",
        changed.err
    );
    assert!(
        changed.err.contains("a: it was changed on the card"),
        "{}",
        changed.err
    );
    assert_eq!(receipt(&scratch)["is_whole"], false);
}
