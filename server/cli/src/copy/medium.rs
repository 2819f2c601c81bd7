//! Writing onto a medium and reading back from it. Reading back passes the page cache by (`O_DIRECT`); where a file
//! system does not have that, what was forced onto the disk is dropped from the cache before it is read.

use std::fs::File;
use std::io::{self, Read};
use std::os::unix::fs::FileExt;

use rustix::fs::OFlags;
use rustix::io::Errno;
use serde::{Deserialize, Serialize};
use waybill_domain::hashes::HashKind;

use super::buffers::{ALIGN, Aligned};
use super::destination::RollFolder;
use super::device::Kind;
use crate::hashing::Hasher;
use crate::read::{ReadError, Signals};

/// How a copy was read back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// From the device, past the page cache.
    Direct,
    /// Forced onto the device, dropped from the page cache, and read again.
    Dropped,
    /// Forced onto the device, and read again with caching switched off; what the system still held may have answered.
    Uncached,
    /// From another computer or another program, which may have answered from its memory.
    Remote,
    /// The destination lies in this computer's memory; no medium was read.
    Memory,
}

impl Way {
    /// As the receipt says it.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Direct => "read back from the device, past this computer's page cache",
            Self::Dropped => {
                "forced onto the device, dropped from this computer's page cache, and read back"
            }
            Self::Uncached => {
                "forced onto the device and read back with caching switched off; what this computer still held of it \
                 may have answered"
            }
            Self::Remote => {
                "read back over the network or through another program, past this computer's page cache; what answered \
                 may have had it in memory"
            }
            Self::Memory => {
                "read back from memory: this destination lies in this computer's memory, not on a medium"
            }
        }
    }

    fn of(kind: Kind, direct: bool) -> Self {
        match (kind, direct) {
            (Kind::Memory, _) => Self::Memory,
            (Kind::Remote, _) => Self::Remote,
            (_, true) => Self::Direct,
            (_, false) if cfg!(target_vendor = "apple") => Self::Uncached,
            (_, false) => Self::Dropped,
        }
    }
}

/// Files of this size and more are written past the page cache, where the file system takes that: the processor does
/// not have to move the bytes once more, and memory stays free.
pub const DIRECT_MIN: u64 = 1 << 20;
/// Bytes after which buffered writing is told to begin with the disk.
const WRITE_BEHIND: u64 = 8 << 20;

/// A file while it is written.
pub struct PartFile {
    file: File,
    direct: bool,
    /// Bytes up to which writing to the disk was begun, of a buffered file.
    behind: u64,
}

impl PartFile {
    /// Makes the file, and room for it where the file system can.
    pub fn create(folder: &RollFolder, name: &str, size: u64) -> io::Result<Self> {
        let flags = OFlags::WRONLY | OFlags::CREATE | OFlags::EXCL;
        let direct = match size >= DIRECT_MIN {
            true => create_direct(folder, name, flags)?,
            false => None,
        };
        let (file, direct) = match direct {
            Some(file) => (file, true),
            None => (folder.open(name, flags)?, false),
        };
        if size >= DIRECT_MIN {
            reserve(&file, size)?;
        }
        Ok(Self {
            file,
            direct,
            behind: 0,
        })
    }

    /// Writes `bytes` at a place that is a multiple of [`ALIGN`].
    pub fn write(&mut self, bytes: &[u8], at: u64) -> io::Result<()> {
        let whole = bytes.len() / ALIGN * ALIGN;
        let (blocks, rest) = bytes.split_at(if self.direct { whole } else { bytes.len() });
        match self.file.write_all_at(blocks, at) {
            Err(error) if self.direct && is_invalid(&error) => {
                set_direct(&self.file, false)?;
                self.direct = false;
                self.file.write_all_at(blocks, at)?;
            }
            result => result?,
        }
        if !rest.is_empty() {
            // less than a block is left: the end of the file
            set_direct(&self.file, false)?;
            self.direct = false;
            self.file.write_all_at(rest, at + blocks.len() as u64)?;
        }
        self.write_behind(at + bytes.len() as u64);
        Ok(())
    }

    /// Begins to write to the disk what is buffered, so that the forcing at the end is short.
    fn write_behind(&mut self, end: u64) {
        if !self.direct && end >= self.behind + WRITE_BEHIND {
            drop_cache(&self.file, self.behind, end - self.behind);
            self.behind = end;
        }
    }

    /// Gives the file its date.
    pub fn finish(self, modified: std::time::SystemTime) -> io::Result<()> {
        self.file.set_modified(modified)
    }
}

fn is_invalid(error: &io::Error) -> bool {
    Errno::from_io_error(error) == Some(Errno::INVAL)
}

#[cfg(target_os = "linux")]
fn create_direct(folder: &RollFolder, name: &str, flags: OFlags) -> io::Result<Option<File>> {
    match folder.open(name, flags | OFlags::DIRECT) {
        Ok(file) => Ok(Some(file)),
        Err(error) if is_invalid(&error) => {
            // some file systems make the file and then refuse
            match folder.remove(name) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
                _ => Ok(None),
            }
        }
        Err(error) => Err(error),
    }
}

#[cfg(not(target_os = "linux"))]
fn create_direct(_: &RollFolder, _: &str, _: OFlags) -> io::Result<Option<File>> {
    Ok(None)
}

#[cfg(target_os = "linux")]
fn set_direct(file: &File, direct: bool) -> io::Result<()> {
    let mut flags = rustix::fs::fcntl_getfl(file)?;
    flags.set(OFlags::DIRECT, direct);
    Ok(rustix::fs::fcntl_setfl(file, flags)?)
}

#[cfg(not(target_os = "linux"))]
fn set_direct(_: &File, _: bool) -> io::Result<()> {
    Ok(())
}

/// Room for the whole file, so that it lies together, and a full disk is known at once.
#[cfg(target_os = "linux")]
fn reserve(file: &File, size: u64) -> io::Result<()> {
    match rustix::fs::fallocate(file, rustix::fs::FallocateFlags::empty(), 0, size) {
        Err(error @ (Errno::NOSPC | Errno::DQUOT | Errno::FBIG)) => Err(error.into()),
        // it is a help, no need
        _ => Ok(()),
    }
}

#[cfg(not(target_os = "linux"))]
fn reserve(_: &File, _: u64) -> io::Result<()> {
    Ok(())
}

/// Writes out and lets go of what the page cache holds of a stretch. A hint: nothing depends on it being taken.
#[cfg(target_os = "linux")]
fn drop_cache(file: &File, at: u64, length: u64) {
    let length = std::num::NonZeroU64::new(length);
    let _ = rustix::fs::fadvise(file, at, length, rustix::fs::Advice::DontNeed);
}

#[cfg(not(target_os = "linux"))]
fn drop_cache(_: &File, _: u64, _: u64) {}

/// Forces everything that was written to a file system onto it, in one go.
#[cfg(target_os = "linux")]
pub fn sync_all_files(folder: &RollFolder) -> io::Result<bool> {
    if folder.kind == Kind::Remote {
        // what is behind another program is forced out file by file
        return Ok(false);
    }
    rustix::fs::syncfs(&folder.folder)?;
    Ok(true)
}

#[cfg(not(target_os = "linux"))]
pub fn sync_all_files(_: &RollFolder) -> io::Result<bool> {
    Ok(false)
}

/// Forces one file onto the disk.
pub fn sync_file(folder: &RollFolder, name: &str) -> io::Result<()> {
    folder.open(name, OFlags::RDONLY)?.sync_all()
}

/// What was read back.
pub struct ReadBack {
    pub size: u64,
    pub xxh128: String,
    pub way: Way,
}

/// Reads a file from the medium that was forced onto it before. `tell` takes the bytes as they come.
pub fn read_back(
    folder: &RollFolder,
    name: &str,
    buffer: &mut Aligned,
    signals: &Signals,
    tell: &dyn Fn(u64),
) -> Result<ReadBack, ReadError> {
    let (mut file, mut direct) = open_uncached(folder, name)?;
    let mut hasher = Hasher::new(HashKind::Xxh128);
    let mut size = 0;
    let expected = file.metadata()?.len();
    loop {
        if signals.stopped() {
            return Err(ReadError::Stopped);
        }
        // no more than the file has and a block, in which its end shows: the system would fill the rest with zeros
        let left = expected.saturating_sub(size).saturating_add(1);
        let left = usize::try_from(left).unwrap_or(usize::MAX - ALIGN);
        let length = left.next_multiple_of(ALIGN).min(buffer.bytes().len());
        let length = match file.read(&mut buffer.bytes_mut()[..length]) {
            Ok(0) => break,
            Ok(length) => length,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) if direct && size == 0 && is_invalid(&error) => {
                direct = false;
                file = open_dropped(folder, name)?;
                continue;
            }
            Err(error) => return Err(error.into()),
        };
        hasher.update(&buffer.bytes()[..length]);
        size += length as u64;
        tell(length as u64);
        // only the end of a file is no whole block, and nothing can be asked for behind it
        if direct && length % ALIGN != 0 && size >= file.metadata()?.len() {
            break;
        }
    }
    Ok(ReadBack {
        size,
        xxh128: hasher.finish(),
        way: Way::of(folder.kind, direct),
    })
}

#[cfg(target_os = "linux")]
fn open_uncached(folder: &RollFolder, name: &str) -> io::Result<(File, bool)> {
    match folder.open(name, OFlags::RDONLY | OFlags::DIRECT) {
        Err(error) if is_invalid(&error) => Ok((open_dropped(folder, name)?, false)),
        result => Ok((result?, true)),
    }
}

#[cfg(not(target_os = "linux"))]
fn open_uncached(folder: &RollFolder, name: &str) -> io::Result<(File, bool)> {
    Ok((open_dropped(folder, name)?, false))
}

/// A file of which the page cache holds nothing any more.
fn open_dropped(folder: &RollFolder, name: &str) -> io::Result<File> {
    let file = folder.open(name, OFlags::RDONLY)?;
    file.sync_all()?;
    drop_cache(&file, 0, 0);
    #[cfg(target_vendor = "apple")]
    rustix::fs::fcntl_nocache(&file, true)?;
    Ok(file)
}
