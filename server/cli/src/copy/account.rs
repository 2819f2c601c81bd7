//! The account of a copy while it is made: what was read of each file, where it stands verified, and every fault.

use std::io;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use waybill_domain::hashes::{HashKind, Hashes};

use super::card::Card;
use super::events::Event;
use super::journal::{Journal, SourceRead};
use super::medium::Way;
use crate::scan::now;

/// Something that keeps the copy from being whole.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fault {
    /// The destination's number, from 0; none for the card's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub destination: Option<usize>,
    /// The file, below the card's folder; none where it is about a whole destination.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub path: Option<String>,
    /// What happened.
    pub reason: String,
}

/// One copy of a file that stands verified.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Copied {
    pub at: DateTime<Utc>,
    pub way: Way,
}

/// What is known of one file of the card.
#[derive(Debug, Clone, Default)]
pub struct FileAccount {
    pub hashes: Hashes,
    /// The end of its reading on the card.
    pub read: Option<DateTime<Utc>>,
    /// By destination.
    pub copies: Vec<Option<Copied>>,
}

/// The account.
pub struct Account<'a> {
    pub card: &'a Card,
    kinds: &'a [HashKind],
    pub files: Vec<FileAccount>,
    pub faults: Vec<Fault>,
    /// By destination: given up.
    pub failed: Vec<bool>,
    pub journal: Journal,
    /// The first error of writing the journal; a copy does not end for it.
    pub journal_error: Option<io::Error>,
    /// Called for each fault as it comes.
    tell: &'a dyn Fn(&Fault),
}

impl<'a> Account<'a> {
    pub fn new(
        card: &'a Card,
        kinds: &'a [HashKind],
        destinations: usize,
        journal: Journal,
        tell: &'a dyn Fn(&Fault),
    ) -> Self {
        let file = FileAccount {
            copies: vec![None; destinations],
            ..FileAccount::default()
        };
        Self {
            card,
            kinds,
            files: vec![file; card.files.len()],
            faults: Vec::new(),
            failed: vec![false; destinations],
            journal,
            journal_error: None,
            tell,
        }
    }

    pub fn fault(&mut self, destination: Option<usize>, path: Option<&str>, reason: String) {
        let fault = Fault {
            destination,
            path: path.map(str::to_owned),
            reason,
        };
        (self.tell)(&fault);
        self.faults.push(fault);
    }

    /// Takes up a piece of news.
    pub fn take(&mut self, event: Event) {
        let card = self.card;
        let path = |file: usize| Some(card.files[file].path.as_str());
        match event {
            Event::Read { file, hashes } => self.hashed(file, hashes),
            Event::Hashed { file, kind, digest } => {
                self.hashed(file, Hashes::from([(kind, digest)]));
            }
            Event::Unread { file, reason } => self.fault(None, path(file), reason),
            Event::Verified {
                destination,
                file,
                at,
                way,
            } => self.files[file].copies[destination] = Some(Copied { at, way }),
            Event::Fault {
                destination,
                file,
                reason,
            } => self.fault(Some(destination), path(file), reason),
            Event::Failed {
                destination,
                reason,
            } => {
                self.failed[destination] = true;
                self.fault(Some(destination), None, reason);
            }
        }
    }

    /// Takes hashes of a file that was read; once all are there they are kept, and compared with an earlier reading.
    fn hashed(&mut self, file: usize, hashes: Hashes) {
        let listed = &self.card.files[file];
        let known = &mut self.files[file];
        known.hashes.extend(hashes);
        known.read.get_or_insert_with(now);
        if !self
            .kinds
            .iter()
            .all(|kind| known.hashes.contains_key(kind))
        {
            return;
        }
        let read = SourceRead {
            path: listed.path.clone(),
            size: listed.size,
            modified: listed.stamp.modified,
            touched: listed.stamp.touched,
            hashes: known.hashes.clone(),
            read: now(),
        };
        let before = self.journal.find(listed, &[HashKind::Xxh128]);
        let differs = before.is_some_and(|before| {
            before.hashes.get(&HashKind::Xxh128) != read.hashes.get(&HashKind::Xxh128)
        });
        if let Err(error) = self.journal.keep(&read) {
            self.journal_error.get_or_insert(error);
        }
        if differs {
            let reason = "the card gave another content than when it was read before, under the same size and \
                          date; the card or its reader is at fault"
                .to_owned();
            self.fault(None, Some(&listed.path), reason);
        }
    }

    /// Takes what an earlier run read of a file.
    pub fn recall(&mut self, file: usize) -> bool {
        let Some(read) = self.journal.find(&self.card.files[file], self.kinds) else {
            return false;
        };
        let known = &mut self.files[file];
        known.hashes = read.hashes.clone();
        known.read = Some(read.read);
        true
    }

    pub fn xxh128(&self, file: usize) -> Option<&str> {
        let hashes = &self.files[file].hashes;
        hashes.get(&HashKind::Xxh128).map(String::as_str)
    }

    /// Files and bytes that stand verified on a destination.
    pub fn verified(&self, destination: usize) -> (u64, u64) {
        let files = self.files.iter().zip(&self.card.files);
        let verified = files.filter(|(file, _)| file.copies[destination].is_some());
        verified.fold((0, 0), |(files, bytes), (_, listed)| {
            (files + 1, bytes + listed.size)
        })
    }

    /// Whether every file of the card stands verified on a destination.
    pub fn is_whole(&self, destination: usize) -> bool {
        let mut files = self.files.iter();
        files.all(|file| file.copies[destination].is_some())
    }
}
