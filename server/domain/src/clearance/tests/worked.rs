//! Worked examples: the rulebook's own, and hand-worked ones, marked so.

use std::sync::{Arc, RwLock, mpsc};
use std::time::Duration;

use super::*;
use crate::rights::days::Days;
use crate::rights::limits::{RunCounting, Runs};
use crate::rights::term::{Counting, Event};

/// Source: rulebook R2: 3 years from signature on 2026-01-10 end 264 days short of 2029-09-30;
/// 5 years cover it. The sentence is design.md's example.
#[test]
fn r2_newsreel_is_264_days_short() {
    let mut licence = good_licence();
    let months = |n| Grant {
        starts: Starts::At(Event::Signature),
        term: Some(Term::Months(n)),
        counting: Some(Counting::Including),
        ..grant(&["GB"], &["television"], "2026-01-10", "2026-01-10")
    };
    licence.grants = vec![months(36)];
    let answer = only(&question(vec![newsreel(vec![licence.clone()])]));
    assert_eq!(answer.state, State::Gap);
    assert_eq!(codes(&answer), [ReasonCode::EndsTooEarly]);
    assert_eq!(
        answer.reasons[0].sentence,
        "The newsreel is cleared for free television in the UK until 9 Jan 2029; the delivery \
         needs it until 30 Sep 2029 (264 days short)."
    );
    assert_eq!(answer.end, End::On(day("2029-01-09")));
    licence.grants = vec![months(60)];
    let answer = only(&question(vec![newsreel(vec![licence])]));
    assert_eq!(
        (answer.state, answer.end),
        (State::Covered, End::On(day("2031-01-09")))
    );
    assert!(answer.reasons.is_empty());
}

/// Source: rulebook R3: free TV covered; on demand in US and CA 365 days short, in GB none.
#[test]
fn r3_matrix_of_free_television_and_on_demand() {
    let mut licence = good_licence();
    licence.grants = vec![
        grant(&["WORLD"], &["television.free"], "2026-01-10", "2031-01-09"),
        grant(
            &["US", "CA"],
            &["on_demand.subscription"],
            "2026-10-01",
            "2028-09-30",
        ),
    ];
    let mut asked = question(vec![newsreel(vec![licence])]);
    asked.need.territories = texts(&["US", "CA", "GB"]);
    asked.need.media = texts(&["television.free", "on_demand.subscription"]);
    let answer = only(&asked);
    let found: Vec<(&[String], CellState, &[Days])> = answer
        .cells
        .iter()
        .map(|c| (&c.territories[..], c.state, &c.gaps[..]))
        .collect();
    let all = Days::new(day("2026-10-01"), day("2029-09-30"));
    assert_eq!(all.count(), 1096);
    let year = Days::new(day("2028-10-01"), day("2029-09-30"));
    assert_eq!(year.count(), 365);
    assert_eq!(
        found,
        [
            (&texts(&["GB"])[..], CellState::None, &[all][..]),
            (&texts(&["CA", "US"])[..], CellState::Partial, &[year][..]),
            (&texts(&["CA", "GB", "US"])[..], CellState::Covered, &[][..]),
        ]
    );
    assert_eq!(
        codes(&answer),
        [ReasonCode::NotGranted, ReasonCode::EndsTooEarly]
    );
}

/// Source: rulebook R5 [CURRENT] ★: programme rights to 2026, interstitial elements ended in May
/// 2019, the repeat of October 2019 blocked.
#[test]
fn r5_the_weakest_element_blocks_the_october_2019_repeat() {
    let until = |label: &str, to| {
        let mut licence = good_licence();
        licence.signed = known("2016-01-01");
        licence.grants = vec![grant(&["US"], &["television"], "2016-01-01", to)];
        let mut element = newsreel(vec![licence]);
        (element.id, element.label) = (label.into(), label.into());
        element
    };
    let elements = vec![
        until("programme", "2026-05-31"),
        until("sponsor spot", "2019-05-31"),
    ];
    let mut asked = question(elements);
    asked.need.territories = texts(&["US"]);
    (asked.need.from, asked.need.to) = (day("2019-03-01"), day("2019-10-31"));
    asked.today = day("2019-03-01");
    let answer = clear(&asked).expect("a need that can be worked");
    assert!(answer.blocked);
    assert_eq!(answer.window.end, End::On(day("2019-05-31")));
    assert_eq!(answer.window.set_by, ["sponsor spot"]);
    (asked.need.from, asked.need.to) = (day("2019-10-01"), day("2019-10-31"));
    let answer = clear(&asked).expect("a need that can be worked");
    assert_eq!(answer.window.end, End::NotCleared);
    assert_eq!(answer.elements[0].reasons[0].code, ReasonCode::Ended);
    // A need of one day is said as one day.
    asked.need.from = asked.need.to;
    let answer = clear(&asked).expect("a need that can be worked");
    let sentence = &answer.elements[0].reasons[0].sentence;
    assert!(
        sentence.ends_with("the delivery needs it on 31 Oct 2019."),
        "{sentence}"
    );
}

/// Source: rulebook R5: an unknown end makes the minimum unknown, not ignored.
#[test]
fn r5_an_unknown_end_is_not_ignored() {
    let mut waiting = good_licence();
    waiting.grants[0].starts = Starts::At(Event::Delivery);
    waiting.grants[0].term = Some(Term::Months(24));
    let mut element = newsreel(vec![waiting]);
    element.id = "waiting".into();
    let answer = clear(&question(vec![newsreel(vec![good_licence()]), element]));
    let answer = answer.expect("a need that can be worked");
    assert_eq!(answer.elements[0].state, State::Unknown);
    assert_eq!(
        answer.elements[0].reasons[0].sentence,
        "Whether The newsreel is cleared for free television in the UK is unknown: the licence \
         from Quay Archive starts at delivery, which has no date yet."
    );
    assert_eq!(
        (answer.window.end, &answer.window.set_by[..]),
        (End::Unknown, &texts(&["waiting"])[..])
    );
    assert_eq!(answer.window.earliest_known, Some(day("2031-01-09")));
}

/// Source: rulebook R8 [IDA-ARCH1]: 2036-12-31 and two years of overhang need 2038-12-31.
#[test]
fn r8_overhang_lengthens_the_need() {
    let mut asked = question(vec![]);
    asked.need.to = day("2036-12-31");
    asked.need.overhang_months = 24;
    let answer = clear(&asked).expect("a need that can be worked");
    assert_eq!(answer.needed.to, day("2038-12-31"));
    assert_eq!(answer.assumptions.len(), 1);
}

/// Source: rulebook R52: waiver approved 12 May, licence signed 9 May: three days early.
#[test]
fn r52_licence_signed_three_days_before_the_waiver() {
    let mut licence = good_licence();
    licence.signed = known("2026-05-09");
    licence.terms.waiver_approved_on = Some(day("2026-05-12"));
    let answer = only(&question(vec![newsreel(vec![licence])]));
    assert_eq!(codes(&answer), [ReasonCode::WaiverLate]);
    assert!(
        answer.reasons[0].sentence.contains("3 days before"),
        "{:?}",
        answer.reasons
    );
    assert_eq!(answer.state, State::Covered);
}

/// Source: rulebook R2: with only a planned date the end is provisional, and said so.
#[test]
fn r2_a_planned_trigger_is_provisional_and_a_long_stop_caps_it() {
    let mut licence = good_licence();
    licence.grants[0].starts = Starts::At(Event::Delivery);
    licence.grants[0].term = Some(Term::Months(60));
    licence.grants[0].long_stop = Some(day("2030-12-31"));
    let mut asked = question(vec![newsreel(vec![licence])]);
    asked.events.delivery = EventDate {
        known: None,
        planned: Some(day("2026-09-10")),
    };
    let answer = only(&asked);
    assert!(answer.provisional && answer.state == State::Covered);
    assert_eq!(answer.end, End::On(day("2030-12-31")));
    // The planned date, and the counting that the paper does not state.
    assert_eq!(answer.assumptions.len(), 2, "{:?}", answer.assumptions);
}

/// Hand-worked: a song needs both sides; each missing one is its own reason.
#[test]
fn music_needs_both_sides() {
    let side = |side| Licence {
        side,
        ..good_licence()
    };
    let both = only(&question(vec![song(vec![
        side(Side::Composition),
        side(Side::Recording),
    ])]));
    assert_eq!(both.state, State::Covered);
    assert_eq!(
        only(&question(vec![song(vec![side(Side::Both)])])).state,
        State::Covered
    );
    let one = only(&question(vec![song(vec![side(Side::Composition)])]));
    assert_eq!(
        (one.state, codes(&one)),
        (State::Gap, vec![ReasonCode::RecordingMissing])
    );
    let none = only(&question(vec![song(vec![])]));
    assert_eq!(
        codes(&none),
        [ReasonCode::CompositionMissing, ReasonCode::RecordingMissing]
    );
}

/// Source: rulebook 3.3 (both sides, each to 100 %) and R12: each owner of a share has to give it.
#[test]
fn music_needs_every_owner_of_a_share() {
    let owner = |name: &str, side, share| Owner {
        name: name.into(),
        side,
        share,
        of_version: false,
    };
    let from = |licensor: &str, side, status| Licence {
        id: licensor.into(),
        licensor: licensor.into(),
        side,
        status,
        ..good_licence()
    };
    use LicenceStatus::{Quoted, Signed};
    use Side::{Composition, Recording};
    let label = from("Bittern Lane Records", Recording, Signed);
    let first = from("Foxglove Row Music", Composition, Signed);
    let ask = |others: Vec<Licence>, owners: Vec<Owner>| {
        let mut song = song([vec![label.clone(), first.clone()], others].concat());
        song.backing.owners = owners;
        only(&question(vec![song]))
    };
    let publishers = |share| {
        vec![
            owner("Foxglove Row Music", Composition, Some(6_000)),
            owner("Second Pub", Composition, share),
        ]
    };
    let says = |answer: &ElementAnswer, words: &str| {
        let found = answer
            .reasons
            .iter()
            .any(|one| one.sentence.contains(words));
        assert!(found, "{words}: {:?}", answer.reasons);
    };
    let second = |status| vec![from("second pub", Composition, status)];
    let nobody = ask(vec![], publishers(Some(4_000)));
    assert_eq!(nobody.state, State::Gap);
    says(
        &nobody,
        "40 % of the composition of The Ebb is held by Second Pub, from whom no licence",
    );
    let quoted = ask(second(Quoted), publishers(Some(4_000)));
    assert_eq!(quoted.state, State::Gap);
    says(&quoted, "held by Second Pub, whose licence does not clear");
    says(&quoted, "The licence from second pub is quoted");
    let both = ask(second(Signed), publishers(Some(4_000)));
    assert_eq!((both.state, codes(&both)), (State::Covered, vec![]));
    // What is not on record is unknown: for whom a third signs, who holds the rest, how large a share is.
    let agent = vec![from("Harbour Rights", Composition, Signed)];
    let agent = ask(agent, publishers(Some(4_000)));
    assert_eq!(agent.state, State::Unknown);
    says(
        &agent,
        "that the licence from Harbour Rights is given for this too is not on record",
    );
    let rest = ask(
        vec![],
        vec![
            owner("Foxglove Row Music", Composition, Some(6_000)),
            owner("", Composition, Some(4_000)),
        ],
    );
    assert_eq!(rest.state, State::Unknown);
    says(
        &rest,
        "40 % of the composition of The Ebb is held by nobody who is named",
    );
    assert_eq!(ask(vec![], publishers(None)).state, State::Unknown);
    // The recording likewise.
    let half = ask(
        vec![],
        vec![
            owner("Bittern Lane Records", Recording, Some(5_000)),
            owner("The Kelp Parade", Recording, Some(5_000)),
        ],
    );
    assert_eq!(
        (half.state, codes(&half)),
        (State::Gap, vec![ReasonCode::RecordingMissing])
    );
    // Nobody is on record: the sides alone are asked for.
    assert_eq!(ask(vec![], vec![]).state, State::Covered);
}

/// Source: rulebook R12 (public-domain cue: no writers, arranger only if the arrangement is protected) and R9: the finding
/// is about the original. Hand-worked: the arranger is asked for their own share, and the original stays as it is found.
#[test]
fn r12_an_arrangement_of_a_free_tune_is_a_work_of_its_own() {
    use crate::rights::basis::Ground;
    use Side::{Composition, Recording};
    let licence = |licensor: &str, side| Licence {
        id: licensor.into(),
        licensor: licensor.into(),
        side,
        ..good_licence()
    };
    let arranger = |share| Owner {
        name: "Ines Corrowby".into(),
        side: Composition,
        share,
        of_version: true,
    };
    let ask = |territories: &[&str], licences: Vec<Licence>, owners: Vec<Owner>| {
        let mut song = song([vec![licence("Ninth Oar", Recording)], licences].concat());
        song.backing.owners = owners;
        song.backing.bases = vec![Basis {
            side: Composition,
            ground: Ground::PublicDomain {
                territories: texts(territories),
                age: Default::default(),
            },
            dated: vec![],
        }];
        only(&question(vec![song]))
    };
    let theirs = || vec![licence("Ines Corrowby", Composition)];
    assert_eq!(ask(&["GB"], vec![], vec![]).state, State::Covered);
    let alone = ask(&["GB"], vec![], vec![arranger(Some(5_000))]);
    assert_eq!(alone.state, State::Gap, "{:?}", alone.reasons);
    assert_eq!(
        alone.reasons[0].sentence,
        "50 % of the composition of The Ebb is held by Ines Corrowby, from whom no licence is on file; an arrangement or \
         translation is a work of its own, though the original be free of rights."
    );
    let given = ask(&["GB"], theirs(), vec![arranger(Some(5_000))]);
    assert_eq!(given.state, State::Covered, "{:?}", given.reasons);
    // Without a share it is not known whether the version has rights of its own.
    let unsure = ask(&["GB"], vec![], vec![arranger(None)]);
    assert_eq!(unsure.state, State::Unknown, "{:?}", unsure.reasons);
    let nobody = Owner {
        name: String::new(),
        ..arranger(Some(5_000))
    };
    let unsure = ask(&["GB"], vec![], vec![nobody]);
    assert_eq!(unsure.state, State::Unknown, "{:?}", unsure.reasons);
    // Neither clears the other: where the original is free is still asked.
    let nowhere = ask(&[], theirs(), vec![arranger(Some(10_000))]);
    assert_eq!(nowhere.state, State::Unknown, "{:?}", nowhere.reasons);
    assert!(codes(&nowhere).contains(&ReasonCode::PublicDomainWhere));
    // The composer's own share, on record too, is free.
    let composer = Owner {
        name: "Trad Quill".into(),
        of_version: false,
        ..arranger(Some(5_000))
    };
    let both = ask(&["GB"], theirs(), vec![composer, arranger(Some(5_000))]);
    assert_eq!(both.state, State::Covered, "{:?}", both.reasons);
}

/// Hand-worked: unlogged footage and an unknown source are gaps in every cell, worst first.
#[test]
fn what_nobody_logged_and_what_nobody_knows_blocks() {
    let unlogged = element(
        ElementKind::UnloggedFootage,
        "A003_C012",
        Backing::default(),
    );
    let unknown = element(ElementKind::UnknownSource, "event 17", Backing::default());
    let answer = clear(&question(vec![adult(good_form()), unlogged, unknown]));
    let answer = answer.expect("a need that can be worked");
    let states: Vec<State> = answer.elements.iter().map(|e| e.state).collect();
    assert_eq!(
        states,
        [State::UnknownSource, State::NotLogged, State::Covered]
    );
    assert!(
        answer.elements[0]
            .cells
            .iter()
            .all(|cell| cell.state == CellState::None)
    );
    assert!(answer.blocked);
    assert_eq!((answer.counts.not_logged, answer.counts.covered), (1, 1));
    assert_eq!(answer.needed_by, day("2026-09-10"));
}

/// Rulebook 6: "signed, not checked" and "problem" are not "OK", however good the form looks.
#[test]
fn what_the_team_says_of_a_form_counts() {
    let mut element = adult(good_form());
    for (standing, state, code) in [
        (Standing::NotChecked, State::Unknown, ReasonCode::NotChecked),
        (Standing::Problem, State::Gap, ReasonCode::MarkedAsProblem),
    ] {
        element.backing.releases[0].standing = standing;
        let answer = only(&question(vec![element.clone()]));
        assert_eq!(answer.state, state, "{standing:?}");
        assert!(codes(&answer).contains(&code), "{standing:?}");
    }
}

/// Hand-worked: two shoot days, a form for each; neither is faulted for the other's day.
#[test]
fn each_shoot_day_may_have_its_own_form() {
    let mut element = adult(good_form());
    let mut second = good_form();
    (second.filmed_from, second.filmed_to) = (Some(day("2026-06-01")), Some(day("2026-06-01")));
    element.backing.releases.push(Release {
        id: "r2".into(),
        form: second,
        standing: Standing::Checked,
        permission: None,
    });
    element.uses.push(Use {
        event: 9,
        filmed_on: Some(day("2026-06-01")),
        ..one_use()
    });
    assert_eq!(only(&question(vec![element.clone()])).state, State::Covered);
    element.uses.push(Use {
        event: 11,
        filmed_on: Some(day("2026-07-01")),
        ..one_use()
    });
    let answer = only(&question(vec![element]));
    assert_eq!(
        codes(&answer),
        [ReasonCode::FilmedOutside, ReasonCode::FilmedOutside]
    );
    assert!(answer.reasons.iter().all(|reason| reason.events == [11]));
}

/// Hand-worked: overlapping uses count once; the first use is the earliest in the cut.
#[test]
fn uses_are_counted_once() {
    let mut element = adult(good_form());
    element.uses.push(Use {
        event: 2,
        record_in: 150,
        record_out: 260,
        ..one_use()
    });
    element.uses.push(Use {
        event: 1,
        record_in: 40,
        record_out: 50,
        ..one_use()
    });
    let answer = only(&question(vec![element]));
    assert_eq!((answer.uses, answer.total_frames), (3, 170));
    assert_eq!(
        answer.first_use,
        Some(FirstUse {
            event: 1,
            record_in: 40
        })
    );
}

/// Hand-worked: covered for the delivery, but ending within 180 days of today.
#[test]
fn an_end_soon_after_today_is_its_own_state() {
    let mut asked = question(vec![newsreel(vec![good_licence()])]);
    asked.today = day("2030-08-01");
    let answer = only(&asked);
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::EndsSoon, vec![ReasonCode::EndsSoon])
    );
}

/// Hand-worked: needs that cannot be worked are refused, and say why.
#[test]
fn a_need_that_cannot_be_worked_is_an_error() {
    let mut asked = question(vec![]);
    asked.need.territories = texts(&["XX"]);
    assert!(
        clear(&asked)
            .expect_err("no such territory")
            .to_string()
            .contains("\"XX\"")
    );
    asked.need.territories = texts(&["GB"]);
    asked.need.to = day("2026-09-30");
    let error = clear(&asked).expect_err("reversed").to_string();
    assert_eq!(
        error,
        "the delivery's last needed day, 30 Sep 2026, is before its first, 1 Oct 2026"
    );
}

/// A licence for so many showings, each counted, until a day.
fn with_runs(id: &str, allowed: u32, to: &str) -> Licence {
    let mut licence = Licence {
        id: id.into(),
        ..good_licence()
    };
    licence.grants[0].term = Some(Term::To(day(to)));
    licence.grants[0].limits.runs = Some(Runs {
        allowed,
        counting: RunCounting::Each,
    });
    licence
}

fn shown_on(days: &[&str]) -> Vec<Showing> {
    let showing = |text: &&str| Showing {
        at: day(text).and_hms_opt(20, 0, 0).expect("a time"),
        territories: texts(&["GB"]),
        media: texts(&["television.free"]),
    };
    days.iter().map(showing).collect()
}

/// Hand-worked from R4 (used runs ≤ granted, for each territory and medium): runs of two licences add up, each
/// showing is counted against one of them only, and the third showing is one too many.
#[test]
fn r4_runs_of_several_grants_add_up() {
    let two = || {
        newsreel(vec![
            with_runs("l1", 1, "2031-01-09"),
            with_runs("l2", 1, "2031-01-09"),
        ])
    };
    let mut asked = question(vec![two()]);
    asked.need.runs = Some(2);
    asked.showings = shown_on(&["2026-10-08", "2027-03-01"]);
    assert_eq!(only(&asked).state, State::Covered);
    asked.need.runs = Some(3);
    let answer = only(&asked);
    assert_eq!(codes(&answer), [ReasonCode::RunsTooFew]);
    assert_eq!(
        answer.reasons[0].sentence,
        "The licence from Quay Archive allows in all 2 runs (every showing counted); the delivery needs 3."
    );
    asked.need.runs = Some(2);
    asked.showings = shown_on(&["2026-10-08", "2027-03-01", "2028-03-01"]);
    let answer = only(&asked);
    assert_eq!(
        (answer.state, codes(&answer)),
        (State::Gap, vec![ReasonCode::RunsTooFew])
    );
    assert!(
        answer.reasons[0]
            .sentence
            .ends_with("the showings entered make 3 in the UK."),
        "{:?}",
        answer.reasons
    );
    // One of them is only quoted: the other stands alone, and both are said.
    let mut one = two();
    one.backing.licences[1].status = LicenceStatus::Quoted;
    asked.elements = vec![one];
    asked.showings.clear();
    let found = codes(&only(&asked));
    assert!(
        found.contains(&ReasonCode::RunsTooFew) && found.contains(&ReasonCode::LicenceUnsigned)
    );
}

/// Hand-worked: a grant without a number takes the showings on its days, and the counted one is left for the rest.
#[test]
fn r4_a_grant_without_a_number_uses_up_no_runs() {
    let mut first_year = good_licence();
    first_year.id = "l0".into();
    first_year.grants[0].term = Some(Term::To(day("2027-09-30")));
    let mut asked = question(vec![newsreel(vec![
        first_year,
        with_runs("l1", 1, "2031-01-09"),
    ])]);
    asked.need.runs = Some(5);
    asked.showings = shown_on(&["2026-10-08", "2027-03-01", "2028-03-01"]);
    assert_eq!(only(&asked).state, State::Covered);
    asked.showings = shown_on(&["2027-11-01", "2028-03-01"]);
    let answer = only(&asked);
    assert_eq!(codes(&answer), [ReasonCode::RunsTooFew]);
    // What needs no counting still stands: the gap begins after its term.
    assert_eq!(answer.end, End::On(day("2027-09-30")));
}

/// Setting paper holds rayon's common threads for seconds; here they are held until the answer is there.
#[test]
fn an_answer_waits_for_no_common_thread_and_keeps_the_order() {
    let held = Arc::new(RwLock::new(()));
    let hold = held.write().expect("nobody else has it");
    let waiting = Arc::clone(&held);
    rayon::spawn_broadcast(move |_| drop(waiting.read()));
    let label = |n: usize| format!("The newsreel {n:03}");
    let elements = (0..200).map(|n| Element {
        id: n.to_string(),
        label: label(n),
        ..newsreel(vec![good_licence()])
    });
    let asked = question(elements.collect());
    let (say, heard) = mpsc::channel();
    std::thread::spawn(move || drop(say.send(clear(&asked))));
    let answer = heard.recv_timeout(Duration::from_secs(60));
    drop(hold);
    let answer = answer.expect("an answer meanwhile");
    let answer = answer.expect("a need that can be worked");
    let labels = answer.elements.iter().map(|one| one.label.clone());
    assert!(labels.eq((0..200).map(label)));
}
