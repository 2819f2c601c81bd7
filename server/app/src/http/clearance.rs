//! The clearance of a cut, as a table of elements and as a strip of events.

use actix_web::web::{Data, Json, Path, Query};
use actix_web::{HttpResponse, get, post};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::child_licence::{self, ChildLicenceAnswer};
use crate::ops::clearance::approvals::{self, ApprovalInput, ApprovalView, PastApproval};
use crate::ops::clearance::repeats::{self, RepeatFindings};
use crate::ops::clearance::what_if::{self, WhatIfAnswer, WhatIfInput};
use crate::ops::clearance::{self as ops, Asked, Clearance, ClearanceCounts, CutEvents};
use crate::ops::let_go;

/// Which clearance is asked for.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ClearanceQuery {
    /// A delivery specification; the one that the episode owes first where none is given, else the oldest.
    pub spec: Option<Uuid>,
    /// A cut of the episode; the latest where none is given.
    pub cut: Option<Uuid>,
}

impl From<ClearanceQuery> for Asked {
    fn from(query: ClearanceQuery) -> Self {
        Self {
            specification: query.spec,
            cut: query.cut,
            to_leave: false,
        }
    }
}

/// Whether everything in the cut may be shown where, when and how the delivery needs it, with every reason.
/// `conflict` when the episode has no cut, or the series no specification, yet.
#[utoipa::path(tag = "Clearance",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ClearanceQuery),
    responses((status = 200, body = Clearance), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/clearance")]
async fn read_clearance(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ClearanceQuery>,
) -> Answer {
    let (series, episode) = path.into_inner();
    let asked = query.into_inner().into();
    let found = ops::answer(&app, &actor, series, episode, asked).await?;
    let response = HttpResponse::Ok().json(&found);
    let_go(found);
    Ok(response)
}

/// How many elements of the latest cut are in each state, measured against the delivery that is owed first.
#[utoipa::path(tag = "Clearance", params(("series" = Uuid, Path), ("episode" = Uuid, Path)),
    responses((status = 200, body = ClearanceCounts), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/clearance-counts")]
async fn count_clearance(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, episode) = path.into_inner();
    let found = ops::counts(&app, &actor, series, episode).await?;
    Ok(HttpResponse::Ok().json(found))
}

/// Against which delivery the events are measured.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct StripQuery {
    /// As for the clearance.
    spec: Option<Uuid>,
}

/// The cut as a strip: every event with its source, its scene and the worst state among what is in it.
#[utoipa::path(tag = "Clearance", params(("series" = Uuid, Path), ("cut" = Uuid, Path), StripQuery),
    responses((status = 200, body = CutEvents), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cuts/{cut}/events")]
async fn list_cut_events(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<StripQuery>,
) -> Answer {
    let (series, cut) = path.into_inner();
    let found = ops::events(&app, &actor, series, cut, query.spec).await?;
    Ok(HttpResponse::Ok().json(found))
}

/// Tries changes on the clearance: what each would win and lose, before anyone signs. Nothing is stored.
#[utoipa::path(tag = "Clearance",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ClearanceQuery),
    responses((status = 200, body = WhatIfAnswer), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/episodes/{episode}/clearance/what-if")]
async fn try_what_if(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ClearanceQuery>,
    body: Json<WhatIfInput>,
) -> Answer {
    let (series, episode) = path.into_inner();
    let (asked, input) = (query.into_inner().into(), body.into_inner());
    let found = what_if::try_steps(&app, &actor, series, episode, asked, input).await?;
    Ok(HttpResponse::Ok().json(found))
}

/// Approvals of an episode, the latest first.
#[derive(Serialize, ToSchema)]
struct ApprovalList {
    items: Vec<PastApproval>,
}

/// For which specification.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ApprovalQuery {
    /// All of them where none is given.
    spec: Option<Uuid>,
}

#[utoipa::path(tag = "Clearance",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ApprovalQuery),
    responses((status = 200, body = ApprovalList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/approvals")]
async fn list_approvals(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ApprovalQuery>,
) -> Answer {
    let items = approvals::list(&app, &actor, path.into_inner(), query.spec).await?;
    Ok(HttpResponse::Ok().json(ApprovalList { items }))
}

/// Approves every element that does not stand in the way, as it is now; later changes reopen what they touch.
#[utoipa::path(tag = "Clearance",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ClearanceQuery),
    responses((status = 201, body = ApprovalView), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/episodes/{episode}/approvals")]
async fn create_approval(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ClearanceQuery>,
    body: Json<ApprovalInput>,
) -> Answer {
    let (asked, input) = (query.into_inner().into(), body.into_inner());
    let made = approvals::approve(&app, &actor, path.into_inner(), asked, input).await?;
    Ok(HttpResponse::Created().json(made))
}

/// Takes an approval back.
#[utoipa::path(tag = "Clearance", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/approvals/{id}/withdraw")]
async fn withdraw_approval(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    approvals::withdraw(&app, &actor, series, id).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// What the records say to the questions before a repeat (R26): who has died, which rights do not reach that day. The
/// other four questions are for a person.
#[utoipa::path(tag = "Showings", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = RepeatFindings), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/showings/{id}/findings")]
async fn read_repeat_findings(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let found = repeats::findings(&app, &actor, series, id).await?;
    Ok(HttpResponse::Ok().json(found))
}

/// When a council has to be asked before a child is filmed, or why it has not (R25).
#[utoipa::path(tag = "Clearance", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = ChildLicenceAnswer), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/releases/{id}/child-licence")]
async fn read_child_licence(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let answer = child_licence::read(&app, &actor, series, id).await?;
    Ok(HttpResponse::Ok().json(answer))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(read_child_licence)
        .service(read_clearance)
        .service(count_clearance)
        .service(list_cut_events)
        .service(try_what_if)
        .service(list_approvals)
        .service(create_approval)
        .service(withdraw_approval)
        .service(read_repeat_findings);
}
