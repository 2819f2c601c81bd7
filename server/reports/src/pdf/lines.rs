//! Tables of short texts: which of their rows surely need no more lines than they have texts.

use serde::Serialize;

use crate::world::advance;

/// Size of such a table's letters, pt.
const SIZE: f64 = 8.5;

/// Space between two columns, pt.
const GAP: f64 = 8.0;

/// What kerning may add to a text's width.
const RESERVE: f64 = 1.05;

/// Between the margins of the page, pt: 174 mm.
const PAGE: f64 = 174.0 * 72.0 / 25.4;

/// Columns that fill the page between its margins, pt; others are no table of ours.
pub(super) const fn columns<const N: usize>(widths: [f64; N]) -> [f64; N] {
    let (mut at, mut left) = (0, PAGE);
    while at < N {
        left -= widths[at];
        at += 1;
    }
    assert!(
        -0.1 < left && left < 0.1,
        "the columns do not fill the page"
    );
    widths
}

#[derive(Serialize)]
pub(super) struct LineTable {
    size: f64,
    widths: Vec<f64>,
    rows: Vec<LineRow>,
}

#[derive(Serialize)]
struct LineRow {
    /// The texts of each cell.
    cells: Vec<Vec<String>>,
    /// Lines of the row; none where a text may need a second one, so that its height is found by setting it.
    lines: Option<usize>,
}

impl LineTable {
    /// A table with columns of these widths, pt; the cells of each row, a list of texts each.
    pub(super) fn new<const N: usize>(
        widths: [f64; N],
        rows: impl Iterator<Item = [Vec<String>; N]>,
    ) -> Self {
        Self {
            size: SIZE,
            widths: widths.into(),
            rows: rows.map(|cells| LineRow::new(&widths, cells)).collect(),
        }
    }
}

impl LineRow {
    fn new<const N: usize>(widths: &[f64; N], cells: [Vec<String>; N]) -> Self {
        let lines = cells.iter().map(Vec::len).max().unwrap_or_default().max(1);
        // The last column ends where the page does.
        let room = |at: usize| widths[at] - if at + 1 == N { 0.0 } else { GAP };
        let whole =
            |(at, cell): (usize, &Vec<String>)| cell.iter().all(|text| fits(text, room(at)));
        let fits = cells.iter().enumerate().all(whole);
        Self {
            cells: cells.into(),
            lines: fits.then_some(lines),
        }
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

#[cfg(test)]
mod tests {
    use super::{LineRow, fits};

    #[test]
    fn only_what_surely_stands_on_one_line_fits() {
        assert!(fits("01:00:09:00 – 01:00:10:20", 114.0));
        assert!(fits("", 0.0));
        assert!(!fits(&"W".repeat(15), 102.8));
        // Another face may be wider, and a line's end in a name is another line.
        assert!(!fits("東", 102.8) && !fits("a\nb", 102.8));
    }

    #[test]
    fn a_row_has_as_many_lines_as_its_longest_cell() {
        let row = |second: &[&str]| {
            let texts = second.iter().map(|&text| text.into()).collect();
            LineRow::new(&[40.0, 60.0], [vec!["7".into()], texts]).lines
        };
        assert_eq!(row(&["one", "two"]), Some(2));
        assert_eq!(row(&[]), Some(1));
        assert_eq!(
            row(&["one", "a text that is too long for its column"]),
            None
        );
    }
}
