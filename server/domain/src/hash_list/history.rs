//! A history: its generations put together, so that for every path there is what it should be now.
//! Memory grows with the number of files, not with the number of generations.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use serde::Serialize;

use super::digest::Digest;
use super::ignore::Ignore;
use super::model::{About, Action, Doubt, FileRecord, FolderRecord, Head, Pair, Record};
use super::names::is_below;
use crate::hashes::HashKind;

/// A usable hash of a file: `original` or `verified` at some time [S 5.6.4].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownValue {
    /// Type and bytes.
    pub digest: Digest,
    /// The generation that recorded it first.
    pub generation: u32,
    /// False when it stands only in lists that were changed after they were entered in the chain.
    pub trusted: bool,
}

/// What a history knows of a file, under its latest path.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Known {
    /// Of the latest record that says it.
    pub size: Option<u64>,
    /// When its content was last changed, of the latest record that says it.
    pub modified: Option<DateTime<Utc>>,
    /// First record.
    pub first: u32,
    /// Latest record.
    pub last: u32,
    /// Each usable hash once.
    pub values: Vec<KnownValue>,
    /// Where it stood before the latest rename.
    pub previous: Option<Box<str>>,
    /// It was found by the run that compares.
    pub found: bool,
}

impl Known {
    /// The types in which there is a usable hash that can be trusted.
    pub fn kinds(&self) -> Vec<HashKind> {
        let trusted = self.values.iter().filter(|value| value.trusted);
        let mut kinds: Vec<HashKind> = trusted.map(|value| value.digest.kind()).collect();
        kinds.sort_unstable();
        kinds.dedup();
        kinds
    }
}

/// A generation's account of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Generation {
    /// Its number.
    pub sequence: u32,
    /// Its list's name.
    pub file: String,
    /// Who, when, how.
    #[serde(flatten)]
    pub head: Head,
    /// False when the list was changed after it was entered in the chain.
    pub trusted: bool,
    /// Records of files in it.
    pub files: u64,
}

/// Renames in one list: what the first reading of it has to find out before the second takes records.
#[derive(Debug, Default)]
pub struct Renamed {
    files: Vec<(String, String)>,
    folders: Vec<(String, String)>,
}

impl Renamed {
    /// Notes a record's `previousPath`, if it has one.
    pub fn note(&mut self, record: &Record) {
        let Some(previous) = record.previous() else {
            return;
        };
        let pair = (previous.to_owned(), record.path().to_owned());
        match record {
            Record::File(_) => self.files.push(pair),
            Record::Folder(_) => self.folders.push(pair),
        }
    }
}

/// Every folder above a path.
fn folders_above(path: &str) -> impl Iterator<Item = &str> {
    path.match_indices('/').map(|(at, _)| &path[..at])
}

/// A history, put together.
#[derive(Debug, Default)]
pub struct History {
    /// Files under their latest path.
    pub files: HashMap<Box<str>, Known>,
    /// Folders under their latest path, with the generation that recorded them last.
    pub folders: HashMap<Box<str>, u32>,
    /// In order.
    pub generations: Vec<Generation>,
    /// Patterns in force: those of every generation, since the set only grows [G 2.4].
    pub patterns: Vec<String>,
    /// Hash types that its files have.
    pub kinds: Vec<HashKind>,
    /// What is contradictory between or inside its lists.
    pub doubts: Vec<(u32, Doubt)>,
    trusted: bool,
}

impl History {
    /// Begins a generation: moves what it renamed, all at once, so that two files may change places.
    /// Its records follow by [`Self::take`].
    pub fn begin(
        &mut self,
        sequence: u32,
        file: &str,
        head: Head,
        trusted: bool,
        renamed: Renamed,
    ) {
        for pattern in &head.ignore {
            if !self.patterns.contains(pattern) {
                self.patterns.push(pattern.clone());
            }
        }
        self.generations.push(Generation {
            sequence,
            file: file.to_owned(),
            head,
            trusted,
            files: 0,
        });
        self.trusted = trusted;
        let mut moved: Vec<(Box<str>, Box<str>, Known)> = Vec::new();
        for (from, to) in renamed.files {
            if let Some(known) = self.files.remove(from.as_str()) {
                moved.push((from.into(), to.into(), known));
            }
        }
        let mut folders = renamed.folders;
        // the innermost first, so that a folder renamed inside a renamed one keeps its own new name
        folders.sort_by_key(|(from, _)| std::cmp::Reverse(from.len()));
        for (from, to) in folders {
            let below: Vec<Box<str>> = self
                .files
                .keys()
                .filter(|path| is_below(path, &from))
                .cloned()
                .collect();
            for path in below {
                let new = format!("{to}{}", &path[from.len()..]);
                if let Some(known) = self.files.remove(&path) {
                    moved.push((path, new.into(), known));
                }
            }
            self.folders
                .retain(|path, _| **path != *from && !is_below(path, &from));
        }
        self.forget_emptied(&moved);
        for (from, to, mut known) in moved {
            known.previous = Some(from);
            self.files.insert(to, known);
        }
    }

    /// Folders that nothing but renamed files lay in are not expected any more. One that is still there is
    /// recorded again by the same generation.
    fn forget_emptied(&mut self, moved: &[(Box<str>, Box<str>, Known)]) {
        if moved.is_empty() {
            return;
        }
        let mut emptied: HashSet<&str> = moved
            .iter()
            .flat_map(|(from, _, _)| folders_above(from))
            .collect();
        for path in self.files.keys() {
            for folder in folders_above(path) {
                emptied.remove(folder);
            }
        }
        self.folders.retain(|path, _| !emptied.contains(&**path));
    }

    /// Takes a record of the generation begun last.
    pub fn take(&mut self, record: Record) {
        let Some(generation) = self.generations.last_mut() else {
            return;
        };
        let sequence = generation.sequence;
        match record {
            Record::File(file) => {
                generation.files += 1;
                self.take_file(sequence, file);
            }
            Record::Folder(FolderRecord { path, .. }) => {
                if self.folders.insert(path.as_str().into(), sequence) == Some(sequence) {
                    self.doubt(sequence, path, About::Repeated, String::new());
                }
            }
        }
    }

    fn take_file(&mut self, sequence: u32, file: FileRecord) {
        let known = self.files.entry(file.path.as_str().into()).or_default();
        let repeated = known.last == sequence && known.first != 0;
        if known.first == 0 {
            known.first = sequence;
        }
        known.last = sequence;
        known.size = file.size.or(known.size);
        known.modified = file.modified.or(known.modified);
        let mut contradictions = Vec::new();
        for value in file.values {
            // an action is required of files; a list without any is taken as a first record
            if value.action == Some(Action::Failed) {
                continue;
            }
            let digest = value.digest;
            if !self.kinds.contains(&digest.kind()) {
                self.kinds.push(digest.kind());
            }
            let same = known.values.iter_mut().find(|value| value.digest == digest);
            if let Some(same) = same {
                same.trusted |= self.trusted;
                continue;
            }
            let other = known
                .values
                .iter()
                .find(|value| value.digest.kind() == digest.kind());
            if let Some(other) = other {
                contradictions.push(format!("{}: {}, {digest}", digest.kind(), other.digest));
            }
            known.values.push(KnownValue {
                digest,
                generation: sequence,
                trusted: self.trusted,
            });
        }
        known.values.shrink_to_fit();
        self.kinds.sort_unstable();
        for found in contradictions {
            self.doubt(sequence, file.path.clone(), About::Contradiction, found);
        }
        if repeated {
            self.doubt(sequence, file.path, About::Repeated, String::new());
        }
    }

    fn doubt(&mut self, sequence: u32, path: String, about: About, found: String) {
        let doubt = Doubt {
            path: Some(path),
            about,
            found,
        };
        self.doubts.push((sequence, doubt));
    }

    /// The pair of the described folder in the latest generation that has one.
    pub fn root(&self) -> Option<&Pair> {
        let latest = self.generations.iter().rev();
        { latest }.find_map(|generation| generation.head.root.as_ref())
    }

    /// Recorded files that were not found, in order of their paths; what is left out now is not missing.
    /// `part` limits the answer to what lies below a folder.
    pub fn missing(&self, ignore: &Ignore, part: Option<&str>) -> Vec<&str> {
        let wanted = |path: &str| part.is_none_or(|part| is_below(path, part));
        let missing = self
            .files
            .iter()
            .filter(|(path, known)| !known.found && wanted(path));
        let mut missing: Vec<&str> = missing.map(|(path, _)| &**path).collect();
        missing.retain(|path| !ignore.leaves_out_below(path, false));
        missing.sort_unstable();
        missing
    }
}
