//! What is wrong with a form in particular uses, in words (R19–R23).

use chrono::NaiveDate;

use super::life;
use super::paper::{Context, Paper};
use super::question::{Captioned, Element, ElementKind, Presence, Side, Use};
use super::reason::{Reason, ReasonCode, Weight};
use super::words;
use crate::captions::shows_name;
use crate::rights::medium;
use crate::rights::release::{
    Face, Fault, Form, HiddenFrom, Lag, Restriction, Shown, Signer, Subject, faults, lag,
};
use crate::rights::territory;
use crate::wording::{and_list, date_words};

/// Uses that are alike in everything a form asks about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Manner {
    pub filmed_on: Option<NaiveDate>,
    face: Face,
    name_on_screen: bool,
    voice_recognisable: bool,
}

impl Manner {
    /// Nothing is known of how it is used: nobody said when it was filmed.
    pub const UNKNOWN: Manner = Manner {
        filmed_on: None,
        face: Face::NotApplicable,
        name_on_screen: false,
        voice_recognisable: false,
    };

    pub fn of(one: &Use) -> Self {
        let speaks = matches!(one.presence, Presence::OnCamera | Presence::Voice);
        Manner {
            filmed_on: one.filmed_on,
            face: one.face,
            name_on_screen: one.name_on_screen,
            voice_recognisable: speaks && !one.voice_changed,
        }
    }
}

/// Every reason why the form does not hold in these uses, its grants left aside; with conditions
/// that are kept, and what is only shown.
pub(super) fn findings(
    cx: &Context<'_>,
    element: &Element,
    paper: &Paper<'_>,
    form: &Form,
    manner: Manner,
) -> Vec<Reason> {
    let shown = Shown {
        filmed_on: manner.filmed_on,
        first_shown_on: cx.first_shown_on,
        in_promotion: cx.question.need.in_promotion,
        face: manner.face,
        name_on_screen: manner.name_on_screen,
        voice_recognisable: manner.voice_recognisable,
    };
    let subject = match paper.side {
        // A school's, team's or league's form is signed by whoever may sign for it.
        Side::Beside(_) => Subject::Property,
        _ => cx.subject(element, manner.filmed_on),
    };
    let mut out: Vec<Reason> = faults(form, subject, &cx.question.house, &shown)
        .into_iter()
        .map(|fault| {
            let weight = if fault.is_doubt() {
                Weight::Unknown
            } else {
                Weight::Fails
            };
            let (code, rule) = code(fault);
            let sentence = say(fault, cx, element, form, &paper.name, manner.filmed_on);
            let mut reason = paper.reason(code, rule, weight, sentence);
            if fault == Fault::AgeNotKnown && cx.birth_in_doubt(element, manner.filmed_on).is_some()
{reason.action = "Correct the date of birth, or the day that speaks against it.".into();}
            if fault == Fault::FilmingDayNotKnown && is_import(element) {
                reason.action = "Set the day of filming where it is in a shot of our own; for an import, leave the \
                                 form's days of filming blank."
                    .into();
            }
            reason
        })
        .collect();
    if cx.question.need.clean_covers
        && form.restrictions.contains(&Restriction::BlurFace)
        && manner.face != Face::NotApplicable
    {
        let sentence = format!(
            "{} was promised a blurred face, and the delivery asks for clean covers of blurred \
             shots.",
            words::first_upper(&element.label)
        );
        let code = ReasonCode::CleanCoverUndoesBlur;
        out.push(paper.reason(code, "R23", Weight::Fails, sentence));
    }
    out.extend(after_death(cx, element, paper, form));
    out.extend(disguise(cx, element, paper, form, manner));
    out.extend(named(element, paper, form, manner));
    out.extend(kept(cx, element, paper, form));
    out.extend(worth_knowing(
        cx,
        element,
        paper,
        form,
        subject,
        manner.filmed_on,
    ));
    out
}

/// A release is not lost by death, but nobody signs after it (R19).
fn after_death(
    cx: &Context<'_>,
    element: &Element,
    paper: &Paper<'_>,
    form: &Form,
) -> Option<Reason> {
    let died = cx.died(element)?;
    let signed = form.signed_on.filter(|signed| *signed > died)?;
    if form.signed_by != Some(Signer::Person) {
        return None; // whether others may sign is asked of every form
    }
    let sentence = format!(
        "{} {}, after the day of death, {}.",
        words::first_upper(&paper.name),
        cx.signed_words(signed),
        date_words(died)
    );
    Some(paper.reason(ReasonCode::SignedByOther, "R19", Weight::Fails, sentence))
}

/// A promised disguise: what was agreed is on record, and the use keeps to it (R23).
fn disguise(
    cx: &Context<'_>,
    element: &Element,
    paper: &Paper<'_>,
    form: &Form,
    manner: Manner,
) -> Vec<Reason> {
    let promised = |one: Restriction| form.restrictions.contains(&one);
    let (face, voice) = (
        promised(Restriction::BlurFace),
        promised(Restriction::ChangeVoice),
    );
    if !face && !voice {
        return vec![];
    }
    let who = words::first_upper(&element.label);
    let agreed = &form.facts.disguise;
    let missing = agreed.missing();
    if !missing.is_empty() {
        let sentence = format!(
            "{who} was promised a disguise; it is not recorded {}.",
            and_list(&missing)
        );
        let code = ReasonCode::DisguiseNotAgreed;
        return vec![paper.reason(code, "R23", Weight::Unknown, sentence)];
    }
    let what = format!("the disguise promised to {}", element.label);
    let not_agreed = cx.not_come(paper, "R23", (&what, "agreed"), agreed.agreed_on);
    let mut out: Vec<Reason> = not_agreed.into_iter().collect();
    let named = form
        .restrictions
        .iter()
        .any(|one| matches!(one, Restriction::NamedAs { .. } | Restriction::NoName));
    let known = agreed.from == Some(HiddenFrom::PeopleWhoKnowThem);
    // What the conditions themselves forbid is said by them.
    let tells = [
        (
            known && face && manner.face == Face::Hidden,
            "the face is only turned away or small",
        ),
        (
            known && !face && manner.face == Face::Shown,
            "the face can be seen",
        ),
        (
            known && !voice && manner.voice_recognisable,
            "the voice is heard unchanged",
        ),
        (manner.name_on_screen && !named, "the name is on screen"),
    ];
    let tells: Vec<String> = (tells.iter())
        .filter(|(there, _)| *there)
        .map(|(_, what)| (*what).to_owned())
        .collect();
    if tells.is_empty() {
        return out;
    }
    let from = if known {
        "from people who know them"
    } else {
        "from viewers"
    };
    let on = agreed.agreed_on.map_or_else(String::new, date_words);
    let sentence = format!(
        "{who} was promised on {on} to be hidden {from} ({}), and {}.",
        agreed.how.trim(),
        and_list(&tells)
    );
    out.push(paper.reason(ReasonCode::DisguiseTooWeak, "R23", Weight::Fails, sentence));
    out
}

/// Named only as agreed, in the captions that are entered (R23).
fn named(element: &Element, paper: &Paper<'_>, form: &Form, manner: Manner) -> Vec<Reason> {
    let agreed: Vec<&str> = (form.restrictions.iter())
        .filter_map(|one| match one {
            Restriction::NamedAs { name } => Some(name.trim()),
            _ => None,
        })
        .collect();
    if agreed.is_empty() {
        return vec![];
    }
    let who = words::first_upper(&element.label);
    let quoted: Vec<String> = agreed.iter().map(|name| format!("“{name}”")).collect();
    let only = format!("{who} agreed to be named only as {}", and_list(&quoted));
    let code = ReasonCode::NamedOtherwise;
    if manner.name_on_screen && element.captions.is_empty() {
        let sentence = format!("{only}; a name is on screen, and its caption is not entered.");
        return vec![paper.reason(code, "R23", Weight::Unknown, sentence)];
    }
    let otherwise = |one: &&Captioned| !agreed.iter().any(|name| shows_name(&one.text, name));
    let wrong: Vec<&Captioned> = element.captions.iter().filter(otherwise).collect();
    if wrong.is_empty() {
        return vec![];
    }
    // What the caption says may be the very name that must not get out (rulebook 7.5).
    let sentence = format!("{only}, and a caption names them otherwise.");
    let mut reason = paper.reason(code, "R23", Weight::Fails, sentence);
    reason.events = wrong
        .iter()
        .flat_map(|one| events_under(element, one))
        .collect();
    vec![reason]
}

/// Events of the element during a caption.
pub(super) fn events_under(element: &Element, one: &Captioned) -> Vec<u32> {
    (element.uses.iter())
        .filter(|of| of.record_in < one.record_out && one.record_in < of.record_out)
        .map(|of| of.event)
        .collect()
}

fn is_import(element: &Element) -> bool {
    matches!(element.kind, ElementKind::Asset { .. })
}

fn code(fault: Fault) -> (ReasonCode, &'static str) {
    match fault {
        Fault::Unsigned => (ReasonCode::Unsigned, "R19"),
        Fault::SignedAfterUse => (ReasonCode::SignedAfterUse, "R21"),
        Fault::GuardianMissing => (ReasonCode::GuardianMissing, "R19"),
        Fault::SignedByOther => (ReasonCode::SignedByOther, "R19"),
        Fault::AgeNotKnown => (ReasonCode::AgeUnknown, "R20"),
        Fault::FilmedOutside => (ReasonCode::FilmedOutside, "R19"),
        Fault::FilmingDayNotKnown => (ReasonCode::FilmingDayUnknown, "R19"),
        Fault::WrongEntity => (ReasonCode::WrongEntity, "R19"),
        Fault::NoConsideration => (ReasonCode::NoConsideration, "R19"),
        Fault::EditingNotAllowed => (ReasonCode::EditingNotAllowed, "R19"),
        Fault::NotGranted => (ReasonCode::NotGranted, "R3"),
        Fault::PromotionNotAllowed => (ReasonCode::PromotionNotAllowed, "R23"),
        Fault::Withdrawn => (ReasonCode::Withdrawn, "R19"),
        Fault::Held => (ReasonCode::Held, "R19"),
        Fault::NotUnderstood => (ReasonCode::NotUnderstood, "R19"),
        Fault::Disputed | Fault::ChildObjects => (ReasonCode::Disputed, "R19"),
        Fault::SignatoryInDoubt => (ReasonCode::SignedByOther, "R19"),
        Fault::GuardianInDoubt => (ReasonCode::GuardianMissing, "R19"),
        Fault::AnotherName => (ReasonCode::AnotherName, "R19"),
        Fault::CopyrightRefused | Fault::CopyrightNotStated => {
            (ReasonCode::CopyrightNotWarranted, "R19")
        }
        Fault::FaceMustBeBlurred => (ReasonCode::FaceMustBeBlurred, "R23"),
        Fault::VoiceMustBeChanged => (ReasonCode::VoiceMustBeChanged, "R23"),
        Fault::NameMustNotBeShown => (ReasonCode::NameMustNotBeShown, "R23"),
    }
}

fn say(
    fault: Fault,
    cx: &Context<'_>,
    element: &Element,
    form: &Form,
    name: &str,
    filmed_on: Option<NaiveDate>,
) -> String {
    let who = words::first_upper(&element.label);
    let paper = words::first_upper(name);
    let house = &cx.question.house;
    let on =
        |day: Option<NaiveDate>| day.map_or(String::new(), |d| format!(" on {}", date_words(d)));
    let signed = |day: NaiveDate| format!(" {}", cx.signed_words(day));
    match fault {
        Fault::Unsigned => format!("{paper} is not signed."),
        Fault::SignedAfterUse => format!(
            "{paper}{}, after the first use on {}.",
            form.signed_on.map_or_else(String::new, signed),
            date_words(cx.first_shown_on)
        ),
        Fault::GuardianMissing => format!(
            "{who} was under {} when filmed{}, and no guardian has signed: the form is signed by \
             {}.",
            house.adult_at,
            on(filmed_on),
            if form.signed_by == Some(Signer::Person) {
                "the minor"
            } else {
                "somebody else"
            }
        ),
        Fault::SignedByOther if element.kind.word() == "person" => {
            format!(
                "{paper} is signed by another person than {}.",
                element.label
            )
        }
        Fault::SignedByOther => {
            format!("{paper} is signed by somebody without the owner's authority.")
        }
        Fault::AgeNotKnown if let Some(wrong) = cx.birth_in_doubt(element, filmed_on) => format!(
            "Whether {} was of age when filmed{} is unknown: {wrong}.",
            element.label,
            on(filmed_on)
        ),
        Fault::AgeNotKnown => format!(
            "Nobody has recorded whether {} was of age when filmed{}, so it is unknown whose \
             signature is needed.",
            element.label,
            on(filmed_on)
        ),
        Fault::FilmedOutside => format!(
            "{who} was filmed{}; {name} is about filming {}.",
            on(filmed_on),
            span(form.filmed_from, form.filmed_to)
        ),
        Fault::FilmingDayNotKnown if is_import(element) => format!(
            "{paper} is about filming {}, and {} has no day of filming, as an import has none.",
            span(form.filmed_from, form.filmed_to),
            element.label
        ),
        Fault::FilmingDayNotKnown => format!(
            "The day on which {} was filmed is not known; {name} is about filming {}.",
            element.label,
            span(form.filmed_from, form.filmed_to)
        ),
        Fault::WrongEntity => {
            format!(
                "{paper} names “{}”, not “{}”.",
                form.entity.trim(),
                house.entity.trim()
            )
        }
        Fault::NoConsideration => format!("{paper} states no consideration."),
        Fault::EditingNotAllowed => format!("{paper} does not allow cutting and re-ordering."),
        Fault::NotGranted => format!("{paper} does not grant this use."),
        Fault::PromotionNotAllowed => format!("{paper} does not allow promotion."),
        Fault::Withdrawn => format!("{who} has withdrawn, and that was accepted."),
        Fault::Held => {
            format!("{who} has asked to withdraw; the uses are held until that is decided.")
        }
        Fault::NotUnderstood => format!("{paper} was not understood by whoever signed it."),
        // Reasons are read by people who may not see the form, and are printed: who objects, and which name it is,
        // stand in the record alone (rulebook 7.4, 7.5).
        Fault::Disputed => format!("{paper} is disputed."),
        Fault::SignatoryInDoubt if form.signed_by == Some(Signer::Guardian) => {
            format!("{paper} is signed by another than the guardian on record.")
        }
        Fault::SignatoryInDoubt => {
            format!("{paper} is signed with another name than the one on record.")
        }
        Fault::GuardianInDoubt => format!(
            "{paper} is signed as guardian by somebody whose capacity on record is not a parent's or legal guardian's."
        ),
        Fault::ChildObjects => format!("{who} does not agree, whoever else has signed."),
        Fault::AnotherName => format!("{paper} bears another name than the one on record."),
        Fault::CopyrightRefused => {
            format!("{paper} is from the owner of the object, who does not own the copyright.")
        }
        Fault::CopyrightNotStated => {
            format!("{paper} does not say whether its giver owns the copyright too.")
        }
        Fault::FaceMustBeBlurred => {
            format!("{who} was promised a blurred face and is recognisable.")
        }
        Fault::VoiceMustBeChanged => {
            format!("{who} was promised a changed voice and is heard unchanged.")
        }
        Fault::NameMustNotBeShown => {
            format!("{who} asked not to be named, and the name is on screen.")
        }
    }
}

fn span(from: Option<NaiveDate>, to: Option<NaiveDate>) -> String {
    match (from, to) {
        (Some(from), Some(to)) => format!("from {} to {}", date_words(from), date_words(to)),
        (Some(from), None) => format!("from {}", date_words(from)),
        (None, Some(to)) => format!("until {}", date_words(to)),
        (None, None) => "on any day".into(),
    }
}

/// Conditions that this cut keeps and must go on keeping.
fn kept(cx: &Context<'_>, element: &Element, paper: &Paper<'_>, form: &Form) -> Vec<Reason> {
    let mut kept: Vec<String> = Vec::new();
    let mut out = Vec::new();
    for restriction in &form.restrictions {
        match restriction {
            Restriction::BlurFace => kept.push("blurred face".into()),
            Restriction::ChangeVoice => kept.push("changed voice".into()),
            Restriction::NoName => kept.push("no name".into()),
            Restriction::NamedAs { name } => {
                kept.push(format!("named only as “{}”", name.trim()));
            }
            Restriction::NoPromotion => kept.push("no promotion".into()),
            Restriction::NotIn { territories } => {
                // A group that the team keeps is called by its own name.
                let name =
                    |code: &String| territory::name(code).map_or(code.clone(), str::to_owned);
                let names: Vec<String> = territories.iter().map(name).collect();
                kept.push(format!("not in {}", and_list(&names)));
            }
            Restriction::NotBefore { date } => {
                kept.push(format!("not before {}", date_words(*date)));
            }
            Restriction::NotAfter { date } => {
                kept.push(format!("not after {}", date_words(*date)));
            }
            Restriction::NotInMedia { media } => {
                kept.push(format!("not in {}", medium::words(media)));
            }
            Restriction::NotBeside { person } => {
                let others = &cx.question.elements;
                let other = others.iter().find(|one| one.id == *person);
                kept.push(other.map_or_else(
                    || "not beside somebody who is not in this cut".to_owned(),
                    |other| format!("not beside {}", other.label),
                ));
            }
            Restriction::Approval { words, approved_on } => {
                if let Some(day) = cx.come(*approved_on) {
                    kept.push(format!("{}, approved on {}", words.trim(), date_words(day)));
                }
            }
            Restriction::Other { words } => {
                let sentence = format!("A condition of {}: “{}”.", paper.name, words.trim());
                let code = ReasonCode::ConditionInWords;
                out.push(paper.reason(code, "R23", Weight::Shown, sentence));
            }
        }
    }
    if !kept.is_empty() {
        let sentence = format!("Conditions for {}: {}.", element.label, and_list(&kept));
        out.push(paper.reason(ReasonCode::RestrictionKept, "R23", Weight::Shown, sentence));
    }
    out
}

/// Late signature and coming of age: shown, and take nothing away (R20, R21).
fn worth_knowing(
    cx: &Context<'_>,
    element: &Element,
    paper: &Paper<'_>,
    form: &Form,
    subject: Subject,
    filmed_on: Option<NaiveDate>,
) -> Vec<Reason> {
    let mut out = Vec::new();
    let Some(filmed) = filmed_on else { return out };
    let signed_on = cx.come(form.signed_on);
    if let Some(signed) = signed_on
        && lag(filmed, signed) == Lag::Late
    {
        let sentence = format!(
            "{} was signed on {}, {} after filming on {}.",
            words::first_upper(&paper.name),
            date_words(signed),
            words::days((signed - filmed).num_days()),
            date_words(filmed)
        );
        out.push(paper.reason(ReasonCode::SignedLate, "R21", Weight::Shown, sentence));
    }
    if let Subject::Born(born) = subject {
        out.extend(life::coming_of_age(
            cx, element, paper, born, filmed, signed_on,
        ));
    }
    out
}
