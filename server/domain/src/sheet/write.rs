//! A list as a table, such that bringing it in again changes nothing.

use serde_json::{Map, Value};

use super::cell::Cell;
use super::headings::ID_HEADING;
use super::kinds::{Field, Holds, SheetKind};
use super::several;
use super::value::{self, Names};

/// The headings of a list: the id, then every field that is not hidden.
pub fn headings(kind: SheetKind, hidden: &[&str]) -> Vec<&'static str> {
    let mut out = vec![ID_HEADING];
    out.extend(shown(kind, hidden).map(|field| field.label));
    out
}

/// Places in [`headings`] of the columns that hold numbers.
pub fn numbers(kind: SheetKind, hidden: &[&str]) -> Vec<usize> {
    let number = |field: &Field| matches!(field.holds, Holds::Whole | Holds::Money | Holds::Bytes);
    (1..)
        .zip(shown(kind, hidden))
        .filter_map(|(place, field)| number(field).then_some(place))
        .collect()
}

/// A record as a row under [`headings`].
pub fn row(
    kind: SheetKind,
    id: &str,
    record: &Map<String, Value>,
    names: &Names,
    hidden: &[&str],
) -> Vec<Cell> {
    let mut out = vec![Cell::text(id)];
    out.extend(shown(kind, hidden).map(|field| cell(field, record, names)));
    out
}

/// What stands in the cell of a field.
pub fn cell(field: &Field, record: &Map<String, Value>, names: &Names) -> Cell {
    let currency = record
        .get("currency")
        .and_then(Value::as_str)
        .unwrap_or_default();
    let Some(key) = field.of_grant() else {
        let value = record.get(field.key).unwrap_or(&Value::Null);
        return value::write(field, value, currency, names);
    };
    match grants(record) {
        [] => Cell::Empty,
        [one] => value::write(field, one.get(key).unwrap_or(&Value::Null), currency, names),
        all => {
            let of = |grant: &Value| {
                let value = grant.get(key).unwrap_or(&Value::Null);
                value::write(field, value, currency, names).shown()
            };
            several::write(&all.iter().map(of).collect::<Vec<_>>())
        }
    }
}

/// The grants of a record.
pub(super) fn grants(record: &Map<String, Value>) -> &[Value] {
    record
        .get("grants")
        .and_then(Value::as_array)
        .map(Vec::as_slice)
        .unwrap_or_default()
}

fn shown(kind: SheetKind, hidden: &[&str]) -> impl Iterator<Item = &'static Field> {
    kind.fields()
        .iter()
        .filter(move |field| !hidden.contains(&field.key))
}
