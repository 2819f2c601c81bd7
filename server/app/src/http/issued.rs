//! What was sent to a broadcaster.

use actix_web::web::{Data, Json, Path, Query};
use actix_web::{HttpResponse, get, post, put};
use serde::Deserialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::clearance::ClearanceQuery;
use super::cue_sheets::attached;
use super::types::Answer;
use crate::app::App;
use crate::db::issued::IssuedHead;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::issued::{self as ops, IssueInput, IssuedList};

/// Whether an issued paper is taken back.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct TakenBackBody {
    taken_back: bool,
}

/// Papers and cue sheets as they were sent, the newest first.
#[utoipa::path(tag = "Issued", params(("series" = Uuid, Path)),
    responses((status = 200, body = IssuedList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/issued")]
async fn list_issued(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let list = ops::list(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(list))
}

/// Makes a paper of an episode as it stands now and keeps it as sent; who sees deliveries may take it away from then on.
#[utoipa::path(tag = "Issued",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ClearanceQuery),
    responses((status = 201, body = IssuedHead), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/episodes/{episode}/issued")]
async fn issue_paper(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ClearanceQuery>,
    body: Json<IssueInput>,
) -> Answer {
    let asked = query.into_inner().into();
    let made = ops::issue(&app, &actor, path.into_inner(), asked, body.into_inner()).await?;
    Ok(HttpResponse::Created().json(made))
}

/// An issued paper, byte for byte as it was sent.
#[utoipa::path(tag = "Issued", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/issued/{id}/file")]
async fn download_issued(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    Ok(attached(ops::file(&app, &actor, series, id).await?))
}

/// Takes back what was sent in error, or puts it back. Who took it away already has it.
#[utoipa::path(tag = "Issued", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = IssuedHead), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/issued/{id}")]
async fn take_issued_back(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<TakenBackBody>,
) -> Answer {
    let made = ops::set_taken_back(&app, &actor, path.into_inner(), body.taken_back).await?;
    Ok(HttpResponse::Ok().json(made))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(issue_paper)
        .service(download_issued)
        .service(take_issued_back)
        .service(list_issued);
}
