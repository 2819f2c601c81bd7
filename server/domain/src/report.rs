//! The data of the per-episode clearance and asset report (rulebook R50).
//!
//! What belongs here: the finished answer in words and figures, ready to be set on paper, in a
//! spreadsheet or as JSON. It decides nothing about rights: whoever fills it (the server, from
//! `clearance`) has decided already. It sorts, counts, compresses and phrases, and nothing else.

use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wording::local;

mod cells;
#[cfg(test)]
mod tests;
mod text;

pub use cells::{Cell, CellKind, DaySpan, FailingCells, compress_cells};
pub use text::STANDARD_CAUTIONS;

/// The name of this document's shape, printed in the JSON so that a reader can tell versions apart.
pub const REPORT_FORMAT: &str = "waybill-clearance-report-1";

/// The whole report for one cut measured against one delivery specification (R50).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClearanceReport {
    /// Always [`REPORT_FORMAT`].
    pub format: String,
    /// What was looked at, for whom, when and by whom.
    pub header: ReportHeader,
    /// The answer on one page.
    pub summary: ReportSummary,
    /// Every element in the cut, worst first ([`sort_rows`]).
    pub rows: Vec<ReportRow>,
    /// Every use of every element, in the order of the cut.
    pub uses: Vec<ReportUse>,
    /// What changes from the day of the report on, soonest first: ends of terms, last days for options, showings.
    #[serde(default)]
    pub calendar: Vec<ReportDay>,
    /// What was taken for granted where the papers do not say (rulebook 7.10).
    pub assumptions: Vec<String>,
    /// The rules that were applied, in plain words.
    pub rules: Vec<RuleUsed>,
    /// The cautions that apply; the first is always "not legal advice" (rulebook 7.1).
    pub cautions: Vec<String>,
    /// What ties this paper to the file that was imported.
    pub integrity: ReportIntegrity,
}

/// What was looked at, for whom, when and by whom.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReportHeader {
    /// Title of the series.
    pub series: String,
    /// The legal entity that produces the series and gives the warranties.
    pub producer_entity: String,
    /// Episode number as the team writes it, such as `3`.
    pub episode_number: String,
    /// Episode title; empty when there is none yet.
    pub episode_title: String,
    /// Name of the cut, such as `EP03_CUT_290112_v4`.
    pub cut_name: String,
    /// Version of the cut as the team counts it.
    pub cut_version: Option<String>,
    /// Date of the cut.
    pub cut_date: Option<NaiveDate>,
    /// Frame rate of the cut.
    pub frame_rate: ReportRate,
    /// Running time of the cut, frames.
    pub running_frames: u64,
    /// Whether this version is locked. An unlocked cut may still change.
    pub locked: bool,
    /// What the delivery asks for.
    pub specification: ReportSpecification,
    /// The instant the answer was worked out.
    pub made_at: DateTime<Utc>,
    /// Time zone of the series, an IANA name such as `Europe/London`.
    pub time_zone: String,
    /// Name of the person who asked for the report.
    pub made_by: String,
}

/// A frame rate as an exact ratio, frames per second.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReportRate {
    /// Numerator, such as 25 or 30000.
    pub numerator: u32,
    /// Denominator, such as 1 or 1001.
    pub denominator: u32,
    /// Whether timecode at this rate is counted with dropped numbers (SMPTE ST 12-1).
    pub drop_frame: bool,
}

/// The delivery specification, as far as it says what must be cleared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReportSpecification {
    /// Name of the specification.
    pub name: String,
    /// Version or date of the broadcaster's document (rulebook 7.11).
    pub version: Option<String>,
    /// Who receives the programme.
    pub broadcaster: String,
    /// Needed territories.
    pub territories: Vec<Named>,
    /// Needed media.
    pub media: Vec<Named>,
    /// First day on which the programme may be shown; `None` when the specification lacks it.
    pub first_day: Option<NaiveDate>,
    /// Last day, included; `None` when the specification lacks it.
    pub last_day: Option<NaiveDate>,
}

/// A code with the words a reader knows it by.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
pub struct Named {
    /// The code, such as `GB` or `television.free`.
    pub code: String,
    /// The words, such as `United Kingdom` or `free television`.
    pub name: String,
}

/// The state of one element in this delivery. Serialised by the same words as everywhere else.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ReportState {
    /// Some needed cell is known not to be cleared on some needed day, or a needed paper fails.
    Gap,
    /// A piece of the cut that no catalogued file, import or music answers for.
    UnknownSource,
    /// Something that decides is missing. Never a yes.
    Unknown,
    /// Footage of which nobody wrote down what it shows.
    NotLogged,
    /// Only a crowd notice stands behind it: evidence, not consent (R22).
    EvidenceOnly,
    /// Allowed only under a condition that this cut or delivery must keep.
    Restricted,
    /// Covered for the needed days, but the right ends soon afterwards.
    EndsSoon,
    /// Every needed cell is covered on every needed day.
    Covered,
}

/// The answer on one page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReportSummary {
    /// One entry per state, worst first, states without elements included ([`count_states`]).
    pub counts: Vec<StateCount>,
    /// Whether the cut may not be delivered as it stands.
    pub blocked: bool,
    /// The sentence that says why, or that nothing blocks.
    pub blocked_because: String,
    /// How long the whole episode may be shown (R5).
    pub window: ReportWindow,
}

/// How many elements are in one state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct StateCount {
    /// The state.
    pub state: ReportState,
    /// Number of elements.
    pub elements: u32,
    /// Number of uses of those elements.
    pub uses: u32,
}

/// How long the whole episode may be shown: the minimum over its elements (R5).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReportWindow {
    /// False when any element's end is unknown: then the minimum is unknown too (R5).
    pub known: bool,
    /// Last day of the window, included. `None` when unknown, or when no element ever ends.
    pub last_day: Option<NaiveDate>,
    /// Label of the element that sets the window, or that makes it unknown.
    pub set_by: Option<String>,
    /// The whole finding in a sentence.
    pub sentence: String,
    /// The earliest ending among the ends that are known, even when the window itself is not.
    pub earliest_ending: Option<ReportEnding>,
}

/// One known ending.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReportEnding {
    /// Label of the element.
    pub label: String,
    /// Its last day, included.
    pub last_day: NaiveDate,
    /// Where and in which media, in words; empty when everywhere.
    pub applies_to: String,
}

/// One element of the cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReportRow {
    /// Row number from 1, worst first; set by [`sort_rows`].
    pub number: u32,
    /// The element's id in the records, or another key that is unique in this report.
    pub key: String,
    /// Kind in words: `Person`, `Music, recording`, `Archive film`, …
    pub kind: String,
    /// What the team calls it.
    pub label: String,
    /// Name as credited, where the element is a person.
    pub credited_as: Option<String>,
    /// Credit line that the licence asks for.
    pub credit_line: Option<String>,
    /// Basis in words: `licensed`, `released`, `public domain`, `own material`, …
    pub basis: Option<String>,
    /// Papers behind the basis: licence references, releases with their dates.
    pub papers: Vec<String>,
    /// Record timecode of the first use.
    pub first_use: Option<String>,
    /// Number of uses in this cut.
    pub uses: u32,
    /// Total time of all uses, frames of the cut.
    pub total_frames: u64,
    /// The state.
    pub state: ReportState,
    /// The needed cells that fail, compressed ([`compress_cells`]).
    pub failing: Vec<FailingCells>,
    /// All reasons, with the rule behind each.
    pub reasons: Vec<ReportReason>,
    /// What to do, first things first.
    pub to_do: Vec<String>,
    /// The day by which it must be done.
    pub needed_by: Option<NaiveDate>,
    /// The last day of the right that ends first, where known.
    pub ends_on: Option<NaiveDate>,
}

/// One reason for a state.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReportReason {
    /// Rule number such as `R19`; empty when no rule stands behind it.
    pub rule: String,
    /// The reason in a sentence.
    pub text: String,
}

/// One use of one element.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReportUse {
    /// Number of the row it belongs to; kept right by [`sort_rows`].
    pub row: u32,
    /// Event number in the imported edit list.
    pub event: String,
    /// Track, such as `V1`, where known.
    pub track: Option<String>,
    /// Record timecode in, included.
    pub record_in: String,
    /// Record timecode out, excluded.
    pub record_out: String,
    /// Length, frames of the cut.
    pub frames: u64,
    /// Source file or clip name, where known.
    pub source_file: Option<String>,
    /// Reel or roll, where known.
    pub reel: Option<String>,
    /// Source timecode in, where known.
    pub source_in: Option<String>,
}

/// A day on which something changes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReportDay {
    /// The day.
    pub on: NaiveDate,
    /// What kind of change, in words: `term ends`, `notice for an option`.
    pub what: String,
    /// Label of the element that it is about; empty: the episode.
    pub label: String,
    /// What changes, in a sentence; where the day rests on a planned date, it says so.
    pub sentence: String,
}

/// A rule that was applied.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct RuleUsed {
    /// Rule number such as `R3`.
    pub rule: String,
    /// What it says, in a sentence.
    pub says: String,
}

/// What ties this paper to the file that was imported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReportIntegrity {
    /// Name of the imported edit list.
    pub cut_file: String,
    /// Its size, bytes.
    pub cut_file_size: u64,
    /// Its SHA-256, 64 hexadecimal digits.
    pub cut_file_sha256: String,
    /// When it was imported.
    pub imported_at: Option<DateTime<Utc>>,
    /// Number of events in it.
    pub events: u32,
    /// How many of them have a known source.
    pub events_matched: u32,
    /// Name and version of the program that worked the answer out.
    pub program: String,
}

/// Sorts rows worst first, numbers them from 1 and re-numbers the uses to match (R50).
///
/// Before the call each row carries a number of its own, to which its uses refer. Order: state, then the day needed by (none last), then first use, then label. A use whose row
/// number does not exist keeps it.
pub fn sort_rows(rows: &mut [ReportRow], uses: &mut [ReportUse]) {
    rows.sort_by(|a, b| {
        let key = |r: &ReportRow| (r.state.rank(), r.needed_by.unwrap_or(NaiveDate::MAX));
        key(a).cmp(&key(b)).then_with(|| {
            let place = |r: &ReportRow| (r.first_use.is_none(), r.first_use.clone());
            place(a)
                .cmp(&place(b))
                .then_with(|| (&a.label, &a.key).cmp(&(&b.label, &b.key)))
        })
    });
    let moved: std::collections::HashMap<u32, u32> = rows
        .iter()
        .zip(1_u32..)
        .map(|(row, number)| (row.number, number))
        .collect();
    for (row, number) in rows.iter_mut().zip(1_u32..) {
        row.number = number;
    }
    for one in uses {
        one.row = moved.get(&one.row).copied().unwrap_or(one.row);
    }
}

/// Counts elements and uses by state, worst first; a state without elements counts nought.
#[must_use]
pub fn count_states(rows: &[ReportRow]) -> Vec<StateCount> {
    ReportState::WORST_FIRST
        .into_iter()
        .map(|state| {
            let of = || rows.iter().filter(move |row| row.state == state);
            StateCount {
                state,
                elements: u32::try_from(of().count()).unwrap_or(u32::MAX),
                uses: of().fold(0, |sum, row| sum.saturating_add(row.uses)),
            }
        })
        .collect()
}

impl ReportState {
    /// All states, worst first. A known gap comes before what is merely not known, and what nobody
    /// looked at before what somebody looked at and restricted (rulebook 7.13).
    pub const WORST_FIRST: [Self; 8] = [
        Self::Gap,
        Self::UnknownSource,
        Self::Unknown,
        Self::NotLogged,
        Self::EvidenceOnly,
        Self::Restricted,
        Self::EndsSoon,
        Self::Covered,
    ];

    /// The word that always stands beside the pattern.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gap => "gap",
            Self::UnknownSource => "unknown source",
            Self::Unknown => "unknown",
            Self::NotLogged => "not logged",
            Self::EvidenceOnly => "evidence only",
            Self::Restricted => "restricted",
            Self::EndsSoon => "ends soon",
            Self::Covered => "covered",
        }
    }

    /// Place in [`Self::WORST_FIRST`], 0 the worst.
    #[must_use]
    pub const fn rank(self) -> u8 {
        match self {
            Self::Gap => 0,
            Self::UnknownSource => 1,
            Self::Unknown => 2,
            Self::NotLogged => 3,
            Self::EvidenceOnly => 4,
            Self::Restricted => 5,
            Self::EndsSoon => 6,
            Self::Covered => 7,
        }
    }

    /// Whether an element in this state by itself keeps the cut from being delivered.
    #[must_use]
    pub const fn blocks(self) -> bool {
        matches!(
            self,
            Self::Gap | Self::UnknownSource | Self::Unknown | Self::NotLogged
        )
    }
}

impl ReportHeader {
    /// The moment of the report on the wall clock of the series; UTC when the zone is not known.
    #[must_use]
    pub fn made_local(&self) -> NaiveDateTime {
        local(self.made_at, &self.time_zone)
    }

    /// `3 Slack Water`, or only the number when there is no title.
    #[must_use]
    pub fn episode(&self) -> String {
        format!("{} {}", self.episode_number, self.episode_title)
            .trim()
            .to_owned()
    }
}
