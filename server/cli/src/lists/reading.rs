//! Reading one file for a list: all its hash types in one reading, and the check that it held still.

use std::collections::HashMap;
use std::fs::{File, Metadata};
use std::path::{Path, PathBuf};

use chrono::{DateTime, SubsecRound, Utc};
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hashes::{HashKind, Hashes};

use super::going_on::Reading;
use crate::hashing::Hasher;
use crate::read::{BUFFER, FileReader, ReadError, Signals};
use crate::scan::{now, stamp};

/// A file to be read.
pub struct ToRead {
    pub full: PathBuf,
    /// In listing order, without repetition.
    pub kinds: &'static [HashKind],
    /// What an interrupted run has read.
    pub known: Option<Reading>,
}

/// What reading gave.
pub enum Outcome {
    Read {
        size: u64,
        modified: DateTime<Utc>,
        digests: Vec<Digest>,
        /// The end of the reading.
        at: DateTime<Utc>,
        /// Last change of the content, exactly, and of the file's own record.
        stamp: (DateTime<Utc>, i64),
    },
    /// Not to the end, or it changed each time.
    Failed(String),
    /// The person asked to stop.
    Stopped,
}

/// Files that this run has read from their medium already.
#[derive(Default)]
pub struct Already(HashMap<PathBuf, Known>);

struct Known {
    size: u64,
    digests: Vec<Digest>,
    at: DateTime<Utc>,
}

impl Already {
    /// Takes a file; its digests in listing order of their types.
    pub fn add(&mut self, full: PathBuf, size: u64, digests: Vec<Digest>, at: DateTime<Utc>) {
        let at = at.trunc_subsecs(0);
        self.0.insert(full, Known { size, digests, at });
    }

    /// What reading a file would give, where that is known in all types and the file was not written to since.
    fn find(&self, full: &Path, kinds: &[HashKind]) -> Option<Outcome> {
        let known = self.0.get(full)?;
        let of_kind = |kind: &HashKind| known.digests.iter().find(|digest| digest.kind() == *kind);
        let digests = kinds.iter().map(|kind| of_kind(kind).cloned());
        let digests = digests.collect::<Option<Vec<_>>>()?;
        let metadata = std::fs::metadata(full).ok()?;
        let changed = chrono::DateTime::from_timestamp_nanos(stamp(&metadata).1);
        // the date of a file's record is set when it gets its name, a moment before it counts as verified
        let is_same = metadata.len() == known.size && changed.trunc_subsecs(0) <= known.at;
        is_same.then(|| Outcome::Read {
            size: known.size,
            modified: stamp(&metadata).0.trunc_subsecs(0),
            digests,
            at: known.at,
            stamp: stamp(&metadata),
        })
    }
}

/// The readers of one thread, one for each set of types.
pub struct Readers<'a> {
    signals: &'a Signals,
    already: Option<&'a Already>,
    readers: HashMap<&'static [HashKind], FileReader<'a>>,
}

impl<'a> Readers<'a> {
    pub fn new(signals: &'a Signals) -> Self {
        Self {
            signals,
            already: None,
            readers: HashMap::new(),
        }
    }

    /// Takes the word of this very run for files that it has read already.
    pub fn knowing(self, already: &'a Already) -> Self {
        Self {
            already: Some(already),
            ..self
        }
    }

    /// Reads a file, a second time if it changed meanwhile.
    pub fn read(&mut self, file: &ToRead) -> Outcome {
        let known = self.already;
        if let Some(read) = known.and_then(|already| already.find(&file.full, file.kinds)) {
            return read;
        }
        for _ in 0..2 {
            if self.signals.stopped() {
                return Outcome::Stopped;
            }
            match self.attempt(file) {
                Ok(Some(read)) => return read,
                Ok(None) => {}
                Err(ReadError::Stopped) => return Outcome::Stopped,
                Err(ReadError::Io(error)) => return Outcome::Failed(error.to_string()),
            }
        }
        Outcome::Failed("it kept changing while it was read".to_owned())
    }

    fn attempt(&mut self, wanted: &ToRead) -> Result<Option<Outcome>, ReadError> {
        let signals = self.signals;
        let reader = self
            .readers
            .entry(wanted.kinds)
            .or_insert_with(|| FileReader::new(wanted.kinds, signals));
        let file = File::open(&wanted.full)?;
        let before = file.metadata()?;
        let size = before.len();
        if let Some(known) = wanted
            .known
            .as_ref()
            .and_then(|known| known.of(&before, wanted.kinds))
        {
            return Ok(Some(known));
        }
        let (read, hashes) = match size <= BUFFER as u64 {
            true => {
                let bytes = reader.read_whole(&file, size as usize)?;
                (bytes.len() as u64, reader.hash_whole(bytes))
            }
            false => reader.hash_large(&file)?,
        };
        let after = file.metadata()?;
        if read != size || after.len() != size || stamp(&after) != stamp(&before) {
            return Ok(None);
        }
        let at = now().trunc_subsecs(0);
        Ok(Some(outcome(size, stamp(&after), &hashes, at)))
    }
}

impl Reading {
    /// What was read, if the file is still the same and all its types were worked out.
    fn of(&self, now: &Metadata, kinds: &[HashKind]) -> Option<Outcome> {
        let is_same = now.len() == self.size && stamp(now) == self.stamp;
        let are_there = kinds.iter().all(|kind| self.hashes.contains_key(kind));
        let mut hashes = self.hashes.clone();
        hashes.retain(|kind, _| kinds.contains(kind));
        (is_same && are_there).then(|| outcome(self.size, self.stamp, &hashes, self.at))
    }
}

fn outcome(size: u64, stamp: (DateTime<Utc>, i64), hashes: &Hashes, at: DateTime<Utc>) -> Outcome {
    Outcome::Read {
        size,
        modified: stamp.0.trunc_subsecs(0),
        digests: digests(hashes),
        at,
        stamp,
    }
}

fn digests(hashes: &Hashes) -> Vec<Digest> {
    Digest::all(hashes).expect("own digests are well-formed")
}

/// The digest over parts that follow one another, for what the domain computes.
pub fn hash_parts(kind: HashKind, parts: &[&[u8]]) -> Digest {
    let mut hasher = Hasher::new(kind);
    for part in parts {
        hasher.update(part);
    }
    Digest::from_text(kind, &hasher.finish()).expect("own digests are well-formed")
}

/// Sets of types, each kept once for the whole run, so that files can point at theirs.
#[derive(Default)]
pub struct KindSets(Vec<&'static [HashKind]>);

impl KindSets {
    /// The set with these types. There are at most 2^8, and few in practice: they stay to the end.
    pub fn get(&mut self, kinds: impl IntoIterator<Item = HashKind>) -> &'static [HashKind] {
        let mut kinds: Vec<HashKind> = kinds.into_iter().collect();
        kinds.sort_unstable();
        kinds.dedup();
        if let Some(known) = self.0.iter().find(|known| ***known == *kinds) {
            return known;
        }
        let kept: &'static [HashKind] = Vec::leak(kinds);
        self.0.push(kept);
        kept
    }
}

/// Which types to work out for a file: those asked for, and where none of them is recorded also the quickest
/// that is, so that there is a comparison; all that are recorded when none is asked for.
pub fn wanted_kinds(
    recorded: &[HashKind],
    asked: &[HashKind],
    otherwise: &[HashKind],
) -> Vec<HashKind> {
    const QUICK_FIRST: [HashKind; 8] = [
        HashKind::Xxh3,
        HashKind::Xxh128,
        HashKind::Xxh64,
        HashKind::Sha1,
        HashKind::Sha256,
        HashKind::Sha512,
        HashKind::C4,
        HashKind::Md5,
    ];
    if asked.is_empty() {
        return match recorded {
            [] => otherwise.to_vec(),
            recorded => recorded.to_vec(),
        };
    }
    let mut kinds = asked.to_vec();
    if !recorded.is_empty() && !recorded.iter().any(|kind| asked.contains(kind)) {
        kinds.extend(QUICK_FIRST.into_iter().find(|kind| recorded.contains(kind)));
    }
    kinds
}
