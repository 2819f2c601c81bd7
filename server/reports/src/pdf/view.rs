//! The report in the words that stand on paper: what the template prints, nothing it has to work out.

use chrono::{Datelike, Timelike};
use serde::Serialize;

use super::lines::LineTable;
use super::rows::{RowView, count};
use super::{covered, uses};
use waybill_domain::report::{ClearanceReport, Named, ReportDay, ReportRow, ReportState};
use waybill_domain::wording::{and_list, date_words, days_words, deadline_words, local};

const NOT_GIVEN: &str = "not given";

/// Most blocking elements on the first page, so that it stays one page.
const MOST_URGENT: usize = 8;

/// Most days of the calendar on paper; the workbook has all.
const MOST_DAYS: usize = 100;

/// A label and its value.
type Fact = (&'static str, String);

/// Most elements that are set in one piece with all that stands around them.
const TOGETHER: usize = 150;

/// Most elements and uses of one part. What is the same in two parts is set twice, so they are large.
const ROWS: usize = 500;
const SHORT_ROWS: usize = 1_500;
const USES: usize = 4_000;

/// A piece of the paper that begins on a page of its own, so that it is set beside the others: what it holds is
/// printed in this order.
#[derive(Serialize, Default)]
pub(super) struct Part {
    /// Of all parts: title, author and date of the document.
    document: DocumentView,
    /// Texts of all parts that hold letters which no face holds; said on the first page.
    pub(super) unprintable: usize,
    front: Option<FrontView>,
    rows: Option<Piece<Vec<RowView>>>,
    covered: Option<Piece<LineTable>>,
    notes: Option<NotesView>,
    uses: Option<Piece<LineTable>>,
    uses_total: String,
}

/// A stretch of a long list.
#[derive(Serialize)]
struct Piece<T> {
    /// Not the list's beginning.
    continued: bool,
    list: T,
}

/// What stands at the head and the foot of each page.
#[derive(Serialize)]
pub(super) struct Marginals {
    pub(super) pages: usize,
    left: String,
    right: String,
}

#[derive(Serialize, Default, Clone)]
struct DocumentView {
    title: String,
    author: String,
    /// Year, month, day, hour, minute, second of the report, wall clock of the series.
    date: [u32; 6],
}

/// The first page.
#[derive(Serialize)]
struct FrontView {
    producer: String,
    subtitle: String,
    made: String,
    blocked: bool,
    verdict: String,
    because: String,
    cut: Vec<Fact>,
    delivery: Vec<Fact>,
    counts: Vec<CountView>,
    elements: String,
    none: bool,
    window: Vec<String>,
    urgent: Vec<UrgentView>,
    urgent_more: String,
    caution: String,
}

/// What stands behind the lists.
#[derive(Serialize)]
struct NotesView {
    calendar: Vec<(String, String, String)>,
    calendar_more: String,
    assumptions: Vec<String>,
    rules: Vec<(String, String)>,
    cautions: Vec<String>,
    file: Vec<Fact>,
}

/// What blocks, on the first page.
#[derive(Serialize)]
struct UrgentView {
    by: String,
    number: u32,
    label: String,
    to_do: String,
}

#[derive(Serialize)]
struct CountView {
    state: ReportState,
    word: &'static str,
    elements: u32,
    uses: u32,
    meaning: &'static str,
}

/// The paper in parts, in the order of its pages.
pub(super) fn parts(report: &ClearanceReport) -> Vec<Part> {
    let document = DocumentView::of(report);
    let part = || Part {
        document: document.clone(),
        ..Part::default()
    };
    let (short, others): (Vec<&ReportRow>, Vec<&ReportRow>) =
        report.rows.iter().partition(|row| covered::is_short(row));
    let rate = report.header.frame_rate;
    let rows = pieces(&others, ROWS, |rows| {
        rows.iter().map(|row| RowView::of(row, rate)).collect()
    });
    let covered = pieces(&short, SHORT_ROWS, |rows| covered::all(rows, rate));
    let labels = uses::labels(report);
    let uses = pieces(&report.uses, USES, |some| uses::all(some, &labels, rate));
    let mut parts: Vec<Part> = Vec::new();
    if report.rows.len() <= TOGETHER {
        parts.push(Part {
            front: Some(FrontView::of(report)),
            rows: rows.into_iter().next(),
            covered: covered.into_iter().next(),
            notes: Some(NotesView::of(report)),
            ..part()
        });
    } else {
        parts.push(Part {
            front: Some(FrontView::of(report)),
            ..part()
        });
        parts.extend(rows.into_iter().map(|piece| Part {
            rows: Some(piece),
            ..part()
        }));
        parts.extend(covered.into_iter().map(|piece| Part {
            covered: Some(piece),
            ..part()
        }));
        parts.push(Part {
            notes: Some(NotesView::of(report)),
            ..part()
        });
    }
    let total = report.uses.iter().map(|one| one.frames).sum();
    let total = format!(
        "{}, {} in all",
        count(report.uses.len() as u64, "use", "uses"),
        rate.length_words(total)
    );
    parts.extend(uses.into_iter().map(|piece| Part {
        uses: Some(piece),
        uses_total: total.clone(),
        ..part()
    }));
    parts
}

/// A list in pieces of at most so many.
fn pieces<I, T>(list: &[I], most: usize, of: impl Fn(&[I]) -> T) -> Vec<Piece<T>> {
    let chunks = list.chunks(most).enumerate();
    chunks
        .map(|(at, some)| Piece {
            continued: at > 0,
            list: of(some),
        })
        .collect()
}

impl Marginals {
    pub(super) fn of(report: &ClearanceReport, pages: usize) -> Self {
        let day = date_words(report.header.made_local().date());
        let clock = report.header.made_local().format("%H:%M");
        Self {
            pages,
            left: format!("{} · {}", report.header.series, episode(report)),
            right: format!("{} · {day}, {clock}", cut_words(report)),
        }
    }
}

impl DocumentView {
    fn of(report: &ClearanceReport) -> Self {
        let header = &report.header;
        let at = header.made_local();
        Self {
            title: format!(
                "Clearance and asset report: {}, {}, {}",
                header.series,
                episode(report),
                header.cut_name
            ),
            author: header.producer_entity.clone(),
            date: [
                at.year().unsigned_abs(),
                at.month(),
                at.day(),
                at.hour(),
                at.minute(),
                at.second(),
            ],
        }
    }
}

impl FrontView {
    fn of(report: &ClearanceReport) -> Self {
        let header = &report.header;
        let at = header.made_local();
        Self {
            producer: header.producer_entity.clone(),
            subtitle: format!("{} · {}", header.series, episode(report)),
            made: format!(
                "{}, {} ({}) · by {}",
                date_words(at.date()),
                at.format("%H:%M"),
                header.time_zone,
                header.made_by
            ),
            blocked: report.summary.blocked,
            verdict: verdict(report).into(),
            because: report.summary.blocked_because.clone(),
            cut: cut_facts(report),
            delivery: delivery_facts(report),
            counts: report.summary.counts.iter().map(CountView::of).collect(),
            elements: count(report.rows.len() as u64, "element", "elements"),
            none: report.rows.is_empty(),
            window: window(report),
            urgent: blocking(report)
                .take(MOST_URGENT)
                .map(UrgentView::of)
                .collect(),
            urgent_more: match blocking(report).count().saturating_sub(MOST_URGENT) {
                0 => String::new(),
                more => format!("And {more} more, in the list that follows."),
            },
            caution: report.cautions.first().cloned().unwrap_or_default(),
        }
    }
}

impl NotesView {
    fn of(report: &ClearanceReport) -> Self {
        let days = report.calendar.iter().take(MOST_DAYS);
        Self {
            calendar: days.map(day_ahead).collect(),
            calendar_more: match report.calendar.len().saturating_sub(MOST_DAYS) {
                0 => String::new(),
                more => format!(
                    "And {} later, in the workbook.",
                    count(more as u64, "day", "days")
                ),
            },
            assumptions: report.assumptions.clone(),
            rules: report
                .rules
                .iter()
                .map(|r| (r.rule.clone(), r.says.clone()))
                .collect(),
            cautions: report.cautions.clone(),
            file: file_facts(report),
        }
    }
}

fn episode(report: &ClearanceReport) -> String {
    let header = &report.header;
    let episode = format!("Episode {}", header.episode_number);
    if header.episode_title.is_empty() {
        episode
    } else {
        format!("{episode}, {}", header.episode_title)
    }
}

/// The rows that block, soonest first, those without a day last.
fn blocking(report: &ClearanceReport) -> impl Iterator<Item = &ReportRow> {
    let mut rows: Vec<&ReportRow> = report
        .rows
        .iter()
        .filter(|row| row.state.blocks())
        .collect();
    rows.sort_by_key(|row| (row.needed_by.is_none(), row.needed_by, row.number));
    rows.into_iter()
}

const fn verdict(report: &ClearanceReport) -> &'static str {
    if report.summary.blocked {
        "Not cleared for this delivery"
    } else if report.rows.is_empty() {
        "Nothing to judge"
    } else {
        "Nothing recorded stands against this delivery"
    }
}

fn cut_words(report: &ClearanceReport) -> String {
    let header = &report.header;
    let version = header
        .cut_version
        .as_ref()
        .map(|v| format!(", version {v}"));
    format!("{}{}", header.cut_name, version.unwrap_or_default())
}

fn cut_facts(report: &ClearanceReport) -> Vec<Fact> {
    let header = &report.header;
    let locked = if header.locked {
        "Locked"
    } else {
        "Not locked: this cut may still change"
    };
    vec![
        ("Name", header.cut_name.clone()),
        (
            "Version",
            header
                .cut_version
                .clone()
                .unwrap_or_else(|| NOT_GIVEN.into()),
        ),
        (
            "Date",
            header.cut_date.map_or_else(|| NOT_GIVEN.into(), date_words),
        ),
        ("State", locked.into()),
        (
            "Running time",
            header.frame_rate.length_words(header.running_frames),
        ),
        ("Frame rate", header.frame_rate.words()),
    ]
}

fn delivery_facts(report: &ClearanceReport) -> Vec<Fact> {
    let spec = &report.header.specification;
    let version = spec
        .version
        .as_ref()
        .map(|v| format!(", {v}"))
        .unwrap_or_default();
    let day = |day: Option<chrono::NaiveDate>| day.map_or_else(|| NOT_GIVEN.into(), date_words);
    let days = match (spec.first_day, spec.last_day) {
        (Some(first), Some(last)) if last >= first => {
            let length = days_words((last - first).num_days() + 1);
            format!("{} to {} ({length})", date_words(first), date_words(last))
        }
        (first, last) => format!("from {} to {}", day(first), day(last)),
    };
    vec![
        ("Specification", format!("{}{version}", spec.name)),
        ("For", spec.broadcaster.clone()),
        ("Territories", names(&spec.territories)),
        ("Media", names(&spec.media)),
        ("Days", days),
    ]
}

fn names(list: &[Named]) -> String {
    if list.is_empty() {
        return NOT_GIVEN.into();
    }
    and_list(
        &list
            .iter()
            .map(|named| named.name.clone())
            .collect::<Vec<_>>(),
    )
}

fn window(report: &ClearanceReport) -> Vec<String> {
    let window = &report.summary.window;
    let mut lines = vec![window.sentence.clone()];
    if let Some(end) = &window.earliest_ending {
        let place = if end.applies_to.is_empty() {
            String::new()
        } else {
            format!(" ({})", end.applies_to)
        };
        let day = date_words(end.last_day);
        lines.push(format!(
            "Earliest known ending: {day}, {}{place}.",
            end.label
        ));
    }
    lines
}

/// A day of the calendar: when, of what, what changes.
fn day_ahead(one: &ReportDay) -> (String, String, String) {
    (date_words(one.on), one.label.clone(), one.sentence.clone())
}

fn file_facts(report: &ClearanceReport) -> Vec<Fact> {
    let facts = &report.integrity;
    let zone = &report.header.time_zone;
    let imported = facts.imported_at.map_or_else(
        || NOT_GIVEN.into(),
        |at| {
            let at = local(at, zone);
            format!("{}, {} ({zone})", date_words(at.date()), at.format("%H:%M"))
        },
    );
    let (all, matched) = (facts.events, facts.events_matched);
    vec![
        ("Edit list", facts.cut_file.clone()),
        ("Size", count(facts.cut_file_size, "byte", "bytes")),
        ("SHA-256", facts.cut_file_sha256.clone()),
        ("Imported", imported),
        (
            "Events",
            format!("{all}, of which {matched} have a known source"),
        ),
        ("Worked out by", facts.program.clone()),
    ]
}

impl UrgentView {
    fn of(row: &ReportRow) -> Self {
        let reason = row.reasons.first().map(|reason| reason.text.clone());
        Self {
            by: row
                .needed_by
                .map_or_else(|| "no day set".into(), deadline_words),
            number: row.number,
            label: row.label.clone(),
            to_do: row.to_do.first().cloned().or(reason).unwrap_or_default(),
        }
    }
}

impl CountView {
    fn of(count: &waybill_domain::report::StateCount) -> Self {
        let state = count.state;
        Self {
            state,
            word: state.word(),
            elements: count.elements,
            uses: count.uses,
            meaning: state.meaning(),
        }
    }
}
