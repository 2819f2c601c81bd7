//! The card: what is on it when the copy begins, and whether it is still that at the end. It is only read.

use std::collections::BTreeMap;
use std::fs::Metadata;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use waybill_domain::manifest::Skipped;

use super::device::Device;
use crate::exit::{Exit, Failure};
use crate::lists::{Step, Tree};
use crate::scan::{Root, stamp};
use crate::walk::{Found, SYSTEM_NAMES, walk};

/// A card as it was listed.
pub struct Card {
    pub root: Root,
    pub device: Device,
    /// In byte order of the paths.
    pub files: Vec<CardFile>,
    /// Folders below the card's, those above first.
    pub folders: Vec<String>,
    /// What is not copied, and why.
    pub skipped: Vec<Skipped>,
    pub bytes: u64,
}

/// A file as the list has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CardFile {
    /// Below the card, `/` between the parts.
    pub path: String,
    pub size: u64,
    pub stamp: Stamp,
}

/// When the content and the file's own record were changed last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    pub modified: DateTime<Utc>,
    pub touched: i64,
}

impl Stamp {
    pub fn of(metadata: &Metadata) -> Self {
        let (modified, touched) = stamp(metadata);
        Self { modified, touched }
    }
}

impl CardFile {
    pub fn full(&self, root: &Path) -> PathBuf {
        root.join(&self.path)
    }

    /// Whether a file on the card is still the one that was listed.
    pub fn is(&self, metadata: &Metadata) -> bool {
        metadata.len() == self.size && Stamp::of(metadata) == self.stamp
    }
}

impl Card {
    /// Lists a card.
    ///
    /// # Errors
    /// It is not there, or nothing is on it.
    pub fn list(folder: &Path) -> Result<Self, Failure> {
        let root = Root::open(folder)?;
        let (mut files, mut skipped, mut bytes) = (Vec::new(), Vec::new(), 0);
        for found in walk(&root.path, &[]) {
            match found {
                Found::File(file) => {
                    bytes += file.metadata.len();
                    files.push(CardFile {
                        path: file.path.join("/"),
                        size: file.metadata.len(),
                        stamp: Stamp::of(&file.metadata),
                    });
                }
                Found::Skipped(thing) => skipped.push(thing),
            }
        }
        if files.is_empty() {
            let message = format!(
                "There is no file in {}. Is it the card's folder, and is the card mounted? Nothing was copied.",
                folder.display()
            );
            return Err(Failure::new(Exit::NoInput, message));
        }
        let folders = folders(&root.path);
        let device = Device::of(&root.path).map_err(Failure::reading(folder.display()))?;
        Ok(Self {
            root,
            device,
            files,
            folders,
            skipped,
            bytes,
        })
    }

    /// What is not as it was listed, as sentences by path. Asked at the end of a copy.
    pub fn changes(&self) -> Vec<(String, &'static str)> {
        let mut before: BTreeMap<&str, &CardFile> = BTreeMap::new();
        before.extend(self.files.iter().map(|file| (file.path.as_str(), file)));
        let mut changes = Vec::new();
        for found in walk(&self.root.path, &[]) {
            let Found::File(file) = found else { continue };
            let path = file.path.join("/");
            match before.remove(path.as_str()) {
                None => changes.push((path, "it came onto the card while the copy was made")),
                Some(known) if !known.is(&file.metadata) => {
                    changes.push((path, "it was changed on the card while the copy was made"));
                }
                Some(_) => {}
            }
        }
        let gone = before.into_keys();
        changes.extend(gone.map(|path| (path.to_owned(), "it is not on the card any more")));
        changes
    }
}

fn folders(root: &Path) -> Vec<String> {
    let mut folders = Vec::new();
    let mut tree = Tree::new(root);
    while let Some(step) = tree.next() {
        let Step::Enter(place) = step else { continue };
        let kept = place.text().filter(|path| {
            let name = path.rsplit('/').next();
            name.is_none_or(|name| !SYSTEM_NAMES.contains(&name))
        });
        match kept {
            // the card's own
            Some("") => {}
            Some(path) => folders.push(path.to_owned()),
            None => tree.pass_over(),
        }
    }
    folders
}
