//! Files of the catalogue: search, and one file with all that is known of it.

use actix_web::web::{Data, Path, Query};
use actix_web::{HttpResponse, get};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::footage::logged::Logged;

use super::types::Answer;
use crate::app::App;
use crate::db::files::{FileKind, Filter};
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::files::{self as ops, FileDetail, FileItem};

/// Which files.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct FileQuery {
    /// Words or parts of words of the name, folders, card, camera or reel; all of them must be there.
    q: Option<String>,
    card: Option<Uuid>,
    drive: Option<Uuid>,
    /// A shoot day.
    day: Option<Uuid>,
    #[param(inline)]
    logged: Option<Logged>,
    person: Option<Uuid>,
    place: Option<Uuid>,
    asset: Option<Uuid>,
    music: Option<Uuid>,
    #[param(inline)]
    kind: Option<FileKind>,
    /// The `next` of the page before.
    after: Option<Uuid>,
    /// At most 500; 50 when not given.
    limit: Option<i64>,
}

/// A page of files, by name.
#[derive(Serialize, ToSchema)]
struct FileList {
    items: Vec<FileItem>,
    #[schema(required)]
    next: Option<Uuid>,
    /// Files that fit; 1,001 means more than 1,000. On the first page only.
    #[schema(required)]
    total: Option<i64>,
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), FileQuery),
    responses((status = 200, body = FileList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/files")]
async fn list_files(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<FileQuery>,
) -> Answer {
    let query = query.into_inner();
    let filter = Filter {
        words: Vec::new(),
        card: query.card,
        drive: query.drive,
        day: query.day,
        logged: query.logged,
        person: query.person,
        place: query.place,
        asset: query.asset,
        music: query.music,
        kind: query.kind,
    };
    let series = path.into_inner();
    let page = ops::list(
        &app,
        &actor,
        series,
        query.q,
        filter,
        query.after,
        query.limit,
    )
    .await?;
    Ok(HttpResponse::Ok().json(FileList {
        items: page.items,
        next: page.next,
        total: page.total,
    }))
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = FileDetail), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/files/{id}")]
async fn read_file(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    Ok(HttpResponse::Ok().json(ops::read(&app, &actor, series, id).await?))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(list_files).service(read_file);
}
