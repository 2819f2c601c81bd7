//! Comparing one file with what is recorded of it, and what the next generation says about it.
//! Rules: R41 (like with like; no hash is never "ok"), [S 5.6.4, 6.5.1].

use chrono::{DateTime, Utc};
use serde::Serialize;

use super::digest::Digest;
use super::history::Known;
use super::model::{Action, Value};
use crate::hashes::HashKind;

/// A hash that is not what was recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Mismatch {
    /// The type.
    pub hash: HashKind,
    /// What was recorded first.
    pub recorded: Digest,
    /// What the file has.
    pub found: Digest,
    /// The generation that recorded it.
    pub generation: u32,
}

/// The answer about one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Judgement {
    /// Recorded, and equal in every type that both have.
    Verified,
    /// Not what was recorded.
    Changed {
        /// Types that differ; empty when only the size is known to.
        mismatches: Vec<Mismatch>,
        /// Types that agree all the same: then a list is wrong rather than the file.
        agreeing: Vec<HashKind>,
    },
    /// Not recorded.
    New,
    /// Recorded, with nothing that could be compared.
    Unproven(Unproven),
}

/// Why a file could not be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Unproven {
    /// No usable hash is recorded.
    NoHash,
    /// None of the recorded types was worked out.
    NothingInCommon,
    /// It agrees with a list that was changed after it was entered in the chain.
    AgreesWithChangedList,
    /// It differs from a list that was changed after it was entered in the chain.
    DiffersFromChangedList,
}

impl Unproven {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoHash => "no hash is recorded that could be compared",
            Self::NothingInCommon => "no hash type in common with the record",
            Self::AgreesWithChangedList => {
                "it agrees only with a list that was changed after it was entered in the chain"
            }
            Self::DiffersFromChangedList => {
                "it differs from a list that was itself changed after it was entered in the chain"
            }
        }
    }
}

/// Judges a file by its record.
pub fn judge(known: Option<&Known>, size: u64, digests: &[Digest]) -> Judgement {
    let Some(known) = known else {
        return Judgement::New;
    };
    let (mut mismatches, mut agreeing) = (Vec::new(), Vec::new());
    let (mut doubtful_agrees, mut doubtful_differs) = (false, false);
    for found in digests {
        let of_kind = known
            .values
            .iter()
            .filter(|value| value.digest.kind() == found.kind());
        let (trusted, doubtful): (Vec<_>, Vec<_>) = of_kind.partition(|value| value.trusted);
        if trusted.iter().any(|value| value.digest == *found) {
            agreeing.push(found.kind());
        } else if let Some(first) = trusted.first() {
            mismatches.push(Mismatch {
                hash: found.kind(),
                recorded: first.digest.clone(),
                found: found.clone(),
                generation: first.generation,
            });
        }
        if !doubtful.is_empty() {
            let agrees = doubtful.iter().any(|value| value.digest == *found);
            doubtful_agrees |= agrees;
            doubtful_differs |= !agrees;
        }
    }
    if !mismatches.is_empty() {
        return Judgement::Changed {
            mismatches,
            agreeing,
        };
    }
    if !agreeing.is_empty() {
        return Judgement::Verified;
    }
    if doubtful_differs {
        return Judgement::Unproven(Unproven::DiffersFromChangedList);
    }
    if doubtful_agrees {
        return Judgement::Unproven(Unproven::AgreesWithChangedList);
    }
    // another size is another content, whatever its hash; the same size proves nothing
    if known.size.is_some_and(|recorded| recorded != size) {
        return Judgement::Changed {
            mismatches,
            agreeing,
        };
    }
    Judgement::Unproven(match known.values.is_empty() {
        true => Unproven::NoHash,
        false => Unproven::NothingInCommon,
    })
}

/// The hashes of a file in the next generation: `original` where it is new; `verified` where a comparison
/// agreed, in further types too; `failed` in the types that differ, and then nothing in other types, since
/// that would be compared with later. Empty: the file gets no record.
pub fn next_values(judgement: &Judgement, digests: &[Digest], date: DateTime<Utc>) -> Vec<Value> {
    let value = |digest: &Digest, action| Value {
        digest: digest.clone(),
        action: Some(action),
        date: Some(date),
    };
    let all = |action| digests.iter().map(|digest| value(digest, action)).collect();
    match judgement {
        Judgement::New => all(Action::Original),
        Judgement::Verified => all(Action::Verified),
        Judgement::Changed { mismatches, .. } => {
            let failed = mismatches.iter();
            failed
                .map(|mismatch| value(&mismatch.found, Action::Failed))
                .collect()
        }
        Judgement::Unproven(_) => Vec::new(),
    }
}
