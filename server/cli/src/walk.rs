//! Listing what is under a folder, depth first and in byte order of the names, without following links.
//! Nothing is opened here.

use std::ffi::OsStr;
use std::fs::Metadata;
use std::io;
use std::path::{Path, PathBuf};

use walkdir::{DirEntry, WalkDir};
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
    let mut entries = WalkDir::new(root)
        .min_depth(1)
        .sort_by_file_name()
        .into_iter();
    std::iter::from_fn(move || {
        loop {
            let entry = match entries.next()? {
                Ok(entry) => entry,
                Err(error) => return Some(Found::Skipped(unlistable(root, &error))),
            };
            if entry.file_type().is_dir() {
                match passed_over(root, &entry) {
                    Some(skipped) => {
                        entries.skip_current_dir();
                        return Some(Found::Skipped(skipped));
                    }
                    None => continue,
                }
            }
            if leave_out.iter().any(|path| path == entry.path()) {
                continue;
            }
            return Some(found(root, entry));
        }
    })
}

fn found(root: &Path, entry: DirEntry) -> Found {
    if let Some(skipped) = passed_over(root, &entry) {
        return Found::Skipped(skipped);
    }
    let skipped = |reason, detail: &str| Found::Skipped(skip(root, entry.path(), reason, detail));
    if entry.file_type().is_symlink() {
        return skipped(SkipReason::Link, "a symbolic link, not followed");
    }
    if !entry.file_type().is_file() {
        return skipped(SkipReason::Special, "neither a file nor a folder");
    }
    match (entry.metadata(), parts(root, entry.path())) {
        (Ok(metadata), Some(path)) => Found::File(FoundFile {
            path,
            full: entry.into_path(),
            metadata,
        }),
        (Err(error), _) => Found::Skipped(unlistable(root, &error)),
        (_, None) => skipped(SkipReason::Name, NOT_TEXT),
    }
}

const NOT_TEXT: &str = "the name is not Unicode text and cannot be written exactly; rename it";

/// What is left out by its name, with all that is in it.
fn passed_over(root: &Path, entry: &DirEntry) -> Option<Skipped> {
    match entry.file_name().to_str() {
        Some(name) if SYSTEM_NAMES.contains(&name) => {
            let detail = "kept by an operating system for itself";
            Some(skip(root, entry.path(), SkipReason::System, detail))
        }
        Some(_) => None,
        None => Some(skip(root, entry.path(), SkipReason::Name, NOT_TEXT)),
    }
}

fn unlistable(root: &Path, error: &walkdir::Error) -> Skipped {
    let reason = error
        .io_error()
        .map_or_else(|| error.to_string(), io::Error::to_string);
    skip(
        root,
        error.path().unwrap_or(root),
        SkipReason::Unreadable,
        &reason,
    )
}

/// Something passed over.
pub fn skip(root: &Path, path: &Path, reason: SkipReason, detail: &str) -> Skipped {
    let below = path.strip_prefix(root).unwrap_or(path);
    Skipped {
        path: shown(below.as_os_str()),
        reason,
        detail: detail.to_owned(),
    }
}

fn parts(root: &Path, path: &Path) -> Option<Vec<String>> {
    let below = path.strip_prefix(root).ok()?;
    below
        .iter()
        .map(|part| part.to_str().map(str::to_owned))
        .collect()
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
