//! Memory of a copy: a fixed number of buffers that go round. They begin at a multiple of [`ALIGN`], as reading and
//! writing past the page cache wants them.

use std::ops::Range;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

use crate::read::Signals;

/// What addresses, places in a file and lengths are multiples of when the page cache is passed by. No drive has
/// larger blocks towards the system.
pub const ALIGN: usize = 4096;
/// Bytes of one buffer.
pub const BUFFER: usize = 4 << 20;
/// Buffers on their way between the card and the destinations.
const BUFFERS: usize = 12;

/// Bytes whose first lies at a multiple of [`ALIGN`].
pub struct Aligned {
    bytes: Vec<u8>,
    start: usize,
    length: usize,
}

impl Aligned {
    pub fn new(length: usize) -> Self {
        let bytes = vec![0; length + ALIGN];
        let start = bytes.as_ptr().align_offset(ALIGN);
        Self {
            bytes,
            start,
            length,
        }
    }

    pub fn bytes(&self) -> &[u8] {
        &self.bytes[self.start..self.start + self.length]
    }

    pub fn bytes_mut(&mut self) -> &mut [u8] {
        &mut self.bytes[self.start..self.start + self.length]
    }
}

/// The buffers of a run.
pub struct Pool {
    free: Receiver<Aligned>,
    back: Sender<Aligned>,
}

impl Pool {
    pub fn new() -> Self {
        let (back, free) = channel();
        for _ in 0..BUFFERS {
            back.send(Aligned::new(BUFFER)).expect("held here");
        }
        Self { free, back }
    }

    /// Waits for a free buffer; `None` once the person has asked to stop.
    pub fn take(&self, signals: &Signals) -> Option<Lease> {
        loop {
            match self.free.recv_timeout(Duration::from_millis(100)) {
                Ok(buffer) => {
                    return Some(Lease {
                        buffer: Some(buffer),
                        back: self.back.clone(),
                    });
                }
                Err(RecvTimeoutError::Timeout) if !signals.stopped() => {}
                Err(_) => return None,
            }
        }
    }
}

/// A buffer that goes back to its pool when the last to use it lets go.
pub struct Lease {
    buffer: Option<Aligned>,
    back: Sender<Aligned>,
}

impl Lease {
    pub fn bytes(&self) -> &[u8] {
        self.buffer.as_ref().map_or(&[], Aligned::bytes)
    }

    pub fn bytes_mut(&mut self) -> &mut [u8] {
        self.buffer.as_mut().map_or(&mut [], Aligned::bytes_mut)
    }
}

impl Drop for Lease {
    fn drop(&mut self) {
        if let Some(buffer) = self.buffer.take() {
            // the run is over when nobody takes it
            let _ = self.back.send(buffer);
        }
    }
}

/// A filled buffer: a piece of a large file, or several small files.
pub struct Load {
    pub lease: Lease,
    pub parts: Vec<Part>,
}

/// A stretch of a file in a [`Load`].
pub struct Part {
    /// Place in the card's list of files.
    pub file: usize,
    /// Where in the file it begins.
    pub at: u64,
    /// Where in the buffer it lies; begins at a multiple of [`ALIGN`].
    pub range: Range<usize>,
    /// Set on the last part.
    pub end: Option<End>,
}

/// How the reading of a file on the card ended.
#[derive(Clone)]
pub enum End {
    /// To its end, and it held still; its xxh128.
    Whole(String),
    /// What came of it is of no use.
    Broken,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn buffers_begin_where_drives_want_them_and_come_back() {
        let pool = Pool::new();
        let signals = Signals::default();
        for _ in 0..3 * BUFFERS {
            let mut lease = pool.take(&signals).expect("one is free");
            assert_eq!(lease.bytes_mut().as_ptr().align_offset(ALIGN), 0);
            assert_eq!(lease.bytes().len(), BUFFER);
        }
    }
}
