//! A [`PrintedPaper`] as PDF, workbook and table: cue sheets, credits, logs, checklists. One way for all of them.
//!
//! The table form has the first section only, with series, episode and cut in front of each row; the workbook has a
//! sheet for each section and one for the head, the assumptions and the cautions.

mod xlsx;

use serde_json::{Value, json};
use waybill_domain::papers::{PaperRow, PrintedPaper};
use waybill_domain::wording::date_words;

use crate::csv::neutralise;
use crate::{MOST_ROWS, MOST_USES, ReportError};

const TEMPLATE: &str = include_str!("templates/paper.typ");

/// A form of a paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaperForm {
    Pdf,
    Xlsx,
    Csv,
}

/// Sets a paper. The same paper gives the same bytes.
///
/// # Errors
/// [`ReportError::TooLarge`] beyond [`MOST_USES`] rows; a refusal of the typesetter or of a writer.
pub fn render_paper(paper: &PrintedPaper, form: PaperForm) -> Result<Vec<u8>, ReportError> {
    let rows: usize = paper
        .sections
        .iter()
        .map(|section| section.rows.len())
        .sum();
    let most = match form {
        // A page of a typeset list costs far more than a row of a table.
        PaperForm::Pdf => MOST_ROWS * 2,
        PaperForm::Xlsx | PaperForm::Csv => MOST_USES,
    };
    if rows > most {
        return Err(ReportError::TooLarge { rows, uses: rows });
    }
    match form {
        PaperForm::Pdf => crate::pdf::typeset(TEMPLATE, view(paper)),
        PaperForm::Xlsx => xlsx::workbook(paper),
        PaperForm::Csv => table(paper),
    }
}

/// What the template reads.
fn view(paper: &PrintedPaper) -> Value {
    use chrono::{Datelike, Timelike};
    let at = paper.made_local();
    let made = format!("{} {}", date_words(at.date()), at.format("%H:%M"));
    let sections: Vec<Value> = (paper.sections.iter())
        .map(|section| {
            json!({
                "title": section.title, "lead": section.lead, "nothing": section.nothing,
                "columns": section.columns,
                "widths": section.columns.iter().map(|column| column.width).collect::<Vec<_>>(),
                "rows": section.rows.iter().map(row).collect::<Vec<_>>(),
            })
        })
        .collect();
    let made_by = format!("{made} ({}), by {}", paper.time_zone, paper.made_by);
    let facts: Vec<[&str; 2]> = (paper.facts.iter())
        .map(|fact| [fact.name.as_str(), fact.value.as_str()])
        .chain([["Made", made_by.as_str()]])
        .collect();
    let running: Vec<&str> = [paper.cut.as_str(), made.as_str()]
        .into_iter()
        .filter(|part| !part.is_empty())
        .collect();
    json!({
        "title": paper.title, "series": paper.series, "subtitle": paper.episode, "author": paper.made_by,
        "date": [at.year(), at.month(), at.day(), at.hour(), at.minute(), at.second()],
        "verdict": paper.verdict, "facts": facts, "sections": sections,
        "assumptions": paper.assumptions, "cautions": paper.cautions, "landscape": paper.landscape,
        "running_left": format!("{}: {}, {}", paper.title, paper.series, paper.episode),
        "running_right": running.join(" · "),
    })
}

/// A row that would not fit a page must be allowed to part.
fn row(row: &PaperRow) -> Value {
    let long = row.cells.iter().any(|cell| cell.chars().count() > 600);
    json!({ "cells": row.cells, "open": row.open, "long": long })
}

fn table(paper: &PrintedPaper) -> Result<Vec<u8>, ReportError> {
    let mut out = vec![0xEF, 0xBB, 0xBF];
    {
        let mut writer = ::csv::WriterBuilder::new()
            .terminator(::csv::Terminator::CRLF)
            .from_writer(&mut out);
        if let Some(section) = paper.sections.first() {
            let names = section.columns.iter().map(|column| column.name.as_str());
            writer.write_record(["Series", "Episode", "Cut"].into_iter().chain(names))?;
            for row in &section.rows {
                let head = [&paper.series, &paper.episode, &paper.cut];
                let cells = head.into_iter().chain(&row.cells);
                writer.write_record(cells.map(|cell| neutralise(cell).into_owned()))?;
            }
        }
        writer.flush().map_err(::csv::Error::from)?;
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use chrono::{TimeZone, Utc};
    use waybill_domain::papers::{PaperFact, PaperSection};

    use super::*;

    fn paper() -> PrintedPaper {
        let mut list = PaperSection::new("Cues", "None.", &[("No.", 1, true), ("Title", 6, false)]);
        list.push(true, ["1".to_owned(), "=Tide & Table ".repeat(80)]);
        list.push(
            false,
            ["2".to_owned(), "The Lighterman’s Daughter".to_owned()],
        );
        let empty = PaperSection::new("Still open/[x]", "Nothing is open.", &[("Cue", 1, true)]);
        PrintedPaper {
            title: "Music cue sheet".into(),
            series: "A Season at Tallow Quay".into(),
            episode: "Episode 1, First Light".into(),
            cut: "EP01_CUT_290101_v4".into(),
            verdict: "2 cues".into(),
            facts: PaperFact::some("Country", "GB").into_iter().collect(),
            sections: vec![list, empty],
            assumptions: vec!["Half up.".into()],
            cautions: vec!["Not legal advice.".into()],
            landscape: true,
            made_at: Utc.with_ymd_and_hms(2029, 1, 9, 10, 0, 0).unwrap(),
            time_zone: "Europe/London".into(),
            made_by: "Perpetua Linnock".into(),
        }
    }

    #[test]
    fn forms_are_made_twice_the_same() {
        for form in [PaperForm::Pdf, PaperForm::Xlsx, PaperForm::Csv] {
            let (one, two) = (render_paper(&paper(), form), render_paper(&paper(), form));
            let (one, two) = (one.expect("made"), two.expect("made"));
            assert!(!one.is_empty() && one == two, "{form:?}");
        }
    }

    #[test]
    fn a_table_is_safe_to_open() {
        let bytes = render_paper(&paper(), PaperForm::Csv).expect("made");
        let text = String::from_utf8(bytes).expect("UTF-8");
        let mut lines = text.trim_start_matches('\u{FEFF}').split("\r\n");
        assert_eq!(lines.next(), Some("Series,Episode,Cut,No.,Title"));
        assert!(lines.next().is_some_and(|line| line.contains(",1,'=Tide")));
    }
}
