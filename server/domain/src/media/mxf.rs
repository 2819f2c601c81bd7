//! MXF (SMPTE ST 377-1): the partitions' header metadata as sets with links between them, and what the
//! material package says. Essence and index tables are never read.

mod facts;

use std::collections::HashMap;
use std::io::{Read, Seek};

use super::MediaError;
use super::bytes::{Source, be_i32, be_i64, be_u16, be_u32, be_u64};

/// First 13 bytes of every partition pack's key.
pub(super) const PARTITION: [u8; 13] = [
    0x06, 0x0e, 0x2b, 0x34, 0x02, 0x05, 0x01, 0x01, 0x0d, 0x01, 0x02, 0x01, 0x01,
];
/// First 13 bytes of the key of a structural metadata set with two-byte tags.
const SET: [u8; 13] = [
    0x06, 0x0e, 0x2b, 0x34, 0x02, 0x53, 0x01, 0x01, 0x0d, 0x01, 0x01, 0x01, 0x01,
];
/// How far into a file the first partition may begin (ST 377-1, run-in).
const RUN_IN: u64 = 65_536;
/// Sets and partitions of one file, and bytes of one set, beyond which it is refused.
const SETS_LIMIT: usize = 20_000;
const SET_BYTES: u64 = 1 << 20;
const METADATA_BYTES: u64 = 64 << 20;

/// Reference to a set, or identity of a package's half.
type Uid = [u8; 16];

/// A metadata set: its class (byte 14 of the key) and its values by local tag.
struct Set {
    class: u8,
    values: HashMap<u16, Vec<u8>>,
}

/// All metadata sets of the better of the file's partitions.
pub(super) struct Metadata {
    sets: HashMap<Uid, Set>,
    /// Order in the file, for the choice of the first of a class.
    order: Vec<Uid>,
    /// The metadata was read from an unfinished header because there is no other.
    unfinished: bool,
}

struct Partition {
    /// Where header metadata begins.
    metadata_at: u64,
    metadata_bytes: u64,
    footer_at: u64,
    /// Status byte: 1 and 3 are open, 3 and 4 are complete.
    status: u8,
}

/// Where the first partition begins, looked for in the run-in.
pub(super) fn start<R: Read + Seek>(source: &mut Source<R>) -> Result<Option<u64>, MediaError> {
    let head = source.read_up_to(0, RUN_IN.saturating_add(16))?;
    let at = head
        .windows(PARTITION.len())
        .position(|window| window == PARTITION);
    Ok(at.and_then(|at| u64::try_from(at).ok()))
}

/// Reads the header metadata; the footer's where the header is not finished.
pub(super) fn read<R: Read + Seek>(source: &mut Source<R>) -> Result<Metadata, MediaError> {
    let run_in = start(source)?.ok_or(MediaError::Missing("the header partition"))?;
    let header = partition(source, run_in)?;
    let first = metadata(source, &header)?;
    if matches!(header.status, 4) && first.has_duration() {
        return Ok(first);
    }
    // A footer that cannot be read leaves the header as the only source.
    let footer = footer(source, run_in, &header).ok().flatten();
    match footer.and_then(|footer| metadata(source, &footer).ok()) {
        Some(last) if last.material().is_some() => Ok(last),
        _ => Ok(Metadata {
            unfinished: !matches!(header.status, 3 | 4),
            ..first
        }),
    }
}

/// The footer partition, by the header's word or by the random index pack at the end of the file.
fn footer<R: Read + Seek>(
    source: &mut Source<R>,
    run_in: u64,
    header: &Partition,
) -> Result<Option<Partition>, MediaError> {
    let mut at = header.footer_at;
    if at == 0 {
        let Some(end) = source.len().checked_sub(4) else {
            return Ok(None);
        };
        let length = be_u32(&source.read("the index of partitions", end, 4)?, 0).unwrap_or(0);
        let Some(pack_at) = source.len().checked_sub(length.into()) else {
            return Ok(None);
        };
        let pack = source.read_up_to(pack_at, SET_BYTES)?;
        if !(pack.starts_with(&PARTITION) && pack.get(13) == Some(&0x11)) {
            return Ok(None);
        }
        // The last entry's offset stands before the pack's own length.
        let last = pack.len().checked_sub(12).and_then(|at| be_u64(&pack, at));
        let Some(last) = last else { return Ok(None) };
        at = last;
    }
    match run_in.checked_add(at) {
        Some(at) if at != run_in => partition(source, at).map(Some),
        _ => Ok(None),
    }
}

/// Key, length and value's place of one KLV triplet.
struct Triplet {
    key: [u8; 16],
    value_at: u64,
    length: u64,
}

fn triplet<R: Read + Seek>(source: &mut Source<R>, at: u64) -> Result<Triplet, MediaError> {
    let overrun = MediaError::Overrun {
        what: "a KLV triplet",
        at,
    };
    let head = source.read_up_to(at, 25)?;
    let (Some(key), Some(first)) = (head.first_chunk::<16>(), head.get(16)) else {
        return Err(overrun);
    };
    // BER: below 128 the length itself, else the number of bytes that hold it.
    let (length_bytes, length) = match first {
        0..=0x7f => (0_u64, u64::from(*first)),
        _ => {
            let count = usize::from(*first & 0x7f);
            let bytes = head
                .get(17..)
                .and_then(|rest| rest.get(..count))
                .filter(|_| count <= 8);
            let bytes = bytes.ok_or(MediaError::Overrun {
                what: "a KLV length",
                at,
            })?;
            let length = bytes
                .iter()
                .fold(0_u64, |sum, byte| (sum << 8) | u64::from(*byte));
            (u64::try_from(count).unwrap_or(0), length)
        }
    };
    let value_at = at
        .checked_add(17)
        .and_then(|at| at.checked_add(length_bytes));
    let fits = value_at
        .and_then(|at| at.checked_add(length))
        .is_some_and(|end| end <= source.len());
    match (value_at, fits) {
        (Some(value_at), true) => Ok(Triplet {
            key: *key,
            value_at,
            length,
        }),
        _ => Err(overrun),
    }
}

fn partition<R: Read + Seek>(source: &mut Source<R>, at: u64) -> Result<Partition, MediaError> {
    let pack = triplet(source, at)?;
    if !pack.key.starts_with(&PARTITION) || !matches!(pack.key.get(13), Some(2..=4)) {
        return Err(MediaError::Missing("a partition pack"));
    }
    let value = source.read(
        "a partition pack",
        pack.value_at,
        pack.length.min(SET_BYTES),
    )?;
    let grid = u64::from(be_u32(&value, 4).unwrap_or(0));
    let field = |at| be_u64(&value, at).ok_or(MediaError::Missing("a part of a partition pack"));
    let end = pack.value_at.saturating_add(pack.length);
    let metadata_bytes = field(32)?;
    if metadata_bytes > METADATA_BYTES {
        return Err(MediaError::Limit("the header metadata"));
    }
    Ok(Partition {
        metadata_at: end,
        // The count begins after the fill item that brings the metadata onto the grid.
        metadata_bytes: metadata_bytes.saturating_add(grid.min(RUN_IN)),
        footer_at: field(24)?,
        status: pack.key.get(14).copied().unwrap_or(0),
    })
}

fn metadata<R: Read + Seek>(
    source: &mut Source<R>,
    partition: &Partition,
) -> Result<Metadata, MediaError> {
    let mut read = Metadata {
        sets: HashMap::new(),
        order: Vec::new(),
        unfinished: false,
    };
    let mut at = partition.metadata_at;
    let end = at
        .saturating_add(partition.metadata_bytes)
        .min(source.len());
    while at < end {
        let item = match triplet(source, at) {
            Ok(item) => item,
            // Behind the sets that are there, a cut file ends anywhere.
            Err(MediaError::Overrun { .. }) if !read.order.is_empty() => break,
            Err(error) => return Err(error),
        };
        if item.key.starts_with(&PARTITION) && matches!(item.key.get(13), Some(2..=4)) {
            break;
        }
        if item.key.starts_with(&SET) {
            if read.order.len() == SETS_LIMIT || item.length > SET_BYTES {
                return Err(MediaError::Limit("the number or size of metadata sets"));
            }
            let bytes = source.read("a metadata set", item.value_at, item.length)?;
            read.add(item.key.get(14).copied().unwrap_or(0), &bytes);
        }
        at = item.value_at.saturating_add(item.length);
    }
    Ok(read)
}

impl Metadata {
    fn add(&mut self, class: u8, mut bytes: &[u8]) {
        let mut values = HashMap::new();
        while let (Some(tag), Some(length)) = (be_u16(bytes, 0), be_u16(bytes, 2)) {
            let rest = bytes.get(4..).unwrap_or_default();
            let Some((value, after)) = rest.split_at_checked(length.into()) else {
                break;
            };
            values.insert(tag, value.to_vec());
            bytes = after;
        }
        let set = Set { class, values };
        if let Some(id) = set.uid(0x3c0a) {
            self.order.push(id);
            self.sets.insert(id, set);
        }
    }

    fn get(&self, id: Uid) -> Option<&Set> {
        self.sets.get(&id)
    }

    /// The sets of a class, in file order.
    fn of_class(&self, class: u8) -> impl Iterator<Item = &Set> {
        self.order
            .iter()
            .filter_map(|id| self.get(*id))
            .filter(move |set| set.class == class)
    }

    /// The sets that a value of `set` refers to: one reference, or a batch of them.
    fn linked(&self, set: &Set, tag: u16) -> Vec<&Set> {
        set.uids(tag)
            .into_iter()
            .filter_map(|id| self.get(id))
            .collect()
    }
}

impl Set {
    fn value(&self, tag: u16) -> Option<&[u8]> {
        self.values.get(&tag).map(Vec::as_slice)
    }

    fn uid(&self, tag: u16) -> Option<Uid> {
        self.value(tag)?.first_chunk::<16>().copied()
    }

    fn uids(&self, tag: u16) -> Vec<Uid> {
        let Some(value) = self.value(tag) else {
            return Vec::new();
        };
        let items = if value.len() == 16 {
            value
        } else {
            value.get(8..).unwrap_or_default()
        };
        items
            .chunks_exact(16)
            .filter_map(|item| item.first_chunk::<16>().copied())
            .collect()
    }

    fn u16(&self, tag: u16) -> Option<u16> {
        be_u16(self.value(tag)?, 0)
    }

    fn u32(&self, tag: u16) -> Option<u32> {
        be_u32(self.value(tag)?, 0)
    }

    /// A length or position; -1 (and any negative) means "not known".
    fn length(&self, tag: u16) -> Option<i64> {
        be_i64(self.value(tag)?, 0).filter(|length| *length >= 0)
    }

    /// Numerator and denominator.
    fn rational(&self, tag: u16) -> Option<(i64, i64)> {
        let value = self.value(tag)?;
        Some((be_i32(value, 0)?.into(), be_i32(value, 4)?.into()))
    }

    /// UTF-16BE up to the first NUL.
    fn text(&self, tag: u16) -> Option<String> {
        let units = self
            .value(tag)?
            .chunks_exact(2)
            .filter_map(|unit| be_u16(unit, 0));
        let units: Vec<u16> = units.take_while(|unit| *unit != 0).collect();
        super::bytes::some_text(String::from_utf16_lossy(&units).trim().to_owned())
    }
}
