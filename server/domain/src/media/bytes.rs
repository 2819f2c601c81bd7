//! Reading untrusted bytes: a source that knows its length and never reads past it or too much at once,
//! and big- and little-endian numbers out of slices, `None` where the slice ends.

use std::io::{Read, Seek, SeekFrom};

use super::MediaError;

/// The most bytes read at once: tables of a very long variable-rate file.
const READ_LIMIT: u64 = 64 << 20;

/// The most reads for one file: a chain of tiny parts is not followed for ever.
const READS_LIMIT: u32 = 200_000;

/// A readable file and its length.
pub(super) struct Source<R> {
    reader: R,
    len: u64,
    reads: u32,
}

impl<R: Read + Seek> Source<R> {
    pub(super) fn new(reader: R, len: u64) -> Self {
        Self {
            reader,
            len,
            reads: 0,
        }
    }

    pub(super) fn len(&self) -> u64 {
        self.len
    }

    /// Exactly `count` bytes at `at`.
    pub(super) fn read(
        &mut self,
        what: &'static str,
        at: u64,
        count: u64,
    ) -> Result<Vec<u8>, MediaError> {
        let end = at.checked_add(count).filter(|end| *end <= self.len);
        end.ok_or(MediaError::Overrun { what, at })?;
        let size = usize::try_from(count).ok().filter(|_| count <= READ_LIMIT);
        let mut buffer = vec![0; size.ok_or(MediaError::Limit(what))?];
        self.reads = self.reads.saturating_add(1);
        if self.reads > READS_LIMIT {
            return Err(MediaError::Limit("the number of parts"));
        }
        self.reader.seek(SeekFrom::Start(at))?;
        self.reader.read_exact(&mut buffer)?;
        Ok(buffer)
    }

    /// As many as there are of `count` bytes at `at`.
    pub(super) fn read_up_to(&mut self, at: u64, count: u64) -> Result<Vec<u8>, MediaError> {
        self.read("the beginning", at, count.min(self.len.saturating_sub(at)))
    }
}

fn array<const N: usize>(bytes: &[u8], at: usize) -> Option<[u8; N]> {
    bytes.get(at..)?.first_chunk::<N>().copied()
}

macro_rules! numbers {
    ($($name:ident: $type:ty, $from:ident;)*) => {$(
        /// The number at byte `at`.
        pub(super) fn $name(bytes: &[u8], at: usize) -> Option<$type> {
            array(bytes, at).map(<$type>::$from)
        }
    )*};
}

numbers! {
    be_u16: u16, from_be_bytes;
    be_u32: u32, from_be_bytes;
    be_i32: i32, from_be_bytes;
    be_u64: u64, from_be_bytes;
    be_i64: i64, from_be_bytes;
    be_f64: f64, from_be_bytes;
    le_u16: u16, from_le_bytes;
    le_u32: u32, from_le_bytes;
    le_u64: u64, from_le_bytes;
}

/// Four characters, as formats name their parts.
pub(super) type FourCc = [u8; 4];

/// The name at byte `at`.
pub(super) fn four_cc(bytes: &[u8], at: usize) -> Option<FourCc> {
    array(bytes, at)
}

/// A part's name as text.
pub(super) fn four_cc_text(name: FourCc) -> String {
    name.iter()
        .map(|byte| char::from(*byte))
        .collect::<String>()
        .trim_end()
        .to_owned()
}

/// Text up to the first NUL, UTF-8 or else Windows-1252, without blanks at the end.
pub(super) fn text(bytes: &[u8]) -> String {
    let bytes = bytes.split(|byte| *byte == 0).next().unwrap_or_default();
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.into(),
        Err(_) => encoding_rs::WINDOWS_1252.decode(bytes).0,
    };
    text.trim_end().to_owned()
}

/// `text`, unless it is empty.
pub(super) fn some_text(text: String) -> Option<String> {
    (!text.trim().is_empty()).then_some(text)
}
