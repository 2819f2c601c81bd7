//! What an ASC MHL list says, apart from how it is written.

use chrono::{DateTime, Utc};
use serde::Serialize;

use super::digest::Digest;

/// How a list came about [S 6.4.3].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Process {
    /// The files were hashed where they lie.
    InPlace,
    /// The files were copied, and the copies compared with their source.
    Transfer,
    /// Gathered from the lists of a history; belongs to none itself.
    Flatten,
}

impl Process {
    /// As the schema writes it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::InPlace => "in-place",
            Self::Transfer => "transfer",
            Self::Flatten => "flatten",
        }
    }

    /// The process of that name.
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::InPlace, Self::Transfer, Self::Flatten]
            .into_iter()
            .find(|process| process.name() == name)
    }
}

/// What was done with a hash [S 6.5.1].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Action {
    /// The first hash of this file in its history.
    Original,
    /// Worked out from this copy, after a comparison with an earlier record agreed.
    Verified,
    /// Worked out from this copy, and not what was recorded. Never compared with later.
    Failed,
}

impl Action {
    /// As the schema writes it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Original => "original",
            Self::Verified => "verified",
            Self::Failed => "failed",
        }
    }

    /// The action of that name.
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Original, Self::Verified, Self::Failed]
            .into_iter()
            .find(|action| action.name() == name)
    }
}

/// A person who made a list.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Author {
    /// Name.
    pub name: String,
    /// Must have the form that the schema wants (`…@….…`).
    pub email: Option<String>,
    /// Telephone.
    pub phone: Option<String>,
    /// What they are in the production.
    pub role: Option<String>,
}

/// Who made a list, when and with what.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Creator {
    /// Start of the operation.
    pub date: DateTime<Utc>,
    /// Name of the computer.
    pub host: String,
    /// Name of the program.
    pub tool: String,
    /// Its version.
    pub tool_version: Option<String>,
    /// The people.
    pub authors: Vec<Author>,
    /// Where it was done.
    pub location: Option<String>,
    /// Free words.
    pub comment: Option<String>,
}

/// The two hashes of a folder, in the same types each [S 6.5.2].
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Pair {
    /// Over the contents below, whatever they are called.
    pub content: Vec<Value>,
    /// Over names and contents below.
    pub structure: Vec<Value>,
}

/// A hash in a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Value {
    /// Its type and bytes.
    pub digest: Digest,
    /// Required of files' hashes [S 6.5.1], usually absent from folders'.
    pub action: Option<Action>,
    /// When it was worked out; absent: about when the list was made.
    pub date: Option<DateTime<Utc>>,
}

/// The part of a list before its records.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Head {
    /// Who and when.
    pub creator: Creator,
    /// How.
    pub process: Process,
    /// The pair of the described folder itself.
    pub root: Option<Pair>,
    /// Patterns in force, one line of `.gitignore` syntax each.
    pub ignore: Vec<String>,
}

/// A file as it was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileRecord {
    /// Relative to the described folder, `/` between the parts.
    pub path: String,
    /// Bytes.
    pub size: Option<u64>,
    /// When it was created, as its file system says.
    pub created: Option<DateTime<Utc>>,
    /// When its content was last changed, as its file system says.
    pub modified: Option<DateTime<Utc>>,
    /// Its hashes.
    pub values: Vec<Value>,
    /// Where it stood in the most recent record before this.
    pub previous: Option<String>,
}

/// A folder as it was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FolderRecord {
    /// Relative to the described folder, `/` between the parts.
    pub path: String,
    /// When it was created.
    pub created: Option<DateTime<Utc>>,
    /// When it was last changed.
    pub modified: Option<DateTime<Utc>>,
    /// Its hashes.
    pub pair: Pair,
    /// Where it stood before.
    pub previous: Option<String>,
}

/// One record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Record {
    /// A file.
    File(FileRecord),
    /// A folder.
    Folder(FolderRecord),
}

impl Record {
    /// The path recorded.
    pub fn path(&self) -> &str {
        match self {
            Self::File(file) => &file.path,
            Self::Folder(folder) => &folder.path,
        }
    }

    /// The path before, where it was renamed.
    pub fn previous(&self) -> Option<&str> {
        match self {
            Self::File(file) => file.previous.as_deref(),
            Self::Folder(folder) => folder.previous.as_deref(),
        }
    }
}

/// A list of a nested history that was written by the same operation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Reference {
    /// Path of the list, relative to the described folder.
    pub path: String,
    /// C4 of the list's bytes.
    pub c4: Digest,
}

/// A whole list in memory; large ones are read record by record ([`super::read_manifest`]).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Manifest {
    /// Before the records.
    pub head: Head,
    /// Files and folders.
    pub records: Vec<Record>,
    /// Lists of nested histories.
    pub references: Vec<Reference>,
}

/// Something in a list that could not be taken as it stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Doubt {
    /// The record it stands in, where there is one.
    pub path: Option<String>,
    /// What.
    pub about: About,
    /// The words, name or number that were found.
    pub found: String,
}

/// What a doubt is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// An element that the format does not have here: a hash type that is not known, or more.
    UnknownElement,
    /// A text that is no digest of its type.
    BadDigest,
    /// A path that is not relative, or leads out of the folder.
    BadPath,
    /// A record without any hash.
    NoHash,
    /// An action that is not known; its hash is not used.
    UnknownAction,
    /// A second record of one path in one list.
    Repeated,
    /// Two usable hashes of one type and file that are not equal.
    Contradiction,
    /// A size that is no number of bytes.
    BadSize,
    /// A date that is none.
    BadDate,
}

impl About {
    /// Whether the answer about the files is less than whole because of it.
    pub const fn is_serious(self) -> bool {
        !matches!(self, Self::BadSize | Self::BadDate)
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::UnknownElement => "something that this version does not know",
            Self::BadDigest => "a text that is no hash",
            Self::BadPath => "a path that does not stay inside the folder",
            Self::NoHash => "a record without a hash",
            Self::UnknownAction => "an action that this version does not know",
            Self::Repeated => "a second record of the same path",
            Self::Contradiction => "two different hashes that cannot both be right",
            Self::BadSize => "a size that is no number",
            Self::BadDate => "a date that cannot be read",
        }
    }
}
