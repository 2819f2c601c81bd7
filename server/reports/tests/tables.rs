//! CSV and XLSX as other programs read them: the `csv` and `calamine` crates.

mod sample;

use std::io::Cursor;

use calamine::{Data, Reader, Xlsx, open_workbook_from_rs};
use waybill_domain::report::ClearanceReport;
use waybill_reports::csv::{COLUMNS, restore};
use waybill_reports::{render_csv, render_json, render_xlsx};

/// Names that a spreadsheet would run, or that break careless CSV.
const NASTY: [&str; 9] = [
    "=HYPERLINK(\"http://example.org\";\"x\")",
    "+44 20 7946 0000",
    "-2+3+cmd|' /C calc'!A0",
    "@SUM(1+1)*cmd",
    "\t=1+1",
    "＝1+1",
    "comma, \"quote\" and\r\nline",
    "'=already quoted",
    "Siân “Żółć” 東京",
];

fn nasty() -> ClearanceReport {
    let mut report = sample::sample();
    for (row, name) in report.rows.iter_mut().zip(NASTY) {
        row.label = name.into();
        row.credited_as = Some(name.into());
        row.papers = vec![name.into()];
    }
    report.header.series = NASTY[0].into();
    report.uses[0].source_file = Some(NASTY[0].into());
    report.cautions.push(NASTY[0].into());
    report
}

fn records(bytes: &[u8]) -> Vec<Vec<String>> {
    let text = bytes
        .strip_prefix(b"\xEF\xBB\xBF")
        .expect("a byte order mark");
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(text);
    reader
        .records()
        .map(|record| {
            record
                .expect("well-formed")
                .iter()
                .map(String::from)
                .collect()
        })
        .collect()
}

fn column(name: &str) -> usize {
    COLUMNS
        .iter()
        .position(|(column, _)| *column == name)
        .expect("a documented column")
}

// Source: OWASP CSV injection; ASVS 5.0 1.2.10.
#[test]
fn no_csv_field_can_run() {
    let report = nasty();
    let records = records(&render_csv(&report).expect("CSV"));
    for field in records.iter().skip(1).flatten() {
        let number = field.parse::<f64>().is_ok();
        let starts = |c: char| "=+-@\t\r\n＝＋－＠".contains(c);
        assert!(number || !field.starts_with(starts), "{field:?} could run");
    }
    for name in NASTY {
        let there = records
            .iter()
            .any(|record| restore(&record[column("label")]) == name);
        assert!(there, "{name:?} does not come back");
    }
}

#[test]
fn csv_has_one_record_per_element_and_block() {
    let report = sample::sample();
    let bytes = render_csv(&report).expect("CSV");
    let records = records(&bytes);
    let wanted: usize = report.rows.iter().map(|row| row.failing.len().max(1)).sum();
    assert_eq!(records.len(), wanted + 1);
    assert_eq!(records[0], COLUMNS.map(|(name, _)| name));
    let text = String::from_utf8(bytes).expect("UTF-8");
    assert_eq!(
        text.matches('\n').count(),
        text.matches("\r\n").count(),
        "RFC 4180 line ends"
    );
    let newsreel: Vec<_> = records
        .iter()
        .filter(|record| record[column("label")].starts_with("Harbour newsreel"))
        .map(|record| ["territories", "media", "days"].map(|name| record[column(name)].clone()))
        .collect();
    assert_eq!(
        newsreel,
        [
            [
                "GB IE NO",
                "television.free on_demand.catch_up",
                "2031-01-10/2032-02-29"
            ],
            ["NO", "promo.in_context", ""],
        ]
    );
}

#[test]
fn workbook_holds_no_formula_and_every_text_as_typed() {
    let report = nasty();
    let bytes = render_xlsx(&report).expect("XLSX");
    let mut book: Xlsx<_> = open_workbook_from_rs(Cursor::new(bytes)).expect("a workbook");
    let names = [
        "Summary",
        "Elements",
        "Uses",
        "Days ahead",
        "Assumptions and cautions",
    ];
    assert_eq!(book.sheet_names(), names);
    for name in names {
        let formulas = book.worksheet_formula(name).expect("a sheet");
        assert!(
            formulas.used_cells().all(|(_, _, text)| text.is_empty()),
            "formula in {name}"
        );
    }
    let elements = book.worksheet_range("Elements").expect("a sheet");
    assert_eq!(elements.height(), report.rows.len() + 1);
    for (at, name) in (1..).zip(NASTY) {
        let cell = elements.get_value((at, 3)).expect("a cell");
        assert_eq!(cell, &Data::String(name.into()), "row {at}");
    }
}

#[test]
fn workbook_has_typed_dates_and_lengths() {
    let report = sample::sample();
    let bytes = render_xlsx(&report).expect("XLSX");
    let mut book: Xlsx<_> = open_workbook_from_rs(Cursor::new(bytes)).expect("a workbook");
    let elements = book.worksheet_range("Elements").expect("a sheet");
    let Some(Data::DateTime(due)) = elements.get_value((1, 14)) else {
        panic!("no date")
    };
    // 23 Jan 2029 is day 47,141 of the 1900 date system: 25,569 is 1 Jan 1970, and that day is
    // 21,572 days later.
    assert!((due.as_f64() - 47_141.0).abs() < 1e-9, "{due:?}");
    let Some(Data::DateTime(total)) = elements.get_value((1, 10)) else {
        panic!("no length")
    };
    assert!((total.as_f64() * 86_400.0 - 37.0).abs() < 1e-6, "{total:?}");
    let uses = book.worksheet_range("Uses").expect("a sheet");
    assert_eq!(uses.height(), report.uses.len() + 1);
    assert!(matches!(uses.get_value((1, 7)), Some(Data::Float(frames)) if *frames == 500.0));
    // The last day of the newsreel's term is day 47,857 of the same system: 9 Jan 2031 is 716 days after 23 Jan 2029.
    let days = book.worksheet_range("Days ahead").expect("a sheet");
    let Some(Data::DateTime(end)) = days.get_value((2, 0)) else {
        panic!("no date")
    };
    assert!((end.as_f64() - 47_857.0).abs() < 1e-9, "{end:?}");
}

#[test]
fn same_report_same_bytes() {
    let report = sample::sample();
    assert!(render_xlsx(&report).expect("XLSX") == render_xlsx(&report).expect("XLSX"));
    assert!(render_csv(&report).expect("CSV") == render_csv(&report).expect("CSV"));
}

#[test]
fn json_is_the_model_itself() {
    let report = nasty();
    let bytes = render_json(&report).expect("JSON");
    let back: ClearanceReport = serde_json::from_slice(&bytes).expect("the same model");
    assert_eq!(back, report);
    assert!(bytes.ends_with(b"}\n") && bytes.starts_with(b"{\n  \"format\""));
}
