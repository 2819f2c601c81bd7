//! The document of a verification: what `waybill verify` found on a drive, file by file. The command and the server
//! share these types, as they share those of a scan (`manifest`).
//!
//! Sending one, each step repeatable:
//! 1. `GET /api/series/{s}/drives/{d}/expected?root=ROOT&after=PATH`: pages of [`ExpectedFile`], what the catalogue
//!    knows below that folder of the drive.
//! 2. `POST /api/series/{s}/drives/{d}/verifications` with a [`VerificationStart`]. `id` is chosen by the command; the
//!    same id again answers the same verification. The answer is a [`ScanStarted`](crate::manifest::ScanStarted).
//! 3. `PUT /api/series/{s}/drives/{d}/verifications/{id}/chunks/{n}?digest=HEX`, n from 0, in order; the body is JSON
//!    lines, one [`VerifiedFile`] each, [`CHUNK_FILES`] at most; `digest` is
//!    [`chunk_digest`](crate::manifest::chunk_digest) of the body.
//! 4. `POST /api/series/{s}/drives/{d}/verifications/{id}/complete` with a
//!    [`ScanComplete`](crate::manifest::ScanComplete): the count of lines and the digest over the chunks. The answer
//!    is a [`VerificationSummary`].
//!
//! What the command calls verified is compared with the catalogue once more: only equal sizes and digests of a common
//! type count (R41).

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::hashes::Hashes;
use crate::manifest::{CHUNK_FILES, LineError, check_path};

/// How a drive was read.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum CheckKind {
    /// Listed and hashed.
    #[default]
    Scan,
    /// Written and read back from the medium.
    Copy,
    /// Compared with what was known before.
    Verify,
}

impl CheckKind {
    /// The word in JSON and in the database.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Scan => "scan",
            Self::Copy => "copy",
            Self::Verify => "verify",
        }
    }
}

/// Opens a verification on the server.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct VerificationStart {
    /// Chosen by the command; repeating it is harmless.
    pub id: Uuid,
    /// Name of the verified folder, as a scan names it: paths are below it.
    pub root: String,
    /// Program and version.
    pub tool: String,
    /// Name of the computer, as it calls itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub machine: Option<String>,
    /// When it began.
    pub started: DateTime<Utc>,
}

/// What was found at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum VerifyResult {
    /// Read, and its digest is the expected one.
    Verified,
    /// Read, and it is another content.
    Changed,
    /// Not there.
    Missing,
    /// There, and not in what was expected.
    New,
    /// Expected at `previous_path`, found here.
    Renamed,
    /// There, and could not be read to its end.
    Unreadable,
}

impl VerifyResult {
    /// The word in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Verified => "verified",
            Self::Changed => "changed",
            Self::Missing => "missing",
            Self::New => "new",
            Self::Renamed => "renamed",
            Self::Unreadable => "unreadable",
        }
    }
}

/// One place on the drive.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct VerifiedFile {
    /// Folder names below the root, then the file's name.
    pub path: Vec<String>,
    /// Bytes found there; none where it could not be read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<u64>,
    /// Digests made now; empty where it could not be read.
    #[serde(default)]
    #[schema(value_type = std::collections::BTreeMap<String, String>)]
    pub hashes: Hashes,
    /// What was found.
    pub result: VerifyResult,
    /// When it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read: Option<DateTime<Utc>>,
    /// Of a renamed file: where it was before, below the root.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub previous_path: Option<Vec<String>>,
    /// What is odd about it, as a sentence.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub detail: String,
}

impl VerifiedFile {
    /// The path as one text, parts joined by `/`.
    pub fn path_text(&self) -> String {
        self.path.join("/")
    }

    fn check(&mut self) -> Result<(), String> {
        check_path(&self.path)?;
        if let Some(previous) = &self.previous_path {
            check_path(previous)?;
        }
        if self.result == VerifyResult::Renamed && self.previous_path.is_none() {
            return Err("a renamed file needs its previous_path".to_owned());
        }
        let proven = matches!(self.result, VerifyResult::Verified | VerifyResult::Renamed);
        if proven && (self.size.is_none() || self.hashes.is_empty()) {
            return Err(format!(
                "{:?} is called {} without a size and a hash",
                self.path_text(),
                self.result.word()
            ));
        }
        for (kind, digest) in &mut self.hashes {
            *digest = kind.canonical(digest).map_err(|error| error.to_string())?;
        }
        Ok(())
    }
}

/// Reads a chunk's body and checks each line.
///
/// # Errors
/// [`LineError`] names the first line that cannot be taken.
pub fn read_chunk(body: &[u8]) -> Result<Vec<VerifiedFile>, LineError> {
    let mut files = Vec::new();
    for (index, text) in body.split(|byte| *byte == b'\n').enumerate() {
        if text.iter().all(u8::is_ascii_whitespace) {
            continue;
        }
        if files.len() == CHUNK_FILES {
            return Err(LineError::TooMany);
        }
        let line = index.saturating_add(1);
        let mut file: VerifiedFile =
            serde_json::from_slice(text).map_err(|source| LineError::Json { line, source })?;
        file.check()
            .map_err(|reason| LineError::Entry { line, reason })?;
        files.push(file);
    }
    Ok(files)
}

/// What the catalogue knows of a place on a drive.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ExpectedFile {
    /// Folder names below the asked root, then the file's name; without a root, the scanned folder first.
    pub path: Vec<String>,
    /// Bytes.
    pub size: u64,
    /// Digests known, by type.
    #[schema(value_type = std::collections::BTreeMap<String, String>)]
    pub hashes: Hashes,
    /// `verified`, `missing` or `unreadable`, as last seen.
    pub state: String,
    /// When the content was last read there.
    pub checked_at: DateTime<Utc>,
}

/// What the server made of a verification.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct VerificationSummary {
    /// Copies whose content was read again and is the catalogue's.
    #[serde(default)]
    pub verified: u64,
    /// Places that hold another content than the catalogue knows.
    #[serde(default)]
    pub changed: u64,
    /// Copies that are not there.
    #[serde(default)]
    pub missing: u64,
    /// Copies that could not be read.
    #[serde(default)]
    pub unreadable: u64,
    /// Copies found at another place of the drive.
    #[serde(default)]
    pub renamed: u64,
    /// Places that the catalogue did not know; a scan takes them in.
    #[serde(default)]
    pub new: u64,
    /// Places of which nothing can be said: no type of hash in common with the catalogue.
    #[serde(default)]
    pub unknown: u64,
    /// When the drive is to be checked next (R42).
    #[serde(default)]
    #[schema(required)]
    pub next_check_on: Option<NaiveDate>,
    /// Sentences for the person who verifies.
    #[serde(default)]
    pub warnings: Vec<String>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hashes::HashKind;

    fn line(result: &str, rest: &str) -> String {
        format!("{{\"path\":[\"A\",\"a.mov\"],\"result\":\"{result}\"{rest}}}\n")
    }

    // RFC 1321, test suite: MD5 of "abc"
    const ABC: &str = "900150983CD24FB0D6963F7D28E17F72";

    #[test]
    fn a_line_is_read_and_its_digest_brought_to_one_form() {
        let body = line(
            "verified",
            &format!(",\"size\":3,\"hashes\":{{\"md5\":\"{ABC}\"}}"),
        );
        let read = read_chunk(body.as_bytes()).expect("a sound line");
        assert_eq!(read[0].path_text(), "A/a.mov");
        assert_eq!(read[0].hashes[&HashKind::Md5], ABC.to_lowercase());
    }

    #[test]
    fn nothing_is_verified_or_renamed_without_proof() {
        for (result, rest) in [
            ("verified", ""),
            ("verified", ",\"size\":3"),
            ("renamed", ",\"size\":3,\"hashes\":{\"md5\":\"00\"}"),
            ("missing", ",\"hashes\":{\"md5\":\"00\"}"),
        ] {
            let read = read_chunk(line(result, rest).as_bytes());
            assert!(
                matches!(read, Err(LineError::Entry { line: 1, .. })),
                "{result} {rest}"
            );
        }
        assert!(read_chunk(line("missing", "").as_bytes()).is_ok());
        assert!(read_chunk(b"{\"path\":[\"..\"],\"result\":\"missing\"}").is_err());
    }
}
