//! Posters and contact sheets of clips, by ffmpeg where it is installed. Where it is not, the tests that need it say so
//! and test nothing else.

use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::{Value, json};

use crate::server::Server;
use crate::support::{Ended, Scratch, ended};

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
        sent.out
            .contains("Pictures made of 2 clips. Of 2 clips none could be made; the first: A001/"),
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
