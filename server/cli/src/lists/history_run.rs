//! Verifying a folder against the histories in it, and adding a generation to each. One side walks
//! ([`super::walking`]); this one takes results in walk order and judges them.

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;

use chrono::{DateTime, Utc};
use waybill_domain::hash_list::compare::{Judgement, judge, next_values};
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::folder::{FolderBuilder, FolderHashes};
use waybill_domain::hash_list::history::Known;
use waybill_domain::hash_list::model::{
    Author, FileRecord, FolderRecord, Pair, Process, Record, Value,
};
use waybill_domain::hash_list::names::{forbidden, last_part};
use waybill_domain::hash_list::report::{HistoryLine, Verdict, texts};
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::SkipReason;

use super::generation::{Draft, Ready};
use super::going_on::Readings;
use super::load::{Loaded, has_history};
use super::ordered::{self, Next};
use super::reading::{Already, Outcome, Readers, ToRead, hash_parts};
use super::scope::{Held, Open, Scope, Seat};
use super::telling::{Teller, shown_bytes};
use super::tree::Place;
use super::walking::{Item, Walk};
use crate::exit::{Exit, Failure};
use crate::read::Signals;
use crate::scan::{Root, stamp};

/// What a run is asked to do; all checked.
pub struct Options {
    pub kinds: Vec<HashKind>,
    pub ignore: Vec<String>,
    pub jobs: usize,
    /// Add generations.
    pub record: bool,
    /// Record renames that were found by content.
    pub accept_renames: bool,
    /// Make a first generation.
    pub create: bool,
    pub people: People,
    pub started: DateTime<Utc>,
    /// How the files came to lie here, for the list.
    pub process: Process,
    /// What this run has read already.
    pub already: Already,
}

/// Who and where, as the list says it.
#[derive(Debug, Clone, Default)]
pub struct People {
    pub authors: Vec<Author>,
    pub location: Option<String>,
    pub comment: Option<String>,
}

/// A history whose folder was read to its end.
pub struct Finished {
    pub line: HistoryLine,
    pub ready: Option<Ready>,
}

/// The nearest folder above that has a history, and the part of it that `root` is.
pub fn history_above(root: &Path) -> Option<(PathBuf, String)> {
    let above = root
        .ancestors()
        .skip(1)
        .find(|folder| has_history(folder))?;
    let part = root.strip_prefix(above).ok()?.to_str()?;
    Some((above.to_owned(), part.to_owned()))
}

/// A folder that is being read.
struct Frame {
    path: String,
    modified: Option<DateTime<Utc>>,
    builder: FolderBuilder,
    opens_scope: bool,
}

/// The side that judges.
pub struct Judge<'a, 't> {
    options: &'a Options,
    root: &'a Root,
    pub teller: Teller<'t>,
    open: Vec<Open>,
    frames: Vec<Frame>,
    pub finished: Vec<Finished>,
    files: u64,
    bytes: u64,
}

/// Walks and judges everything. Nothing is added to a history yet.
pub fn run<'a, 't>(
    options: &'a Options,
    root: &'a Root,
    signals: &Signals,
    teller: Teller<'t>,
    readings: Option<&RefCell<Readings>>,
) -> Result<Judge<'a, 't>, Failure> {
    let above = match has_history(&root.path) || options.create {
        true => None,
        false => history_above(&root.path),
    };
    let above = above.map(|(folder, part)| {
        let loaded = Loaded::read(&folder, options.record);
        Rc::new(Scope::new(
            loaded,
            Seat::Above(part),
            &options.kinds,
            &options.ignore,
        ))
    });
    let mut walk = Walk::new(&root.path, options, above);
    let judge = RefCell::new(Judge {
        options,
        root,
        teller,
        open: Vec::new(),
        frames: Vec::new(),
        finished: Vec::new(),
        files: 0,
        bytes: 0,
    });
    ordered::run(
        options.jobs,
        signals,
        || {
            let mut next = walk.next();
            if let (Some(Next::Work(Item::File(place), to_read)), Some(readings)) =
                (&mut next, readings)
            {
                to_read.known = readings.borrow_mut().known(&place.path);
            }
            next
        },
        || Readers::new(signals).knowing(&options.already),
        |readers, file: ToRead| readers.read(&file),
        |item, outcome| {
            if let (Item::File(place), Some(readings)) = (&item, readings) {
                readings.borrow_mut().note(&place.path, outcome.as_ref())?;
            }
            judge.borrow_mut().take(item, outcome)
        },
        || {
            let judge = judge.borrow();
            let mut totals = waybill_domain::manifest::Totals::default();
            (totals.files, totals.bytes) = (judge.files, judge.bytes);
            judge.teller.progress.tick(totals, signals);
            if let Some(readings) = readings {
                readings.borrow_mut().tick();
            }
        },
    )?;
    if signals.stopped() {
        let message = "Stopped. Nothing was added to any history; give the same command again.";
        return Err(Failure::new(Exit::Stopped, message));
    }
    let mut judge = judge.into_inner();
    judge.teller.counts.left_out = walk.left_out;
    Ok(judge)
}

impl Judge<'_, '_> {
    fn take(&mut self, item: Item, outcome: Option<Outcome>) -> Result<(), Failure> {
        match item {
            Item::Enter(place, scope) => self.enter(&place, scope),
            Item::Leave => self.leave(),
            Item::Loose(place) => {
                let size = place.metadata.as_ref().map_or(0, std::fs::Metadata::len);
                let hashes = texts(&[]);
                self.teller
                    .file(shown_path(&place), Verdict::New { size, hashes })
            }
            Item::Odd(place, reason, detail) => self.odd(&place, reason, detail),
            Item::File(place) => match outcome {
                Some(Outcome::Read {
                    size,
                    modified,
                    digests,
                    at,
                    ..
                }) => {
                    self.files += 1;
                    self.bytes += size;
                    self.read(&place, size, modified, &digests, at)
                }
                Some(Outcome::Failed(reason)) => self.unreadable(&place, reason),
                Some(Outcome::Stopped) | None => Ok(()),
            },
        }
    }

    fn enter(&mut self, place: &Place, scope: Option<Rc<Scope>>) -> Result<(), Failure> {
        let opens_scope = scope.is_some();
        if let Some(scope) = scope {
            for fault in scope.loaded.faults.clone() {
                self.teller.chain_fault(&scope.name(), fault)?;
            }
            let (draft, not_added) = self.draft(&scope);
            self.open.push(Open {
                scope,
                draft,
                not_added,
                held: Vec::new(),
                references: Vec::new(),
                instead: std::collections::HashMap::new(),
                unlistable: Vec::new(),
            });
        }
        let path = place.text().unwrap_or_default().to_owned();
        for open in &self.open {
            let mut history = open.scope.loaded.history.borrow_mut();
            history.folders.remove(open.scope.relative(&path).as_str());
        }
        let kinds = self.open.last().map_or(&[][..], |open| &open.scope.kinds);
        let mut builder = FolderBuilder::new(kinds);
        if place.text().is_none_or(|path| forbidden(path).is_some()) {
            builder.spoil();
        }
        self.frames.push(Frame {
            path,
            modified: place
                .metadata
                .as_ref()
                .map(|metadata| seconds(stamp(metadata).0)),
            builder,
            opens_scope,
        });
        Ok(())
    }

    fn draft(&self, scope: &Scope) -> (Option<Draft>, Option<String>) {
        if !self.options.record {
            return (None, None);
        }
        if scope.loaded.is_faulty() {
            let reason = "its lists are at fault, and nothing is built on them";
            return (None, Some(reason.to_owned()));
        }
        match Draft::open(&scope.loaded.scope) {
            Ok(draft) => (Some(draft), None),
            Err(error) => (None, Some(error.to_string())),
        }
    }

    fn odd(&mut self, place: &Place, reason: SkipReason, detail: String) -> Result<(), Failure> {
        if reason.is_failure() {
            if let (Some(path), None, Some(open)) =
                (place.text(), &place.metadata, self.open.last_mut())
            {
                let path = open.scope.relative(path);
                open.unlistable.push((path, detail.clone()));
            }
            return self.unreadable(place, detail);
        }
        self.teller.counts.passed_over += 1;
        if let (Some(path), Some(open)) = (place.text(), self.open.last_mut()) {
            let path = open.scope.relative(path);
            open.instead.insert(path, detail);
        }
        Ok(())
    }

    fn unreadable(&mut self, place: &Place, reason: String) -> Result<(), Failure> {
        if !self.root.is_there() {
            let message = format!(
                "The drive at {} is not there any more. Nothing was added to its history; connect it again \
                 and give the same command.",
                self.root.path.display()
            );
            return Err(Failure::new(Exit::Io, message));
        }
        if let Some(frame) = self.frames.last_mut() {
            frame.builder.spoil();
        }
        if let Some(path) = place.text() {
            self.known(path);
        }
        self.teller
            .file(shown_path(place), Verdict::Unreadable { reason })
    }

    /// What all histories around a file know of it, which is marked as found.
    fn known(&self, path: &str) -> Option<Known> {
        let mut all: Option<Known> = None;
        for open in self
            .open
            .iter()
            .rev()
            .filter(|open| open.scope.covers(path))
        {
            let mut history = open.scope.loaded.history.borrow_mut();
            let Some(known) = history.files.get_mut(open.scope.relative(path).as_str()) else {
                continue;
            };
            known.found = true;
            match &mut all {
                None => all = Some(known.clone()),
                Some(all) => all.values.extend(known.values.iter().cloned()),
            }
        }
        all
    }

    fn read(
        &mut self,
        place: &Place,
        size: u64,
        modified: DateTime<Utc>,
        digests: &[Digest],
        at: DateTime<Utc>,
    ) -> Result<(), Failure> {
        let path = place.text().unwrap_or_default();
        if let Some(frame) = self.frames.last_mut() {
            frame
                .builder
                .add_file(last_part(path), digests, &hash_parts);
        }
        let known = self.known(path);
        let judgement = judge(known.as_ref(), size, digests);
        let values = next_values(&judgement, digests, at);
        let recorded_size = known.as_ref().and_then(|known| known.size);
        let verdict = match judgement {
            Judgement::New => None,
            Judgement::Verified => Some(Verdict::Verified {
                size,
                hashes: texts(digests),
                at,
                recorded_size: recorded_size.filter(|recorded| *recorded != size),
            }),
            Judgement::Changed {
                mismatches,
                agreeing,
            } => Some(Verdict::Changed {
                size,
                recorded_size,
                mismatches,
                agreeing,
                at,
            }),
            Judgement::Unproven(reason) => Some(Verdict::Unproven { reason }),
        };
        let since = known.as_ref().map(|known| known.first);
        let Some(open) = self.open.last_mut() else {
            return Ok(());
        };
        let path = open.scope.relative(path);
        let may_be_renamed = !open.scope.loaded.history.borrow().files.is_empty()
            && match &verdict {
                None => true,
                Some(Verdict::Verified { .. }) => {
                    self.options.accept_renames && since.is_some_and(|since| since > 1)
                }
                Some(_) => false,
            };
        if may_be_renamed {
            open.held.push(Held {
                path,
                size,
                modified,
                digests: digests.to_vec(),
                at,
                since,
            });
        } else {
            add(open, file_record(path, size, modified, values, None))?;
        }
        match verdict {
            Some(verdict) => self.teller.file(shown_path(place), verdict),
            None if may_be_renamed => Ok(()),
            None => {
                let hashes = texts(digests);
                self.teller
                    .file(shown_path(place), Verdict::New { size, hashes })
            }
        }
    }

    fn leave(&mut self) -> Result<(), Failure> {
        let Some(frame) = self.frames.pop() else {
            return Ok(());
        };
        let hashes = frame.builder.finish(&hash_parts);
        if frame.opens_scope
            && let Some(open) = self.open.pop()
        {
            if let (Some(part), true) = (open.scope.part(), self.frames.is_empty()) {
                let part = part.to_owned();
                let mut open = open;
                add_folder(&mut open, part, frame.modified, &hashes)?;
                return self.end_scope(open, None);
            }
            self.end_scope(open, Some(&hashes))?;
        }
        let Some(parent) = self.frames.last_mut() else {
            return Ok(());
        };
        match hashes.content.is_empty() {
            true => parent.builder.spoil(),
            false => parent
                .builder
                .add_folder(last_part(&frame.path), &hashes, &hash_parts),
        }
        if let Some(open) = self.open.last_mut() {
            let path = open.scope.relative(&frame.path);
            add_folder(open, path, frame.modified, &hashes)?;
        }
        Ok(())
    }

    /// A history's folder was read to its end: what is missing, what was renamed, and the list itself.
    fn end_scope(&mut self, mut open: Open, root: Option<&FolderHashes>) -> Result<(), Failure> {
        super::ending::settle(self.options, &mut self.teller, &mut open)?;
        let finished = super::ending::finish(self.options, open, root, self.open.last_mut());
        self.finished.push(finished);
        Ok(())
    }
}

/// Adds a record to the generation that is made, if one is.
pub fn add(open: &mut Open, record: Option<Record>) -> Result<(), Failure> {
    let (Some(draft), Some(record)) = (&mut open.draft, record) else {
        return Ok(());
    };
    if let Err(error) = draft.add(&record) {
        // the answer about the files is still worth having
        open.draft = None;
        open.not_added = Some(error.to_string());
    }
    Ok(())
}

fn add_folder(
    open: &mut Open,
    path: String,
    modified: Option<DateTime<Utc>>,
    hashes: &FolderHashes,
) -> Result<(), Failure> {
    if hashes.content.is_empty() || forbidden(&path).is_some() {
        return Ok(());
    }
    let record = Record::Folder(FolderRecord {
        path,
        created: None,
        modified,
        pair: pair(hashes, seconds(crate::scan::now())),
        previous: None,
    });
    add(open, Some(record))
}

/// A file's record; none without a hash.
pub fn file_record(
    path: String,
    size: u64,
    modified: DateTime<Utc>,
    values: Vec<Value>,
    previous: Option<String>,
) -> Option<Record> {
    let record = FileRecord {
        path,
        size: Some(size),
        created: None,
        modified: Some(modified),
        values,
        previous,
    };
    (!record.values.is_empty()).then_some(Record::File(record))
}

/// A folder's hashes as a list writes them: with a date, without an action.
pub fn pair(hashes: &FolderHashes, date: DateTime<Utc>) -> Pair {
    let values = |digests: &[Digest]| {
        let value = |digest: &Digest| Value {
            digest: digest.clone(),
            action: None,
            date: Some(date),
        };
        digests.iter().map(value).collect()
    };
    Pair {
        content: values(&hashes.content),
        structure: values(&hashes.structure),
    }
}

pub fn seconds(date: DateTime<Utc>) -> DateTime<Utc> {
    chrono::SubsecRound::trunc_subsecs(date, 0)
}

/// A path as a person reads it.
pub fn shown_path(place: &Place) -> String {
    shown_bytes(&place.path)
}
