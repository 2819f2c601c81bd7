//! One rule worked on one case, without a server: what `waybill try RULE FILE` prints.
//!
//! A case is read with a pointer to every place, so that a surprised user is told where the file is
//! wrong. The computing itself lives with each rule; nothing is decided here.

mod read;
mod rights;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, SecondsFormat};
use serde_json::{Value, json};

use self::read::{At, Fault};
use crate::age::age;
use crate::footage::storage::{bytes_an_hour, bytes_shot};
use crate::footage::wipe::{self, Card, CardFile, Copy};
use crate::music::cue;
use crate::schedule;
use crate::timecode::Rate;
use crate::usage::Frames;

/// Why a file of cases could not be worked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TryError {
    /// No such rule.
    #[error("there is no rule \"{0}\" to try; the rules are: {rules}", rules = names())]
    UnknownRule(String),
    /// A case that cannot be read: which, where in it (JSON pointer, RFC 6901), and what is wrong.
    #[error("case {case}, at {pointer}: {detail}")]
    Case {
        /// The case's `id`, or its number in the list where it has none.
        case: String,
        /// JSON pointer within the case; "(the case)" for the whole of it.
        pointer: String,
        /// What is wrong and what was expected.
        detail: String,
    },
}

type Work = fn(&At<'_>) -> Result<Value, Fault>;

/// The rules that can be tried, by name.
const RULES: [(&str, Work); 8] = [
    ("coverage", rights::coverage),
    ("reminder-instants", reminder_instants),
    ("working-days", working_days),
    ("ages", ages),
    ("releases", rights::releases),
    ("safe-to-wipe", safe_to_wipe),
    ("cue-durations", cue_durations),
    ("storage", storage),
];

fn names() -> String {
    RULES.map(|(name, _)| name).join(", ")
}

/// Works `rule` on one case or a list of cases; gives a list of `{"id", "answer"}` in the order of
/// the cases. The first case that cannot be read stops the work.
///
/// ```
/// use serde_json::json;
/// use waybill_domain::try_rule::try_rule;
/// let case = json!({"id": 7, "born": "2000-02-29", "on": "2018-02-28"});
/// let answers = try_rule("ages", &case).expect("a well-formed case");
/// assert_eq!(answers, json!([{"id": 7, "answer": 17}]));
/// ```
pub fn try_rule(rule: &str, input: &Value) -> Result<Value, TryError> {
    let (_, work) = RULES
        .iter()
        .find(|(name, _)| *name == rule)
        .ok_or_else(|| TryError::UnknownRule(rule.to_owned()))?;
    let cases = match input {
        Value::Array(cases) => cases.iter().collect(),
        one => vec![one],
    };
    let answers = cases.into_iter().zip(1_usize..).map(|(case, number)| {
        let id = case.get("id").cloned().unwrap_or(json!(number));
        let at = At::root(case);
        let answer = if case.is_object() {
            work(&at)
        } else {
            Err(at.fault("expected an object"))
        };
        match answer {
            Ok(answer) => Ok(json!({"id": id, "answer": answer})),
            Err(Fault { pointer, detail }) => {
                let case = id.as_str().map_or_else(|| id.to_string(), str::to_owned);
                Err(TryError::Case {
                    case,
                    pointer,
                    detail,
                })
            }
        }
    });
    answers.collect()
}

fn reminder_instants(case: &At<'_>) -> Result<Value, Fault> {
    case.only(&["zone", "local_date", "local_time"])?;
    let at = case.get("zone")?;
    let zone = schedule::zone(at.text()?).map_err(|wrong| at.fault(wrong.to_string()))?;
    let local = case
        .get("local_date")?
        .date()?
        .and_time(case.get("local_time")?.time()?);
    Ok(schedule::instant(zone, local)
        .to_rfc3339_opts(SecondsFormat::Secs, true)
        .into())
}

fn working_days(case: &At<'_>) -> Result<Value, Fault> {
    case.only(&["anchor", "working_days", "holidays"])?;
    let holidays: BTreeSet<NaiveDate> = case
        .get("holidays")?
        .items()?
        .iter()
        .map(At::date)
        .collect::<Result<_, _>>()?;
    let count = case.get("working_days")?;
    schedule::working_days_from(case.get("anchor")?.date()?, count.whole()?, &holidays)
        .map(|day| json!(day))
        .ok_or_else(|| count.fault("so many working days leave the calendar"))
}

fn ages(case: &At<'_>) -> Result<Value, Fault> {
    case.only(&["born", "on"])?;
    let (born, on) = (case.get("born")?.date()?, case.get("on")?);
    if on.date()? < born {
        return Err(on.fault(format!("this day is before the birth on {born}")));
    }
    Ok(age(born, on.date()?).into())
}

fn safe_to_wipe(case: &At<'_>) -> Result<Value, Fault> {
    case.only(&[
        "drives",
        "files",
        "post_report_positive",
        "copies_must_be_in_different_places",
    ])?;
    let mut places = BTreeMap::new();
    for drive in case.get("drives")?.items()? {
        drive.only(&["name", "kind", "place"])?;
        if let Some(place) = drive.optional("place") {
            places.insert(drive.get("name")?.text()?, place.text()?);
        }
    }
    let files = case
        .get("files")?
        .items()?
        .iter()
        .map(card_file)
        .collect::<Result<Vec<_>, _>>()?;
    let card = Card {
        files: &files,
        places,
        post_report_positive: case.get("post_report_positive")?.bool()?,
        copies_must_be_in_different_places: case
            .get("copies_must_be_in_different_places")?
            .bool()?,
    };
    let reasons: Vec<String> = wipe::faults(&card)
        .iter()
        .map(ToString::to_string)
        .collect();
    Ok(json!({"safe": reasons.is_empty(), "reasons": reasons}))
}

fn card_file(at: &At<'_>) -> Result<CardFile, Fault> {
    at.only(&["name", "size", "copies"])?;
    let copy = |copy: &At<'_>| {
        copy.only(&["drive", "size", "verified", "hash_matches"])?;
        Ok(Copy {
            drive: copy.get("drive")?.text()?.to_owned(),
            size: copy.get("size")?.whole()?,
            verified: copy.get("verified")?.bool()?,
            hash_matches: copy.get("hash_matches")?.bool()?,
        })
    };
    Ok(CardFile {
        name: at.get("name")?.text()?.to_owned(),
        size: at.get("size")?.whole()?,
        copies: at
            .get("copies")?
            .items()?
            .iter()
            .map(copy)
            .collect::<Result<_, _>>()?,
    })
}

/// What a shoot takes, one copy of it: `{"minutes": 58, "ratio": 40, "megabits_a_second": 122}`.
fn storage(case: &At<'_>) -> Result<Value, Fault> {
    case.only(&["minutes", "ratio", "megabits_a_second"])?;
    let megabits = case.get("megabits_a_second")?.whole()?;
    let (minutes, ratio) = (case.get("minutes")?.whole()?, case.get("ratio")?.whole()?);
    Ok(json!({
        "bytes_an_hour": bytes_an_hour(megabits),
        "bytes_shot": bytes_shot(minutes, ratio, megabits),
    }))
}

fn cue_durations(case: &At<'_>) -> Result<Value, Fault> {
    case.only(&["rate", "drop_frame", "uses"])?;
    let at = case.get("rate")?;
    let [num, den] = at
        .items()?
        .try_into()
        .or(Err(at.fault("expected a rate as [25, 1]")))?;
    let rate = Rate::new(num.whole()?, den.whole()?, case.get("drop_frame")?.bool()?)
        .map_err(|wrong| at.fault(wrong.to_string()))?;
    let uses = case
        .get("uses")?
        .items()?
        .iter()
        .map(|at| heard(at, rate))
        .collect::<Result<Vec<_>, _>>()?;
    let durations = cue::durations(rate, &uses);
    Ok(json!({
        "frames_each": durations.frames_each,
        "seconds_each_half_up": durations.seconds_each,
        "frames_heard_once": durations.frames_heard_once,
        "seconds_heard_once_half_up": durations.seconds_heard_once,
    }))
}

/// One use as `[in, out]`, out excluded and later than in.
fn heard(at: &At<'_>, rate: Rate) -> Result<Frames, Fault> {
    let [from, to] = at
        .items()?
        .try_into()
        .or(Err(at.fault("expected [in, out]")))?;
    let frame = |at: &At<'_>| {
        rate.frame(at.text()?)
            .map_err(|wrong| at.fault(wrong.to_string()))
    };
    let (start, end) = (frame(&from)?, frame(&to)?);
    if end <= start {
        return Err(to.fault("the out must be later than the in"));
    }
    Ok((start, end))
}
