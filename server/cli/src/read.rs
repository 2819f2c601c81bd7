//! Reading a file once for several hash types. Plain reads, never a memory map: a card that is pulled
//! out must be an error and not a crash. Memory is bounded by the buffers made at the start.

use std::fs::File;
use std::io::{self, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread;

use waybill_domain::hashes::{HashKind, Hashes};

use crate::hashing::Hasher;

/// Bytes of one buffer. A file that fits into one is hashed where it was read.
pub const BUFFER: usize = 4 << 20;
/// Bytes read at a time where hashing is done between reads. Measured on 2 GiB in the page cache: 0.29 s
/// of processor time with this, 0.34 s with 256 KiB, 0.43 s with 4 MiB and a second thread.
const PIECE: usize = 64 << 10;
/// Buffers on their way between the reader and the hashers.
const BUFFERS: usize = 4;

/// Why a file was not read to its end.
#[derive(Debug)]
pub enum ReadError {
    Io(io::Error),
    /// The person asked to stop.
    Stopped,
}

impl From<io::Error> for ReadError {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

/// What a run shares with its readers.
#[derive(Default)]
pub struct Signals {
    /// Set by Ctrl-C.
    pub stop: Arc<AtomicBool>,
    /// Bytes read so far, for the progress line.
    pub bytes: AtomicU64,
}

impl Signals {
    pub fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// A reader with its buffers; one per job.
pub struct FileReader<'a> {
    kinds: &'a [HashKind],
    signals: &'a Signals,
    buffers: Vec<Vec<u8>>,
}

impl<'a> FileReader<'a> {
    pub fn new(kinds: &'a [HashKind], signals: &'a Signals) -> Self {
        Self {
            kinds,
            signals,
            buffers: Vec::new(),
        }
    }

    /// The whole of a file that fits into one buffer; give it back with [`Self::hash_whole`].
    pub fn read_whole(&mut self, mut file: &File, len: usize) -> Result<Vec<u8>, ReadError> {
        let mut buffer = self.buffers.pop().unwrap_or_default();
        // a file that is said to be empty may still have content; one that grows is noticed by its new size
        buffer.resize(len.max(1), 0);
        let filled = fill(&mut file, &mut buffer)?;
        buffer.truncate(filled);
        self.signals
            .bytes
            .fetch_add(filled as u64, Ordering::Relaxed);
        Ok(buffer)
    }

    /// Digests of a buffer from [`Self::read_whole`].
    pub fn hash_whole(&mut self, buffer: Vec<u8>) -> Hashes {
        let digest = |kind: &HashKind| (*kind, crate::hashing::digest(*kind, &buffer));
        let hashes = self.kinds.iter().map(digest).collect();
        self.buffers.push(buffer);
        hashes
    }

    /// Reads a large file from its beginning. Gives the bytes read and the digests.
    pub fn hash_large(&mut self, file: &File) -> Result<(u64, Hashes), ReadError> {
        if self.kinds.iter().all(|kind| is_fast(*kind)) {
            return self.hash_here(file);
        }
        self.hash_beside(file)
    }

    /// Hash types as fast as memory: handing bytes to another core would cost more than it gains. Pieces
    /// are small, so that what was read is still in the core's cache when it is hashed.
    fn hash_here(&mut self, mut file: &File) -> Result<(u64, Hashes), ReadError> {
        let mut buffer = self.buffers.pop().unwrap_or_default();
        buffer.resize(PIECE, 0);
        let mut hashers: Vec<_> = self
            .kinds
            .iter()
            .map(|kind| (*kind, Hasher::new(*kind)))
            .collect();
        let mut total = 0;
        let result = loop {
            if self.signals.stopped() {
                break Err(ReadError::Stopped);
            }
            match fill(&mut file, &mut buffer) {
                Ok(0) => break Ok(()),
                Ok(length) => {
                    for (_, hasher) in &mut hashers {
                        hasher.update(&buffer[..length]);
                    }
                    total += length as u64;
                    self.signals
                        .bytes
                        .fetch_add(length as u64, Ordering::Relaxed);
                }
                Err(error) => break Err(error.into()),
            }
        };
        self.buffers.push(buffer);
        result?;
        Ok((
            total,
            hashers
                .into_iter()
                .map(|(kind, hasher)| (kind, hasher.finish()))
                .collect(),
        ))
    }

    /// One thread a hash type works beside the reading.
    fn hash_beside(&mut self, file: &File) -> Result<(u64, Hashes), ReadError> {
        while self.buffers.len() < BUFFERS {
            self.buffers.push(Vec::new());
        }
        for buffer in &mut self.buffers {
            buffer.resize(BUFFER, 0);
        }
        let (give_back, free) = channel();
        thread::scope(|scope| {
            let mut senders = Vec::new();
            let mut hashers = Vec::new();
            for kind in self.kinds {
                let (sender, receiver) = sync_channel(BUFFERS);
                let give_back = give_back.clone();
                hashers.push(scope.spawn(move || hash_buffers(*kind, &receiver, &give_back)));
                senders.push(sender);
            }
            drop(give_back);
            let read = self.feed(file, &senders, &free);
            drop(senders);
            let digests = hashers
                .into_iter()
                .map(|hasher| hasher.join().expect("a hasher never panics"));
            let hashes = self.kinds.iter().copied().zip(digests).collect();
            Ok((read?, hashes))
        })
    }

    fn feed(
        &mut self,
        mut file: &File,
        hashers: &[SyncSender<Filled>],
        free: &Receiver<Filled>,
    ) -> Result<u64, ReadError> {
        let mut total = 0;
        loop {
            if self.signals.stopped() {
                return Err(ReadError::Stopped);
            }
            let mut buffer = match self.buffers.pop() {
                Some(buffer) => buffer,
                None => next_free(free),
            };
            let length = match fill(&mut file, &mut buffer) {
                Ok(length) => length,
                Err(error) => {
                    self.buffers.push(buffer);
                    return Err(error.into());
                }
            };
            if length == 0 {
                self.buffers.push(buffer);
                return Ok(total);
            }
            total += length as u64;
            self.signals
                .bytes
                .fetch_add(length as u64, Ordering::Relaxed);
            let filled = Filled {
                buffer: Arc::new(buffer),
                length,
            };
            for hasher in hashers {
                hasher
                    .send(filled.clone())
                    .expect("a hasher waits until its sender is gone");
            }
        }
    }
}

/// Whether a type is about as fast as reading from memory (5 GB/s and more on one core).
pub fn is_fast(kind: HashKind) -> bool {
    matches!(kind, HashKind::Xxh128 | HashKind::Xxh3 | HashKind::Xxh64)
}

/// A buffer shared by the hashers; the last of them to give it back makes it free.
#[derive(Clone)]
struct Filled {
    buffer: Arc<Vec<u8>>,
    length: usize,
}

fn hash_buffers(kind: HashKind, filled: &Receiver<Filled>, give_back: &Sender<Filled>) -> String {
    let mut hasher = Hasher::new(kind);
    for part in filled {
        hasher.update(&part.buffer[..part.length]);
        // nobody waits for it once the file has been read
        let _ = give_back.send(part);
    }
    hasher.finish()
}

/// Waits for a buffer that no hasher holds any more. Every hasher sends its share back, so the share
/// that is received last is the only one left.
fn next_free(free: &Receiver<Filled>) -> Vec<u8> {
    loop {
        let part = free.recv().expect("hashers live as long as their senders");
        if let Ok(buffer) = Arc::try_unwrap(part.buffer) {
            return buffer;
        }
    }
}

/// Reads until the buffer is full or the file ends.
pub fn fill(file: &mut impl Read, buffer: &mut [u8]) -> io::Result<usize> {
    let mut filled = 0;
    while filled < buffer.len() {
        match file.read(&mut buffer[filled..]) {
            Ok(0) => break,
            Ok(count) => filled += count,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(filled)
}
