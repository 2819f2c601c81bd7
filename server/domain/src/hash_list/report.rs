//! The account of a verification, as lines: a beginning, a line for every file, what is wrong with the lists
//! themselves, and an end with the counts and the answer. It can be written while the run goes on, kept,
//! and sent later. [S 5.6.4, G 2.7]: everything is told, never the first thing only.

use chrono::{DateTime, Utc};
use serde::Serialize;

use super::chain::ChainFault;
use super::compare::{Mismatch, Unproven};
use super::digest::Digest;
use super::folder::FolderHashes;
use super::model::Value;
use crate::hashes::{HashKind, Hashes};

/// One line.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ReportLine {
    /// First.
    Begin(Begin),
    /// A file or a recorded folder.
    File(FileLine),
    /// Something wrong with a list.
    Fault(FaultLine),
    /// A history that was looked at.
    History(HistoryLine),
    /// Last; without it the account is not whole.
    End(End),
}

/// What was compared with what.
#[derive(Debug, Clone, Serialize)]
pub struct Begin {
    /// Program and version.
    pub tool: String,
    /// The folder.
    pub root: String,
    /// The drive's label, where one was given.
    pub drive: Option<String>,
    /// What its files were compared with.
    pub against: Against,
    /// Start.
    pub started: DateTime<Utc>,
}

/// What files are compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Against {
    /// ASC MHL histories in the folder.
    History,
    /// A plain list.
    List,
    /// What the server knows.
    Catalogue,
}

/// A file and the answer about it.
#[derive(Debug, Clone, Serialize)]
pub struct FileLine {
    /// Below the folder; what is no text is written `\xNN`.
    pub path: String,
    /// The answer.
    #[serde(flatten)]
    pub verdict: Verdict,
}

/// The answer about a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "verdict", rename_all = "snake_case")]
pub enum Verdict {
    /// Read, and as recorded.
    Verified {
        /// Bytes.
        size: u64,
        /// Its hashes.
        hashes: Hashes,
        /// The end of its reading.
        at: DateTime<Utc>,
        /// A size was recorded that is not this one, although the content agrees.
        recorded_size: Option<u64>,
    },
    /// Read, and not as recorded.
    Changed {
        /// Bytes.
        size: u64,
        /// As recorded.
        recorded_size: Option<u64>,
        /// Types that differ; empty when it is the size alone.
        mismatches: Vec<Mismatch>,
        /// Types that agree all the same.
        agreeing: Vec<HashKind>,
        /// The end of its reading.
        at: DateTime<Utc>,
    },
    /// Recorded, and not there.
    Missing {
        /// What stands there instead, if anything does.
        instead: Option<String>,
    },
    /// There, and not recorded.
    New {
        /// Bytes.
        size: u64,
        /// Its hashes.
        hashes: Hashes,
    },
    /// The content of a file that is missing elsewhere.
    Renamed {
        /// Where it was recorded.
        from: String,
        /// The new name was entered in the history.
        recorded: bool,
        /// The names differ only in how letters with accents are written.
        normal_form_only: bool,
    },
    /// Could not be read to its end.
    Unreadable {
        /// Why.
        reason: String,
    },
    /// Could not be judged.
    Unproven {
        /// Why.
        reason: Unproven,
    },
    /// A recorded folder that is not there.
    MissingFolder,
}

/// Something wrong with a list.
#[derive(Debug, Clone, Serialize)]
pub struct FaultLine {
    /// The history's folder below the verified one (empty: that one), or the list's name.
    pub list: String,
    /// In words.
    pub words: String,
    /// What, where it concerns a history.
    #[serde(flatten)]
    pub fault: Option<ChainFault>,
}

/// A history that was looked at.
#[derive(Debug, Clone, Serialize)]
pub struct HistoryLine {
    /// Its folder below the verified one; empty: that one. `..` where it lies above.
    pub scope: String,
    /// Generations it had.
    pub generations: u32,
    /// The list that was added.
    pub added: Option<String>,
    /// Why none was.
    pub not_added: Option<String>,
    /// The folder's pair as recorded last.
    pub root_recorded: Option<PairText>,
    /// The folder's pair now.
    pub root_now: Option<PairText>,
}

/// A folder's hashes as text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PairText {
    /// Over the contents.
    pub content: Hashes,
    /// Over names and contents.
    pub structure: Hashes,
}

impl From<&FolderHashes> for PairText {
    fn from(hashes: &FolderHashes) -> Self {
        Self {
            content: texts(&hashes.content),
            structure: texts(&hashes.structure),
        }
    }
}

impl From<&super::model::Pair> for PairText {
    fn from(pair: &super::model::Pair) -> Self {
        let of = |values: &[Value]| {
            let digests = values.iter().map(|value| &value.digest);
            digests
                .map(|digest| (digest.kind(), digest.text()))
                .collect()
        };
        Self {
            content: of(&pair.content),
            structure: of(&pair.structure),
        }
    }
}

/// Digests as text.
pub fn texts(digests: &[Digest]) -> Hashes {
    digests
        .iter()
        .map(|digest| (digest.kind(), digest.text()))
        .collect()
}

/// How many.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// As recorded.
    pub verified: u64,
    /// Bytes of these.
    pub verified_bytes: u64,
    /// Not as recorded.
    pub changed: u64,
    /// Not there.
    pub missing: u64,
    /// Recorded folders that are not there.
    pub missing_folders: u64,
    /// Not recorded.
    pub new: u64,
    /// Under another name.
    pub renamed: u64,
    /// Not read to their end.
    pub unreadable: u64,
    /// Not judged.
    pub unproven: u64,
    /// Files and folders left out by patterns.
    pub left_out: u64,
    /// Links and special files, which are never followed or read.
    pub passed_over: u64,
    /// Faults of lists that make the answer less than whole.
    pub faults: u64,
}

/// The answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// Everything recorded was read and is as recorded, and nothing else is there.
    AllWell,
    /// Something differs, and the answer is whole.
    Differences,
    /// The answer is not whole, whatever else was found.
    CouldNotTell,
}

impl Counts {
    /// Counts a line.
    pub fn add(&mut self, verdict: &Verdict) {
        *match verdict {
            Verdict::Verified { size, .. } => {
                self.verified_bytes += size;
                &mut self.verified
            }
            Verdict::Changed { .. } => &mut self.changed,
            Verdict::Missing { .. } => &mut self.missing,
            Verdict::New { .. } => &mut self.new,
            Verdict::Renamed { .. } => &mut self.renamed,
            Verdict::Unreadable { .. } => &mut self.unreadable,
            Verdict::Unproven { .. } => &mut self.unproven,
            Verdict::MissingFolder => &mut self.missing_folders,
        } += 1;
    }

    /// The answer. Where nothing was compared at all, nothing is known.
    pub const fn answer(&self) -> Answer {
        let differing =
            self.changed + self.missing + self.missing_folders + self.new + self.renamed;
        if self.unreadable + self.unproven + self.faults > 0 {
            Answer::CouldNotTell
        } else if differing > 0 {
            Answer::Differences
        } else if self.verified == 0 {
            Answer::CouldNotTell
        } else {
            Answer::AllWell
        }
    }
}

/// The end of the account.
#[derive(Debug, Clone, Serialize)]
pub struct End {
    /// The answer.
    pub answer: Answer,
    /// How many.
    #[serde(flatten)]
    pub counts: Counts,
    /// End.
    pub ended: DateTime<Utc>,
}
