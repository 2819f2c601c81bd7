//! The drive-scan document: what `waybill scan` writes (one JSON line for the header, then one per
//! file) and what it sends. The only wire types of this crate; the command and the server share them.
//!
//! Sending a scan, each step repeatable:
//! 1. `POST /api/series/{s}/scans` with a [`ScanStart`]. `id` is chosen by the command; the same id
//!    again answers the same scan. The answer is a [`ScanStarted`].
//! 2. `PUT /api/series/{s}/scans/{id}/chunks/{n}?digest=HEX`, n from 0, in order; the body is JSON
//!    lines, one [`FileEntry`] each, [`CHUNK_FILES`] at most; `digest` is [`chunk_digest`] of the body.
//!    The same chunk again is harmless; another body under the same number is a conflict.
//! 3. `POST /api/series/{s}/scans/{id}/complete` with a [`ScanComplete`]: the count of files and
//!    [`scan_digest`] over the chunks. The answer is a [`ScanSummary`].

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::footage::roll::RollName;
use crate::hashes::{HashKind, Hashes, hex};
use crate::media::MediaFacts;
use crate::verification::CheckKind;

/// Version of this document. A reader refuses a higher one.
pub const SCHEMA_VERSION: u32 = 1;

/// The most files in one chunk.
pub const CHUNK_FILES: usize = 2_000;

/// First line of a manifest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Header {
    /// [`SCHEMA_VERSION`] of the writer.
    pub schema_version: u32,
    /// Identity of this scan; stays the same while a repeated scan finds nothing changed.
    pub id: Uuid,
    /// Label of the drive, as people write it on the case.
    pub drive: String,
    /// Name of the scanned folder.
    pub root: String,
    /// Program and version that wrote this.
    pub tool: String,
    /// Hash types made for every file.
    pub hashes: Vec<HashKind>,
    /// When the scan began.
    pub started: DateTime<Utc>,
}

/// One file, read and hashed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FileEntry {
    /// Folder names below the root, then the file's name. Exact: a name that is not Unicode text is
    /// not in the manifest but in its list of what was passed over.
    pub path: Vec<String>,
    /// Bytes.
    pub size: u64,
    /// Last change of the content, as the drive tells it.
    pub modified: DateTime<Utc>,
    /// When the content was read from this drive and hashed.
    pub read: DateTime<Utc>,
    /// One digest for each type of the header.
    #[schema(value_type = std::collections::BTreeMap<String, String>)]
    pub hashes: Hashes,
    /// What the header says, when this is a picture or sound file we can read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub media: Option<MediaFacts>,
    /// The roll folder that the file lies in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub roll: Option<RollName>,
    /// What is odd about this file, as sentences.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<String>,
}

/// Something on the drive that is not in the list of files, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Skipped {
    /// Path below the root; characters that are not text are written `\xNN`.
    pub path: String,
    /// The class of reason.
    pub reason: SkipReason,
    /// The reason as a sentence.
    pub detail: String,
}

/// Why something is not in the list of files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SkipReason {
    /// It could not be opened or read to its end.
    Unreadable,
    /// It changed each time it was read.
    Unstable,
    /// Its name is not Unicode text.
    Name,
    /// A symbolic link; never followed.
    Link,
    /// A device, pipe or socket.
    Special,
    /// A folder or file that the operating system keeps for itself.
    System,
}

impl SkipReason {
    /// Whether content may be missing from the manifest because of it (the run then ends with 2).
    pub const fn is_failure(self) -> bool {
        matches!(self, Self::Unreadable | Self::Unstable | Self::Name)
    }
}

/// One line of a manifest file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// First line.
    Header(Header),
    /// One file, in byte order of the path.
    File(Box<FileEntry>),
    /// Something passed over.
    Skipped(Skipped),
    /// Last line: a file without it is not whole.
    End(Totals),
}

/// Totals of a scan.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Totals {
    /// Files listed.
    pub files: u64,
    /// Bytes in them.
    pub bytes: u64,
    /// Things passed over, of any reason.
    pub skipped: u64,
}

/// Opens a scan on the server.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ScanStart {
    /// Chosen by the command; the scan's id on the server. Repeating it is harmless.
    pub id: Uuid,
    /// Label of the drive. A drive that the series does not know yet is made.
    pub drive: String,
    /// Name of the scanned folder.
    pub root: String,
    /// Program and version.
    pub tool: String,
    /// Hash types in every entry; `xxh128` is always among them.
    pub hashes: Vec<HashKind>,
    /// Files that will come, when known.
    #[serde(default)]
    pub file_count: Option<u64>,
    /// The operating system's id of the volume, when its top folder is scanned and the system tells.
    /// Two labels for one volume are one drive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume: Option<String>,
    /// What names the device that the folder lies on, whether it is the volume's top or not: ids of the file system and
    /// of the disk. Drives that have one of them in common are one copy. A name that begins with [`RUN_DEVICE`] is made
    /// by one run that saw several drives on one device, and says only that. Empty where nothing can be known.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub devices: Vec<String>,
    /// What the operating system says of the drive, when its top folder is scanned and the system tells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen: Option<DriveSeen>,
    /// Whether the files were only listed, or had been copied here and were read back.
    #[serde(default)]
    pub how: CheckKind,
    /// Name of the computer, as it calls itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub machine: Option<String>,
    /// When the scan began.
    pub started: DateTime<Utc>,
    /// What could not be read, at most [`SKIPPED_SENT`] of them.
    #[serde(default)]
    pub skipped: Vec<Skipped>,
}

/// How a name of a device begins that holds for one run of the command only.
pub const RUN_DEVICE: &str = "run:";

/// The most names of a device in a [`ScanStart`].
pub const DEVICES_SENT: usize = 20;

/// A drive as an operating system sees it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DriveSeen {
    /// Bytes that the file system holds altogether.
    pub capacity_bytes: u64,
    /// Bytes that a user can still write.
    pub free_bytes: u64,
    /// Whether it turns or not, where that is told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<SeenKind>,
    /// The device's serial number, where it is told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// What a drive is made of, as far as a system tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SeenKind {
    /// It turns.
    Hdd,
    /// It does not.
    Ssd,
}

impl SeenKind {
    /// The word in JSON and in the database.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Hdd => "hdd",
            Self::Ssd => "ssd",
        }
    }
}

/// The most [`Skipped`] entries sent with a [`ScanStart`].
pub const SKIPPED_SENT: usize = 500;

/// Answer to [`ScanStart`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ScanStarted {
    /// The scan.
    pub id: Uuid,
    /// First chunk that the server does not have.
    pub next_chunk: u32,
    /// The scan was completed before; nothing needs to be sent.
    #[serde(default)]
    pub complete: bool,
}

/// Closes a scan. The server refuses when its own counts differ.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ScanComplete {
    /// Files in all chunks.
    pub files: u64,
    /// [`scan_digest`] of all chunks.
    pub digest: String,
}

/// What the server made of a scan.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ScanSummary {
    /// Contents that the series did not have.
    #[serde(default)]
    pub new_files: u64,
    /// Contents that it had already.
    #[serde(default)]
    pub known_files: u64,
    /// Places on this drive that hold a content and were not known.
    #[serde(default)]
    pub new_copies: u64,
    /// Cards made from roll folders.
    #[serde(default)]
    pub cards_made: u64,
    /// Sentences for the person who scans.
    #[serde(default)]
    pub warnings: Vec<String>,
}

/// SHA-256 of a chunk's body, lower-case hex.
///
/// ```
/// // FIPS 180-4 example value for "abc"
/// assert!(waybill_domain::manifest::chunk_digest(b"abc").starts_with("ba7816bf8f01cfea"));
/// ```
pub fn chunk_digest(body: &[u8]) -> String {
    hex(&Sha256::digest(body))
}

/// SHA-256 over the chunk digests' text, in order of their numbers and joined without a separator.
pub fn scan_digest<D: AsRef<str>>(chunks: impl IntoIterator<Item = D>) -> String {
    let mut all = Sha256::new();
    for chunk in chunks {
        all.update(chunk.as_ref().as_bytes());
    }
    hex(&all.finalize())
}

/// Why a chunk's line cannot be taken.
#[derive(Debug, thiserror::Error)]
pub enum LineError {
    /// Not JSON, or not of this shape.
    #[error("line {line} of the chunk is not a file entry: {source}")]
    Json {
        /// Counted from 1.
        line: usize,
        /// What the reader says.
        source: serde_json::Error,
    },
    /// The entry contradicts itself.
    #[error("line {line} of the chunk: {reason}")]
    Entry {
        /// Counted from 1.
        line: usize,
        /// What is wrong.
        reason: String,
    },
    /// More than [`CHUNK_FILES`].
    #[error("a chunk holds {CHUNK_FILES} files at most")]
    TooMany,
}

/// Reads a chunk's body and checks each entry.
///
/// # Errors
/// [`LineError`] names the first line that cannot be taken.
pub fn read_chunk(body: &[u8]) -> Result<Vec<FileEntry>, LineError> {
    let mut entries = Vec::new();
    for (index, text) in body.split(|byte| *byte == b'\n').enumerate() {
        if text.iter().all(u8::is_ascii_whitespace) {
            continue;
        }
        if entries.len() == CHUNK_FILES {
            return Err(LineError::TooMany);
        }
        let line = index.saturating_add(1);
        let mut entry: FileEntry =
            serde_json::from_slice(text).map_err(|source| LineError::Json { line, source })?;
        entry
            .check()
            .map_err(|reason| LineError::Entry { line, reason })?;
        entries.push(entry);
    }
    Ok(entries)
}

/// Longest path taken, in bytes: what common file systems allow.
const PATH_LIMIT: usize = 4_096;

/// Checks the parts of a path below a root.
pub(crate) fn check_path(path: &[String]) -> Result<(), String> {
    if path.is_empty() {
        return Err("the path is empty".to_owned());
    }
    let length: usize = path.iter().map(|part| part.len().saturating_add(1)).sum();
    if length > PATH_LIMIT {
        return Err(format!("the path is longer than {PATH_LIMIT} bytes"));
    }
    for part in path {
        if part.is_empty() || part == "." || part == ".." || part.contains(['/', '\0']) {
            return Err(format!("{part:?} cannot be part of a path"));
        }
    }
    Ok(())
}

impl FileEntry {
    /// Checks the path and brings the digests to their canonical form.
    fn check(&mut self) -> Result<(), String> {
        check_path(&self.path)?;
        if self.hashes.is_empty() {
            return Err("there is no hash".to_owned());
        }
        for (kind, digest) in &mut self.hashes {
            *digest = kind.canonical(digest).map_err(|e| e.to_string())?;
        }
        Ok(())
    }

    /// The path as one text, parts joined by `/`.
    pub fn path_text(&self) -> String {
        self.path.join("/")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(path: &[&str]) -> FileEntry {
        FileEntry {
            path: path.iter().map(|part| (*part).to_owned()).collect(),
            size: 3,
            modified: DateTime::UNIX_EPOCH,
            read: DateTime::UNIX_EPOCH,
            hashes: Hashes::from([(HashKind::Md5, "900150983CD24FB0D6963F7D28E17F72".to_owned())]),
            media: None,
            roll: None,
            warnings: Vec::new(),
        }
    }

    #[test]
    fn a_chunk_goes_there_and_back() {
        let line = serde_json::to_string(&entry(&["20260314_A003_CAMB_SLIPWAY", "A 1\n.mov"]));
        let body = format!("{}\n", line.expect("plain data"));
        let read = read_chunk(body.as_bytes()).expect("own output");
        assert_eq!(read.len(), 1);
        assert_eq!(read[0].path_text(), "20260314_A003_CAMB_SLIPWAY/A 1\n.mov");
        assert_eq!(
            read[0].hashes[&HashKind::Md5],
            "900150983cd24fb0d6963f7d28e17f72"
        );
    }

    #[test]
    fn a_path_that_could_leave_the_root_is_refused() {
        for path in [&["..", "etc"][..], &["a/b"], &[""], &[], &["a\0"]] {
            let body = serde_json::to_vec(&entry(path)).expect("plain data");
            assert!(
                matches!(read_chunk(&body), Err(LineError::Entry { line: 1, .. })),
                "{path:?}"
            );
        }
    }

    #[test]
    fn the_digest_of_a_scan_depends_on_the_order_of_chunks() {
        let (a, b) = (chunk_digest(b"a"), chunk_digest(b"b"));
        assert_ne!(scan_digest([&a, &b]), scan_digest([&b, &a]));
        assert_eq!(scan_digest(Vec::<String>::new()), chunk_digest(b""));
    }
}
