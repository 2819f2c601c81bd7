//! What a release says besides signature and grants, for each kind of form (rulebook 3.1), and what was
//! explained to the person. A blank means that the form does not say.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::child_licence::ChildFilming;
use super::release::{Disguise, WithdrawalStep};

/// Further fields of a release. Which of them matter depends on its kind.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct ReleaseDetails {
    /// Name of the person or owner as it stands on the form.
    pub name_on_form: String,
    /// In which capacity the signatory signed: mother, owner, manager with written authority.
    pub capacity: String,
    /// Who saw the signature.
    pub witness: String,
    /// Where filming took place.
    pub place_filmed: String,
    /// Language in which the form was explained.
    pub language: String,
    /// Whether the signatory understood it. None: not recorded.
    #[schema(required)]
    pub understood: Option<bool>,
    /// What was explained before consent was given.
    pub told: Vec<ConsentPoint>,
    /// A dispute: two guardians who disagree, a child who is older now and objects.
    pub dispute: String,
    /// Minors: the child's own agreement, where old enough.
    #[schema(required)]
    pub child_agrees: Option<bool>,
    /// Minors: who accompanied the child.
    pub chaperone: String,
    /// Minors: reference of the council's or school's licence.
    pub child_licence: String,
    /// Minors: what a council asks in the UK (R25).
    pub child: ChildFilming,
    /// How far a promised disguise goes: blurred face, changed voice (R23).
    pub disguise: Disguise,
    /// Location: areas that may be filmed, inside and outside.
    pub areas: String,
    /// Location: logos and artworks on site; team, league: marks that may be shown.
    pub marks: String,
    /// Location: insurance asked for.
    pub insurance: String,
    /// Materials: what exactly, one to a line.
    pub items: String,
    /// Materials: whether the owner warrants the copyright too, not only the object.
    #[schema(required)]
    pub copyright_warranted: Option<bool>,
    /// Materials: people who can be seen in them.
    pub people_shown: String,
    /// Materials: when the originals went back.
    #[schema(required)]
    pub originals_returned_on: Option<NaiveDate>,
    /// Artwork, marks: how it is shown: in passing, or on purpose and large.
    pub how_shown: String,
    /// Crowd notice: posted at each entrance.
    pub at_every_entrance: bool,
    /// Crowd notice: date and time of posting, as noted.
    pub posted_at: String,
    /// Crowd notice: announcements made.
    pub announcements: String,
    /// Crowd notice: where each notice hung, by the floor plan.
    pub floor_plan: String,
    /// Crew: what they did.
    pub role: String,
    /// Crew: first day of their work.
    #[schema(required)]
    pub work_began_on: Option<NaiveDate>,
    /// Crew: whether moral rights were waived, where that is needed.
    #[schema(required)]
    pub moral_rights_waived: Option<bool>,
    /// Crew: equipment and confidentiality.
    pub crew_terms: String,
    /// Team, league: terms on tickets, host broadcaster.
    pub event_terms: String,
    /// A wish to withdraw, from request to action, oldest first.
    pub withdrawal_steps: Vec<WithdrawalStep>,
}

/// What informed consent is about (rulebook 3.1).
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum ConsentPoint {
    /// Subject and format of the programme.
    SubjectAndFormat,
    /// Why this person.
    WhyThem,
    /// Live, recorded, edited.
    LiveRecordedEdited,
    /// Where and when it is first shown.
    FirstShown,
    /// Areas of questioning, and other contributors if it would be unfair not to say.
    Questions,
    /// Rights to preview and to correct.
    PreviewAndCorrect,
    /// Foreseeable risks to welfare, and what is done about them.
    WelfareRisks,
}
