//! The generation that a copy adds at its destination: what was read back from the medium, recorded as a transfer.

use chrono::{DateTime, Utc};
use waybill_domain::hash_list::LIST_KINDS;
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::model::Process;
use waybill_domain::hash_list::report::Against;
use waybill_domain::hashes::{HashKind, Hashes};
use waybill_domain::manifest::Totals;

use super::history_run::{Options, run, seconds};
use super::reading::Already;
use super::telling::Teller;
use crate::args::Maker;
use crate::exit::Failure;
use crate::output::{Output, Progress};
use crate::read::Signals;
use crate::scan::Root;

/// A copied folder.
pub struct Transfer<'a> {
    pub root: &'a Root,
    pub kinds: &'a [HashKind],
    pub maker: &'a Maker,
    pub started: DateTime<Utc>,
    pub totals: Totals,
}

/// A file of it that was read back.
pub struct Read<'a> {
    /// Below the folder.
    pub path: &'a str,
    pub size: u64,
    pub hashes: &'a Hashes,
    pub at: DateTime<Utc>,
}

/// What came of it.
#[derive(Debug, Default)]
pub struct Recorded {
    /// Lists that were added, those of nested histories first.
    pub added: Vec<String>,
    /// Why one was not.
    pub not_added: Option<String>,
    /// Files that are not what an older generation of the history says, or that it misses.
    pub differences: u64,
}

/// Adds a generation to the history of a copied folder, or begins it. Files that are not among those read back are
/// read.
pub fn record_transfer<'a>(
    transfer: &Transfer<'_>,
    read: impl Iterator<Item = Read<'a>>,
    signals: &Signals,
    output: &Output,
) -> Result<Recorded, Failure> {
    let mut already = Already::default();
    for file in read {
        let digests = Digest::all(file.hashes).expect("own digests are well-formed");
        already.add(
            transfer.root.path.join(file.path),
            file.size,
            digests,
            file.at,
        );
    }
    let kinds = transfer
        .kinds
        .iter()
        .filter(|kind| LIST_KINDS.contains(kind));
    let options = Options {
        kinds: kinds.copied().collect(),
        ignore: Vec::new(),
        jobs: 1,
        record: true,
        accept_renames: false,
        create: true,
        people: super::people(transfer.maker),
        started: seconds(transfer.started),
        process: Process::Transfer,
        already,
    };
    let progress = Progress::new(output, Some(transfer.totals));
    let begin = super::begin(transfer.root, Against::History, None);
    let mut teller = Teller::new(output, progress, None, begin)?;
    teller.new_is_normal = true;
    // the journal of the copy goes on where a run was interrupted
    let judge = run(&options, transfer.root, signals, teller, None)?;
    judge.teller.progress.clear();
    let counts = judge.teller.counts;
    let mut recorded = Recorded {
        differences: counts.changed + counts.missing + counts.unreadable + counts.unproven,
        ..Recorded::default()
    };
    for finished in judge.finished {
        let committed = match finished.ready {
            Some(ready) => ready.commit().map_err(|error| error.to_string()),
            None => Err(finished.line.not_added.unwrap_or_default()),
        };
        match committed {
            Ok(name) => recorded.added.push(name),
            Err(reason) => recorded.not_added = Some(reason),
        }
    }
    Ok(recorded)
}
