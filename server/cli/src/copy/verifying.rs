//! The side that reads back: what was written is forced onto the medium, read from it, compared, and only then given
//! its name. Many small files are forced out together.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::Receiver;
use std::thread;
use std::time::{Duration, Instant};

use super::buffers::{Aligned, BUFFER};
use super::destination::{parent, part_name};
use super::events::Event;
use super::medium::{ReadBack, Way, read_back, sync_all_files, sync_file};
use super::writing::{Side, Written};
use crate::output::{count_text, grouped};
use crate::read::ReadError;
use crate::scan::now;

/// Most files that are forced out and read back together. Forcing out costs a file system about as much for one small
/// file as for thousands.
pub const BATCH: usize = 4096;
/// Bytes after which a batch is large enough, so that reading back goes on beside the writing.
const BATCH_BYTES: u64 = 64 << 20;
/// How long a batch waits for more.
const GATHERING: Duration = Duration::from_millis(100);
/// From so many files on, the whole file system is forced out once instead of each file.
const TOGETHER: usize = 8;
/// Files of a batch that are read back at the same time: a small one is waited for, not worked on.
const LANES: usize = 8;

/// Verifies what comes until no more does.
pub fn verify(side: &Side<'_>, written: &Receiver<Written>) {
    let mut buffers = Vec::new();
    while let Ok(first) = written.recv() {
        let batch = gather(side, first, written);
        verify_batch(side, batch, &mut buffers);
    }
}

fn gather(side: &Side<'_>, first: Written, written: &Receiver<Written>) -> Vec<Written> {
    let until = Instant::now() + GATHERING;
    let mut bytes = side.files[first.file].size;
    let mut batch = vec![first];
    while batch.len() < BATCH && bytes < BATCH_BYTES {
        let wait = until.saturating_duration_since(Instant::now());
        // too late, or no more will come
        let Ok(next) = written.recv_timeout(wait) else {
            break;
        };
        bytes += side.files[next.file].size;
        batch.push(next);
    }
    batch
}

/// Forces files onto the medium, reads them back, and names those that are right.
pub fn verify_batch(side: &Side<'_>, batch: Vec<Written>, buffers: &mut Vec<Aligned>) {
    if side.has_failed() || side.signals.stopped() {
        return batch.iter().for_each(|written| side.discard(written.file));
    }
    let batch = force_out(side, batch);
    let name_of = |written: &Written| part_name(&side.files[written.file].path);
    let names: Vec<String> = batch.iter().map(name_of).collect();
    let results = read_batch(side, &names, buffers);
    let mut named = Vec::new();
    for (written, result) in batch.iter().zip(results) {
        match result {
            Ok(read) => {
                if let Some(way) = name(side, written, &read) {
                    named.push((written.file, way));
                }
            }
            Err(ReadError::Stopped) => side.discard(written.file),
            Err(ReadError::Io(error)) => {
                side.discard(written.file);
                side.fault(written.file, "it could not be read back", &error);
            }
        }
    }
    settle(side, &named);
}

/// Forces a batch onto the medium; gives what of it is there.
fn force_out(side: &Side<'_>, mut batch: Vec<Written>) -> Vec<Written> {
    // an error of the whole is some file's: asked one by one, it says whose
    if batch.len() >= TOGETHER && sync_all_files(side.folder).unwrap_or(false) {
        return batch;
    }
    batch.retain(|written| {
        let forced = sync_file(side.folder, &part_name(&side.files[written.file].path));
        if let Err(error) = &forced {
            side.discard(written.file);
            side.fault(
                written.file,
                "it could not be forced onto the medium",
                error,
            );
        }
        forced.is_ok()
    });
    batch
}

/// Reads files back, several at a time where there are many.
pub fn read_batch(
    side: &Side<'_>,
    names: &[String],
    buffers: &mut Vec<Aligned>,
) -> Vec<Result<ReadBack, ReadError>> {
    let lanes = if names.len() >= TOGETHER { LANES } else { 1 };
    while buffers.len() < lanes {
        buffers.push(Aligned::new(BUFFER));
    }
    let next = AtomicUsize::new(0);
    let results: Vec<Mutex<Option<Result<ReadBack, ReadError>>>> =
        names.iter().map(|_| Mutex::new(None)).collect();
    let lane = |buffer: &mut Aligned| {
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let Some(name) = names.get(place) else {
                return;
            };
            let read = read_counted(side, name, buffer);
            *results[place].lock().expect("no lane panics") = Some(read);
        }
    };
    match &mut buffers[..lanes] {
        [only] => lane(only),
        several => thread::scope(|scope| {
            for buffer in several {
                scope.spawn(|| lane(buffer));
            }
        }),
    }
    let results = results.into_iter();
    results
        .map(|result| {
            let result = result.into_inner().expect("no lane panics");
            result.unwrap_or(Err(ReadError::Stopped))
        })
        .collect()
}

/// Reads back a file of the destination, with the progress counted.
fn read_counted(side: &Side<'_>, name: &str, buffer: &mut Aligned) -> Result<ReadBack, ReadError> {
    let verified = &side.destination.progress.verified;
    let tell = |bytes| {
        verified.fetch_add(bytes, Ordering::Relaxed);
    };
    read_back(side.folder, name, buffer, side.signals, &tell)
}

/// Compares what was read back, and gives the file its name when it is right.
fn name(side: &Side<'_>, written: &Written, read: &ReadBack) -> Option<Way> {
    let file = &side.files[written.file];
    if read.size != file.size || read.xxh128 != written.xxh128 {
        side.discard(written.file);
        let found = match read.size == file.size {
            true => "another content of the same size".to_owned(),
            false => format!(
                "{} instead of {}",
                count_text(read.size, "byte", "bytes"),
                grouped(file.size)
            ),
        };
        let error = io::Error::other(format!("{found} was read back"));
        side.fault(written.file, "the copy is not what the card holds", &error);
        return None;
    }
    match side.folder.rename_new(&part_name(&file.path), &file.path) {
        Ok(()) => Some(read.way),
        Err(error) => {
            side.discard(written.file);
            side.fault(
                written.file,
                "it could not be given its name, which something else has taken meanwhile or the drive refuses",
                &error,
            );
            None
        }
    }
}

/// Forces the new names onto the medium; what was renamed counts only then.
fn settle(side: &Side<'_>, named: &[(usize, Way)]) {
    let folder_of = |file: usize| parent(&side.files[file].path);
    let folders: BTreeSet<&str> = named.iter().map(|(file, _)| folder_of(*file)).collect();
    let forced: BTreeMap<&str, io::Result<()>> = folders
        .into_iter()
        .map(|folder| (folder, side.folder.sync_folder(folder)))
        .collect();
    let at = now();
    for (file, way) in named {
        match &forced[folder_of(*file)] {
            Ok(()) => side.tell(Event::Verified {
                destination: side.number,
                file: *file,
                at,
                way: *way,
            }),
            Err(error) => side.fault(*file, "its name could not be forced onto the medium", error),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::os::unix::fs::FileExt;
    use std::sync::mpsc::channel;

    use waybill_domain::hashes::HashKind;

    use super::*;
    use crate::copy::card::Card;
    use crate::copy::destination::Destination;
    use crate::copy::events::file_time;
    use crate::copy::medium::PartFile;
    use crate::read::Signals;

    /// Writes each file of a card, lets `between` at what was written, and verifies.
    fn written_and_verified(size: usize, between: impl Fn(&std::path::Path)) -> (Vec<Event>, bool) {
        let scratch = tempfile::tempdir().expect("a temporary folder");
        let (from, to) = (scratch.path().join("card"), scratch.path().join("drive"));
        fs::create_dir(&from).expect("a folder");
        fs::create_dir(&to).expect("a folder");
        let bytes: Vec<u8> = (0..size).map(|place| (place * 31 % 251) as u8).collect();
        fs::write(from.join("a"), &bytes).expect("room");
        let card = Card::list(&from).expect("a card");
        let destination = Destination::open(&to, None).expect("a folder");
        let folder = destination.enter("R").expect("a new folder");
        let signals = Signals::default();
        let (events, news) = channel();
        let side = Side::new(0, &destination, &folder, &card.files, &signals, events);
        let name = part_name("a");
        let mut part = PartFile::create(&folder, &name, size as u64).expect("room");
        let mut aligned = Aligned::new(BUFFER);
        aligned.bytes_mut()[..size].copy_from_slice(&bytes);
        part.write(&aligned.bytes()[..size], 0).expect("room");
        part.finish(file_time(card.files[0].stamp.modified))
            .expect("a date");
        between(&folder.path.join(&name));
        let written = Written {
            file: 0,
            xxh128: crate::hashing::digest(HashKind::Xxh128, &bytes),
        };
        verify_batch(&side, vec![written], &mut Vec::new());
        let has_name = folder.path.join("a").exists();
        assert!(
            !folder.path.join(&name).exists(),
            "nothing is left under way"
        );
        drop(side);
        (news.iter().collect(), has_name)
    }

    fn flip(path: &std::path::Path) {
        let file = fs::File::options()
            .read(true)
            .write(true)
            .open(path)
            .expect("there");
        let mut byte = [0];
        file.read_exact_at(&mut byte, 77).expect("long enough");
        file.write_all_at(&[byte[0] ^ 1], 77).expect("room");
    }

    #[test]
    fn what_was_not_disturbed_gets_its_name() {
        for size in [0, 100, 4_096, (2 << 20) + 5, BUFFER] {
            let (events, has_name) = written_and_verified(size, |_| {});
            assert!(matches!(events[..], [Event::Verified { .. }]), "{size}");
            assert!(has_name);
        }
    }

    #[test]
    fn a_bit_that_flips_between_writing_and_reading_back_is_found() {
        for size in [100, 4_096, (2 << 20) + 5] {
            let (events, has_name) = written_and_verified(size, flip);
            let [Event::Fault { reason, .. }] = &events[..] else {
                panic!("{size}: {} events", events.len());
            };
            assert!(
                reason.contains("another content of the same size"),
                "{reason}"
            );
            assert!(!has_name);
        }
    }

    #[test]
    fn a_copy_that_lost_its_end_is_found() {
        let cut = |path: &std::path::Path| {
            let file = fs::File::options().write(true).open(path).expect("there");
            file.set_len(4_096).expect("shorter");
        };
        let (events, has_name) = written_and_verified((2 << 20) + 5, cut);
        assert!(
            matches!(&events[..], [Event::Fault { reason, .. }] if reason.contains("4,096 bytes instead"))
        );
        assert!(!has_name);
    }
}
