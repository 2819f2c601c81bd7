//! Writing ASC MHL lists, in the order of elements that the schema asks for [X].

use chrono::{DateTime, SecondsFormat, Utc};

use super::LIST_KINDS;
use super::model::{
    Author, FileRecord, FolderRecord, Head, Manifest, Pair, Record, Reference, Value,
};
use super::read::{NAMESPACE, VERSION};

/// The first line of every document.
pub const DECLARATION: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";

/// A whole list.
pub fn manifest_text(manifest: &Manifest) -> String {
    let has_records = !manifest.records.is_empty();
    let mut text = head_text(&manifest.head, has_records);
    for record in &manifest.records {
        record_text(record, &mut text);
    }
    text.push_str(&tail_text(&manifest.references, has_records));
    text
}

/// Everything before the first record. `has_records` says whether any will follow.
pub fn head_text(head: &Head, has_records: bool) -> String {
    let mut out = Lines::new(DECLARATION);
    out.open(
        0,
        &format!("hashlist version=\"{VERSION}\" xmlns=\"{NAMESPACE}\""),
    );
    let creator = &head.creator;
    out.open(1, "creatorinfo");
    out.text(2, "creationdate", &[], &date_text(creator.date));
    out.text(2, "hostname", &[], &creator.host);
    let version = creator.tool_version.as_deref();
    out.text(2, "tool", &[("version", version)], &creator.tool);
    for author in &creator.authors {
        let email = author.email.as_deref().filter(|email| is_email(email));
        let Author {
            name, phone, role, ..
        } = author;
        let attributes = [
            ("email", email),
            ("phone", phone.as_deref()),
            ("role", role.as_deref()),
        ];
        out.text(2, "author", &attributes, name);
    }
    let rest = [
        ("location", &creator.location),
        ("comment", &creator.comment),
    ];
    for (name, text) in rest {
        if let Some(text) = text {
            out.text(2, name, &[], text);
        }
    }
    out.close(1, "creatorinfo");
    out.open(1, "processinfo");
    out.text(2, "process", &[], head.process.name());
    if let Some(root) = &head.root {
        out.open(2, "roothash");
        out.pair(3, root);
        out.close(2, "roothash");
    }
    if !head.ignore.is_empty() {
        out.open(2, "ignore");
        for pattern in &head.ignore {
            out.text(3, "pattern", &[], pattern);
        }
        out.close(2, "ignore");
    }
    out.close(1, "processinfo");
    if has_records {
        out.open(1, "hashes");
    }
    out.0
}

/// Adds one record.
pub fn record_text(record: &Record, text: &mut String) {
    let mut out = Lines(std::mem::take(text));
    match record {
        Record::File(file) => out.file(file),
        Record::Folder(folder) => out.folder(folder),
    }
    *text = out.0;
}

/// Everything after the last record.
pub fn tail_text(references: &[Reference], has_records: bool) -> String {
    let mut out = Lines::new("");
    if has_records {
        out.close(1, "hashes");
    }
    if !references.is_empty() {
        out.open(1, "references");
        for reference in references {
            out.open(2, "hashlistreference");
            out.text(3, "path", &[], &reference.path);
            out.text(3, "c4", &[], &reference.c4.text());
            out.close(2, "hashlistreference");
        }
        out.close(1, "references");
    }
    out.close(0, "hashlist");
    out.0
}

/// As published lists write it, in UTC.
pub fn date_text(date: DateTime<Utc>) -> String {
    date.to_rfc3339_opts(SecondsFormat::AutoSi, false)
}

/// The schema's pattern `[^@]+@[^\.]+\..+`; another address would make the list invalid.
pub fn is_email(text: &str) -> bool {
    text.split_once('@').is_some_and(|(name, host)| {
        let (first, rest) = host.split_once('.').unwrap_or((host, ""));
        let one_line = !text.contains(['\n', '\r']);
        one_line && !name.is_empty() && !first.is_empty() && !rest.is_empty()
    })
}

/// Lines with their indentation.
pub struct Lines(pub String);

impl Lines {
    pub fn new(start: &str) -> Self {
        Self(start.to_owned())
    }

    pub fn open(&mut self, level: usize, tag: &str) {
        self.indent(level);
        self.0.push_str(&format!("<{tag}>\n"));
    }

    pub fn close(&mut self, level: usize, name: &str) {
        self.indent(level);
        self.0.push_str(&format!("</{name}>\n"));
    }

    pub fn text(
        &mut self,
        level: usize,
        name: &str,
        attributes: &[(&str, Option<&str>)],
        text: &str,
    ) {
        self.indent(level);
        self.0.push('<');
        self.0.push_str(name);
        for (attribute, value) in attributes {
            if let Some(value) = value {
                self.0.push_str(&format!(" {attribute}=\""));
                escape(value, true, &mut self.0);
                self.0.push('"');
            }
        }
        self.0.push('>');
        escape(text, false, &mut self.0);
        self.0.push_str(&format!("</{name}>\n"));
    }

    fn indent(&mut self, level: usize) {
        self.0.extend(std::iter::repeat_n("  ", level));
    }

    fn values(&mut self, level: usize, values: &[Value]) {
        for kind in LIST_KINDS {
            for value in values.iter().filter(|value| value.digest.kind() == kind) {
                let date = value.date.map(date_text);
                let action = value.action.map(|action| action.name());
                let attributes = [("action", action), ("hashdate", date.as_deref())];
                self.text(level, kind.name(), &attributes, &value.digest.text());
            }
        }
    }

    fn pair(&mut self, level: usize, pair: &Pair) {
        for (name, values) in [("content", &pair.content), ("structure", &pair.structure)] {
            self.open(level, name);
            self.values(level + 1, values);
            self.close(level, name);
        }
    }

    fn file(&mut self, file: &FileRecord) {
        self.open(2, "hash");
        let size = file.size.map(|size| size.to_string());
        let (created, modified) = (file.created.map(date_text), file.modified.map(date_text));
        let attributes = [
            ("size", size.as_deref()),
            ("creationdate", created.as_deref()),
            ("lastmodificationdate", modified.as_deref()),
        ];
        self.text(3, "path", &attributes, &file.path);
        self.values(3, &file.values);
        if let Some(previous) = &file.previous {
            self.text(3, "previousPath", &[], previous);
        }
        self.close(2, "hash");
    }

    fn folder(&mut self, folder: &FolderRecord) {
        self.open(2, "directoryhash");
        let (created, modified) = (
            folder.created.map(date_text),
            folder.modified.map(date_text),
        );
        let attributes = [
            ("creationdate", created.as_deref()),
            ("lastmodificationdate", modified.as_deref()),
        ];
        self.text(3, "path", &attributes, &folder.path);
        self.pair(3, &folder.pair);
        if let Some(previous) = &folder.previous {
            self.text(3, "previousPath", &[], previous);
        }
        self.close(2, "directoryhash");
    }
}

/// Escapes what XML needs. White space that a reader would change is written as a reference.
/// Characters that XML cannot write at all ([`super::names::forbidden`]) are for the caller to keep out;
/// here they become the replacement character, so that the document stays well-formed.
fn escape(text: &str, is_attribute: bool, out: &mut String) {
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' if is_attribute => out.push_str("&quot;"),
            '\r' => out.push_str("&#13;"),
            '\n' => out.push_str("&#10;"),
            '\t' if is_attribute => out.push_str("&#9;"),
            c if super::names::is_xml(c) => out.push(c),
            _ => out.push('\u{fffd}'),
        }
    }
}
