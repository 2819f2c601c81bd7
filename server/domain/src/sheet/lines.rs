//! What takes a line each in a cell: conditions of a release, parties to a piece of music.

use serde_json::{Value, json};
use uuid::Uuid;

use super::cell::{Cell, fold};
use super::kinds::Named;
use super::names::{Context, KEPT, Names};
use super::{dates, lists};
use crate::music::shares::{Party, PartyRole, percent};
use crate::rights::release::Restriction;

/// Conditions without more to say, and the words for them, ours first. Theirs are from memory.
const PLAIN: [(Restriction, &[&str]); 4] = [
    (
        Restriction::BlurFace,
        &[
            "blur face",
            "blur the face",
            "face blurred",
            "blur",
            "blurred",
        ],
    ),
    (
        Restriction::ChangeVoice,
        &[
            "change voice",
            "change the voice",
            "voice changed",
            "disguise voice",
        ],
    ),
    (
        Restriction::NoName,
        &["no name", "name not shown", "not named", "do not name"],
    ),
    (
        Restriction::NoPromotion,
        &[
            "no promotion",
            "no promo",
            "no trailers",
            "not in trailers",
            "no publicity",
        ],
    ),
];

/// The lines of a cell; in one line, what semicolons part where the whole is not known.
fn lines(text: &str) -> Vec<&str> {
    let split: Vec<&str> = text.lines().map(str::trim).collect();
    split.into_iter().filter(|line| !line.is_empty()).collect()
}

/// Conditions of a release. What is none of the known ones is kept in its words.
///
/// # Errors
/// What can't be read, in words.
pub fn restrictions(text: &str, context: &Context<'_>) -> Result<Value, String> {
    let lines = lines(text);
    let parted: Vec<&str> = match lines.as_slice() {
        [one] if plain_list(one) => lists::parts(one, None),
        _ => lines,
    };
    let all: Result<Vec<Restriction>, String> = parted
        .into_iter()
        .map(|line| restriction(line, context))
        .collect();
    serde_json::to_value(all?).map_err(|error| error.to_string())
}

/// Whether one line holds nothing but plain conditions, parted by semicolons.
fn plain_list(line: &str) -> bool {
    lists::parts(line, None)
        .iter()
        .all(|part| plain(part).is_some())
}

fn plain(line: &str) -> Option<Restriction> {
    let folded = fold(line);
    let mut all = PLAIN.into_iter();
    all.find(|(_, words)| words.contains(&folded.as_str()))
        .map(|(restriction, _)| restriction)
}

fn restriction(line: &str, context: &Context<'_>) -> Result<Restriction, String> {
    if let Some(found) = plain(line) {
        return Ok(found);
    }
    let day = |text: &str| {
        dates::read(&Cell::text(text), context.days)?
            .ok_or_else(|| format!("“{line}” lacks its date."))
    };
    let after = |start: &str| -> Option<&str> {
        let head = line.get(..start.len())?;
        head.eq_ignore_ascii_case(start)
            .then(|| line[start.len()..].trim())
    };
    if let Some(rest) = after("named as ") {
        let name = rest.to_owned();
        return Ok(Restriction::NamedAs { name });
    }
    if let Some(rest) = after("not before ") {
        return Ok(Restriction::NotBefore { date: day(rest)? });
    }
    if let Some(rest) = after("not after ") {
        return Ok(Restriction::NotAfter { date: day(rest)? });
    }
    if let Some(rest) = after("not in media ") {
        let media = lists::media(rest, None)?;
        return Ok(Restriction::NotInMedia { media });
    }
    if let Some(rest) = after("not in ") {
        return match lists::territories(rest, None, context.names.groups()) {
            Ok(territories) => Ok(Restriction::NotIn { territories }),
            Err(words) => lists::media(rest, None)
                .map(|media| Restriction::NotInMedia { media })
                .map_err(|_media| words),
        };
    }
    if let Some(rest) = after("not beside ") {
        let person = context.names.find(Named::People, rest)?.to_string();
        return Ok(Restriction::NotBeside { person });
    }
    if let Some(rest) = after("approval:") {
        return Ok(Restriction::Approval {
            words: rest.to_owned(),
            approved_on: None,
        });
    }
    if let Some((date, words)) = after("approved on ").and_then(|rest| rest.split_once(':')) {
        return Ok(Restriction::Approval {
            words: words.trim().to_owned(),
            approved_on: Some(day(date)?),
        });
    }
    Ok(Restriction::Other {
        words: after("other:").unwrap_or(line).to_owned(),
    })
}

/// Conditions as a cell, or [`KEPT`] where a line can't say one.
pub fn write_restrictions(value: &Value, names: &Names) -> Cell {
    let Ok(all) = serde_json::from_value::<Vec<Restriction>>(value.clone()) else {
        return Cell::text(if value.is_null() { "" } else { KEPT });
    };
    let lines: Option<Vec<String>> = all
        .iter()
        .map(|one| write_restriction(one, names))
        .collect();
    lines.map_or_else(|| Cell::text(KEPT), |lines| Cell::text(lines.join("\n")))
}

fn write_restriction(one: &Restriction, names: &Names) -> Option<String> {
    if let Some((_, words)) = PLAIN.iter().find(|(plain, _)| plain == one) {
        return words.first().map(|words| (*words).to_owned());
    }
    Some(match one {
        Restriction::NamedAs { name } => format!("named as {}", on_a_line(name)?),
        Restriction::NotIn { territories } => format!("not in {}", territories.join("; ")),
        Restriction::NotInMedia { media } => format!("not in media {}", media.join("; ")),
        Restriction::NotBefore { date } => format!("not before {date}"),
        Restriction::NotAfter { date } => format!("not after {date}"),
        Restriction::NotBeside { person } => {
            let id = Uuid::parse_str(person).ok()?;
            let label = names.known(Named::People, id)?;
            format!("not beside {}", on_a_line(&label)?)
        }
        Restriction::Approval {
            words,
            approved_on: None,
        } => format!("approval: {}", on_a_line(words)?),
        Restriction::Approval {
            words,
            approved_on: Some(day),
        } => format!("approved on {day}: {}", on_a_line(words)?),
        Restriction::Other { words } => format!("other: {}", on_a_line(words)?),
        _ => return None,
    })
}

/// Text that a line can hold and give back.
fn on_a_line(text: &str) -> Option<&str> {
    let fits = !text.is_empty() && text.trim() == text && !text.contains(['\n', '\r']);
    fits.then_some(text)
}

const ROLES: [PartyRole; 9] = [
    PartyRole::Composer,
    PartyRole::Author,
    PartyRole::ComposerAuthor,
    PartyRole::Arranger,
    PartyRole::Translator,
    PartyRole::Publisher,
    PartyRole::SubPublisher,
    PartyRole::Performer,
    PartyRole::RecordingOwner,
];

/// Parties to a piece of music, a line each: `Ann Lee; composer; 50 %; society TIDE; IPI 00012345678`.
///
/// # Errors
/// The line that can't be read, and what it should hold.
pub fn parties(text: &str) -> Result<Value, String> {
    let all: Result<Vec<Party>, String> = lines(text).into_iter().map(party).collect();
    Ok(json!(all?))
}

fn party(line: &str) -> Result<Party, String> {
    let shown: String = line.chars().take(80).collect();
    let mut parts = line.split(';').map(str::trim);
    let name = parts.next().unwrap_or_default().to_owned();
    let (mut role, mut share) = (None, None);
    let (mut society, mut ipi) = (String::new(), String::new());
    for part in parts.filter(|part| !part.is_empty()) {
        let folded = fold(part);
        let digits: String = part.chars().filter(char::is_ascii_digit).collect();
        if let Some(found) = role_of(&folded) {
            role = Some(found);
        } else if let Some(rest) = part.strip_prefix("IPI ") {
            rest.trim().clone_into(&mut ipi);
        } else if let Some(rest) = part.strip_prefix("society ") {
            rest.trim().clone_into(&mut society);
        } else if part.ends_with('%') {
            share = Some(hundredths(part).ok_or_else(|| {
                format!("“{part}” in “{shown}” is no share. Write for instance 50 % or 33.33 %.")
            })?);
        } else if (9..=11).contains(&digits.len()) && digits.len() == part.len() {
            ipi = digits;
        } else if society.is_empty() && !part.starts_with(|c: char| c.is_ascii_digit()) {
            part.clone_into(&mut society);
        } else {
            return Err(format!(
                "“{part}” in “{shown}” can't be read. A line is: name; what they are; share such as 50 %; society; IPI number."
            ));
        }
    }
    let role = role.ok_or_else(|| {
        let words: Vec<&str> = ROLES.iter().map(|role| role.words()).collect();
        format!(
            "“{shown}” lacks what they are to the piece: {}. A line is: name; what they are; share such as 50 %; society; IPI number.",
            words.join(", ")
        )
    })?;
    Ok(Party {
        name,
        role,
        society,
        ipi,
        share,
    })
}

fn role_of(folded: &str) -> Option<PartyRole> {
    let own = ROLES.into_iter().find(|role| fold(role.words()) == folded);
    own.or(match folded {
        "lyricist" | "lyrics" | "words" => Some(PartyRole::Author),
        "music" => Some(PartyRole::Composer),
        "composer author" | "music and words" => Some(PartyRole::ComposerAuthor),
        "sub publisher" | "subpublisher" => Some(PartyRole::SubPublisher),
        "artist" | "band" => Some(PartyRole::Performer),
        "label" | "record label" | "master owner" | "recording owner" => {
            Some(PartyRole::RecordingOwner)
        }
        _ => None,
    })
}

/// `33.33 %` as 3,333.
fn hundredths(text: &str) -> Option<u32> {
    let number = text.trim_end_matches('%').trim().replace(',', ".");
    let (whole, rest) = number.split_once('.').unwrap_or((&number, ""));
    let digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || whole.len() > 3 || rest.len() > 2 || !digits(whole) || !digits(rest) {
        return None;
    }
    let share = whole.parse::<u32>().ok()? * 100 + format!("{rest:0<2}").parse::<u32>().ok()?;
    (share <= 10_000).then_some(share)
}

/// Parties as a cell, or [`KEPT`] where a line can't say one.
pub fn write_parties(value: &Value) -> Cell {
    let Ok(all) = serde_json::from_value::<Vec<Party>>(value.clone()) else {
        return Cell::text(if value.is_null() { "" } else { KEPT });
    };
    let lines: Option<Vec<String>> = all.iter().map(write_party).collect();
    lines.map_or_else(|| Cell::text(KEPT), |lines| Cell::text(lines.join("\n")))
}

fn write_party(party: &Party) -> Option<String> {
    let part = |text: &str| {
        let fits = text.trim() == text && !text.contains([';', '\n', '\r']);
        fits.then(|| text.to_owned())
    };
    let mut parts = vec![
        on_a_line(&part(&party.name)?)?.to_owned(),
        party.role.words().to_owned(),
    ];
    parts.extend(party.share.map(percent));
    if !party.society.is_empty() {
        parts.push(format!("society {}", part(&party.society)?));
    }
    if !party.ipi.is_empty() {
        parts.push(format!("IPI {}", part(&party.ipi)?));
    }
    Some(parts.join("; "))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;
    use crate::sheet::dates::Reading;
    use std::collections::BTreeMap;

    // The words are the interface's own; nothing outside says them.
    #[test]
    fn conditions_and_parties_as_teams_write_them() {
        let mut names = Names::default();
        names.add(Named::People, Uuid::from_u128(4), "Ann Lee", &[]);
        let words = BTreeMap::new();
        let context = Context {
            days: Reading {
                order: None,
                serials: None,
            },
            words: &words,
            names: &names,
            list_sign: None,
        };
        let read = |text: &str| restrictions(text, &context).unwrap();
        assert_eq!(
            read("Blur face; no promo"),
            json!([{"kind": "blur_face"}, {"kind": "no_promotion"}])
        );
        assert_eq!(
            read(
                "not in UK; Ireland\nnot in cinema\nNot before 2029-03-01\nnot beside Ann Lee\nher mother is told first"
            ),
            json!([
                {"kind": "not_in", "territories": ["GB", "IE"]},
                {"kind": "not_in_media", "media": ["cinema"]},
                {"kind": "not_before", "date": "2029-03-01"},
                {"kind": "not_beside", "person": Uuid::from_u128(4)},
                {"kind": "other", "words": "her mother is told first"},
            ])
        );
        assert!(restrictions("not before soon", &context).is_err());
        let party =
            parties("Ann Lee; lyricist; 33,5 %; TIDE; 00012345678\nQuay Music; publisher").unwrap();
        assert_eq!(
            party,
            json!([
                {"name": "Ann Lee", "role": "author", "society": "TIDE", "ipi": "00012345678", "share": 3350},
                {"name": "Quay Music", "role": "publisher", "society": "", "ipi": "", "share": null},
            ])
        );
        assert_eq!(
            write_parties(&party),
            Cell::text(
                "Ann Lee; author; 33.5 %; society TIDE; IPI 00012345678\nQuay Music; publisher"
            )
        );
        // a society's name may end as a share does
        let odd = "Ann Lee; composer; society Tide 5%";
        assert_eq!(write_parties(&parties(odd).unwrap()), Cell::text(odd));
        assert!(
            parties("Ann Lee; 50 %")
                .unwrap_err()
                .contains("lacks what they are")
        );
        assert!(
            parties("Ann Lee; composer; 150 %")
                .unwrap_err()
                .contains("no share")
        );
    }
}
