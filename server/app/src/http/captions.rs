//! Captions of a cut, and their check against confirmed names.

use actix_web::web::{Data, Json, Path};
use actix_web::{HttpResponse, get, post, put};
use serde::Deserialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::{Answer, IfMatch, Items, record};
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::captions::{self as ops, CaptionDraft, CaptionList};

/// All captions of a cut.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct CaptionsBody {
    items: Vec<CaptionDraft>,
}

/// Pasted lines.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct CaptionLines {
    /// A caption to a line: in, out, name, role, apart by tabs or bars.
    text: String,
}

/// The captions of a cut, each checked against the name that its person confirmed and what they asked for (R36, R23).
#[utoipa::path(tag = "Captions", params(("series" = Uuid, Path), ("cut" = Uuid, Path)),
    responses((status = 200, body = CaptionList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cuts/{cut}/captions")]
async fn list_captions(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, cut) = path.into_inner();
    let list = ops::list(&app, &actor, series, cut).await?;
    Ok(record(HttpResponse::Ok(), list.version, &list))
}

/// Replaces them all. `If-Match: "0"` where none were entered yet.
#[utoipa::path(tag = "Captions",
    params(("series" = Uuid, Path), ("cut" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = CaptionList), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/cuts/{cut}/captions")]
async fn replace_captions(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
    body: Json<CaptionsBody>,
) -> Answer {
    let list = ops::replace(&app, &actor, path.into_inner(), version.0, &body.items).await?;
    Ok(record(HttpResponse::Ok(), list.version, &list))
}

/// Reads pasted lines as captions, with the person whom each most likely names. Nothing is kept.
#[utoipa::path(tag = "Captions", params(("series" = Uuid, Path), ("cut" = Uuid, Path)),
    responses((status = 200, body = Items<CaptionDraft>), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/cuts/{cut}/captions/read")]
async fn read_captions(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<CaptionLines>,
) -> Answer {
    let items = ops::read(&app, &actor, path.into_inner(), &body.text).await?;
    Ok(HttpResponse::Ok().json(Items { items }))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(read_captions)
        .service(replace_captions)
        .service(list_captions);
}
