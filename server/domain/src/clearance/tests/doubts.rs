//! What nobody has settled: shown is not enough where the answer hangs on it, and unknown is never a yes.

use super::*;
use crate::rights::basis::{CrowdNotice, Ground};

/// Source: rulebook R8 [IDA-ARCH1]: a distribution with sub-licences. Hand-worked: a licence that says nothing of passing
/// the right on gives nobody else anything, until the licensor answers; it is not asked where nothing is sub-licensed.
#[test]
fn r8_a_licence_silent_about_sub_licences_is_unknown() {
    let mut asked = question(vec![newsreel(vec![good_licence()])]);
    assert_eq!(only(&asked).state, State::Covered);
    asked.need.overhang_months = 12;
    let answer = only(&asked);
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Unknown, vec![ReasonCode::SublicenceNotStated])
    );
    asked.elements[0].backing.licences[0].terms.sublicence = Some(true);
    assert_eq!(only(&asked).state, State::Covered);
    // A step that is tried is agreed as the delivery needs it.
    let tried = TriedChange::AddGrant {
        element: "the newsreel".into(),
        side: Side::Whole,
        grant: grant(&["GB"], &["television"], "2026-01-10", "2031-01-09"),
        allows_promotion: true,
    };
    asked.elements[0].backing.licences.clear();
    let outcome = what_if(&asked, &[tried]).expect("an element of the cut");
    assert_eq!(
        (outcome.won, outcome.elements[0].after),
        (1, Some(State::Covered))
    );
}

/// Source: rulebook R52 [DISC-WAIVER]: a waiver is the buyer's acceptance of fewer rights, approved before the element is
/// used. Asked for and not approved, it is not accepted; approved too late, it is, and the breach is told.
#[test]
fn r52_a_waiver_that_is_not_approved_is_unknown() {
    let mut licence = good_licence();
    licence.terms.waiver_asked_on = Some(day("2026-01-02"));
    let answer = only(&question(vec![newsreel(vec![licence.clone()])]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Unknown, vec![ReasonCode::WaiverNotApproved])
    );
    // Known only to stand in this cut: that is inclusion enough.
    licence.signed = EventDate::default();
    let answer = only(&question(vec![newsreel(vec![licence.clone()])]));
    assert_eq!(answer.state, State::Unknown);
    licence.terms.waiver_approved_on = Some(day("2026-01-09"));
    licence.signed = known("2026-01-10");
    let answer = only(&question(vec![newsreel(vec![licence])]));
    assert_eq!((answer.state, codes(&answer)), (State::Covered, vec![]));
}

/// Source: rulebook 3.2 [IDA-ARCH2]: music and artworks inside a clip usually stay the producer's problem. Hand-worked:
/// an import whose note says that something is inside is unknown until that is entered; the note is not told.
#[test]
fn what_is_said_to_be_inside_and_not_entered_is_unknown() {
    let mut element = newsreel(vec![good_licence()]);
    element.backing.inside = "a dance band; Ida Quill in the crowd".into();
    let answer = only(&question(vec![element.clone()]));
    assert_eq!(
        (answer.state, answer.end, codes(&answer)),
        (
            State::Unknown,
            End::Unknown,
            vec![ReasonCode::InsideNotEntered]
        )
    );
    assert_eq!(
        answer.reasons[0].sentence,
        "By its note The newsreel has something inside with rights of its own, and nothing of it is entered."
    );
    // What fails for itself still fails.
    element.backing.licences[0].grants[0].term = Some(Term::To(day("2029-01-09")));
    let answer = only(&question(vec![element.clone()]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (
            State::Gap,
            vec![ReasonCode::EndsTooEarly, ReasonCode::InsideNotEntered]
        )
    );
    for nothing in ["", " ", "None.", "nothing inside", "n/a", "–"] {
        element = newsreel(vec![good_licence()]);
        element.backing.inside = nothing.into();
        assert_eq!(
            only(&question(vec![element])).state,
            State::Covered,
            "{nothing}"
        );
    }
}

/// Source: rulebook R22: a notice is adequate only with its record, date among it. Hand-worked: without the days of filming
/// that it was posted for, nobody knows whether it stands for this day.
#[test]
fn r22_a_notice_without_its_days_is_unknown_and_says_so() {
    let notice = |days_missing| CrowdNotice {
        at_every_entrance: true,
        text_version: "TQ-2".into(),
        dated: true,
        photographed: true,
        days_missing,
    };
    let mut somebody = adult(good_form());
    somebody.uses[0].presence = Presence::Background;
    let mut answer = |days_missing| {
        somebody.backing = Backing {
            bases: vec![Basis {
                side: Side::Whole,
                ground: Ground::CrowdNotice(notice(days_missing)),
                dated: vec![],
            }],
            ..Default::default()
        };
        only(&question(vec![somebody.clone()]))
    };
    assert_eq!(answer(false).state, State::EvidenceOnly);
    let unsaid = answer(true);
    assert_eq!(
        (unsaid.state, unsaid.reasons[0].code),
        (State::Unknown, ReasonCode::NoticeIncomplete)
    );
    assert_eq!(
        unsaid.reasons[0].sentence,
        "The record of the notice behind Ada Quill lacks: the days of filming that it was posted for."
    );
    assert!(
        unsaid.reasons[0]
            .action
            .starts_with("Enter in the record of the notice")
    );
}

/// Source: rulebook R19: filming date in range, and a materials release of 3.1 is about things. Hand-worked: an import was
/// filmed by nobody of the team, so the words ask for no day of its filming.
#[test]
fn r19_an_import_has_no_day_of_filming() {
    let mut film = newsreel(vec![]);
    film.uses[0].filmed_on = None;
    film.backing.releases = adult(Form {
        signed_by: Some(Signer::Owner),
        ..good_form()
    })
    .backing
    .releases;
    let answer = only(&question(vec![film.clone()]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Unknown, vec![ReasonCode::FilmingDayUnknown])
    );
    let why = &answer.reasons[0];
    assert_eq!(
        why.sentence,
        "The form for The newsreel is about filming from 1 May 2026 to 3 May 2026, and The newsreel has no day of \
         filming, as an import has none."
    );
    assert!(
        why.action
            .ends_with("leave the form's days of filming blank.")
    );
    let form = &mut film.backing.releases[0].form;
    (form.filmed_from, form.filmed_to) = (None, None);
    assert_eq!(only(&question(vec![film])).state, State::Covered);
}

/// Source: rulebook R20 (age at filming decides whose signature is needed); 7.13: prefer "unknown". Hand-worked: a date of
/// birth that can't be is no age, neither of an adult nor of a child; no birthday is told.
#[test]
fn r20_no_age_is_computed_from_a_date_that_cannot_be() {
    let person = |born: &str, died: Option<&str>, form: Form| {
        let mut element = adult(form);
        element.kind = ElementKind::Person {
            born: Some(day(born)),
            age_band: None,
            died: died.map(day),
        };
        element
    };
    let by_guardian = || Form {
        signed_by: Some(Signer::Guardian),
        ..good_form()
    };
    for (born, died, wrong) in [
        (
            "2026-06-02",
            None,
            "the date of birth on record is still ahead",
        ),
        (
            "1980-02-03",
            Some("1979-02-03"),
            "the day of death on record is before the date of birth",
        ),
        (
            "2026-05-03",
            None,
            "the date of birth on record is after the day of filming",
        ),
    ] {
        for form in [good_form(), by_guardian()] {
            let answer = only(&question(vec![person(born, died, form)]));
            assert_eq!(
                (answer.state, answer.reasons[0].code),
                (State::Unknown, ReasonCode::AgeUnknown),
                "{born}: {:?}",
                answer.reasons
            );
            assert_eq!(
                answer.reasons[0].sentence,
                format!(
                    "Whether Ada Quill was of age when filmed on 2 May 2026 is unknown: {wrong}."
                )
            );
            assert!(
                answer.reasons[0]
                    .action
                    .starts_with("Correct the date of birth")
            );
        }
        let mut seen = person(born, died, good_form());
        seen.uses[0].presence = Presence::Background;
        seen.backing = Backing {
            bases: vec![Basis {
                side: Side::Whole,
                ground: Ground::CrowdNotice(CrowdNotice {
                    at_every_entrance: true,
                    text_version: "TQ-2".into(),
                    dated: true,
                    photographed: true,
                    days_missing: false,
                }),
                dated: vec![],
            }],
            ..Default::default()
        };
        let answer = only(&question(vec![seen]));
        assert_eq!(answer.state, State::Unknown, "{:?}", answer.reasons);
        assert!(
            answer.reasons[0].sentence.contains(wrong),
            "{:?}",
            answer.reasons
        );
    }
    // A day of death still ahead takes nothing away, and is not told as a death.
    let answer = only(&question(vec![person(
        "1980-02-03",
        Some("2026-06-02"),
        good_form(),
    )]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Covered, vec![ReasonCode::ContributorDied])
    );
    assert_eq!(
        answer.reasons[0].sentence,
        "Whether Ada Quill has died is unknown: the day of death on record, 2 Jun 2026, is still ahead."
    );
}
