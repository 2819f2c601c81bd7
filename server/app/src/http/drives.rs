//! Drives beyond their record: verifications, the files that are expected on one, every reading of it, and hand-overs.
//! The wire types of verifications are `waybill_domain::verification`'s; the command and the server share them.

use actix_web::web::{Data, Json, Path, Payload, Query};
use actix_web::{HttpResponse, get, post, put};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::manifest::{ScanComplete, ScanStarted};
use waybill_domain::verification::{ExpectedFile, VerificationStart, VerificationSummary};

use super::chunk::{self, ChunkQuery};
use super::types::Answer;
use crate::app::App;
use crate::db::checks::{CheckFault, DriveCheck};
use crate::db::custody::NewCustodyEvent;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::custody::{self, Custody};
use crate::ops::verifications as ops;

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ExpectedQuery {
    /// Only what lies below this folder, a scanned one or one inside it; paths are then below it.
    root: Option<String>,
    /// The `next` of the page before.
    after: Option<String>,
    /// At most 5,000.
    limit: Option<i64>,
}

/// What the catalogue knows on a drive, by path.
#[derive(Serialize, ToSchema)]
struct ExpectedList {
    items: Vec<ExpectedFile>,
    /// Ask with `after` for the next page; null on the last.
    #[schema(required)]
    next: Option<String>,
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), ("id" = Uuid, Path), ExpectedQuery),
    responses((status = 200, body = ExpectedList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/drives/{id}/expected")]
async fn expected_files(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ExpectedQuery>,
) -> Answer {
    let query = query.into_inner();
    let clean = |text: Option<String>| text.map(|text| text.replace('\0', ""));
    let (root, after) = (clean(query.root), clean(query.after).unwrap_or_default());
    let page = ops::expected(
        &app,
        &actor,
        path.into_inner(),
        root.as_deref(),
        &after,
        query.limit,
    )
    .await?;
    Ok(HttpResponse::Ok().json(ExpectedList {
        items: page.items,
        next: page.next,
    }))
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = ScanStarted), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/drives/{id}/verifications")]
async fn begin_verification(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<VerificationStart>,
) -> Answer {
    let started = ops::begin(&app, &actor, path.into_inner(), body.into_inner()).await?;
    Ok(HttpResponse::Ok().json(started))
}

/// A chunk of a verification was taken in.
#[derive(Serialize, ToSchema)]
struct VerificationChunkReceived {
    next_chunk: u32,
}

#[utoipa::path(tag = "Drives",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("check" = Uuid, Path), ("number" = u32, Path),
        ChunkQuery),
    request_body(content = String, content_type = "application/x-ndjson",
        description = "JSON lines, one verified file each, at most 2,000 and 8 MiB"),
    responses((status = 200, body = VerificationChunkReceived), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/drives/{id}/verifications/{check}/chunks/{number}")]
async fn receive_verification_chunk(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, Uuid, u32)>,
    query: Query<ChunkQuery>,
    body: Payload,
) -> Answer {
    let (series, drive, check, number) = path.into_inner();
    let body = chunk::body(body).await?;
    let at = (series, drive, check);
    let next_chunk = ops::receive(&app, &actor, at, number, query.digest.as_deref(), &body).await?;
    Ok(HttpResponse::Ok().json(VerificationChunkReceived { next_chunk }))
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), ("id" = Uuid, Path), ("check" = Uuid, Path)),
    responses((status = 200, body = VerificationSummary), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/drives/{id}/verifications/{check}/complete")]
async fn complete_verification(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, Uuid)>,
    body: Json<ScanComplete>,
) -> Answer {
    let summary = ops::complete(&app, &actor, path.into_inner(), body.into_inner()).await?;
    Ok(HttpResponse::Ok().json(summary))
}

/// Readings of a drive, newest first.
#[derive(Serialize, ToSchema)]
struct DriveCheckList {
    items: Vec<DriveCheck>,
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = DriveCheckList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/drives/{id}/checks")]
async fn list_drive_checks(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, drive) = path.into_inner();
    let items = ops::list(&app, &actor, series, drive).await?;
    Ok(HttpResponse::Ok().json(DriveCheckList { items }))
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct CheckFaultQuery {
    /// The `next` of the page before.
    after: Option<String>,
}

/// What a verification found that is not as it was, by path.
#[derive(Serialize, ToSchema)]
struct CheckFaultList {
    items: Vec<CheckFault>,
    /// Ask with `after` for the next page; null on the last.
    #[schema(required)]
    next: Option<String>,
}

#[utoipa::path(tag = "Drives",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("check" = Uuid, Path), CheckFaultQuery),
    responses((status = 200, body = CheckFaultList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/drives/{id}/checks/{check}/faults")]
async fn list_check_faults(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, Uuid)>,
    query: Query<CheckFaultQuery>,
) -> Answer {
    let (series, _, check) = path.into_inner();
    let after = query
        .into_inner()
        .after
        .unwrap_or_default()
        .replace('\0', "");
    let (items, next) = ops::faults(&app, &actor, series, check, &after).await?;
    Ok(HttpResponse::Ok().json(CheckFaultList { items, next }))
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = Custody), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/drives/{id}/custody")]
async fn read_custody(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, drive) = path.into_inner();
    Ok(HttpResponse::Ok().json(custody::list(&app, &actor, series, drive).await?))
}

/// Adds an event to a drive's history; the same id again changes nothing.
#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = Custody), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/drives/{id}/custody")]
async fn add_custody_event(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<NewCustodyEvent>,
) -> Answer {
    let (series, drive) = path.into_inner();
    let custody = custody::add(&app, &actor, series, drive, body.into_inner()).await?;
    Ok(HttpResponse::Ok().json(custody))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(expected_files)
        .service(begin_verification)
        .service(receive_verification_chunk)
        .service(complete_verification)
        .service(list_drive_checks)
        .service(list_check_faults)
        .service(read_custody)
        .service(add_custody_event);
}
