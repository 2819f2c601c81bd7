//! Differently faulty papers: each fault is named, taking it away turns the answer, and no fault
//! hides another. Hand-made; the good papers are the ones in `super`.

use super::*;
use crate::rights::basis::{CreativeCommons, CrowdNotice, FairUse, Ground};
use crate::rights::release::{Restriction, Withdrawal};
use crate::rights::term::{Counting, Event};

type Break<T> = (fn(&mut T, &mut Question), ReasonCode, State);

/// A form, its person and the question, broken together.
struct Person {
    form: Form,
    element: Element,
}

fn person_question(person: Person, mut asked: Question) -> Question {
    let mut element = person.element;
    element.backing.releases[0].form = person.form;
    asked.elements = vec![element];
    asked
}

fn minor(person: &mut Person) {
    person.element.kind = ElementKind::Person {
        born: Some(day("2010-02-03")),
        age_band: None,
    };
}

const RELEASES: &[Break<Person>] = {
    use ReasonCode as R;
    use State::{Gap, Unknown};
    &[
        (|p, _| p.form.signed_on = None, R::Unsigned, Gap),
        (|p, _| p.form.signed_by = None, R::Unsigned, Gap),
        (
            |p, _| p.form.signed_on = Some(day("2026-11-01")),
            R::SignedAfterUse,
            Gap,
        ),
        (
            |p, _| p.form.signed_by = Some(Signer::Other),
            R::SignedByOther,
            Gap,
        ),
        (
            |p, _| p.form.signed_by = Some(Signer::Guardian),
            R::SignedByOther,
            Gap,
        ),
        (
            |p, _| p.form.signed_by = Some(Signer::Owner),
            R::SignedByOther,
            Gap,
        ),
        (|p, _| minor(p), R::GuardianMissing, Gap),
        (
            |p, _| {
                minor(p);
                p.form.signed_by = Some(Signer::Other);
            },
            R::GuardianMissing,
            Gap,
        ),
        (
            |p, _| {
                p.element.kind = ElementKind::Person {
                    born: None,
                    age_band: Some(AgeBand::Minor),
                }
            },
            R::GuardianMissing,
            Gap,
        ),
        (
            |p, _| {
                p.element.kind = ElementKind::Person {
                    born: None,
                    age_band: None,
                }
            },
            R::AgeUnknown,
            Unknown,
        ),
        (
            |p, _| p.form.filmed_to = Some(day("2026-05-01")),
            R::FilmedOutside,
            Gap,
        ),
        (
            |p, _| p.form.filmed_from = Some(day("2026-05-03")),
            R::FilmedOutside,
            Gap,
        ),
        (
            |p, _| p.element.uses[0].filmed_on = None,
            R::FilmingDayUnknown,
            Unknown,
        ),
        (
            |p, _| p.form.entity = "Ropewalk Pictures".into(),
            R::WrongEntity,
            Gap,
        ),
        (|p, _| p.form.entity.clear(), R::WrongEntity, Gap),
        (
            |p, _| p.form.consideration_stated = false,
            R::NoConsideration,
            Gap,
        ),
        (
            |p, _| p.form.allows_editing = false,
            R::EditingNotAllowed,
            Gap,
        ),
        (
            |p, q| {
                p.form.allows_promotion = false;
                q.need.in_promotion = true;
            },
            R::PromotionNotAllowed,
            Gap,
        ),
        (
            |p, q| {
                p.form.restrictions = vec![Restriction::NoPromotion];
                q.need.media.push("promo".into());
            },
            R::PromotionNotAllowed,
            Gap,
        ),
        (
            |p, _| p.form.withdrawal = Some(Withdrawal::Accepted),
            R::Withdrawn,
            Gap,
        ),
        (
            |p, _| p.form.restrictions = vec![Restriction::BlurFace],
            R::FaceMustBeBlurred,
            Gap,
        ),
        (
            |p, _| p.form.restrictions = vec![Restriction::ChangeVoice],
            R::VoiceMustBeChanged,
            Gap,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::NoName];
                p.element.uses[0].name_on_screen = true;
            },
            R::NameMustNotBeShown,
            Gap,
        ),
        (
            |p, q| {
                p.form.restrictions = vec![Restriction::BlurFace];
                p.element.uses[0].face = Face::Blurred;
                q.need.clean_covers = true;
            },
            R::CleanCoverUndoesBlur,
            Gap,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::NotIn {
                    territories: texts(&["154"]),
                }]
            },
            R::TerritoryRestricted,
            Gap,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::NotIn {
                    territories: texts(&["QQ"]),
                }]
            },
            R::TerritoryUnreadable,
            Unknown,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::NotBefore {
                    date: day("2027-01-01"),
                }]
            },
            R::Embargo,
            Gap,
        ),
        (
            |p, _| p.form.grants[0].territories = texts(&["FR"]),
            R::NotGranted,
            Gap,
        ),
        (
            |p, _| p.form.grants[0].media = texts(&["cinema"]),
            R::NotGranted,
            Gap,
        ),
        (
            |p, _| p.form.grants[0].term = Some(Term::To(day("2028-01-01"))),
            R::EndsTooEarly,
            Gap,
        ),
        (|p, _| p.form.grants[0].term = None, R::TermUnknown, Unknown),
        (|p, _| p.form.grants.clear(), R::NotGranted, Gap),
    ]
};

const LICENCES: &[Break<Licence>] = {
    use ReasonCode as R;
    use State::{Gap, Unknown};
    &[
        (
            |l, _| l.status = LicenceStatus::Temp,
            R::LicenceUnsigned,
            Gap,
        ),
        (
            |l, _| l.status = LicenceStatus::Asking,
            R::LicenceUnsigned,
            Gap,
        ),
        (
            |l, _| l.status = LicenceStatus::Quoted,
            R::LicenceUnsigned,
            Gap,
        ),
        (
            |l, _| l.status = LicenceStatus::AgreedUnsigned,
            R::LicenceUnsigned,
            Gap,
        ),
        (
            |l, _| l.status = LicenceStatus::Replaced,
            R::NoPermission,
            Gap,
        ),
        (|l, _| l.grants.clear(), R::NotGranted, Gap),
        (
            |l, _| l.grants[0].territories = texts(&["FR"]),
            R::NotGranted,
            Gap,
        ),
        (
            |l, _| l.grants[0].territories = texts(&["GB", "ZZ"]),
            R::TerritoryUnreadable,
            Unknown,
        ),
        (
            |l, _| l.grants[0].territories_except = texts(&["GB"]),
            R::NotGranted,
            Gap,
        ),
        (
            |l, _| {
                l.grants[0].territories = texts(&["WORLD"]);
                l.grants[0].territories_except = texts(&["154"]);
            },
            R::NotGranted,
            Gap,
        ),
        (
            |l, _| l.grants[0].media = texts(&["television.pay"]),
            R::NotGranted,
            Gap,
        ),
        (
            |l, _| l.grants[0].media_except = texts(&["television.free"]),
            R::NotGranted,
            Gap,
        ),
        (
            |l, _| l.grants[0].term = Some(Term::To(day("2029-09-29"))),
            R::EndsTooEarly,
            Gap,
        ),
        (
            |l, _| l.grants[0].term = Some(Term::To(day("2026-09-30"))),
            R::Ended,
            Gap,
        ),
        (
            |l, _| l.grants[0].term = Some(Term::To(day("2025-01-01"))),
            R::EndsBeforeItBegins,
            Gap,
        ),
        (|l, _| l.grants[0].term = None, R::TermUnknown, Unknown),
        (
            |l, _| l.grants[0].term = Some(Term::Months(12)),
            R::EndsTooEarly,
            Gap,
        ),
        (
            |l, _| {
                // 1 Oct 2026 and 36 months: 1 Oct 2029 counted after, 30 Sep 2029 including; a
                // start a day earlier is short by a day unless the paper says "after".
                l.grants[0].starts = Starts::On(day("2026-09-30"));
                l.grants[0].term = Some(Term::Months(36));
                l.grants[0].counting = Some(Counting::Including);
            },
            R::EndsTooEarly,
            Gap,
        ),
        (
            |l, _| l.grants[0].starts = Starts::On(day("2026-10-02")),
            R::StartsTooLate,
            Gap,
        ),
        (
            |l, _| l.grants[0].starts = Starts::On(day("2030-01-01")),
            R::StartsTooLate,
            Gap,
        ),
        (
            |l, _| l.grants[0].starts = Starts::At(Event::Delivery),
            R::StartUnknown,
            Unknown,
        ),
        (
            |l, _| l.grants[0].starts = Starts::At(Event::FirstUse),
            R::StartUnknown,
            Unknown,
        ),
        (
            |l, _| {
                l.signed = EventDate::default();
                l.grants[0].starts = Starts::At(Event::Signature);
            },
            R::StartUnknown,
            Unknown,
        ),
        (
            |l, q| {
                q.events.first_transmission = EventDate::default();
                l.grants[0].starts = Starts::At(Event::FirstTransmission);
            },
            R::StartUnknown,
            Unknown,
        ),
        (
            |l, _| l.grants[0].starts = Starts::At(Event::FirstTransmission),
            R::StartsTooLate,
            Gap,
        ),
        (
            |l, _| l.grants[0].long_stop = Some(day("2029-01-01")),
            R::EndsTooEarly,
            Gap,
        ),
        (
            |l, _| {
                let mut second = l.grants[0].clone();
                l.grants[0].term = Some(Term::To(day("2027-12-30")));
                second.starts = Starts::On(day("2028-01-01"));
                l.grants.push(second);
            },
            R::DaysMissing,
            Gap,
        ),
        (
            |l, q| {
                l.allows_promotion = false;
                q.need.in_promotion = true;
            },
            R::PromotionNotAllowed,
            Gap,
        ),
        (
            |l, q| {
                l.allows_promotion = false;
                l.grants[0].media = texts(&["all"]);
                q.need.media.push("promo.in_context".into());
            },
            R::PromotionNotAllowed,
            Gap,
        ),
        (|_, q| q.need.overhang_months = 24, R::EndsTooEarly, Gap),
        (
            |_, q| q.need.territories = texts(&["GB", "IE"]),
            R::NotGranted,
            Gap,
        ),
    ]
};

fn licence_question(licence: Licence, mut asked: Question) -> Question {
    asked.elements = vec![newsreel(vec![licence])];
    asked
}

fn good_person() -> Person {
    Person {
        form: good_form(),
        element: adult(good_form()),
    }
}

#[test]
fn the_good_papers_hold() {
    let person = only(&person_question(good_person(), question(vec![])));
    assert_eq!((person.state, person.reasons.len()), (State::Covered, 0));
    let licence = only(&licence_question(good_licence(), question(vec![])));
    assert_eq!((licence.state, licence.reasons.len()), (State::Covered, 0));
}

#[test]
fn each_of_thirty_faulty_releases_is_named() {
    assert!(RELEASES.len() >= 30);
    for (number, (spoil, code, state)) in RELEASES.iter().enumerate() {
        let (mut person, mut asked) = (good_person(), question(vec![]));
        spoil(&mut person, &mut asked);
        let answer = only(&person_question(person, asked));
        assert!(
            codes(&answer).contains(code),
            "release {number}: {:?}",
            answer.reasons
        );
        assert_eq!(
            answer.state, *state,
            "release {number}: {:?}",
            answer.reasons
        );
    }
}

#[test]
fn each_of_thirty_faulty_licences_is_named() {
    assert!(LICENCES.len() >= 30);
    for (number, (spoil, code, state)) in LICENCES.iter().enumerate() {
        let (mut licence, mut asked) = (good_licence(), question(vec![]));
        spoil(&mut licence, &mut asked);
        let answer = only(&licence_question(licence, asked));
        assert!(
            codes(&answer).contains(code),
            "licence {number}: {:?}",
            answer.reasons
        );
        assert_eq!(
            answer.state, *state,
            "licence {number}: {:?}",
            answer.reasons
        );
    }
}

/// Every pair of faults that can stand together names both.
#[test]
fn no_fault_of_a_release_hides_another() {
    for (a, (first, one, _)) in RELEASES.iter().enumerate() {
        for (b, (second, two, _)) in RELEASES.iter().enumerate() {
            if undone(*one, *two) {
                continue;
            }
            let (mut person, mut asked) = (good_person(), question(vec![]));
            first(&mut person, &mut asked);
            second(&mut person, &mut asked);
            let answer = only(&person_question(person, asked));
            assert!(
                codes(&answer).contains(two),
                "release {a} {one:?} hides {b} {two:?}: {:?}",
                answer.reasons
            );
        }
    }
}

/// Pairs of which the first leaves nothing for the second to be about: an unsigned form has no
/// signature to fault, a day of filming that is unknown is not outside, a form that grants nothing
/// ends on no day, and restrictions replace one another in these tests.
fn undone(first: ReasonCode, second: ReasonCode) -> bool {
    use ReasonCode as R;
    let signature = [
        R::SignedAfterUse,
        R::SignedByOther,
        R::GuardianMissing,
        R::AgeUnknown,
    ];
    let grants = [R::NotGranted, R::EndsTooEarly, R::TermUnknown];
    let filming = [R::FilmedOutside, R::FilmingDayUnknown];
    let who = [R::SignedByOther, R::GuardianMissing, R::AgeUnknown];
    let within = |set: &[R]| set.contains(&first) && set.contains(&second);
    (first == R::Unsigned && signature.contains(&second))
        || within(&grants)
        || within(&filming)
        || within(&who)
        // A birth date without a day of filming gives no age on that day.
        || (first == R::FilmingDayUnknown && who.contains(&second))
        // The first blurs the face.
        || (first, second) == (R::CleanCoverUndoesBlur, R::FaceMustBeBlurred)
        // What is cut from cells that are not granted takes nothing.
        || (grants.contains(&first)
            && matches!(second, R::TerritoryRestricted | R::Embargo | R::PromotionNotAllowed))
}

/// Hand-worked: every finding about a ground (R22, R51, R54, R55).
#[test]
fn each_fault_of_a_ground_is_named() {
    use ReasonCode as R;
    let cc = CreativeCommons {
        title: "Quay at dawn".into(),
        author: "Ada Quill".into(),
        source: "the author's page".into(),
        licence: "CC BY 4.0".into(),
        paid_or_broadcast: true,
        altered: true,
        ..Default::default()
    };
    let ladder = FairUse {
        disclosed: true,
        ..Default::default()
    };
    let cases = [
        (Ground::OwnMaterial, None, State::Covered),
        (
            Ground::PublicDomain {
                territories: vec![],
            },
            Some(R::PublicDomainWhere),
            State::Unknown,
        ),
        (
            Ground::PublicDomain {
                territories: texts(&["GB"]),
            },
            Some(R::PublicDomainEstimate),
            State::Covered,
        ),
        (
            Ground::PublicDomain {
                territories: texts(&["US"]),
            },
            Some(R::GroundDoesNotReach),
            State::Gap,
        ),
        (
            Ground::FairDealing { lawyers_note: true },
            None,
            State::Covered,
        ),
        (
            Ground::FairDealing {
                lawyers_note: false,
            },
            Some(R::NoLawyersNote),
            State::Unknown,
        ),
        (
            Ground::Incidental {
                lawyers_note: true,
                deliberate: true,
            },
            Some(R::NotIncidental),
            State::Gap,
        ),
        (
            Ground::FairUse(ladder),
            Some(R::FairUseIncomplete),
            State::Gap,
        ),
        (Ground::CreativeCommons(cc.clone()), None, State::Covered),
        (
            Ground::CreativeCommons(CreativeCommons {
                non_commercial: true,
                ..cc.clone()
            }),
            Some(R::NonCommercialOnly),
            State::Gap,
        ),
        (
            Ground::CreativeCommons(CreativeCommons {
                no_derivatives: true,
                ..cc.clone()
            }),
            Some(R::NoDerivatives),
            State::Unknown,
        ),
        (
            Ground::CreativeCommons(CreativeCommons {
                author: " ".into(),
                ..cc
            }),
            Some(R::CreditIncomplete),
            State::Covered,
        ),
        (
            Ground::BlanketMusic {
                territory: "GB".into(),
                theme_episodes: 3,
            },
            Some(R::BlanketTheme),
            State::Gap,
        ),
        (
            Ground::CrowdNotice(CrowdNotice::default()),
            Some(R::NoticeNotEnough),
            State::Gap,
        ),
    ];
    for (ground, code, state) in cases {
        let bases = vec![Basis {
            side: Side::Whole,
            ground: ground.clone(),
        }];
        let backing = Backing {
            bases,
            ..Default::default()
        };
        let answer = only(&question(vec![element(
            ElementKind::Artwork,
            "The mural",
            backing,
        )]));
        assert_eq!(answer.state, state, "{ground:?}: {:?}", answer.reasons);
        assert!(
            code.is_none_or(|code| codes(&answer).contains(&code)),
            "{:?}",
            answer.reasons
        );
    }
}

/// Hand-worked: fair dealing holds in the UK and not in promotion (R54).
#[test]
fn r54_fair_dealing_reaches_neither_abroad_nor_into_promotion() {
    let bases = vec![Basis {
        side: Side::Whole,
        ground: Ground::FairDealing { lawyers_note: true },
    }];
    let backing = Backing {
        bases,
        ..Default::default()
    };
    let mut asked = question(vec![element(ElementKind::Artwork, "The mural", backing)]);
    asked.need.territories = texts(&["GB", "US"]);
    asked.need.media = texts(&["television.free", "promo.in_context"]);
    let answer = only(&asked);
    let covered: Vec<_> = answer
        .cells
        .iter()
        .filter(|cell| cell.state == CellState::Covered)
        .collect();
    assert_eq!(covered.len(), 1);
    assert_eq!(covered[0].territories, ["GB"]);
    assert_eq!(covered[0].media, ["television.free"]);
}

/// Hand-worked: a decision without who or when is unknown; with both it stands.
#[test]
fn not_needed_says_why_who_and_when() {
    let decision = |decided_by: &str, decided_on| Backing {
        not_needed: Some(NotNeeded {
            reason: "too small to read".into(),
            decided_by: decided_by.into(),
            decided_on,
        }),
        ..Default::default()
    };
    let state = |backing| {
        only(&question(vec![element(
            ElementKind::Brand,
            "The logo",
            backing,
        )]))
        .state
    };
    assert_eq!(
        state(decision("Counsel", Some(day("2026-05-05")))),
        State::Covered
    );
    assert_eq!(state(decision("", Some(day("2026-05-05")))), State::Unknown);
    assert_eq!(state(decision("Counsel", None)), State::Unknown);
}

/// Hand-worked: a withdrawal that is only asked for is shown and fails nothing.
#[test]
fn a_requested_withdrawal_is_shown() {
    let mut form = good_form();
    form.withdrawal = Some(Withdrawal::Requested);
    let answer = only(&question(vec![adult(form)]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Covered, vec![ReasonCode::WithdrawalRequested])
    );
}

/// Hand-made: five faults of one licence, all named.
#[test]
fn no_fault_of_a_licence_hides_another() {
    let mut licence = good_licence();
    licence.status = LicenceStatus::Quoted;
    licence.allows_promotion = false;
    licence.grants[0].media = texts(&["all"]);
    licence.grants[0].term = Some(Term::To(day("2029-01-09")));
    let mut waiting = grant(&["US"], &["all"], "2026-01-10", "2031-01-09");
    waiting.starts = Starts::At(Event::Delivery);
    licence.grants.push(waiting);
    let mut asked = question(vec![]);
    asked.need.territories = texts(&["GB", "IE", "US"]);
    asked.need.media = texts(&["television.free", "promo.in_context"]);
    let found = codes(&only(&licence_question(licence, asked)));
    for code in [
        ReasonCode::LicenceUnsigned,
        ReasonCode::PromotionNotAllowed,
        ReasonCode::EndsTooEarly,
        ReasonCode::StartUnknown,
        ReasonCode::NotGranted,
    ] {
        assert!(found.contains(&code), "{code:?} not in {found:?}");
    }
}

/// Hand-made: a better licence that is only quoted does not hide that the signed one ends early.
#[test]
fn a_quoted_licence_does_not_hide_that_the_signed_one_ends() {
    let mut signed = good_licence();
    signed.grants[0].term = Some(Term::To(day("2029-01-09")));
    let quoted = Licence {
        id: "l2".into(),
        status: LicenceStatus::Quoted,
        ..good_licence()
    };
    let answer = only(&question(vec![newsreel(vec![signed, quoted])]));
    assert_eq!(
        codes(&answer),
        [ReasonCode::LicenceUnsigned, ReasonCode::EndsTooEarly]
    );
    assert!(
        answer.reasons[1]
            .sentence
            .starts_with("The newsreel is cleared for free television")
    );
    assert_eq!(answer.end, End::On(day("2029-01-09")));
}
