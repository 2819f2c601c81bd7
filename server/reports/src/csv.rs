//! The report as CSV: UTF-8 with a byte order mark, RFC 4180 (commas, CR LF, doubled quotes).
//!
//! One record per element and block of failing cells; an element without failing cells has one
//! record with those columns empty. [`COLUMNS`] documents each column. Dates are ISO 8601.
//! No field can be run as a formula by a spreadsheet: see [`neutralise`].

use std::borrow::Cow;

use chrono::NaiveDate;
use waybill_domain::report::{CellKind, ClearanceReport, DaySpan, FailingCells, Named, ReportRow};

use crate::{ReportError, check_size};

/// What stands between several values in one field.
const BETWEEN: &str = " | ";

/// The columns in their order: name, and what it holds.
pub const COLUMNS: [(&str, &str); 31] = [
    ("series", "title of the series"),
    (
        "episode_number",
        "number of the episode as the team writes it",
    ),
    ("episode_title", "title of the episode"),
    ("cut", "name of the cut"),
    ("cut_version", "version of the cut"),
    ("locked", "yes or no"),
    ("specification", "name of the delivery specification"),
    ("specification_version", "its version"),
    ("made_at", "instant of the report, RFC 3339, UTC"),
    (
        "number",
        "number of the element, worst first; the same in all forms of the report",
    ),
    (
        "state",
        "covered, ends soon, restricted, evidence only, gap, unknown, not logged or unknown source",
    ),
    ("kind", "kind of element in words"),
    ("label", "what the team calls it"),
    ("credited_as", "name as credited"),
    ("credit_line", "credit line that the licence asks for"),
    ("basis", "licensed, released, public domain, …"),
    ("papers", "papers behind the basis, several parted by a bar"),
    ("first_use", "record timecode of the first use"),
    ("uses", "number of uses"),
    ("total_frames", "total time in frames of the cut"),
    ("total_seconds", "total time in seconds, three decimals"),
    (
        "failing",
        "gap, unknown or restricted; empty when no cell fails",
    ),
    (
        "territories",
        "codes of the territories that fail, parted by a space",
    ),
    ("media", "names of the media that fail, parted by a space"),
    (
        "days",
        "failing days as from/to, both included, parted by a space; empty: all needed days",
    ),
    ("because", "what is missing in these cells"),
    (
        "reasons",
        "all reasons, each with its rule in front, parted by a bar",
    ),
    ("to_do", "what to do, parted by a bar"),
    ("needed_by", "day by which it must be done"),
    ("ends_on", "last day of the right that ends first"),
    ("key", "id of the element in the records"),
];

/// Writes the report as CSV.
///
/// # Errors
/// When the report is too large ([`ReportError::TooLarge`]).
pub fn render_csv(report: &ClearanceReport) -> Result<Vec<u8>, ReportError> {
    check_size(report)?;
    let mut out = vec![0xEF, 0xBB, 0xBF];
    {
        let mut writer = ::csv::WriterBuilder::new()
            .terminator(::csv::Terminator::CRLF)
            .from_writer(&mut out);
        writer.write_record(COLUMNS.map(|(name, _)| name))?;
        for row in &report.rows {
            if row.failing.is_empty() {
                write(&mut writer, report, row, None)?;
            }
            for block in &row.failing {
                write(&mut writer, report, row, Some(block))?;
            }
        }
        writer.flush().map_err(::csv::Error::from)?;
    }
    Ok(out)
}

fn write(
    writer: &mut ::csv::Writer<&mut Vec<u8>>,
    report: &ClearanceReport,
    row: &ReportRow,
    block: Option<&FailingCells>,
) -> Result<(), ReportError> {
    let header = &report.header;
    let seconds = header.frame_rate.seconds(row.total_frames);
    let reasons = row
        .reasons
        .iter()
        .map(|r| format!("{} {}", r.rule, r.text).trim().to_owned());
    let reasons: Vec<String> = reasons.collect();
    let fields: [String; COLUMNS.len()] = [
        header.series.clone(),
        header.episode_number.clone(),
        header.episode_title.clone(),
        header.cut_name.clone(),
        header.cut_version.clone().unwrap_or_default(),
        if header.locked { "yes" } else { "no" }.into(),
        header.specification.name.clone(),
        header.specification.version.clone().unwrap_or_default(),
        header
            .made_at
            .to_rfc3339_opts(chrono::SecondsFormat::Secs, true),
        row.number.to_string(),
        row.state.word().into(),
        row.kind.clone(),
        row.label.clone(),
        row.credited_as.clone().unwrap_or_default(),
        row.credit_line.clone().unwrap_or_default(),
        row.basis.clone().unwrap_or_default(),
        row.papers.join(BETWEEN),
        row.first_use.clone().unwrap_or_default(),
        row.uses.to_string(),
        row.total_frames.to_string(),
        format!("{seconds:.3}"),
        block.map_or(String::new(), |b| kind(b.kind).into()),
        block.map_or(String::new(), |b| codes(&b.territories)),
        block.map_or(String::new(), |b| codes(&b.media)),
        block.map_or(String::new(), |b| days(&b.days)),
        block.map_or(String::new(), |b| b.because.clone()),
        reasons.join(BETWEEN),
        row.to_do.join(BETWEEN),
        iso(row.needed_by),
        iso(row.ends_on),
        row.key.clone(),
    ];
    writer.write_record(fields.iter().map(|field| neutralise(field).into_owned()))?;
    Ok(())
}

const fn kind(kind: CellKind) -> &'static str {
    match kind {
        CellKind::Gap => "gap",
        CellKind::Unknown => "unknown",
        CellKind::Restricted => "restricted",
    }
}

fn codes(names: &[Named]) -> String {
    names
        .iter()
        .map(|named| named.code.as_str())
        .collect::<Vec<_>>()
        .join(" ")
}

fn days(spans: &[DaySpan]) -> String {
    let one = |span: &DaySpan| format!("{}/{}", span.from, span.to);
    spans.iter().map(one).collect::<Vec<_>>().join(" ")
}

fn iso(day: Option<NaiveDate>) -> String {
    day.map(|day| day.to_string()).unwrap_or_default()
}

/// Puts an apostrophe before a text that a spreadsheet could run as a formula.
///
/// Such a text begins, after spaces and earlier apostrophes, with `=`, `+`, `-`, `@`, a tab, CR, LF
/// or NUL, or with a full-width form of those signs (OWASP CSV injection; CWE-1236). A plain number
/// such as `-12.5` stays a number. [`restore`] takes exactly this apostrophe off again.
#[must_use]
pub fn neutralise(text: &str) -> Cow<'_, str> {
    if is_risky(text) {
        Cow::Owned(format!("'{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// Takes the apostrophe off that [`neutralise`] put on; any other text stays as it is.
#[must_use]
pub fn restore(text: &str) -> &str {
    text.strip_prefix('\'')
        .filter(|rest| is_risky(rest))
        .unwrap_or(text)
}

fn is_risky(text: &str) -> bool {
    let quiet =
        |c: char| c == '\'' || c == ' ' || c == '\u{A0}' || c == '\u{FEFF}' || c == '\u{200B}';
    let starts = |c: char| {
        matches!(c, '=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '\0')
            || matches!(
                c,
                '＝' | '＋' | '－' | '＠' | '\u{2212}' | '﹦' | '﹢' | '﹣' | '﹫'
            )
    };
    text.trim_start_matches(quiet).starts_with(starts) && !is_number(text)
}

/// An optional minus, digits, and perhaps a point and digits. Nothing else counts as a number here.
fn is_number(text: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let text = text.strip_prefix('-').unwrap_or(text);
    text.split_once('.')
        .map_or_else(|| digits(text), |(a, b)| digits(a) && digits(b))
}

#[cfg(test)]
mod tests {
    use super::{neutralise, restore};

    // Source: OWASP "CSV Injection" and ASVS 5.0 1.2.10: the signs, the white space and the
    // full-width forms; negative numbers are data.
    #[test]
    fn formulas_are_neutralised_and_come_back() {
        for risky in [
            "=1+1",
            "+44 20",
            "-2+3",
            "@SUM(A1)",
            "\t=1",
            "\r=1",
            "\n=1",
            "\0=1",
            "＝1",
            "＋1",
            "－1",
            "＠x",
            " =1",
            "'=1",
            "''=1",
            "\u{FEFF}=1",
            "-",
            "--1",
            "-1e5",
            "−1",
            "=HYPERLINK(\"http://example.org\")",
        ] {
            let safe = neutralise(risky);
            assert_eq!(safe, format!("'{risky}"));
            assert_eq!(restore(&safe), risky);
        }
        for fine in [
            "-12",
            "-12.50",
            "3",
            "",
            "O'Neill",
            "'quoted'",
            "a=b",
            "10:00:00:00",
            "'",
        ] {
            assert_eq!(neutralise(fine), fine);
            assert_eq!(restore(fine), fine);
        }
    }
}
