//! Captions that name people, against the names that those people confirmed (R36).
//!
//! Letter by letter: Unicode-normalised (NFC), accents kept, case as given. What somebody asked to be named as takes
//! the place of the confirmed name.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;
use utoipa::ToSchema;

use crate::timecode::Rate;
use crate::wording::{and_list, date_words};

/// Most captions that one cut may have.
pub const MOST: usize = 2000;

/// Text on screen in a range of a cut.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Caption {
    /// First frame, counted from 00:00:00:00.
    pub record_in: i64,
    /// First frame after it.
    pub record_out: i64,
    /// As it stands on screen; the name on the first line, a role on the next.
    pub text: String,
    /// Id of the person that it names. None: nobody said, unless it names nobody.
    #[serde(default)]
    #[schema(required)]
    pub person: Option<String>,
    /// It names nobody: a place, a year, a translation.
    #[serde(default)]
    pub names_nobody: bool,
}

/// A person as far as captions go.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Nameable {
    pub id: String,
    /// Name as credited.
    pub credited_name: String,
    /// Who confirmed it; empty: nobody.
    pub confirmed_by: String,
    pub confirmed_on: Option<NaiveDate>,
    /// Whether it is written down how to tell them from others.
    pub told_apart: bool,
    /// Names that they agreed to be named by, and by no other.
    pub only_as: Vec<String>,
    /// Asked not to be named.
    pub unnamed: bool,
    /// Where they are seen or heard in the cut, frames as in a caption. None: not looked up.
    pub uses: Option<Vec<(i64, i64)>>,
}

/// What is wrong with a caption.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum CaptionFault {
    /// Nobody said whom it names.
    PersonNotSaid,
    /// They asked not to be named.
    MustNotBeNamed,
    /// They agreed to be named otherwise.
    OtherNameAgreed,
    /// The letters are not those of the name.
    Differs,
    /// The person has not confirmed the name, or nobody wrote down who did and when.
    NotConfirmed,
    /// Two people have this name, and nothing tells them apart.
    TwoOfThatName,
    /// The person is not logged in the picture or sound there.
    NotThere,
    /// It lies outside the cut.
    OutsideTheCut,
}

/// A fault in a sentence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CaptionFinding {
    pub fault: CaptionFault,
    pub sentence: String,
}

/// The name that a caption shows: its first line that is not blank.
pub fn name_shown(text: &str) -> &str {
    let mut lines = text.lines().map(str::trim);
    lines.find(|line| !line.is_empty()).unwrap_or("")
}

/// Whether a caption's first line shows this name: the whole line, or the name and then a role behind a comma, a bar,
/// a colon or a dash (R36).
///
/// ```
/// use waybill_domain::captions::shows_name;
/// assert!(shows_name("M\u{fc}ller", "Mu\u{308}ller")); // NFC
/// assert!(shows_name("Ada Quill, harbour master", "Ada Quill"));
/// assert!(!shows_name("Muller", "M\u{fc}ller")); // R36's example
/// assert!(!shows_name("ada quill", "Ada Quill"));
/// ```
pub fn shows_name(text: &str, name: &str) -> bool {
    let (shown, name) = (nfc(name_shown(text)), nfc(name.trim()));
    let Some(rest) = shown.strip_prefix(&name) else {
        return false;
    };
    let rest_begins = rest.trim_start().chars().next();
    let spaced = rest.starts_with(char::is_whitespace);
    match rest_begins {
        None => !name.is_empty(),
        Some(',' | '|' | ':') => true,
        // A hyphen without spaces is part of a name.
        Some('-' | '–' | '—' | '·' | '(') => spaced,
        Some(_) => false,
    }
}

fn nfc(text: &str) -> String {
    text.nfc().collect()
}

/// Letters without accents, case and spaces: to find out how two spellings differ, never to call them equal.
fn bare(text: &str) -> String {
    text.nfkd()
        .filter(|c| !is_combining_mark(*c) && !c.is_whitespace())
        .flat_map(char::to_lowercase)
        .collect()
}

/// How a shown name differs from a name: "accents", "capitals", "spaces".
fn difference(shown: &str, name: &str) -> String {
    let (shown, name) = (nfc(before_role(shown)), nfc(name));
    if bare(&shown) != bare(&name) {
        return "other letters".into();
    }
    let letters = |text: &str| -> String {
        text.nfd()
            .filter(|c| !is_combining_mark(*c) && !c.is_whitespace())
            .collect()
    };
    let spaces = |text: &str| text.chars().filter(|c| c.is_whitespace()).count();
    let all = [
        (accents(&shown) != accents(&name), "accents"),
        (letters(&shown) != letters(&name), "capitals"),
        (spaces(&shown) != spaces(&name), "spaces"),
    ];
    let found: Vec<String> = (all.iter())
        .filter(|(differs, _)| *differs)
        .map(|(_, what)| (*what).to_owned())
        .collect();
    if found.is_empty() {
        return "other letters".into();
    }
    and_list(&found)
}

/// A line without the role behind a comma, a bar or a colon.
fn before_role(shown: &str) -> &str {
    shown.split([',', '|', ':']).next().unwrap_or(shown).trim()
}

fn accents(text: &str) -> String {
    text.nfd().filter(|c| is_combining_mark(*c)).collect()
}

/// Everything that is wrong with a caption, worst first (R36, R23).
pub fn findings(
    caption: &Caption,
    people: &[Nameable],
    cut: Option<(i64, i64)>,
) -> Vec<CaptionFinding> {
    let shown = name_shown(&caption.text);
    let mut out = Vec::new();
    let mut find = |fault, sentence| out.push(CaptionFinding { fault, sentence });
    if cut.is_some_and(|(from, to)| caption.record_in < from || caption.record_out > to) {
        let words = format!("The caption “{shown}” lies outside the cut.");
        find(CaptionFault::OutsideTheCut, words);
    }
    if caption.names_nobody {
        return out;
    }
    let person = caption.person.as_ref();
    let person = person.and_then(|id| people.iter().find(|one| one.id == *id));
    let Some(person) = person else {
        let words = format!("Nobody has said whom the caption “{shown}” names.");
        find(CaptionFault::PersonNotSaid, words);
        return out;
    };
    let name = person.credited_name.trim();
    if person.unnamed {
        let words = format!("{name} asked not to be named, and the caption says “{shown}”.");
        find(CaptionFault::MustNotBeNamed, words);
    }
    if person.only_as.is_empty() {
        spelling(caption, person, people, &mut find);
    } else if !person
        .only_as
        .iter()
        .any(|only| shows_name(&caption.text, only))
    {
        let agreed: Vec<String> = person
            .only_as
            .iter()
            .map(|one| format!("“{one}”"))
            .collect();
        let words = format!(
            "{name} agreed to be named only as {}, and the caption says “{shown}”.",
            and_list(&agreed)
        );
        find(CaptionFault::OtherNameAgreed, words);
    }
    let there = |uses: &Vec<(i64, i64)>| {
        (uses.iter()).any(|(from, to)| *from < caption.record_out && caption.record_in < *to)
    };
    if person.uses.as_ref().is_some_and(|uses| !there(uses)) {
        let words = format!(
            "The caption “{shown}” names {name}, whom nobody has logged in the picture there."
        );
        find(CaptionFault::NotThere, words);
    }
    out.sort_by_key(|finding| finding.fault);
    out
}

/// The confirmed name, letter by letter, and whose name it is.
fn spelling(
    caption: &Caption,
    person: &Nameable,
    people: &[Nameable],
    find: &mut impl FnMut(CaptionFault, String),
) {
    let (shown, name) = (name_shown(&caption.text), person.credited_name.trim());
    if !shows_name(&caption.text, name) {
        let words = format!(
            "The caption says “{shown}”; the name as credited is “{name}” ({} differ).",
            difference(shown, name)
        );
        find(CaptionFault::Differs, words);
    }
    let by = person.confirmed_by.trim();
    let missing = match (by, person.confirmed_on) {
        ("", None) => Some("nobody has confirmed the spelling".to_owned()),
        ("", Some(day)) => Some(format!(
            "the spelling was confirmed on {}, nobody wrote down by whom",
            date_words(day)
        )),
        (by, None) => Some(format!(
            "the spelling was confirmed by {by}, nobody wrote down when"
        )),
        (_, Some(_)) => None,
    };
    if let Some(missing) = missing {
        let words = format!("“{name}” is on screen and {missing}.");
        find(CaptionFault::NotConfirmed, words);
    }
    let namesakes = (people.iter())
        .filter(|other| other.id != person.id && nfc(other.credited_name.trim()) == nfc(name))
        .count();
    if namesakes > 0 && !person.told_apart {
        let words = format!(
            "{} people here are called “{name}”, and it is not written down how to tell this one from the others.",
            namesakes + 1
        );
        find(CaptionFault::TwoOfThatName, words);
    }
}

/// The person whom a text most likely names: the one of exactly that name; else the only one whose name differs in
/// accents, capitals or spaces alone. A proposal; somebody decides.
pub fn proposed<'a>(text: &str, people: &'a [Nameable]) -> Option<&'a Nameable> {
    let only = |mut found: Vec<&'a Nameable>| (found.len() == 1).then(|| found.remove(0));
    let names = |one: &Nameable| {
        let agreed = one.only_as.iter().any(|only| shows_name(text, only));
        agreed || shows_name(text, &one.credited_name)
    };
    let exact: Vec<&Nameable> = people.iter().filter(|one| names(one)).collect();
    if !exact.is_empty() {
        return only(exact);
    }
    let (whole, part) = (bare(name_shown(text)), bare(before_role(name_shown(text))));
    let near = |one: &&Nameable| {
        let name = bare(&one.credited_name);
        !name.is_empty() && (name == whole || name == part)
    };
    only(people.iter().filter(near).collect())
}

/// A line that can't be read as a caption.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {fault}")]
pub struct LineFault {
    /// From 1.
    pub line: usize,
    pub fault: String,
}

/// Captions from pasted lines: in, out, name and, if any, role, apart by tabs or bars; from a spreadsheet or
/// typed. A semicolon is part of a drop-frame timecode.
///
/// # Errors
/// Every line that can't be read, with what is wrong and what is expected.
pub fn read_lines(text: &str, rate: Rate) -> Result<Vec<Caption>, Vec<LineFault>> {
    let (mut captions, mut faults) = (Vec::new(), Vec::new());
    for (at, line) in text.lines().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        match read_line(line, rate) {
            Ok(caption) => captions.push(caption),
            Err(fault) => faults.push(LineFault {
                line: at + 1,
                fault,
            }),
        }
    }
    if captions.len() > MOST {
        faults.push(LineFault {
            line: MOST + 1,
            fault: format!("more than {MOST} captions; a cut has at most so many"),
        });
    }
    if faults.is_empty() {
        Ok(captions)
    } else {
        Err(faults)
    }
}

fn read_line(line: &str, rate: Rate) -> Result<Caption, String> {
    let by = ['\t', '|'].into_iter().find(|c| line.contains(*c));
    let parts: Vec<&str> = match by {
        Some(by) => line.split(by).map(str::trim).collect(),
        // Plain text: two timecodes, then the words.
        None => line
            .trim()
            .splitn(3, char::is_whitespace)
            .map(str::trim)
            .collect(),
    };
    let [from, to, words @ ..] = &parts[..] else {
        return Err("a caption is in, out and name, apart by tabs or bars".into());
    };
    let words: Vec<&str> = (words.iter().copied())
        .filter(|part| !part.is_empty())
        .collect();
    if words.is_empty() {
        return Err("there is no text after the two timecodes".into());
    }
    let frame = |label: &str| {
        rate.frame(label)
            .map_err(|error| format!("“{label}” is no timecode of this cut: {error}"))
    };
    let record_in = frame(from)?;
    let record_out = frame(to)?;
    if record_out <= record_in {
        return Err(format!(
            "the caption ends at {to}, not after its beginning at {from}"
        ));
    }
    Ok(Caption {
        record_in,
        record_out,
        text: words.join("\n"),
        person: None,
        names_nobody: false,
    })
}

#[cfg(test)]
mod tests;
