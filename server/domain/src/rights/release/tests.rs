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

/// Hand-worked: request, holding, decision, action: the last that decides is where it stands, and
/// holding keeps the uses back.
#[test]
fn a_wish_to_withdraw_is_held_until_it_is_decided() {
    let step = |step, on: &str| WithdrawalStep {
        on: day(on),
        step,
        by: "Counsel".into(),
        words: String::new(),
    };
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
