//! The PDF as other programs read it: poppler's `pdftotext` and `pdfinfo` (skipped where absent).

mod sample;

use std::process::Command;

use waybill_domain::report::{ClearanceReport, count_states};
use waybill_reports::{ReportError, render_pdf};

/// What poppler's program prints about a PDF; `None` where it is not installed.
fn poppler(program: &str, options: &[&str], pdf: &[u8]) -> Option<String> {
    let name = format!(
        "waybill-{}-{:?}.pdf",
        std::process::id(),
        std::thread::current().id()
    );
    let path = std::env::temp_dir().join(name);
    std::fs::write(&path, pdf).expect("a writable temporary folder");
    let mut command = Command::new(program);
    command.args(options).arg(&path);
    if program == "pdftotext" {
        command.arg("-");
    }
    let output = command.output();
    std::fs::remove_file(&path).expect("our own file");
    match output {
        Ok(output) => Some(String::from_utf8_lossy(&output.stdout).into_owned()),
        Err(_) => {
            eprintln!("skipped: {program} is not installed");
            None
        }
    }
}

/// The text with every run of white space as one space, so that line ends do not matter.
fn text(pdf: &[u8]) -> Option<String> {
    let text = poppler("pdftotext", &["-layout"], pdf)?;
    Some(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn small() -> ClearanceReport {
    let mut report = sample::sample();
    report.rows.truncate(2);
    report.uses.truncate(3);
    report
}

#[test]
fn same_report_same_bytes() {
    let report = small();
    let first = render_pdf(&report).expect("a PDF");
    let second = render_pdf(&report).expect("a PDF");
    assert!(first == second, "two runs differ");
    assert!(first.starts_with(b"%PDF-1.7"));
}

#[test]
fn paper_says_what_rulebook_r50_asks_for() {
    let pdf = render_pdf(&sample::sample()).expect("a PDF");
    let Some(text) = text(&pdf) else { return };
    for needed in [
        "Clearance and asset report",
        "The Slipway Season · Episode 3, Slack Water",
        "EP03_CUT_290112, version 4 · 15 Jan 2029, 16:05",
        "by Marit Ellingsworth",
        "Factual delivery, transmission and catch-up, issue",
        "1 Mar 2029 to 29 Feb 2032 (1,096 days)",
        "Not cleared for this delivery",
        "Not cleared: all territories × free television and catch-up",
        "Unknown source",
        "Not logged",
        "To do by Tue 23 Jan 2029",
        "280714_SLIP_CAMA_A004_012.mov",
        "9f2c1d7be04a5f6638c1a2f0d4472b19ce5a0e8873d41f6b2a90c7e5d8134f60",
        "Days ahead, soonest first",
        "last day to give notice for 24 months after 9 Jan 2031",
        "This report is not legal advice.",
        "Page 1 of",
    ] {
        assert!(
            text.contains(needed),
            "{needed:?} is not in the paper:\n{text}"
        );
    }
}

// Source: PDF/UA-1 (ISO 14289-1): tagged, title shown, language set, identified in the metadata.
#[test]
fn pdf_is_tagged_and_says_so() {
    let pdf = render_pdf(&small()).expect("a PDF");
    let Some(facts) = poppler("pdfinfo", &[], &pdf) else {
        return;
    };
    let fact = |name: &str| {
        let line = facts
            .lines()
            .find(|line| line.starts_with(name))
            .unwrap_or_default();
        line.trim_start_matches(name).trim().to_owned()
    };
    assert_eq!(fact("Tagged:"), "yes");
    assert_eq!(fact("JavaScript:"), "no");
    assert!(fact("Title:").contains("The Slipway Season, Episode 3, Slack Water"));
    assert!(fact("Page size:").contains("A4"));
    let meta = poppler("pdfinfo", &["-meta"], &pdf).expect("just run");
    assert!(
        meta.contains("<pdfuaid:part>1</pdfuaid:part>"),
        "no PDF/UA-1 mark in {meta}"
    );
    let tree = poppler("pdfinfo", &["-struct"], &pdf).expect("just run");
    for tag in ["H1", "H2", "Table", "THead", "TH", "TD", "L", "LI", "P"] {
        let first = |line: &str| {
            line.split_whitespace()
                .next()
                .map(|word| word.trim_end_matches(':') == tag)
        };
        assert!(
            tree.lines().any(|line| first(line) == Some(true)),
            "no {tag} in the tree"
        );
    }
}

#[test]
fn user_text_is_never_markup() {
    let nasty =
        "#link(\"https://example.org\")[x] *b* _i_ $x$ @ref <label> \\ // #read(\"/etc/passwd\")";
    let mut report = small();
    report.rows[0].label = nasty.into();
    report.header.series = "= Heading #panic()".into();
    report.rows[0].reasons[0].text = nasty.into();
    report.cautions.push("*not bold* #pagebreak()".into());
    let pdf = render_pdf(&report).expect("a PDF");
    assert!(
        !String::from_utf8_lossy(&pdf).contains("/URI"),
        "a link was made"
    );
    let Some(text) = text(&pdf) else { return };
    for part in [
        "#link(",
        "_i_ $x$ @ref <label> \\ //",
        "= Heading #panic()",
        "*not bold*",
    ] {
        assert!(text.contains(part), "{part:?} was read as markup:\n{text}");
    }
}

#[test]
fn long_and_foreign_labels_are_printed_whole() {
    let mut report = small();
    report.rows[0].label = "W".repeat(300);
    report.rows[1].label = "東京 name\u{202E}".into();
    report.rows[1].reasons[0].text = "A lengthy reason. ".repeat(600);
    let pdf = render_pdf(&report).expect("a PDF");
    let Some(raw) = poppler("pdftotext", &["-raw"], &pdf) else {
        return;
    };
    let letters = raw.matches('W').count();
    assert!(letters >= 600, "only {letters} of 2 × 300 letters");
    // Counted by one word, because a page's end may part the sentence.
    assert_eq!(raw.matches("lengthy").count(), 600);
    assert!(
        raw.contains("[U+6771]") && raw.contains("[U+202E]"),
        "{raw}"
    );
    assert!(raw.contains("stand as their code points"));
}

#[test]
fn empty_cut_clears_nothing() {
    let mut report = sample::sample();
    report.rows.clear();
    report.uses.clear();
    report.summary.counts = count_states(&[]);
    report.summary.blocked = false;
    report.cautions.clear();
    report.assumptions.clear();
    report.rules.clear();
    let pdf = render_pdf(&report).expect("a PDF");
    let Some(text) = text(&pdf) else { return };
    assert!(text.contains("Nothing to judge") && text.contains("An empty list clears nothing"));
    assert!(text.contains("0 elements by state"));
}

#[test]
fn too_large_a_report_is_refused_before_any_work() {
    let mut report = small();
    report.rows = vec![report.rows[0].clone(); waybill_reports::MOST_ROWS + 1];
    let refused = render_pdf(&report);
    assert!(matches!(
        refused,
        Err(ReportError::TooLarge { rows: 5_001, .. })
    ));
}
