//! The elements that nothing is to be said of but what covers them, a short row each.

use waybill_domain::report::{ReportRate, ReportRow, ReportState};
use waybill_domain::wording::date_words;

use super::lines::{LineTable, columns};
use super::rows::{count, details};

/// Widths of the columns, pt: number, element and kind, papers, first use and uses, end.
const WIDTHS: [f64; 5] = columns([24.0, 122.0, 200.0, 86.0, 61.2]);

/// Whether an element stands in the short list.
pub(super) fn is_short(row: &ReportRow) -> bool {
    row.state == ReportState::Covered
        && row.failing.is_empty()
        && row.reasons.is_empty()
        && row.to_do.is_empty()
}

pub(super) fn all(rows: &[&ReportRow], rate: ReportRate) -> LineTable {
    let one = |row: &&ReportRow| {
        let length = rate.length_words(row.total_frames);
        let uses = count(row.uses.into(), "use", "uses");
        let mut when: Vec<String> = row.first_use.iter().cloned().collect();
        when.push(format!("{uses}, {length}"));
        [
            vec![row.number.to_string()],
            vec![row.label.clone(), row.kind.clone()],
            details(row),
            when,
            row.ends_on.map(date_words).into_iter().collect(),
        ]
    };
    LineTable::new(WIDTHS, rows.iter().map(one))
}
