//! Forms with one fault each, and with every two.

use super::*;
use crate::rights::release::{CopyrightWarranty, Disguise, HiddenFrom, Restriction, Withdrawal};

/// A form, its person and the question, broken together.
struct Person {
    form: Form,
    element: Element,
}

fn person_question(person: Person, mut asked: Question) -> Question {
    let mut element = person.element;
    element.backing.releases[0].form = person.form;
    asked.elements.insert(0, element);
    asked
}

fn minor(person: &mut Person) {
    person.element.kind = ElementKind::Person {
        born: Some(day("2010-02-03")),
        age_band: None,
        died: None,
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
                    died: None,
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
                    died: None,
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
        (
            |p, _| p.form.withdrawal = Some(Withdrawal::Holding),
            R::Held,
            Gap,
        ),
        (
            |p, _| p.form.facts.not_understood = true,
            R::NotUnderstood,
            Gap,
        ),
        (
            |p, _| p.form.facts.dispute = "the father objects".into(),
            R::Disputed,
            Gap,
        ),
        (
            |p, _| p.form.facts.other_name = "Ida Quill".into(),
            R::AnotherName,
            Unknown,
        ),
        (
            |p, _| p.form.facts.copyright = CopyrightWarranty::Refused,
            R::CopyrightNotWarranted,
            Gap,
        ),
        (
            |p, _| p.form.facts.copyright = CopyrightWarranty::NotStated,
            R::CopyrightNotWarranted,
            Unknown,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::NotAfter {
                    date: day("2028-12-31"),
                }]
            },
            R::Embargo,
            Gap,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::NotInMedia {
                    media: texts(&["television"]),
                }]
            },
            R::MediumRestricted,
            Gap,
        ),
        (
            |p, q| {
                p.form.restrictions = vec![Restriction::NotBeside {
                    person: "other".into(),
                }];
                q.elements.push(Element {
                    id: "other".into(),
                    ..adult(good_form())
                });
            },
            R::ShownBeside,
            Gap,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::Approval {
                    words: "she views it".into(),
                    approved_on: None,
                }]
            },
            R::ApprovalOutstanding,
            Unknown,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::BlurFace];
                p.element.uses[0].face = Face::Blurred;
            },
            R::DisguiseNotAgreed,
            Unknown,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::BlurFace];
                p.form.facts.disguise = hidden_from_all();
                p.element.uses[0].face = Face::Blurred;
            },
            R::DisguiseTooWeak,
            Gap,
        ),
        (
            |p, _| {
                p.form.restrictions = vec![Restriction::NamedAs { name: "Ada".into() }];
                p.element.captions = vec![Captioned {
                    record_in: 120,
                    record_out: 180,
                    text: "Ada Quill".into(),
                    faults: vec![],
                }];
            },
            R::NamedOtherwise,
            Gap,
        ),
        (
            |p, _| p.element.backing.also_needed = vec![Permission::School],
            R::PermissionMissing,
            Gap,
        ),
    ]
};

/// From people who know them too; the voice, then, must not be heard.
fn hidden_from_all() -> Disguise {
    Disguise {
        from: Some(HiddenFrom::PeopleWhoKnowThem),
        how: "blur over head and shoulders".into(),
        agreed_on: Some(day("2026-05-01")),
        agreed_with: "Ada Quill".into(),
    }
}

fn good_person() -> Person {
    Person {
        form: good_form(),
        element: adult(good_form()),
    }
}

/// The answer about the person; others may be in the cut.
fn answer_for(person: Person, asked: Question) -> ElementAnswer {
    let asked = person_question(person, asked);
    let answer = clear(&asked).expect("a need that can be worked");
    let found = (answer.elements.into_iter()).find(|one| one.id == asked.elements[0].id);
    found.expect("the person")
}

#[test]
fn the_good_form_holds() {
    let person = answer_for(good_person(), question(vec![]));
    assert_eq!((person.state, person.reasons.len()), (State::Covered, 0));
}

#[test]
fn each_of_thirty_faulty_releases_is_named() {
    assert!(RELEASES.len() >= 30);
    for (number, (spoil, code, state)) in RELEASES.iter().enumerate() {
        let (mut person, mut asked) = (good_person(), question(vec![]));
        spoil(&mut person, &mut asked);
        let answer = answer_for(person, asked);
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
            let answer = answer_for(person, asked);
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
        || (second == R::FaceMustBeBlurred
            && matches!(first, R::CleanCoverUndoesBlur | R::DisguiseNotAgreed | R::DisguiseTooWeak))
        // The first has the disguise agreed.
        || (first, second) == (R::DisguiseTooWeak, R::DisguiseNotAgreed)
        // What is cut from cells that are not granted takes nothing.
        || (grants.contains(&first)
            && matches!(second, R::TerritoryRestricted | R::Embargo | R::PromotionNotAllowed))
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

/// Source: rulebook 7.4, 7.5 and 8: sensitive notes are restricted, names leak through exports, and a reason is read by
/// whoever sees the clearance. What the form says stays in the record.
#[test]
fn no_reason_tells_another_name_or_a_dispute() {
    let mut form = good_form();
    form.facts.other_name = "Ida J. Quill".into();
    form.facts.dispute = "her former partner wrote through a solicitor".into();
    form.restrictions = vec![Restriction::NamedAs { name: "Ada".into() }];
    let mut element = adult(form);
    element.captions = vec![Captioned {
        record_in: 120,
        record_out: 180,
        text: "Ida J. Quill".into(),
        faults: vec![],
    }];
    let answer = only(&question(vec![element]));
    let found = codes(&answer);
    for code in [
        ReasonCode::AnotherName,
        ReasonCode::Disputed,
        ReasonCode::NamedOtherwise,
    ] {
        assert!(found.contains(&code), "{code:?}");
    }
    for reason in &answer.reasons {
        let told = ["Ida", "partner", "solicitor"];
        assert!(
            !told.iter().any(|word| reason.sentence.contains(word)),
            "{}",
            reason.sentence
        );
    }
}

/// A person's form of 1 May, and another that was signed later.
fn with_later(first: Form, later: Form) -> Element {
    let mut element = adult(first);
    element.backing.releases.push(Release {
        id: "r2".into(),
        form: later,
        standing: Standing::Checked,
        permission: None,
    });
    element
}

/// Source: rulebook R19: no withdrawal accepted; it is the person's. Hand-worked: neither an older form nor a decision
/// that nothing is needed holds against it; consent given anew after that day does.
#[test]
fn r19_a_withdrawal_on_one_form_is_the_persons() {
    for (wish, code) in [
        (Withdrawal::Accepted, ReasonCode::Withdrawn),
        (Withdrawal::Holding, ReasonCode::Held),
    ] {
        let mut later = good_form();
        later.signed_on = Some(day("2026-05-10"));
        later.withdrawal = Some(wish);
        let mut element = with_later(good_form(), later);
        element.backing.not_needed = Some(NotNeeded {
            reason: "only the back of the head".into(),
            decided_by: "Asa".into(),
            decided_on: Some(day("2026-05-12")),
            kept_back: false,
        });
        let answer = only(&question(vec![element.clone()]));
        assert_eq!(answer.state, State::Gap, "{:?}", answer.reasons);
        let times = codes(&answer).iter().filter(|one| **one == code).count();
        assert_eq!(times, 1, "{:?}", answer.reasons);
        element.backing.not_needed = None;
        element.backing.releases[0].form.signed_on = Some(day("2026-06-10"));
        element.backing.releases[1].form.facts.withdrawn_on = Some(day("2026-06-01"));
        let anew = only(&question(vec![element]));
        let held = wish == Withdrawal::Holding;
        assert_eq!(anew.state == State::Gap, held, "{:?}", anew.reasons);
    }
}

/// Source: rulebook R23: each used clip × restriction. Hand-worked: a form without conditions does not lift what another
/// form of the same person promises; a form about other days of filming promises nothing here.
#[test]
fn r23_a_condition_of_any_form_binds() {
    let not_in = Restriction::NotIn {
        territories: texts(&["GB"]),
    };
    let embargo = Restriction::NotBefore {
        date: day("2027-01-01"),
    };
    let media = Restriction::NotInMedia {
        media: texts(&["television"]),
    };
    let approval = Restriction::Approval {
        words: "she views it".into(),
        approved_on: None,
    };
    for (restriction, code) in [
        (Restriction::BlurFace, ReasonCode::FaceMustBeBlurred),
        (Restriction::ChangeVoice, ReasonCode::VoiceMustBeChanged),
        (not_in, ReasonCode::TerritoryRestricted),
        (embargo, ReasonCode::Embargo),
        (media, ReasonCode::MediumRestricted),
        (approval, ReasonCode::ApprovalOutstanding),
    ] {
        let mut later = good_form();
        later.signed_on = Some(day("2026-05-10"));
        later.restrictions = vec![restriction];
        // What is wrong with that form otherwise lifts nothing either.
        for entity in ["Slipway Films", "Ropewalk Pictures"] {
            later.entity = entity.into();
            let element = with_later(good_form(), later.clone());
            let answer = only(&question(vec![element]));
            assert!(answer.state.blocks(), "{code:?}: {:?}", answer.reasons);
            assert!(codes(&answer).contains(&code), "{:?}", answer.reasons);
        }
        later.entity = "Slipway Films".into();
        (later.filmed_from, later.filmed_to) = (Some(day("2026-05-09")), None);
        let element = with_later(good_form(), later);
        let answer = only(&question(vec![element]));
        assert_eq!(answer.state, State::Covered, "{:?}", answer.reasons);
    }
    let mut promo = good_form();
    promo.restrictions = vec![Restriction::NoPromotion];
    let mut asked = question(vec![with_later(good_form(), promo)]);
    let kept = only(&asked);
    assert_eq!(
        (kept.state, codes(&kept)),
        (State::Restricted, vec![ReasonCode::RestrictionKept])
    );
    asked.need.media.push("promo".into());
    let answer = only(&asked);
    assert!(codes(&answer).contains(&ReasonCode::PromotionNotAllowed));
    assert_eq!(answer.state, State::Gap);
}

/// Source: rulebook 3.1: a school's permission does not replace the person's own release, nor does the decision that
/// the school's is not needed.
#[test]
fn a_permission_that_is_not_needed_clears_nobody() {
    let decided = BesideNotNeeded {
        permission: Permission::School,
        decision: NotNeeded {
            reason: "filmed on the open quay".into(),
            decided_by: "Asa".into(),
            decided_on: Some(day("2026-05-12")),
            kept_back: false,
        },
    };
    let mut element = adult(good_form());
    element.backing.also_needed = vec![Permission::School];
    element.backing.beside_not_needed = vec![decided];
    let settled = only(&question(vec![element.clone()]));
    assert_eq!(settled.state, State::Covered);
    assert_eq!(
        settled.reasons[0].sentence,
        "The school's permission for Ada Quill is not needed: filmed on the open quay (decided by Asa on 12 May 2026)."
    );
    // Source: rulebook 8: working notes are not for everybody. A short note is no part of other words.
    let decision = &mut element.backing.beside_not_needed[0].decision;
    decision.reason = "in".into();
    decision.kept_back = true;
    let kept_back = only(&question(vec![element.clone()]));
    assert_eq!(
        kept_back.reasons[0].sentence,
        "The school's permission for Ada Quill is not needed: the reason stands in the record (decided by Asa on 12 May \
         2026)."
    );
    element.backing.releases.clear();
    let alone = only(&question(vec![element]));
    assert_eq!(
        (alone.state, alone.reasons[0].code),
        (State::Gap, ReasonCode::NoPermission)
    );
}

/// Source: rulebook 2 and 3.1: a form signed by a non-guardian, or bearing another person's name, is weak; a chaperone,
/// teacher or grandparent is no guardian by default. Neither name is told.
#[test]
fn a_signatory_who_is_not_the_one_on_record_is_a_doubt() {
    let mut other = good_form();
    other.facts.other_signatory = true;
    let answer = only(&question(vec![adult(other)]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Unknown, vec![ReasonCode::SignedByOther])
    );
    assert_eq!(
        answer.reasons[0].sentence,
        "The form for Ada Quill is signed with another name than the one on record."
    );
    let mut aunt = good_person();
    minor(&mut aunt);
    aunt.form.signed_by = Some(Signer::Guardian);
    aunt.form.facts.other_signatory = true;
    aunt.form.facts.guardian_in_doubt = true;
    let answer = answer_for(aunt, question(vec![]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (
            State::Unknown,
            vec![ReasonCode::SignedByOther, ReasonCode::GuardianMissing]
        )
    );
}

/// Source: rulebook R19: signed by the person. Hand-worked: nobody signs after the day of their death; on it, they may
/// have.
#[test]
fn r19_nobody_signs_after_their_death() {
    let with = |died: &str| {
        let mut element = adult(good_form());
        element.kind = ElementKind::Person {
            born: Some(day("1980-02-03")),
            age_band: None,
            died: Some(day(died)),
        };
        only(&question(vec![element]))
    };
    assert_eq!(with("2026-05-01").state, State::Covered);
    let answer = with("2026-04-30");
    assert_eq!(
        (answer.state, answer.reasons[0].code),
        (State::Gap, ReasonCode::SignedByOther)
    );
    assert_eq!(
        answer.reasons[0].sentence,
        "The form for Ada Quill was signed on 1 May 2026, after the day of death, 30 Apr 2026."
    );
}

/// Source: rulebook 3.1: a minor's form is weak where the child objects; the guardian's signature does not outweigh it.
#[test]
fn a_child_who_does_not_agree_is_heard() {
    let mut child = good_person();
    minor(&mut child);
    child.form.signed_by = Some(Signer::Guardian);
    child.form.facts.child_objects = true;
    let answer = answer_for(child, question(vec![]));
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Gap, vec![ReasonCode::Disputed])
    );
    assert_eq!(
        answer.reasons[0].sentence,
        "Ada Quill does not agree, whoever else has signed."
    );
}
