//! What is answered. Every state has its word; every reason its rule, its sentence and its cells.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::question::ElementKind;
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
    /// Restricted.
    pub restricted: u32,
    /// Ends soon.
    pub ends_soon: u32,
    /// Covered.
    pub covered: u32,
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

/// What a reason does to the element.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// It makes a gap.
    Fails,
    /// It makes the answer unknown.
    Unknown,
    /// It is shown; it takes nothing away.
    Shown,
}

/// One reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Reason {
    /// What kind of reason.
    pub code: ReasonCode,
    /// The rule behind it, such as `R19`.
    pub rule: String,
    /// What it does.
    pub weight: Weight,
    /// The reason in a sentence that names the thing, the fault, the place and the date.
    pub sentence: String,
    /// What to do about it; empty where nothing is to be done.
    pub action: String,
    /// The cells it is about. None: all of them.
    pub cells: Option<ReasonCells>,
    /// Id of the release or licence it is about.
    pub paper_id: Option<String>,
    /// Numbers of the events it is about. Empty: all uses.
    pub events: Vec<u32>,
}

/// Cells that a reason is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReasonCells {
    /// Territories: alpha-2 codes, or `WORLD` for all of them.
    pub territories: Vec<String>,
    /// Media.
    pub media: Vec<String>,
    /// Days. Empty: all needed days.
    pub days: Vec<Days>,
}

/// Every kind of reason. A closed list: filters and tests rely on it.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum ReasonCode {
    /// The cut uses something that matches nothing in the catalogue.
    UnknownSource,
    /// Nobody wrote down what the footage shows.
    NotLogged,
    /// No paper and no ground is on file.
    NoPermission,
    /// Music with nothing on file for its composition.
    CompositionMissing,
    /// Music with nothing on file for its recording.
    RecordingMissing,
    /// No paper grants these territories and media together.
    NotGranted,
    /// Granted, but ended before the first needed day.
    Ended,
    /// Ends before the last needed day.
    EndsTooEarly,
    /// Begins after the first needed day.
    StartsTooLate,
    /// Days are missing between two terms.
    DaysMissing,
    /// The term ends before it begins.
    EndsBeforeItBegins,
    /// The event that starts the term has no date.
    StartUnknown,
    /// The term is not filled in.
    TermUnknown,
    /// A territory in the paper cannot be read.
    TerritoryUnreadable,
    /// The licence is not signed.
    LicenceUnsigned,
    /// The licence was signed before the buyer's waiver was approved.
    WaiverLate,
    /// The form is not signed.
    Unsigned,
    /// Signed, and nobody has checked the form.
    NotChecked,
    /// The team marked the form as a problem.
    MarkedAsProblem,
    /// Signed after first use.
    SignedAfterUse,
    /// Signed long after filming; shown.
    SignedLate,
    /// A minor's form without a guardian's signature.
    GuardianMissing,
    /// Signed by somebody who may not.
    SignedByOther,
    /// Nobody recorded the person's age.
    AgeUnknown,
    /// Of age now or at transmission, a minor when filmed; shown.
    ComesOfAge,
    /// Filmed on a day that the form is not about.
    FilmedOutside,
    /// The day of filming is not known.
    FilmingDayUnknown,
    /// The form names another company.
    WrongEntity,
    /// No consideration stated.
    NoConsideration,
    /// Cutting and re-ordering not allowed.
    EditingNotAllowed,
    /// Promotion not allowed.
    PromotionNotAllowed,
    /// Withdrawal accepted.
    Withdrawn,
    /// Withdrawal asked for, not decided; shown.
    WithdrawalRequested,
    /// The face must be blurred and is shown.
    FaceMustBeBlurred,
    /// The voice must be changed and is not.
    VoiceMustBeChanged,
    /// The name must not be shown and is.
    NameMustNotBeShown,
    /// Clean covers would undo a promised blur.
    CleanCoverUndoesBlur,
    /// Agreed not to be shown there.
    TerritoryRestricted,
    /// Agreed not to be shown before a day.
    Embargo,
    /// A condition that the cut keeps; shown.
    RestrictionKept,
    /// A condition in words that somebody must check; shown.
    ConditionInWords,
    /// A ground that does not reach there or not into promotion.
    GroundDoesNotReach,
    /// A lawyer's note is missing.
    NoLawyersNote,
    /// Not incidental: put there on purpose.
    NotIncidental,
    /// Steps of the fair-use ladder are missing.
    FairUseIncomplete,
    /// A non-commercial licence.
    NonCommercialOnly,
    /// A licence that forbids changes.
    NoDerivatives,
    /// A licence that carries over; shown.
    ShareAlike,
    /// Parts of a credit are missing; shown.
    CreditIncomplete,
    /// Nobody said where it is free of rights.
    PublicDomainWhere,
    /// A public-domain finding is an estimate; shown.
    PublicDomainEstimate,
    /// Blanket music used as a theme.
    BlanketTheme,
    /// The record of a crowd notice is incomplete.
    NoticeIncomplete,
    /// A crowd notice for somebody who is more than background.
    NoticeNotEnough,
    /// A crowd notice is evidence only; shown.
    NoticeIsEvidenceOnly,
    /// "Not needed" without reason, name or date.
    DecisionIncomplete,
    /// "Not needed", decided; shown.
    NotNeeded,
    /// Ends soon; shown.
    EndsSoon,
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
