//! What a scan found, beside what was known; and the manifest file written from its journal.

use std::ffi::{OsStr, OsString};
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Write};
use std::path::Path;

use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use waybill_domain::hashes::hex;
use waybill_domain::manifest::{self, Totals};

use super::journal::{Line, Told};
use super::work::{Verdict, is_failure};
use super::{Journals, Scanned};
use crate::exit::{Exit, Failure};
use crate::output::{Progress, Remarks, bytes_text, count_text, grouped};

/// Counts of a run.
#[derive(Debug, Default)]
pub struct Outcome {
    pub new: u64,
    pub same: u64,
    pub changed: u64,
    pub damaged: u64,
    pub untouched: u64,
    /// Known before and not there any more.
    pub gone: u64,
    /// Passed over, of these not readable.
    pub failures: u64,
    pub warnings: u64,
    /// What is odd about files.
    pub remarks: Remarks,
    totals: Totals,
    skipped: Sha256,
}

impl Outcome {
    /// Counts a line, and says at once what could not be read.
    pub fn add(&mut self, verdict: Verdict, line: &Line, progress: &Progress<'_>) {
        *match verdict {
            Verdict::Untouched => &mut self.untouched,
            Verdict::New => &mut self.new,
            Verdict::Same => &mut self.same,
            Verdict::Changed => &mut self.changed,
            Verdict::Damaged => &mut self.damaged,
            Verdict::Skipped => &mut self.totals.skipped,
        } += 1;
        match line {
            Line::File(record) => {
                self.totals.files += 1;
                self.totals.bytes += record.file.size;
                self.warnings += u64::from(!record.file.warnings.is_empty());
                if verdict != Verdict::Untouched {
                    for warning in &record.file.warnings {
                        let path = crate::walk::shown(record.file.path_text().as_ref());
                        progress.remark(&mut self.remarks, &path, warning);
                    }
                }
            }
            Line::Skipped(skipped) => {
                self.skipped
                    .update(format!("{:?} {}\n", skipped.reason, skipped.path));
                if is_failure(line) {
                    self.failures += 1;
                    progress.note(&skipped.path, &skipped.detail);
                }
            }
            Line::Begin(_) | Line::End { .. } => {}
        }
    }

    pub fn totals(&self) -> Totals {
        self.totals
    }

    /// Says whether two runs passed over the same things for the same reasons.
    pub fn skipped_digest(&self) -> String {
        hex(&self.skipped.clone().finalize())
    }

    /// Nothing was read and nothing is gone.
    pub fn is_unchanged(&self) -> bool {
        self.new + self.same + self.changed + self.damaged + self.gone == 0
    }

    pub fn exit(&self) -> Exit {
        match (self.failures, self.damaged) {
            (0, 0) => Exit::Fine,
            (0, _) => Exit::Differences,
            _ => Exit::CouldNotTell,
        }
    }

    /// The summary as sentences.
    pub fn text(&self, drive: &str) -> String {
        let mut text = format!(
            "{drive}: {}, {}.",
            count_text(self.totals.files, "file", "files"),
            bytes_text(self.totals.bytes)
        );
        let parts = [
            (self.new, "new"),
            (self.changed, "changed"),
            (self.damaged, "changed although size and date are the same"),
            (self.same, "read again and the same"),
            (self.untouched, "untouched since they were read"),
            (self.gone, "gone"),
        ];
        let parts = parts.iter().filter(|(count, _)| *count > 0);
        let parts: Vec<String> = parts
            .map(|(count, what)| format!("{} {what}", grouped(*count)))
            .collect();
        if !parts.is_empty() {
            text.push_str(&format!(" {}.", parts.join(", ")));
        }
        if self.is_unchanged() && self.failures == 0 {
            text.push_str(" Nothing has changed.");
        }
        let harmless = self.totals.skipped - self.failures;
        if harmless > 0 {
            let things = count_text(harmless, "link or system file", "links and system files");
            text.push_str(&format!(" {things} passed over."));
        }
        if self.failures > 0 {
            let files = count_text(self.failures, "thing", "things");
            text.push_str(&format!(" {files} could not be read: see above."));
        }
        if self.damaged > 0 {
            text.push_str(" Compare the changed files with another copy before anything else.");
        }
        text
    }

    pub fn json(&self) -> Value {
        json!({
            "event": "scanned",
            "files": self.totals.files,
            "bytes": self.totals.bytes,
            "new": self.new,
            "changed": self.changed,
            "damaged": self.damaged,
            "same": self.same,
            "untouched": self.untouched,
            "gone": self.gone,
            "skipped": self.totals.skipped,
            "failures": self.failures,
            "warnings": self.warnings,
        })
    }
}

/// The name under which a manifest is written until it is whole.
pub fn temporary_name(name: &OsStr) -> OsString {
    let mut temporary = OsString::from(".");
    temporary.push(name);
    temporary.push(".part");
    temporary
}

/// Writes the manifest under a temporary name, then gives it its own. A manifest of this very scan stays
/// as it is.
pub fn write_manifest(scanned: &Scanned, out: &Path) -> Result<(), Failure> {
    let failed = || Failure::writing(out.display());
    let first = serde_json::to_string(&manifest::Line::Header(scanned.header.clone()));
    let first = first.map_err(io::Error::from).map_err(failed())?;
    if is_whole(out, &first) {
        return Ok(());
    }
    let name = out.file_name().unwrap_or_default();
    let temporary = out.with_file_name(temporary_name(name));
    let written = write_lines(&scanned.journals, scanned.totals, &first, &temporary)
        .and_then(|()| fs::rename(&temporary, out));
    if written.is_err() {
        // what was begun is of no use; the first error is the one to tell
        let _ = fs::remove_file(&temporary);
    }
    written.map_err(failed())
}

/// Whether a manifest is there that begins with this header and has its end.
fn is_whole(out: &Path, header: &str) -> bool {
    let Ok(file) = File::open(out) else {
        return false;
    };
    let mut lines = BufReader::new(file).lines().map_while(Result::ok);
    lines.next().as_deref() == Some(header)
        && lines
            .last()
            .is_some_and(|last| last.starts_with("{\"end\""))
}

fn write_lines(journals: &Journals, totals: Totals, first: &str, path: &Path) -> io::Result<()> {
    let mut output = BufWriter::with_capacity(1 << 20, File::create(path)?);
    writeln!(output, "{first}")?;
    for told in journals.told()? {
        match told? {
            Told::File(entry) => write!(output, "{{\"file\":{entry}}}")?,
            Told::Skipped(skipped) => {
                serde_json::to_writer(&mut output, &manifest::Line::Skipped(skipped))?;
            }
        }
        output.write_all(b"\n")?;
    }
    serde_json::to_writer(&mut output, &manifest::Line::End(totals))?;
    output.write_all(b"\n")?;
    output
        .into_inner()
        .map_err(io::IntoInnerError::into_error)?
        .sync_all()
}
