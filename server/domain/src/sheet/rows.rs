//! Rows of a table that belong together: a record's own, and those below it that say its further grants.

use super::cell::{Cell, GridRow};
use super::kinds::Field;
use super::row::Columns;
use super::several;

/// Rows that say further grants of the record above them, put together with its own row: those with nothing but a
/// grant, and those that are like it in everything else. Beside the rows, the numbers of those that were put away.
pub fn together(columns: &Columns, rows: &[GridRow]) -> (Vec<GridRow>, Vec<u32>) {
    let (grants, own) = columns.of_grants_and_own();
    let single = grants.iter().all(|(_, places)| places.len() == 1);
    let mut out: Vec<GridRow> = Vec::with_capacity(rows.len());
    let mut away = Vec::new();
    if grants.is_empty() || own.is_empty() || !single {
        return (rows.to_vec(), away);
    }
    let grants: Vec<(&Field, usize)> = grants
        .iter()
        .filter_map(|(field, places)| Some((*field, *places.first()?)))
        .collect();
    let continues = |first: &GridRow, before: &GridRow, row: &GridRow| {
        let says = grants.iter().any(|(_, at)| !row.cell(*at).is_empty());
        let bare = own.iter().all(|at| row.cell(*at).is_empty());
        let alike = || own.iter().all(|at| row.cell(*at) == first.cell(*at));
        let differs = || {
            let mut all = grants.iter();
            all.any(|(_, at)| row.cell(*at) != before.cell(*at))
        };
        says && (bare || (alike() && differs()))
    };
    let mut at = 0;
    while at < rows.len() {
        let first = &rows[at];
        let mut end = at + 1;
        while end < rows.len() && continues(first, &rows[end - 1], &rows[end]) {
            away.push(rows[end].number);
            end += 1;
        }
        out.push(merged(&grants, &rows[at..end]));
        at = end;
    }
    (out, away)
}

/// The rows of one record as one.
fn merged(grants: &[(&Field, usize)], rows: &[GridRow]) -> GridRow {
    let mut out = rows[0].clone();
    if rows.len() == 1 {
        return out;
    }
    for (field, at) in grants {
        let texts: Vec<String> = rows.iter().map(|row| row.cell(*at).shown()).collect();
        let first_alone = texts[1..].iter().all(|text| text.trim().is_empty());
        // Left open below, where and how go for all; how long never does.
        let ditto = matches!(
            field.key,
            "grant.territories"
                | "grant.territories_except"
                | "grant.media"
                | "grant.media_except"
                | "grant.starts"
        );
        if first_alone && ditto {
            continue;
        }
        if out.cells.len() <= *at {
            out.cells.resize(at + 1, Cell::Empty);
        }
        out.cells[*at] = several::write(&texts);
    }
    out
}
