//! What an interrupted verification had read, so that the same command goes on where it was: one JSON line a file, in
//! walk order, in the state folder. A file whose size and both times are still the same is not read again; what was read
//! keeps the time of its reading.

use std::cmp::Ordering;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};
use waybill_domain::hash_list::report::texts;
use waybill_domain::hashes::Hashes;

use super::reading::Outcome;
use crate::exit::Failure;
use crate::folders;
use crate::output::Output;
use crate::scan::now;

/// How long a reading counts for the run that goes on. Longer ago, the answer would say little of today.
const COUNTS_FOR: TimeDelta = TimeDelta::days(3);
/// How often lines are handed to the system, which survives a kill.
const KEEP_EVERY: Duration = Duration::from_secs(1);

/// A file that was read.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Reading {
    /// Below the folder; `/` between the names.
    path: String,
    pub size: u64,
    /// Last change of the content, and of the file's own record.
    pub stamp: (DateTime<Utc>, i64),
    pub hashes: Hashes,
    pub at: DateTime<Utc>,
}

#[derive(Serialize, Deserialize)]
struct Begun {
    begun: DateTime<Utc>,
}

type Lines = io::Lines<BufReader<File>>;

/// The readings of a run, and those of the one before that did not reach its end.
pub struct Readings {
    before: Option<Lines>,
    ahead: Option<Reading>,
    out: BufWriter<File>,
    kept: Instant,
    files: [PathBuf; 2],
    /// Held while a run lasts, so that two runs do not write into each other.
    _lock: File,
}

impl Readings {
    pub fn open(folder: &Path, name: &str, afresh: bool, output: &Output) -> Result<Self, Failure> {
        let failed = || Failure::writing(folder.display());
        let lock = folders::lock(folder, name)?;
        let files = ["before", "running"].map(|part| folder.join(format!("{name}.{part}.jsonl")));
        let [before, running] = &files;
        take_in(before, running).map_err(failed())?;
        let (mut lines, begun) = match open(before).map_err(failed())? {
            Some((lines, begun)) if !afresh && now() - begun < COUNTS_FOR => (Some(lines), begun),
            _ => {
                remove(before).map_err(failed())?;
                (None, now())
            }
        };
        let ahead = lines.as_mut().and_then(next);
        if ahead.is_some() {
            output.say(&format!(
                "Going on with the verification that began on {}; --afresh begins again.",
                begun.format("%-d %b %Y, %H:%M (UTC)")
            ));
        }
        let mut out = BufWriter::new(File::create(running).map_err(failed())?);
        write_line(&mut out, &Begun { begun }).map_err(failed())?;
        Ok(Self {
            before: lines,
            ahead,
            out,
            kept: Instant::now(),
            files,
            _lock: lock,
        })
    }

    /// What was read of a file. Files must be asked for in walk order.
    pub fn known(&mut self, path: &[u8]) -> Option<Reading> {
        loop {
            let reading = match self.ahead.take() {
                Some(ahead) => ahead,
                None => next(self.before.as_mut()?)?,
            };
            match in_walk_order(reading.path.as_bytes(), path) {
                Ordering::Less => {}
                Ordering::Equal => return Some(reading),
                Ordering::Greater => {
                    self.ahead = Some(reading);
                    return None;
                }
            }
        }
    }

    /// Keeps what was read of a file, in walk order.
    pub fn note(&mut self, path: &[u8], outcome: Option<&Outcome>) -> Result<(), Failure> {
        let (
            Some(Outcome::Read {
                size,
                stamp,
                digests,
                at,
                ..
            }),
            Ok(path),
        ) = (outcome, std::str::from_utf8(path))
        else {
            return Ok(());
        };
        let reading = Reading {
            path: path.to_owned(),
            size: *size,
            stamp: *stamp,
            hashes: texts(digests),
            at: *at,
        };
        write_line(&mut self.out, &reading).map_err(Failure::writing("What was read so far"))
    }

    /// Hands lines to the system now and then, a long file under way or not. A full disk is told by the next line.
    pub fn tick(&mut self) {
        if self.kept.elapsed() >= KEEP_EVERY {
            self.kept = Instant::now();
            let _ = self.out.flush();
        }
    }

    /// The run reached its end: there is nothing to go on with.
    pub fn end(self) -> Result<(), Failure> {
        let removed = self.files.iter().try_for_each(|path| remove(path));
        removed.map_err(Failure::writing("What was read so far"))
    }
}

/// Puts the readings of a run that went on and was interrupted, too, before those that it did not come to.
fn take_in(before: &Path, running: &Path) -> io::Result<()> {
    let Some((mut newer, begun)) = open(running)? else {
        return remove(running);
    };
    let merged = running.with_extension("merged");
    let mut out = BufWriter::new(File::create(&merged)?);
    write_line(&mut out, &Begun { begun })?;
    let mut last = None;
    while let Some(reading) = next(&mut newer) {
        write_line(&mut out, &reading)?;
        last = Some(reading.path);
    }
    if let Some((mut older, _)) = open(before)? {
        while let Some(reading) = next(&mut older) {
            let is_beyond = last
                .as_ref()
                .is_none_or(|last| in_walk_order(reading.path.as_bytes(), last.as_bytes()).is_gt());
            if is_beyond {
                write_line(&mut out, &reading)?;
            }
        }
    }
    out.flush()?;
    drop(out);
    fs::rename(&merged, before)?;
    remove(running)
}

fn open(path: &Path) -> io::Result<Option<(Lines, DateTime<Utc>)>> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error),
    };
    let mut lines = BufReader::with_capacity(1 << 18, file).lines();
    let first = lines.next().and_then(Result::ok);
    let begun = first.and_then(|line| serde_json::from_str::<Begun>(&line).ok());
    Ok(begun.map(|begun| (lines, begun.begun)))
}

/// A torn line, as a kill leaves it at the end, ends the reading.
fn next(lines: &mut Lines) -> Option<Reading> {
    serde_json::from_str(&lines.next()?.ok()?).ok()
}

/// Depth first and in byte order of the names.
fn in_walk_order(one: &[u8], other: &[u8]) -> Ordering {
    let is_slash = |byte: &u8| *byte == b'/';
    one.split(is_slash).cmp(other.split(is_slash))
}

fn write_line(out: &mut impl Write, line: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    out.write_all(b"\n")
}

fn remove(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}
