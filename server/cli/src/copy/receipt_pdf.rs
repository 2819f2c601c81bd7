//! The receipt on paper.

use chrono::{DateTime, Utc};

use super::paper::{BODY, Cell, HEADING, Paper, SMALL, STRONG, TITLE, WIDTH};
use super::receipt::{DestinationPart, Receipt};
use crate::output::{bytes_text, count_text, grouped};

/// Columns of the table of files: begin and width.
const PATH: (f32, f32) = (0.0, 230.0);
const SIZE: (f32, f32) = (234.0, 62.0);
const DATE: (f32, f32) = (304.0, 62.0);
const HASH: (f32, f32) = (370.0, WIDTH - 370.0);

/// The receipt as PDF.
///
/// # Errors
/// What the PDF library says.
pub fn pdf(receipt: &Receipt) -> Result<Vec<u8>, String> {
    let mut paper = Paper::new();
    paper.text("Copy receipt", TITLE);
    paper.space(2.0);
    paper.text(&receipt.roll.name, HEADING);
    paper.space(8.0);
    paper.text(&verdict(receipt), STRONG);
    paper.space(8.0);
    facts(&mut paper, receipt);
    for (number, destination) in receipt.destinations.iter().enumerate() {
        drive(&mut paper, receipt, number, destination);
    }
    amiss(&mut paper, receipt);
    heading(&mut paper, "Before the card is wiped");
    paper.text(&receipt.caution, BODY);
    files(&mut paper, receipt);
    let title = format!("Copy receipt {}", receipt.roll.name);
    let foot = format!(
        "{} · receipt {} · {}",
        receipt.roll.name, receipt.id, receipt.tool
    );
    paper.finish(&title, &foot)
}

fn verdict(receipt: &Receipt) -> String {
    let files = count_text(receipt.card.totals.files, "file", "files");
    let drives = count_text(receipt.destinations.len() as u64, "drive", "drives");
    match receipt.is_whole {
        true => format!("Whole: {files} copied to {drives}, each copy read back and compared."),
        false => "NOT whole: what is amiss is listed below.".to_owned(),
    }
}

fn day(time: DateTime<Utc>) -> String {
    format!("{} UTC", time.format("%-d %b %Y, %H:%M:%S"))
}

fn heading(paper: &mut Paper, text: &str) {
    paper.space(12.0);
    // a heading does not stand alone at the foot of a page
    paper.need(50.0);
    paper.text(text, HEADING);
    paper.line();
}

fn fact(paper: &mut Paper, name: &str, text: &str) {
    let cell = |at, width, text, style| Cell {
        at,
        width,
        text,
        style,
        right: false,
    };
    paper.row(&[
        cell(0.0, 90.0, name, STRONG),
        cell(94.0, WIDTH - 94.0, text, BODY),
    ]);
}

fn facts(paper: &mut Paper, receipt: &Receipt) {
    let card = &receipt.card;
    let totals = format!(
        "{}, {} ({} bytes)",
        count_text(card.totals.files, "file", "files"),
        bytes_text(card.totals.bytes),
        grouped(card.totals.bytes)
    );
    let kinds: Vec<&str> = receipt.hashes.iter().map(|kind| kind.name()).collect();
    fact(
        paper,
        "Card",
        &format!("{} (device {})", card.folder, card.device.number),
    );
    fact(paper, "Holds", &totals);
    fact(paper, "Began", &day(receipt.started));
    fact(paper, "Ended", &day(receipt.ended));
    fact(
        paper,
        "Hash types",
        &format!("{}, made in one reading of the card", kinds.join(", ")),
    );
    let optional = [
        ("Computer", &receipt.machine),
        ("Copied by", &receipt.author),
        ("Place", &receipt.location),
        ("Note", &receipt.comment),
    ];
    for (name, text) in optional {
        if let Some(text) = text {
            fact(paper, name, text);
        }
    }
}

fn drive(paper: &mut Paper, receipt: &Receipt, number: usize, destination: &DestinationPart) {
    let label = destination.drive.as_deref().unwrap_or(&destination.folder);
    heading(paper, &format!("Drive {}: {label}", number + 1));
    fact(
        paper,
        "Folder",
        &format!("{}/{}", destination.folder, receipt.roll.name),
    );
    let mut device = format!("device {}", destination.device.number);
    if let Some(volume) = &destination.device.volume {
        device.push_str(&format!(", volume {volume}"));
    }
    fact(paper, "Device", &device);
    let verified = format!(
        "{} of {}, {}",
        grouped(destination.files),
        count_text(receipt.card.totals.files, "file", "files"),
        bytes_text(destination.bytes)
    );
    fact(paper, "Verified", &verified);
    fact(paper, "How", &destination.verified_by);
    for list in &destination.lists {
        fact(paper, "Hash list", list);
    }
    if destination.device.is_same(&receipt.card.device) {
        let text = "On the card's own device: what hits the card hits this copy too.";
        fact(paper, "Caution", text);
    }
    for group in receipt
        .same_device
        .iter()
        .filter(|group| group.contains(&number))
    {
        let others = group.iter().filter(|other| **other != number);
        let others: Vec<String> = others.map(|other| (other + 1).to_string()).collect();
        let text = format!(
            "On one device with drive {}: what hits it hits all of them. Together they are one copy.",
            others.join(" and ")
        );
        fact(paper, "Caution", &text);
    }
}

fn amiss(paper: &mut Paper, receipt: &Receipt) {
    if !receipt.faults.is_empty() {
        heading(paper, "Faults");
        for fault in &receipt.faults {
            let place = match fault.destination {
                Some(number) => format!("Drive {}", number + 1),
                None => "Card".to_owned(),
            };
            let text = match &fault.path {
                Some(path) => format!("{path}: {}", fault.reason),
                None => fault.reason.clone(),
            };
            fact(paper, &place, &text);
        }
    }
    if !receipt.passed_over.is_empty() {
        heading(paper, "On the card and not copied");
        for skipped in &receipt.passed_over {
            paper.text(&format!("{}: {}", skipped.path, skipped.detail), BODY);
        }
    }
}

fn files(paper: &mut Paper, receipt: &Receipt) {
    // the heading, the columns' and a few files stay together
    paper.need(110.0);
    heading(paper, "Files");
    paper.heads(&[
        (PATH.0, PATH.1, "Path in the roll's folder", false),
        (SIZE.0, SIZE.1, "Bytes", true),
        (DATE.0, DATE.1, "Changed, UTC", false),
        (HASH.0, HASH.1, "xxh128", false),
    ]);
    for file in &receipt.files {
        let missing: Vec<String> = (file.verified.iter().enumerate())
            .filter(|(_, verified)| verified.is_none())
            .map(|(number, _)| (number + 1).to_string())
            .collect();
        let path = match missing.is_empty() {
            true => file.path.clone(),
            false => format!(
                "{} (NOT verified on drive {})",
                file.path,
                missing.join(", ")
            ),
        };
        let hash = file.hashes.get(&waybill_domain::hashes::HashKind::Xxh128);
        let cell = |column: (f32, f32), text, right| Cell {
            at: column.0,
            width: column.1,
            text,
            style: SMALL,
            right,
        };
        paper.row(&[
            cell(PATH, &path, false),
            cell(SIZE, &grouped(file.size), true),
            cell(
                DATE,
                &file.modified.format("%Y-%m-%d %H:%M").to_string(),
                false,
            ),
            cell(
                HASH,
                hash.map_or("could not be read", String::as_str),
                false,
            ),
        ]);
    }
    paper.heads(&[]);
}
