//! Writing a generation beside the files: whole or not at all. Records are gathered in a file of their own
//! while the run goes on, then the list is written under a temporary name and forced onto the disk, then the
//! new chain likewise; the two are renamed, the list first. A run that was killed between the two renames
//! leaves the new chain behind under its temporary name, and [`super::load`] goes on from there.

use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use waybill_domain::hash_list::chain::{ChainEntry, chain_text};
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::model::{Head, Record, Reference};
use waybill_domain::hash_list::{CHAIN_FILE, HISTORY_FOLDER, head_text, record_text, tail_text};
use waybill_domain::hashes::HashKind;

use crate::hashing::Hasher;

/// Every temporary file begins with this; what begins with a dot is no part of a history.
pub const TEMPORARY: &str = ".waybill-";

/// The new chain until it takes the old one's place.
pub fn pending_chain(folder: &Path) -> PathBuf {
    folder.join(format!("{TEMPORARY}{CHAIN_FILE}.part"))
}

/// Records of a generation that is being made.
pub struct Draft {
    folder: PathBuf,
    body: PathBuf,
    out: BufWriter<File>,
    text: String,
    pub records: u64,
    /// The history's folder was made for this.
    made_folder: bool,
    /// Held to the end, so that no two runs add to one history.
    lock: Option<File>,
}

impl Draft {
    /// Begins a generation of the history of `scope`.
    pub fn open(scope: &Path) -> io::Result<Self> {
        let folder = scope.join(HISTORY_FOLDER);
        let made_folder = match fs::create_dir(&folder) {
            Ok(()) => true,
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => false,
            Err(error) => return Err(error),
        };
        let lock = lock(&folder)?;
        sweep(&folder)?;
        let body = folder.join(format!("{TEMPORARY}records.part"));
        let out = BufWriter::with_capacity(1 << 18, File::create(&body)?);
        Ok(Self {
            folder,
            body,
            out,
            text: String::new(),
            records: 0,
            made_folder,
            lock,
        })
    }

    pub fn add(&mut self, record: &Record) -> io::Result<()> {
        self.text.clear();
        record_text(record, &mut self.text);
        self.records += 1;
        self.out.write_all(self.text.as_bytes())
    }

    /// Writes the whole list under a temporary name.
    pub fn finish(
        mut self,
        name: String,
        head: &Head,
        references: &[Reference],
        chain: Option<(Vec<ChainEntry>, Option<Vec<u8>>)>,
    ) -> io::Result<Ready> {
        self.out.flush()?;
        let part = self.folder.join(format!("{TEMPORARY}{name}.part"));
        let written = write_list(&part, head, self.records > 0, &self.body, references);
        if written.is_err() {
            // what was begun is of no use; the first error is the one to tell
            let _ = fs::remove_file(&part);
        }
        let c4 = written?;
        let (mut entries, old_chain) = chain.unwrap_or_default();
        entries.push(ChainEntry {
            sequence: entries.last().map_or(1, |last| last.sequence + 1),
            path: name.clone(),
            c4: c4.clone(),
        });
        Ok(Ready {
            folder: self.folder.clone(),
            part,
            name,
            c4,
            entries,
            old_chain,
            made_folder: std::mem::take(&mut self.made_folder),
            committed: false,
            _lock: self.lock.take(),
        })
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        // nothing of it is of use any more, and nobody is there to be told
        let _ = fs::remove_file(&self.body);
        if self.made_folder {
            let _ = fs::remove_dir(&self.folder);
        }
    }
}

/// A list that is whole on the disk, and not yet part of its history.
pub struct Ready {
    folder: PathBuf,
    part: PathBuf,
    pub name: String,
    pub c4: Digest,
    entries: Vec<ChainEntry>,
    /// The chain's bytes as they were read.
    old_chain: Option<Vec<u8>>,
    made_folder: bool,
    committed: bool,
    _lock: Option<File>,
}

impl Ready {
    /// Makes it part of its history.
    pub fn commit(mut self) -> io::Result<String> {
        let chain = self.folder.join(CHAIN_FILE);
        let now = match fs::read(&chain) {
            Ok(bytes) => Some(bytes),
            Err(error) if error.kind() == io::ErrorKind::NotFound => None,
            Err(error) => return Err(error),
        };
        if now != self.old_chain {
            return Err(io::Error::other(
                "another program has written to this history meanwhile; verify again",
            ));
        }
        let pending = pending_chain(&self.folder);
        let mut file = File::create(&pending)?;
        file.write_all(chain_text(&self.entries).as_bytes())?;
        file.sync_all()?;
        fs::rename(&self.part, self.folder.join(&self.name))?;
        // from here on a later run completes it
        self.committed = true;
        fs::rename(&pending, &chain)?;
        sync_folder(&self.folder)?;
        Ok(std::mem::take(&mut self.name))
    }
}

impl Drop for Ready {
    fn drop(&mut self) {
        if !self.committed {
            // not wanted any more, and nobody is there to be told
            let _ = fs::remove_file(&self.part);
            let _ = fs::remove_file(pending_chain(&self.folder));
            if self.made_folder {
                let _ = fs::remove_dir(&self.folder);
            }
        }
    }
}

fn write_list(
    path: &Path,
    head: &Head,
    has_records: bool,
    body: &Path,
    references: &[Reference],
) -> io::Result<Digest> {
    let mut out = Hashing::new(BufWriter::with_capacity(1 << 18, File::create(path)?));
    out.write_all(head_text(head, has_records).as_bytes())?;
    io::copy(
        &mut BufReader::with_capacity(1 << 18, File::open(body)?),
        &mut out,
    )?;
    out.write_all(tail_text(references, has_records).as_bytes())?;
    let (out, c4) = out.finish();
    out.into_inner()
        .map_err(io::IntoInnerError::into_error)?
        .sync_all()?;
    Ok(c4)
}

/// Writes a single list that belongs to no history, whole or not at all.
pub fn write_alone(path: &Path, head: &Head, records: &[Record]) -> io::Result<()> {
    let name = path.file_name().unwrap_or_default();
    let part = path.with_file_name(crate::scan::temporary_name(name));
    let write = || {
        let mut out = BufWriter::new(File::create(&part)?);
        out.write_all(head_text(head, !records.is_empty()).as_bytes())?;
        let mut text = String::new();
        for record in records {
            text.clear();
            record_text(record, &mut text);
            out.write_all(text.as_bytes())?;
        }
        out.write_all(tail_text(&[], !records.is_empty()).as_bytes())?;
        let file = out.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.sync_all()?;
        fs::rename(&part, path)
    };
    let written = write();
    if written.is_err() {
        // what was begun is of no use; the first error is the one to tell
        let _ = fs::remove_file(&part);
    }
    written
}

/// Takes what a killed run has left, which is nothing that counts; a chain that waits to be put in its
/// place was taken in by the reading before this.
fn sweep(folder: &Path) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name();
        if name.to_string_lossy().starts_with(TEMPORARY) {
            fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}

/// A lock on the history's folder, where the file system has locks.
fn lock(folder: &Path) -> io::Result<Option<File>> {
    let Ok(file) = File::open(folder) else {
        return Ok(None);
    };
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(fs::TryLockError::WouldBlock) => Err(io::Error::other(
            "another run is adding to this history; wait for it or stop it",
        )),
        Err(fs::TryLockError::Error(_)) => Ok(None),
    }
}

/// Forces a rename onto the disk.
pub fn sync_folder(folder: &Path) -> io::Result<()> {
    match cfg!(unix) {
        true => File::open(folder)?.sync_all(),
        false => Ok(()),
    }
}

/// Hashes what is written through it.
struct Hashing<W> {
    inner: W,
    hasher: Hasher,
}

impl<W> Hashing<W> {
    fn new(inner: W) -> Self {
        Self {
            inner,
            hasher: Hasher::new(HashKind::C4),
        }
    }

    fn finish(self) -> (W, Digest) {
        let c4 = Digest::from_text(HashKind::C4, &self.hasher.finish());
        (self.inner, c4.expect("own digests are well-formed"))
    }
}

impl<W: Write> Write for Hashing<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.inner.write(bytes)?;
        self.hasher.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}

/// C4 of a file's bytes.
pub fn c4_of(path: &Path) -> io::Result<Digest> {
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::other("it is not a file"));
    }
    let mut file = File::open(path)?;
    let mut hasher = Hasher::new(HashKind::C4);
    let mut buffer = vec![0; 1 << 18];
    loop {
        match file.read(&mut buffer) {
            Ok(0) => break,
            Ok(count) => hasher.update(&buffer[..count]),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(Digest::from_text(HashKind::C4, &hasher.finish()).expect("own digests are well-formed"))
}
