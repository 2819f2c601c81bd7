//! Cuts: import as the raw file, list, lock, bin, and the sources of their events.

use actix_web::web::{Bytes, Data, Json, Path, Payload, Query};
use actix_web::{HttpResponse, delete, get, post, put};
use futures_util::StreamExt;
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::matching::{Item, Target};

use super::types::{Answer, IfMatch, Items, record};
use crate::app::App;
use crate::db::cuts::CutFormat;
use crate::error::{OpError, Problem};
use crate::ops::access::Actor;
use crate::ops::cuts::{self as ops, Cut, Upload};

/// The largest cut that is taken.
const CUT_LIMIT: usize = 20 << 20;

/// What is said beside the file itself.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct CutQuery {
    /// Name of the cut, such as `EP03_CUT_260714_v2`: its date and version decide which cut is the latest.
    /// The file's name without its extension where none is given.
    name: Option<String>,
    /// Name of the file.
    file: Option<String>,
    /// Frame rate of an edit list, such as `25` or `29.97df`; the series' usual rate where none is given.
    rate: Option<String>,
    /// Where neither content nor file name say which.
    format: Option<CutFormat>,
}

/// Takes an edit decision list or OpenTimelineIO JSON as it is. The same content at the same rate is taken once per
/// episode: again it is a `conflict` that names the cut.
#[utoipa::path(tag = "Cuts", params(("series" = Uuid, Path), ("episode" = Uuid, Path), CutQuery),
    request_body(content = String, description = "The file as it is, at most 20 MiB", content_type = "text/plain"),
    responses((status = 201, body = Cut), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/episodes/{episode}/cuts")]
async fn import_cut(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<CutQuery>,
    payload: Payload,
) -> Answer {
    let (series, episode) = path.into_inner();
    let query = query.into_inner();
    let upload = Upload {
        name: query.name,
        file: query.file,
        rate: query.rate,
        format: query.format,
        body: whole(payload, CUT_LIMIT).await?,
    };
    let made = ops::import(&app, &actor, series, episode, upload).await?;
    Ok(record(HttpResponse::Created(), made.head.version, &made))
}

/// The whole body, refused when it is larger than `limit` or broke off.
async fn whole(mut payload: Payload, limit: usize) -> Result<Bytes, OpError> {
    let mut body = actix_web::web::BytesMut::new();
    while let Some(chunk) = payload.next().await {
        let chunk = chunk.map_err(|error| {
            OpError::BadRequest(format!(
                "the upload broke off ({error}); nothing was saved, send it again"
            ))
        })?;
        if body.len() + chunk.len() > limit {
            return Err(OpError::TooLarge(format!(
                "a cut of at most {} MiB is taken",
                limit >> 20
            )));
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body.freeze())
}

#[utoipa::path(tag = "Cuts", params(("series" = Uuid, Path), ("episode" = Uuid, Path)),
    responses((status = 200, body = Items<Cut>), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/cuts")]
async fn list_cuts(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, episode) = path.into_inner();
    let items = ops::list(&app, &actor, series, episode).await?;
    Ok(HttpResponse::Ok().json(Items { items }))
}

#[utoipa::path(tag = "Cuts", params(("series" = Uuid, Path), ("cut" = Uuid, Path)),
    responses((status = 200, body = Cut), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cuts/{cut}")]
async fn read_cut(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let found = ops::read(&app, &actor, series, id).await?;
    Ok(record(HttpResponse::Ok(), found.head.version, &found))
}

#[utoipa::path(tag = "Cuts",
    params(("series" = Uuid, Path), ("cut" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = Cut), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/cuts/{cut}")]
async fn delete_cut(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
) -> Answer {
    let (series, id) = path.into_inner();
    let gone = ops::set_deleted(&app, &actor, series, id, Some(version.0)).await?;
    Ok(record(HttpResponse::Ok(), gone.head.version, &gone))
}

#[utoipa::path(tag = "Cuts", params(("series" = Uuid, Path), ("cut" = Uuid, Path)),
    responses((status = 200, body = Cut), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/cuts/{cut}/restore")]
async fn restore_cut(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let back = ops::set_deleted(&app, &actor, series, id, None).await?;
    Ok(record(HttpResponse::Ok(), back.head.version, &back))
}

/// Whether a cut is locked.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct CutLock {
    locked: bool,
    /// Needed to unlock; the audit trail keeps it.
    #[serde(default)]
    reason: String,
}

#[utoipa::path(tag = "Cuts",
    params(("series" = Uuid, Path), ("cut" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = Cut), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/cuts/{cut}/lock")]
async fn lock_cut(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
    body: Json<CutLock>,
) -> Answer {
    let CutLock { locked, reason } = body.into_inner();
    let made = ops::set_locked(&app, &actor, path.into_inner(), version.0, locked, &reason).await?;
    Ok(record(HttpResponse::Ok(), made.head.version, &made))
}

/// Looks for the sources of all events again. Happens by itself when a scan is complete and when an import or a piece
/// of music changes.
#[utoipa::path(tag = "Cuts", params(("series" = Uuid, Path), ("cut" = Uuid, Path)),
    responses((status = 200, body = Cut), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/cuts/{cut}/match")]
async fn match_cut(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let cut = ops::match_again(&app, &actor, series, id).await?;
    Ok(record(HttpResponse::Ok(), cut.head.version, &cut))
}

/// What an event uses: exactly one of the ids, or `none` to take an earlier choice back.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct MatchChoice {
    file_id: Option<Uuid>,
    asset_id: Option<Uuid>,
    music_id: Option<Uuid>,
    #[serde(default)]
    none: bool,
}

impl MatchChoice {
    fn target(self) -> Result<Option<Target>, OpError> {
        let chosen: Vec<Target> = [
            self.file_id.map(Target::File),
            self.asset_id.map(|id| Target::Item(Item::Asset(id))),
            self.music_id.map(|id| Target::Item(Item::Music(id))),
        ]
        .into_iter()
        .flatten()
        .collect();
        match (chosen.as_slice(), self.none) {
            ([one], false) => Ok(Some(*one)),
            ([], true) => Ok(None),
            _ => Err(OpError::field(
                "",
                "Give one of file_id, asset_id and music_id, or none: true.",
            )),
        }
    }
}

/// Says by hand what an event uses. Remembered for the series: it holds for every event with the same source, in this
/// cut and in those to come.
#[utoipa::path(tag = "Cuts",
    params(("series" = Uuid, Path), ("cut" = Uuid, Path), ("position" = i32, Path)),
    responses((status = 200, body = Cut), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/cuts/{cut}/events/{position}/match")]
async fn match_event(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, i32)>,
    body: Json<MatchChoice>,
) -> Answer {
    let (series, id, position) = path.into_inner();
    let chosen = body.into_inner().target()?;
    let cut = ops::match_by_hand(&app, &actor, series, id, position, chosen).await?;
    Ok(record(HttpResponse::Ok(), cut.head.version, &cut))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(import_cut)
        .service(list_cuts)
        .service(match_event)
        .service(match_cut)
        .service(restore_cut)
        .service(lock_cut)
        .service(read_cut)
        .service(delete_cut);
}
