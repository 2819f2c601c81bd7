//! The receipt on paper, as another program reads it: poppler's `pdftotext` and `pdfinfo` (where they are not
//! installed, that is said and passed).

use std::path::PathBuf;
use std::process::Command;

use serde_json::Value;
use waybill_domain::wording::grouped;

use crate::copy::{ROLL, card_file, copy, drives, fill, receipt, to_both};
use crate::copy_faults::with_short_files;
use crate::support::{Scratch, noise};

fn poppler(program: &str, args: &[&str], pdf: &PathBuf) -> Option<String> {
    let mut command = Command::new(program);
    command.args(args).arg(pdf);
    if program == "pdftotext" {
        command.arg("-");
    }
    match command.output() {
        Ok(output) => {
            assert!(output.status.success(), "{program} cannot read the receipt");
            Some(String::from_utf8(output.stdout).expect("text"))
        }
        Err(_) => {
            eprintln!("NOT TESTED on this machine: {program} is not installed");
            None
        }
    }
}

/// With every run of white space as one space, so that line ends do not matter.
fn text(pdf: &PathBuf) -> Option<String> {
    let text = poppler("pdftotext", &["-layout"], pdf)?;
    Some(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// The newest receipt's paper.
fn paper(scratch: &Scratch, receipt: &Value) -> PathBuf {
    let id = receipt["id"].as_str().expect("text").replace('-', "");
    let entries = std::fs::read_dir(scratch.path("paper")).expect("receipts");
    let mut paths = entries.map(|entry| entry.expect("an entry").path());
    let end = format!("{}.pdf", &id[id.len() - 8..]);
    let path = paths.find(|path| path.to_string_lossy().ends_with(&end));
    path.expect("the receipt on paper")
}

/// Files with their bytes and hashes, drives with what stands on them: all that the document has, the paper has.
fn holds(text: &str, receipt: &Value, missing: &str) {
    for file in receipt["files"].as_array().expect("files") {
        let path = file["path"].as_str().expect("text");
        let hash = file["hashes"]["xxh128"].as_str().expect("a digest");
        assert!(text.contains(hash), "{path}: {hash}");
        // a name of 250 letters runs over several lines
        if path.len() < 60 {
            let path = path.replace('東', "[U+6771]");
            let size = grouped(file["size"].as_u64().expect("a number"));
            let mut modified = file["modified"].as_str().expect("text").replace('T', " ");
            modified.truncate("2026-03-14 10:00".len());
            let claim = match file["verified"][0].is_null() {
                true => format!("{path} {missing} {size} {modified} {hash}"),
                false => format!("{path} {size} {modified} {hash}"),
            };
            assert!(text.contains(&claim), "{claim}\n{text}");
        }
    }
    for (number, drive) in (1..).zip(receipt["destinations"].as_array().expect("drives")) {
        let folder = drive["folder"].as_str().expect("text");
        let device = drive["device"]["number"].as_str().expect("text");
        let files = drive["files"].as_u64().expect("a number");
        let of = receipt["card"]["totals"]["files"]
            .as_u64()
            .expect("a number");
        for says in [
            format!("Drive {number}: "),
            format!("device {device}"),
            format!("Verified {files} of {of} files"),
        ] {
            assert!(text.contains(&says), "{says}\n{text}");
        }
        // a long path is broken between its parts
        let squeezed = text.replace(' ', "");
        assert!(squeezed.contains(&format!("{folder}/{ROLL}")), "{text}");
    }
    let id = receipt["id"].as_str().expect("text");
    let bytes = receipt["card"]["totals"]["bytes"]
        .as_u64()
        .expect("a number");
    for says in [
        &format!("Copy receipt {ROLL}"),
        &format!("({} bytes)", grouped(bytes)),
        &format!("receipt {id}"),
        "Before the card is wiped",
        "A verified copy is not yet leave to wipe the card",
    ] {
        assert!(text.contains(says), "{says}\n{text}");
    }
}

#[test]
fn a_whole_copy_on_paper() {
    let scratch = Scratch::new();
    fill(&scratch);
    let people = [
        "--author",
        "Ada Quill",
        "--location",
        "Quay 4",
        "--comment",
        "second unit",
    ];
    let labels = [
        "--drive",
        "HARBOUR 1",
        "--drive",
        "HARBOUR 2",
        "--hash",
        "md5",
    ];
    let copied = copy(&scratch, &[&people[..], &labels].concat());
    assert_eq!(copied.code, 0, "{}{}", copied.err, copied.out);
    let receipt = receipt(&scratch);
    let pdf = paper(&scratch, &receipt);
    let Some(text) = text(&pdf) else { return };
    holds(&text, &receipt, "");
    for says in [
        "Whole: 44 files copied to 2 drives, each copy read back and compared.",
        "Drive 1: HARBOUR 1",
        "Copied by Ada Quill",
        "Place Quay 4",
        "Note second unit",
        "xxh128, md5",
        "Together they are one copy.",
    ] {
        assert!(text.contains(says), "{says}\n{text}");
    }
    assert!(!text.contains("NOT") && !text.contains("Faults"), "{text}");
    let Some(info) = poppler("pdfinfo", &[], &pdf) else {
        return;
    };
    assert!(info.contains(&format!("Copy receipt {ROLL}")), "{info}");
    assert!(info.contains("A4"), "{info}");
    let pages = info.lines().find_map(|line| line.strip_prefix("Pages:"));
    let pages = pages.expect("a number").trim();
    assert!(text.contains(&format!("Page {pages} of {pages}")), "{text}");
}

#[test]
fn what_is_amiss_stands_on_paper() {
    let scratch = Scratch::new();
    fill(&scratch);
    card_file(&scratch, "CLIPS/long.MOV", &noise(99, 9 << 20));
    std::os::unix::fs::symlink("A.MOV", scratch.path("card/CLIPS/link.MOV")).expect("a link");
    drives(&scratch);
    let copied = with_short_files(&scratch, &to_both());
    assert_eq!(copied.code, 2, "{}{}", copied.err, copied.out);
    let receipt = receipt(&scratch);
    let Some(text) = text(&paper(&scratch, &receipt)) else {
        return;
    };
    holds(&text, &receipt, "(NOT verified on drive 1, 2)");
    assert!(
        text.contains("NOT whole: what is amiss is listed below."),
        "{text}"
    );
    let faults = receipt["faults"].as_array().expect("faults");
    assert!(faults.len() >= 2, "{faults:?}");
    for fault in faults {
        let drive = fault["destination"].as_u64().expect("a drive's") + 1;
        let path = fault["path"].as_str().expect("a path");
        let path = path.replace('東', "[U+6771]");
        let says = format!("Drive {drive} {path}: it could not be written: ");
        assert!(text.contains(&says), "{says}\n{text}");
    }
    assert!(
        text.contains("On the card and not copied CLIPS/link.MOV: "),
        "{text}"
    );
}
