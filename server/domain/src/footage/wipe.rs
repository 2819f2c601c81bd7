//! May a card be wiped? (R38). Only what was verified counts; an empty list is never "safe".

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A copy of a file, as last checked.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Copy {
    /// Name or id of the drive it is on.
    pub drive: String,
    /// Size found there, bytes.
    pub size: u64,
    /// Whether it was read back after copying.
    pub verified: bool,
    /// Whether its hash equals the manifest's, of the same type.
    pub hash_matches: bool,
}

/// A file in the card's manifest.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CardFile {
    /// Path or name, for the reader.
    pub name: String,
    /// Size in the manifest, bytes.
    pub size: u64,
    /// Copies known.
    pub copies: Vec<Copy>,
}

/// What is known of a card.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Card<'a> {
    /// Its manifest, in order.
    pub files: &'a [CardFile],
    /// Where each drive is.
    pub places: BTreeMap<&'a str, &'a str>,
    /// Whether post has reported that the footage is good.
    pub post_report_positive: bool,
    /// Setting of the series: two copies in one building do not count as two.
    pub copies_must_be_in_different_places: bool,
}

/// Why a card may not be wiped.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error, Serialize, Deserialize, ToSchema)]
#[serde(tag = "code", content = "file", rename_all = "snake_case")]
pub enum NotSafe {
    /// Nobody has listed what is on the card.
    #[error("empty manifest")]
    EmptyManifest,
    /// A file without content was not copied, whatever the hashes say.
    #[error("{0}: zero bytes")]
    ZeroBytes(String),
    /// Fewer than two drives hold a copy that was verified and is equal.
    #[error("{0}: fewer than two verified copies")]
    TooFewCopies(String),
    /// All good copies are in one place.
    #[error("{0}: copies in one place")]
    OnePlace(String),
    /// Post has not said that the footage is good.
    #[error("no report from post")]
    NoPostReport,
}

/// Everything that stands against wiping the card, in the order of its manifest, the report from
/// post last. Empty means that it may be wiped.
pub fn faults(card: &Card<'_>) -> Vec<NotSafe> {
    let mut faults: Vec<NotSafe> = if card.files.is_empty() {
        vec![NotSafe::EmptyManifest]
    } else {
        card.files
            .iter()
            .filter_map(|file| fault_of(file, card))
            .collect()
    };
    if !card.post_report_positive {
        faults.push(NotSafe::NoPostReport);
    }
    faults
}

fn fault_of(file: &CardFile, card: &Card<'_>) -> Option<NotSafe> {
    if file.size == 0 {
        return Some(NotSafe::ZeroBytes(file.name.clone()));
    }
    let good = |copy: &&Copy| copy.verified && copy.hash_matches && copy.size == file.size;
    let drives: BTreeSet<&str> = file
        .copies
        .iter()
        .filter(good)
        .map(|copy| copy.drive.as_str())
        .collect();
    if drives.len() < 2 {
        return Some(NotSafe::TooFewCopies(file.name.clone()));
    }
    // A drive whose place nobody knows may be beside the other: it adds no place.
    let places: BTreeSet<&str> = drives
        .iter()
        .filter_map(|drive| card.places.get(drive).copied())
        .collect();
    (card.copies_must_be_in_different_places && places.len() < 2)
        .then(|| NotSafe::OnePlace(file.name.clone()))
}
