//! Telling a server of copies: at once, later from the receipt, and again.

use std::fs;

use serde_json::json;

use crate::copy::{ROLL, card_file, receipt};
use crate::server::Server;
use crate::support::{Ended, Scratch, copying, ended};

const PATTERN: &str = "{date:YYYYMMDD}_{card}_{camera}_{words}";

fn run(scratch: &Scratch, args: &[&str]) -> Ended {
    let mut command = scratch.command(args);
    command.env("WAYBILL_TOKEN", "sesame");
    ended(command.output().expect("it starts"))
}

fn receipt_path(scratch: &Scratch) -> String {
    let entries = fs::read_dir(scratch.path("paper")).expect("receipts");
    let mut paths = entries.map(|entry| entry.expect("an entry").path());
    let path = paths.find(|path| path.extension().is_some_and(|end| end == "json"));
    path.expect("a receipt").display().to_string()
}

#[test]
fn a_copy_tells_the_server_what_stands_verified_on_its_drive() {
    let (scratch, server) = (Scratch::new(), Server::start());
    card_file(&scratch, "CLIPS/A.MOV", b"light");
    card_file(&scratch, "CLIPS/B.MOV", b"night");
    let told = [
        "--roll-pattern",
        PATTERN,
        "--drive",
        "HARBOUR 1",
        "--to-server",
        &server.url,
        "--series",
        "Harbour Rowing",
    ];
    let copied = run(&scratch, &[&copying(ROLL, &["drive"])[..], &told].concat());
    assert_eq!(copied.code, 0, "{}{}", copied.err, copied.out);
    assert!(
        copied.out.contains("Sent: 2 new to the series"),
        "{}",
        copied.out
    );
    {
        let scans = server.scans.lock().expect("no panic");
        let root = format!("drive/{ROLL}");
        assert_eq!(
            (
                &scans.start["drive"],
                &scans.start["root"],
                &scans.start["how"]
            ),
            (&json!("HARBOUR 1"), &json!(root), &json!("copy"))
        );
        let (_, files) = &scans.chunks[&0];
        let paths: Vec<String> = files
            .iter()
            .map(waybill_domain::manifest::FileEntry::path_text)
            .collect();
        assert_eq!(paths, ["CLIPS/A.MOV", "CLIPS/B.MOV"]);
        assert_eq!(
            files[0].roll.as_ref().map(|roll| roll.name.as_str()),
            Some(ROLL)
        );
    }
    let again = run(
        &scratch,
        &[
            "copy",
            "send",
            &receipt_path(&scratch),
            "--to",
            &server.url,
            "--series",
            "Harbour Rowing",
        ],
    );
    assert_eq!(again.code, 0, "{}{}", again.err, again.out);
    assert!(again.out.contains("already has this scan"), "{}", again.out);
}

#[test]
fn a_copy_without_a_server_is_sent_later() {
    let (scratch, server) = (Scratch::new(), Server::start());
    card_file(&scratch, "a", b"a");
    let copied = run(&scratch, &copying(ROLL, &["drive"]));
    assert_eq!(copied.code, 0, "{}", copied.err);
    assert_eq!(receipt(&scratch)["is_whole"], true);
    let path = receipt_path(&scratch);
    let place = ["--to", &server.url, "--series", "Harbour Rowing"];
    let unnamed = run(&scratch, &[&["copy", "send", &path][..], &place].concat());
    assert_eq!(unnamed.code, 64, "{}", unnamed.err);
    assert!(unnamed.err.contains("--drive LABEL"), "{}", unnamed.err);
    let folder = receipt(&scratch)["destinations"][0]["folder"].clone();
    let line = format!(
        "\n  {} (1 file verified)",
        folder.as_str().expect("a folder")
    );
    assert!(unnamed.err.contains(&line), "{}", unnamed.err);
    let named = ["--drive", "HARBOUR 1"];
    let sent = run(
        &scratch,
        &[&["copy", "send", &path][..], &place, &named].concat(),
    );
    assert_eq!(sent.code, 0, "{}", sent.err);
    assert_eq!(server.scans.lock().expect("no panic").chunks.len(), 1);
    let other = run(
        &scratch,
        &[&["copy", "send", "card/a"][..], &place, &named].concat(),
    );
    assert_eq!(other.code, 65, "{}", other.err);
}

#[test]
fn a_server_that_is_away_costs_no_copy() {
    let scratch = Scratch::new();
    card_file(&scratch, "a", b"a");
    let away = [
        "--to-server",
        "http://127.0.0.1:9",
        "--series",
        "Harbour Rowing",
        "--drive",
        "H",
    ];
    let args = ["copy", "card", "--to", "drive", "--roll", ROLL];
    let refused = scratch.run(&[&args[..], &away].concat());
    assert_eq!(refused.code, 77, "not signed in: {}", refused.err);
    let two = scratch.run(&[&args[..], &["--drive", "H", "--drive", "I"]].concat());
    assert_eq!(two.code, 64, "{}", two.err);
    assert!(two.err.contains("once for each drive"), "{}", two.err);
}
