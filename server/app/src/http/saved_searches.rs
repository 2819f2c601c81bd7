//! Searches that somebody keeps.

use actix_web::web::{Data, Json, Path};
use actix_web::{HttpResponse, delete, get, post, put};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::{Answer, IfMatch, record};
use crate::app::App;
use crate::db::saved_searches::{SavedSearch, SavedSearchFields};
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::saved_searches as ops;

/// One's own and the shared ones, by name.
#[derive(Serialize, ToSchema)]
struct SavedSearchList {
    items: Vec<SavedSearch>,
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path)),
    responses((status = 200, body = SavedSearchList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/saved-searches")]
async fn list_saved_searches(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let items = ops::list(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(SavedSearchList { items }))
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path)),
    responses((status = 201, body = SavedSearch), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/saved-searches")]
async fn create_saved_search(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<SavedSearchFields>,
) -> Answer {
    let made = ops::create(&app, &actor, path.into_inner(), body.into_inner()).await?;
    Ok(record(HttpResponse::Created(), made.version, &made))
}

#[utoipa::path(tag = "Files",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = SavedSearch), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/saved-searches/{id}")]
async fn replace_saved_search(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
    body: Json<SavedSearchFields>,
) -> Answer {
    let (series, id) = path.into_inner();
    let made = ops::replace(&app, &actor, series, id, version.0, body.into_inner()).await?;
    Ok(record(HttpResponse::Ok(), made.version, &made))
}

#[utoipa::path(tag = "Files",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = SavedSearch), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/saved-searches/{id}")]
async fn delete_saved_search(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
) -> Answer {
    let (series, id) = path.into_inner();
    let gone = ops::set_deleted(&app, &actor, series, id, Some(version.0)).await?;
    Ok(record(HttpResponse::Ok(), gone.version, &gone))
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = SavedSearch), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/saved-searches/{id}/restore")]
async fn restore_saved_search(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let back = ops::set_deleted(&app, &actor, series, id, None).await?;
    Ok(record(HttpResponse::Ok(), back.version, &back))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_saved_searches)
        .service(create_saved_search)
        .service(restore_saved_search)
        .service(replace_saved_search)
        .service(delete_saved_search);
}
