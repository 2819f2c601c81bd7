//! Series and their audit trail.

use actix_web::web::{Data, Json, Path, Query};
use actix_web::{HttpResponse, delete, get, post, put};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::perms::Action;

use super::types::{Answer, IfMatch, record};
use crate::app::App;
use crate::db::audit::{self, AuditLine};
use crate::db::series::{Series, SeriesFields};
use crate::error::Problem;
use crate::ops::access::{Actor, enter};
use crate::ops::series as ops;

/// Series that the caller may see.
#[derive(Serialize, ToSchema)]
struct SeriesList {
    items: Vec<Series>,
}

#[utoipa::path(tag = "Series", responses((status = 200, body = SeriesList), (status = "4XX", body = Problem)))]
#[get("/api/series")]
async fn list_series(app: Data<App>, actor: Actor) -> Answer {
    let items = ops::mine(&app, &actor)
        .await?
        .into_iter()
        .map(|(series, _)| series)
        .collect();
    Ok(HttpResponse::Ok().json(SeriesList { items }))
}

#[utoipa::path(tag = "Series", responses((status = 201, body = Series), (status = "4XX", body = Problem)))]
#[post("/api/series")]
async fn create_series(app: Data<App>, actor: Actor, body: Json<SeriesFields>) -> Answer {
    let made = ops::create(&app, &actor, body.into_inner()).await?;
    Ok(record(HttpResponse::Created(), made.version, &made))
}

#[utoipa::path(tag = "Series", params(("series" = Uuid, Path)),
    responses((status = 200, body = Series), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}")]
async fn read_series(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let found = ops::read(&app, &actor, path.into_inner()).await?;
    Ok(record(HttpResponse::Ok(), found.version, &found))
}

#[utoipa::path(tag = "Series", params(("series" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = Series), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}")]
async fn replace_series(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    version: IfMatch,
    body: Json<SeriesFields>,
) -> Answer {
    let made = ops::replace(
        &app,
        &actor,
        path.into_inner(),
        version.0,
        body.into_inner(),
    )
    .await?;
    Ok(record(HttpResponse::Ok(), made.version, &made))
}

#[utoipa::path(tag = "Series", params(("series" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = Series), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}")]
async fn delete_series(app: Data<App>, actor: Actor, path: Path<Uuid>, version: IfMatch) -> Answer {
    let gone = ops::set_deleted(&app, &actor, path.into_inner(), Some(version.0)).await?;
    Ok(record(HttpResponse::Ok(), gone.version, &gone))
}

#[utoipa::path(tag = "Series", params(("series" = Uuid, Path)),
    responses((status = 200, body = Series), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/restore")]
async fn restore_series(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let back = ops::set_deleted(&app, &actor, path.into_inner(), None).await?;
    Ok(record(HttpResponse::Ok(), back.version, &back))
}

/// Which lines of the trail.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct AuditQuery {
    /// Only lines about this record.
    subject_id: Option<Uuid>,
    /// Only lines older than the line with this id.
    after: Option<i64>,
}

/// Lines of the audit trail, newest first.
#[derive(Serialize, ToSchema)]
struct AuditPage {
    items: Vec<AuditLine>,
    #[schema(required)]
    next: Option<i64>,
}

#[utoipa::path(tag = "Series", params(("series" = Uuid, Path), AuditQuery),
    responses((status = 200, body = AuditPage), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/audit")]
async fn list_audit(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<AuditQuery>,
) -> Answer {
    const PAGE: usize = 100;
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, &actor, path.into_inner(), Action::ViewAudit).await?;
    let mut items = audit::of_series(
        conn,
        access.series.id,
        query.subject_id,
        query.after,
        PAGE as i64,
    )
    .await?;
    if !access.may(Action::ViewFees) {
        for line in &mut items {
            for value in [&mut line.before, &mut line.after].into_iter().flatten() {
                crate::ops::costs::blank_fees(value);
            }
        }
    }
    let next = items
        .last()
        .filter(|_| items.len() == PAGE)
        .map(|line| line.id);
    Ok(HttpResponse::Ok().json(AuditPage { items, next }))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_series)
        .service(create_series)
        .service(list_audit)
        .service(restore_series)
        .service(read_series)
        .service(replace_series)
        .service(delete_series);
}
