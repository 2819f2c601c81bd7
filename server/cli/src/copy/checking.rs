//! Files that are on a destination already, as an earlier run has left them. They are read, never trusted; and nothing
//! is written before all of them are known to be the card's.

use std::collections::BTreeSet;
use std::sync::mpsc::channel;
use std::thread;

use waybill_domain::hashes::HashKind;

use super::account::Account;
use super::destination::{Destination, RollFolder};
use super::events::Event;
use super::names::{chain_went_on, is_chain, taken};
use super::reading::hash_only;
use super::verifying::{BATCH, read_batch};
use super::writing::Side;
use crate::exit::Failure;
use crate::read::{ReadError, Signals};
use crate::scan::now;

/// Destinations with what they hold: folder, and places in the card's list.
pub type Held<'a> = (usize, &'a Destination, &'a RollFolder, &'a [usize]);

/// Compares what is there with the card.
///
/// # Errors
/// A file has other content than on the card: the name is taken.
pub fn check(
    account: &mut Account<'_>,
    held: &[Held<'_>],
    kinds: &[HashKind],
    signals: &Signals,
    tick: &dyn Fn(),
) -> Result<(), Failure> {
    let files: BTreeSet<usize> = held.iter().flat_map(|held| held.3).copied().collect();
    for file in files {
        if signals.stopped() {
            return Ok(());
        }
        know(account, file, kinds, signals);
        tick();
    }
    let known: Vec<Option<String>> = (0..account.files.len())
        .map(|file| account.xxh128(file).map(str::to_owned))
        .collect();
    let (events, news) = channel();
    let card = account.card;
    let taken = thread::scope(|scope| {
        let checks: Vec<_> = held
            .iter()
            .map(|(number, destination, folder, files)| {
                let side = Side::new(
                    *number,
                    destination,
                    folder,
                    &card.files,
                    signals,
                    events.clone(),
                );
                let (known, root) = (&known, &card.root.path);
                scope.spawn(move || check_one(&side, files, known, root))
            })
            .collect();
        drop(events);
        while checks.iter().any(|check| !check.is_finished()) {
            thread::sleep(std::time::Duration::from_millis(20));
            tick();
        }
        let checks = checks.into_iter();
        let mut refused = checks.filter_map(|check| check.join().expect("no check panics"));
        refused.next()
    });
    news.iter().for_each(|event| account.take(event));
    taken.map_or(Ok(()), Err)
}

/// Finds out what a file of the card holds: from the journal, or by reading it.
fn know(account: &mut Account<'_>, file: usize, kinds: &[HashKind], signals: &Signals) {
    if account.recall(file) {
        return;
    }
    let listed = &account.card.files[file];
    let event = match hash_only(&account.card.root.path, listed, kinds, signals) {
        Ok(Some(hashes)) => Event::Read { file, hashes },
        Ok(None) => {
            let reason = "it changed on the card while it was read".to_owned();
            Event::Unread { file, reason }
        }
        Err(ReadError::Io(error)) => {
            let reason = format!("it could not be read from the card: {error}");
            Event::Unread { file, reason }
        }
        Err(ReadError::Stopped) => return,
    };
    account.take(event);
}

/// Reads what one destination holds; gives the refusal when something is not the card's.
fn check_one(
    side: &Side<'_>,
    files: &[usize],
    known: &[Option<String>],
    card: &std::path::Path,
) -> Option<Failure> {
    let mut buffers = Vec::new();
    for batch in files.chunks(BATCH) {
        let names: Vec<String> = batch
            .iter()
            .map(|file| side.files[*file].path.clone())
            .collect();
        let results = read_batch(side, &names, &mut buffers);
        for (file, result) in batch.iter().copied().zip(results) {
            // a file that the card did not give is told already, and nothing can be said of its copy
            let Some(expected) = &known[file] else {
                continue;
            };
            let listed = &side.files[file];
            let way = match result {
                Ok(read) if read.size == listed.size && read.xxh128 == *expected => read.way,
                Ok(read)
                    if is_chain(&listed.path)
                        && chain_went_on(card, listed, &side.folder.path.join(&listed.path)) =>
                {
                    read.way
                }
                Ok(_) => {
                    let what = format!("{} in it has not the content of the card's", listed.path);
                    return Some(taken(&side.folder.path, &what));
                }
                Err(ReadError::Io(error)) => {
                    side.fault(file, "it is there and could not be read", &error);
                    continue;
                }
                Err(ReadError::Stopped) => return None,
            };
            side.tell(Event::Verified {
                destination: side.number,
                file,
                at: now(),
                way,
            });
        }
        if side.has_failed() {
            return None;
        }
    }
    None
}
