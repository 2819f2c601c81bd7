//! What is answered. Every state has its word; every reason its rule, its sentence and its cells.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::question::ElementKind;
use super::reason::Reason;
use crate::rights::coverage::CellState;
use crate::rights::days::Days;

/// The clearance of one cut for one delivery.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Answer {
    /// Whether any required cell fails (R50).
    pub blocked: bool,
    /// Number of elements in each state.
    pub counts: Counts,
    /// Every element, worst first.
    pub elements: Vec<ElementAnswer>,
    /// How long the whole episode may be shown, and who sets that (R5).
    pub window: Window,
    /// The days that were asked, overhang included (R8).
    pub needed: Days,
    /// The day by which all must be cleared: delivery's due date or first needed day.
    pub needed_by: NaiveDate,
    /// What was taken for granted, in sentences; each once.
    pub assumptions: Vec<String>,
    /// What changes on which day, soonest first: ends of terms, last days for options, showings.
    pub calendar: Vec<DayLine>,
}

/// State of an element, worst first.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Some needed cell is not cleared on some needed day.
    Gap,
    /// The cut uses something that nothing in the catalogue answers for.
    UnknownSource,
    /// Something that decides is missing. Never a yes.
    Unknown,
    /// Nobody wrote down what the footage shows.
    NotLogged,
    /// Nothing but a crowd notice stands behind it, with all that a notice needs: evidence, not
    /// consent (R22).
    EvidenceOnly,
    /// Covered, under conditions that this cut keeps and must go on keeping.
    Restricted,
    /// Covered for the delivery; the right ends soon after today.
    EndsSoon,
    /// Covered.
    Covered,
}

impl State {
    /// Whether an element in this state keeps the cut from being delivered (R50).
    pub fn blocks(self) -> bool {
        matches!(
            self,
            State::Gap | State::UnknownSource | State::Unknown | State::NotLogged
        )
    }
}

/// Number of elements in each state.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Counts {
    /// Gap.
    pub gap: u32,
    /// Unknown source.
    pub unknown_source: u32,
    /// Unknown.
    pub unknown: u32,
    /// Not logged.
    pub not_logged: u32,
    /// Evidence only.
    pub evidence_only: u32,
    /// Restricted.
    pub restricted: u32,
    /// Ends soon.
    pub ends_soon: u32,
    /// Covered.
    pub covered: u32,
}

/// Something that changes on a day: the end of a term, the last day for an option.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DayLine {
    /// The day.
    pub on: NaiveDate,
    /// What kind of change.
    pub kind: DayKind,
    /// Id of the element that it is about; None: the episode.
    pub element: Option<String>,
    /// Id of the paper behind it.
    pub paper_id: Option<String>,
    /// What changes, in a sentence.
    pub sentence: String,
    /// Whether the day rests on a planned date.
    pub provisional: bool,
}

/// Kinds of days in the calendar of an episode.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum DayKind {
    /// Last day on which notice of an option can be given (R7).
    OptionNotice,
    /// Last day of a term.
    TermEnds,
    /// First day of a term that begins later.
    TermBegins,
    /// Last day of a holdback.
    HoldbackEnds,
    /// First day on which somebody allowed it to be shown.
    EmbargoEnds,
    /// First needed day.
    NeedBegins,
    /// Last needed day.
    NeedEnds,
    /// A showing that is planned or was made.
    Showing,
}

impl DayKind {
    /// What kind of change, within a line.
    pub fn words(self) -> &'static str {
        match self {
            DayKind::OptionNotice => "notice for an option",
            DayKind::TermEnds => "term ends",
            DayKind::TermBegins => "term begins",
            DayKind::HoldbackEnds => "holdback ends",
            DayKind::EmbargoEnds => "embargo ends",
            DayKind::NeedBegins => "delivery begins",
            DayKind::NeedEnds => "delivery ends",
            DayKind::Showing => "showing",
        }
    }
}

/// One element's clearance.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ElementAnswer {
    /// As in the question.
    pub id: String,
    /// As in the question, without a date of birth.
    pub kind: String,
    /// As in the question.
    pub label: String,
    /// The state.
    pub state: State,
    /// First use in the order of the cut.
    pub first_use: Option<FirstUse>,
    /// Number of uses.
    pub uses: u32,
    /// Frames of the cut in which it is present, overlapping uses counted once.
    pub total_frames: u64,
    /// All needed cells, grouped by equal result, worst first.
    pub cells: Vec<CellGroup>,
    /// Every reason, failing ones first.
    pub reasons: Vec<Reason>,
    /// What was taken for granted, in sentences.
    pub assumptions: Vec<String>,
    /// Whether the answer rests on a planned date.
    pub provisional: bool,
    /// Until when it may be shown in every needed cell.
    pub end: End,
    /// The papers and grounds behind it, by name, as far as they were asked about.
    pub behind: Vec<Behind>,
}

/// A paper or ground behind an element.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Behind {
    /// What kind of thing it is.
    pub kind: PaperKind,
    /// Id of the release or licence; none for a ground.
    pub paper_id: Option<String>,
    /// Its name, with the side of music and the day of signature.
    pub name: String,
    /// Whether it holds for some use of the element.
    pub holds: PaperHolds,
}

/// What a paper is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PaperKind {
    /// A release.
    Release,
    /// A licence.
    Licence,
    /// A ground other than a licence.
    Ground,
    /// A decision that nothing is needed.
    Decision,
}

/// Whether a paper holds, by itself.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum PaperHolds {
    /// It does not.
    No,
    /// It reaches nothing that is needed.
    NotHere,
    /// Whether it does is unknown.
    Unknown,
    /// It does, as far as it reaches.
    Yes,
}

/// First use of an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FirstUse {
    /// Number of the event.
    pub event: u32,
    /// First frame in the cut.
    pub record_in: u64,
}

/// Needed cells with an equal result: every territory here × every medium here.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CellGroup {
    /// Territories: alpha-2 codes, or `WORLD` for all of them.
    pub territories: Vec<String>,
    /// Media.
    pub media: Vec<String>,
    /// Where, in words.
    pub place: String,
    /// In which media, in words.
    pub media_words: String,
    /// State over all needed days.
    pub state: CellState,
    /// Needed days that are not cleared.
    pub gaps: Vec<Days>,
    /// Needed days of which it is unknown.
    pub unknown: Vec<Days>,
}

/// Until when an element may be shown in every needed cell (R5).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", content = "date", rename_all = "snake_case")]
pub enum End {
    /// Some cell is not cleared on the first needed day.
    NotCleared,
    /// Cannot be said; never ignored.
    Unknown,
    /// Until this day, included.
    On(NaiveDate),
    /// Without end.
    Open,
}

/// How long the whole episode may be shown: the minimum over its elements (R5).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Window {
    /// The minimum. An unknown end makes it unknown.
    pub end: End,
    /// Ids of the elements that set it.
    pub set_by: Vec<String>,
    /// The earliest known end, even where the minimum itself is not known, with its elements.
    pub earliest_known: Option<NaiveDate>,
    /// Ids of the elements with that end.
    pub earliest_known_by: Vec<String>,
    /// The finding in a sentence.
    pub sentence: String,
}

impl ElementKind {
    /// The kind in one word for lists: `person`, `music`, an asset's class.
    pub fn word(&self) -> &str {
        match self {
            ElementKind::Person { .. } => "person",
            ElementKind::Place => "place",
            ElementKind::Artwork => "artwork",
            ElementKind::Brand => "brand",
            ElementKind::Music => "music",
            ElementKind::Asset { class } => class,
            ElementKind::UnloggedFootage => "unlogged_footage",
            ElementKind::UnknownSource => "unknown_source",
        }
    }
}
