//! A wish to withdraw on a release: what its steps must say, and who may take which.

use chrono::NaiveDate;
use waybill_domain::perms::Action;
use waybill_domain::rights::release::{
    Withdrawal, WithdrawalStage, withdrawal_after, withdrawal_decisions, withdrawal_out_of_order,
    withdrawal_step_faults,
};

use super::ReleaseFields;
use crate::error::{FieldError, OpError};
use crate::ops::access::Access;
use crate::ops::check;

/// A withdrawal stands where its last deciding step left it.
pub(super) fn check_steps(fields: &ReleaseFields, faults: &mut Vec<FieldError>) {
    let steps = &fields.details.0.withdrawal_steps;
    if steps.len() > 100 {
        let pointer = "/details/withdrawal_steps";
        faults.push(FieldError::new(pointer, "At most 100 steps fit here."));
    }
    for (at, step) in steps.iter().take(100).enumerate() {
        let base = format!("/details/withdrawal_steps/{at}");
        check::day(faults, &format!("{base}/on"), step.on);
        check::text(faults, &format!("{base}/by"), &step.by, 200);
        check::text(faults, &format!("{base}/words"), &step.words, 2000);
        for (field, words) in withdrawal_step_faults(step) {
            faults.push(FieldError::new(format!("{base}/{field}"), words));
        }
        if at > 0 {
            let before = steps[at - 1].on;
            let pointer = format!("{base}/on");
            check::order(faults, &pointer, "the step before it", before, step.on);
        }
    }
    if !steps.is_empty() && withdrawal_after(steps) != stands(fields) {
        faults.push(FieldError::new(
            "/withdrawal",
            "The steps say something else: the last of asked, held, accepted or declined is where it stands.",
        ));
    }
    if let Some((at, words)) = withdrawal_out_of_order(steps) {
        let pointer = format!("/details/withdrawal_steps/{at}/step");
        faults.push(FieldError::new(pointer, words));
    }
}

/// Where a wish to withdraw stands.
pub(super) fn stands(fields: &ReleaseFields) -> Option<Withdrawal> {
    fields.withdrawal.as_ref().map(|withdrawal| withdrawal.0)
}

type Decisions<'a> = Vec<(Option<NaiveDate>, WithdrawalStage, &'a str)>;

/// What is decided about a wish to withdraw, by its steps or without any.
fn decided(fields: &ReleaseFields) -> (Option<Withdrawal>, Decisions<'_>) {
    let decision =
        |stands: &Withdrawal| matches!(stands, Withdrawal::Accepted | Withdrawal::Declined);
    let steps = withdrawal_decisions(&fields.details.0.withdrawal_steps);
    (stands(fields).filter(decision), steps)
}

/// A wish to withdraw is entered and held by who keeps the releases; it is decided, and a decision changed, only by
/// who answers for the programme. Nobody else makes a wish vanish that is on record.
pub(super) fn allowed(
    fields: &ReleaseFields,
    old: Option<&ReleaseFields>,
    access: &Access,
) -> Result<(), OpError> {
    if access.may(Action::DecideWithdrawal) {
        return Ok(());
    }
    let (before, steps) = old.map_or((None, &[][..]), |old| {
        (stands(old), &old.details.0.withdrawal_steps[..])
    });
    let changed = old.map_or((None, vec![]), decided) != decided(fields);
    let own = &fields.details.0.withdrawal_steps;
    let gone = (before.is_some() && stands(fields).is_none()) || own.len() < steps.len();
    if !changed && !gone {
        return Ok(());
    }
    Err(OpError::NotAllowed(
        "A withdrawal is decided by a series producer or counsel. Enter the request and hold the uses; they decide."
            .into(),
    ))
}
