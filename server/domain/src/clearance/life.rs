//! Days of birth and death on record. Such as can't be are said, and nothing is computed from them (R20).

use chrono::NaiveDate;

use super::paper::{Context, Paper};
use super::question::{AgeBand, Element, ElementKind};
use super::reason::{Reason, ReasonCode, Weight};
use super::words;
use crate::age::ages;
use crate::rights::release::Subject;
use crate::wording::date_words;

impl Context<'_> {
    /// What is wrong with a person's day of birth, within a sentence. No birthday is told. `filmed_on`: the day of the
    /// use that is asked about.
    pub fn birth_in_doubt(
        &self,
        element: &Element,
        filmed_on: Option<NaiveDate>,
    ) -> Option<&'static str> {
        let ElementKind::Person {
            born: Some(born),
            died,
            ..
        } = element.kind
        else {
            return None;
        };
        if self.ahead(Some(born)).is_some() {
            return Some("the date of birth on record is still ahead");
        }
        if died.is_some_and(|died| died < born) {
            return Some("the day of death on record is before the date of birth");
        }
        (filmed_on.is_some_and(|filmed| filmed < born))
            .then_some("the date of birth on record is after the day of filming")
    }

    /// Whose consent is asked for, as far as age goes.
    pub fn subject(&self, element: &Element, filmed_on: Option<NaiveDate>) -> Subject {
        let ElementKind::Person { born, age_band, .. } = element.kind else {
            return Subject::Property;
        };
        match (born, age_band) {
            (Some(_), _) if self.birth_in_doubt(element, filmed_on).is_some() => {
                Subject::AgeNotKnown
            }
            (Some(born), _) => Subject::Born(born),
            (None, Some(AgeBand::Adult)) => Subject::Adult,
            (None, Some(AgeBand::Minor)) => Subject::Minor,
            (None, None) => Subject::AgeNotKnown,
        }
    }

    /// A person's day of death, where it can be.
    pub fn died(&self, element: &Element) -> Option<NaiveDate> {
        let ElementKind::Person { born, died, .. } = element.kind else {
            return None;
        };
        self.come(died)
            .filter(|died| born.is_none_or(|born| born <= *died))
    }

    /// A release is not lost by death; the estate may have rights, and a repeat must be told (R26). A day of death that
    /// can't be is said, and taken for none.
    pub fn death(&self, element: &Element) -> Option<Reason> {
        let ElementKind::Person {
            died: Some(day), ..
        } = element.kind
        else {
            return None;
        };
        let who = words::first_upper(&element.label);
        let code = ReasonCode::ContributorDied;
        let (sentence, action) = if self.died(element).is_some() {
            let sentence = format!(
                "{who} died on {}; a release is not lost by that, but an estate may have rights where this is shown.",
                date_words(day)
            );
            (sentence, words::action(code))
        } else {
            let wrong = match self.ahead(Some(day)) {
                Some(_) => "is still ahead",
                None => "is before the date of birth",
            };
            let sentence = format!(
                "Whether {} has died is unknown: the day of death on record, {}, {wrong}.",
                element.label,
                date_words(day)
            );
            (
                sentence,
                "Correct the day of death or of birth in the person's record.",
            )
        };
        Some(Reason {
            code,
            rule: "R26".into(),
            weight: Weight::Shown,
            sentence,
            action: action.into(),
            cells: None,
            paper_id: None,
            events: vec![],
        })
    }
}

/// Who crosses the age of majority between filming and first use, with the ages on each day (R20).
pub(super) fn coming_of_age(
    cx: &Context<'_>,
    element: &Element,
    paper: &Paper<'_>,
    born: NaiveDate,
    filmed: NaiveDate,
    signed: Option<NaiveDate>,
) -> Option<Reason> {
    let adult_at = cx.question.house.adult_at;
    let found = ages(born, filmed, signed, cx.first_shown_on, adult_at);
    found.of_age_on?;
    let at_signature = match (found.signed, signed) {
        (Some(age), Some(day)) => format!(", {age} at signature on {}", date_words(day)),
        _ => String::new(),
    };
    // No birthday is told: only the ages, and that the threshold lies between.
    let sentence = format!(
        "{} was {} when filmed on {}{at_signature}, and is {} at first use on {}: of age ({adult_at}) \
         between.",
        words::first_upper(&element.label),
        found.filmed,
        date_words(filmed),
        found.shown,
        date_words(cx.first_shown_on)
    );
    Some(paper.reason(ReasonCode::ComesOfAge, "R20", Weight::Shown, sentence))
}
