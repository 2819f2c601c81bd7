//! Shots and selects: what kind of shot a file or a part of it is, how good, what is seen in it.

use actix_web::web::{Data, Json, Path, Query};
use actix_web::{HttpResponse, delete, get, post, put};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::log::ids;
use super::types::{Answer, IfMatch, record};
use crate::app::App;
use crate::db::shots::Shot;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::log::RIGHTS;
use crate::ops::records;
use crate::ops::shots::{self as ops, ShotInput};

/// Which shots.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ShotQuery {
    /// Ids of files, with commas between; at most 500. Without, no file is asked for.
    files: Option<String>,
}

/// Shots of files.
#[derive(Serialize, ToSchema)]
struct ShotList {
    items: Vec<Shot>,
}

#[utoipa::path(tag = "Shots", params(("series" = Uuid, Path), ShotQuery),
    responses((status = 200, body = ShotList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/shots")]
async fn list_shots(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<ShotQuery>,
) -> Answer {
    let files = query
        .files
        .as_deref()
        .map(ids)
        .transpose()?
        .unwrap_or_default();
    let items = ops::list(&app, &actor, path.into_inner(), &files).await?;
    Ok(HttpResponse::Ok().json(ShotList { items }))
}

/// Marks each of the files, or none.
#[utoipa::path(tag = "Shots", params(("series" = Uuid, Path)),
    responses((status = 201, body = ShotList), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/shots")]
async fn create_shots(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<ShotInput>,
) -> Answer {
    let items = ops::create(&app, &actor, path.into_inner(), body.into_inner()).await?;
    Ok(HttpResponse::Created().json(ShotList { items }))
}

/// Replaces a mark; the file stays.
#[utoipa::path(tag = "Shots",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = Shot), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/shots/{id}")]
async fn replace_shot(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
    body: Json<ShotInput>,
) -> Answer {
    let (series, id) = path.into_inner();
    let made = ops::replace(&app, &actor, series, id, version.0, body.into_inner()).await?;
    Ok(record(HttpResponse::Ok(), made.version, &made))
}

#[utoipa::path(tag = "Shots",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = Shot), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/shots/{id}")]
async fn delete_shot(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
) -> Answer {
    let (series, id) = path.into_inner();
    let gone = records::remove::<Shot>(&app, &actor, series, RIGHTS, id, version.0).await?;
    Ok(record(HttpResponse::Ok(), gone.version, &gone))
}

#[utoipa::path(tag = "Shots", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = Shot), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/shots/{id}/restore")]
async fn restore_shot(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let back = records::restore::<Shot>(&app, &actor, series, RIGHTS, id).await?;
    Ok(record(HttpResponse::Ok(), back.version, &back))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_shots)
        .service(create_shots)
        .service(restore_shot)
        .service(replace_shot)
        .service(delete_shot);
}
