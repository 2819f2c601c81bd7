//! `waybill scan`: walks a folder, reads every file that is new or was touched, and keeps a journal from
//! which the manifest is written and sent. Stopped or killed, the same command goes on where it was.

mod journal;
mod outcome;
mod plan;
mod root;
mod work;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::sync::{Mutex, OnceLock};
use std::thread;
use std::time::Duration;

use chrono::{DateTime, Utc};
use uuid::Uuid;
use waybill_domain::footage::roll::RollPattern;
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::{Header, SCHEMA_VERSION, Totals, chunk_digest};

use crate::exit::{Exit, Failure};
use crate::output::{Output, Progress, bytes_text, count_text, grouped};
use crate::read::Signals;
use crate::volume::Volume;
use crate::walk::{Found, walk};
use journal::Line;
pub use journal::{Journals, Told};
pub use outcome::{Outcome, temporary_name};
use plan::{Leftover, Plan, Rehash};
pub use root::Root;
use work::{Done, Shared, is_failure};
pub use work::{header_facts, stamp};

/// What a scan is asked to do; all checked.
pub struct Options {
    pub folder: PathBuf,
    pub drive: String,
    pub out: Option<PathBuf>,
    /// In listing order, without repetition.
    pub kinds: Vec<HashKind>,
    pub jobs: usize,
    pub rehash: bool,
    pub pattern: RollPattern,
    /// Where journals are kept.
    pub state: PathBuf,
}

/// A scan that reached its end.
pub struct Scanned {
    pub journals: Journals,
    pub header: Header,
    pub totals: Totals,
    pub outcome: Outcome,
    /// The volume that the folder is the top of, where the system tells.
    pub volume: Volume,
    /// The folder itself.
    pub root: PathBuf,
}

/// Batches that may be on their way for each job.
const WINDOW: usize = 8;
/// How long to wait for a result before the progress line is written again.
const TICK: Duration = Duration::from_millis(200);

/// The computer's clock, in the one place that asks it.
pub fn now() -> DateTime<Utc> {
    std::time::SystemTime::now().into()
}

/// Scans a folder and writes the manifest where one is wanted.
pub fn scan(options: &Options, signals: &Signals, output: &Output) -> Result<Scanned, Failure> {
    let root = Root::open(&options.folder)?;
    let leave_out = leave_out(options);
    let is_file = |found: Found| matches!(found, Found::File(_));
    if !walk(&root.path, &leave_out).any(is_file) {
        let skipped = walk(&root.path, &leave_out).count();
        return Err(empty(&root.path, skipped as u64));
    }
    let name = journal_name(&options.drive, &root.path);
    let journals = Journals::open(&options.state, &name)
        .map_err(Failure::writing(format!(
            "The journal in {}",
            options.state.display()
        )))?
        .ok_or_else(|| {
            let message = "This drive is being scanned by another run; wait for it or stop it.";
            Failure::new(Exit::BadData, message)
        })?;
    let header = Header {
        schema_version: SCHEMA_VERSION,
        id: Uuid::now_v7(),
        drive: options.drive.clone(),
        root: root.name(),
        tool: concat!("waybill ", env!("CARGO_PKG_VERSION")).to_owned(),
        hashes: options.kinds.clone(),
        started: now(),
    };
    let run = Run {
        options,
        root: &root,
        signals,
        output,
        leave_out: &leave_out,
    };
    let scanned = run.all(journals, header)?;
    if let Some(out) = &options.out {
        outcome::write_manifest(&scanned, out)?;
    }
    Ok(scanned)
}

/// What this run writes, should it lie in the scanned folder.
fn leave_out(options: &Options) -> Vec<PathBuf> {
    let Some(out) = &options.out else {
        return Vec::new();
    };
    let folder = out.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = fs::canonicalize(folder.unwrap_or(Path::new("."))).unwrap_or_default();
    let name = out.file_name().unwrap_or_default();
    vec![folder.join(name), folder.join(temporary_name(name))]
}

fn empty(root: &Path, skipped: u64) -> Failure {
    let passed = match skipped {
        0 => String::new(),
        n => format!(" ({} passed over)", count_text(n, "thing", "things")),
    };
    let message = format!(
        "There is no file in {}{passed}. Is it the right folder, and is the drive mounted?",
        root.display()
    );
    Failure::new(Exit::NoInput, message)
}

/// Counts what will come, so that the time left can be told. A second walk beside the reading, made only for
/// runs that last long enough to be watched.
#[derive(Default)]
struct Count {
    begun: AtomicBool,
    /// The reading is over first.
    needless: AtomicBool,
    totals: OnceLock<Totals>,
}

impl Count {
    fn walk(&self, root: &Path, leave_out: &[PathBuf], signals: &Signals) {
        let mut totals = Totals::default();
        for found in walk(root, leave_out) {
            if signals.stopped() || self.needless.load(Ordering::Relaxed) {
                return;
            }
            match found {
                Found::File(file) => {
                    totals.files += 1;
                    totals.bytes += file.metadata.len();
                }
                Found::Skipped(_) => totals.skipped += 1,
            }
        }
        // nobody else sets it
        let _ = self.totals.set(totals);
    }
}

/// One journal for each label and folder: the label as readable text, both as a digest.
pub fn journal_name(drive: &str, root: &Path) -> String {
    let key = [drive.as_bytes(), b"\0", root.as_os_str().as_encoded_bytes()].concat();
    let readable = drive
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' });
    format!(
        "{}-{}",
        readable.take(40).collect::<String>(),
        &chunk_digest(&key)[..16]
    )
}

struct Run<'a> {
    options: &'a Options,
    root: &'a Root,
    signals: &'a Signals,
    output: &'a Output,
    leave_out: &'a [PathBuf],
}

impl Run<'_> {
    fn all(&self, journals: Journals, header: Header) -> Result<Scanned, Failure> {
        let journal_failed = || Failure::writing("The journal of this scan");
        let root_name = self.root.name();
        let shared = Shared {
            root: &self.root.path,
            kinds: &self.options.kinds,
            pattern: &self.options.pattern,
            root_name: &root_name,
            signals: self.signals,
            now,
        };
        let known = journals.known().map_err(journal_failed())?;
        let before = known.as_ref().and_then(|reader| reader.begin.as_ref());
        let unfinished = before.filter(|begin| begin.interrupted && begin.rehash);
        let (rehash, header) = match (self.options.rehash, unfinished) {
            (false, _) => (Rehash::None, header),
            (true, None) => (Rehash::All, header),
            (true, Some(begin)) => {
                let (id, started) = (begin.header.id, begin.header.started);
                let day = started.format("%-d %b %Y, %H:%M");
                self.output.say(&format!(
                    "Going on with the reading that began on {day} (UTC)."
                ));
                (
                    Rehash::ReadBefore(started),
                    Header {
                        id,
                        started,
                        ..header
                    },
                )
            }
        };
        let walk = walk(&self.root.path, self.leave_out);
        let mut plan = Plan::new(walk, known, &shared, rehash);
        let mut writer = journals
            .begin(&header, self.options.rehash)
            .map_err(journal_failed())?;
        let count = Count::default();
        let mut collect = Collect {
            run: self,
            writer: &mut writer,
            outcome: Outcome::default(),
            progress: Progress::new(self.output, None),
            count: &count,
            waiting: BTreeMap::new(),
            next: 0,
        };
        let driven = collect.drive(&mut plan, &shared);
        let (outcome, progress) = (collect.outcome, collect.progress);
        let expected = count.totals.get().copied();
        progress.clear();
        self.output.remarks(&outcome.remarks);
        driven?;
        if self.signals.stopped() {
            writer.keep(true).map_err(journal_failed())?;
            return Err(self.stopped(&outcome, expected));
        }
        // A drive that went away while only names were read looks like a drive that was emptied.
        if !self.root.is_there() {
            writer.keep(true).map_err(journal_failed())?;
            return Err(self.gone(&outcome));
        }
        let leftover = plan.finish();
        self.close(journals, writer, header, outcome, leftover)
            .map_err(journal_failed())
    }

    /// Ends the journal; where nothing differs from the last one, that one stays, with its identity.
    fn close(
        &self,
        journals: Journals,
        mut writer: journal::Writer,
        header: Header,
        mut outcome: Outcome,
        leftover: Leftover,
    ) -> std::io::Result<Scanned> {
        outcome.gone = leftover.gone;
        let volume = crate::volume::of(&self.root.path);
        let root = self.root.path.clone();
        let (totals, skipped_digest) = (outcome.totals(), outcome.skipped_digest());
        match (leftover.header, leftover.end) {
            (Some(before), Some(end))
                if outcome.is_unchanged()
                    && end == (totals, skipped_digest.clone())
                    && before.hashes == header.hashes =>
            {
                journals.discard(writer)?;
                Ok(Scanned {
                    journals,
                    header: before,
                    totals,
                    outcome,
                    volume,
                    root,
                })
            }
            _ => {
                writer.write(&Line::End {
                    totals,
                    skipped_digest,
                })?;
                journals.end(writer)?;
                Ok(Scanned {
                    journals,
                    header,
                    totals,
                    outcome,
                    volume,
                    root,
                })
            }
        }
    }

    fn stopped(&self, outcome: &Outcome, expected: Option<Totals>) -> Failure {
        let message = format!(
            "Stopped. {}{} recorded; the same command goes on from there.",
            count_text(outcome.totals().files, "file", "files"),
            expected.map_or_else(String::new, |all| format!(" of {}", grouped(all.files))),
        );
        Failure::new(Exit::Stopped, message)
    }

    fn gone(&self, outcome: &Outcome) -> Failure {
        let message = format!(
            "The drive \"{}\" at {} is not there any more. Recorded so far: {}, {}; connect it again and \
             give the same command.",
            self.options.drive,
            self.root.path.display(),
            count_text(outcome.totals().files, "file", "files"),
            bytes_text(outcome.totals().bytes),
        );
        Failure::new(Exit::Io, message)
    }
}

/// Hands out batches and brings the results into the journal in walk order.
struct Collect<'a, 'o> {
    run: &'a Run<'a>,
    writer: &'a mut journal::Writer,
    outcome: Outcome,
    progress: Progress<'o>,
    count: &'a Count,
    /// Results that came before an earlier batch's.
    waiting: BTreeMap<u64, Done>,
    next: u64,
}

impl Collect<'_, '_> {
    fn drive<W: Iterator<Item = Found>>(
        &mut self,
        plan: &mut Plan<'_, W>,
        shared: &Shared<'_>,
    ) -> Result<(), Failure> {
        let window = WINDOW * self.run.options.jobs;
        let (batches, to_do) = sync_channel(window);
        let (done, results) = sync_channel(window);
        let to_do = Mutex::new(to_do);
        let (run, count) = (self.run, self.count);
        thread::scope(|scope| {
            // owned here, so that an early return ends the workers
            let batches = batches;
            let results = results;
            for _ in 0..self.run.options.jobs {
                let (done, to_do) = (done.clone(), &to_do);
                scope.spawn(move || shared.work(to_do, &done));
            }
            drop(done);
            let (mut under_way, mut ended) = (0, false);
            loop {
                while !ended && under_way < window && !self.run.signals.stopped() {
                    match plan.next_batch() {
                        Some(batch) => {
                            batches
                                .send(batch)
                                .expect("workers live as long as this sender");
                            under_way += 1;
                        }
                        None => ended = true,
                    }
                }
                if under_way == 0 {
                    count.needless.store(true, Ordering::Relaxed);
                    return Ok(());
                }
                match results.recv_timeout(TICK) {
                    Ok(result) => {
                        under_way -= 1;
                        self.waiting.insert(result.number, result);
                        if let Err(failure) = self.take_in() {
                            // the workers stop at once, in the middle of a file too
                            self.run.signals.stop.store(true, Ordering::Relaxed);
                            return Err(failure);
                        }
                    }
                    Err(RecvTimeoutError::Timeout) => {}
                    Err(RecvTimeoutError::Disconnected) => return Ok(()),
                }
                if self.progress.is_due() && !count.begun.swap(true, Ordering::Relaxed) {
                    scope.spawn(move || count.walk(&run.root.path, run.leave_out, run.signals));
                }
                if let Some(totals) = count.totals.get() {
                    self.progress.expect(*totals);
                }
                self.progress.tick(self.outcome.totals(), run.signals);
            }
        })
    }

    /// Writes all results whose turn it is.
    fn take_in(&mut self) -> Result<(), Failure> {
        while let Some(done) = self.waiting.remove(&self.next) {
            self.next += 1;
            for (verdict, line) in done.lines {
                if is_failure(&line) && !self.run.root.is_there() {
                    self.progress.clear();
                    self.writer
                        .keep(true)
                        .map_err(Failure::writing("The journal of this scan"))?;
                    return Err(self.run.gone(&self.outcome));
                }
                self.outcome.add(verdict, &line, &self.progress);
                self.writer
                    .write(&line)
                    .map_err(Failure::writing("The journal of this scan"))?;
            }
        }
        self.writer
            .keep(false)
            .map_err(Failure::writing("The journal of this scan"))
    }
}
