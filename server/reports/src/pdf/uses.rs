//! The uses as they stand in the appendix.

use std::collections::HashMap;

use waybill_domain::report::{ClearanceReport, ReportRate, ReportUse};

use super::lines::{LineTable, columns};

/// Widths of the columns, pt: number, element, in and out, length, event and track, source.
const WIDTHS: [f64; 6] = columns([24.0, 110.8, 122.0, 44.0, 62.0, 130.4]);

/// What each element is called, by its number.
pub(super) fn labels(report: &ClearanceReport) -> HashMap<u32, &str> {
    let rows = report.rows.iter();
    rows.map(|row| (row.number, row.label.as_str())).collect()
}

pub(super) fn all(uses: &[ReportUse], labels: &HashMap<u32, &str>, rate: ReportRate) -> LineTable {
    let one = |one: &ReportUse| {
        let label = labels.get(&one.row).copied().unwrap_or_default();
        [
            vec![one.row.to_string()],
            vec![label.to_owned()],
            vec![format!("{} – {}", one.record_in, one.record_out)],
            vec![rate.length_words(one.frames)],
            vec![event(one)],
            source(one),
        ]
    };
    LineTable::new(WIDTHS, uses.iter().map(one))
}

fn event(one: &ReportUse) -> String {
    let event = [one.event.as_str(), one.track.as_deref().unwrap_or_default()];
    let event: Vec<&str> = event.into_iter().filter(|part| !part.is_empty()).collect();
    event.join(", ")
}

fn source(one: &ReportUse) -> Vec<String> {
    let file = one.source_file.clone();
    let mut lines = vec![file.unwrap_or_else(|| "no file known".into())];
    let reel = one.reel.as_ref().map(|reel| format!("reel {reel}"));
    let from = one.source_in.as_ref().map(|at| format!("from {at}"));
    let second: Vec<String> = reel.into_iter().chain(from).collect();
    if !second.is_empty() {
        lines.push(second.join(", "));
    }
    lines
}
