//! What earlier runs found on a drive, kept in the user's state folder: one JSON line a file, in walk
//! order. A run writes a journal of its own beside the last whole one and replaces it at the end, so a
//! kill at any moment loses nothing that was written. Memory does not grow with the number of files:
//! both are read and written as streams, and looked up by walking along in the same order.

use std::cmp::Ordering;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Write};
use std::iter::Peekable;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use waybill_domain::manifest::{FileEntry, Header, Skipped, Totals};

/// A file and what tells whether it was touched since.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Record {
    pub file: FileEntry,
    /// Last change of the file's own record (ctime), nanoseconds since 1970; 0 where a system has none.
    pub touched: i64,
}

/// How a run began.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Begin {
    pub header: Header,
    /// The run reads untouched files too.
    pub rehash: bool,
    /// The run did not reach its end.
    pub interrupted: bool,
}

/// One line of a journal.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    Begin(Begin),
    File(Box<Record>),
    Skipped(Skipped),
    /// The run reached its end. The digest is over what was passed over.
    End {
        totals: Totals,
        skipped_digest: String,
    },
}

/// How often a running journal is forced onto the disk.
const SYNC_EVERY: Duration = Duration::from_secs(5);

/// The journals of one drive and root.
pub struct Journals {
    whole: PathBuf,
    running: PathBuf,
    /// Held while a run lasts, so that two runs do not write into each other.
    _lock: File,
}

impl Journals {
    /// Opens the journals named `name`; `None` when another run holds them. Takes in what an
    /// interrupted run has left.
    pub fn open(folder: &Path, name: &str) -> io::Result<Option<Self>> {
        fs::create_dir_all(folder)?;
        let lock = File::create(folder.join(format!("{name}.lock")))?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(fs::TryLockError::WouldBlock) => return Ok(None),
            Err(fs::TryLockError::Error(error)) => return Err(error),
        }
        let journals = Self {
            whole: folder.join(format!("{name}.jsonl")),
            running: folder.join(format!("{name}.running.jsonl")),
            _lock: lock,
        };
        journals.take_in_interrupted()?;
        Ok(Some(journals))
    }

    /// Merges an interrupted run's lines over the last whole journal's. Repeating it changes nothing,
    /// so a kill between the steps does no harm. The result has no end line.
    fn take_in_interrupted(&self) -> io::Result<()> {
        if !self.running.exists() {
            return Ok(());
        }
        let merged = self.whole.with_extension("merged");
        let mut output = BufWriter::new(File::create(&merged)?);
        let begin = Reader::open(&self.running)?.and_then(|reader| reader.begin);
        if let Some(begin) = begin {
            write_line(
                &mut output,
                &Line::Begin(Begin {
                    interrupted: true,
                    ..begin
                }),
            )?;
            let (mut old, mut new) = (records(&self.whole)?, records(&self.running)?);
            while let Some(record) = next_merged(&mut old, &mut new) {
                write_line(&mut output, &Line::File(Box::new(record)))?;
            }
            finish(output)?;
            fs::rename(&merged, &self.whole)?;
        }
        fs::remove_file(&self.running)
    }

    /// What is known from earlier runs.
    pub fn known(&self) -> io::Result<Option<Reader>> {
        Reader::open(&self.whole)
    }

    /// Every file and everything passed over, in walk order. A journal that does not go to its end is an error.
    pub fn told(&self) -> io::Result<impl Iterator<Item = io::Result<Told>>> {
        let file = BufReader::with_capacity(1 << 20, File::open(&self.whole)?);
        let mut lines = file.lines();
        let told = std::iter::from_fn(move || {
            loop {
                let line = match lines.next() {
                    Some(Ok(line)) if line.starts_with("{\"end\"") => return None,
                    Some(line) => line,
                    None => Err(io::ErrorKind::UnexpectedEof.into()),
                };
                match line.and_then(Told::read).transpose() {
                    Some(told) => return Some(told),
                    None => continue,
                }
            }
        });
        // those who take chunks ask once more after the end
        Ok(told.fuse())
    }

    /// Begins the journal of a run.
    pub fn begin(&self, header: &Header, rehash: bool) -> io::Result<Writer> {
        let mut output = BufWriter::new(File::create(&self.running)?);
        let begin = Begin {
            header: header.clone(),
            rehash,
            interrupted: false,
        };
        write_line(&mut output, &Line::Begin(begin))?;
        Ok(Writer {
            output,
            synced: Instant::now(),
        })
    }

    /// Throws a run's journal away: it says what the last whole one says.
    pub fn discard(&self, writer: Writer) -> io::Result<()> {
        drop(writer);
        fs::remove_file(&self.running)
    }

    /// Makes a finished run's journal the last whole one.
    pub fn end(&self, writer: Writer) -> io::Result<()> {
        finish(writer.output)?;
        fs::rename(&self.running, &self.whole)
    }
}

fn records(path: &Path) -> io::Result<Peekable<Box<dyn Iterator<Item = Record>>>> {
    let lines: Box<dyn Iterator<Item = Record>> = match Reader::open(path)? {
        Some(reader) => Box::new(reader.filter_map(|line| match line {
            Line::File(record) => Some(*record),
            _ => None,
        })),
        None => Box::new(std::iter::empty()),
    };
    Ok(lines.peekable())
}

/// The next of two lists in order; of two records of one path the newer.
fn next_merged(
    old: &mut Peekable<impl Iterator<Item = Record>>,
    new: &mut Peekable<impl Iterator<Item = Record>>,
) -> Option<Record> {
    let order = match (old.peek(), new.peek()) {
        (Some(old), Some(new)) => old.file.path.cmp(&new.file.path),
        (Some(_), None) => Ordering::Less,
        (None, _) => Ordering::Greater,
    };
    match order {
        Ordering::Less => old.next(),
        Ordering::Greater => new.next(),
        Ordering::Equal => {
            old.next();
            new.next()
        }
    }
}

/// Reads a journal line by line. A torn line, as a kill leaves it at the end, ends the reading.
pub struct Reader {
    pub begin: Option<Begin>,
    lines: io::Lines<BufReader<File>>,
}

impl Reader {
    fn open(path: &Path) -> io::Result<Option<Self>> {
        let file = match File::open(path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(error),
        };
        let lines = BufReader::with_capacity(1 << 20, file).lines();
        let mut reader = Self { begin: None, lines };
        if let Some(Line::Begin(begin)) = reader.next() {
            reader.begin = Some(begin);
        }
        Ok(Some(reader))
    }
}

impl Iterator for Reader {
    type Item = Line;

    fn next(&mut self) -> Option<Line> {
        let text = self.lines.next()?.ok()?;
        serde_json::from_str(&text).ok()
    }
}

/// A line of a whole journal for those who only hand it on.
pub enum Told {
    /// The JSON of a `FileEntry`, as the journal has it: a manifest and a scan that is sent hold the very same text.
    File(String),
    Skipped(Skipped),
}

impl Told {
    /// `None` for the line at the beginning.
    fn read(mut line: String) -> io::Result<Option<Self>> {
        if let Some((from, to)) = entry_in(&line) {
            line.truncate(to);
            line.drain(..from);
            return Ok(Some(Self::File(line)));
        }
        match serde_json::from_str(&line)? {
            Line::Skipped(skipped) => Ok(Some(Self::Skipped(skipped))),
            Line::Begin(_) => Ok(None),
            Line::File(_) | Line::End { .. } => Err(io::ErrorKind::InvalidData.into()),
        }
    }
}

/// Where the entry's JSON stands in a file's line.
fn entry_in(line: &str) -> Option<(usize, usize)> {
    const BEFORE: &str = "{\"file\":{\"file\":";
    const AFTER: &str = ",\"touched\":";
    let to = line.strip_prefix(BEFORE).and(line.rfind(AFTER))?;
    let number = line[to..].strip_prefix(AFTER)?.strip_suffix("}}")?;
    number.parse::<i64>().ok()?;
    Some((BEFORE.len(), to))
}

/// A run's journal while it is written.
pub struct Writer {
    output: BufWriter<File>,
    synced: Instant,
}

impl Writer {
    pub fn write(&mut self, line: &Line) -> io::Result<()> {
        write_line(&mut self.output, line)
    }

    /// Hands the lines to the system, which survives a kill, and now and then to the disk, which
    /// survives a power cut.
    pub fn keep(&mut self, now: bool) -> io::Result<()> {
        self.output.flush()?;
        if now || self.synced.elapsed() >= SYNC_EVERY {
            self.output.get_ref().sync_data()?;
            self.synced = Instant::now();
        }
        Ok(())
    }
}

fn write_line(output: &mut impl Write, line: &Line) -> io::Result<()> {
    serde_json::to_writer(&mut *output, line)?;
    output.write_all(b"\n")
}

fn finish(output: BufWriter<File>) -> io::Result<()> {
    output
        .into_inner()
        .map_err(io::IntoInnerError::into_error)?
        .sync_all()
}

#[cfg(test)]
mod tests {
    use waybill_domain::hashes::{HashKind, Hashes};

    use super::*;

    #[test]
    fn a_line_is_handed_on_as_the_entry_is_written() {
        let file = FileEntry {
            // what could be taken for the line's own punctuation
            path: vec![",\"touched\":7}}".to_owned(), "{\"file\":".to_owned()],
            size: 3,
            modified: chrono::DateTime::UNIX_EPOCH,
            read: chrono::DateTime::UNIX_EPOCH,
            hashes: Hashes::from([(HashKind::Md5, "0".repeat(32))]),
            media: None,
            roll: None,
            warnings: vec![],
        };
        let text = serde_json::to_string(&file).expect("own types are always JSON");
        for touched in [0, -1, i64::MAX] {
            let record = Record {
                file: file.clone(),
                touched,
            };
            let line = serde_json::to_string(&Line::File(Box::new(record)));
            let told = Told::read(line.expect("own types are always JSON"));
            assert!(matches!(told, Ok(Some(Told::File(told))) if told == text));
        }
        assert!(Told::read("{\"file\":{\"file\":{},\"touched\":".to_owned()).is_err());
    }
}
