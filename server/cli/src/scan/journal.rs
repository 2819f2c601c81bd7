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
