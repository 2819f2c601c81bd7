//! The rules that many fields share: lengths, control characters, dates in order, names of territories and media,
//! what a grant and a restriction must say.

use chrono::{Datelike, NaiveDate};
use waybill_domain::rights::coverage::Grant;
use waybill_domain::rights::medium;
use waybill_domain::rights::release::Restriction;
use waybill_domain::rights::term::{Starts, Term};
use waybill_domain::rights::territory::{Groups, TerritorySet};

use crate::error::FieldError;

/// Text of at most `most` characters without control characters (line breaks and tabs are fine).
pub fn text(faults: &mut Vec<FieldError>, pointer: &str, value: &str, most: usize) {
    let length = value.chars().count();
    if length > most {
        faults.push(FieldError::new(
            pointer,
            format!("{length} characters; at most {most} fit here."),
        ));
    }
    if value
        .chars()
        .any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
    {
        faults.push(FieldError::new(
            pointer,
            "There is an invisible control character in it; please type it again.",
        ));
    }
}

/// As [`text`], and not empty.
pub fn required(faults: &mut Vec<FieldError>, pointer: &str, value: &str, most: usize) {
    if value.trim().is_empty() {
        faults.push(FieldError::new(pointer, "Please fill this in."));
    }
    text(faults, pointer, value, most);
}

/// `to` is not before `from`; `what` names the earlier date, for the sentence.
pub fn order(
    faults: &mut Vec<FieldError>,
    pointer: &str,
    what: &str,
    from: Option<NaiveDate>,
    to: Option<NaiveDate>,
) {
    if let (Some(from), Some(to)) = (from, to)
        && to < from
    {
        faults.push(FieldError::new(
            pointer,
            format!("{} is before {what} ({}).", date(to), date(from)),
        ));
    }
}

/// Each of a list of texts.
pub fn texts(
    faults: &mut Vec<FieldError>,
    pointer: &str,
    values: &[String],
    most: usize,
    items: usize,
) {
    if values.len() > items {
        faults.push(FieldError::new(
            pointer,
            format!("{} entries; at most {items} fit here.", values.len()),
        ));
    }
    for (at, value) in values.iter().enumerate() {
        required(faults, &format!("{pointer}/{at}"), value, most);
    }
}

/// A date as it is shown everywhere: `9 Jan 2029`.
pub fn date(date: NaiveDate) -> String {
    date.format("%-d %b %Y").to_string()
}

/// A whole number between two, both included.
pub fn within(faults: &mut Vec<FieldError>, pointer: &str, value: i64, least: i64, most: i64) {
    if !(least..=most).contains(&value) {
        faults.push(FieldError::new(
            pointer,
            format!("A whole number from {least} to {most}."),
        ));
    }
}

/// A date of our time: a year mistyped by a thousand would pass every other rule.
pub fn day(faults: &mut Vec<FieldError>, pointer: &str, day: Option<NaiveDate>) {
    if let Some(day) = day
        && !(1850..=2200).contains(&day.year())
    {
        faults.push(FieldError::new(
            pointer,
            format!("The year {} can't be meant.", day.year()),
        ));
    }
}

/// A SHA-256 in hexadecimal digits, as documents are named.
pub fn hash(faults: &mut Vec<FieldError>, pointer: &str, value: Option<&str>) {
    let digit = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
    if value.is_some_and(|value| value.len() != 64 || !value.bytes().all(digit)) {
        faults.push(FieldError::new(
            pointer,
            "This is not the id of a document.",
        ));
    }
}

/// Text that looks like an address on the web must be one that a page may link to.
pub fn link(faults: &mut Vec<FieldError>, pointer: &str, value: &str) {
    let Ok(url) = url::Url::parse(value.trim()) else {
        return;
    };
    if matches!(
        url.scheme(),
        "javascript" | "data" | "vbscript" | "file" | "blob"
    ) {
        faults.push(FieldError::new(
            pointer,
            "Only addresses that begin with http or https are kept.",
        ));
    }
}

/// Whether it may be the name of a group that the team keeps; the database knows which there are.
pub fn may_be_group(code: &str) -> bool {
    (4..=60).contains(&code.chars().count()) && code != "WORLD"
}

/// Codes and regions only, no names of groups.
pub fn codes(faults: &mut Vec<FieldError>, pointer: &str, codes: &[String]) {
    if codes.len() > 300 {
        faults.push(FieldError::new(
            pointer,
            format!("{} territories; at most 300 fit here.", codes.len()),
        ));
    }
    for (at, code) in codes.iter().enumerate().take(300) {
        if let Err(fault) = TerritorySet::parse([code.as_str()], &Groups::new()) {
            faults.push(FieldError::new(
                format!("{pointer}/{at}"),
                format!("{fault}."),
            ));
        }
    }
}

/// Where: `{base}/territories` without `{base}/territories_except`. A name that may be a group's is left to the
/// database (`db::territory_groups::must_exist`).
pub fn territories(faults: &mut Vec<FieldError>, base: &str, codes: &[String], except: &[String]) {
    const MOST: usize = 300;
    let groups = Groups::new();
    let mut sets = [TerritorySet::EMPTY; 2];
    let grouped = codes.iter().chain(except).any(|code| may_be_group(code));
    let before = faults.len();
    for (set, (field, codes)) in sets
        .iter_mut()
        .zip([("territories", codes), ("territories_except", except)])
    {
        if codes.len() > MOST {
            faults.push(FieldError::new(
                format!("{base}/{field}"),
                format!("{} territories; at most {MOST} fit here.", codes.len()),
            ));
            continue;
        }
        for (at, code) in codes.iter().enumerate() {
            match TerritorySet::parse([code.as_str()], &groups) {
                Err(_) if may_be_group(code) => {}
                Ok(one) => *set = set.or(one),
                Err(fault) => faults.push(FieldError::new(
                    format!("{base}/{field}/{at}"),
                    format!("{fault}."),
                )),
            }
        }
    }
    if codes.is_empty() {
        faults.push(FieldError::new(
            format!("{base}/territories"),
            "Name at least one territory, or WORLD.",
        ));
    } else if !grouped && faults.len() == before && sets[0].minus(sets[1]).is_empty() {
        faults.push(FieldError::new(
            format!("{base}/territories_except"),
            "All of the territories are excepted, so none is left.",
        ));
    }
}

/// How: `{base}/media` without `{base}/media_except`.
pub fn media(faults: &mut Vec<FieldError>, base: &str, names: &[String], except: &[String]) {
    let known = |name: &str| name == "all" || medium::TREE.iter().any(|(known, _)| *known == name);
    let before = faults.len();
    for (field, names) in [("media", names), ("media_except", except)] {
        if names.len() > 100 {
            faults.push(FieldError::new(
                format!("{base}/{field}"),
                format!("{} media; at most 100 fit here.", names.len()),
            ));
            continue;
        }
        for (at, name) in names.iter().enumerate().filter(|(_, name)| !known(name)) {
            faults.push(FieldError::new(
                format!("{base}/{field}/{at}"),
                format!(
                    "“{}” is not the name of a medium. Names are all, {}.",
                    name.chars().take(50).collect::<String>(),
                    medium::TREE.map(|(known, _)| known).join(", ")
                ),
            ));
        }
    }
    if names.is_empty() {
        faults.push(FieldError::new(
            format!("{base}/media"),
            "Name at least one medium, or all.",
        ));
    } else if faults.len() == before
        && medium::leaves(names)
            .iter()
            .all(|leaf| medium::any_includes(except, leaf))
    {
        faults.push(FieldError::new(
            format!("{base}/media_except"),
            "All of the media are excepted, so none is left.",
        ));
    }
}

/// What a paper grants: each grant on its own.
pub fn grants(faults: &mut Vec<FieldError>, pointer: &str, grants: &[Grant]) {
    const MOST: usize = 50;
    if grants.len() > MOST {
        faults.push(FieldError::new(
            pointer,
            format!("{} grants; at most {MOST} fit here.", grants.len()),
        ));
    }
    for (at, grant) in grants.iter().take(MOST).enumerate() {
        let base = format!("{pointer}/{at}");
        territories(faults, &base, &grant.territories, &grant.territories_except);
        media(faults, &base, &grant.media, &grant.media_except);
        let starts = match grant.starts {
            Starts::On(date) => Some(date),
            Starts::At(_) => None,
        };
        day(faults, &format!("{base}/starts"), starts);
        day(faults, &format!("{base}/long_stop"), grant.long_stop);
        match grant.term {
            Some(Term::To(end)) => {
                let pointer = format!("{base}/term/to");
                day(faults, &pointer, Some(end));
                order(
                    faults,
                    &pointer,
                    "the beginning of the term",
                    starts,
                    Some(end),
                );
            }
            Some(Term::Months(months)) => {
                within(
                    faults,
                    &format!("{base}/term/months"),
                    months.into(),
                    1,
                    1200,
                );
            }
            Some(Term::Perpetuity) | None => {}
        }
        limits(faults, &base, grant);
        order(
            faults,
            &format!("{base}/long_stop"),
            "the beginning of the term",
            starts,
            grant.long_stop,
        );
    }
}

/// What a grant is limited to, and its options.
fn limits(faults: &mut Vec<FieldError>, base: &str, grant: &Grant) {
    if let Some(runs) = grant.limits.runs {
        let pointer = format!("{base}/limits/runs/allowed");
        within(faults, &pointer, runs.allowed.into(), 1, 10_000);
    }
    let pointer = format!("{base}/limits/versions");
    texts(faults, &pointer, &grant.limits.versions, 100, 20);
    if grant.limits.episodes.len() > 200 {
        faults.push(FieldError::new(
            format!("{base}/limits/episodes"),
            "At most 200 episodes fit here.",
        ));
    }
    for (at, option) in grant.options.iter().enumerate() {
        let base = format!("{base}/options/{at}");
        within(
            faults,
            &format!("{base}/months"),
            option.months.into(),
            1,
            1200,
        );
        let notice = format!("{base}/notice_days");
        within(faults, &notice, option.notice_days.into(), 0, 3650);
        text(faults, &format!("{base}/price"), &option.price, 500);
        day(faults, &format!("{base}/taken_up_on"), option.taken_up_on);
    }
    if grant.options.len() > 10 {
        faults.push(FieldError::new(
            format!("{base}/options"),
            "At most ten options fit here.",
        ));
    }
}

/// What was promised in return for consent.
pub fn restrictions(faults: &mut Vec<FieldError>, pointer: &str, restrictions: &[Restriction]) {
    const MOST: usize = 50;
    if restrictions.len() > MOST {
        faults.push(FieldError::new(
            pointer,
            format!(
                "{} restrictions; at most {MOST} fit here.",
                restrictions.len()
            ),
        ));
    }
    for (at, restriction) in restrictions.iter().take(MOST).enumerate() {
        let base = format!("{pointer}/{at}");
        match restriction {
            Restriction::NotIn { territories: codes } => territories(faults, &base, codes, &[]),
            Restriction::NotBefore { date } | Restriction::NotAfter { date } => {
                day(faults, &format!("{base}/date"), Some(*date));
            }
            Restriction::NotInMedia { media: names } => media(faults, &base, names, &[]),
            Restriction::NotBeside { person } => {
                if person.parse::<uuid::Uuid>().is_err() {
                    faults.push(FieldError::new(
                        format!("{base}/person"),
                        "Choose the person.",
                    ));
                }
            }
            Restriction::Approval { words, approved_on } => {
                required(faults, &format!("{base}/words"), words, 2000);
                day(faults, &format!("{base}/approved_on"), *approved_on);
            }
            Restriction::Other { words } => required(faults, &format!("{base}/words"), words, 2000),
            Restriction::NamedAs { name } => {
                required(faults, &format!("{base}/name"), name, 200);
            }
            Restriction::BlurFace
            | Restriction::ChangeVoice
            | Restriction::NoName
            | Restriction::NoPromotion => {}
        }
    }
}
