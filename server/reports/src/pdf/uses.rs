//! The uses as they stand in the appendix, and which of them surely need no more lines than they have texts.

use std::collections::HashMap;

use serde::Serialize;
use waybill_domain::report::{ClearanceReport, ReportUse};

use crate::world::advance;

/// Size of the appendix's letters, pt.
pub(super) const SIZE: f64 = 8.5;

/// Widths of its columns, pt: number, element, in and out, length, event and track, source. Together 174 mm.
pub(super) const WIDTHS: [f64; 6] = [24.0, 110.8, 122.0, 44.0, 62.0, 130.4];

/// Space between two columns, pt.
const GAP: f64 = 8.0;

/// What kerning may add to a text's width.
const RESERVE: f64 = 1.05;

#[derive(Serialize)]
pub(super) struct UseView {
    row: String,
    label: String,
    place: String,
    length: String,
    event: String,
    source: Vec<String>,
    /// No text needs a second line, so the row's height is known before it is set.
    fits: bool,
}

pub(super) fn all(report: &ClearanceReport) -> Vec<UseView> {
    let rows = report.rows.iter();
    let labels: HashMap<u32, &str> = rows.map(|row| (row.number, row.label.as_str())).collect();
    let one = |one: &ReportUse| {
        let label = labels.get(&one.row).copied().unwrap_or_default();
        let length = report.header.frame_rate.length_words(one.frames);
        UseView::of(one, label, length)
    };
    report.uses.iter().map(one).collect()
}

impl UseView {
    fn of(one: &ReportUse, label: &str, length: String) -> Self {
        let event = [one.event.as_str(), one.track.as_deref().unwrap_or_default()];
        let event: Vec<&str> = event.into_iter().filter(|part| !part.is_empty()).collect();
        let mut view = Self {
            row: one.row.to_string(),
            label: label.to_owned(),
            place: format!("{} – {}", one.record_in, one.record_out),
            length,
            event: event.join(", "),
            source: source(one),
            fits: false,
        };
        view.fits = view.fits();
        view
    }

    fn fits(&self) -> bool {
        let single = [
            &self.row,
            &self.label,
            &self.place,
            &self.length,
            &self.event,
        ];
        let [.., last] = WIDTHS;
        single
            .into_iter()
            .zip(WIDTHS.map(|width| width - GAP))
            .chain(self.source.iter().map(|line| (line, last)))
            .all(|(text, width)| fits(text, width))
    }
}

/// Whether a text surely stands on one line of this width, pt.
fn fits(text: &str, width: f64) -> bool {
    // Figures are set as wide as each other; the nought is the widest.
    let set = |letter: char| if letter.is_ascii_digit() { '0' } else { letter };
    let wide = text
        .chars()
        .map(|letter| advance(set(letter)))
        .sum::<Option<f64>>();
    wide.is_some_and(|wide| wide * SIZE * RESERVE <= width)
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

#[cfg(test)]
mod tests {
    use super::{WIDTHS, fits};

    #[test]
    fn columns_fill_the_page_between_its_margins() {
        let wide: f64 = WIDTHS.iter().sum();
        assert!((wide - 174.0 * 72.0 / 25.4).abs() < 0.1, "{wide}");
    }

    #[test]
    fn only_what_surely_stands_on_one_line_fits() {
        assert!(fits("01:00:09:00 – 01:00:10:20", 114.0));
        assert!(fits("", 0.0));
        assert!(!fits(&"W".repeat(15), 102.8));
        // Another face may be wider, and a line's end in a name is another line.
        assert!(!fits("東", 102.8) && !fits("a\nb", 102.8));
    }
}
