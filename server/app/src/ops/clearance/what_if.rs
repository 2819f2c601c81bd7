//! "What if": changes tried on the clearance of a cut, with the fee typed for each; nothing is stored.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::clearance::{TriedChange, WhatIf, WhatIfError, what_if};
use waybill_domain::perms::Action;

use super::super::access::Actor;
use super::super::blocking;
use super::super::check;
use super::{Asked, work};
use crate::app::App;
use crate::db::territory_groups;
use crate::error::{FieldError, OpError};

/// Steps to try together.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WhatIfInput {
    pub steps: Vec<WhatIfStep>,
}

/// A change, and what it would cost.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WhatIfStep {
    pub change: TriedChange,
    /// In the currency's smallest unit; what somebody named, or guesses.
    #[serde(default)]
    pub fee_minor: Option<i64>,
    /// Three letters (ISO 4217); needed with a fee.
    #[serde(default)]
    pub currency: String,
}

/// What the steps do, and what they cost.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct WhatIfAnswer {
    #[serde(flatten)]
    pub outcome: WhatIf,
    /// The fees typed, added up for each currency.
    pub fees: Vec<FeeSum>,
}

/// Fees in one currency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct FeeSum {
    pub currency: String,
    pub minor: i64,
}

/// Tries the steps.
///
/// # Errors
/// As the clearance; `Invalid` for a step that can't be read or is about nothing in the cut.
pub async fn try_steps(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
    asked: Asked,
    input: WhatIfInput,
) -> Result<WhatIfAnswer, OpError> {
    let (_, worked) = work(app, actor, Action::ViewClearance, (series, episode), asked).await?;
    let fees = checked(&input)?;
    {
        let conn = &mut *app.pool.get().await?;
        let named = input.steps.iter().enumerate().flat_map(lists).collect();
        territory_groups::must_exist(conn, series, named).await?;
    }
    let changes: Vec<TriedChange> = input.steps.into_iter().map(|step| step.change).collect();
    let question = worked.question;
    let outcome = blocking(move || what_if(&question, &changes)).await?;
    let outcome = outcome.map_err(|error| match error {
        WhatIfError::NoElement(step) => OpError::Invalid(vec![FieldError::new(
            format!("/steps/{step}/change/element"),
            "There is no such element in this cut.",
        )]),
        WhatIfError::NoPaper(step) => OpError::Invalid(vec![FieldError::new(
            format!("/steps/{step}/change/paper"),
            "There is no such licence or release behind this cut.",
        )]),
        WhatIfError::Need(error) => OpError::UnsafeState(format!(
            "The specification can't be measured against: {error}. Correct it first."
        )),
    })?;
    Ok(WhatIfAnswer { outcome, fees })
}

/// The lists of territories in a step, where a group may be named.
fn lists((at, step): (usize, &WhatIfStep)) -> Vec<(String, &[String])> {
    let base = format!("/steps/{at}/change");
    match &step.change {
        TriedChange::AddGrant { grant, .. } => vec![
            (
                format!("{base}/grant/territories"),
                grant.territories.as_slice(),
            ),
            (
                format!("{base}/grant/territories_except"),
                grant.territories_except.as_slice(),
            ),
        ],
        TriedChange::AddTerritories { territories } => {
            vec![(format!("{base}/territories"), territories.as_slice())]
        }
        _ => vec![],
    }
}

/// The fees added up; every fault of the steps else.
fn checked(input: &WhatIfInput) -> Result<Vec<FeeSum>, OpError> {
    let mut faults = Vec::new();
    if input.steps.is_empty() || input.steps.len() > 20 {
        faults.push(FieldError::new(
            "/steps",
            "Try one to twenty steps at once.",
        ));
    }
    let mut fees: BTreeMap<&str, i64> = BTreeMap::new();
    for (at, step) in input.steps.iter().enumerate() {
        let base = format!("/steps/{at}");
        match &step.change {
            TriedChange::AddGrant { grant, .. } => {
                check::grants(
                    &mut faults,
                    &format!("{base}/change/grant"),
                    std::slice::from_ref(grant),
                );
            }
            TriedChange::AddTerritories { territories } => {
                check::territories(&mut faults, &format!("{base}/change"), territories, &[]);
            }
            TriedChange::Extend { to, .. } | TriedChange::MoveFirstTransmission { to } => {
                check::day(&mut faults, &format!("{base}/change/to"), Some(*to));
            }
            TriedChange::Drop { .. } => {}
        }
        let Some(fee) = step.fee_minor else { continue };
        let code =
            step.currency.len() == 3 && step.currency.bytes().all(|b| b.is_ascii_uppercase());
        if !code {
            faults.push(FieldError::new(
                format!("{base}/currency"),
                "Say in which currency the fee is: three capital letters, for instance GBP.",
            ));
        }
        if !(0..=1_000_000_000_000).contains(&fee) {
            faults.push(FieldError::new(
                format!("{base}/fee_minor"),
                "A fee is not below zero, nor beyond ten thousand million.",
            ));
            continue;
        }
        *fees.entry(&step.currency).or_default() += fee;
    }
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    Ok(fees
        .into_iter()
        .map(|(currency, minor)| FeeSum {
            currency: currency.to_owned(),
            minor,
        })
        .collect())
}
