//! One element as it stands on paper.

use serde::Serialize;
use waybill_domain::report::{
    CellKind, FailingCells, ReportRate, ReportReason, ReportRow, ReportState,
};
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
    /// Rules and reasons of just these cells, which they do not name again.
    why: Vec<(String, String)>,
}

impl RowView {
    pub(super) fn of(row: &ReportRow, rate: ReportRate) -> Self {
        let mut others: Vec<&ReportReason> = row.reasons.iter().collect();
        let failing = row.failing.iter();
        let failing = failing.map(|cells| FailingView::of(cells, &mut others));
        let failing: Vec<FailingView> = failing.collect();
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
            failing,
            reasons: others
                .into_iter()
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
pub(super) fn details(row: &ReportRow) -> Vec<String> {
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
    /// Takes from `others` the reasons that say why just these cells fail.
    fn of(cells: &FailingCells, others: &mut Vec<&ReportReason>) -> Self {
        let scope = cells.scope();
        let unknown = cells.kind == CellKind::Unknown;
        let own = |reason: &&mut &ReportReason| {
            reason.text.contains(" is unknown") == unknown
                && without(&reason.text, &scope).is_some()
        };
        let why = others
            .extract_if(.., |reason| own(&reason))
            .filter_map(|reason| Some((reason.rule.clone(), without(&reason.text, &scope)?)))
            .collect();
        let because = Some(&cells.because).filter(|why| !why.is_empty());
        let because = because.map(|why| format!(": {why}")).unwrap_or_default();
        Self {
            how: cells.kind.words(),
            cells: format!("{} × {}", cells.territory_words(), cells.media_words()),
            days: format!("{}{because}", cells.days_words()),
            why,
        }
    }
}

/// A sentence without where it holds; none when it holds elsewhere, too, or says it in other words.
fn without(sentence: &str, scope: &str) -> Option<String> {
    let (before, after) = sentence.split_once(scope)?;
    let goes_on = after.starts_with(" and ") || after.starts_with(',');
    (!goes_on).then(|| format!("{}{after}", before.trim_end()))
}

pub(super) fn count(number: u64, one: &str, many: &str) -> String {
    format!(
        "{} {}",
        grouped(number),
        if number == 1 { one } else { many }
    )
}

#[cfg(test)]
mod tests {
    use super::without;

    #[test]
    fn a_reason_under_its_cells_does_not_name_them_again() {
        let scope = "for cinema in Ireland";
        assert_eq!(
            without(
                "The Ebb is cleared for cinema in Ireland until 3 May 2030; it is short.",
                scope
            )
            .as_deref(),
            Some("The Ebb is cleared until 3 May 2030; it is short.")
        );
        assert_eq!(
            without(
                "The Ebb is not cleared for cinema in Ireland (the licence has no days); more.",
                scope
            )
            .as_deref(),
            Some("The Ebb is not cleared (the licence has no days); more.")
        );
        // Other cells, though their words begin alike.
        assert_eq!(
            without(
                "It is not cleared for cinema in Ireland and France; more.",
                scope
            ),
            None
        );
        assert_eq!(
            without(
                "It is not cleared for cinema in Ireland, Italy and France; more.",
                scope
            ),
            None
        );
        assert_eq!(without("The form is not signed.", scope), None);
    }
}
