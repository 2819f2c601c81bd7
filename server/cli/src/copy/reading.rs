//! The side that reads the card: each file once, hashed while it is read, in buffers that all destinations share.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender};

use waybill_domain::hashes::{HashKind, Hashes};

use super::buffers::{ALIGN, BUFFER, End, Lease, Load, Part, Pool};
use super::card::CardFile;
use super::events::Event;
use crate::hashing::Hasher;
use crate::read::{ReadError, Signals, fill};

/// Bytes read at a time, so that they are hashed while the core still has them at hand.
const PIECE: usize = 256 << 10;
/// Files up to this size go several to a buffer.
const SMALL: u64 = 1 << 20;

/// What reading needs.
pub struct Reader<'a> {
    pub root: &'a Path,
    pub files: &'a [CardFile],
    /// Types that are worked out while reading; xxh128 among them.
    pub quick: &'a [HashKind],
    pub pool: Pool,
    pub signals: &'a Signals,
    /// The destinations.
    pub takers: Vec<Taker<'a>>,
    /// The threads of the slower hashes, which take everything.
    pub beside: Vec<SyncSender<Arc<Load>>>,
    pub events: Sender<Event>,
}

/// A destination, as the reading sees it.
pub struct Taker<'a> {
    pub loads: SyncSender<Arc<Load>>,
    /// By place in the card's list.
    pub wanted: &'a [bool],
    /// It takes nothing more.
    pub failed: &'a AtomicBool,
}

impl Taker<'_> {
    fn wants(&self, file: usize) -> bool {
        self.wanted[file] && !self.failed.load(Ordering::Relaxed)
    }
}

/// A buffer that is being filled with small files.
struct Filling {
    lease: Lease,
    used: usize,
    parts: Vec<Part>,
}

/// Why an attempt at a file gave nothing.
enum Attempt {
    Stopped,
    Changed,
    Io(io::Error),
}

impl From<io::Error> for Attempt {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

impl Reader<'_> {
    /// Reads the files, in the order given. Ends early when the person asks to stop, or when `is_there` says that the
    /// card is gone.
    pub fn run(&self, files: impl Iterator<Item = usize>, is_there: &dyn Fn() -> bool) {
        let mut filling = None;
        for file in files {
            if !self.is_wanted(file) {
                continue;
            }
            let mut result = self.attempt(file, &mut filling);
            if matches!(result, Err(Attempt::Changed)) {
                result = self.attempt(file, &mut filling);
            }
            let reason = match result {
                Ok(()) => continue,
                Err(Attempt::Stopped) => return,
                Err(Attempt::Changed) => {
                    "it is not as it was listed, or changed each time it was read".to_owned()
                }
                Err(Attempt::Io(error)) => format!("it could not be read from the card: {error}"),
            };
            self.tell(Event::Unread { file, reason });
            if !is_there() {
                break;
            }
        }
        self.flush(&mut filling);
    }

    fn is_wanted(&self, file: usize) -> bool {
        self.takers.iter().any(|taker| taker.wants(file))
    }

    fn tell(&self, event: Event) {
        // nobody listens any more when the run has ended early
        let _ = self.events.send(event);
    }

    fn attempt(&self, file: usize, filling: &mut Option<Filling>) -> Result<(), Attempt> {
        let listed = &self.files[file];
        let mut source = File::open(listed.full(self.root))?;
        if !listed.is(&source.metadata()?) {
            return Err(Attempt::Changed);
        }
        match listed.size <= SMALL {
            true => self.small(file, &mut source, filling),
            false => {
                self.flush(filling);
                self.large(file, &mut source)
            }
        }
    }

    fn lease(&self) -> Result<Lease, Attempt> {
        self.pool.take(self.signals).ok_or(Attempt::Stopped)
    }

    /// A small file goes in behind others.
    fn small(
        &self,
        file: usize,
        source: &mut File,
        filling: &mut Option<Filling>,
    ) -> Result<(), Attempt> {
        let listed = &self.files[file];
        let size = usize::try_from(listed.size).map_err(io::Error::other)?;
        let room = filling.as_ref().map_or(0, |filling| BUFFER - filling.used);
        // one byte more, to notice a file that grows
        if room < size + 1 {
            self.flush(filling);
        }
        let into = match filling {
            Some(filling) => filling,
            None => filling.insert(Filling {
                lease: self.lease()?,
                used: 0,
                parts: Vec::new(),
            }),
        };
        if self.signals.stopped() {
            return Err(Attempt::Stopped);
        }
        let from = into.used;
        let bytes = &mut into.lease.bytes_mut()[from..=from + size];
        let length = fill(source, bytes)?;
        if length != size || !listed.is(&source.metadata()?) {
            return Err(Attempt::Changed);
        }
        let mut hashers = self.hashers();
        update(&mut hashers, &bytes[..size]);
        let (hashes, end) = finish(hashers);
        into.parts.push(Part {
            file,
            at: 0,
            range: from..from + size,
            end: Some(end),
        });
        into.used = (from + size).next_multiple_of(ALIGN).min(BUFFER);
        self.signals.bytes.fetch_add(listed.size, Ordering::Relaxed);
        self.tell(Event::Read { file, hashes });
        Ok(())
    }

    /// A large file goes out buffer by buffer. Whatever happens, its last part tells the takers how it ended.
    fn large(&self, file: usize, source: &mut File) -> Result<(), Attempt> {
        let mut hashers = self.hashers();
        let mut at = 0;
        let result = self.pieces(file, source, &mut hashers, &mut at);
        if result.is_err() {
            let lease = self.lease()?;
            let part = Part {
                file,
                at,
                range: 0..0,
                end: Some(End::Broken),
            };
            self.send(Load {
                lease,
                parts: vec![part],
            });
            // it will be read again, or not count
            self.signals.bytes.fetch_sub(at, Ordering::Relaxed);
        }
        result
    }

    fn pieces(
        &self,
        file: usize,
        source: &mut File,
        hashers: &mut Vec<(HashKind, Hasher)>,
        at: &mut u64,
    ) -> Result<(), Attempt> {
        let listed = &self.files[file];
        loop {
            let mut lease = self.lease()?;
            let mut length = 0;
            while length < BUFFER {
                if self.signals.stopped() {
                    return Err(Attempt::Stopped);
                }
                let piece = &mut lease.bytes_mut()[length..(length + PIECE).min(BUFFER)];
                let read = fill(source, piece)?;
                update(hashers, &piece[..read]);
                length += read;
                self.signals.bytes.fetch_add(read as u64, Ordering::Relaxed);
                if read == 0 {
                    break;
                }
            }
            let begin = *at;
            *at += length as u64;
            if !self.is_wanted(file) {
                return Err(Attempt::Stopped);
            }
            let is_last = length < BUFFER || *at >= listed.size;
            let end = match is_last {
                false => None,
                true => {
                    let grows = source.read(&mut [0])? > 0;
                    if grows || *at != listed.size || !listed.is(&source.metadata()?) {
                        return Err(Attempt::Changed);
                    }
                    let (hashes, end) = finish(std::mem::take(hashers));
                    self.tell(Event::Read { file, hashes });
                    Some(end)
                }
            };
            self.send(Load {
                lease,
                parts: vec![Part {
                    file,
                    at: begin,
                    range: 0..length,
                    end,
                }],
            });
            if is_last {
                return Ok(());
            }
        }
    }

    fn hashers(&self) -> Vec<(HashKind, Hasher)> {
        let kinds = self.quick.iter();
        kinds.map(|kind| (*kind, Hasher::new(*kind))).collect()
    }

    fn flush(&self, filling: &mut Option<Filling>) {
        if let Some(Filling { lease, parts, .. }) = filling.take() {
            self.send(Load { lease, parts });
        }
    }

    fn send(&self, load: Load) {
        let load = Arc::new(load);
        let wants = |taker: &&Taker<'_>| load.parts.iter().any(|part| taker.wants(part.file));
        let takers = self.takers.iter().filter(wants).map(|taker| &taker.loads);
        for loads in takers.chain(&self.beside) {
            // a taker lives as long as its sender; one that has failed takes and forgets
            let _ = loads.send(Arc::clone(&load));
        }
    }
}

fn update(hashers: &mut [(HashKind, Hasher)], bytes: &[u8]) {
    for (_, hasher) in hashers {
        hasher.update(bytes);
    }
}

fn finish(hashers: Vec<(HashKind, Hasher)>) -> (Hashes, End) {
    let hashes: Hashes = hashers
        .into_iter()
        .map(|(kind, hasher)| (kind, hasher.finish()))
        .collect();
    let end = End::Whole(hashes.get(&HashKind::Xxh128).cloned().unwrap_or_default());
    (hashes, end)
}

/// Works out one slower hash beside the reading.
pub fn hash_beside(kind: HashKind, loads: &Receiver<Arc<Load>>, events: &Sender<Event>) {
    let mut hasher = Hasher::new(kind);
    for load in loads {
        for part in &load.parts {
            if part.at == 0 {
                hasher = Hasher::new(kind);
            }
            hasher.update(&load.lease.bytes()[part.range.clone()]);
            if let Some(End::Whole(_)) = part.end {
                let digest = std::mem::replace(&mut hasher, Hasher::new(kind)).finish();
                let file = part.file;
                // nobody listens any more when the run has ended early
                let _ = events.send(Event::Hashed { file, kind, digest });
            }
        }
    }
}

/// Reads one file of the card for its hashes alone.
pub fn hash_only(
    root: &Path,
    listed: &CardFile,
    kinds: &[HashKind],
    signals: &Signals,
) -> Result<Option<Hashes>, ReadError> {
    let source = File::open(listed.full(root))?;
    let mut reader = crate::read::FileReader::new(kinds, signals);
    let (length, hashes) = reader.hash_large(&source)?;
    let still = length == listed.size && listed.is(&source.metadata()?);
    Ok(still.then_some(hashes))
}
