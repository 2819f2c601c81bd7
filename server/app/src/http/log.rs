//! The in-shot log: who and what is in the footage.

use actix_web::web::{Data, Json, Path, Query};
use actix_web::{HttpResponse, delete, get, post, put};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::{Answer, IfMatch, record};
use crate::app::App;
use crate::db::log::LogEntry;
use crate::db::log_lines::{LogFilter, LogLine};
use crate::error::{OpError, Problem};
use crate::ops::access::Actor;
use crate::ops::log::{self as ops, LogInput};
use crate::ops::records;

/// Which entries.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct LogQuery {
    /// Ids of files, with commas between; at most 500.
    files: Option<String>,
    person: Option<Uuid>,
    place: Option<Uuid>,
    asset: Option<Uuid>,
    music: Option<Uuid>,
    /// The `next` of the page before.
    after: Option<Uuid>,
    /// At most 500; 200 when not given.
    limit: Option<i64>,
}

/// A page of the log.
#[derive(Serialize, ToSchema)]
struct LogPage {
    items: Vec<LogLine>,
    #[schema(required)]
    next: Option<Uuid>,
}

#[utoipa::path(tag = "Log", params(("series" = Uuid, Path), LogQuery),
    responses((status = 200, body = LogPage), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/log")]
async fn list_log(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<LogQuery>,
) -> Answer {
    let query = query.into_inner();
    let files = query.files.as_deref().map(ids).transpose()?;
    let filter = LogFilter {
        files,
        person: query.person,
        place: query.place,
        asset: query.asset,
        music: query.music,
    };
    let series = path.into_inner();
    let (items, next) = ops::list(&app, &actor, series, filter, query.after, query.limit).await?;
    Ok(HttpResponse::Ok().json(LogPage { items, next }))
}

/// Ids with commas between.
///
/// # Errors
/// `BadRequest` for what is none, and for more than 500.
pub fn ids(text: &str) -> Result<Vec<Uuid>, OpError> {
    let ids: Result<Vec<Uuid>, _> = text
        .split(',')
        .take(501)
        .map(|id| id.trim().parse())
        .collect();
    ids.ok().filter(|ids| ids.len() <= 500).ok_or_else(|| {
        OpError::BadRequest("`files` takes up to 500 ids with commas between them".into())
    })
}

/// The entries made.
#[derive(Serialize, ToSchema)]
struct LogMade {
    items: Vec<LogEntry>,
}

/// Makes the same entry for each of the files, or none at all.
#[utoipa::path(tag = "Log", params(("series" = Uuid, Path)),
    responses((status = 201, body = LogMade), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/log")]
async fn create_log(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<LogInput>,
) -> Answer {
    let items = ops::create(&app, &actor, path.into_inner(), body.into_inner()).await?;
    Ok(HttpResponse::Created().json(LogMade { items }))
}

#[utoipa::path(tag = "Log", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = LogEntry), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/log/{id}")]
async fn read_log_entry(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let found = records::read::<LogEntry>(&app, &actor, series, ops::RIGHTS, id).await?;
    Ok(record(HttpResponse::Ok(), found.version, &found))
}

#[utoipa::path(tag = "Log",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = LogEntry), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/log/{id}")]
async fn replace_log_entry(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
    body: Json<LogInput>,
) -> Answer {
    let (series, id) = path.into_inner();
    let made = ops::replace(&app, &actor, series, id, version.0, body.into_inner()).await?;
    Ok(record(HttpResponse::Ok(), made.version, &made))
}

#[utoipa::path(tag = "Log",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = LogEntry), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/log/{id}")]
async fn delete_log_entry(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
) -> Answer {
    let (series, id) = path.into_inner();
    let gone =
        records::remove::<LogEntry>(&app, &actor, series, ops::RIGHTS, id, version.0).await?;
    Ok(record(HttpResponse::Ok(), gone.version, &gone))
}

#[utoipa::path(tag = "Log", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = LogEntry), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/log/{id}/restore")]
async fn restore_log_entry(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let back = records::restore::<LogEntry>(&app, &actor, series, ops::RIGHTS, id).await?;
    Ok(record(HttpResponse::Ok(), back.version, &back))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_log)
        .service(create_log)
        .service(restore_log_entry)
        .service(read_log_entry)
        .service(replace_log_entry)
        .service(delete_log_entry);
}
