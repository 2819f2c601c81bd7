//! The receipt of a copy: what was copied where, how it was verified, and everything that is not as it should be.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;
use waybill_domain::footage::roll::RollName;
use waybill_domain::hashes::{HashKind, Hashes};
use waybill_domain::manifest::{Skipped, Totals};
use waybill_domain::media::MediaFacts;

use super::account::{Account, Fault};
use super::device::Device;
use super::medium::Way;
use super::sending::one_label_for_each;
use crate::exit::{Exit, Failure};
use crate::output::count_text;
use crate::scan::header_facts;

/// Version of this document. A reader refuses a higher one.
pub const RECEIPT_VERSION: u32 = 1;

/// Rulebook 7: what a receipt must not be taken for.
pub const CAUTION: &str = "A verified copy is not yet leave to wipe the card: that depends on a complete list of what \
    was on it, on at least two verified copies on different devices, and on a positive report from post. Keep the card \
    until post reports.";

/// A receipt.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Receipt {
    /// [`RECEIPT_VERSION`] of the writer.
    pub schema_version: u32,
    pub id: Uuid,
    pub tool: String,
    /// The computer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub machine: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub location: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
    pub roll: RollName,
    pub card: CardPart,
    pub started: DateTime<Utc>,
    pub ended: DateTime<Utc>,
    /// Types of hash that were made of every file in its one reading.
    pub hashes: Vec<HashKind>,
    pub destinations: Vec<DestinationPart>,
    /// Destinations on one device or disk, by number: together they are one copy.
    pub same_device: Vec<Vec<usize>>,
    /// Every file of the card stands verified on every destination, and nothing is amiss.
    pub is_whole: bool,
    pub faults: Vec<Fault>,
    /// What is on the card and not copied.
    pub passed_over: Vec<Skipped>,
    pub caution: String,
    pub files: Vec<FilePart>,
}

/// The card.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardPart {
    pub folder: String,
    pub device: Device,
    pub totals: Totals,
}

/// A destination.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DestinationPart {
    /// The folder that took the roll's.
    pub folder: String,
    /// The drive's label, where one was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drive: Option<String>,
    pub device: Device,
    /// Files that stand verified.
    pub files: u64,
    pub bytes: u64,
    pub is_whole: bool,
    /// How copies were read back; several where files differed in it.
    pub ways: Vec<Way>,
    /// The same in words.
    pub verified_by: String,
    /// The ASC MHL lists that were added.
    pub lists: Vec<String>,
    /// The scan under which a server knows it.
    pub scan: Uuid,
}

/// A file of the card.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FilePart {
    /// Below the card's folder and the roll's.
    pub path: String,
    pub size: u64,
    pub modified: DateTime<Utc>,
    /// Of the reading on the card; empty where it could not be read.
    pub hashes: Hashes,
    /// When the copy was verified, by destination.
    pub verified: Vec<Option<DateTime<Utc>>>,
    /// What its header says, when this is a picture or sound file that can be read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub media: Option<MediaFacts>,
    /// What is odd about it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<String>,
}

impl Receipt {
    /// The files as the account has them.
    pub fn files(account: &Account<'_>) -> Vec<FilePart> {
        let files = account.card.files.iter().zip(&account.files);
        files
            .map(|(listed, known)| {
                let full = listed.full(&account.card.root.path);
                let (media, warnings) = header_facts(&listed.path, &full);
                (listed, known, media, warnings)
            })
            .map(|(listed, known, media, warnings)| FilePart {
                media,
                warnings,
                path: listed.path.clone(),
                size: listed.size,
                modified: listed.stamp.modified,
                hashes: known.hashes.clone(),
                verified: known
                    .copies
                    .iter()
                    .map(|copy| copy.map(|copy| copy.at))
                    .collect(),
            })
            .collect()
    }

    /// The drives' labels.
    ///
    /// # Errors
    /// One was not given.
    pub fn labels(&self) -> Result<Vec<String>, Failure> {
        let labels = self.destinations.iter().map(|one| one.drive.clone());
        labels.collect::<Option<Vec<_>>>().ok_or_else(|| {
            let message = format!(
                "The receipt does not say how the drives are labelled. {}",
                self.one_label_for_each()
            );
            Failure::new(Exit::Usage, message)
        })
    }

    /// What to give for the drives, each with its folder and what stands there.
    pub fn one_label_for_each(&self) -> String {
        let folders = self.destinations.iter().enumerate().map(|(number, one)| {
            let files = self.files.iter();
            let verified =
                files.filter(|file| file.verified.get(number).copied().flatten().is_some());
            let verified = count_text(verified.count() as u64, "file", "files");
            format!("{} ({verified} verified)", one.folder)
        });
        one_label_for_each(folders)
    }

    /// The name of its files, without their endings.
    pub fn name(&self) -> String {
        let began = self.started.format("%Y%m%d-%H%M%S");
        let id = self.id.simple().to_string();
        format!("{}_{began}Z_{}", self.roll.name, &id[id.len() - 8..])
    }

    /// Writes the document, whole or not at all.
    pub fn write(&self, folder: &Path) -> Result<PathBuf, Failure> {
        let path = folder.join(format!("{}.json", self.name()));
        let write = |out: &mut dyn Write| {
            serde_json::to_writer_pretty(&mut *out, self)?;
            out.write_all(b"\n")
        };
        write_whole(&path, write).map_err(Failure::writing(path.display()))?;
        Ok(path)
    }
}

/// Writes a file under a temporary name, forces it out, and gives it its own.
pub fn write_whole(
    path: &Path,
    write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> io::Result<()> {
    let name = path.file_name().unwrap_or_default();
    let part = path.with_file_name(crate::scan::temporary_name(name));
    let all = || {
        let mut out = BufWriter::new(File::create(&part)?);
        write(&mut out)?;
        let file = out.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.sync_all()?;
        fs::rename(&part, path)
    };
    let written = all();
    if written.is_err() {
        // what was begun is of no use; the first error is the one to tell
        let _ = fs::remove_file(&part);
    }
    written
}
