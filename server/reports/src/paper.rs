//! A [`PrintedPaper`] as PDF, workbook and table: cue sheets, credits, logs, checklists. One way for all of them.
//!
//! The table form has every section that does not say again what stands in another, with series, episode and cut in
//! front of each row; where there are several, the section too, and the columns of all of them. The workbook has a sheet
//! for each section and one for the head, the assumptions and the cautions.

mod xlsx;

use serde_json::{Value, json};
use waybill_domain::papers::{PaperRow, PaperSection, PrintedPaper};
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
        "title": paper.title, "document": paper.whole_title(), "series": paper.series, "subtitle": paper.episode, "author": paper.made_by,
        "date": [at.year(), at.month(), at.day(), at.hour(), at.minute(), at.second()],
        "verdict": paper.verdict, "facts": facts, "sections": sections,
        "assumptions": paper.assumptions, "cautions": paper.cautions, "landscape": paper.landscape,
        "running_left": paper.whole_title(),
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
        let sections: Vec<&PaperSection> = (paper.sections.iter())
            .filter(|section| !section.says_again)
            .collect();
        let mut names: Vec<&str> = Vec::new();
        for column in sections.iter().flat_map(|section| &section.columns) {
            if !names.contains(&column.name.as_str()) {
                names.push(&column.name);
            }
        }
        let part = (sections.len() > 1).then_some("Part");
        let head = ["Series", "Episode", "Cut"].into_iter().chain(part);
        writer.write_record(head.chain(names.iter().copied()))?;
        for section in sections {
            let place = |name: &&str| section.columns.iter().position(|one| one.name == **name);
            let places: Vec<Option<usize>> = names.iter().map(place).collect();
            let part = part.map(|_| section.title.as_str());
            for row in &section.rows {
                let head = [&paper.series, &paper.episode, &paper.cut].map(String::as_str);
                let cell = |at: &Option<usize>| Some(row.cells.get((*at)?)?.as_str());
                let cells = places.iter().map(|at| cell(at).unwrap_or_default());
                let record = head.into_iter().chain(part).chain(cells);
                writer.write_record(record.map(|cell| neutralise(cell).into_owned()))?;
            }
        }
        writer.flush().map_err(::csv::Error::from)?;
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use chrono::{TimeZone, Utc};
    use waybill_domain::papers::PaperFact;

    use super::*;

    fn paper() -> PrintedPaper {
        let mut list = PaperSection::new("Cues", "None.", &[("No.", 1, true), ("Title", 6, false)]);
        list.push(true, ["1".to_owned(), "=Tide & Table ".repeat(80)]);
        list.push(
            false,
            ["2".to_owned(), "The Lighterman’s Daughter".to_owned()],
        );
        let mut empty =
            PaperSection::new("Still open/[x]", "Nothing is open.", &[("Cue", 1, true)]);
        empty.says_again = true;
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

    /// Read with the `calamine` crate. 9 Jan 2029 is day 47,127 of the 1900 date system: 25,569 is 1 Jan 1970, and that
    /// day is 21,558 days later.
    #[test]
    fn a_workbook_has_typed_days_and_lengths() {
        use calamine::{Data, Reader, Xlsx, open_workbook_from_rs};
        let mut paper = paper();
        let columns = [
            ("Signed", 2, false),
            ("Length", 2, true),
            ("What", 6, false),
        ];
        let mut more = PaperSection::new("Every use, in the order of the cut", "None.", &columns);
        more.lead = "Out is the first frame after the use.".into();
        for cells in [
            ["9 Jan 2029", "1:07", "9 Jan 2029, by letter"],
            ["29 Feb 2029", "1:30:00", "1:07"],
            ["", "-1234.50", "1234.50"],
        ] {
            more.push(false, cells.map(str::to_owned));
        }
        let music = PaperSection::new("Commissioned and recorded music too", "None.", &columns);
        paper.sections = vec![more, music.clone(), music];
        let bytes = render_paper(&paper, PaperForm::Xlsx).expect("made");
        let mut book: Xlsx<_> =
            open_workbook_from_rs(std::io::Cursor::new(bytes)).expect("a workbook");
        // Names end with a word, within the 31 letters that the format allows.
        let names = [
            "Head",
            "Every use",
            "Commissioned and recorded music",
            "Commissioned and recorded 2",
        ];
        assert_eq!(book.sheet_names(), names);
        let head = book.worksheet_range("Head").expect("a sheet");
        let lead = Data::String("Out is the first frame after the use.".into());
        assert!(head.rows().any(|row| row.contains(&lead)), "the lead");
        let uses = book.worksheet_range("Every use").expect("a sheet");
        let number = |at| match uses.get_value(at) {
            Some(Data::DateTime(one)) => one.as_f64(),
            other => panic!("{at:?} is {other:?}"),
        };
        assert!((number((1, 0)) - 47_127.0).abs() < 1e-9);
        assert!((number((1, 1)) * 86_400.0 - 67.0).abs() < 1e-6);
        assert!((number((2, 1)) * 86_400.0 - 5_400.0).abs() < 1e-6);
        // Amounts are numbers where numbers stand.
        assert_eq!(uses.get_value((3, 1)), Some(&Data::Float(-1234.5)));
        // No such day, more than a day, and a length where no numbers stand: as typed.
        for (at, text) in [
            ((2, 0), "29 Feb 2029"),
            ((1, 2), "9 Jan 2029, by letter"),
            ((2, 2), "1:07"),
            ((3, 2), "1234.50"),
        ] {
            assert_eq!(uses.get_value(at), Some(&Data::String(text.into())));
        }
    }

    /// A table of one paper has all of its lists: a chain of title without its music would pass for a whole one.
    #[test]
    fn a_table_has_every_list() {
        let mut paper = paper();
        let mut further = PaperSection::new(
            "Music",
            "None.",
            &[("Title", 6, false), ("Owner", 6, false)],
        );
        further.push(
            false,
            ["Tide Table".to_owned(), "Perran Loxtarn".to_owned()],
        );
        paper.sections.push(further);
        let bytes = render_paper(&paper, PaperForm::Csv).expect("made");
        let text = String::from_utf8(bytes).expect("UTF-8");
        let lines: Vec<&str> = text.trim_start_matches('\u{FEFF}').lines().collect();
        assert_eq!(lines[0], "Series,Episode,Cut,Part,No.,Title,Owner");
        assert!(
            lines[2].ends_with(",Cues,2,The Lighterman’s Daughter,"),
            "{}",
            lines[2]
        );
        assert!(
            lines[3].ends_with(",Music,,Tide Table,Perran Loxtarn"),
            "{}",
            lines[3]
        );
        assert_eq!(lines.len(), 4, "what says it again is not there twice");
    }
}
