//! Why an element stands as it does: each reason with its rule, its weight, its sentence and its cells.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::rights::days::Days;

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
    /// Music with nothing on file for its composition, or for a share of it.
    CompositionMissing,
    /// Music with nothing on file for its recording, or for a share of it.
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
    /// The licence was signed, or the piece put into a cut, before the buyer's waiver was approved.
    WaiverLate,
    /// The buyer was asked for a waiver and has not approved it.
    WaiverNotApproved,
    /// The licence may not be passed on to distributors.
    SublicenceForbidden,
    /// Whether it may be passed on is not stated.
    SublicenceNotStated,
    /// The licensor must be paid as the best; shown.
    MostFavouredNations,
    /// What is billed at least; shown.
    MinimumBilling,
    /// Fewer runs are allowed than the delivery needs or the showings use.
    RunsTooFew,
    /// How many runs the delivery needs is not stated.
    RunsUnknown,
    /// The grant is for other episodes.
    OtherEpisode,
    /// The grant is for other versions.
    OtherVersion,
    /// Which episode or version is delivered is not stated.
    VersionUnknown,
    /// The term can be extended; shown.
    OptionOpen,
    /// The day for taking up an option has passed; shown.
    OptionMissed,
    /// An option was taken up; shown.
    OptionTakenUp,
    /// A day on which something was signed, approved or decided is still ahead.
    DayAhead,
    /// What is said to be inside an import is not entered, so nothing clears it.
    InsideNotEntered,
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
    /// Held until a withdrawal is decided.
    Held,
    /// Withdrawal asked for, not decided; shown.
    WithdrawalRequested,
    /// The signatory did not understand the form.
    NotUnderstood,
    /// Somebody with a say objects.
    Disputed,
    /// Another name stands on the form.
    AnotherName,
    /// The giver owns the object and not the copyright, or the form does not say.
    CopyrightNotWarranted,
    /// The person has died; shown.
    ContributorDied,
    /// The school's, team's or league's permission is missing.
    PermissionMissing,
    /// Agreed not to be shown beside somebody, and is.
    ShownBeside,
    /// Agreed not to be shown in a medium.
    MediumRestricted,
    /// Somebody has yet to approve.
    ApprovalOutstanding,
    /// The face must be blurred and is shown.
    FaceMustBeBlurred,
    /// The voice must be changed and is not.
    VoiceMustBeChanged,
    /// The name must not be shown and is.
    NameMustNotBeShown,
    /// Named otherwise than agreed, or nobody knows how.
    NamedOtherwise,
    /// A caption is not the name that the person confirmed; shown.
    CaptionDiffers,
    /// How far somebody was promised to be disguised is not on record.
    DisguiseNotAgreed,
    /// The disguise is less than was agreed.
    DisguiseTooWeak,
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
    /// Which Creative Commons licence it is cannot be read.
    LicenceUnread,
    /// Parts of a credit are missing; shown.
    CreditIncomplete,
    /// Nobody said where it is free of rights.
    PublicDomainWhere,
    /// A public-domain finding is an estimate; shown.
    PublicDomainEstimate,
    /// By the years on record it is not free there yet.
    PublicDomainTooYoung,
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
