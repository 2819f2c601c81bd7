//! The cases about rights: coverage (R1–R3) and releases (R19).

use chrono::NaiveDate;
use serde_json::{Value, json};

use super::read::{At, Fault};
use crate::rights::coverage::{self, Asked, CellState, Grant, Granted};
use crate::rights::days::{DaySet, Days};
use crate::rights::medium;
use crate::rights::release::{
    self, Face, Form, HouseRules, Restriction, Shown, Signer, Subject, Withdrawal,
};
use crate::rights::term::{Counting, Event, Starts, Term};
use crate::rights::territory::{Groups, TerritorySet};

const EVENTS: [(&str, Event); 4] = [
    ("signature", Event::Signature),
    ("first_transmission", Event::FirstTransmission),
    ("delivery", Event::Delivery),
    ("first_use", Event::FirstUse),
];

/// Every needed cell with its state, gaps and unknown days.
pub(super) fn coverage(case: &At<'_>) -> Result<Value, Fault> {
    case.only(&["need", "events", "grants"])?;
    let need = case.get("need")?;
    need.only(&["territories", "media", "from", "to"])?;
    let territories = territories(&need.get("territories")?)?;
    let asked = Asked {
        territories: TerritorySet::parse(territories.iter().map(String::as_str), &Groups::new())
            .map_err(|wrong| need.fault(wrong.to_string()))?,
        media: media(&need.get("media")?)?,
        days: days(&need)?,
    };
    let events = case.get("events")?;
    if !events.value.is_null() {
        events.only(&EVENTS.map(|(name, _)| name))?;
    }
    let mut granted = Vec::new();
    for at in case.get("grants")?.items()? {
        granted.push(measured(&at, &grant(&at)?, &asked, &events)?);
    }
    let groups = coverage::groups(&asked, &[granted]);
    let mut cells = Vec::new();
    for code in needed_codes(&territories) {
        let here = TerritorySet::parse([code.as_str()], &Groups::new())
            .map_err(|wrong| need.fault(wrong.to_string()))?;
        for (place, name) in asked.media.iter().enumerate() {
            let group = groups
                .iter()
                .find(|g| !g.territories.and(here).is_empty() && g.media.contains(&place));
            let lack = group.map(|g| g.lack.clone()).unwrap_or_default();
            cells.push(json!({
                "territory": code, "medium": name, "state": state_word(lack.state(asked.days)),
                "gaps": ranges(&lack.gaps), "unknown": ranges(&lack.unknown),
            }));
        }
    }
    Ok(Value::Array(cells))
}

/// Whether a release holds for one use, with every failing reason.
pub(super) fn releases(case: &At<'_>) -> Result<Value, Fault> {
    case.only(&[
        "entity",
        "adult_at",
        "consideration_required",
        "person",
        "release",
        "use",
    ])?;
    let house = HouseRules {
        entity: case.get("entity")?.text()?.to_owned(),
        adult_at: case.get("adult_at")?.whole()?,
        consideration_required: case.get("consideration_required")?.bool()?,
    };
    let person = case.get("person")?;
    person.only(&["born"])?;
    let born = person.get("born")?.nullable(At::date)?;
    let subject = born.map_or(Subject::AgeNotKnown, Subject::Born);
    let at = case.get("release")?;
    let form = form(&at)?;
    let place = case.get("use")?;
    let shown = shown(&place)?;
    let day = place.get("on")?.date()?;
    let asked = Asked {
        territories: one_territory(&place.get("territory")?)?,
        media: vec![place.get("medium")?.text()?.to_owned()],
        days: Days::new(day, day),
    };
    let mut granted = Vec::new();
    for one in &form.grants {
        granted.push(measured(&at.get("grant")?, one, &asked, &at)?);
    }
    let mut faults = release::faults(&form, subject, &house, &shown);
    let covered = |group: &coverage::Group| group.lack.state(asked.days) == CellState::Covered;
    if !coverage::groups(&asked, &[granted]).iter().all(covered) {
        faults.push(release::Fault::NotGranted);
        faults.sort_unstable();
    }
    let reasons: Vec<String> = faults.iter().map(ToString::to_string).collect();
    Ok(json!({"valid": reasons.is_empty(), "reasons": reasons}))
}

fn form(at: &At<'_>) -> Result<Form, Fault> {
    at.only(&[
        "signed_on",
        "signed_by",
        "filmed_from",
        "filmed_to",
        "entity",
        "consideration_stated",
        "allows_editing",
        "allows_promotion",
        "grant",
        "withdrawal",
        "restrictions",
    ])?;
    let signers = [
        ("self", Signer::Person),
        ("guardian", Signer::Guardian),
        ("owner", Signer::Owner),
        ("other", Signer::Other),
    ];
    let withdrawals = [
        ("requested", Withdrawal::Requested),
        ("accepted", Withdrawal::Accepted),
        ("declined", Withdrawal::Declined),
    ];
    let filmed_from = at.get("filmed_from")?.nullable(At::date)?;
    let filmed_to = at.get("filmed_to")?.nullable(At::date)?;
    if let (Some(from), Some(to)) = (filmed_from, filmed_to)
        && to < from
    {
        return Err(at
            .get("filmed_to")?
            .fault("the last day of filming is before the first"));
    }
    let restrictions = [
        ("blur_face", 0_usize),
        ("change_voice", 1),
        ("no_name", 2),
        ("no_promotion", 3),
    ];
    let meaning = [
        Restriction::BlurFace,
        Restriction::ChangeVoice,
        Restriction::NoName,
        Restriction::NoPromotion,
    ];
    let mut agreed = Vec::new();
    for item in at.get("restrictions")?.items()? {
        agreed.extend(meaning.get(item.one_of(&restrictions)?).cloned());
    }
    Ok(Form {
        signed_on: at.get("signed_on")?.nullable(At::date)?,
        signed_by: at.get("signed_by")?.nullable(|by| by.one_of(&signers))?,
        filmed_from,
        filmed_to,
        entity: at.get("entity")?.text()?.to_owned(),
        consideration_stated: at.get("consideration_stated")?.bool()?,
        allows_editing: at.get("allows_editing")?.bool()?,
        allows_promotion: at.get("allows_promotion")?.bool()?,
        grants: at.get("grant")?.nullable(released)?.into_iter().collect(),
        withdrawal: at
            .get("withdrawal")?
            .nullable(|it| it.one_of(&withdrawals))?,
        restrictions: agreed,
        facts: Default::default(),
    })
}

fn shown(at: &At<'_>) -> Result<Shown, Fault> {
    at.only(&[
        "filmed_on",
        "first_shown_on",
        "territory",
        "medium",
        "on",
        "in_promotion",
        "face",
        "name_on_screen",
    ])?;
    let faces = [
        ("shown", Face::Shown),
        ("hidden", Face::Hidden),
        ("blurred", Face::Blurred),
        ("not_applicable", Face::NotApplicable),
    ];
    Ok(Shown {
        filmed_on: at.get("filmed_on")?.nullable(At::date)?,
        first_shown_on: at.get("first_shown_on")?.date()?,
        in_promotion: at.get("in_promotion")?.bool()?,
        face: at.get("face")?.one_of(&faces)?,
        name_on_screen: at.get("name_on_screen")?.bool()?,
        voice_recognisable: false,
    })
}

/// The grant of a release: `from` a date, `to` a date, "perpetuity", or null for not filled in.
fn released(at: &At<'_>) -> Result<Grant, Fault> {
    only_scope(at, &["from", "to"])?;
    let from = at.get("from")?.date()?;
    let to = at.get("to")?;
    let term = to.nullable(|to| match to.value.as_str() {
        Some("perpetuity") => Ok(Term::Perpetuity),
        _ => to.date().map(Term::To),
    })?;
    if matches!(term, Some(Term::To(end)) if end < from) {
        return Err(to.fault("the grant ends before it begins"));
    }
    with_scope(at, Starts::On(from), term, None)
}

fn grant(at: &At<'_>) -> Result<Grant, Fault> {
    only_scope(at, &["starts", "term", "counting"])?;
    let starts = at.get("starts")?;
    let text = starts.text()?;
    let starts = match EVENTS.iter().find(|(name, _)| *name == text) {
        Some((_, event)) => Starts::At(*event),
        None => Starts::On(text.parse().or(Err(starts.fault(format!(
            "expected a date, or one of signature, first_transmission, delivery, first_use; found \
             \"{text}\""
        ))))?),
    };
    let counting = at.optional("counting").map(|it| {
        it.one_of(&[
            ("including", Counting::Including),
            ("after", Counting::After),
        ])
    });
    with_scope(
        at,
        starts,
        at.get("term")?.nullable(term)?,
        counting.transpose()?,
    )
}

fn term(at: &At<'_>) -> Result<Term, Fault> {
    if at.value.as_str() == Some("perpetuity") {
        return Ok(Term::Perpetuity);
    }
    if at.value.is_object() {
        at.only(&["to", "months"])?;
    }
    match (at.optional("to"), at.optional("months")) {
        (Some(to), None) => to.date().map(Term::To),
        (None, Some(months)) => months.whole().map(Term::Months),
        _ => Err(at.fault("expected {\"to\": date}, {\"months\": n}, \"perpetuity\" or null")),
    }
}

/// The members of a grant: those of its scope, and `own`.
fn only_scope(at: &At<'_>, own: &[&str]) -> Result<(), Fault> {
    const SCOPE: [&str; 5] = [
        "territories",
        "territories_except",
        "media",
        "media_except",
        "long_stop",
    ];
    at.only(&[own, &SCOPE].concat())
}

fn with_scope(
    at: &At<'_>,
    starts: Starts,
    term: Option<Term>,
    counting: Option<Counting>,
) -> Result<Grant, Fault> {
    let list = |key: &str, read: fn(&At<'_>) -> Result<Vec<String>, Fault>| {
        at.optional(key).map_or(Ok(Vec::new()), |it| read(&it))
    };
    Ok(Grant {
        territories: territories(&at.get("territories")?)?,
        territories_except: list("territories_except", territories)?,
        media: media(&at.get("media")?)?,
        media_except: list("media_except", media)?,
        starts,
        term,
        counting,
        long_stop: at.optional("long_stop").map(|it| it.date()).transpose()?,
        limits: Default::default(),
        options: vec![],
    })
}

fn measured(at: &At<'_>, grant: &Grant, asked: &Asked, events: &At<'_>) -> Result<Granted, Fault> {
    // Dates are read before they are asked for, so that a malformed one is named.
    let mut dates: Vec<(Event, NaiveDate)> = Vec::new();
    for (name, event) in EVENTS {
        if let Some(date) = events.optional(name) {
            dates.push((event, date.date()?));
        }
    }
    let date_of = |asked: Event| {
        dates
            .iter()
            .find(|(event, _)| *event == asked)
            .map(|(_, date)| *date)
    };
    grant
        .measure(asked, &Groups::new(), NaiveDate::MAX, date_of)
        .map_err(|wrong| at.fault(wrong.to_string()))
}

fn days(need: &At<'_>) -> Result<Days, Fault> {
    let (from, to) = (need.get("from")?.date()?, need.get("to")?);
    let days = Days::new(from, to.date()?);
    if days.is_empty() {
        return Err(to.fault(format!("the last needed day is before the first, {from}")));
    }
    Ok(days)
}

fn one_territory(at: &At<'_>) -> Result<TerritorySet, Fault> {
    TerritorySet::parse([at.text()?], &Groups::new()).map_err(|wrong| at.fault(wrong.to_string()))
}

fn territories(at: &At<'_>) -> Result<Vec<String>, Fault> {
    for item in at.items()? {
        one_territory(&item)?;
    }
    at.texts()
}

fn media(at: &At<'_>) -> Result<Vec<String>, Fault> {
    for item in at.items()? {
        if !medium::is_well_formed(item.text()?) {
            return Err(item.fault("a medium is lower-case words joined by dots"));
        }
    }
    at.texts()
}

/// The territories of a need one by one: as listed, regions opened in order of code.
fn needed_codes(listed: &[String]) -> Vec<String> {
    let open = |code: &String| match TerritorySet::parse([code.as_str()], &Groups::new()) {
        Ok(set) if set.len() > 1 => set.codes(),
        _ => vec![code.clone()],
    };
    listed.iter().flat_map(open).collect()
}

fn state_word(state: CellState) -> &'static str {
    match state {
        CellState::Covered => "covered",
        CellState::Partial => "partial",
        CellState::None => "none",
        CellState::Unknown => "unknown",
    }
}

fn ranges(set: &DaySet) -> Value {
    set.ranges()
        .iter()
        .map(|days| json!([days.from, days.to]))
        .collect()
}
