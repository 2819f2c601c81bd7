//! A row of a table as the fields of a record: new ones, or laid over those that are there.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};
use uuid::Uuid;

use super::cell::{Cell, GridRow, fold};
use super::headings::{ID_KEY, part_order};
use super::kinds::{Field, SheetKind};
use super::mapping::SheetMapping;
use super::value::{self, Context, Said};
use super::{several, write};
use crate::identifiers::Scheme;

/// What is wrong in a row: where, what, what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CellFault {
    /// The field; none for the row as a whole.
    pub field: Option<&'static str>,
    /// The column, from 0; none where no column gives the field.
    pub column: Option<usize>,
    /// What stands in the cell.
    pub value: String,
    /// In a sentence or two.
    pub words: String,
}

/// What a row says.
#[derive(Clone, Debug, Default)]
pub struct RowRead {
    /// Id of a record, in lists that we wrote.
    pub id: Option<Uuid>,
    /// What its cells say, by field.
    pub said: BTreeMap<&'static str, Said>,
    pub faults: Vec<CellFault>,
}

/// The columns of each field, in the order in which they are joined, worked once for a table.
#[derive(Debug)]
pub struct Columns {
    by_field: Vec<(&'static Field, Vec<usize>, Option<Cell>)>,
    id: Option<usize>,
    headings: Vec<String>,
}

impl Columns {
    /// Of a mapping without faults.
    pub fn new(kind: SheetKind, mapping: &SheetMapping) -> Self {
        let of = |key: &str| -> Vec<usize> {
            (0..mapping.columns.len())
                .filter(|at| mapping.columns[*at].field.as_deref() == Some(key))
                .collect()
        };
        let mut by_field = Vec::new();
        for field in kind.fields() {
            let mut columns = of(field.key);
            columns.sort_by_key(|at| (part_order(field, &mapping.columns[*at].heading), *at));
            let same = mapping
                .same_in_all
                .iter()
                .find(|one| one.field == field.key);
            let same = same.map(|one| Cell::text(one.text.clone()));
            if !columns.is_empty() || same.is_some() {
                by_field.push((field, columns, same));
            }
        }
        Self {
            by_field,
            id: of(ID_KEY).first().copied(),
            headings: mapping
                .columns
                .iter()
                .map(|column| column.heading.clone())
                .collect(),
        }
    }

    /// The first column of a field.
    pub fn of(&self, key: &str) -> Option<usize> {
        let found = self.by_field.iter().find(|(field, _, _)| field.key == key);
        found.and_then(|(_, columns, _)| columns.first().copied())
    }

    /// The columns of each field that has any, with the fields.
    pub fn all(&self) -> impl Iterator<Item = (&'static Field, &[usize])> {
        self.by_field
            .iter()
            .map(|(field, columns, _)| (*field, columns.as_slice()))
    }

    /// The columns of each field of a grant, and those of everything else, the id too.
    pub fn of_grants_and_own(&self) -> (Vec<(&'static Field, &[usize])>, Vec<usize>) {
        let (grants, own): (Vec<_>, Vec<_>) = self
            .all()
            .filter(|(_, places)| !places.is_empty())
            .partition(|(field, _)| field.of_grant().is_some());
        let own = own.into_iter().flat_map(|(_, places)| places.to_vec());
        (grants, own.chain(self.id).collect())
    }

    fn heading(&self, at: Option<usize>) -> &str {
        at.and_then(|at| self.headings.get(at))
            .map_or("", String::as_str)
    }
}

/// Reads the cells of a row.
pub fn read(columns: &Columns, row: &GridRow, context: &Context<'_>) -> RowRead {
    let mut out = RowRead::default();
    if let Some(at) = columns.id {
        let text = row.cell(at).shown();
        if !text.trim().is_empty() {
            match Uuid::parse_str(text.trim()) {
                Ok(id) => out.id = Some(id),
                Err(_) => out.faults.push(CellFault {
                    field: None,
                    column: Some(at),
                    value: text,
                    words: "This is no id of a record. Leave the cell empty for a new one.".into(),
                }),
            }
        }
    }
    let currency = currency(columns, row, context);
    for (field, places, same) in &columns.by_field {
        let joined = join(field, row, places);
        let from_same = joined.is_empty();
        let cell = if from_same {
            same.as_ref().unwrap_or(&Cell::Empty)
        } else {
            &joined
        };
        let place = places
            .first()
            .copied()
            .filter(|_| !from_same || same.is_none());
        let heading = columns.heading(place);
        let read = match field.of_grant() {
            Some(_) => value::read_of_grants(field, cell, heading, context),
            None => value::read(field, cell, heading, currency.as_deref(), context),
        };
        match read {
            Ok(Said::Value(value, money)) => {
                if let Some(code) = money.filter(|_| currency.is_none()) {
                    out.said.insert("currency", Said::Value(json!(code), None));
                }
                out.said.insert(field.key, Said::Value(value, None));
            }
            // A currency that came with an amount stays.
            Ok(Said::Blank) if field.key == "currency" && out.said.contains_key("currency") => {}
            Ok(said) => {
                out.said.insert(field.key, said);
            }
            Err(words) => out.faults.push(CellFault {
                field: Some(field.key),
                column: place,
                value: cell.shown(),
                words,
            }),
        }
    }
    out
}

/// The currency that the row's own cell gives.
fn currency(columns: &Columns, row: &GridRow, context: &Context<'_>) -> Option<String> {
    let (field, places, same) = columns
        .by_field
        .iter()
        .find(|(field, _, _)| field.key == "currency")?;
    let joined = join(field, row, places);
    let cell = if joined.is_empty() {
        same.as_ref()?
    } else {
        &joined
    };
    match value::read(field, cell, "", None, context) {
        Ok(Said::Value(Value::String(code), _)) => Some(code),
        _ => None,
    }
}

/// One cell as it is; several as their texts, joined, or one for each grant.
fn join(field: &Field, row: &GridRow, places: &[usize]) -> Cell {
    match places {
        [one] => row.cell(*one).clone(),
        several if field.of_grant().is_some() => {
            let texts: Vec<String> = several.iter().map(|at| row.cell(*at).shown()).collect();
            let last = texts.iter().rposition(|text| !text.trim().is_empty());
            several::write(&texts[..last.map_or(0, |at| at + 1)])
        }
        several => {
            let texts: Vec<String> = several
                .iter()
                .map(|at| row.cell(*at).shown().trim().to_owned())
                .filter(|text| !text.is_empty())
                .collect();
            Cell::text(texts.join(" "))
        }
    }
}

/// The fields of a record as far as a row says them.
#[derive(Clone, Debug, Default)]
pub struct Laid {
    /// The whole record where there is no fault in the row; else what of it could be read.
    pub fields: Map<String, Value>,
    /// What a new record lacks, or what can't be laid over the old one.
    pub faults: Vec<CellFault>,
}

/// The fields of a new record (`old` none) or of one that is changed.
pub fn lay(
    kind: SheetKind,
    columns: &Columns,
    read: &RowRead,
    old: Option<&Map<String, Value>>,
    blank_clears: bool,
) -> Laid {
    let mut out = old.cloned().unwrap_or_default();
    let mut faults = Vec::new();
    let fault = |field: &'static Field, words: String| CellFault {
        field: Some(field.key),
        column: columns.of(field.key),
        value: String::new(),
        words,
    };
    match lay_grants(kind, columns, read, write::grants(&out), blank_clears) {
        Ok(Some(grants)) => {
            out.insert("grants".into(), json!(grants));
        }
        Ok(None) => {}
        Err(more) => faults.extend(more),
    }
    let fields = kind.fields().iter();
    for field in fields.filter(|field| field.of_grant().is_none()) {
        match read.said.get(field.key) {
            Some(Said::Value(value, _)) => {
                let new = keep_blanks(out.get(field.key), value.clone());
                out.insert(field.key.to_owned(), new);
            }
            Some(Said::Blank)
                if old.is_some() && blank_clears && !field.required && field.default.is_none() =>
            {
                out.insert(field.key.to_owned(), empty(field));
            }
            Some(Said::Kept) if old.is_none() => {
                faults.push(fault(
                    field,
                    "This stands for something that is in a record only; type it here.".into(),
                ));
            }
            _ if old.is_none() => match field.default {
                Some(value) => {
                    out.insert(field.key.to_owned(), json!(value));
                }
                // A cell that could not be read is named already.
                None if field.required
                    && !read
                        .faults
                        .iter()
                        .any(|fault| fault.field == Some(field.key)) =>
                {
                    faults.push(fault(
                        field,
                        format!("“{}” is needed for a new record.", field.label),
                    ));
                }
                None => {}
            },
            _ => {}
        }
    }
    if old.is_none() {
        side_of_asset(kind, &mut out, &mut faults);
    }
    Laid {
        fields: out,
        faults,
    }
}

/// The grants that a row leaves a record with; none where it says nothing of them. What is numbered says how many
/// there are; what is not goes for each of them.
fn lay_grants(
    kind: SheetKind,
    columns: &Columns,
    read: &RowRead,
    old: &[Value],
    blank_clears: bool,
) -> Result<Option<Vec<Map<String, Value>>>, Vec<CellFault>> {
    let of_grant = |field: &'static Field| {
        let said = read.said.get(field.key)?;
        Some((field, field.of_grant()?, said))
    };
    let said: Vec<(&'static Field, &str, &Said)> =
        kind.fields().iter().filter_map(of_grant).collect();
    let numbered = said.iter().filter_map(|(_, _, said)| match said {
        Said::Several(values) => Some(values.len()),
        _ => None,
    });
    let numbered = numbered.max();
    let for_all = said
        .iter()
        .any(|(_, _, said)| matches!(said, Said::Value(..)));
    let mut grants: Vec<Map<String, Value>> =
        old.iter().filter_map(Value::as_object).cloned().collect();
    match numbered {
        Some(count) => grants.resize_with(count, Map::new),
        None if for_all && grants.len() > 1 => {
            return Err(vec![CellFault {
                field: None,
                column: None,
                value: String::new(),
                words: format!(
                    "This record has {} grants. Say of each what the row says, on lines that begin with (1), (2) and so on.",
                    grants.len()
                ),
            }]);
        }
        None if for_all && grants.is_empty() => grants.push(Map::new()),
        None => {}
    }
    let mut cleared = false;
    for (field, key, said) in said {
        for (at, grant) in grants.iter_mut().enumerate() {
            let value = match said {
                Said::Value(value, _) => Some(value),
                Said::Several(values) => values.get(at).and_then(Option::as_ref),
                Said::Blank => None,
                Said::Kept => continue,
            };
            match value {
                Some(value) => {
                    grant.insert(key.to_owned(), value.clone());
                }
                None if blank_clears && grant.contains_key(key) => {
                    cleared = true;
                    grant.insert(key.to_owned(), empty(field));
                }
                None => {}
            }
        }
    }
    if numbered.is_none() && !for_all && !cleared {
        return Ok(None);
    }
    let faults = grant_faults(kind, columns, read, &grants);
    if faults.is_empty() {
        Ok(Some(grants))
    } else {
        Err(faults)
    }
}

/// A grant says where, how and from when; a row that says one of them says all.
fn grant_faults(
    kind: SheetKind,
    columns: &Columns,
    read: &RowRead,
    grants: &[Map<String, Value>],
) -> Vec<CellFault> {
    let mut faults = Vec::new();
    for key in ["grant.territories", "grant.media", "grant.starts"] {
        let Some((field, own)) = kind
            .field(key)
            .and_then(|field| Some((field, field.of_grant()?)))
        else {
            continue;
        };
        if read.faults.iter().any(|fault| fault.field == Some(key)) {
            continue;
        }
        for (at, _) in (1..)
            .zip(grants)
            .filter(|(_, grant)| !grant.contains_key(own))
        {
            let which = match grants.len() {
                1 => String::new(),
                _ => format!(" in grant ({at})"),
            };
            faults.push(CellFault {
                field: Some(key),
                column: columns.of(key),
                value: String::new(),
                words: format!(
                    "The row says what is granted, but not “{}”{which}. Fill in the cell, or say it for all rows.",
                    field.label
                ),
            });
        }
    }
    faults
}

/// An imported asset has no sides, so a list of its licences needs no column for them.
fn side_of_asset(kind: SheetKind, out: &mut Map<String, Value>, faults: &mut Vec<CellFault>) {
    let asset = out.get("asset_id").is_some_and(|id| !id.is_null());
    if kind == SheetKind::Licences && asset && !out.contains_key("side") {
        out.insert("side".into(), json!("whole"));
        faults.retain(|fault| fault.field != Some("side"));
    }
}

/// White space around a text is no change.
fn keep_blanks(old: Option<&Value>, new: Value) -> Value {
    match (old, &new) {
        (Some(Value::String(old)), Value::String(text))
            if old.replace("\r\n", "\n").trim() == text =>
        {
            json!(old)
        }
        _ => new,
    }
}

fn empty(field: &Field) -> Value {
    use super::kinds::Holds::{
        Bytes, Choice, Currency, Day, Many, Media, Money, One, Parties, Restrictions, Starts, Term,
        Territories, Text, Texts, Whole, YesNo,
    };
    match field.holds {
        Text | Currency => json!(""),
        Texts | Many(_) | Territories | Media | Restrictions | Parties => json!([]),
        YesNo => json!(false),
        Whole => json!(0),
        Day | Choice(_) | Money | Bytes | Starts | Term | One(_) => Value::Null,
    }
}

/// By what a record is found again: each a text that two duplicates share, with the words for it.
pub fn keys(kind: SheetKind, record: &Map<String, Value>) -> Vec<(String, &'static str)> {
    let part = |key: &&str| -> Option<String> {
        let text = match record.get(*key)? {
            // one code in two spellings is one recording (ISO 3901)
            Value::String(text) if *key == "isrc" => fold(&Scheme::Isrc.shown(text)),
            Value::String(text) => fold(text),
            Value::Number(number) => number.to_string(),
            _ => return None,
        };
        (!text.is_empty()).then_some(text)
    };
    let mut out = Vec::new();
    for (at, (fields, words)) in kind.same_by().iter().enumerate() {
        let parts: Option<Vec<String>> = fields.iter().map(part).collect();
        if let Some(parts) = parts {
            out.push((format!("{at}\u{1f}{}", parts.join("\u{1f}")), *words));
        }
    }
    out
}

/// What names a record to people: the fields of its title as they stand in cells.
pub fn title(kind: SheetKind, record: &Map<String, Value>, names: &value::Names) -> String {
    let words: Vec<String> = kind
        .title()
        .iter()
        .filter_map(|key| kind.field(key))
        .map(|field| write::cell(field, record, names).shown())
        .filter(|text| !text.is_empty())
        .collect();
    words.join(", ")
}
