//! Work on several threads, taken back in the order in which it was handed out, a bounded number at a time.

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::thread;
use std::time::Duration;

use crate::exit::Failure;
use crate::read::Signals;

/// Pieces of work that may be under way for each thread.
const WINDOW: usize = 32;
/// How long to wait for a result before the progress line is written again.
const TICK: Duration = Duration::from_millis(200);

/// What comes next.
pub enum Next<I, W> {
    /// Nothing to work on; keeps its place in the order.
    Ready(I),
    /// To be worked on, with what goes along on this side.
    Work(I, W),
}

/// Runs everything that `next` gives through `work` and hands it to `take` in order.
/// `tick` is called now and then. An error of `take` ends it.
pub fn run<I, W: Send, D: Send, S>(
    jobs: usize,
    signals: &Signals,
    mut next: impl FnMut() -> Option<Next<I, W>>,
    state: impl Fn() -> S + Sync,
    work: impl Fn(&mut S, W) -> D + Sync,
    mut take: impl FnMut(I, Option<D>) -> Result<(), Failure>,
    mut tick: impl FnMut(),
) -> Result<(), Failure> {
    let window = WINDOW * jobs;
    let (hand_out, to_do) = sync_channel::<(u64, W)>(window);
    let (done, results) = sync_channel::<(u64, D)>(window);
    let to_do = Mutex::new(to_do);
    thread::scope(|scope| {
        // owned here, so that an early return ends the workers
        let (hand_out, results) = (hand_out, results);
        for _ in 0..jobs {
            let (done, to_do, state, work) = (done.clone(), &to_do, &state, &work);
            scope.spawn(move || {
                let mut state = state();
                loop {
                    let piece = to_do.lock().expect("no worker panics").recv();
                    let Ok((number, piece)) = piece else { return };
                    if done.send((number, work(&mut state, piece))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(done);
        // items in order, each with its result once that is there
        let mut waiting: BTreeMap<u64, (I, Option<D>, bool)> = BTreeMap::new();
        let (mut first, mut number, mut under_way, mut ended) = (0, 0, 0, false);
        loop {
            while !ended && waiting.len() < window && !signals.stopped() {
                match next() {
                    None => ended = true,
                    Some(Next::Ready(item)) => {
                        waiting.insert(number, (item, None, true));
                        number += 1;
                    }
                    Some(Next::Work(item, piece)) => {
                        waiting.insert(number, (item, None, false));
                        hand_out
                            .send((number, piece))
                            .expect("workers live as long as this sender");
                        number += 1;
                        under_way += 1;
                    }
                }
            }
            while let Some(entry) = waiting.first_entry().filter(|entry| entry.get().2) {
                let (item, result, _) = entry.remove();
                first += 1;
                let taken = take(item, result);
                if taken.is_err() {
                    // the workers stop at once, in the middle of a file too
                    signals
                        .stop
                        .store(true, std::sync::atomic::Ordering::Relaxed);
                    return taken;
                }
            }
            debug_assert!(first <= number);
            tick();
            if under_way == 0 {
                match ended || signals.stopped() {
                    true => return Ok(()),
                    false => continue,
                }
            }
            match results.recv_timeout(TICK) {
                Ok((number, result)) => {
                    under_way -= 1;
                    if let Some(entry) = waiting.get_mut(&number) {
                        entry.1 = Some(result);
                        entry.2 = true;
                    }
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return Ok(()),
            }
        }
    })
}
