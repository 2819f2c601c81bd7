//! Posters and contact sheets of clips, by ffmpeg where it is installed. Where it is not, the tests that need it say so
//! and test nothing else.

use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::{Value, json};

use crate::server::Server;
use crate::support::{Ended, Scratch, copying, ended};

fn has_ffmpeg() -> bool {
    let started = |name| {
        let mut command = Command::new(name);
        command.arg("-version").stdout(Stdio::null());
        command.stderr(Stdio::null()).status().is_ok()
    };
    let there = started("ffmpeg") && started("ffprobe");
    if !there {
        eprintln!("ffmpeg is not installed: pictures of clips are NOT tested here");
    }
    there
}

/// A clip of five seconds of ffmpeg's test picture, as wide and high as is said.
fn make_clip(path: &Path, size: &str) {
    let source = format!("testsrc2=size={size}:rate=25:duration=5");
    let mut command = Command::new("ffmpeg");
    command
        .args(["-v", "error", "-y", "-f", "lavfi", "-i", &source])
        .args(["-c:v", "mpeg4"])
        .arg(path);
    assert!(command.status().expect("ffmpeg").success());
}

fn send(scratch: &Scratch, server: &Server, more: &[&str], path: Option<&str>) -> Ended {
    let args = [
        "scan",
        "drive",
        "--drive",
        "H",
        "--to",
        &server.url,
        "--series",
        "harbour rowing",
    ];
    let mut command = scratch.command(&[&args, more].concat());
    command.env("WAYBILL_TOKEN", "sesame");
    if let Some(path) = path {
        command.env("PATH", path);
    }
    ended(command.output().expect("it starts"))
}

/// Width and height in the frame header of a JPEG (ITU-T T.81, B.2.2).
fn jpeg_size(bytes: &[u8]) -> (u16, u16) {
    let mut at = 2;
    loop {
        let number = |at: usize| u16::from_be_bytes([bytes[at], bytes[at + 1]]);
        match bytes[at + 1] {
            0xc0..=0xc2 => return (number(at + 7), number(at + 5)),
            _ => at += 2 + usize::from(number(at + 2)),
        }
    }
}

fn pictures(server: &Server) -> Vec<(String, (u16, u16))> {
    let scans = server.scans.lock().expect("no panic");
    let sent = scans.pictures.iter();
    sent.map(|(place, bytes)| (place.clone(), jpeg_size(bytes)))
        .collect()
}

#[test]
fn each_clip_is_pictured_once_and_a_broken_one_is_no_fault() {
    if !has_ffmpeg() {
        return;
    }
    let (scratch, server) = (Scratch::new(), Server::start());
    let clip = scratch.write("A001/A001C001.mov", b"");
    make_clip(&clip, "640x360");
    // a header that we do not read, a name that is an option elsewhere, higher than wide; twice the same content
    let tall = scratch.write("A001/-i %d.mkv", b"");
    make_clip(&tall, "180x320");
    std::fs::copy(&tall, scratch.drive().join("A001/again.mkv")).expect("a copy");
    scratch.write("A001/broken.mp4", b"this is no film");
    // a list that names a file of this computer is not followed
    scratch.write(
        "A001/list.mov",
        b"ffconcat version 1.0\nfile A001C001.mov\n",
    );
    scratch.write("A001/notes.txt", b"rain");

    let sent = send(&scratch, &server, &[], None);
    assert_eq!(sent.code, 0, "{}", sent.err);
    assert!(
        sent.out.contains(
            "Pictures made of 2 clips. Of 2 clips no pictures could be made; the first: A001/"
        ),
        "{} {}",
        sent.out,
        sent.err
    );
    let names = |place: &str| {
        let scans = server.scans.lock().expect("no panic");
        let file: usize = place
            .split('/')
            .next()
            .expect("an id")
            .parse()
            .expect("a number");
        scans.contents[file].clone()
    };
    let all = pictures(&server);
    assert_eq!(all.len(), 4, "{all:?}");
    for (place, size) in &all {
        let tall = names(place).contains("mkv");
        let expected = match (place.ends_with("poster"), tall) {
            (true, false) => (480, 270),
            (true, true) => (270, 480),
            (false, _) => (576, 324),
        };
        assert_eq!(*size, expected, "{place}");
    }
    // the same command again: the server has them
    let again = send(&scratch, &server, &[], None);
    assert_eq!(again.code, 0, "{}", again.err);
    assert!(!again.out.contains("Pictures made of"), "{}", again.out);
    assert_eq!(pictures(&server).len(), 4);
}

#[test]
fn clips_that_ffmpeg_cannot_read_are_not_tried_by_the_thousand() {
    if !has_ffmpeg() {
        return;
    }
    let (scratch, server) = (Scratch::new(), Server::start());
    for number in 0..40 {
        scratch.write(
            format!("A001/raw{number:02}.mxf"),
            format!("beyond it {number}").as_bytes(),
        );
    }
    // last in order; another encoding is tried all the same
    make_clip(&scratch.write("A001/z.mov", b""), "640x360");
    let sent = send(&scratch, &server, &[], None);
    assert_eq!(sent.code, 0, "{}", sent.err);
    // the two that were under way when the twentieth failed are done
    let words = [
        "Pictures made of 1 clip.",
        "more of the same encoding were not tried",
    ];
    for said in words {
        assert!(sent.out.contains(said), "{said}: {} {}", sent.out, sent.err);
    }
    let tried = sent
        .out
        .split("Of ")
        .nth(1)
        .and_then(|rest| rest.split(' ').next());
    let tried: u64 = tried.expect("a count").parse().expect("a number");
    assert!((20..=24).contains(&tried), "{}", sent.out);
    assert_eq!(pictures(&server).len(), 2);
}

#[test]
fn a_drive_without_clips_asks_nothing() {
    let (scratch, server) = (Scratch::new(), Server::start());
    scratch.write("notes.txt", b"rain");
    let sent = send(&scratch, &server, &[], None);
    assert_eq!(sent.code, 0, "{}", sent.err);
    let scans = server.scans.lock().expect("no panic");
    assert!(
        !scans
            .requests
            .iter()
            .any(|asked| asked.contains("pictures"))
    );
}

#[test]
fn without_ffmpeg_or_wish_the_scan_is_as_it_was() {
    let (scratch, server) = (Scratch::new(), Server::start());
    scratch.write("A001/A001C001.mp4", b"this is no film");
    let sent = send(&scratch, &server, &["--no-pictures"], None);
    assert_eq!(sent.code, 0, "{}", sent.err);
    assert!(!sent.err.contains("ffmpeg"), "{}", sent.err);
    let nowhere = scratch.path("nowhere");
    let sent = send(&scratch, &server, &[], nowhere.to_str());
    assert_eq!(sent.code, 0, "{}", sent.err);
    assert!(
        sent.err
            .contains("1 clip has no picture yet: ffmpeg is not on this machine."),
        "{}",
        sent.err
    );
    // a server that knows nothing of pictures
    server.scans.lock().expect("no panic").trouble = vec![404, 1, 1, 1];
    let sent = send(&scratch, &server, &[], None);
    assert_eq!(sent.code, 0, "{}", sent.err);
    assert!(sent.err.contains("Not all pictures"), "{}", sent.err);
    assert_eq!(json!(pictures(&server)), Value::Array(vec![]));
}

const ROLL: &str = "20260314_A003_CAMB_SLIPWAY";

/// Copies the scratch folder `card` to the drives `one` and `two`.
fn copy(scratch: &Scratch, more: &[&str]) -> Ended {
    for drive in ["one", "two"] {
        std::fs::create_dir_all(scratch.path(drive)).expect("a folder");
    }
    let args = copying(ROLL, &["one", "two"]);
    let labels = ["--drive", "ONE", "--drive", "TWO"];
    let pattern = ["--roll-pattern", "{date:YYYYMMDD}_{card}_{camera}_{words}"];
    let mut command = scratch.command(&[&args[..], &labels, &pattern, more].concat());
    command.env("WAYBILL_TOKEN", "sesame");
    ended(command.output().expect("it starts"))
}

fn to_server(server: &Server) -> [&str; 4] {
    ["--to-server", &server.url, "--series", "harbour rowing"]
}

/// Sends what the copy's receipt says, with other programs on the search path or none.
fn send_receipt(scratch: &Scratch, server: &Server, path: Option<&str>) -> Ended {
    let entries = std::fs::read_dir(scratch.path("paper")).expect("receipts");
    let mut receipts = entries.map(|entry| entry.expect("an entry").path());
    let receipt = receipts.find(|path| path.extension().is_some_and(|end| end == "json"));
    let receipt = receipt.expect("a receipt").display().to_string();
    let place = ["--to", &server.url, "--series", "harbour rowing"];
    let mut command = scratch.command(&[&["copy", "send", &receipt][..], &place].concat());
    command.env("WAYBILL_TOKEN", "sesame");
    if let Some(path) = path {
        command.env("PATH", path);
    }
    ended(command.output().expect("it starts"))
}

/// A card of two clips, one of which is no film, and notes.
fn fill_card(scratch: &Scratch) {
    std::fs::create_dir_all(scratch.path("card/CLIPS")).expect("folders");
    make_clip(&scratch.path("card/CLIPS/B003C001.mov"), "640x360");
    std::fs::write(scratch.path("card/CLIPS/B003C002.mov"), b"this is no film").expect("a file");
    std::fs::write(scratch.path("card/notes.txt"), b"rain").expect("a file");
}

fn kept(scratch: &Scratch) -> Vec<String> {
    let folder = scratch.path(".local/state/waybill/copies/pictures");
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let names = entries.map(|entry| entry.expect("an entry").file_name());
    names
        .map(|name| name.to_string_lossy().into_owned())
        .collect()
}

const BOTH: [(u16, u16); 2] = [(576, 324), (480, 270)];

fn sizes(server: &Server) -> Vec<(u16, u16)> {
    pictures(server).into_iter().map(|(_, size)| size).collect()
}

#[test]
fn a_copied_card_is_pictured_from_its_copies_after_the_server_knows_them() {
    if !has_ffmpeg() {
        return;
    }
    let (scratch, server) = (Scratch::new(), Server::start());
    fill_card(&scratch);
    let place = to_server(&server);
    let wish = copy(&scratch, &[&place[..], &["--no-pictures"]].concat());
    assert_eq!(wish.code, 0, "{}{}", wish.err, wish.out);
    assert_eq!(sizes(&server), []);
    let copied = copy(&scratch, &place);
    assert_eq!(copied.code, 0, "{}{}", copied.err, copied.out);
    let said = |text: &str| {
        copied
            .out
            .find(text)
            .unwrap_or_else(|| panic!("{text}: {}", copied.out))
    };
    let pictured = "Pictures made of 1 clip. Of 1 clip no pictures could be made; the first: CLIPS/B003C002.mov";
    assert!(said("copied and verified.") < said(pictured));
    assert_eq!(sizes(&server), BOTH);
    let scans = server.scans.lock().expect("no panic");
    let at = |what: &str| {
        scans
            .requests
            .iter()
            .rposition(|asked| asked.contains(what))
    };
    assert!(
        at("/complete") < at("/pictures/lacking"),
        "{:?}",
        scans.requests
    );
    // nothing of it lies on the card or on a drive
    for folder in ["card", "one", "two"] {
        let walked = walkdir(&scratch.path(folder));
        assert!(
            walked.iter().all(|name| !name.ends_with(".jpg")),
            "{walked:?}"
        );
    }
    assert_eq!(kept(&scratch), Vec::<String>::new());
}

fn walkdir(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let below = paths.flat_map(|path| match path.is_dir() {
        true => walkdir(&path),
        false => vec![path.display().to_string()],
    });
    below.collect()
}

#[test]
fn pictures_of_a_copy_without_a_server_wait_until_it_is_told() {
    if !has_ffmpeg() {
        return;
    }
    let (scratch, server) = (Scratch::new(), Server::start());
    fill_card(&scratch);
    let copied = copy(&scratch, &[]);
    assert_eq!(copied.code, 0, "{}{}", copied.err, copied.out);
    assert!(
        copied
            .out
            .contains("Pictures made of 1 clip. They wait in "),
        "{}",
        copied.out
    );
    assert_eq!(kept(&scratch).len(), 2);
    // card and drives are away, and nothing that makes pictures is here
    for folder in ["card", "one", "two"] {
        std::fs::rename(
            scratch.path(folder),
            scratch.path(&format!("{folder} away")),
        )
        .expect("free");
    }
    let nowhere = scratch.path("nowhere").display().to_string();
    // the server goes away before it has the second picture
    server.trouble(&[500, 1, 1, 1, 1, 1, 1, 1]);
    let sent = send_receipt(&scratch, &server, Some(&nowhere));
    assert_eq!(sent.code, 0, "{}{}", sent.err, sent.out);
    assert!(
        sent.err.contains("the same command goes on with them"),
        "{}",
        sent.err
    );
    assert_eq!(kept(&scratch).len(), 2, "{}", sent.err);
    server.trouble(&[]);
    let sent = send_receipt(&scratch, &server, Some(&nowhere));
    assert_eq!(sent.code, 0, "{}{}", sent.err, sent.out);
    assert_eq!(sizes(&server), BOTH);
    assert_eq!(kept(&scratch), Vec::<String>::new());
    assert!(
        sent.err
            .contains("1 clip has no picture yet: no copy is where it was made."),
        "{}",
        sent.err
    );
}

#[test]
fn what_was_not_kept_is_made_of_a_copy_that_looks_as_it_did() {
    if !has_ffmpeg() {
        return;
    }
    let (scratch, server) = (Scratch::new(), Server::start());
    fill_card(&scratch);
    let copied = copy(&scratch, &["--no-pictures"]);
    assert_eq!(copied.code, 0, "{}{}", copied.err, copied.out);
    assert_eq!(kept(&scratch), Vec::<String>::new());
    // the first drive is away, and another film lies where the second had its copy
    std::fs::rename(scratch.path("one"), scratch.path("one away")).expect("free");
    let second = scratch.path("two").join(ROLL).join("CLIPS/B003C001.mov");
    let original = std::fs::read(&second).expect("a copy");
    make_clip(&second, "320x180");
    let sent = send_receipt(&scratch, &server, None);
    assert_eq!(sent.code, 0, "{}{}", sent.err, sent.out);
    assert!(
        sent.err
            .contains("1 clip has no picture yet: no copy is where"),
        "{}",
        sent.err
    );
    assert_eq!(sizes(&server), []);
    std::fs::write(&second, original).expect("a file");
    std::fs::rename(scratch.path("one away"), scratch.path("one")).expect("free");
    let sent = send_receipt(&scratch, &server, None);
    assert_eq!(sent.code, 0, "{}{}", sent.err, sent.out);
    assert_eq!(sizes(&server), BOTH);
}
