//! A cell as the value of a field, and a value as a cell.

use chrono::NaiveDate;
use serde_json::{Value, json};
use uuid::Uuid;

use super::cell::{Cell, fold};
use super::dates;
use super::kinds::{Field, Holds};
use super::{lines, lists, number, several};

pub use super::names::{Context, KEPT, Names};

/// What a cell says.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// Nothing.
    Blank,
    /// [`KEPT`].
    Kept,
    /// A value, and the currency if the amount in it came with one.
    Value(Value, Option<String>),
    /// A value for each grant, in their order; none where nothing is said of it.
    Several(Vec<Option<Value>>),
}

impl From<Value> for Said {
    fn from(value: Value) -> Self {
        Self::Value(value, None)
    }
}

/// Reads a cell of a grant's field, which may say something else of each grant.
///
/// # Errors
/// As [`read`].
pub fn read_of_grants(
    field: &Field,
    cell: &Cell,
    heading: &str,
    context: &Context<'_>,
) -> Result<Said, String> {
    let Some(texts) = several::read(&cell.shown())? else {
        return read(field, cell, heading, None, context);
    };
    let mut values = Vec::with_capacity(texts.len());
    for text in texts {
        values.push(
            match read(field, &Cell::text(text), heading, None, context)? {
                Said::Value(value, _) => Some(value),
                _ => None,
            },
        );
    }
    Ok(Said::Several(values))
}

/// Reads a cell. `currency`: the row's, for amounts.
///
/// # Errors
/// What is wrong and what to do, in words.
pub fn read(
    field: &Field,
    cell: &Cell,
    heading: &str,
    currency: Option<&str>,
    context: &Context<'_>,
) -> Result<Said, String> {
    if cell.is_empty() {
        return Ok(Said::Blank);
    }
    if let Cell::Broken(text) = cell {
        return Err(format!(
            "The file has an error here: {text}. Correct the formula, or type the value."
        ));
    }
    let text = cell.shown();
    let text = text.trim();
    if text == KEPT {
        return Ok(Said::Kept);
    }
    Ok(match field.holds {
        Holds::Text => json!(text.replace("\r\n", "\n")).into(),
        Holds::Texts => json!(lists::parts(&cell.shown(), context.list_sign)).into(),
        Holds::Day => dates::read(cell, context.days)?.map_or(Said::Blank, |day| json!(day).into()),
        Holds::YesNo | Holds::Choice(_) => return word(field, text, context),
        Holds::Whole => json!(number::whole(cell)?).into(),
        Holds::Money => {
            let (minor, said) = number::money(cell, currency)?;
            Said::Value(json!(minor), said)
        }
        Holds::Currency => {
            let code = text.to_uppercase();
            let code = match code.as_str() {
                "£" => "GBP".to_owned(),
                "€" => "EUR".to_owned(),
                _ => code,
            };
            json!(code).into()
        }
        Holds::Bytes => json!(number::bytes(cell, heading)?).into(),
        Holds::Territories => json!(lists::territories(
            text,
            context.list_sign,
            context.names.groups()
        )?)
        .into(),
        Holds::Media => json!(lists::media(text, context.list_sign)?).into(),
        Holds::Starts => starts(cell, text, context)?,
        Holds::Term => term(cell, text, context)?,
        Holds::Restrictions => lines::restrictions(text, context)?.into(),
        Holds::Parties => lines::parties(text)?.into(),
        Holds::One(named) => json!(context.names.find(named, text)?).into(),
        Holds::Many(named) => {
            let mut ids: Vec<Uuid> = Vec::new();
            for part in lists::parts(text, context.list_sign) {
                let id = context.names.find(named, part)?;
                if !ids.contains(&id) {
                    ids.push(id);
                }
            }
            json!(ids).into()
        }
    })
}

/// A word of a closed set: as somebody decided, else as we or teams write it.
fn word(field: &Field, text: &str, context: &Context<'_>) -> Result<Said, String> {
    let decided = context.words.get(&(field.key.to_owned(), fold_word(text)));
    let value = decided.cloned().or_else(|| known_word(field, text));
    match value {
        Some(value) if value.is_empty() => Ok(Said::Blank),
        Some(value) if matches!(field.holds, Holds::YesNo) => Ok(json!(value == "yes").into()),
        Some(value) => Ok(json!(value).into()),
        None => Err(format!(
            "“{}” is not known here. Choose beside the column what it means.",
            text.chars().take(60).collect::<String>()
        )),
    }
}

/// A word as it is looked up; a sign alone, such as a tick, stays itself.
pub fn fold_word(text: &str) -> String {
    let folded = fold(text);
    if folded.is_empty() {
        text.trim().to_owned()
    } else {
        folded
    }
}

/// What a word means without anybody's decision.
pub fn known_word(field: &Field, text: &str) -> Option<String> {
    let folded = fold_word(text);
    match field.holds {
        Holds::YesNo => match folded.as_str() {
            "yes" | "y" | "true" | "1" | "x" | "✓" | "✔" => Some("yes".into()),
            "no" | "n" | "false" | "0" | "-" | "–" => Some("no".into()),
            _ => None,
        },
        Holds::Choice(choices) => {
            let own = choices
                .iter()
                .find(|one| folded == fold(one.words) || folded == fold(one.value));
            let also = || {
                choices
                    .iter()
                    .find(|one| one.also.contains(&folded.as_str()))
            };
            own.or_else(also).map(|one| one.value.to_owned())
        }
        _ => None,
    }
}

/// The events of R2, as we write them.
const EVENTS: [(&str, &str); 4] = [
    ("signature", "signature"),
    ("first_transmission", "first transmission"),
    ("delivery", "delivery"),
    ("first_use", "first use"),
];

fn starts(cell: &Cell, text: &str, context: &Context<'_>) -> Result<Said, String> {
    let folded = fold(text);
    let bare = ["from ", "on ", "date of ", "at "]
        .iter()
        .fold(folded.as_str(), |rest, start| {
            rest.strip_prefix(start).unwrap_or(rest)
        });
    let event = EVENTS
        .iter()
        .find(|(_, words)| *words == bare)
        .map(|(value, _)| *value);
    let event = event.or(match bare {
        "first tx" | "tx" | "first broadcast" | "transmission" | "broadcast" => {
            Some("first_transmission")
        }
        "signing" | "signed" | "contract" => Some("signature"),
        _ => None,
    });
    if let Some(event) = event {
        return Ok(json!(event).into());
    }
    dates::read(cell, context.days)
        .map(|day| day.map_or(Said::Blank, |day| json!(day).into()))
        .map_err(|words| {
            format!("{words} An event is signature, first transmission, delivery or first use.")
        })
}

fn term(cell: &Cell, text: &str, context: &Context<'_>) -> Result<Said, String> {
    let folded = fold(text);
    if matches!(
        folded.as_str(),
        "perpetuity" | "in perpetuity" | "perpetual" | "forever" | "unlimited" | "perp"
    ) {
        return Ok(json!("perpetuity").into());
    }
    if let Some((number, unit)) = folded.split_once(' ').or_else(|| {
        let at = folded.find(|c: char| c.is_alphabetic())?;
        Some(folded.split_at(at))
    }) && let Ok(number) = number.parse::<u32>()
    {
        let months = match unit.trim() {
            "month" | "months" | "mth" | "mths" | "m" => Some(number),
            "year" | "years" | "yr" | "yrs" | "y" => number.checked_mul(12),
            _ => None,
        };
        if let Some(months) = months {
            return Ok(json!({ "months": months }).into());
        }
    }
    dates::read(cell, context.days)
        .map(|day| day.map_or(Said::Blank, |day| json!({ "to": day }).into()))
        .map_err(|words| format!("{words} A term is a last day, 36 months, 3 years or perpetuity."))
}

/// A value as a cell that [`read`] reads as the same value. `currency`: the row's, for amounts.
pub fn write(field: &Field, value: &Value, currency: &str, names: &Names) -> Cell {
    let id = |value: &Value| value.as_str().and_then(|text| Uuid::parse_str(text).ok());
    let texts = |value: &Value| -> Vec<String> {
        let all = value.as_array().map(Vec::as_slice).unwrap_or_default();
        all.iter()
            .filter_map(Value::as_str)
            .map(str::to_owned)
            .collect()
    };
    let day = |value: &Value| {
        value
            .as_str()
            .and_then(|text| text.parse::<NaiveDate>().ok())
    };
    match field.holds {
        Holds::Text | Holds::Currency => Cell::text(value.as_str().unwrap_or_default()),
        Holds::Texts => Cell::text(lists::join(&texts(value))),
        Holds::Day => day(value).map_or(Cell::Empty, Cell::Day),
        Holds::YesNo => value.as_bool().map_or(Cell::Empty, |yes| {
            Cell::text(if yes { "yes" } else { "no" })
        }),
        Holds::Choice(_) => {
            let word = value.as_str().unwrap_or_default();
            Cell::text(field.word(word).unwrap_or(word))
        }
        Holds::Whole | Holds::Bytes => value
            .as_i64()
            .map_or(Cell::Empty, |n| Cell::text(n.to_string())),
        Holds::Money => value
            .as_i64()
            .map_or(Cell::Empty, |n| Cell::text(number::amount(n, currency))),
        Holds::Territories | Holds::Media => Cell::text(texts(value).join("; ")),
        Holds::Starts => match day(value) {
            Some(day) => Cell::Day(day),
            None => {
                let event = value.as_str().unwrap_or_default();
                let words = EVENTS.iter().find(|(known, _)| *known == event);
                Cell::text(words.map_or(event, |(_, words)| words))
            }
        },
        Holds::Term => write_term(value),
        Holds::Restrictions => lines::write_restrictions(value, names),
        Holds::Parties => lines::write_parties(value),
        Holds::One(named) => id(value).map_or(Cell::Empty, |id| Cell::text(names.label(named, id))),
        Holds::Many(named) => {
            let all = value.as_array().map(Vec::as_slice).unwrap_or_default();
            let labels: Vec<String> = all
                .iter()
                .filter_map(id)
                .map(|id| names.label(named, id))
                .collect();
            Cell::text(lists::join(&labels))
        }
    }
}

fn write_term(value: &Value) -> Cell {
    if value == "perpetuity" {
        return Cell::text("perpetuity");
    }
    if let Some(months) = value.get("months").and_then(Value::as_u64) {
        return Cell::text(format!("{months} months"));
    }
    value
        .get("to")
        .and_then(Value::as_str)
        .and_then(|text| text.parse().ok())
        .map_or(Cell::Empty, Cell::Day)
}
