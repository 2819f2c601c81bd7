//! The five sheets of the workbook, one function each.

use rust_xlsxwriter::XlsxError;
use waybill_domain::report::{ClearanceReport, Named, ReportRow};

use super::{Pen, wall_clock};

type Fill = fn(&mut Pen<'_>, &ClearanceReport) -> Result<(), XlsxError>;

/// Name and contents of each sheet, in their order.
pub(super) const ALL: [(&str, Fill); 5] = [
    ("Summary", summary),
    ("Elements", elements),
    ("Uses", uses),
    ("Days ahead", calendar),
    ("Assumptions and cautions", assumptions),
];

/// One fact of the summary.
enum Value<'a> {
    Text(&'a str),
    Words(String),
    Day(Option<chrono::NaiveDate>),
    Moment(chrono::NaiveDateTime),
    Seconds(f64),
    Count(u64),
}

fn summary(pen: &mut Pen<'_>, report: &ClearanceReport) -> Result<(), XlsxError> {
    let styles = pen.styles;
    pen.styled(0, 0, "Clearance and asset report", &styles.title)?;
    pen.sheet.set_row_height(0, 28)?;
    let caution = report.cautions.first().map_or("", String::as_str);
    pen.styled(1, 0, caution, &styles.label)?;
    pen.columns(&[28.0, 84.0, 12.0, 9.0])?;
    let mut row = 3;
    for (heading, facts) in [
        ("The answer", answer_facts(report)),
        ("The cut", cut_facts(report)),
        ("The delivery", delivery_facts(report)),
        ("The imported cut", file_facts(report)),
    ] {
        pen.styled(row, 0, heading, &styles.heading)?;
        row += 1;
        for (label, value) in facts {
            pen.styled(row, 0, label, &styles.label)?;
            match value {
                Value::Text(text) => pen.styled(row, 1, text, &styles.plain)?,
                Value::Words(text) => pen.styled(row, 1, &text, &styles.plain)?,
                Value::Day(Some(day)) => pen.styled_day(row, 1, day, &styles.plain_day)?,
                Value::Day(None) => pen.styled(row, 1, "not given", &styles.plain)?,
                Value::Moment(at) => pen.moment(row, 1, at)?,
                Value::Count(number) => {
                    let (number, how) = (number as f64, &styles.plain_number);
                    pen.sheet.write_number_with_format(row, 1, number, how)?;
                }
                Value::Seconds(seconds) => {
                    let (days, how) = (seconds / 86_400.0, &styles.plain_length);
                    pen.sheet.write_number_with_format(row, 1, days, how)?;
                }
            }
            pen.end_row(row)?;
            row += 1;
        }
        row += 1;
        if heading == "The answer" {
            row = states(pen, report, row)?;
        }
    }
    Ok(())
}

fn states(pen: &mut Pen<'_>, report: &ClearanceReport, first: u32) -> Result<u32, XlsxError> {
    let styles = pen.styles;
    for (column, name) in (0..).zip(["State", "What it means", "Elements", "Uses"]) {
        pen.styled(first, column, name, &styles.head)?;
    }
    let mut row = first + 1;
    for count in &report.summary.counts {
        pen.styled(row, 0, count.state.word(), styles.state(count.state))?;
        pen.text(row, 1, count.state.meaning())?;
        pen.number(row, 2, count.elements)?;
        pen.number(row, 3, count.uses)?;
        pen.end_row(row)?;
        row += 1;
    }
    Ok(row + 1)
}

fn answer_facts(report: &ClearanceReport) -> Vec<(&'static str, Value<'_>)> {
    let summary = &report.summary;
    let mut facts = vec![
        (
            "Blocked",
            Value::Text(if summary.blocked { "yes" } else { "no" }),
        ),
        ("Why", Value::Text(&summary.blocked_because)),
        (
            "Window of the episode",
            Value::Text(&summary.window.sentence),
        ),
        ("Last day of the window", window_end(report)),
    ];
    if let Some(end) = &summary.window.earliest_ending {
        facts.push(("Earliest known ending", Value::Day(Some(end.last_day))));
        facts.push(("It is the ending of", Value::Text(&end.label)));
        facts.push(("Where and in what", Value::Text(&end.applies_to)));
    }
    facts.push(("Report made", Value::Moment(report.header.made_local())));
    facts.push(("Time zone", Value::Text(&report.header.time_zone)));
    facts.push(("Made by", Value::Text(&report.header.made_by)));
    facts
}

fn window_end(report: &ClearanceReport) -> Value<'_> {
    let window = &report.summary.window;
    match (window.known, window.last_day) {
        (false, _) => Value::Text("unknown"),
        (true, None) => Value::Text("no element ends"),
        (true, day) => Value::Day(day),
    }
}

fn cut_facts(report: &ClearanceReport) -> Vec<(&'static str, Value<'_>)> {
    let header = &report.header;
    let seconds = header.frame_rate.seconds(header.running_frames);
    vec![
        ("Producer", Value::Text(&header.producer_entity)),
        ("Series", Value::Text(&header.series)),
        ("Episode", Value::Words(header.episode())),
        ("Cut", Value::Text(&header.cut_name)),
        (
            "Version",
            Value::Text(header.cut_version.as_deref().unwrap_or("not given")),
        ),
        ("Date of the cut", Value::Day(header.cut_date)),
        (
            "Locked",
            Value::Text(if header.locked {
                "yes"
            } else {
                "no: it may still change"
            }),
        ),
        ("Running time", Value::Seconds(seconds)),
        ("Frame rate", Value::Words(header.frame_rate.words())),
    ]
}

fn delivery_facts(report: &ClearanceReport) -> Vec<(&'static str, Value<'_>)> {
    let spec = &report.header.specification;
    vec![
        ("Specification", Value::Text(&spec.name)),
        (
            "Its version",
            Value::Text(spec.version.as_deref().unwrap_or("not given")),
        ),
        ("For", Value::Text(&spec.broadcaster)),
        ("Territories", Value::Words(names(&spec.territories))),
        ("Media", Value::Words(names(&spec.media))),
        ("First day", Value::Day(spec.first_day)),
        ("Last day", Value::Day(spec.last_day)),
    ]
}

fn file_facts(report: &ClearanceReport) -> Vec<(&'static str, Value<'_>)> {
    let facts = &report.integrity;
    let mut list = vec![
        ("Edit list", Value::Text(&facts.cut_file)),
        ("Size in bytes", Value::Count(facts.cut_file_size)),
        ("SHA-256", Value::Text(&facts.cut_file_sha256)),
    ];
    if let Some(at) = &facts.imported_at {
        list.push(("Imported", Value::Moment(wall_clock(report, at))));
    }
    list.push(("Events", Value::Count(facts.events.into())));
    list.push((
        "With a known source",
        Value::Count(facts.events_matched.into()),
    ));
    list.push(("Worked out by", Value::Text(&facts.program)));
    list
}

fn names(list: &[Named]) -> String {
    list.iter()
        .map(|n| format!("{} ({})", n.name, n.code))
        .collect::<Vec<_>>()
        .join(", ")
}

fn elements(pen: &mut Pen<'_>, report: &ClearanceReport) -> Result<(), XlsxError> {
    let columns = [
        ("No.", 7.0),
        ("State", 16.0),
        ("Kind", 14.0),
        ("Element", 30.0),
        ("Credited as", 15.0),
        ("Credit line", 18.0),
        ("Basis", 14.0),
        ("Papers", 26.0),
        ("First use", 12.0),
        ("Uses", 7.0),
        ("Total", 10.0),
        ("What fails", 34.0),
        ("Reasons", 36.0),
        ("To do", 28.0),
        ("Needed by", 12.0),
        ("Ends", 12.0),
    ];
    pen.head(&columns, report.rows.len())?;
    pen.sheet.set_freeze_panes(1, 4)?;
    for (at, row) in (1..).zip(&report.rows) {
        element(
            pen,
            at,
            row,
            report.header.frame_rate.seconds(row.total_frames),
        )?;
    }
    Ok(())
}

fn element(pen: &mut Pen<'_>, at: u32, row: &ReportRow, seconds: f64) -> Result<(), XlsxError> {
    let styles = pen.styles;
    let optional = |text: &Option<String>| text.clone().unwrap_or_default();
    let reasons = row.reasons.iter().map(|reason| match reason.rule.as_str() {
        "" => reason.text.clone(),
        rule => format!("{} ({rule})", reason.text),
    });
    let reasons: Vec<String> = reasons.collect();
    pen.number(at, 0, row.number)?;
    pen.styled(at, 1, row.state.word(), styles.state(row.state))?;
    pen.text(at, 2, &row.kind)?;
    pen.styled(at, 3, &row.label, &styles.strong)?;
    pen.text(at, 4, &optional(&row.credited_as))?;
    pen.text(at, 5, &optional(&row.credit_line))?;
    pen.text(at, 6, &optional(&row.basis))?;
    pen.text(at, 7, &row.papers.join("\n"))?;
    pen.text(at, 8, &optional(&row.first_use))?;
    pen.number(at, 9, row.uses)?;
    pen.length(at, 10, seconds)?;
    pen.text(at, 11, &row.failing_words().join("\n"))?;
    pen.text(at, 12, &reasons.join("\n"))?;
    pen.text(at, 13, &row.to_do.join("\n"))?;
    pen.day(at, 14, row.needed_by)?;
    pen.day(at, 15, row.ends_on)?;
    pen.end_row(at)
}

fn uses(pen: &mut Pen<'_>, report: &ClearanceReport) -> Result<(), XlsxError> {
    let columns = [
        ("No.", 7.0),
        ("Element", 40.0),
        ("State", 16.0),
        ("Event", 9.0),
        ("Track", 8.0),
        ("In", 13.0),
        ("Out (excluded)", 17.0),
        ("Frames", 9.0),
        ("Length", 10.0),
        ("Source file", 44.0),
        ("Reel", 20.0),
        ("Source in", 13.0),
    ];
    pen.head(&columns, report.uses.len())?;
    let rows: std::collections::HashMap<u32, &ReportRow> =
        report.rows.iter().map(|row| (row.number, row)).collect();
    for (at, one) in (1..).zip(&report.uses) {
        let row = rows.get(&one.row);
        let frames = u32::try_from(one.frames).unwrap_or(u32::MAX);
        pen.number(at, 0, one.row)?;
        pen.text(at, 1, row.map_or("", |row| &row.label))?;
        pen.text(at, 2, row.map_or("", |row| row.state.word()))?;
        pen.text(at, 3, &one.event)?;
        pen.text(at, 4, one.track.as_deref().unwrap_or_default())?;
        pen.text(at, 5, &one.record_in)?;
        pen.text(at, 6, &one.record_out)?;
        pen.number(at, 7, frames)?;
        pen.length(at, 8, report.header.frame_rate.seconds(one.frames))?;
        pen.text(at, 9, one.source_file.as_deref().unwrap_or("no file known"))?;
        pen.text(at, 10, one.reel.as_deref().unwrap_or_default())?;
        pen.text(at, 11, one.source_in.as_deref().unwrap_or_default())?;
        pen.end_row(at)?;
    }
    Ok(())
}

fn calendar(pen: &mut Pen<'_>, report: &ClearanceReport) -> Result<(), XlsxError> {
    let columns = [
        ("Day", 13.0),
        ("What", 22.0),
        ("Element", 40.0),
        ("What changes", 90.0),
    ];
    pen.head(&columns, report.calendar.len())?;
    for (at, one) in (1..).zip(&report.calendar) {
        pen.day(at, 0, Some(one.on))?;
        pen.text(at, 1, &one.what)?;
        pen.text(at, 2, &one.label)?;
        pen.text(at, 3, &one.sentence)?;
        pen.end_row(at)?;
    }
    Ok(())
}

fn assumptions(pen: &mut Pen<'_>, report: &ClearanceReport) -> Result<(), XlsxError> {
    let rules: Vec<(&str, &str)> = report
        .rules
        .iter()
        .map(|used| (used.rule.as_str(), used.says.as_str()))
        .collect();
    let plain = |kind: &'static str, list: &'_ [String]| -> Vec<(String, String)> {
        (1..)
            .zip(list)
            .map(|(n, text)| (format!("{kind} {n}"), text.clone()))
            .collect()
    };
    let mut lines = plain("Assumption", &report.assumptions);
    lines.extend(plain("Caution", &report.cautions));
    lines.extend(
        rules
            .iter()
            .map(|(rule, says)| (format!("Rule {rule}"), (*says).to_owned())),
    );
    pen.head(&[("What", 18.0), ("In words", 120.0)], lines.len())?;
    for (at, (what, words)) in (1..).zip(&lines) {
        pen.text(at, 0, what)?;
        pen.text(at, 1, words)?;
        pen.end_row(at)?;
    }
    Ok(())
}
