//! What was read from a card, kept in the user's state folder: one JSON line a file, with its hashes. It saves reading
//! the card again when a copy goes on. Of the copies it says nothing: those that are there are always read.

use std::collections::HashMap;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, Write};
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use waybill_domain::hashes::{HashKind, Hashes};
use waybill_domain::manifest::chunk_digest;

use super::card::{CardFile, Stamp};

/// A file of the card that was read to its end and held still.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SourceRead {
    pub path: String,
    pub size: u64,
    pub modified: DateTime<Utc>,
    pub touched: i64,
    pub hashes: Hashes,
    /// The end of the reading.
    pub read: DateTime<Utc>,
}

/// The journal of one card under one roll name.
pub struct Journal {
    file: File,
    known: HashMap<String, SourceRead>,
    /// Held while a run lasts.
    _lock: File,
}

impl Journal {
    /// Opens a journal; `None` when another run holds it.
    pub fn open(state: &Path, card: &Path, roll: &str) -> io::Result<Option<Self>> {
        fs::create_dir_all(state)?;
        let path = state.join(format!("{}.jsonl", name(card, roll)));
        let lock = File::create(path.with_extension("lock"))?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(fs::TryLockError::WouldBlock) => return Ok(None),
            Err(fs::TryLockError::Error(error)) => return Err(error),
        }
        let known = read(&path)?;
        let mut file = File::options().create(true).append(true).open(&path)?;
        // a kill may have left half a line
        file.write_all(b"\n")?;
        Ok(Some(Self {
            file,
            known,
            _lock: lock,
        }))
    }

    /// What was read of a file that is still as it was then, in all types asked for.
    pub fn find(&self, file: &CardFile, kinds: &[HashKind]) -> Option<&SourceRead> {
        let read = self.known.get(&file.path)?;
        let stamp = Stamp {
            modified: read.modified,
            touched: read.touched,
        };
        let is_whole = kinds.iter().all(|kind| read.hashes.contains_key(kind));
        (read.size == file.size && stamp == file.stamp && is_whole).then_some(read)
    }

    /// Keeps what was read. It outlives a kill of the program; after a power cut the card is read again.
    pub fn keep(&mut self, read: &SourceRead) -> io::Result<()> {
        let mut line = serde_json::to_vec(read)?;
        line.push(b'\n');
        self.file.write_all(&line)?;
        self.known.insert(read.path.clone(), read.clone());
        Ok(())
    }
}

fn name(card: &Path, roll: &str) -> String {
    let key = [roll.as_bytes(), b"\0", card.as_os_str().as_encoded_bytes()].concat();
    format!("{roll}-{}", &chunk_digest(&key)[..16])
}

fn read(path: &PathBuf) -> io::Result<HashMap<String, SourceRead>> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(HashMap::new()),
        Err(error) => return Err(error),
    };
    let mut known = HashMap::new();
    for line in BufReader::new(file).split(b'\n') {
        // torn and empty lines tell nothing
        if let Ok(read) = serde_json::from_slice::<SourceRead>(&line?) {
            known.insert(read.path.clone(), read);
        }
    }
    Ok(known)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn a_read(path: &str) -> SourceRead {
        SourceRead {
            path: path.to_owned(),
            size: 3,
            modified: DateTime::UNIX_EPOCH,
            touched: 7,
            // RFC 1321, test suite: MD5 of "abc"
            hashes: Hashes::from([(HashKind::Md5, "900150983cd24fb0d6963f7d28e17f72".to_owned())]),
            read: DateTime::UNIX_EPOCH,
        }
    }

    fn listed(path: &str, touched: i64) -> CardFile {
        CardFile {
            path: path.to_owned(),
            size: 3,
            stamp: Stamp {
                modified: DateTime::UNIX_EPOCH,
                touched,
            },
        }
    }

    #[test]
    fn a_torn_line_costs_itself_and_nothing_else() {
        let state = tempfile::tempdir().expect("a temporary folder");
        let card = Path::new("/media/card");
        let open = || Journal::open(state.path(), card, "R").expect("room");
        let mut journal = open().expect("free");
        assert!(open().is_none(), "held");
        journal.keep(&a_read("a")).expect("room");
        drop(journal);
        let path = state.path().join(format!("{}.jsonl", name(card, "R")));
        let mut file = File::options().append(true).open(path).expect("there");
        file.write_all(b"{\"path\":\"torn").expect("room");
        let mut journal = open().expect("free");
        journal.keep(&a_read("b")).expect("room");
        drop(journal);
        let journal = open().expect("free");
        for path in ["a", "b"] {
            assert!(journal.find(&listed(path, 7), &[HashKind::Md5]).is_some());
            assert!(journal.find(&listed(path, 8), &[HashKind::Md5]).is_none());
            assert!(journal.find(&listed(path, 7), &[HashKind::Sha1]).is_none());
        }
        assert!(journal.find(&listed("torn", 7), &[]).is_none());
    }
}
