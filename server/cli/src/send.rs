//! Sending a scan: the journal in chunks, from the first that the server does not have. Every step may be
//! repeated (`waybill_domain::manifest` describes them).

use std::io;

use serde_json::json;
use ureq::http::Method;
use waybill_domain::manifest::{
    CHUNK_FILES, FileEntry, SKIPPED_SENT, ScanComplete, ScanStart, ScanStarted, ScanSummary,
    Skipped, chunk_digest, scan_digest,
};
use waybill_domain::verification::CheckKind;

use crate::api::{Api, Ask};
use crate::exit::{Exit, Failure};
use crate::output::{Output, count_text};
use crate::scan::{Line, Scanned};

/// Sends a scan to a series.
pub fn send(
    scanned: &Scanned,
    series: &str,
    api: &Api<'_>,
    output: &Output,
) -> Result<(), Failure> {
    let reading = || Failure::reading("The journal of this scan");
    let start = ScanStart {
        id: scanned.header.id,
        drive: scanned.header.drive.clone(),
        root: scanned.header.root.clone(),
        tool: scanned.header.tool.clone(),
        hashes: scanned.header.hashes.clone(),
        file_count: Some(scanned.totals.files),
        volume: scanned.volume.clone(),
        how: CheckKind::Scan,
        machine: crate::machine::name(),
        started: scanned.header.started,
        skipped: skipped(scanned).map_err(reading())?,
    };
    let files = files(scanned).map_err(reading())?;
    send_files(&start, files, series, api, output)
}

/// Sends what was found under one folder of a drive.
pub fn send_files(
    start: &ScanStart,
    files: impl Iterator<Item = FileEntry>,
    series: &str,
    api: &Api<'_>,
    output: &Output,
) -> Result<(), Failure> {
    let count = start.file_count.unwrap_or_default();
    let started: ScanStarted = api.post_json(&["series", series, "scans"], start)?.json()?;
    if started.complete {
        let value = json!({ "event": "sent", "scan": started.id, "already": true });
        return output.result("The server already has this scan.", &value);
    }
    let id = started.id.to_string();
    let mut digests = Vec::new();
    for chunk in chunks(files) {
        let digest = chunk_digest(&chunk);
        let number = digests.len();
        if number >= started.next_chunk as usize {
            let path = [
                "series",
                series,
                "scans",
                &id,
                "chunks",
                &number.to_string(),
            ];
            let ask = Ask {
                query: &[("digest", &digest)],
                content_type: Some("application/x-ndjson"),
                body: &chunk,
                ..Ask::default()
            };
            api.ask(Method::PUT, &path, ask)?;
        }
        digests.push(digest);
        let sent = (digests.len() * CHUNK_FILES) as u64;
        if sent < count {
            output.say(&format!("{sent} of {count} files sent"));
        }
    }
    let complete = ScanComplete {
        files: count,
        digest: scan_digest(&digests),
    };
    let path = ["series", series, "scans", &id, "complete"];
    let summary: ScanSummary = api.post_json(&path, &complete)?.json()?;
    tell(&summary, &id, output)
}

fn tell(summary: &ScanSummary, id: &str, output: &Output) -> Result<(), Failure> {
    for warning in &summary.warnings {
        output.say(warning);
    }
    let text = format!(
        "Sent: {} new to the series, {} known, {}, {}.",
        summary.new_files,
        summary.known_files,
        count_text(summary.new_copies, "new copy", "new copies"),
        count_text(summary.cards_made, "card made", "cards made"),
    );
    output.result(
        &text,
        &json!({ "event": "sent", "scan": id, "summary": summary }),
    )
}

fn skipped(scanned: &Scanned) -> io::Result<Vec<Skipped>> {
    let lines = scanned.journals.known()?.into_iter().flatten();
    let skipped = lines.filter_map(|line| match line {
        Line::Skipped(skipped) if skipped.reason.is_failure() => Some(skipped),
        _ => None,
    });
    Ok(skipped.take(SKIPPED_SENT).collect())
}

fn files(scanned: &Scanned) -> io::Result<impl Iterator<Item = FileEntry>> {
    let lines = scanned.journals.known()?.into_iter().flatten();
    Ok(lines.filter_map(|line| match line {
        Line::File(record) => Some(record.file),
        _ => None,
    }))
}

/// Bodies of the chunks, made as they are asked for.
fn chunks(mut files: impl Iterator<Item = FileEntry>) -> impl Iterator<Item = Vec<u8>> {
    std::iter::from_fn(move || {
        let mut body = Vec::new();
        for file in files.by_ref().take(CHUNK_FILES) {
            serde_json::to_writer(&mut body, &file).expect("own types are always JSON");
            body.push(b'\n');
        }
        (!body.is_empty()).then_some(body)
    })
}

/// Refuses a label that the server would refuse, before hours of reading.
pub fn check_label(label: &str) -> Result<(), Failure> {
    match label.chars().count() {
        1..=100 if label.trim() == label => Ok(()),
        _ => Err(Failure::new(
            Exit::Usage,
            "A drive's label has 1 to 100 characters and no blanks at its ends.",
        )),
    }
}
