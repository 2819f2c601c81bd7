//! The copy itself: one thread reads the card, one writes to each destination, one reads back from each.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel, sync_channel};
use std::thread;
use std::time::Duration;

use waybill_domain::hashes::HashKind;

use super::account::Account;
use super::buffers::{Load, Pool};
use super::destination::{Destination, RollFolder};
use super::events::Event;
use super::reading::{Reader, Taker, hash_beside};
use super::verifying::{BATCH, verify, verify_batch};
use super::writing::{Side, Written, write};
use crate::read::Signals;

/// Loads that may wait for a destination. The pool has fewer buffers, so that none is waited for in vain.
const WAITING: usize = 64;
/// How long to wait for news before the progress is shown again.
const TICK: Duration = Duration::from_millis(200);
/// Bytes written to a spinning disk before its head goes back to read them.
const TURN: u64 = 512 << 20;

/// A destination with what it is to take.
pub struct Target<'a> {
    pub number: usize,
    pub destination: &'a Destination,
    pub folder: &'a RollFolder,
    /// By place in the card's list.
    pub wanted: Vec<bool>,
}

/// Copies what the targets want. News is taken into the account as it comes.
pub fn copy(
    account: &mut Account<'_>,
    targets: &[Target<'_>],
    kinds: &[HashKind],
    signals: &Signals,
    tick: &dyn Fn(),
) {
    let card = account.card;
    let (quick, slow): (Vec<HashKind>, Vec<HashKind>) =
        kinds.iter().partition(|kind| crate::read::is_fast(**kind));
    let (events, news) = channel();
    thread::scope(|scope| {
        let mut takers = Vec::new();
        for target in targets {
            let (loads, to_write) = sync_channel(WAITING);
            takers.push(Taker {
                loads,
                wanted: &target.wanted,
                failed: &target.destination.progress.failed,
            });
            let side = Side::new(
                target.number,
                target.destination,
                target.folder,
                &card.files,
                signals,
                events.clone(),
            );
            scope.spawn(move || write_and_verify(&side, &target.wanted, &to_write));
        }
        let mut beside = Vec::new();
        for kind in slow {
            let (loads, to_hash) = sync_channel(WAITING);
            beside.push(loads);
            let events: Sender<Event> = events.clone();
            scope.spawn(move || hash_beside(kind, &to_hash, &events));
        }
        let reader = Reader {
            root: &card.root.path,
            files: &card.files,
            quick: &quick,
            pool: Pool::new(),
            signals,
            takers,
            beside,
            events,
        };
        scope.spawn(move || reader.run(0..card.files.len(), &|| card.root.is_there()));
        listen(account, &news, tick);
    });
}

fn listen(account: &mut Account<'_>, news: &Receiver<Event>, tick: &dyn Fn()) {
    loop {
        match news.recv_timeout(TICK) {
            Ok(event) => account.take(event),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
        tick();
    }
}

/// One destination. Its reading back goes on beside the writing, but on a spinning disk in turns with it.
fn write_and_verify(side: &Side<'_>, wanted: &[bool], loads: &Receiver<Arc<Load>>) {
    if side.destination.device.is_spinning() {
        return write_in_turns(side, wanted, loads);
    }
    let (onward, written) = sync_channel(2 * BATCH);
    thread::scope(|scope| {
        scope.spawn(move || verify(side, &written));
        write(side, wanted, loads, |written| {
            // the other side takes all until this one has ended
            let _ = onward.send(written);
        });
        drop(onward);
    });
}

fn write_in_turns(side: &Side<'_>, wanted: &[bool], loads: &Receiver<Arc<Load>>) {
    let (mut waiting, mut bytes): (Vec<Written>, u64) = (Vec::new(), 0);
    let mut buffers = Vec::new();
    write(side, wanted, loads, |written| {
        bytes += side.files[written.file].size;
        waiting.push(written);
        if bytes >= TURN || waiting.len() >= BATCH {
            verify_batch(side, std::mem::take(&mut waiting), &mut buffers);
            bytes = 0;
        }
    });
    if !waiting.is_empty() {
        verify_batch(side, waiting, &mut buffers);
    }
}
