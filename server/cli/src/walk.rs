//! Listing what is under a folder, depth first and in byte order of the names, without following links.
//! Nothing is opened here.

use std::ffi::{OsStr, OsString};
use std::fs::{self, FileType, Metadata};
use std::io;
use std::path::{Path, PathBuf};

use waybill_domain::manifest::{SkipReason, Skipped};

/// What operating systems keep on a drive for themselves. Listed as passed over, never read.
pub const SYSTEM_NAMES: [&str; 11] = [
    "$RECYCLE.BIN",
    ".DS_Store",
    ".DocumentRevisions-V100",
    ".Spotlight-V100",
    ".TemporaryItems",
    ".Trashes",
    ".fseventsd",
    "RECYCLER",
    "System Volume Information",
    "Thumbs.db",
    "lost+found",
];

/// One thing found.
pub enum Found {
    File(FoundFile),
    Skipped(Skipped),
}

/// A regular file whose name can be written exactly.
pub struct FoundFile {
    /// Folder names below the root, then the file's.
    pub path: Vec<String>,
    pub full: PathBuf,
    pub metadata: Metadata,
}

/// Walks everything under `root` but the files in `leave_out` (what this run itself writes).
pub fn walk<'a>(root: &'a Path, leave_out: &'a [PathBuf]) -> impl Iterator<Item = Found> + 'a {
    let mut walk = Walk {
        root,
        leave_out,
        open: Vec::new(),
        told: Vec::new(),
    };
    walk.enter(root.to_owned(), Vec::new());
    walk
}

struct Walk<'a> {
    root: &'a Path,
    leave_out: &'a [PathBuf],
    /// The folders from the root to where the walk is.
    open: Vec<Folder>,
    /// Faults of listing, to be told before anything else.
    told: Vec<Skipped>,
}

/// A folder that is being walked.
struct Folder {
    full: PathBuf,
    /// Its names below the root.
    path: Vec<String>,
    /// What is still to come in it. Names alone: a folder may hold a million files.
    entries: std::vec::IntoIter<(OsString, FileType)>,
}

impl Walk<'_> {
    fn enter(&mut self, full: PathBuf, path: Vec<String>) {
        let mut entries = Vec::new();
        let faults = list(&full, &mut entries);
        let faults = faults.iter().map(|error| self.unlistable(&full, error));
        self.told = faults.collect();
        entries.sort_unstable_by(|(one, _), (other, _)| one.cmp(other));
        self.open.push(Folder {
            full,
            path,
            entries: entries.into_iter(),
        });
    }

    fn unlistable(&self, path: &Path, error: &io::Error) -> Skipped {
        skip(self.root, path, SkipReason::Unreadable, &error.to_string())
    }

    /// Takes an entry of the innermost folder; `None` for a folder, which is entered, and for what is left out.
    fn take(&mut self, name: &OsStr, kind: FileType) -> Option<Found> {
        let folder = self.open.last()?;
        let full = folder.full.join(name);
        let skipped =
            |reason, detail: &str| Some(Found::Skipped(skip(self.root, &full, reason, detail)));
        if !kind.is_dir() && self.leave_out.contains(&full) {
            return None;
        }
        let Some(name) = name.to_str() else {
            return skipped(SkipReason::Name, NOT_TEXT);
        };
        if SYSTEM_NAMES.contains(&name) {
            return skipped(SkipReason::System, "kept by an operating system for itself");
        }
        if kind.is_symlink() {
            return skipped(SkipReason::Link, "a symbolic link, not followed");
        }
        if !kind.is_dir() && !kind.is_file() {
            return skipped(SkipReason::Special, "neither a file nor a folder");
        }
        let mut path = Vec::with_capacity(folder.path.len() + 1);
        path.extend_from_slice(&folder.path);
        path.push(name.to_owned());
        if kind.is_dir() {
            self.enter(full, path);
            return None;
        }
        Some(match fs::symlink_metadata(&full) {
            Ok(metadata) => Found::File(FoundFile {
                path,
                full,
                metadata,
            }),
            Err(error) => Found::Skipped(self.unlistable(&full, &error)),
        })
    }
}

impl Iterator for Walk<'_> {
    type Item = Found;

    fn next(&mut self) -> Option<Found> {
        loop {
            if let Some(skipped) = self.told.pop() {
                return Some(Found::Skipped(skipped));
            }
            match self.open.last_mut()?.entries.next() {
                Some((name, kind)) => {
                    if let Some(found) = self.take(&name, kind) {
                        return Some(found);
                    }
                }
                None => {
                    self.open.pop();
                }
            }
        }
    }
}

/// Takes in the names in a folder, and gives what kept the listing from being whole.
fn list(folder: &Path, entries: &mut Vec<(OsString, FileType)>) -> Vec<io::Error> {
    let listing = match fs::read_dir(folder) {
        Ok(listing) => listing,
        Err(error) => return vec![error],
    };
    let mut faults = Vec::new();
    for entry in listing {
        let entry = entry.and_then(|entry| Ok((entry.file_name(), entry.file_type()?)));
        match entry {
            Ok(entry) => entries.push(entry),
            Err(error) => faults.push(error),
        }
    }
    faults
}

const NOT_TEXT: &str = "the name is not Unicode text and cannot be written exactly; rename it";

/// Something passed over.
pub fn skip(root: &Path, path: &Path, reason: SkipReason, detail: &str) -> Skipped {
    let below = path.strip_prefix(root).unwrap_or(path);
    Skipped {
        path: shown(below.as_os_str()),
        reason,
        detail: detail.to_owned(),
    }
}

/// A name as text: what is not Unicode is written `\xNN`, control characters as in a string literal.
pub fn shown(name: &OsStr) -> String {
    let mut text = String::new();
    for chunk in name.as_encoded_bytes().utf8_chunks() {
        for c in chunk.valid().chars() {
            match c.is_control() {
                true => text.extend(c.escape_default()),
                false => text.push(c),
            }
        }
        for byte in chunk.invalid() {
            text.push_str(&format!("\\x{byte:02x}"));
        }
    }
    text
}
