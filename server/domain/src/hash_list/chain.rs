//! The chain of a history [S 7]: which lists belong to it, in which order, and what their bytes were.

use std::io::BufRead;

use serde::Serialize;

use super::digest::Digest;
use super::model::{About, Doubt};
use super::names::check_path;
use super::read::{ListError, check_root};
use super::write::{DECLARATION, Lines};
use super::xml::Pull;
use crate::hashes::HashKind;

/// The namespace of chains.
pub const CHAIN_NAMESPACE: &str = "urn:ASC:MHL:DIRECTORY:v2.0";

/// One list of a history.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChainEntry {
    /// The number of the generation.
    pub sequence: u32,
    /// The list's name beside the chain.
    pub path: String,
    /// C4 of the list's bytes.
    pub c4: Digest,
}

/// What is wrong with a history's own files.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "fault", rename_all = "snake_case")]
pub enum ChainFault {
    /// A history's folder without a chain.
    ChainMissing,
    /// The chain is there and cannot be read.
    ChainUnreadable {
        /// Why.
        reason: String,
    },
    /// The numbers are not 1, 2, 3 …
    Numbers {
        /// The number that should have come.
        expected: u32,
        /// The one that came.
        found: u32,
    },
    /// A list that the chain names is not there.
    ListMissing {
        /// Its number.
        sequence: u32,
        /// Its name.
        path: String,
    },
    /// A list is not what it was when it was entered in the chain.
    ListChanged {
        /// Its number.
        sequence: u32,
        /// Its name.
        path: String,
        /// As the chain says.
        recorded: Digest,
        /// As it is.
        found: Digest,
    },
    /// A list that cannot be read.
    ListUnreadable {
        /// Its number.
        sequence: u32,
        /// Its name.
        path: String,
        /// Why.
        reason: String,
    },
    /// A list in the history's folder that the chain does not name.
    ListUnlisted {
        /// Its name.
        path: String,
    },
    /// A list of a nested history that a list refers to is not there.
    ReferenceMissing {
        /// The generation that refers to it.
        sequence: u32,
        /// Its path.
        path: String,
    },
    /// A list of a nested history is not what it was when it was referred to.
    ReferenceChanged {
        /// The generation that refers to it.
        sequence: u32,
        /// Its path.
        path: String,
        /// As the reference says.
        recorded: Digest,
        /// As it is.
        found: Digest,
    },
    /// Something in a list or the chain that could not be taken.
    Doubt {
        /// The generation; 0 for the chain.
        sequence: u32,
        /// What.
        #[serde(flatten)]
        doubt: Doubt,
    },
}

impl ChainFault {
    /// In a sentence, without its place.
    pub fn words(&self) -> String {
        match self {
            Self::ChainMissing => "the chain of the history is missing".to_owned(),
            Self::ChainUnreadable { reason } => format!("the chain cannot be read: {reason}"),
            Self::Numbers { expected, found } => {
                format!("the chain goes to generation {found} where {expected} should come")
            }
            Self::ListMissing { sequence, path } => {
                format!("the list of generation {sequence}, {path}, is missing")
            }
            Self::ListChanged {
                sequence,
                path,
                recorded,
                found,
            } => format!(
                "the list of generation {sequence}, {path}, was changed after it was entered in the \
                 chain: recorded {recorded}, found {found}"
            ),
            Self::ListUnreadable {
                sequence,
                path,
                reason,
            } => {
                format!("the list of generation {sequence}, {path}, cannot be read: {reason}")
            }
            Self::ListUnlisted { path } => format!("the list {path} is not in the chain"),
            Self::ReferenceMissing { sequence, path } => {
                format!("generation {sequence} refers to {path}, which is missing")
            }
            Self::ReferenceChanged {
                sequence,
                path,
                recorded,
                found,
            } => format!(
                "generation {sequence} refers to {path}, which was changed since: recorded {recorded}, \
                 found {found}"
            ),
            Self::Doubt { sequence, doubt } => {
                let place = doubt
                    .path
                    .as_ref()
                    .map_or_else(String::new, |path| format!(" at {path}"));
                let found = match doubt.found.as_str() {
                    "" => String::new(),
                    found => format!(" ({found})"),
                };
                let list = match sequence {
                    0 => "the chain".to_owned(),
                    number => format!("generation {number}"),
                };
                format!("{list} has {}{place}{found}", doubt.about.words())
            }
        }
    }

    /// Whether the answer about the files is less than whole because of it.
    pub const fn is_serious(&self) -> bool {
        match self {
            Self::Doubt { doubt, .. } => doubt.about.is_serious(),
            _ => true,
        }
    }
}

/// Reads a chain; its entries in order of their numbers [the standard leaves open what counts when the
/// numbers and the lists' names differ: the numbers count].
///
/// # Errors
/// [`ListError`] when it cannot be read to its end.
pub fn read_chain(reader: impl BufRead) -> Result<(Vec<ChainEntry>, Vec<Doubt>), ListError> {
    let (mut pull, root, namespace) = Pull::open(reader)?;
    check_root(
        &root,
        &namespace,
        "ascmhldirectory",
        "chain of a history",
        CHAIN_NAMESPACE,
    )?;
    let (mut entries, mut doubts) = (Vec::new(), Vec::new());
    while let Some(part) = pull.child()? {
        if part.name != "hashlist" {
            doubts.push(doubt(About::UnknownElement, None, part.name));
            pull.skip()?;
            continue;
        }
        let sequence = part
            .attribute("sequencenr")
            .and_then(|text| text.trim().parse().ok());
        let (mut path, mut c4) = (None, None);
        while let Some(part) = pull.child()? {
            match part.name.as_str() {
                "path" => path = Some(pull.text()?),
                "c4" => c4 = Some(pull.text()?),
                _ => {
                    doubts.push(doubt(About::UnknownElement, path.as_deref(), part.name));
                    pull.skip()?;
                }
            }
        }
        let sequence = sequence.ok_or(ListError::Missing("number of a generation"))?;
        let path = path.ok_or(ListError::Missing("path of a list"))?;
        if check_path(&path).is_err() {
            doubts.push(doubt(About::BadPath, Some(&path), String::new()));
            continue;
        }
        match c4.map(|text| Digest::from_text(HashKind::C4, &text)) {
            Some(Ok(c4)) => entries.push(ChainEntry { sequence, path, c4 }),
            Some(Err(error)) => {
                doubts.push(doubt(About::BadDigest, Some(&path), error.to_string()));
            }
            None => doubts.push(doubt(About::NoHash, Some(&path), String::new())),
        }
    }
    pull.finish()?;
    entries.sort_by_key(|entry| entry.sequence);
    Ok((entries, doubts))
}

fn doubt(about: About, path: Option<&str>, found: String) -> Doubt {
    Doubt {
        path: path.map(str::to_owned),
        about,
        found,
    }
}

/// A chain as text.
pub fn chain_text(entries: &[ChainEntry]) -> String {
    let mut out = Lines::new(DECLARATION);
    out.open(0, &format!("ascmhldirectory xmlns=\"{CHAIN_NAMESPACE}\""));
    for entry in entries {
        out.open(1, &format!("hashlist sequencenr=\"{}\"", entry.sequence));
        out.text(2, "path", &[], &entry.path);
        out.text(2, "c4", &[], &entry.c4.text());
        out.close(1, "hashlist");
    }
    out.close(0, "ascmhldirectory");
    out.0
}

/// Numbers that are not 1, 2, 3 … [S 7]; every place where they are not.
pub fn number_faults(entries: &[ChainEntry]) -> Vec<ChainFault> {
    let mut faults = Vec::new();
    let mut expected = 1_u32;
    for entry in entries {
        if entry.sequence != expected {
            faults.push(ChainFault::Numbers {
                expected,
                found: entry.sequence,
            });
        }
        expected = entry.sequence.saturating_add(1);
    }
    faults
}
