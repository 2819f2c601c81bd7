//! Sending a scan: the journal in chunks, from the first that the server does not have. Every step may be
//! repeated (`waybill_domain::manifest` describes them).

use std::io;
use std::thread;

use serde_json::json;
use ureq::http::Method;
use waybill_domain::manifest::{
    CHUNK_FILES, SKIPPED_SENT, ScanComplete, ScanStart, ScanStarted, ScanSummary, Skipped,
    chunk_digest, scan_digest,
};
use waybill_domain::verification::CheckKind;

use crate::api::{Api, Ask};
use crate::exit::{Exit, Failure};
use crate::output::{Output, count_text, grouped};
use crate::scan::{Scanned, Told};

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
        volume: scanned.volume.id.clone(),
        devices: scanned.volume.devices.clone(),
        seen: scanned.volume.seen.clone(),
        how: CheckKind::Scan,
        machine: crate::machine::name(),
        started: scanned.header.started,
        skipped: skipped(scanned).map_err(reading())?,
    };
    let entries = entries(scanned).map_err(reading())?;
    send_files(&start, entries, series, api, output)
}

/// Sends what was found under one folder of a drive: the JSON of an entry for each file.
pub fn send_files(
    start: &ScanStart,
    entries: impl Iterator<Item = io::Result<String>>,
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
    let place = ["series", series, "scans", &id];
    let reading = Failure::reading("The journal of this scan");
    let digest = send_chunks(
        api,
        &place,
        started.next_chunk,
        bodies(entries),
        reading,
        |sent| {
            if (sent as u64) < count {
                output.say(&format!(
                    "{} of {} sent",
                    grouped(sent as u64),
                    count_text(count, "file", "files")
                ));
            }
        },
    )?;
    let complete = ScanComplete {
        files: count,
        digest,
    };
    let path = ["series", series, "scans", &id, "complete"];
    let summary: ScanSummary = api.post_json(&path, &complete)?.json()?;
    tell(&summary, &id, output)
}

fn tell(summary: &ScanSummary, id: &str, output: &Output) -> Result<(), Failure> {
    output.warn(&summary.warnings);
    let text = format!(
        "Sent: {} new to the series, {} known, {}, {}.",
        grouped(summary.new_files),
        grouped(summary.known_files),
        count_text(summary.new_copies, "new copy", "new copies"),
        count_text(summary.cards_made, "card made", "cards made"),
    );
    output.result(
        &text,
        &json!({ "event": "sent", "scan": id, "summary": summary }),
    )
}

fn skipped(scanned: &Scanned) -> io::Result<Vec<Skipped>> {
    let told = scanned.journals.told()?;
    let skipped = told.filter_map(|told| match told {
        Ok(Told::Skipped(skipped)) if skipped.reason.is_failure() => Some(Ok(skipped)),
        Ok(_) => None,
        Err(error) => Some(Err(error)),
    });
    skipped.take(SKIPPED_SENT).collect()
}

/// The entries of a scan's files as JSON.
fn entries(scanned: &Scanned) -> io::Result<impl Iterator<Item = io::Result<String>>> {
    let told = scanned.journals.told()?;
    Ok(told.filter_map(|told| match told {
        Ok(Told::File(entry)) => Some(Ok(entry)),
        Ok(Told::Skipped(_)) => None,
        Err(error) => Some(Err(error)),
    }))
}

/// Bodies of chunks out of lines, made as they are asked for.
pub fn bodies(
    mut lines: impl Iterator<Item = io::Result<String>>,
) -> impl Iterator<Item = io::Result<Vec<u8>>> {
    std::iter::from_fn(move || {
        let mut body = Vec::new();
        for line in lines.by_ref().take(CHUNK_FILES) {
            match line {
                Ok(line) => body.extend_from_slice(line.as_bytes()),
                Err(error) => return Some(Err(error)),
            }
            body.push(b'\n');
        }
        (!body.is_empty()).then_some(Ok(body))
    })
}

/// A chunk on its way.
struct Chunk {
    number: usize,
    digest: String,
    body: Vec<u8>,
}

impl Chunk {
    fn put(&self, api: &Api<'_>, place: &[&str]) -> Result<(), Failure> {
        let number = self.number.to_string();
        let path = [place, &["chunks", &number]].concat();
        let ask = Ask {
            query: &[("digest", &self.digest)],
            content_type: Some("application/x-ndjson"),
            body: &self.body,
            ..Ask::default()
        };
        api.ask(Method::PUT, &path, ask).map(drop)
    }
}

/// Puts the chunks that the server does not have below `place`, and gives the digest over all of them.
/// `sent` hears how many lines are there after each.
///
/// While the server writes one down, the next is on its way already. It is refused when it overtakes the one before:
/// then it is sent again after that.
pub fn send_chunks(
    api: &Api<'_>,
    place: &[&str],
    next: u32,
    bodies: impl Iterator<Item = io::Result<Vec<u8>>>,
    reading: impl FnOnce(io::Error) -> Failure,
    mut sent: impl FnMut(usize),
) -> Result<String, Failure> {
    let mut digests = Vec::new();
    let mut arrived = |chunk: Chunk, answer: Result<(), Failure>| {
        match answer {
            Err(failure) if failure.exit == Exit::BadData && chunk.number > 0 => {
                chunk.put(api, place)?;
            }
            answer => answer?,
        }
        sent((chunk.number + 1) * CHUNK_FILES);
        Ok(())
    };
    thread::scope(|scope| {
        let mut flying: Option<thread::ScopedJoinHandle<'_, _>> = None;
        for body in bodies {
            let body = match body {
                Ok(body) => body,
                Err(error) => return Err(reading(error)),
            };
            let (number, digest) = (digests.len(), chunk_digest(&body));
            digests.push(digest.clone());
            if number < next as usize {
                continue;
            }
            let chunk = Chunk {
                number,
                digest,
                body,
            };
            let before = flying.replace(scope.spawn(move || {
                let answer = chunk.put(api, place);
                (chunk, answer)
            }));
            if let Some(before) = before {
                let (chunk, answer) = joined(before);
                arrived(chunk, answer)?;
            }
        }
        if let Some(last) = flying {
            let (chunk, answer) = joined(last);
            arrived(chunk, answer)?;
        }
        Ok(scan_digest(&digests))
    })
}

fn joined<T>(thread: thread::ScopedJoinHandle<'_, T>) -> T {
    thread
        .join()
        .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
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
