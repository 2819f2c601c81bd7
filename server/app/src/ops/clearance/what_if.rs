//! "What if": changes tried on the clearance of a cut, with the fee typed for each; nothing is stored.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::clearance::{
    Element, ElementKind, Licence, Question, Side, TriedChange, WhatIf, WhatIfError, what_if,
};
use waybill_domain::costs::currency_fault;
use waybill_domain::perms::Action;

use super::super::access::Actor;
use super::super::check;
use super::super::costs::tried::{self, TriedCosts};
use super::super::{blocking, let_go};
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
    /// What the steps do to the costs; null for who may not see fees.
    #[schema(required)]
    pub costs: Option<TriedCosts>,
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
    let (access, worked) =
        work(app, actor, Action::ViewClearance, (series, episode), asked).await?;
    let fees = checked(&input)?;
    {
        let conn = &mut *app.pool.get().await?;
        let named = input.steps.iter().enumerate().flat_map(lists).collect();
        territory_groups::must_exist(conn, series, named).await?;
    }
    let (question, today) = (worked.question, worked.today);
    let asked = (input.steps.iter()).map(|step| step.change.clone());
    let changes: Vec<TriedChange> = asked.collect();
    let (outcome, question) = blocking(move || (what_if(&question, &changes), question)).await?;
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
    let mut costs = None;
    if access.may(Action::ViewFees) {
        let steps = (input.steps.into_iter())
            .map(|step| money_of(step, &question, &outcome))
            .collect();
        let conn = &mut *app.pool.get().await?;
        costs = Some(tried::work(conn, series, episode, today, steps).await?);
    }
    let_go(question);
    Ok(WhatIfAnswer {
        outcome,
        fees,
        costs,
    })
}

/// A step as far as money goes.
fn money_of(step: WhatIfStep, question: &Question, outcome: &WhatIf) -> tried::Step {
    let element = |id: &str| question.elements.iter().find(|one| one.id == id);
    let ids = |licences: &mut dyn Iterator<Item = &Licence>| -> Vec<Uuid> {
        licences.filter_map(|one| one.id.parse().ok()).collect()
    };
    let fee = step.fee_minor.map(|fee| (step.currency, fee));
    let about = match &step.change {
        TriedChange::Extend { paper, .. } => {
            // a release has no costs, and an id that no licence has
            tried::About::Licence(paper.parse().unwrap_or_default())
        }
        TriedChange::AddGrant {
            element: id, side, ..
        } => {
            let found = element(id).filter(|one| {
                // nobody licenses a person or a place, so there is nothing to compare with
                !matches!(one.kind, ElementKind::Person { .. } | ElementKind::Place)
            });
            let Some(found) = found else {
                let about = tried::About::Delivery { licences: vec![] };
                return tried::Step { about, fee };
            };
            let same =
                |one: &&Licence| one.side == *side || *side == Side::Both || one.side == Side::Both;
            let key = |music: bool| {
                let is = (found.kind == ElementKind::Music) == music;
                id.parse().ok().filter(|_| is)
            };
            let of = tried::GrantOf {
                asset: key(false),
                music: key(true),
                side: match side {
                    Side::Composition => "composition",
                    Side::Recording => "recording",
                    Side::Both => "both",
                    Side::Whole | Side::Beside(_) => "whole",
                },
                title: found.label.clone(),
            };
            tried::About::Grant {
                beside: ids(&mut found.backing.licences.iter().filter(same)),
                of,
            }
        }
        TriedChange::Drop { element: id } => {
            let licences = element(id).map_or(vec![], |one| ids(&mut one.backing.licences.iter()));
            let stays = |one: &&Element| {
                let changed = outcome.elements.iter().find(|change| change.id == one.id);
                changed.is_none_or(|change| change.after.is_some())
            };
            let others =
                (question.elements.iter().filter(stays)).flat_map(|one| &one.backing.licences);
            tried::About::Dropped {
                still_used: ids(&mut others.into_iter()),
                licences,
            }
        }
        TriedChange::AddTerritories { .. } | TriedChange::MoveFirstTransmission { .. } => {
            let hit = (outcome.elements.iter())
                .filter(|one| !one.lost.is_empty() || !one.newly_open.is_empty())
                .filter_map(|one| element(&one.id));
            tried::About::Delivery {
                licences: ids(&mut hit.flat_map(|one| &one.backing.licences)),
            }
        }
    };
    tried::Step { about, fee }
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
        if let Some(words) = currency_fault(&step.currency) {
            let pointer = format!("{base}/currency");
            faults.push(FieldError::new(pointer, words));
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
