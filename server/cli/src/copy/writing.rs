//! The side that writes: one thread a destination. Each file is written under a name of its own in the folder where it
//! will stand, and goes on to be verified when it is whole.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, Sender};

use rustix::io::Errno;

use super::buffers::{End, Load, Part};
use super::card::CardFile;
use super::destination::{Destination, RollFolder, part_name};
use super::events::{Event, file_time};
use super::medium::PartFile;
use crate::read::Signals;

/// Faults after which a destination is not tried any longer.
const FAULTS: u32 = 8;

/// What the two sides of a destination share.
pub struct Side<'a> {
    /// Its place among the destinations.
    pub number: usize,
    pub destination: &'a Destination,
    pub folder: &'a RollFolder,
    pub files: &'a [CardFile],
    pub signals: &'a Signals,
    pub events: Sender<Event>,
    faults: AtomicU32,
}

/// A file that was written to its end.
pub struct Written {
    pub file: usize,
    pub xxh128: String,
}

impl<'a> Side<'a> {
    pub fn new(
        number: usize,
        destination: &'a Destination,
        folder: &'a RollFolder,
        files: &'a [CardFile],
        signals: &'a Signals,
        events: Sender<Event>,
    ) -> Self {
        Self {
            number,
            destination,
            folder,
            files,
            signals,
            events,
            faults: AtomicU32::new(0),
        }
    }

    pub fn has_failed(&self) -> bool {
        self.destination.progress.failed.load(Ordering::Relaxed)
    }

    pub fn tell(&self, event: Event) {
        // nobody listens any more when the run has ended early
        let _ = self.events.send(event);
    }

    /// Says that a copy came to nothing, and gives the destination up where the next would fare no better.
    pub fn fault(&self, file: usize, what: &str, error: &io::Error) {
        if self.has_failed() {
            return;
        }
        let is_there = self.destination.root.is_there();
        let faults = self.faults.fetch_add(1, Ordering::Relaxed) + 1;
        let reason = format!("{what}: {error}");
        let destination = self.number;
        if is_there && !is_final(error) {
            self.tell(Event::Fault {
                destination,
                file,
                reason: reason.clone(),
            });
        }
        let given_up = match (is_there, is_final(error), faults >= FAULTS) {
            (false, ..) => "it is not there any more".to_owned(),
            (_, true, _) => format!("{}: {reason}", self.files[file].path),
            (_, _, true) => "too many of its files could not be written or read back".to_owned(),
            _ => return,
        };
        self.give_up(given_up);
    }

    pub fn give_up(&self, reason: String) {
        if !self
            .destination
            .progress
            .failed
            .swap(true, Ordering::Relaxed)
        {
            let destination = self.number;
            self.tell(Event::Failed {
                destination,
                reason,
            });
        }
    }

    /// Takes away what was begun, as far as that is possible.
    pub fn discard(&self, file: usize) {
        // what stays has no file's name, and the next run takes it away
        let _ = self.folder.remove(&part_name(&self.files[file].path));
    }
}

/// Whether an error is the destination's and not the file's.
fn is_final(error: &io::Error) -> bool {
    matches!(
        Errno::from_io_error(error),
        Some(
            Errno::NOSPC
                | Errno::DQUOT
                | Errno::ROFS
                | Errno::NODEV
                | Errno::NXIO
                | Errno::STALE
                | Errno::NOENT
                | Errno::NOTCONN
                | Errno::ACCESS
                | Errno::PERM
        )
    )
}

/// The file under way.
struct Open {
    file: usize,
    part: PartFile,
}

/// Writes what comes until no more does.
pub fn write(
    side: &Side<'_>,
    wanted: &[bool],
    loads: &Receiver<Arc<Load>>,
    mut onward: impl FnMut(Written),
) {
    let mut open: Option<Open> = None;
    for load in loads {
        for part in load.parts.iter().filter(|part| wanted[part.file]) {
            if side.has_failed() || side.signals.stopped() {
                break;
            }
            let bytes = &load.lease.bytes()[part.range.clone()];
            match write_part(side, &mut open, part, bytes) {
                Ok(Some(written)) => {
                    // the room it took among the buffers is free before the next wait
                    onward(written);
                }
                Ok(None) => {}
                Err(error) => {
                    open = None;
                    side.discard(part.file);
                    side.fault(part.file, "it could not be written", &error);
                }
            }
        }
    }
    if let Some(open) = open {
        side.discard(open.file);
    }
}

/// One stretch. A file that has failed is passed over until the next begins.
fn write_part(
    side: &Side<'_>,
    open: &mut Option<Open>,
    part: &Part,
    bytes: &[u8],
) -> io::Result<Option<Written>> {
    let file = &side.files[part.file];
    if part.at == 0 && !matches!(part.end, Some(End::Broken)) {
        let name = part_name(&file.path);
        *open = Some(Open {
            file: part.file,
            part: PartFile::create(side.folder, &name, file.size)?,
        });
    }
    let Some(current) = open.as_mut().filter(|open| open.file == part.file) else {
        return Ok(None);
    };
    if !bytes.is_empty() {
        current.part.write(bytes, part.at)?;
        let progress = &side.destination.progress;
        progress
            .written
            .fetch_add(bytes.len() as u64, Ordering::Relaxed);
    }
    match (&part.end, open.take()) {
        (None, still) => {
            *open = still;
            Ok(None)
        }
        (Some(End::Whole(xxh128)), Some(whole)) => {
            whole.part.finish(file_time(file.stamp.modified))?;
            Ok(Some(Written {
                file: part.file,
                xxh128: xxh128.clone(),
            }))
        }
        (Some(End::Broken), _) => {
            side.discard(part.file);
            Ok(None)
        }
        (Some(End::Whole(_)), None) => Ok(None),
    }
}
