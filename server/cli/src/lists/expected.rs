//! What a folder should hold, by a list without a history: a plain one, or the server's catalogue.

use std::collections::{BTreeSet, HashMap};
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::plain::{kind_of_name, read_plain};
use waybill_domain::hashes::HashKind;

use crate::exit::{Exit, Failure};

/// What a file should be.
#[derive(Debug, Default)]
pub struct Expected {
    pub size: Option<u64>,
    /// Every one of these must hold; each by one of its digests.
    pub all_of: Vec<Vec<Digest>>,
    pub found: bool,
}

/// What a folder should hold.
#[derive(Debug, Default)]
pub struct FlatList {
    pub files: HashMap<Vec<u8>, Expected>,
    /// What it is called in the account.
    pub name: String,
    /// What is wrong with it, in sentences.
    pub faults: Vec<String>,
    /// Types worked out for every file, whatever it is compared by.
    pub kinds: Vec<HashKind>,
}

impl Expected {
    /// A content of which all digests must agree.
    pub fn new(size: u64, digests: Vec<Digest>) -> Self {
        Self {
            size: Some(size),
            all_of: digests.into_iter().map(|digest| vec![digest]).collect(),
            found: false,
        }
    }
}

impl FlatList {
    /// Reads a plain list.
    pub fn read(path: &Path, kind: Option<HashKind>) -> Result<Self, Failure> {
        let shown = path.display().to_string();
        let file = File::open(path).map_err(Failure::reading(&shown))?;
        let metadata = file.metadata().map_err(Failure::reading(&shown))?;
        if !metadata.is_file() {
            return Err(Failure::new(
                Exit::NoInput,
                format!("{shown} is not a file."),
            ));
        }
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let kind = kind.or_else(|| kind_of_name(&name));
        let list = read_plain(BufReader::with_capacity(1 << 17, file), kind);
        let list = list.map_err(|error| {
            // a list that cannot be read says nothing about the files
            Failure::new(
                Exit::CouldNotTell,
                format!("{shown} could not be read: {error}."),
            )
        })?;
        let mut flat = Self {
            name: shown,
            ..Self::default()
        };
        for fault in list.faults {
            flat.faults.push(format!(
                "{}, line {}: {}.",
                flat.name, fault.line, fault.reason
            ));
        }
        for entry in list.entries {
            flat.files
                .entry(entry.name)
                .or_default()
                .all_of
                .push(entry.one_of);
        }
        Ok(flat)
    }

    /// Every type that a file is compared by, in listing order.
    pub fn all_kinds(&self) -> Vec<HashKind> {
        let files = self.files.values();
        let digests = files.flat_map(|expected| expected.all_of.iter().flatten());
        let mut kinds: BTreeSet<HashKind> = self.kinds.iter().copied().collect();
        kinds.extend(digests.map(Digest::kind));
        kinds.into_iter().collect()
    }
}
