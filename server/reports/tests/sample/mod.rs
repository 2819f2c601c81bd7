//! An invented episode of an invented series, filled as the server would fill it: shared by the
//! tests and by `examples/sample_report.rs`. No person, company or programme in it is real.

mod elements;

use chrono::NaiveDate;
use waybill_domain::report::{
    Cell, CellKind, ClearanceReport, DaySpan, Named, REPORT_FORMAT, ReportDay, ReportEnding,
    ReportHeader, ReportIntegrity, ReportRate, ReportReason, ReportRow, ReportSpecification,
    ReportState, ReportSummary, ReportUse, ReportWindow, RuleUsed, STANDARD_CAUTIONS,
    compress_cells, count_states, sort_rows,
};

pub fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).expect("a real date")
}

fn named(code: &str, name: &str) -> Named {
    Named {
        code: code.into(),
        name: name.into(),
    }
}

fn specification() -> ReportSpecification {
    ReportSpecification {
        name: "Factual delivery, transmission and catch-up".into(),
        version: Some("issue 4 of 2 Nov 2028".into()),
        broadcaster: "Estuary Public Television".into(),
        territories: vec![
            named("GB", "United Kingdom"),
            named("IE", "Ireland"),
            named("NO", "Norway"),
        ],
        media: vec![
            named("television.free", "free television"),
            named("on_demand.catch_up", "catch-up"),
            named("promo.in_context", "promotion in context"),
        ],
        first_day: Some(day(2029, 3, 1)),
        last_day: Some(day(2032, 2, 29)),
    }
}

fn header() -> ReportHeader {
    ReportHeader {
        series: "The Slipway Season".into(),
        producer_entity: "Lantern Quay Films Ltd".into(),
        episode_number: "3".into(),
        episode_title: "Slack Water".into(),
        cut_name: "EP03_CUT_290112".into(),
        cut_version: Some("4".into()),
        cut_date: Some(day(2029, 1, 12)),
        frame_rate: ReportRate {
            numerator: 25,
            denominator: 1,
            drop_frame: false,
        },
        running_frames: 87_000,
        locked: true,
        specification: specification(),
        made_at: "2029-01-15T16:05:00Z".parse().expect("an instant"),
        time_zone: "Europe/London".into(),
        made_by: "Marit Ellingsworth".into(),
    }
}

/// Cells over all territories of the need for some media, by their place in the specification.
fn cells(
    kind: CellKind,
    places: &[usize],
    media: &[usize],
    days: Option<(NaiveDate, NaiveDate)>,
    because: &str,
) -> Vec<Cell> {
    let need = specification();
    let days: Vec<DaySpan> = days
        .map(|(from, to)| DaySpan { from, to })
        .into_iter()
        .collect();
    let of = |t: &usize, m: &usize| Cell {
        territory: need.territories[*t].clone(),
        medium: need.media[*m].clone(),
        kind,
        days: days.clone(),
        because: because.into(),
    };
    places
        .iter()
        .flat_map(|t| media.iter().map(move |m| of(t, m)))
        .collect()
}

/// Event, record in, seconds, source file, reel.
type Used = (
    u32,
    &'static str,
    u32,
    Option<&'static str>,
    Option<&'static str>,
);

/// One element with its uses.
struct Element {
    row: ReportRow,
    uses: Vec<Used>,
}

fn element(state: ReportState, kind: &str, label: &str) -> Element {
    let row = ReportRow {
        number: 0,
        key: format!("{kind}/{label}"),
        kind: kind.into(),
        label: label.into(),
        credited_as: None,
        credit_line: None,
        basis: None,
        papers: vec![],
        first_use: None,
        uses: 0,
        total_frames: 0,
        state,
        failing: vec![],
        reasons: vec![],
        to_do: vec![],
        needed_by: None,
        ends_on: None,
    };
    Element { row, uses: vec![] }
}

impl Element {
    fn credited(mut self, name: &str) -> Self {
        self.row.credited_as = Some(name.into());
        self
    }
    fn credit_line(mut self, line: &str) -> Self {
        self.row.credit_line = Some(line.into());
        self
    }
    fn papers(mut self, basis: &str, papers: &[&str]) -> Self {
        self.row.basis = Some(basis.into());
        self.row.papers = papers.iter().map(|paper| (*paper).into()).collect();
        self
    }
    fn fails(mut self, cells: Vec<Cell>) -> Self {
        self.row
            .failing
            .extend(compress_cells(&cells, &specification()));
        self
    }
    fn because(mut self, rule: &str, text: &str) -> Self {
        self.row.reasons.push(ReportReason {
            rule: rule.into(),
            text: text.into(),
        });
        self
    }
    fn asks(mut self, by: NaiveDate, what: &[&str]) -> Self {
        self.row.needed_by = Some(by);
        self.row.to_do = what.iter().map(|one| (*one).into()).collect();
        self
    }
    fn ends(mut self, on: NaiveDate) -> Self {
        self.row.ends_on = Some(on);
        self
    }
    fn used(
        mut self,
        event: u32,
        at: &'static str,
        seconds: u32,
        file: Option<&'static str>,
        reel: Option<&'static str>,
    ) -> Self {
        self.uses.push((event, at, seconds, file, reel));
        self
    }
}

/// The sample report: one episode with each state in it.
pub fn sample() -> ClearanceReport {
    let elements = elements::all();
    let (mut rows, mut uses) = (Vec::new(), Vec::new());
    for (one, number) in elements.into_iter().zip(1_u32..) {
        let mut row = one.row;
        row.number = number;
        row.uses = u32::try_from(one.uses.len()).expect("few uses");
        row.total_frames = one.uses.iter().map(|used| u64::from(used.2) * 25).sum();
        row.first_use = one.uses.first().map(|used| used.1.into());
        rows.push(row);
        uses.extend(one.uses.into_iter().map(|used| one_use(number, used)));
    }
    sort_rows(&mut rows, &mut uses);
    uses.sort_by(|a, b| a.record_in.cmp(&b.record_in));
    let counts = count_states(&rows);
    ClearanceReport {
        format: REPORT_FORMAT.into(),
        header: header(),
        summary: ReportSummary {
            counts,
            blocked: true,
            blocked_because: "6 of 13 elements are not cleared for what this delivery needs: \
                3 have a gap, 1 has an unknown source, 1 is unknown and 1 is not logged."
                .into(),
            window: ReportWindow {
                known: false,
                last_day: None,
                set_by: Some("Boatyard home film, 1971".into()),
                sentence: "How long the episode may be shown is unknown: the right in “Boatyard \
                    home film, 1971” runs from a first transmission that has no date, and three \
                    more elements have no end that is known."
                    .into(),
                earliest_ending: Some(ReportEnding {
                    label: "Harbour newsreel, regatta of 1956".into(),
                    last_day: day(2031, 1, 9),
                    applies_to: "all territories, free television and catch-up".into(),
                }),
            },
        },
        rows,
        uses,
        calendar: calendar(),
        assumptions: assumptions(),
        rules: rules(),
        cautions: cautions(),
        integrity: integrity(),
    }
}

fn one_use(
    row: u32,
    (event, at, seconds, file, reel): (u32, &str, u32, Option<&str>, Option<&str>),
) -> ReportUse {
    let number = |range: std::ops::Range<usize>| at[range].parse::<u32>().expect("a timecode");
    let (h, m, s, f) = (number(0..2), number(3..5), number(6..8), number(9..11));
    let end = (h * 60 + m) * 60 + s + seconds;
    ReportUse {
        row,
        event: format!("{event:03}"),
        track: Some(
            if file.is_some_and(|f| f.ends_with("wav")) {
                "A3"
            } else {
                "V1"
            }
            .into(),
        ),
        record_in: at.into(),
        record_out: format!(
            "{:02}:{:02}:{:02}:{f:02}",
            end / 3600,
            end / 60 % 60,
            end % 60
        ),
        frames: u64::from(seconds) * 25,
        source_file: file.map(Into::into),
        reel: reel.map(Into::into),
        source_in: reel.map(|_| "14:22:07:11".into()),
    }
}

fn calendar() -> Vec<ReportDay> {
    let newsreel = "Harbour newsreel, regatta of 1956";
    let line = |on, what: &str, label: &str, sentence: &str| ReportDay {
        on,
        what: what.into(),
        label: label.into(),
        sentence: sentence.into(),
    };
    vec![
        line(
            day(2030, 10, 11),
            "notice for an option",
            newsreel,
            "The licence from Quay Archive: last day to give notice for 24 months after 9 Jan 2031.",
        ),
        line(
            day(2031, 1, 9),
            "term ends",
            newsreel,
            "The licence from Quay Archive: last day of its term for the newsreel.",
        ),
    ]
}

fn assumptions() -> Vec<String> {
    vec![
        "Licence NQ-204 does not say how its three years are counted. The earlier of the two \
         readings was taken: it ends on 9 Jan 2031, not on 10 Jan 2031 (R1)."
            .into(),
        "“First use” in release forms was taken as the first transmission (R19).".into(),
        "Bank holidays of England and Wales were left out of working days (R32).".into(),
    ]
}

fn rules() -> Vec<RuleUsed> {
    [
        (
            "R1",
            "A term ends on the day before the corresponding day, or on it; the earlier is \
                taken where the paper does not say.",
        ),
        (
            "R2",
            "A term that starts with an event has no known end until the event has a date.",
        ),
        (
            "R3",
            "Each needed territory and medium must be covered on every needed day by one grant \
                or by several that leave no day out.",
        ),
        (
            "R5",
            "The episode may be shown only as long as every element in it may be.",
        ),
        (
            "R19",
            "A release holds only if it is signed, in time, by the right person, for this use.",
        ),
        (
            "R20",
            "Age is counted on the day of filming, of signature and of transmission.",
        ),
        (
            "R23",
            "A restriction is measured against each use and each thing to be delivered.",
        ),
    ]
    .into_iter()
    .map(|(rule, says)| RuleUsed {
        rule: rule.into(),
        says: says.into(),
    })
    .collect()
}

fn cautions() -> Vec<String> {
    let mut cautions: Vec<String> = STANDARD_CAUTIONS.iter().map(|one| (*one).into()).collect();
    cautions.push(
        "Where anyone under 18 is concerned, their welfare comes first; an immediate concern goes \
         to the safeguarding lead or the emergency services, not into a note."
            .into(),
    );
    cautions.push(
        "A person who was promised anonymity can be named by file names, captions and clean \
         covers. Check them before anything is handed over."
            .into(),
    );
    cautions
}

fn integrity() -> ReportIntegrity {
    ReportIntegrity {
        cut_file: "EP03_CUT_290112_v4.edl".into(),
        cut_file_size: 18_344,
        cut_file_sha256: "9f2c1d7be04a5f6638c1a2f0d4472b19ce5a0e8873d41f6b2a90c7e5d8134f60".into(),
        imported_at: Some("2029-01-12T18:31:00Z".parse().expect("an instant")),
        events: 142,
        events_matched: 141,
        program: "Waybill 0.1.0".into(),
    }
}
