//! Approval of a clearance by a person with the right to. What it covered is frozen: each element that did not stand in
//! the way, with a fingerprint of what was approved about it. A later change reopens only what it touches.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde::{Deserialize, Serialize};
use serde_json::json;
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::clearance::{Element, State, fingerprint, touched};
use waybill_domain::perms::Action;

use super::super::access::{Actor, enter};
use super::super::audit::{self, NOTHING, Subject};
use super::super::check;
use super::{Asked, Worked, work};
use crate::app::App;
use crate::auth::tokens::hex;
use crate::db::approvals::{self as db, Approval, CoveredElement};
use crate::db::{Conn, Json};
use crate::error::OpError;

/// What somebody says when approving.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ApprovalInput {
    #[serde(default)]
    pub note: String,
    /// Fingerprint of the clearance that was looked at. Empty: whatever it is now is approved.
    #[serde(default)]
    pub seen: String,
}

/// An approval, against the clearance as it is now.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ApprovalView {
    pub id: Uuid,
    pub approved_by: String,
    pub approved_at: DateTime<Utc>,
    /// Whoever approved also entered papers behind it.
    pub self_approved: bool,
    pub note: String,
    /// The cut that was approved.
    pub cut_id: Uuid,
    pub cut_name: String,
    /// How many elements it covered then.
    pub covered: u32,
    /// Ids of elements that it covers still.
    pub stands: Vec<String>,
    /// Elements that something touched since: they are to be approved again.
    pub reopened: Vec<ReopenedElement>,
    /// Ids of elements that it never covered: new ones, and those that stood in the way then.
    pub never_covered: Vec<String>,
    /// Names of elements that it covered and that are no longer in the cut.
    pub gone: Vec<String>,
    /// Whether it covers every element of the cut as it is now.
    pub complete: bool,
}

/// An element that was approved and changed since.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ReopenedElement {
    pub id: String,
    pub label: String,
    pub state_then: State,
    pub state_now: State,
}

/// Approvals of an episode under a specification.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct PastApproval {
    pub id: Uuid,
    pub approved_by: String,
    pub approved_at: DateTime<Utc>,
    pub self_approved: bool,
    pub note: String,
    pub cut_id: Uuid,
    pub covered: Vec<CoveredElement>,
    #[schema(required)]
    pub withdrawn_at: Option<DateTime<Utc>>,
    pub withdrawn_by: String,
}

/// Approves what does not stand in the way.
///
/// # Errors
/// Access (`Approve`); as the clearance; `UnsafeState` where every element stands in the way; `Changed` where it is not
/// what was looked at; `Invalid`.
pub async fn approve(
    app: &App,
    actor: &Actor,
    (series, episode): (Uuid, Uuid),
    asked: Asked,
    input: ApprovalInput,
) -> Result<ApprovalView, OpError> {
    let (_, worked) = work(app, actor, Action::Approve, (series, episode), asked).await?;
    let mut faults = Vec::new();
    check::text(&mut faults, "/note", &input.note, 2000);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    if !input.seen.is_empty() && input.seen != seen(&worked) {
        return Err(OpError::Changed(
            "What would be approved has changed since you opened it. Look at the clearance as it is now, then approve."
                .into(),
        ));
    }
    let covered = coverable(&worked);
    if covered.is_empty() {
        return Err(OpError::UnsafeState(
            "There is nothing to approve: every element of this cut stands in the way.".into(),
        ));
    }
    let now = app.now();
    let conn = &mut *app.pool.get().await?;
    conn.transaction::<_, OpError, _>(async |conn| {
        let papers = papers(&worked, &covered);
        let approval = Approval {
            id: Uuid::now_v7(),
            series_id: series,
            episode_id: episode,
            cut_id: worked.material.cut.head.id,
            specification_id: worked.specification.id,
            approved_by: Some(actor.user_id),
            approved_by_name: actor.name.clone(),
            approved_at: now,
            self_approved: db::entered(conn, actor.user_id, &papers).await?,
            note: input.note.trim().to_owned(),
            covered: Json(covered),
            withdrawn_at: None,
            withdrawn_by_name: String::new(),
        };
        db::add(conn, &approval).await?;
        let after = json!({
            "cut": worked.material.cut.head.name, "specification": worked.specification.fields.name,
            "elements": approval.covered.0.len(), "self_approved": approval.self_approved,
        });
        let subject = Subject::of(series, "approval", approval.id);
        audit::record(conn, actor, now, "approved", subject, NOTHING, Some(&after)).await?;
        Ok(view(
            &worked,
            approval,
            worked.material.cut.head.name.clone(),
        ))
    })
    .await
}

/// Takes an approval back.
///
/// # Errors
/// Access (`Approve`); `NotFound`; the database's.
pub async fn withdraw(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::Approve).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let found = db::withdraw(conn, series, id, &actor.name, now).await?;
        found.ok_or(OpError::NotFound("the approval"))?;
        let subject = Subject::of(series, "approval", id);
        audit::record(conn, actor, now, "withdrawn", subject, NOTHING, NOTHING).await
    })
    .await
}

/// Every approval of an episode, for one specification or for all, the latest first.
///
/// # Errors
/// Access; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    (series, episode): (Uuid, Uuid),
    specification: Option<Uuid>,
) -> Result<Vec<PastApproval>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewClearance).await?;
    super::find_episode(conn, series, episode).await?;
    let rows = db::of_episode(conn, episode, specification).await?;
    Ok(rows
        .into_iter()
        .map(|row| PastApproval {
            id: row.id,
            approved_by: row.approved_by_name,
            approved_at: row.approved_at,
            self_approved: row.self_approved,
            note: row.note,
            cut_id: row.cut_id,
            covered: row.covered.0,
            withdrawn_at: row.withdrawn_at,
            withdrawn_by: row.withdrawn_by_name,
        })
        .collect())
}

/// The latest approval that was not withdrawn, measured against the clearance as it is now.
///
/// # Errors
/// The database's.
pub async fn standing(conn: &mut Conn, worked: &Worked) -> Result<Option<ApprovalView>, OpError> {
    let (episode, specification) = (worked.material.episode.id, worked.specification.id);
    let rows = db::of_episode(conn, episode, Some(specification)).await?;
    let Some(latest) = rows.into_iter().find(|row| row.withdrawn_at.is_none()) else {
        return Ok(None);
    };
    let series = worked.material.episode.series_id;
    let cut = super::super::cuts::find(conn, series, latest.cut_id).await?;
    Ok(Some(view(worked, latest, cut.name)))
}

/// What an approval can cover now: every element that does not stand in the way.
fn coverable(worked: &Worked) -> Vec<CoveredElement> {
    let questions = by_id(worked);
    (worked.answer.elements.iter())
        .filter(|answer| !answer.state.blocks())
        .filter_map(|answer| {
            Some(CoveredElement {
                fingerprint: fingerprint(questions.get(answer.id.as_str())?, answer),
                id: answer.id.clone(),
                label: answer.label.clone(),
                state: answer.state,
            })
        })
        .collect()
}

/// Changes with whatever an approval would cover now, and with nothing else: 64 hexadecimal digits.
pub fn seen(worked: &Worked) -> String {
    let questions = by_id(worked);
    let mut covered: Vec<_> = (worked.answer.elements.iter())
        .filter(|answer| !answer.state.blocks())
        .filter_map(|answer| Some((*questions.get(answer.id.as_str())?, answer)))
        .collect();
    covered.sort_unstable_by_key(|(_, answer)| &answer.id);
    let covered: Vec<_> = (covered.into_iter())
        .map(|(element, answer)| (&answer.id, touched(element, answer)))
        .collect();
    let of = (
        worked.material.cut.head.id,
        worked.specification.id,
        covered,
    );
    // Nothing in it can fail to be written; should it, an approval is of what is there, as without this.
    let Ok(written) = serde_json::to_vec(&of) else {
        return String::new();
    };
    hex(&Sha256::digest(written))
}

fn by_id(worked: &Worked) -> HashMap<&str, &Element> {
    (worked.question.elements.iter())
        .map(|element| (element.id.as_str(), element))
        .collect()
}

/// Ids of the papers behind what is covered, and of the records that state a ground.
fn papers(worked: &Worked, covered: &[CoveredElement]) -> Vec<Uuid> {
    let questions = by_id(worked);
    let mut ids: Vec<Uuid> = Vec::new();
    for one in covered {
        let Some(element) = questions.get(one.id.as_str()) else {
            continue;
        };
        let backing = &element.backing;
        let papers = (backing.releases.iter().map(|one| &one.id))
            .chain(backing.licences.iter().map(|one| &one.id));
        ids.extend(papers.filter_map(|id| id.parse::<Uuid>().ok()));
        if !backing.bases.is_empty() || backing.not_needed.is_some() {
            ids.extend(element.id.parse::<Uuid>().ok());
        }
    }
    ids
}

fn view(worked: &Worked, approval: Approval, cut_name: String) -> ApprovalView {
    let questions = by_id(worked);
    let then: HashMap<&str, &CoveredElement> = (approval.covered.0.iter())
        .map(|one| (one.id.as_str(), one))
        .collect();
    let (mut stands, mut reopened, mut never_covered) = (Vec::new(), Vec::new(), Vec::new());
    for answer in &worked.answer.elements {
        let print = questions
            .get(answer.id.as_str())
            .map(|element| fingerprint(element, answer));
        match then.get(answer.id.as_str()) {
            None => never_covered.push(answer.id.clone()),
            Some(one) if Some(&one.fingerprint) == print.as_ref() => {
                stands.push(answer.id.clone());
            }
            Some(one) => reopened.push(ReopenedElement {
                id: answer.id.clone(),
                label: answer.label.clone(),
                state_then: one.state,
                state_now: answer.state,
            }),
        }
    }
    let gone = (approval.covered.0.iter())
        .filter(|one| !questions.contains_key(one.id.as_str()))
        .map(|one| one.label.clone())
        .collect();
    ApprovalView {
        id: approval.id,
        approved_by: approval.approved_by_name,
        approved_at: approval.approved_at,
        self_approved: approval.self_approved,
        note: approval.note,
        cut_id: approval.cut_id,
        cut_name,
        covered: u32::try_from(approval.covered.0.len()).unwrap_or(u32::MAX),
        complete: reopened.is_empty() && never_covered.is_empty(),
        stands,
        reopened,
        never_covered,
        gone,
    }
}
