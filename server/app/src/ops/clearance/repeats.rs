//! What the records say before a repeat (R26): who in the latest cut has died, and which elements are not cleared for
//! that day in those places. The other questions are for a person.

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::clearance::{ElementAnswer, ElementKind, Reason, ReasonCode, State, clear};
use waybill_domain::perms::Action;
use waybill_domain::repeat::RepeatQuestion;
use waybill_domain::rights::medium;

use super::super::access::{Actor, enter};
use super::super::blocking;
use super::{Asked, work};
use crate::app::App;
use crate::db::record::Record;
use crate::db::showings::Showing;
use crate::error::OpError;

/// What the records say.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct RepeatFindings {
    /// Questions that nobody answered yet.
    pub open: Vec<RepeatQuestion>,
    /// Credited names of people in the latest cut who have died.
    pub died: Vec<String>,
    /// Elements of the latest cut that are not cleared for that day in those places.
    pub not_cleared: Vec<NotClearedThen>,
    /// Name of the cut that was looked at.
    pub cut_name: String,
}

/// An element that is not cleared for a showing.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct NotClearedThen {
    pub id: String,
    pub label: String,
    pub state: State,
    /// Why: the right that has lapsed, else the first reason.
    pub sentence: String,
    /// A right ends before that day, or does not last over it.
    pub lapsed: bool,
}

/// What the records say to the questions before a showing.
///
/// # Errors
/// Access; `NotFound`; as the clearance.
pub async fn findings(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
) -> Result<RepeatFindings, OpError> {
    let showing = {
        let conn = &mut *app.pool.get().await?;
        enter(conn, actor, series, Action::ViewClearance).await?;
        let found = Showing::load(conn, series, id).await?;
        found.ok_or(OpError::NotFound("the showing"))?
    };
    let ids = (series, showing.fields.episode_id);
    let (_, worked) = work(app, actor, Action::ViewClearance, ids, Asked::default()).await?;
    let mut question = worked.question;
    let need = &mut question.need;
    need.territories.clone_from(&showing.fields.territories);
    need.territories_except.clear();
    need.media = medium::leaves(&showing.fields.media);
    need.media_except.clear();
    (need.from, need.to) = (showing.fields.day, showing.fields.day);
    need.overhang_months = 0;
    // This showing is among those that use up runs; nothing more is needed.
    need.runs = Some(0);
    let died = (question.elements.iter())
        .filter(|one| matches!(one.kind, ElementKind::Person { died: Some(_), .. }))
        .map(|one| one.label.clone())
        .collect();
    let answer = blocking(move || clear(&question)).await?.map_err(|error| {
        OpError::UnsafeState(format!("The showing can't be measured against: {error}."))
    })?;
    Ok(RepeatFindings {
        open: if showing.fields.repeat {
            showing.fields.repeat_check.0.open()
        } else {
            vec![]
        },
        died,
        not_cleared: not_cleared(answer.elements),
        cut_name: worked.material.cut.head.name,
    })
}

/// What is not cleared, rights that have lapsed by then first: the last of the six questions is about them (R26).
fn not_cleared(elements: Vec<ElementAnswer>) -> Vec<NotClearedThen> {
    let lapses =
        |reason: &Reason| matches!(reason.code, ReasonCode::Ended | ReasonCode::EndsTooEarly);
    let mut all: Vec<NotClearedThen> = (elements.into_iter())
        .filter(|one| one.state.blocks())
        .map(|one| {
            let lapse = one.reasons.iter().find(|reason| lapses(reason));
            NotClearedThen {
                lapsed: lapse.is_some(),
                sentence: lapse
                    .or(one.reasons.first())
                    .map_or_else(String::new, |reason| reason.sentence.clone()),
                id: one.id,
                label: one.label,
                state: one.state,
            }
        })
        .collect();
    all.sort_by_key(|one| !one.lapsed);
    all
}
