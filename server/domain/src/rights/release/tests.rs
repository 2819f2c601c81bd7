//! Named after the rule; each names its source.

use super::*;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a real date")
}

fn form() -> Form {
    Form {
        signed_on: Some(day("2026-08-14")),
        signed_by: Some(Signer::Person),
        filmed_from: None,
        filmed_to: None,
        entity: "Slipway Films".into(),
        consideration_stated: true,
        allows_editing: true,
        allows_promotion: true,
        grants: vec![],
        withdrawal: None,
        restrictions: vec![],
        facts: Default::default(),
    }
}

fn shown(filmed_on: Option<NaiveDate>) -> Shown {
    Shown {
        filmed_on,
        first_shown_on: day("2027-01-05"),
        in_promotion: false,
        face: Face::Shown,
        name_on_screen: false,
        voice_recognisable: true,
    }
}

fn house() -> HouseRules {
    HouseRules {
        entity: "Slipway Films".into(),
        adult_at: 18,
        consideration_required: true,
    }
}

/// Source: rulebook R19: filmed 2026-08-14, born 2008-08-15, signed by themself, fails; one day
/// later an adult.
#[test]
fn r19_self_signed_the_day_before_the_birthday() {
    let born = Subject::Born(day("2008-08-15"));
    let on = |text| faults(&form(), born, &house(), &shown(Some(day(text))));
    assert_eq!(on("2026-08-14"), [Fault::GuardianMissing]);
    assert!(on("2026-08-15").is_empty());
}

/// Source: rulebook R21: up to the day itself prior, 1 to 3 days prompt, over 14 days late.
#[test]
fn r21_lag_from_filming_to_signature() {
    let after = |days| {
        lag(
            day("2026-08-01"),
            day("2026-08-01") + chrono::Days::new(days),
        )
    };
    assert_eq!(lag(day("2026-08-01"), day("2026-07-31")), Lag::Prior);
    assert_eq!(
        [after(0), after(1), after(3)],
        [Lag::Prior, Lag::Prompt, Lag::Prompt]
    );
    assert_eq!(
        [after(4), after(14), after(15)],
        [Lag::After, Lag::After, Lag::Late]
    );
}

/// Hand-worked: what is not known is a doubt, said once.
#[test]
fn an_unknown_age_or_day_is_a_doubt() {
    let unknown_day = faults(
        &form(),
        Subject::Born(day("1990-01-01")),
        &house(),
        &shown(None),
    );
    assert_eq!(unknown_day, [Fault::FilmingDayNotKnown]);
    let filmed = shown(Some(day("2026-08-14")));
    let unknown_age = faults(&form(), Subject::AgeNotKnown, &house(), &filmed);
    assert_eq!(unknown_age, [Fault::AgeNotKnown]);
    assert!(unknown_day[0].is_doubt() && unknown_age[0].is_doubt());
}

fn withdrawal_step(step: WithdrawalStage, on: &str) -> WithdrawalStep {
    WithdrawalStep {
        on: Some(day(on)),
        step,
        by: "Counsel".into(),
        words: String::new(),
        entered_by: String::new(),
        entered_on: None,
    }
}

/// Hand-worked (common practice, no source): who enters a step is noted, and what was noted can't be sent anew.
#[test]
fn who_entered_a_step_is_noted_and_stays() {
    let (today, later) = (day("2026-12-03"), day("2026-12-09"));
    let asked = WithdrawalStep {
        by: "Her brother".into(),
        words: "on the telephone".into(),
        ..withdrawal_step(WithdrawalStage::Requested, "2026-12-01")
    };
    let blank = |stage| WithdrawalStep {
        on: None,
        by: String::new(),
        ..withdrawal_step(stage, "2026-12-01")
    };
    let mut steps = vec![asked, blank(WithdrawalStage::Holding)];
    note_withdrawal_steps(&mut steps, &[], "Asa", today);
    let noted = |step: &WithdrawalStep| {
        (
            step.by.clone(),
            step.entered_by.clone(),
            step.on,
            step.entered_on,
        )
    };
    let same = |name: &str, by: &str, on, entered| {
        (name.to_owned(), by.to_owned(), Some(on), Some(entered))
    };
    assert_eq!(
        noted(&steps[0]),
        same("Her brother", "Asa", day("2026-12-01"), today)
    );
    assert_eq!(noted(&steps[1]), same("Asa", "Asa", today, today));
    assert!(
        steps
            .iter()
            .all(|step| withdrawal_step_faults(step).is_empty())
    );
    // Somebody else goes on, and sends another note for what stands.
    let kept = steps.clone();
    steps[0].entered_by = "Nobody".into();
    steps.push(blank(WithdrawalStage::Accepted));
    note_withdrawal_steps(&mut steps, &kept, "Cora", later);
    assert_eq!(steps[..2], kept[..]);
    assert_eq!(noted(&steps[2]), same("Cora", "Cora", later, later));
    let fields = |step: &WithdrawalStep| {
        let found = withdrawal_step_faults(step).into_iter();
        found.map(|(field, _)| field).collect::<Vec<_>>()
    };
    assert!(fields(&steps[2]).is_empty());
    steps[2].by = "Somebody else".into();
    assert_eq!(fields(&steps[2]), ["by"], "who decides enters it");
    steps[0].words.clear();
    assert_eq!(
        fields(&steps[0]),
        ["words"],
        "another day than that of entering"
    );
    steps[1].on = Some(later);
    assert_eq!(fields(&steps[1]), ["on"], "a day to come");
    assert_eq!(fields(&blank(WithdrawalStage::Requested)), ["on", "by"]);
}

/// Hand-worked: request, holding, decision, action: the last that decides is where it stands, and
/// holding keeps the uses back.
#[test]
fn a_wish_to_withdraw_is_held_until_it_is_decided() {
    let step = withdrawal_step;
    let mut steps = vec![step(WithdrawalStage::Requested, "2026-12-01")];
    assert_eq!(withdrawal_after(&steps), Some(Withdrawal::Requested));
    steps.push(step(WithdrawalStage::Holding, "2026-12-02"));
    assert_eq!(withdrawal_after(&steps), Some(Withdrawal::Holding));
    let held = Form {
        withdrawal: withdrawal_after(&steps),
        ..form()
    };
    let adult = Subject::Adult;
    let filmed = shown(Some(day("2026-08-14")));
    assert_eq!(faults(&held, adult, &house(), &filmed), [Fault::Held]);
    steps.push(step(WithdrawalStage::Declined, "2026-12-09"));
    steps.push(step(WithdrawalStage::Acted, "2026-12-10"));
    assert_eq!(withdrawal_after(&steps), Some(Withdrawal::Declined));
    assert_eq!(withdrawal_after(&[]), None);
    assert_eq!(withdrawal_out_of_order(&steps), None);
    assert_eq!(withdrawal_decisions(&steps).len(), 1);
    let first_fault = |steps: &[WithdrawalStep]| withdrawal_out_of_order(steps).map(|(at, _)| at);
    assert_eq!(
        first_fault(&steps[1..]),
        Some(0),
        "holding without a request"
    );
    assert_eq!(
        first_fault(&steps[3..]),
        Some(0),
        "an action without a request"
    );
    let again = step(WithdrawalStage::Accepted, "2026-12-11");
    steps.push(again.clone());
    assert_eq!(first_fault(&steps), Some(4), "decided twice");
    steps[4] = step(WithdrawalStage::Requested, "2026-12-11");
    steps.push(again);
    assert_eq!(first_fault(&steps), None, "a new request may follow");
}
