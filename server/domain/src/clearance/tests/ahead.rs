//! Days that are still ahead of today, 1 Jun 2026: what is dated on them has not happened, and unknown is never a yes
//! (rulebook R2: a date that is missing is unknown; 7.13: prefer "unknown"). Hand-worked.

use super::*;
use crate::rights::basis::{FairUse, Ground};
use crate::rights::basis_details::{BasisDetails, DatedStep};
use crate::rights::limits::RenewalOption;
use crate::rights::release::{Disguise, HiddenFrom, Restriction};

const AHEAD: &str = "2026-07-03";

/// The one reason with this code.
fn said(answer: &ElementAnswer, code: ReasonCode) -> &Reason {
    let mut found = answer.reasons.iter().filter(|one| one.code == code);
    let one = found.next();
    assert!(found.next().is_none(), "{:?}", answer.reasons);
    one.unwrap_or_else(|| panic!("{code:?} is not in {:?}", answer.reasons))
}

/// Unknown because of a day ahead, in these words; cleared once that day has come.
fn waits(asked: &mut Question, sentence: &str) {
    asked.today = day("2026-06-01");
    let answer = only(asked);
    assert_eq!(answer.state, State::Unknown, "{:?}", answer.reasons);
    let reason = said(&answer, ReasonCode::DayAhead);
    assert_eq!(
        (reason.sentence.as_str(), reason.weight),
        (sentence, Weight::Unknown)
    );
    assert!(reason.action.starts_with("Correct the day"));
    asked.today = day(AHEAD);
    let answer = only(asked);
    assert!(!answer.state.blocks(), "{:?}", answer.reasons);
    assert!(!codes(&answer).contains(&ReasonCode::DayAhead));
}

/// Source: rulebook R19: valid iff signed; 6: "agreed, unsigned" is not "signed".
#[test]
fn r19_a_paper_dated_ahead_is_not_signed() {
    let mut form = good_form();
    form.signed_on = Some(day(AHEAD));
    waits(
        &mut question(vec![adult(form)]),
        "The form for Ada Quill is dated 3 Jul 2026, which is still ahead; nothing counts as signed before its day.",
    );
    let mut licence = good_licence();
    licence.signed = known(AHEAD);
    let mut asked = question(vec![newsreel(vec![licence])]);
    waits(
        &mut asked,
        "The licence from Quay Archive is dated 3 Jul 2026, which is still ahead; nothing counts as signed before its \
         day.",
    );
    // Of a licence that is not signed, it is the day that is planned; a term from it is provisional (R2).
    let licence = &mut asked.elements[0].backing.licences[0];
    licence.status = LicenceStatus::AgreedUnsigned;
    licence.grants[0].starts = Starts::At(crate::rights::term::Event::Signature);
    asked.today = day("2026-06-01");
    let answer = only(&asked);
    assert_eq!(codes(&answer), [ReasonCode::LicenceUnsigned]);
    assert!(answer.assumptions[0].contains("3 Jul 2026 as planned"));
    // A grant that begins later is as good as any.
    asked.elements[0].backing.licences = vec![good_licence()];
    asked.elements[0].backing.licences[0].grants[0].starts = Starts::On(day("2026-10-01"));
    assert_eq!(only(&asked).state, State::Covered);
}

/// Source: rulebook R21: signed after use is invalid. Both faults of a form are said.
#[test]
fn r21_a_form_dated_after_the_first_use_is_said_to_be_dated() {
    let mut form = good_form();
    form.signed_on = Some(day("2026-11-01"));
    let answer = only(&question(vec![adult(form)]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (
            State::Gap,
            vec![ReasonCode::SignedAfterUse, ReasonCode::DayAhead]
        )
    );
    assert_eq!(
        answer.reasons[0].sentence,
        "The form for Ada Quill is dated 1 Nov 2026, after the first use on 8 Oct 2026."
    );
}

/// Source: rulebook R51: only the insurer's endorsement gives "accepted"; R54: a lawyer's note; 3.2: "not needed" says who
/// decided, and when.
#[test]
fn r51_a_note_an_endorsement_or_a_decision_ahead_is_none_yet() {
    let mural = |backing| question(vec![element(ElementKind::Artwork, "The mural", backing)]);
    let on = |ground: Ground, details: BasisDetails| Backing {
        bases: vec![Basis {
            side: Side::Whole,
            dated: details.dated(&ground),
            ground,
        }],
        ..Default::default()
    };
    let dated = |ahead| BasisDetails {
        lawyers_note_on: Some(day(ahead)),
        disclosed_on: Some(day("2026-01-01")),
        approved_on: Some(day("2026-02-01")),
        opinion_letter_on: Some(day("2026-03-01")),
        endorsed_on: Some(day(ahead)),
        ..Default::default()
    };
    let noted = Ground::FairDealing { lawyers_note: true };
    waits(
        &mut mural(on(noted, dated(AHEAD))),
        "The lawyer's note for The mural is dated 3 Jul 2026, which is still ahead; nothing counts as done before its \
         day.",
    );
    let accepted = FairUse {
        disclosed: true,
        approved: true,
        opinion_letter: true,
        endorsed: true,
        counsel_extends_to: texts(&["GB"]),
    };
    waits(
        &mut mural(on(Ground::FairUse(accepted), dated(AHEAD))),
        "The insurer's endorsement for The mural is dated 3 Jul 2026, which is still ahead; nothing counts as done \
         before its day.",
    );
    let mut decided = on(Ground::OwnMaterial, BasisDetails::default());
    decided.bases[0].dated = vec![DatedStep {
        what: "the decision on the ground".into(),
        on: day(AHEAD),
    }];
    waits(
        &mut mural(decided),
        "The decision on the ground for The mural is dated 3 Jul 2026, which is still ahead; nothing counts as done \
         before its day.",
    );
    let not_needed = Backing {
        not_needed: Some(NotNeeded {
            reason: "too small to read".into(),
            decided_by: "Counsel".into(),
            decided_on: Some(day(AHEAD)),
            kept_back: false,
        }),
        ..Default::default()
    };
    waits(
        &mut mural(not_needed),
        "The decision that nothing is needed for The mural is dated 3 Jul 2026, which is still ahead; nothing counts as \
         decided before its day.",
    );
}

/// Source: rulebook R52: the waiver is approved before the licence is signed or the element used; R23: an approval and a
/// disguise are agreed on a day.
#[test]
fn r52_an_approval_ahead_is_outstanding() {
    let mut licence = good_licence();
    licence.terms.waiver_asked_on = Some(day("2026-05-01"));
    licence.terms.waiver_approved_on = Some(day(AHEAD));
    waits(
        &mut question(vec![newsreel(vec![licence])]),
        "The buyer's waiver for The newsreel is dated 3 Jul 2026, which is still ahead; nothing counts as approved \
         before its day.",
    );
    let mut form = good_form();
    form.restrictions = vec![Restriction::Approval {
        words: "she views it".into(),
        approved_on: Some(day(AHEAD)),
    }];
    waits(
        &mut question(vec![adult(form)]),
        "The approval of the form for Ada Quill (she views it) is dated 3 Jul 2026, which is still ahead; nothing \
         counts as approved before its day.",
    );
    let mut form = good_form();
    form.restrictions = vec![Restriction::BlurFace];
    form.facts.disguise = Disguise {
        from: Some(HiddenFrom::Public),
        how: "blur over head and shoulders".into(),
        agreed_on: Some(day(AHEAD)),
        agreed_with: "Ada Quill".into(),
    };
    let mut element = adult(form);
    element.uses[0].face = Face::Blurred;
    waits(
        &mut question(vec![element]),
        "The disguise promised to Ada Quill is dated 3 Jul 2026, which is still ahead; nothing counts as agreed before \
         its day.",
    );
}

/// Source: rulebook R7: an option holds once notice is given. Hand-worked: with notice dated ahead, the term ends where
/// it ends without it, and the day is named; 7.13: the earlier date.
#[test]
fn r7_notice_dated_ahead_extends_nothing_yet() {
    let mut licence = good_licence();
    licence.grants[0].term = Some(Term::To(day("2029-01-09")));
    licence.grants[0].options = vec![RenewalOption {
        months: 24,
        notice_days: 90,
        price: String::new(),
        taken_up_on: Some(day(AHEAD)),
    }];
    let mut asked = question(vec![newsreel(vec![licence])]);
    let answer = only(&asked);
    assert_eq!(
        (answer.state, answer.end),
        (State::Gap, End::On(day("2029-01-09")))
    );
    assert_eq!(
        said(&answer, ReasonCode::OptionOpen).sentence,
        "Notice to extend the licence from Quay Archive by 24 months is dated 3 Jul 2026, which is still ahead; until it \
         is given the term runs until 9 Jan 2029. It is due by 11 Oct 2028."
    );
    asked.today = day(AHEAD);
    let answer = only(&asked);
    assert_eq!(
        (answer.state, answer.end),
        (State::Covered, End::On(day("2031-01-09")))
    );
}
