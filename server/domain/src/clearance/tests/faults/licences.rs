//! Licences with one fault each, and with every two.

use super::*;
use crate::rights::limits::{RunCounting, Runs};
use crate::rights::term::{Counting, Event};

fn runs(allowed: u32) -> Runs {
    Runs {
        allowed,
        counting: RunCounting::SevenDaysByTheHour,
    }
}

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
        (
            |l, q| {
                l.grants[0].limits.runs = Some(runs(1));
                q.need.runs = Some(2);
            },
            R::RunsTooFew,
            Gap,
        ),
        (
            |l, q| {
                l.grants[0].limits.runs = Some(runs(1));
                q.need.runs = Some(1);
                let at = |text: &str| text.parse().expect("a time");
                q.showings = ["2026-10-08T20:00:00", "2026-10-15T20:00:00"]
                    .map(|text| Showing {
                        at: at(text),
                        territories: texts(&["GB"]),
                        media: texts(&["television"]),
                    })
                    .to_vec();
            },
            R::RunsTooFew,
            Gap,
        ),
        (
            |l, q| {
                l.grants[0].limits.runs = Some(runs(9));
                q.need.runs = None;
            },
            R::RunsUnknown,
            Unknown,
        ),
        (
            |l, _| l.grants[0].limits.episodes = vec![1, 2],
            R::OtherEpisode,
            Gap,
        ),
        (
            |l, q| {
                l.grants[0].limits.versions = texts(&["festival"]);
                q.need.version = "broadcast".into();
            },
            R::OtherVersion,
            Gap,
        ),
        (
            |l, q| {
                l.grants[0].limits.versions = texts(&["festival"]);
                q.need.version.clear();
            },
            R::VersionUnknown,
            Unknown,
        ),
        (
            |l, q| {
                l.terms.sublicence = Some(false);
                q.need.overhang_months = q.need.overhang_months.max(1);
            },
            R::SublicenceForbidden,
            Gap,
        ),
    ]
};

fn licence_question(licence: Licence, mut asked: Question) -> Question {
    asked.elements = vec![newsreel(vec![licence])];
    asked
}

#[test]
fn the_good_licence_holds() {
    let licence = only(&licence_question(good_licence(), question(vec![])));
    assert_eq!((licence.state, licence.reasons.len()), (State::Covered, 0));
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
fn no_fault_of_a_licence_hides_another_of_any_two() {
    for (a, (first, one, _)) in LICENCES.iter().enumerate() {
        for (b, (second, two, _)) in LICENCES.iter().enumerate() {
            let (mut licence, mut asked) = (good_licence(), question(vec![]));
            first(&mut licence, &mut asked);
            if undone(*one, *two) || licence.grants.is_empty() {
                continue;
            }
            second(&mut licence, &mut asked);
            let answer = only(&licence_question(licence, asked));
            assert!(
                codes(&answer).contains(two),
                "licence {a} {one:?} hides {b} {two:?}: {:?}",
                answer.reasons
            );
        }
    }
}

/// Pairs of which the first leaves nothing for the second to be about: a licence that was replaced is
/// not looked at; a grant that does not reach the place, or cannot be read, has no days, runs or
/// versions there; two faults of days replace one another in these tests.
fn undone(first: ReasonCode, second: ReasonCode) -> bool {
    use ReasonCode as R;
    let days = [
        R::EndsTooEarly,
        R::Ended,
        R::EndsBeforeItBegins,
        R::TermUnknown,
        R::StartsTooLate,
        R::StartUnknown,
        R::DaysMissing,
    ];
    let limits = [
        R::RunsTooFew,
        R::RunsUnknown,
        R::OtherEpisode,
        R::OtherVersion,
        R::VersionUnknown,
    ];
    let reach = [R::NotGranted, R::TerritoryUnreadable];
    let about_reach =
        |code: &R| days.contains(code) || limits.contains(code) || *code == R::PromotionNotAllowed;
    first == R::NoPermission
        || (days.contains(&first) && days.contains(&second))
        || (reach.contains(&first) && (about_reach(&second) || reach.contains(&second)))
        || (limits.contains(&first) && limits.contains(&second))
        // That licence has two grants, and the other faults of these tests are of the first.
        || (first == R::DaysMissing && (about_reach(&second) || reach.contains(&second)))
        // Showings on days that the term does not reach use none of its runs.
        || (days.contains(&first) && second == R::RunsTooFew)
        // What holds on no needed day has no runs to count.
        || (second == R::RunsUnknown
            && matches!(first, R::Ended | R::EndsBeforeItBegins | R::StartsTooLate))
        // What may be about any place is not outside one.
        || (second == R::NotGranted && first == R::TerritoryUnreadable)
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

/// Hand-made: what is to be entered is named, with the paper that waits for it.
#[test]
fn the_day_that_a_term_waits_for_is_named() {
    for (event, words) in [
        (
            Event::Delivery,
            "Enter the day of delivery, planned if need be",
        ),
        (
            Event::FirstUse,
            "Enter the day of first use, planned if need be",
        ),
        (Event::Signature, "Enter the day on which the licence from"),
    ] {
        let mut licence = good_licence();
        licence.signed = EventDate::default();
        licence.grants[0].starts = Starts::At(event);
        let answer = only(&licence_question(licence, question(vec![])));
        let mut reasons = answer.reasons.iter();
        let why = reasons.find(|one| one.code == ReasonCode::StartUnknown);
        let why = why.expect("an unknown start");
        assert!(why.action.starts_with(words), "{}", why.action);
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
