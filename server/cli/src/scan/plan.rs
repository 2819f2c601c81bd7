//! What a run has to read: the walk beside what earlier runs know, both in the same order.

use std::iter::Peekable;

use chrono::{DateTime, Utc};
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::{Header, Totals};

use super::journal::{Line, Reader, Record};
use super::work::{Batch, Item, Shared, is_untouched};
use crate::walk::{Found, FoundFile};

/// Most items in a batch, and most bytes to read before a batch is closed.
const BATCH_ITEMS: usize = 64;
const BATCH_BYTES: u64 = 16 << 20;

/// Makes batches out of a walk.
pub struct Plan<'a, W: Iterator<Item = Found>> {
    walk: Peekable<W>,
    known: Known,
    shared: &'a Shared<'a>,
    rehash: Rehash,
    next: u64,
}

/// Which untouched files are read all the same.
#[derive(Debug, Clone, Copy)]
pub enum Rehash {
    None,
    All,
    /// An interrupted run of this kind goes on: what it has read is not read again.
    ReadBefore(DateTime<Utc>),
}

impl<'a, W: Iterator<Item = Found>> Plan<'a, W> {
    pub fn new(walk: W, known: Option<Reader>, shared: &'a Shared<'a>, rehash: Rehash) -> Self {
        Self {
            walk: walk.peekable(),
            known: Known::new(known),
            shared,
            rehash,
            next: 0,
        }
    }

    /// The next items of the walk; `None` at its end.
    pub fn next_batch(&mut self) -> Option<Batch> {
        let (mut items, mut bytes) = (Vec::new(), 0);
        while items.len() < BATCH_ITEMS && bytes < BATCH_BYTES {
            // a large file stands alone, so that those before it are recorded without it
            let next = self
                .walk
                .next_if(|found| items.is_empty() || !is_large(found));
            match next {
                None => break,
                Some(Found::Skipped(skipped)) => items.push(Item::Ready(Line::Skipped(skipped))),
                Some(Found::File(found)) => {
                    let known = self.known.take(&found.path);
                    let item = self.item(found, known);
                    if let Item::Read(found, _) = &item {
                        bytes += found.metadata.len();
                    }
                    items.push(item);
                }
            }
        }
        if items.is_empty() {
            return None;
        }
        self.next += 1;
        Some(Batch {
            number: self.next - 1,
            items,
        })
    }

    fn item(&self, found: FoundFile, known: Option<Box<Record>>) -> Item {
        let kinds: &[HashKind] = self.shared.kinds;
        let again = |record: &Record| match self.rehash {
            Rehash::None => false,
            Rehash::All => true,
            Rehash::ReadBefore(began) => record.file.read < began,
        };
        match known {
            Some(record) if !again(&record) && is_untouched(&record, &found, kinds) => {
                let same_roll = record.file.roll == self.shared.roll(&found.path);
                // a changed pattern of the series makes the record another one
                if same_roll {
                    Item::Ready(Line::File(record))
                } else {
                    Item::Read(found, Some(record))
                }
            }
            known => Item::Read(found, known),
        }
    }

    /// What is left of earlier knowledge once the walk has ended.
    pub fn finish(mut self) -> Leftover {
        while self.known.advance().is_some() {
            self.known.gone += 1;
        }
        Leftover {
            gone: self.known.gone,
            header: self.known.header,
            end: self.known.end,
        }
    }
}

fn is_large(found: &Found) -> bool {
    matches!(found, Found::File(file) if file.metadata.len() > BATCH_BYTES)
}

/// What earlier runs knew beyond the files that were found again.
pub struct Leftover {
    /// Files that are not there any more.
    pub gone: u64,
    pub header: Option<Header>,
    /// Of a run that reached its end.
    pub end: Option<(Totals, String)>,
}

/// The records of earlier runs, taken in order.
struct Known {
    header: Option<Header>,
    lines: Option<Reader>,
    ahead: Option<Box<Record>>,
    gone: u64,
    end: Option<(Totals, String)>,
}

impl Known {
    fn new(reader: Option<Reader>) -> Self {
        let header = reader
            .as_ref()
            .and_then(|reader| Some(reader.begin.as_ref()?.header.clone()));
        Self {
            header,
            lines: reader,
            ahead: None,
            gone: 0,
            end: None,
        }
    }

    fn advance(&mut self) -> Option<Box<Record>> {
        if let Some(ahead) = self.ahead.take() {
            return Some(ahead);
        }
        for line in self.lines.as_mut()? {
            match line {
                Line::File(record) => return Some(record),
                Line::End {
                    totals,
                    skipped_digest,
                } => self.end = Some((totals, skipped_digest)),
                Line::Begin(_) | Line::Skipped(_) => {}
            }
        }
        None
    }

    /// The record of a path. Paths must be asked for in order; those between are gone.
    fn take(&mut self, path: &[String]) -> Option<Box<Record>> {
        loop {
            let record = self.advance()?;
            match record.file.path.as_slice().cmp(path) {
                std::cmp::Ordering::Less => self.gone += 1,
                std::cmp::Ordering::Equal => return Some(record),
                std::cmp::Ordering::Greater => {
                    self.ahead = Some(record);
                    return None;
                }
            }
        }
    }
}
