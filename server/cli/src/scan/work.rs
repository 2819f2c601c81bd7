//! What a worker does with one file: header facts, digests, and the check that it held still meanwhile.
//! Small files come many to a batch, so that handing over costs little.

use std::fs::{File, Metadata};
use std::io::Cursor;
use std::path::Path;
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, SyncSender};

use chrono::{DateTime, Utc};
use waybill_domain::footage::roll::{RollName, RollPattern};
use waybill_domain::hashes::{Comparison, HashKind, Hashes, compare};
use waybill_domain::manifest::{FileEntry, SkipReason, Skipped};
use waybill_domain::media::{Container, MediaError, MediaFacts, read_facts};

use super::journal::{Line, Record};
use crate::read::{BUFFER, FileReader, ReadError, Signals};
use crate::walk::{FoundFile, skip};

/// One thing to bring into the journal, in walk order.
pub enum Item {
    /// Known and untouched, or passed over: goes through as it is.
    Ready(Line),
    /// To be read; with what an earlier run knew of it.
    Read(FoundFile, Option<Box<Record>>),
}

/// What a line says beside what was known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Not read again: size and times are those of the record.
    Untouched,
    /// Read, and not known before.
    New,
    /// Read again: the content is what it was.
    Same,
    /// Read again: the content is another.
    Changed,
    /// The content is another although size and date are what they were: damage, or worse.
    Damaged,
    /// Not in the list of files.
    Skipped,
}

/// Some items in walk order, and their place among the batches.
pub struct Batch {
    pub number: u64,
    pub items: Vec<Item>,
}

/// A batch's lines; those of files that were not reached are missing.
pub struct Done {
    pub number: u64,
    pub lines: Vec<(Verdict, Line)>,
}

/// What all workers share.
pub struct Shared<'a> {
    pub root: &'a Path,
    pub kinds: &'a [HashKind],
    pub pattern: &'a RollPattern,
    /// Roll names may be the root's own.
    pub root_name: &'a str,
    pub signals: &'a Signals,
    pub now: fn() -> DateTime<Utc>,
}

impl Shared<'_> {
    /// Takes batches until there are no more. A receiver behind a lock hands each to one worker.
    pub fn work(&self, batches: &Mutex<Receiver<Batch>>, done: &SyncSender<Done>) {
        let mut reader = FileReader::new(self.kinds, self.signals);
        loop {
            let next = batches.lock().expect("no worker panics").recv();
            let Ok(batch) = next else { return };
            let number = batch.number;
            let lines = batch.items.into_iter().filter_map(|item| match item {
                Item::Ready(line @ Line::File(_)) => Some((Verdict::Untouched, line)),
                Item::Ready(line) => Some((Verdict::Skipped, line)),
                Item::Read(..) if self.signals.stopped() => None,
                Item::Read(found, known) => self.read(&mut reader, found, known.as_deref()),
            });
            if done
                .send(Done {
                    number,
                    lines: lines.collect(),
                })
                .is_err()
            {
                return;
            }
        }
    }

    /// Reads one file; `None` when the run was stopped in the middle of it.
    fn read(
        &self,
        reader: &mut FileReader<'_>,
        found: FoundFile,
        known: Option<&Record>,
    ) -> Option<(Verdict, Line)> {
        let failed = |reason, detail: &str| {
            let line = Line::Skipped(skip(self.root, &found.full, reason, detail));
            Some((Verdict::Skipped, line))
        };
        let mut warnings = Vec::new();
        for _ in 0..2 {
            match self.attempt(reader, &found, &mut warnings) {
                Ok(Some((metadata, hashes, media))) => {
                    let mut record = self.record(found, &metadata, hashes, media, warnings);
                    let verdict = known.map_or(Verdict::New, |known| judge(known, &mut record));
                    return Some((verdict, Line::File(Box::new(record))));
                }
                Ok(None) => {
                    warnings =
                        vec!["It changed while it was being read and was read again.".to_owned()];
                }
                Err(ReadError::Stopped) => return None,
                Err(ReadError::Io(error)) => {
                    return failed(SkipReason::Unreadable, &error.to_string());
                }
            }
        }
        failed(
            SkipReason::Unstable,
            "it kept changing while it was read; scan again when it is done",
        )
    }

    /// Reads a file once; `None` when it changed meanwhile.
    fn attempt(
        &self,
        reader: &mut FileReader<'_>,
        found: &FoundFile,
        warnings: &mut Vec<String>,
    ) -> Result<Option<(Metadata, Hashes, Option<MediaFacts>)>, ReadError> {
        let file = File::open(&found.full)?;
        let before = file.metadata()?;
        let len = before.len();
        let name = found.path.last().map_or("", String::as_str);
        let (read, hashes, media) = if len <= BUFFER as u64 {
            let bytes = reader.read_whole(&file, len as usize)?;
            let media = facts(
                name,
                &bytes,
                || read_facts(Cursor::new(&bytes), len),
                warnings,
            );
            (bytes.len() as u64, reader.hash_whole(bytes), media)
        } else {
            let mut start = [0; 16];
            read_start(&file, &mut start)?;
            let media = facts(name, &start, || read_facts(&file, len), warnings);
            rewind(&file)?;
            let (read, hashes) = reader.hash_large(&file)?;
            (read, hashes, media)
        };
        let after = file.metadata()?;
        let still = read == len && after.len() == len && stamp(&after) == stamp(&before);
        Ok(still.then_some((after, hashes, media)))
    }

    fn record(
        &self,
        found: FoundFile,
        metadata: &Metadata,
        hashes: Hashes,
        media: Option<MediaFacts>,
        mut warnings: Vec<String>,
    ) -> Record {
        if metadata.len() == 0 {
            warnings.push("The file is empty.".to_owned());
        }
        let (modified, touched) = stamp(metadata);
        Record {
            file: FileEntry {
                roll: self.roll(&found.path),
                path: found.path,
                size: metadata.len(),
                modified,
                read: (self.now)(),
                hashes,
                media,
                warnings,
            },
            touched,
        }
    }

    /// The outermost folder above the file, the root included, whose name is a roll's.
    pub fn roll(&self, path: &[String]) -> Option<RollName> {
        let folders = path.split_last().map_or(&[][..], |(_, folders)| folders);
        let names = std::iter::once(self.root_name).chain(folders.iter().map(String::as_str));
        names.filter_map(|name| self.pattern.read(name).ok()).next()
    }
}

fn read_start(mut file: &File, start: &mut [u8]) -> Result<(), ReadError> {
    Ok(std::io::Read::read_exact(&mut file, start)?)
}

fn rewind(mut file: &File) -> Result<(), ReadError> {
    Ok(std::io::Seek::rewind(&mut file)?)
}

/// Header facts of a file, read from it alone, and what is odd about it.
pub fn header_facts(name: &str, full: &Path) -> (Option<MediaFacts>, Vec<String>) {
    let mut warnings = Vec::new();
    let read = File::open(full).and_then(|file| Ok((file.metadata()?.len(), file)));
    let Ok((len, file)) = read else {
        return (None, warnings);
    };
    let mut start = [0; 16];
    let filled = crate::read::fill(&mut &file, &mut start).unwrap_or(0);
    if len == 0 {
        warnings.push("The file is empty.".to_owned());
    }
    if rewind(&file).is_err() {
        return (None, warnings);
    }
    let media = facts(
        name,
        &start[..filled],
        || read_facts(&file, len),
        &mut warnings,
    );
    (media, warnings)
}

/// Header facts of a file whose content or name is of a family we read. A broken header is a warning.
fn facts(
    name: &str,
    start: &[u8],
    read: impl FnOnce() -> Result<MediaFacts, MediaError>,
    warnings: &mut Vec<String>,
) -> Option<MediaFacts> {
    Container::by_content(start)
        .or_else(|| Container::by_name(name).filter(|_| !start.is_empty()))?;
    match read() {
        Ok(facts) => Some(facts),
        Err(error) => {
            warnings.push(format!("The header could not be read: {error}."));
            None
        }
    }
}

/// When the content and when the file's own record were last changed.
pub fn stamp(metadata: &Metadata) -> (DateTime<Utc>, i64) {
    let modified = metadata
        .modified()
        .map_or(DateTime::UNIX_EPOCH, DateTime::from);
    (modified, touched(metadata))
}

#[cfg(unix)]
fn touched(metadata: &Metadata) -> i64 {
    use std::os::unix::fs::MetadataExt;
    metadata
        .ctime()
        .wrapping_mul(1_000_000_000)
        .wrapping_add(metadata.ctime_nsec())
}

#[cfg(not(unix))]
fn touched(_: &Metadata) -> i64 {
    0
}

/// What a record says about a file that was found again.
pub fn is_untouched(record: &Record, found: &FoundFile, kinds: &[HashKind]) -> bool {
    record.file.size == found.metadata.len()
        && (record.file.modified, record.touched) == stamp(&found.metadata)
        && record.file.hashes.keys().eq(kinds)
}

/// Compares a file that was read again with its record, and notes damage on it for good.
fn judge(known: &Record, record: &mut Record) -> Verdict {
    if compare(&known.file.hashes, &record.file.hashes) == Comparison::Same {
        return Verdict::Same;
    }
    let undated =
        (known.file.size, known.file.modified) == (record.file.size, record.file.modified);
    if !undated {
        return Verdict::Changed;
    }
    record.file.warnings.push(format!(
        "Its content is not what was read on {}, although size and date are the same. \
         Compare with another copy.",
        known.file.read.format("%-d %b %Y")
    ));
    Verdict::Damaged
}

/// Whether a line means that content is missing from the manifest.
pub fn is_failure(line: &Line) -> bool {
    matches!(line, Line::Skipped(Skipped { reason, .. }) if reason.is_failure())
}
