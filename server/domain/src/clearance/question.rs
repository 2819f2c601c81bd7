//! What is asked: a delivery's need, and each element of a cut with its uses and papers.

use chrono::{NaiveDate, NaiveDateTime};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::rights::basis::Ground;
use crate::rights::basis_details::DatedStep;
use crate::rights::coverage::Grant;
use crate::rights::licence_terms::LicenceTerms;
use crate::rights::release::{Face, Form, HouseRules};
use crate::rights::term::EventDate;
use crate::rights::territory::Groups;

/// Everything that decides the answer for one cut and one delivery.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Question {
    /// What the delivery needs.
    pub need: Need,
    /// Dates of the episode that can start a term.
    pub events: EpisodeEvents,
    /// What the series asks of every form.
    pub house: HouseRules,
    /// Named groups of territories that the team keeps.
    #[serde(default)]
    pub groups: Groups,
    /// The day on which the question is asked, in the series' time zone.
    pub today: NaiveDate,
    /// Frames of the cut per second, as a ratio. None: lengths are not turned into seconds.
    #[serde(default)]
    pub rate: Option<(u32, u32)>,
    /// Showings of this episode, past and planned, that use up runs (R4).
    #[serde(default)]
    pub showings: Vec<Showing>,
    /// Every element used in the cut.
    pub elements: Vec<Element>,
}

/// Where, how and when a delivery needs the programme cleared.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Need {
    /// ISO 3166-1 codes, M.49 regions, `WORLD`, or names of the team's groups.
    pub territories: Vec<String>,
    /// Excepted from them.
    #[serde(default)]
    pub territories_except: Vec<String>,
    /// Dotted media names. A name with children (`television`, `all`) needs all of them.
    pub media: Vec<String>,
    /// Excepted from them.
    #[serde(default)]
    pub media_except: Vec<String>,
    /// First needed day.
    pub from: NaiveDate,
    /// Last needed day of the distribution term.
    pub to: NaiveDate,
    /// Longest time a sub-licence may run beyond it, months (R8).
    #[serde(default)]
    pub overhang_months: u32,
    /// Whether the cut itself is a trailer or other promotion.
    #[serde(default)]
    pub in_promotion: bool,
    /// Whether clean covers of blurred or texted shots are delivered too (R23).
    #[serde(default)]
    pub clean_covers: bool,
    /// When the delivery is due, if that is known.
    #[serde(default)]
    pub due: Option<NaiveDate>,
    /// How many runs the delivery needs in each territory and medium (R4). None: not stated.
    #[serde(default)]
    pub runs: Option<u32>,
    /// Number of the episode, for grants that are limited to some.
    #[serde(default)]
    pub episode: Option<i32>,
    /// Name of the version that is delivered, for grants that are limited to some; empty: not named.
    #[serde(default)]
    pub version: String,
}

/// A showing of the episode (R4).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = CountedShowing)]
pub struct Showing {
    /// When, on the clock of the place.
    pub at: NaiveDateTime,
    /// Where: codes as in a grant.
    pub territories: Vec<String>,
    /// In which media.
    pub media: Vec<String>,
}

/// Dates of the episode that can start a term (R2). The signature is each paper's own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct EpisodeEvents {
    /// First transmission.
    #[serde(default)]
    pub first_transmission: EventDate,
    /// Delivery.
    #[serde(default)]
    pub delivery: EventDate,
    /// First use anywhere outside the team.
    #[serde(default)]
    pub first_use: EventDate,
}

/// One person, thing or piece that is seen or heard in the cut.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Element {
    /// The record's id, or another key that is unique in this question.
    pub id: String,
    /// What it is.
    pub kind: ElementKind,
    /// What the team calls it; stands in every sentence: "Harbour newsreel 1934".
    pub label: String,
    /// Where the cut uses it.
    pub uses: Vec<Use>,
    /// Captions of the cut that name it, where it is a person (R36).
    #[serde(default)]
    pub captions: Vec<Captioned>,
    /// The papers and grounds behind it.
    #[serde(default)]
    pub backing: Backing,
}

/// A caption that names somebody.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Captioned {
    /// First frame in the cut.
    pub record_in: u64,
    /// First frame after it.
    pub record_out: u64,
    /// As it stands on screen.
    pub text: String,
    /// What is wrong with its spelling, in sentences.
    #[serde(default)]
    pub faults: Vec<String>,
}

/// What an element is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum ElementKind {
    /// Somebody seen or heard.
    Person {
        /// Date of birth, if kept.
        born: Option<NaiveDate>,
        /// Adult or minor, where no date of birth is kept.
        age_band: Option<AgeBand>,
        /// Day of death, if known.
        #[serde(default)]
        died: Option<NaiveDate>,
    },
    /// A place.
    Place,
    /// A work of art in shot.
    Artwork,
    /// A brand, logo or product.
    Brand,
    /// A piece of music: needs the composition and the recording.
    Music,
    /// Anything imported: archive, stills, phone video, sound effects, fonts.
    Asset {
        /// Its class in the team's records, such as `archive`.
        class: String,
    },
    /// Own footage of which nobody wrote down what it shows.
    UnloggedFootage,
    /// An event of the cut that matches nothing in the catalogue.
    UnknownSource,
}

/// What is recorded of an age without a date of birth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AgeBand {
    /// Of age when filmed.
    Adult,
    /// Under age when filmed.
    Minor,
}

/// One use of an element in the cut.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Use {
    /// Number of the event in the cut.
    pub event: u32,
    /// First frame in the cut.
    pub record_in: u64,
    /// First frame after it.
    pub record_out: u64,
    /// How the element is present.
    pub presence: Presence,
    /// What is seen of a face.
    pub face: Face,
    /// Whether a person's name is on screen.
    #[serde(default)]
    pub name_on_screen: bool,
    /// Whether a person's voice was made unrecognisable.
    #[serde(default)]
    pub voice_changed: bool,
    /// Day of filming, if known.
    #[serde(default)]
    pub filmed_on: Option<NaiveDate>,
}

/// How an element is present in a use.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Presence {
    /// A person who speaks to or acts before the camera.
    OnCamera,
    /// A person heard only.
    Voice,
    /// A person or thing in the background.
    Background,
    /// A thing that is in shot.
    InShot,
    /// Music or sound.
    Heard,
    /// Not stated.
    None,
}

/// The papers and grounds behind an element.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Backing {
    /// Signed, or not yet signed, forms.
    #[serde(default)]
    pub releases: Vec<Release>,
    /// Licences.
    #[serde(default)]
    pub licences: Vec<Licence>,
    /// Grounds other than a licence.
    #[serde(default)]
    pub bases: Vec<Basis>,
    /// A decision that nothing is needed.
    #[serde(default)]
    pub not_needed: Option<NotNeeded>,
    /// Decisions that a permission beside a person's own is not needed. Left out where there is none, so that what was
    /// approved before these were kept still stands.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub beside_not_needed: Vec<BesideNotNeeded>,
    /// Permissions that must stand beside a person's own: of a school, a team, a league.
    #[serde(default)]
    pub also_needed: Vec<Permission>,
    /// Who holds shares of a piece of music; empty: not recorded. A side is cleared when all its owners have given it.
    // Left out when empty, so that approvals of all else keep their fingerprint.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub owners: Vec<Owner>,
    /// What is said to be inside an import, in words, while nothing inside it is entered; empty: nothing is said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub inside: String,
    /// The first day on which the element stood in a cut, if known (R52).
    #[serde(default)]
    pub included_on: Option<NaiveDate>,
}

/// A permission beside a person's own (rulebook 3.1: it does not replace that).
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Permission {
    /// Of the school.
    School,
    /// Of the team or club.
    Team,
    /// Of the league, or whoever governs the sport.
    League,
}

impl Permission {
    /// Whose permission, within a sentence: "the school's".
    pub fn words(self) -> &'static str {
        match self {
            Permission::School => "the school's",
            Permission::Team => "the team's",
            Permission::League => "the league's",
        }
    }
}

/// A release.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = ElementRelease)]
pub struct Release {
    /// The record's id.
    pub id: String,
    /// What it says.
    pub form: Form,
    /// What the team says of it.
    #[serde(default)]
    pub standing: Standing,
    /// Whose permission it is, where it is not the person's or owner's own.
    #[serde(default)]
    pub permission: Option<Permission>,
}

/// What the team says of a signed form.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Somebody has read it.
    #[default]
    Checked,
    /// Signed, and nobody has read it yet.
    NotChecked,
    /// Something is wrong with it.
    Problem,
}

/// Which right of a piece a paper is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Everything but music: there is one side only.
    Whole,
    /// The composition.
    Composition,
    /// The particular recording.
    Recording,
    /// One party gives both sides of music.
    Both,
    /// A permission beside a person's own.
    Beside(Permission),
}

/// Somebody whose permission a side of a piece of music needs (rulebook 3.3: both sides, each to 100 %).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = ShareOwner)]
pub struct Owner {
    /// Empty: nobody is named for this share.
    pub name: String,
    /// The composition or the recording.
    pub side: Side,
    /// Hundredths of a percent, as recorded. None: not entered.
    #[serde(default)]
    pub share: Option<u32>,
    /// Of an arrangement or translation: a work of its own, which is not free of rights because the original is.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub of_version: bool,
}

/// How far a licence has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LicenceStatus {
    /// In the cut for the time being; must not be delivered.
    Temp,
    /// Asked for.
    Asking,
    /// A price was named.
    Quoted,
    /// Agreed, not signed.
    AgreedUnsigned,
    /// Signed.
    Signed,
    /// Signed and paid.
    Paid,
    /// Another licence has taken its place; it is not looked at.
    Replaced,
}

/// A licence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = ElementLicence)]
pub struct Licence {
    /// The record's id.
    pub id: String,
    /// Who grants it; stands in sentences: "the licence from Quay Archive".
    pub licensor: String,
    /// Which right it is about.
    pub side: Side,
    /// How far it has come.
    pub status: LicenceStatus,
    /// The date of signature, which may start its term.
    #[serde(default)]
    pub signed: EventDate,
    /// What it grants.
    pub grants: Vec<Grant>,
    /// Whether promotion may use it.
    pub allows_promotion: bool,
    /// What it says besides (R10, R11, R52).
    #[serde(default)]
    pub terms: LicenceTerms,
}

/// A ground other than a licence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Basis {
    /// Which right it is about.
    pub side: Side,
    /// The ground with what is on file for it.
    pub ground: Ground,
    /// What it rests on, with its days: a lawyer's note, an insurer's endorsement. Not written, so that what was
    /// approved before these were kept still stands; a day that is ahead is a reason of its own.
    #[serde(default, skip_serializing)]
    pub dated: Vec<DatedStep>,
}

/// A decision that a school's, team's or league's permission is not needed; the person's own still is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct BesideNotNeeded {
    /// Whose permission.
    pub permission: Permission,
    /// The decision.
    pub decision: NotNeeded,
}

/// A decision that no permission is needed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct NotNeeded {
    /// Why.
    pub reason: String,
    /// Who decided.
    pub decided_by: String,
    /// When.
    pub decided_on: Option<NaiveDate>,
    /// Whether the answer keeps the reason back. Not written: what an approval covers does not depend on who reads it.
    #[serde(default, skip_serializing)]
    pub kept_back: bool,
}

impl NotNeeded {
    /// The reason, as the answer may tell it.
    pub(super) fn told(&self) -> &str {
        if self.kept_back {
            "the reason stands in the record"
        } else {
            self.reason.trim()
        }
    }
}
