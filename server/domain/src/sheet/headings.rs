//! Which row holds the headings, and which field each heading means.

use super::cell::{Cell, GridRow, fold};
use super::kinds::{Field, SheetKind};
use super::several;

/// Heading of the column with a record's id in lists that we wrote ourselves.
pub const ID_HEADING: &str = "Waybill id";

/// Name of that column in a mapping.
pub const ID_KEY: &str = "id";

/// How well a heading means a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Fit {
    /// All the words of a known heading stand in it.
    Within,
    /// Without what stands in brackets.
    Bare,
    /// A part of it, such as a first name.
    Part,
    /// As known.
    Exact,
    /// As we write it.
    Own,
}

/// The field that each heading means, by its name; none where nothing fits. No field is taken
/// twice, but by columns that make it up together. `hidden` fields are left out.
pub fn guess(kind: SheetKind, headings: &[String], hidden: &[&str]) -> Vec<Option<&'static str>> {
    let mut found: Vec<Option<&'static str>> = vec![None; headings.len()];
    let mut fits: Vec<(Fit, usize, usize)> = Vec::new();
    for (column, heading) in headings.iter().enumerate() {
        if fold(heading) == fold(ID_HEADING) {
            found[column] = Some(ID_KEY);
            continue;
        }
        for (at, field) in kind.fields().iter().enumerate() {
            if !hidden.contains(&field.key)
                && let Some(fit) = fit(field, heading)
            {
                fits.push((fit, column, at));
            }
        }
    }
    // The best first; of equals the leftmost column, then the field that stands first.
    fits.sort_by_key(|(fit, column, at)| (std::cmp::Reverse(*fit), *column, *at));
    for (fit, column, at) in &fits {
        let field = &kind.fields()[*at];
        let taken = found.contains(&Some(field.key));
        let numbered =
            field.of_grant().is_some() && several::of_heading(&headings[*column]).is_some();
        let part = taken && !field.parts.is_empty() && *fit == Fit::Part && {
            (0..headings.len())
                .filter(|other| found[*other] == Some(field.key))
                .all(|other| is_part(field, &headings[other]))
        };
        let joins = part || numbered;
        if found[*column].is_none() && (!taken || joins) {
            found[*column] = Some(field.key);
        }
    }
    found
}

fn fit(field: &Field, heading: &str) -> Option<Fit> {
    let whole = fold(heading);
    if whole.is_empty() {
        return None;
    }
    let known = |text: &str| {
        text == fold(field.label) || text == fold(field.key) || field.also.contains(&text)
    };
    if whole == fold(field.label) || whole == fold(field.key) {
        return Some(Fit::Own);
    }
    if known(&whole) {
        return Some(Fit::Exact);
    }
    if is_part(field, heading) {
        return Some(Fit::Part);
    }
    if field.of_grant().is_some()
        && several::of_heading(heading).is_some_and(|(bare, _)| known(&bare))
    {
        return Some(Fit::Part);
    }
    let bare = fold(heading.split(['(', '[']).next().unwrap_or_default());
    if bare != whole && known(&bare) {
        return Some(Fit::Bare);
    }
    let words: Vec<&str> = whole.split(' ').collect();
    let within = field
        .also
        .iter()
        .any(|known| known.contains(' ') && known.split(' ').all(|word| words.contains(&word)));
    within.then_some(Fit::Within)
}

fn is_part(field: &Field, heading: &str) -> bool {
    field.parts.contains(&fold(heading).as_str())
}

/// Where a column stands when several make up one field; columns that are no known part go by
/// their place. Those of grants go by the number in their heading.
pub fn part_order(field: &Field, heading: &str) -> usize {
    if field.of_grant().is_some() {
        return several::of_heading(heading).map_or(1, |(_, number)| number);
    }
    let folded = fold(heading);
    field
        .parts
        .iter()
        .position(|part| *part == folded)
        .unwrap_or(field.parts.len())
}

/// The place in `rows` of the row with the headings: of the first 25 the one in which most cells
/// mean a field; without any, the first with the most text. Titles above the headings, notes and
/// merged group headings are passed over so.
pub fn heading_row(kind: SheetKind, rows: &[GridRow]) -> usize {
    let score = |row: &GridRow| {
        let headings = texts(row);
        let known = guess(kind, &headings, &[]).iter().flatten().count();
        let filled = row
            .cells
            .iter()
            .filter(|cell| matches!(cell, Cell::Text(_)))
            .count();
        (known, filled)
    };
    let mut best = (0, (0, 0));
    for (at, row) in rows.iter().take(25).enumerate() {
        let found = score(row);
        if found > best.1 {
            best = (at, found);
        }
    }
    best.0
}

/// The headings of a row, each on one line and without control characters.
pub fn texts(row: &GridRow) -> Vec<String> {
    let clean = |cell: &Cell| {
        let text = cell.shown();
        let words: Vec<&str> = text
            .split(|c: char| c.is_whitespace() || c.is_control())
            .filter(|word| !word.is_empty())
            .collect();
        words.join(" ").chars().take(200).collect()
    };
    row.cells.iter().map(clean).collect()
}
