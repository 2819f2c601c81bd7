//! Scans of drives, what a drive holds, and what the shoot days should have brought. The wire types are
//! `waybill_domain::manifest`'s; the command and the server share them.

use actix_web::web::{Data, Json, Path, Payload, Query};
use actix_web::{HttpResponse, get, post, put};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::manifest::{ScanComplete, ScanStart, ScanStarted, ScanSummary};

use super::chunk::{self, ChunkQuery};
use super::types::Answer;
use crate::app::App;
use crate::db::card_states::{Arrival, DriveContents};
use crate::db::scans::Scan;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::scans as ops;

/// Scans, newest first.
#[derive(Serialize, ToSchema)]
struct ScanList {
    items: Vec<Scan>,
}

#[utoipa::path(tag = "Scans", params(("series" = Uuid, Path)),
    responses((status = 200, body = ScanList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/scans")]
async fn list_scans(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let items = ops::list(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(ScanList { items }))
}

#[utoipa::path(tag = "Scans", params(("series" = Uuid, Path)),
    responses((status = 200, body = ScanStarted), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/scans")]
async fn begin_scan(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<ScanStart>,
) -> Answer {
    let started = ops::begin(&app, &actor, path.into_inner(), body.into_inner()).await?;
    Ok(HttpResponse::Ok().json(started))
}

/// A chunk was taken in.
#[derive(Serialize, ToSchema)]
struct ChunkReceived {
    next_chunk: u32,
}

#[utoipa::path(tag = "Scans",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("number" = u32, Path), ChunkQuery),
    request_body(content = String, content_type = "application/x-ndjson",
        description = "JSON lines, one file entry each, at most 2,000 and 8 MiB"),
    responses((status = 200, body = ChunkReceived), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/scans/{id}/chunks/{number}")]
async fn receive_chunk(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, u32)>,
    query: Query<ChunkQuery>,
    body: Payload,
) -> Answer {
    let (series, id, number) = path.into_inner();
    let body = chunk::body(body).await?;
    let next_chunk = ops::receive(
        &app,
        &actor,
        series,
        id,
        number,
        query.into_inner().digest,
        body,
    )
    .await?;
    Ok(HttpResponse::Ok().json(ChunkReceived { next_chunk }))
}

#[utoipa::path(tag = "Scans", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = ScanSummary), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/scans/{id}/complete")]
async fn complete_scan(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<ScanComplete>,
) -> Answer {
    let (series, id) = path.into_inner();
    let summary = ops::complete(&app, &actor, series, id, body.into_inner()).await?;
    Ok(HttpResponse::Ok().json(summary))
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = DriveContents), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/drives/{id}/contents")]
async fn drive_contents(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    Ok(HttpResponse::Ok().json(ops::contents(&app, &actor, series, id).await?))
}

/// Says that a drive is another one than the drive it looks like (`may_be`).
#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = DriveContents), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/drives/{id}/separate")]
async fn separate_drive(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    Ok(HttpResponse::Ok().json(ops::separate(&app, &actor, series, id).await?))
}

/// Shoot days with what they should have brought, those with something missing first.
#[derive(Serialize, ToSchema)]
struct ArrivalList {
    items: Vec<Arrival>,
}

#[utoipa::path(tag = "Shoot days", params(("series" = Uuid, Path)),
    responses((status = 200, body = ArrivalList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/arrivals")]
async fn list_arrivals(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let items = ops::arrivals(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(ArrivalList { items }))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_scans)
        .service(begin_scan)
        .service(receive_chunk)
        .service(complete_scan)
        .service(drive_contents)
        .service(separate_drive)
        .service(list_arrivals);
}
