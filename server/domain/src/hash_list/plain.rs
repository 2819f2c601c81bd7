//! Plain lists, a line a file, as `md5sum`, `sha1sum`, `sha256sum` and `xxhsum` write and check them: digest
//! first, or `TYPE (name) = digest`. Names are bytes: these lists can hold what XML cannot.
//!
//! Sources: GNU coreutils manual, "md5sum invocation" (forms, the backslash in front of a line whose name
//! has one, or a line break); xxhsum(1) of xxHash 0.8 (its types and the prefix of XXH3).

use std::io::{self, BufRead};

use serde::Serialize;

use super::digest::Digest;
use crate::hashes::HashKind;

/// The longest line that is read.
const LINE_LIMIT: u64 = 1 << 20;

/// One line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlainEntry {
    /// Number of the line, from 1.
    pub line: u64,
    /// The name, relative to the folder, `/` between the parts.
    pub name: Vec<u8>,
    /// What the digest may be: several where neither the line nor the list says which of two types of the
    /// same length it is. The file is right when one of them agrees.
    pub one_of: Vec<Digest>,
}

/// A line that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LineFault {
    /// Its number, from 1.
    pub line: u64,
    /// Why.
    pub reason: String,
}

/// A list that was read to its end.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct PlainList {
    /// In order.
    pub entries: Vec<PlainEntry>,
    /// Lines that say nothing this program understands: with one of them the answer is not whole.
    pub faults: Vec<LineFault>,
}

/// Reads a list. `kind` is the type of lines that do not say their own, where it is known from outside
/// (an argument, or the list's name by [`kind_of_name`]).
///
/// # Errors
/// When reading fails, or the text is no list of lines at all (a line of more than a mebibyte, UTF-16).
pub fn read_plain(mut reader: impl BufRead, kind: Option<HashKind>) -> io::Result<PlainList> {
    let mut list = PlainList::default();
    let mut bytes = Vec::new();
    let mut number = 0;
    let mut has_carriage_returns = false;
    loop {
        bytes.clear();
        io::Read::take(&mut reader, LINE_LIMIT).read_until(b'\n', &mut bytes)?;
        if bytes.is_empty() {
            return Ok(list);
        }
        let ended = bytes.pop_if(|last| *last == b'\n').is_some();
        let invalid = |text| io::Error::new(io::ErrorKind::InvalidData, text);
        if !ended && bytes.len() as u64 >= LINE_LIMIT {
            return Err(invalid(
                "it has a line of more than a mebibyte; it is no list",
            ));
        }
        number += 1;
        if number == 1 {
            if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
                return Err(invalid("it is written in UTF-16; save it as UTF-8"));
            }
            if bytes.starts_with(&[0xef, 0xbb, 0xbf]) {
                bytes.drain(..3);
            }
            has_carriage_returns = bytes.last() == Some(&b'\r');
        }
        if has_carriage_returns {
            bytes.pop_if(|last| *last == b'\r');
        }
        if bytes.is_empty() || bytes.starts_with(b"#") {
            continue;
        }
        match read_line(&bytes, kind) {
            Ok((name, one_of)) => list.entries.push(PlainEntry {
                line: number,
                name,
                one_of,
            }),
            Err(reason) => list.faults.push(LineFault {
                line: number,
                reason,
            }),
        }
    }
}

/// The type that a list's own name tells: `MD5SUMS`, `card.xxh128`, `list.sha1.txt`.
pub fn kind_of_name(name: &str) -> Option<HashKind> {
    let name = name.to_ascii_lowercase().replace(['-', '_'], "");
    // C4 is left out: two characters stand in many a name
    let mut kinds = HashKind::ALL
        .into_iter()
        .filter(|kind| *kind != HashKind::C4);
    kinds.find(|kind| name.contains(kind.name()))
}

fn read_line(line: &[u8], kind: Option<HashKind>) -> Result<(Vec<u8>, Vec<Digest>), String> {
    if line.contains(&0) {
        return Err("it holds a zero byte; lists written with --zero are not read".to_owned());
    }
    let (is_escaped, line) = line
        .strip_prefix(b"\\")
        .map_or((false, line), |rest| (true, rest));
    let (name, one_of) = match read_tagged(line)? {
        Some(read) => read,
        None => read_untagged(line, kind)?,
    };
    let name = if is_escaped {
        unescape(name)?
    } else {
        name.to_vec()
    };
    Ok((relative(&name)?, one_of))
}

/// A name as it stands in a line, and what its digest may be.
type NamedDigests<'a> = (&'a [u8], Vec<Digest>);

/// `TYPE (name) = digest`; `None` when the line has another form.
fn read_tagged(line: &[u8]) -> Result<Option<NamedDigests<'_>>, String> {
    let Some(open) = find(line, b" (") else {
        return Ok(None);
    };
    let Some(close) = rfind(line, b") = ").filter(|close| *close >= open + 2) else {
        return Ok(None);
    };
    let tag = String::from_utf8_lossy(&line[..open]);
    let is_word = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '/');
    if tag.is_empty() || !tag.chars().all(is_word) {
        return Ok(None);
    }
    let kind: HashKind = match &*tag {
        "XXH3_64" => HashKind::Xxh3,
        "XXH3_128" => HashKind::Xxh128,
        tag => tag.parse().map_err(|error| format!("{error}"))?,
    };
    let text = String::from_utf8_lossy(&line[close + 4..]);
    let digest = Digest::from_text(kind, text.trim_end()).map_err(|error| error.to_string())?;
    Ok(Some((&line[open + 2..close], vec![digest])))
}

/// `digest  name` or `digest *name`.
fn read_untagged(line: &[u8], kind: Option<HashKind>) -> Result<NamedDigests<'_>, String> {
    const FORM: &str = "it has neither the form \"digest  name\" nor \"TYPE (name) = digest\"";
    let space = line.iter().position(|c| *c == b' ').ok_or(FORM)?;
    let name = match &line[space + 1..] {
        [b' ' | b'*', name @ ..] if !name.is_empty() => name,
        _ => return Err(FORM.to_owned()),
    };
    let text = std::str::from_utf8(&line[..space]).map_err(|_not_text| FORM.to_owned())?;
    let (kinds, text): (Vec<HashKind>, &str) = match text.strip_prefix("XXH3_") {
        Some(text) => (vec![HashKind::Xxh3], text),
        None => {
            let fits = |known: &HashKind| {
                known.text_length() == text.len()
                    && (*known == HashKind::C4) == text.starts_with("c4")
            };
            let by_length = HashKind::ALL.into_iter().filter(fits);
            match kind.filter(|kind| kind.text_length() == text.len()) {
                Some(kind) => (vec![kind], text),
                None => (by_length.collect(), text),
            }
        }
    };
    if kinds.is_empty() {
        return Err(format!(
            "no hash type that this program knows has digests of {} characters",
            text.len()
        ));
    }
    let digests = kinds.into_iter().map(|kind| Digest::from_text(kind, text));
    let digests: Result<Vec<Digest>, _> = digests.collect();
    Ok((name, digests.map_err(|error| error.to_string())?))
}

fn unescape(name: &[u8]) -> Result<Vec<u8>, String> {
    let mut bytes = name.iter();
    let mut plain = Vec::with_capacity(name.len());
    while let Some(byte) = bytes.next() {
        plain.push(match byte {
            b'\\' => match bytes.next() {
                Some(b'n') => b'\n',
                Some(b'r') => b'\r',
                Some(b'\\') => b'\\',
                _ => return Err("a backslash in its name stands before nothing known".to_owned()),
            },
            byte => *byte,
        });
    }
    Ok(plain)
}

/// A name without `./` in front; refused when it is no path below the folder.
fn relative(name: &[u8]) -> Result<Vec<u8>, String> {
    let mut name = name;
    while let Some(rest) = name.strip_prefix(b"./") {
        name = rest;
    }
    if name.starts_with(b"/") {
        return Err("its path is not relative to a folder".to_owned());
    }
    let mut parts = name.split(|c| *c == b'/');
    if name.is_empty() || parts.any(|part| matches!(part, b"" | b"." | b"..")) {
        return Err("its path does not stay inside the folder".to_owned());
    }
    Ok(name.to_vec())
}

fn find(bytes: &[u8], wanted: &[u8]) -> Option<usize> {
    bytes
        .windows(wanted.len())
        .position(|window| window == wanted)
}

fn rfind(bytes: &[u8], wanted: &[u8]) -> Option<usize> {
    bytes
        .windows(wanted.len())
        .rposition(|window| window == wanted)
}

/// One line of a list, with its end. `tagged` writes the type in front.
pub fn plain_line(digest: &Digest, name: &[u8], tagged: bool) -> Vec<u8> {
    let special = |c: &u8| matches!(c, b'\\' | b'\n' | b'\r');
    let mut line = Vec::with_capacity(name.len() + 100);
    let mut escaped = Vec::new();
    let mut name = name;
    if name.iter().any(special) {
        line.push(b'\\');
        for byte in name {
            match byte {
                b'\\' => escaped.extend(b"\\\\"),
                b'\n' => escaped.extend(b"\\n"),
                b'\r' => escaped.extend(b"\\r"),
                byte => escaped.push(*byte),
            }
        }
        name = &escaped;
    }
    let text = digest.text();
    if tagged {
        line.extend(digest.kind().name().to_ascii_uppercase().as_bytes());
        line.extend(b" (");
        line.extend(name);
        line.extend(b") = ");
        line.extend(text.as_bytes());
    } else {
        if digest.kind() == HashKind::Xxh3 {
            line.extend(b"XXH3_");
        }
        line.extend(text.as_bytes());
        line.extend(b"  ");
        line.extend(name);
    }
    line.push(b'\n');
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 1321, appendix A.5.
    const ABC: &str = "900150983cd24fb0d6963f7d28e17f72";

    fn read(text: &str) -> PlainList {
        read_plain(text.as_bytes(), Some(HashKind::Md5)).expect("a list")
    }

    #[test]
    fn both_forms_say_the_same() {
        let forms = [
            format!("{ABC}  a b.mov\n"),
            format!("{} *a b.mov", ABC.to_uppercase()),
            format!("MD5 (a b.mov) = {ABC}\r\n"),
            format!("\u{feff}# a note\n\n{ABC}  ./a b.mov\n"),
        ];
        for form in forms {
            let list = read(&form);
            assert_eq!(list.faults, [], "{form}");
            assert_eq!(list.entries.len(), 1, "{form}");
            assert_eq!(list.entries[0].name, b"a b.mov", "{form}");
            assert_eq!(list.entries[0].one_of[0].text(), ABC, "{form}");
        }
    }

    #[test]
    fn odd_names_come_back() {
        let digest = Digest::from_text(HashKind::Md5, ABC).expect("a digest");
        let names: [&[u8]; 6] = [
            b"a\nb",
            b"a\\nb\r",
            b"\xff\xfe",
            b"x) = y",
            b" (z",
            b"MD5 (q) = ",
        ];
        for name in names {
            for tagged in [false, true] {
                let line = plain_line(&digest, name, tagged);
                assert_eq!(line.iter().filter(|c| **c == b'\n').count(), 1);
                let list = read_plain(line.as_slice(), Some(HashKind::Md5)).expect("a list");
                assert_eq!(list.faults, []);
                assert_eq!(list.entries[0].name, name);
            }
        }
    }

    #[test]
    fn what_is_not_understood_is_a_fault_of_its_line() {
        let text = format!(
            "{ABC}  good\nCRC32 (x) = 12345678\n12345678  y\n{ABC} z\n{ABC}  ../w\n{ABC}  /v\nhello\n"
        );
        let list = read(&text);
        assert_eq!(list.entries.len(), 1);
        let lines: Vec<u64> = list.faults.iter().map(|fault| fault.line).collect();
        assert_eq!(lines, [2, 3, 4, 5, 6, 7]);
    }

    #[test]
    fn a_length_of_two_types_leaves_both_open() {
        let list = read_plain(format!("{ABC}  x\n").as_bytes(), None).expect("a list");
        let kinds: Vec<_> = list.entries[0].one_of.iter().map(Digest::kind).collect();
        assert_eq!(kinds, [HashKind::Xxh128, HashKind::Md5]);
        assert_eq!(kind_of_name("MD5SUMS"), Some(HashKind::Md5));
        assert_eq!(kind_of_name("card-7.SHA-256.txt"), Some(HashKind::Sha256));
        assert_eq!(kind_of_name("list.txt"), None);
    }
}
