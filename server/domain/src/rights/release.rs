//! Does a signed form hold for one use of a person, place or thing? (R19–R23)
//!
//! Lists every reason why it does not; none hides another. What the form grants (territories,
//! media, days) is worked in [`super::coverage`]; here is all the rest.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::coverage::Grant;
use crate::age::age;

mod conditions;
pub use conditions::{
    Disguise, HiddenFrom, Restriction, Withdrawal, WithdrawalStage, WithdrawalStep,
    note_withdrawal_steps, withdrawal_after, withdrawal_decisions, withdrawal_out_of_order,
    withdrawal_step_faults,
};

/// Who signed a form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Signer {
    /// The person shown.
    #[serde(rename = "self")]
    Person,
    /// A parent or guardian who may sign for the person.
    Guardian,
    /// The owner of the place or thing, or somebody with authority to sign for the owner.
    Owner,
    /// Anybody else: an aunt, a tenant, a teacher.
    Other,
}

/// A signed, or not yet signed, form.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Form {
    /// Day of signature. None: not signed.
    pub signed_on: Option<NaiveDate>,
    /// Who signed. None: not signed.
    pub signed_by: Option<Signer>,
    /// First day of filming that the form is about; None: no beginning stated.
    pub filmed_from: Option<NaiveDate>,
    /// Last day of filming that the form is about; None: no end stated.
    pub filmed_to: Option<NaiveDate>,
    /// Production entity to which consent is given.
    pub entity: String,
    /// Whether a consideration is stated.
    pub consideration_stated: bool,
    /// Whether it allows cutting and re-ordering.
    pub allows_editing: bool,
    /// Whether it allows use in promotion.
    pub allows_promotion: bool,
    /// What it grants. Several add up.
    pub grants: Vec<Grant>,
    /// A wish to withdraw, if any.
    #[serde(default)]
    pub withdrawal: Option<Withdrawal>,
    /// Conditions agreed.
    #[serde(default)]
    pub restrictions: Vec<Restriction>,
    /// Whatever else makes it weak.
    #[serde(default)]
    pub facts: FormFacts,
}

/// What else is known of a form that may make it weak (rulebook 3.1).
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default)]
pub struct FormFacts {
    /// The signatory did not understand it.
    pub not_understood: bool,
    /// Who disputes it, in words; empty: nobody.
    pub dispute: String,
    /// The name on the form, where it is not the subject's; empty: it is.
    pub other_name: String,
    /// Whether its giver warrants the copyright.
    pub copyright: CopyrightWarranty,
    /// How far a promised disguise goes.
    pub disguise: Disguise,
    /// The day on which a withdrawal was accepted, if known. Left out where there is none, so that what was approved
    /// before this was kept still stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub withdrawn_on: Option<NaiveDate>,
    /// By the name, whoever signed is not the person, or not the guardian, on record.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub other_signatory: bool,
    /// A guardian signed, by whose capacity or relationship they may be none ([`doubts_guardian`]).
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub guardian_in_doubt: bool,
    /// A child who does not agree, whatever the guardian signed.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub child_objects: bool,
}

/// Whether a capacity or relationship in words is of somebody who is no guardian by default: an aunt, a teacher, a
/// chaperone, a grandparent (rulebook 2). Other words raise no doubt.
///
/// ```
/// use waybill_domain::rights::release::doubts_guardian;
/// assert!(doubts_guardian("Aunt"));
/// assert!(!doubts_guardian("grandmother; legal guardian by order"));
/// assert!(doubts_guardian("aunt, not the guardian"));
/// assert!(!doubts_guardian("mother"));
/// ```
pub fn doubts_guardian(text: &str) -> bool {
    const NO_GUARDIANS: &[&str] = &[
        "aunt",
        "auntie",
        "aunty",
        "uncle",
        "grandmother",
        "grandfather",
        "grandparent",
        "grandma",
        "grandpa",
        "granny",
        "grand",
        "sister",
        "brother",
        "sibling",
        "cousin",
        "stepmother",
        "stepfather",
        "stepparent",
        "step",
        "foster",
        "godmother",
        "godfather",
        "godparent",
        "teacher",
        "headteacher",
        "tutor",
        "coach",
        "trainer",
        "chaperone",
        "nanny",
        "babysitter",
        "childminder",
        "neighbour",
        "neighbor",
        "friend",
    ];
    let words = words_of(text);
    let says = |one: &str| words.iter().any(|word| word == one);
    let named = says("guardian") || says("guardians");
    if says("not") || says("no") {
        return named || NO_GUARDIANS.iter().any(|one| says(one));
    }
    !named && NO_GUARDIANS.iter().any(|one| says(one))
}

/// Whether two names may be one person's: all words of the shorter stand in the longer, so that "Estrid Oddicombe,
/// mother" is Estrid Oddicombe. A blank is nobody's.
///
/// ```
/// use waybill_domain::rights::release::may_be_one_name;
/// assert!(may_be_one_name("Estrid Oddicombe, mother", "estrid oddicombe"));
/// assert!(!may_be_one_name("Karl Quill", "Ada Quill"));
/// ```
pub fn may_be_one_name(one: &str, two: &str) -> bool {
    let (one, two) = (words_of(one), words_of(two));
    let within = |short: &[String], long: &[String]| short.iter().all(|word| long.contains(word));
    !one.is_empty() && !two.is_empty() && (within(&one, &two) || within(&two, &one))
}

fn words_of(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect()
}

/// Whether whoever gives material warrants the copyright in it; an owner of a print is not the
/// photographer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CopyrightWarranty {
    /// The form is not about material.
    #[default]
    NotAsked,
    /// Warranted.
    Given,
    /// The form does not say.
    NotStated,
    /// Ownership of the object only.
    Refused,
}

/// What the series asks of every form.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct HouseRules {
    /// The production entity that forms must name.
    pub entity: String,
    /// Age from which somebody signs for themself.
    pub adult_at: i32,
    /// Whether a consideration must be stated.
    pub consideration_required: bool,
}

/// Whose consent the form gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// A person born on this day.
    Born(NaiveDate),
    /// A person recorded as adult, no date of birth kept.
    Adult,
    /// A person recorded as under age, no date of birth kept.
    Minor,
    /// A person of whom no age is recorded.
    AgeNotKnown,
    /// A place or a thing: its owner signs.
    Property,
}

/// What is seen of a face.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Face {
    /// Recognisable.
    Shown,
    /// In shot, but turned away or too small.
    Hidden,
    /// Made unrecognisable.
    Blurred,
    /// Not in shot.
    NotApplicable,
}

/// One use of the subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// Day of filming, if known.
    pub filmed_on: Option<NaiveDate>,
    /// First screening outside the team, else first transmission (R19 "use date").
    pub first_shown_on: NaiveDate,
    /// Whether it is a use in promotion.
    pub in_promotion: bool,
    /// What is seen of the face.
    pub face: Face,
    /// Whether the name is on screen.
    pub name_on_screen: bool,
    /// Whether an unchanged voice is heard.
    pub voice_recognisable: bool,
}

/// Why a form does not hold for a use, in the order in which reasons are listed.
///
/// The printed words are those of the published cases where a case names the reason.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    thiserror::Error,
    Serialize,
    Deserialize,
    ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Fault {
    /// No signature or no date of it.
    #[error("unsigned")]
    Unsigned,
    /// Signed after the programme was first shown.
    #[error("signed after use")]
    SignedAfterUse,
    /// A minor's form that no guardian signed.
    #[error("guardian's signature missing")]
    GuardianMissing,
    /// Signed by somebody who may not sign for the subject.
    #[error("signed by another person")]
    SignedByOther,
    /// The person may have been a minor; nobody recorded their age. A doubt, not a fault.
    #[error("age not known")]
    AgeNotKnown,
    /// Filmed on a day the form is not about.
    #[error("filmed outside the form's dates")]
    FilmedOutside,
    /// Nobody knows whether the day of filming is within the form's dates. A doubt.
    #[error("day of filming not known")]
    FilmingDayNotKnown,
    /// Consent given to another company.
    #[error("wrong production entity")]
    WrongEntity,
    /// No consideration stated where the series needs one.
    #[error("no consideration stated")]
    NoConsideration,
    /// Cutting and re-ordering not allowed.
    #[error("editing not allowed")]
    EditingNotAllowed,
    /// Territory, medium or day not granted. Found by [`super::coverage`], listed here.
    #[error("use not granted")]
    NotGranted,
    /// Promotion not allowed.
    #[error("promotion not allowed")]
    PromotionNotAllowed,
    /// Withdrawal accepted.
    #[error("withdrawn")]
    Withdrawn,
    /// Held until a wish to withdraw is decided.
    #[error("held until a withdrawal is decided")]
    Held,
    /// Anonymity promised, face shown.
    #[error("face must be blurred")]
    FaceMustBeBlurred,
    /// Anonymity promised, voice unchanged.
    #[error("voice must be changed")]
    VoiceMustBeChanged,
    /// Name on screen against the person's condition.
    #[error("name must not be shown")]
    NameMustNotBeShown,
    /// The signatory did not understand the form.
    #[error("not understood")]
    NotUnderstood,
    /// Somebody with a say objects.
    #[error("disputed")]
    Disputed,
    /// Another name stands on the form. A doubt.
    #[error("another name on the form")]
    AnotherName,
    /// The giver owns the object, not the copyright.
    #[error("copyright not warranted")]
    CopyrightRefused,
    /// The form does not say who owns the copyright. A doubt.
    #[error("copyright not stated")]
    CopyrightNotStated,
    /// By the name, signed by another than the person or guardian on record. A doubt.
    #[error("signatory not the one on record")]
    SignatoryInDoubt,
    /// Signed as guardian by somebody who may be none. A doubt.
    #[error("guardian in doubt")]
    GuardianInDoubt,
    /// The child does not agree.
    #[error("the child objects")]
    ChildObjects,
}

impl Fault {
    /// A doubt makes the use unknown instead of failing it.
    pub fn is_doubt(self) -> bool {
        matches!(
            self,
            Fault::AgeNotKnown
                | Fault::FilmingDayNotKnown
                | Fault::AnotherName
                | Fault::CopyrightNotStated
                | Fault::SignatoryInDoubt
                | Fault::GuardianInDoubt
        )
    }
}

/// Every reason why the form does not hold for this use, except what it grants (R19, R23).
pub fn faults(form: &Form, subject: Subject, house: &HouseRules, shown: &Shown) -> Vec<Fault> {
    let promotion_refused =
        !form.allows_promotion || form.restrictions.contains(&Restriction::NoPromotion);
    let restricts = |restriction: Restriction| form.restrictions.contains(&restriction);
    let checks = [
        (
            Fault::WrongEntity,
            form.entity.trim() != house.entity.trim(),
        ),
        (
            Fault::NoConsideration,
            house.consideration_required && !form.consideration_stated,
        ),
        (Fault::EditingNotAllowed, !form.allows_editing),
        (
            Fault::PromotionNotAllowed,
            shown.in_promotion && promotion_refused,
        ),
        (
            Fault::Withdrawn,
            form.withdrawal == Some(Withdrawal::Accepted),
        ),
        (Fault::Held, form.withdrawal == Some(Withdrawal::Holding)),
        (
            Fault::FaceMustBeBlurred,
            shown.face == Face::Shown && restricts(Restriction::BlurFace),
        ),
        (
            Fault::VoiceMustBeChanged,
            shown.voice_recognisable && restricts(Restriction::ChangeVoice),
        ),
        (
            Fault::NameMustNotBeShown,
            shown.name_on_screen && restricts(Restriction::NoName),
        ),
    ];
    let mut faults = signature_faults(form, subject, house, shown);
    faults.extend(weaknesses(&form.facts));
    faults.extend(filming_fault(form, shown.filmed_on));
    faults.extend(
        checks
            .into_iter()
            .filter(|(_, fails)| *fails)
            .map(|(fault, _)| fault),
    );
    faults.sort_unstable();
    faults.dedup();
    faults
}

/// What makes a form weak whatever the use.
fn weaknesses(facts: &FormFacts) -> impl Iterator<Item = Fault> {
    [
        (Fault::NotUnderstood, facts.not_understood),
        (Fault::Disputed, !facts.dispute.trim().is_empty()),
        (Fault::AnotherName, !facts.other_name.trim().is_empty()),
        (
            Fault::CopyrightRefused,
            facts.copyright == CopyrightWarranty::Refused,
        ),
        (
            Fault::CopyrightNotStated,
            facts.copyright == CopyrightWarranty::NotStated,
        ),
        (Fault::SignatoryInDoubt, facts.other_signatory),
        (Fault::GuardianInDoubt, facts.guardian_in_doubt),
        (Fault::ChildObjects, facts.child_objects),
    ]
    .into_iter()
    .filter_map(|(fault, there)| there.then_some(fault))
}

/// The signature's own reasons; only asked of a signed form.
fn signature_faults(
    form: &Form,
    subject: Subject,
    house: &HouseRules,
    shown: &Shown,
) -> Vec<Fault> {
    let (Some(signed_on), Some(signer)) = (form.signed_on, form.signed_by) else {
        return vec![Fault::Unsigned];
    };
    let late = (signed_on > shown.first_shown_on).then_some(Fault::SignedAfterUse);
    // Without a day of filming, the form's first day; that the day is not known is said beside it.
    let filmed = shown.filmed_on.or(form.filmed_from);
    let minor = match subject {
        Subject::Born(born) => filmed.map(|day| age(born, day) < house.adult_at),
        Subject::Adult | Subject::Property => Some(false),
        Subject::Minor => Some(true),
        Subject::AgeNotKnown => None,
    };
    let wrong_hand = match (subject, minor, signer) {
        (Subject::Property, _, Signer::Owner | Signer::Person) => None,
        (Subject::Property, _, _) => Some(Fault::SignedByOther),
        (_, Some(true), Signer::Guardian) => None,
        (_, Some(true), _) => Some(Fault::GuardianMissing),
        (_, Some(false), Signer::Person) => None,
        (_, Some(false), _) => Some(Fault::SignedByOther),
        (_, None, Signer::Owner | Signer::Other) => Some(Fault::SignedByOther),
        (Subject::Born(_), None, _) => Some(Fault::FilmingDayNotKnown),
        (_, None, _) => Some(Fault::AgeNotKnown),
    };
    late.into_iter().chain(wrong_hand).collect()
}

/// Whether the day of filming is within the form's dates.
fn filming_fault(form: &Form, filmed_on: Option<NaiveDate>) -> Option<Fault> {
    if form.filmed_from.is_none() && form.filmed_to.is_none() {
        return None;
    }
    let Some(day) = filmed_on else {
        return Some(Fault::FilmingDayNotKnown);
    };
    let early = form.filmed_from.is_some_and(|from| day < from);
    let late = form.filmed_to.is_some_and(|to| day > to);
    (early || late).then_some(Fault::FilmedOutside)
}

/// How long after filming the form was signed (R21).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lag {
    /// On the day or before.
    Prior,
    /// One to three days after.
    Prompt,
    /// Four to fourteen days after.
    After,
    /// More than fourteen days after: check.
    Late,
}

/// The lag from filming to signature (R21).
pub fn lag(filmed_on: NaiveDate, signed_on: NaiveDate) -> Lag {
    match (signed_on - filmed_on).num_days() {
        ..=0 => Lag::Prior,
        1..=3 => Lag::Prompt,
        4..=14 => Lag::After,
        _ => Lag::Late,
    }
}

#[cfg(test)]
mod tests;
