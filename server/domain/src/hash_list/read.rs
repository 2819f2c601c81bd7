//! Reading ASC MHL lists [S 6, X], record by record. The order of elements is not insisted on, any
//! prefix is taken, and what cannot be used is told as a doubt; what makes the list unreadable is an error.

use std::io::BufRead;

use chrono::{DateTime, NaiveDateTime, Utc};

use super::digest::Digest;
use super::model::{
    About, Action, Author, Creator, Doubt, FileRecord, FolderRecord, Head, Pair, Process, Record,
    Reference, Value,
};
use super::names::check_path;
use super::xml::{Pull, Start};
use crate::hashes::HashKind;

/// The namespace of lists.
pub const NAMESPACE: &str = "urn:ASC:MHL:v2.0";
/// The version of the format.
pub const VERSION: &str = "2.0";

/// Why a list or chain cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum ListError {
    /// Not well-formed, not UTF-8, or the reader failed.
    #[error("it is not well-formed: {0}")]
    Xml(#[from] quick_xml::Error),
    /// Something else altogether.
    #[error("it is not an XML document")]
    NotXml,
    /// Ends in the middle.
    #[error("it ends in the middle; it was cut off")]
    CutOff,
    /// A document type declaration, which could define entities that expand without end.
    #[error("it has a document type declaration, which has no place in a hash list")]
    DocumentType,
    /// An entity that is not one of XML's five.
    #[error("the entity \"{0}\" is not defined")]
    Entity(String),
    /// A character that XML 1.0 does not allow.
    #[error("the character {0:?} may not stand in XML")]
    Forbidden(char),
    /// Another encoding than UTF-8 [S 6.1].
    #[error("its encoding is {0}, and only UTF-8 is allowed")]
    Encoding(String),
    /// Elements too deep in each other.
    #[error("its elements are too deep in each other")]
    TooDeep,
    /// A text beyond all reason.
    #[error("a piece of text in it is too long")]
    TooLong,
    /// Text between elements.
    #[error("\"{0}\" stands where an element should")]
    StrayText(String),
    /// An element inside text.
    #[error("the element \"{0}\" stands where it should not")]
    StrayElement(String),
    /// The root element is another one.
    #[error("it is no {wanted}: its outermost element is \"{found}\"")]
    Root {
        /// What was expected, in words.
        wanted: &'static str,
        /// The root's name.
        found: String,
    },
    /// A version that this program does not know.
    #[error("it is of version {0}; this program reads version 2.0")]
    Version(String),
    /// A part that must be there is not.
    #[error("its {0} is missing or cannot be read")]
    Missing(&'static str),
}

/// What stands in a list beside its records.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Read {
    /// Before the records.
    pub head: Head,
    /// Lists of nested histories.
    pub references: Vec<Reference>,
    /// What could not be taken as it stands.
    pub doubts: Vec<Doubt>,
}

/// Reads a list and hands over its records in the order in which they stand.
///
/// # Errors
/// [`ListError`] when it cannot be read to its end; records handed over before are then of no use.
pub fn read_manifest(
    reader: impl BufRead,
    sink: &mut dyn FnMut(Record),
) -> Result<Read, ListError> {
    let (pull, root, namespace) = Pull::open(reader)?;
    check_root(&root, &namespace, "hashlist", "hash list", NAMESPACE)?;
    match root.attribute("version") {
        Some(VERSION) => {}
        Some(other) => return Err(ListError::Version(other.to_owned())),
        None => return Err(ListError::Missing("version")),
    }
    let mut reading = Reading {
        pull,
        doubts: Vec::new(),
        path: None,
    };
    let (mut creator, mut process, mut references) = (None, None, Vec::new());
    while let Some(part) = reading.pull.child()? {
        match part.name.as_str() {
            "creatorinfo" if part.own => creator = Some(reading.creator()?),
            "processinfo" if part.own => process = Some(reading.process()?),
            "hashes" if part.own => reading.records(sink)?,
            "references" if part.own => references.append(&mut reading.references()?),
            "metadata" => reading.pull.skip()?,
            _ => reading.unknown(&part)?,
        }
    }
    reading.pull.finish()?;
    let (process, root, ignore) = process.ok_or(ListError::Missing("account of the process"))?;
    Ok(Read {
        head: Head {
            creator: creator.ok_or(ListError::Missing("account of who made it"))?,
            process,
            root,
            ignore,
        },
        references,
        doubts: reading.doubts,
    })
}

/// Refuses other documents, and other versions by their name.
pub fn check_root(
    root: &Start,
    namespace: &str,
    name: &'static str,
    wanted: &'static str,
    own: &str,
) -> Result<(), ListError> {
    if root.name != name {
        return Err(ListError::Root {
            wanted,
            found: root.name.clone(),
        });
    }
    if namespace == own {
        return Ok(());
    }
    let family = own.trim_end_matches(VERSION);
    let version = match (namespace.strip_prefix(family), root.attribute("version")) {
        (Some(version), _) | (None, Some(version)) if !version.is_empty() => version,
        _ => return Err(ListError::Missing("namespace")),
    };
    Err(ListError::Version(version.to_owned()))
}

struct Reading<R> {
    pull: Pull<R>,
    doubts: Vec<Doubt>,
    /// Of the record that is being read.
    path: Option<String>,
}

impl<R: BufRead> Reading<R> {
    fn doubt(&mut self, about: About, found: impl Into<String>) {
        let doubt = Doubt {
            path: self.path.clone(),
            about,
            found: found.into(),
        };
        self.doubts.push(doubt);
    }

    fn unknown(&mut self, start: &Start) -> Result<(), ListError> {
        self.doubt(About::UnknownElement, start.name.as_str());
        self.pull.skip()
    }

    fn date(&mut self, text: Option<&str>) -> Option<DateTime<Utc>> {
        let text = text?;
        let date = read_date(text);
        if date.is_none() {
            self.doubt(About::BadDate, text);
        }
        date
    }

    fn creator(&mut self) -> Result<Creator, ListError> {
        let mut creator = Creator {
            date: DateTime::UNIX_EPOCH,
            host: String::new(),
            tool: String::new(),
            tool_version: None,
            authors: Vec::new(),
            location: None,
            comment: None,
        };
        while let Some(part) = self.pull.child()? {
            match part.name.as_str() {
                "creationdate" => {
                    let text = self.pull.text()?;
                    if let Some(date) = self.date(Some(&text)) {
                        creator.date = date;
                    }
                }
                "hostname" => creator.host = self.pull.text()?,
                "tool" => {
                    creator.tool_version = part.attribute("version").map(str::to_owned);
                    creator.tool = self.pull.text()?;
                }
                "author" => {
                    let attribute = |name| part.attribute(name).map(str::to_owned);
                    creator.authors.push(Author {
                        name: self.pull.text()?,
                        email: attribute("email"),
                        phone: attribute("phone"),
                        role: attribute("role"),
                    });
                }
                "location" => creator.location = Some(self.pull.text()?),
                "comment" => creator.comment = Some(self.pull.text()?),
                _ => self.unknown(&part)?,
            }
        }
        Ok(creator)
    }

    fn process(&mut self) -> Result<(Process, Option<Pair>, Vec<String>), ListError> {
        let (mut process, mut root, mut ignore) = (None, None, Vec::new());
        while let Some(part) = self.pull.child()? {
            match part.name.as_str() {
                "process" => process = Process::from_name(self.pull.text()?.trim()),
                "roothash" => {
                    let mut pair = Pair::default();
                    while let Some(part) = self.pull.child()? {
                        match part.name.as_str() {
                            "content" => pair.content = self.values()?,
                            "structure" => pair.structure = self.values()?,
                            _ => self.unknown(&part)?,
                        }
                    }
                    root = Some(pair);
                }
                "ignore" => {
                    while let Some(part) = self.pull.child()? {
                        match part.name.as_str() {
                            "pattern" => ignore.push(self.pull.text()?),
                            _ => self.unknown(&part)?,
                        }
                    }
                }
                _ => self.unknown(&part)?,
            }
        }
        let process = process.ok_or(ListError::Missing("kind of process"))?;
        Ok((process, root, ignore))
    }

    fn values(&mut self) -> Result<Vec<Value>, ListError> {
        let mut values = Vec::new();
        while let Some(part) = self.pull.child()? {
            match list_kind(&part) {
                Some(kind) => values.extend(self.value(kind, &part)?),
                None => self.unknown(&part)?,
            }
        }
        Ok(values)
    }

    fn value(&mut self, kind: HashKind, start: &Start) -> Result<Option<Value>, ListError> {
        let text = self.pull.text()?;
        let date = self.date(start.attribute("hashdate"));
        let action = match start.attribute("action") {
            None => None,
            Some(name) => match Action::from_name(name) {
                Some(action) => Some(action),
                None => {
                    self.doubt(About::UnknownAction, name);
                    return Ok(None);
                }
            },
        };
        match Digest::from_text(kind, &text) {
            Ok(digest) => Ok(Some(Value {
                digest,
                action,
                date,
            })),
            Err(error) => {
                self.doubt(About::BadDigest, error.to_string());
                Ok(None)
            }
        }
    }

    fn records(&mut self, sink: &mut dyn FnMut(Record)) -> Result<(), ListError> {
        while let Some(part) = self.pull.child()? {
            match part.name.as_str() {
                "hash" | "directoryhash" if part.own => {
                    if let Some(record) = self.record(part.name == "directoryhash")? {
                        sink(record);
                    }
                    self.path = None;
                }
                _ => self.unknown(&part)?,
            }
        }
        Ok(())
    }

    /// One record; `None` when its path cannot be used.
    fn record(&mut self, is_folder: bool) -> Result<Option<Record>, ListError> {
        let (mut path, mut size, mut created, mut modified) = (None, None, None, None);
        let (mut values, mut pair, mut previous) = (Vec::new(), Pair::default(), None);
        while let Some(part) = self.pull.child()? {
            match part.name.as_str() {
                "path" => {
                    let text = self.pull.text()?;
                    self.path = Some(text.clone());
                    path = self.checked(text);
                    created = self.date(part.attribute("creationdate"));
                    modified = self.date(part.attribute("lastmodificationdate"));
                    size = self.size(part.attribute("size"));
                }
                "previousPath" => {
                    let text = self.pull.text()?;
                    previous = self.checked(text);
                }
                "metadata" => self.pull.skip()?,
                "content" if is_folder => pair.content = self.values()?,
                "structure" if is_folder => pair.structure = self.values()?,
                _ => match list_kind(&part).filter(|_| !is_folder) {
                    Some(kind) => values.extend(self.value(kind, &part)?),
                    None => self.unknown(&part)?,
                },
            }
        }
        let Some(path) = path else {
            if self.path.is_none() {
                self.doubt(About::BadPath, "no path at all");
            }
            return Ok(None);
        };
        if !is_folder && values.is_empty() {
            self.doubt(About::NoHash, "");
        }
        Ok(Some(if is_folder {
            Record::Folder(FolderRecord {
                path,
                created,
                modified,
                pair,
                previous,
            })
        } else {
            Record::File(FileRecord {
                path,
                size,
                created,
                modified,
                values,
                previous,
            })
        }))
    }

    fn checked(&mut self, text: String) -> Option<String> {
        match check_path(&text) {
            Ok(path) => Some(path.to_owned()),
            Err(fault) => {
                self.doubt(About::BadPath, format!("{fault}: {text}"));
                None
            }
        }
    }

    fn size(&mut self, text: Option<&str>) -> Option<u64> {
        let text = text?;
        let size = text.trim().parse().ok();
        if size.is_none() {
            self.doubt(About::BadSize, text);
        }
        size
    }

    fn references(&mut self) -> Result<Vec<Reference>, ListError> {
        let mut references = Vec::new();
        while let Some(part) = self.pull.child()? {
            if part.name != "hashlistreference" {
                self.unknown(&part)?;
                continue;
            }
            let (mut path, mut c4) = (None, None);
            while let Some(part) = self.pull.child()? {
                match part.name.as_str() {
                    "path" => {
                        let text = self.pull.text()?;
                        self.path = Some(text.clone());
                        path = self.checked(text);
                    }
                    "c4" => c4 = self.value(HashKind::C4, &part)?,
                    _ => self.unknown(&part)?,
                }
            }
            match (path, c4) {
                (Some(path), Some(c4)) => references.push(Reference {
                    path,
                    c4: c4.digest,
                }),
                _ => self.doubt(About::NoHash, "a reference without path or hash"),
            }
            self.path = None;
        }
        Ok(references)
    }
}

/// The hash type of an element of a list; the schema has six.
fn list_kind(start: &Start) -> Option<HashKind> {
    let known = super::LIST_KINDS
        .into_iter()
        .find(|kind| kind.name() == start.name);
    known.filter(|_| start.own)
}

/// An `xs:dateTime`. One without a zone is taken as UTC.
fn read_date(text: &str) -> Option<DateTime<Utc>> {
    let text = text.trim();
    let zoned = DateTime::parse_from_rfc3339(text).map(|date| date.to_utc());
    zoned
        .or_else(|_| text.parse::<NaiveDateTime>().map(|date| date.and_utc()))
        .ok()
}
