//! One element as it stands on paper.

use serde::Serialize;
use waybill_domain::report::{FailingCells, ReportRate, ReportRow, ReportState};
use waybill_domain::wording::{date_words, deadline_words, grouped};

#[derive(Serialize)]
pub(super) struct RowView {
    number: u32,
    state: ReportState,
    word: &'static str,
    meaning: &'static str,
    kind: String,
    label: String,
    details: Vec<String>,
    first_use: String,
    uses: String,
    total: String,
    failing: Vec<FailingView>,
    reasons: Vec<(String, String)>,
    to_do_title: String,
    to_do: Vec<String>,
    ends: String,
}

#[derive(Serialize)]
struct FailingView {
    how: &'static str,
    cells: String,
    days: String,
}

impl RowView {
    pub(super) fn of(row: &ReportRow, rate: ReportRate) -> Self {
        Self {
            number: row.number,
            state: row.state,
            word: row.state.word(),
            meaning: row.state.meaning(),
            kind: row.kind.clone(),
            label: row.label.clone(),
            details: details(row),
            first_use: row.first_use.clone().unwrap_or_default(),
            uses: count(row.uses.into(), "use", "uses"),
            total: rate.length_words(row.total_frames),
            failing: row.failing.iter().map(FailingView::of).collect(),
            reasons: row
                .reasons
                .iter()
                .map(|r| (r.rule.clone(), r.text.clone()))
                .collect(),
            to_do_title: row.needed_by.map_or_else(
                || "To do".into(),
                |day| format!("To do by {}", deadline_words(day)),
            ),
            to_do: row.to_do.clone(),
            ends: row
                .ends_on
                .map(|day| format!("Ends {}", date_words(day)))
                .unwrap_or_default(),
        }
    }
}

/// The small lines under an element's label.
fn details(row: &ReportRow) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(name) = &row.credited_as {
        lines.push(format!("Credited as {name}"));
    }
    if let Some(credit) = &row.credit_line {
        lines.push(format!("Credit line: {credit}"));
    }
    if let Some(basis) = &row.basis {
        lines.push(format!("Basis: {basis}"));
    }
    lines.extend(row.papers.iter().cloned());
    if row.basis.is_none() && row.papers.is_empty() {
        lines.push("No papers recorded".into());
    }
    lines
}

impl FailingView {
    fn of(cells: &FailingCells) -> Self {
        let because = Some(&cells.because).filter(|why| !why.is_empty());
        let because = because.map(|why| format!(": {why}")).unwrap_or_default();
        Self {
            how: cells.kind.words(),
            cells: format!("{} × {}", cells.territory_words(), cells.media_words()),
            days: format!("{}{because}", cells.days_words()),
        }
    }
}

pub(super) fn count(number: u64, one: &str, many: &str) -> String {
    format!(
        "{} {}",
        grouped(number),
        if number == 1 { one } else { many }
    )
}
