//! Reading a history from its folder: the chain, every list it names, what else lies there, and the lists of
//! nested histories that are referred to. Everything that is wrong is gathered; nothing ends it early.

use std::cell::RefCell;
use std::collections::HashMap;
use std::fs::{self, File};
use std::io::{self, BufReader};
use std::path::{Path, PathBuf};

use waybill_domain::hash_list::chain::{ChainEntry, ChainFault, number_faults, read_chain};
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::history::{History, Renamed};
use waybill_domain::hash_list::model::Reference;
use waybill_domain::hash_list::{CHAIN_FILE, HISTORY_FOLDER, read_manifest};

use super::generation::{c4_of, pending_chain, sync_folder};

/// A history as it lies beside its files.
pub struct Loaded {
    /// The folder that it describes.
    pub scope: PathBuf,
    pub history: RefCell<History>,
    pub faults: Vec<ChainFault>,
    pub chain: Vec<ChainEntry>,
    /// The chain's bytes, if there is one.
    pub chain_bytes: Option<Vec<u8>>,
}

/// Whether a folder has a history of its own. One that holds nothing but what a killed first run has left
/// is none.
pub fn has_history(scope: &Path) -> bool {
    let folder = scope.join(HISTORY_FOLDER);
    let Ok(entries) = fs::read_dir(&folder) else {
        return false;
    };
    let is_part =
        |name: &str| name == CHAIN_FILE || (name.ends_with(".mhl") && !name.starts_with('.'));
    let mut names = entries
        .filter_map(Result::ok)
        .map(|entry| entry.file_name());
    names.any(|name| is_part(&name.to_string_lossy())) || pending_chain(&folder).exists()
}

impl Loaded {
    /// An empty history, for a first generation.
    pub fn empty(scope: &Path) -> Self {
        Self {
            scope: scope.to_owned(),
            history: RefCell::default(),
            faults: Vec::new(),
            chain: Vec::new(),
            chain_bytes: None,
        }
    }

    /// Reads everything. With `complete`, a generation that a killed run has left between its two renames
    /// is completed on the disk; otherwise it is only taken as complete.
    pub fn read(scope: &Path, complete: bool) -> Self {
        let mut loaded = Self::empty(scope);
        let folder = scope.join(HISTORY_FOLDER);
        loaded.read_chain(&folder, complete);
        let mut references = Vec::new();
        for entry in loaded.chain.clone() {
            loaded.read_list(&folder, &entry, &mut references);
        }
        loaded.look_for_unlisted(&folder);
        loaded.check_references(references);
        let doubts = std::mem::take(&mut loaded.history.borrow_mut().doubts);
        let doubts = doubts.into_iter();
        loaded
            .faults
            .extend(doubts.map(|(sequence, doubt)| ChainFault::Doubt { sequence, doubt }));
        loaded
    }

    /// Whether anything makes the answer less than whole.
    pub fn is_faulty(&self) -> bool {
        self.faults.iter().any(ChainFault::is_serious)
    }

    fn read_chain(&mut self, folder: &Path, complete: bool) {
        let path = folder.join(CHAIN_FILE);
        let bytes = match fs::read(&path) {
            Ok(bytes) => Some(bytes),
            Err(error) if error.kind() == io::ErrorKind::NotFound => None,
            Err(error) => {
                let reason = error.to_string();
                return self.faults.push(ChainFault::ChainUnreadable { reason });
            }
        };
        if let Some(bytes) = &bytes {
            match read_chain(bytes.as_slice()) {
                Ok((entries, doubts)) => {
                    let doubts = doubts.into_iter();
                    self.faults
                        .extend(doubts.map(|doubt| ChainFault::Doubt { sequence: 0, doubt }));
                    self.faults.extend(number_faults(&entries));
                    self.chain = entries;
                }
                Err(error) => {
                    let reason = error.to_string();
                    return self.faults.push(ChainFault::ChainUnreadable { reason });
                }
            }
        }
        let has_chain = bytes.is_some();
        self.chain_bytes = bytes;
        match pending(folder, &self.chain) {
            Some((entries, new_bytes)) => {
                self.chain = entries;
                if complete && fs::rename(pending_chain(folder), &path).is_ok() {
                    self.chain_bytes = Some(new_bytes);
                    // best done, and no harm if it is not: the next run finds the same
                    let _ = sync_folder(folder);
                }
            }
            None if !has_chain => self.faults.push(ChainFault::ChainMissing),
            None => {}
        }
    }

    fn read_list(
        &mut self,
        folder: &Path,
        entry: &ChainEntry,
        references: &mut Vec<(u32, Reference)>,
    ) {
        let (sequence, path) = (entry.sequence, entry.path.clone());
        let file = folder.join(&entry.path);
        let found = match c4_of(&file) {
            Ok(found) => found,
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                return self.faults.push(ChainFault::ListMissing { sequence, path });
            }
            Err(error) => {
                let reason = error.to_string();
                let fault = ChainFault::ListUnreadable {
                    sequence,
                    path,
                    reason,
                };
                return self.faults.push(fault);
            }
        };
        let trusted = found == entry.c4;
        if !trusted {
            self.faults.push(ChainFault::ListChanged {
                sequence,
                path: path.clone(),
                recorded: entry.c4.clone(),
                found,
            });
        }
        let open = || File::open(&file).map(|file| BufReader::with_capacity(1 << 17, file));
        // read twice: nothing of a list is used before all of it was read, and its renames come first
        let mut renamed = Renamed::default();
        let first = open().map_err(|error| error.to_string()).and_then(|file| {
            read_manifest(file, &mut |record| renamed.note(&record))
                .map_err(|error| error.to_string())
        });
        let read = match first {
            Ok(read) => read,
            Err(reason) => {
                let fault = ChainFault::ListUnreadable {
                    sequence,
                    path,
                    reason,
                };
                return self.faults.push(fault);
            }
        };
        let doubts = read.doubts.into_iter();
        self.faults
            .extend(doubts.map(|doubt| ChainFault::Doubt { sequence, doubt }));
        references.extend(
            read.references
                .into_iter()
                .map(|reference| (sequence, reference)),
        );
        let mut history = self.history.borrow_mut();
        history.begin(sequence, &path, read.head, trusted, renamed);
        let second = open().map_err(|error| error.to_string()).and_then(|file| {
            read_manifest(file, &mut |record| history.take(record))
                .map_err(|error| error.to_string())
        });
        drop(history);
        if let Err(reason) = second {
            let fault = ChainFault::ListUnreadable {
                sequence,
                path,
                reason,
            };
            self.faults.push(fault);
        }
    }

    /// Lists that the chain does not name are no part of the history; that they are there is told.
    fn look_for_unlisted(&mut self, folder: &Path) {
        let Ok(entries) = fs::read_dir(folder) else {
            return;
        };
        let names = entries
            .filter_map(Result::ok)
            .map(|entry| entry.file_name());
        let mut names: Vec<String> = names.map(|name| crate::walk::shown(&name)).collect();
        names.retain(|name| {
            let is_list = name.ends_with(".mhl") && !name.starts_with('.');
            is_list && !self.chain.iter().any(|entry| entry.path == *name)
        });
        names.sort_unstable();
        let unlisted = names
            .into_iter()
            .map(|path| ChainFault::ListUnlisted { path });
        self.faults.extend(unlisted);
    }

    fn check_references(&mut self, references: Vec<(u32, Reference)>) {
        let mut known: HashMap<String, Option<Digest>> = HashMap::new();
        for (sequence, Reference { path, c4 }) in references {
            let found = known
                .entry(path.clone())
                .or_insert_with(|| c4_of(&self.scope.join(&path)).ok());
            let fault = match found {
                None => ChainFault::ReferenceMissing { sequence, path },
                Some(found) if *found != c4 => ChainFault::ReferenceChanged {
                    sequence,
                    path,
                    recorded: c4,
                    found: found.clone(),
                },
                Some(_) => continue,
            };
            self.faults.push(fault);
        }
    }
}

/// A chain that waits to be put in its place: the old one and one list more, which is there as it says.
fn pending(folder: &Path, chain: &[ChainEntry]) -> Option<(Vec<ChainEntry>, Vec<u8>)> {
    let bytes = fs::read(pending_chain(folder)).ok()?;
    let (entries, doubts) = read_chain(bytes.as_slice()).ok()?;
    let (last, before) = entries.split_last()?;
    let is_next = before == chain && doubts.is_empty();
    let is_there = c4_of(&folder.join(&last.path)).is_ok_and(|c4| c4 == last.c4);
    (is_next && is_there).then_some((entries, bytes))
}
