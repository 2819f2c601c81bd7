//! The clearance of a cut, as a table of elements and as a strip of events.

use actix_web::web::{Data, Path, Query};
use actix_web::{HttpResponse, get};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::clearance::{self as ops, Asked, Clearance, CutEvents};

/// Which clearance is asked for.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ClearanceQuery {
    /// A delivery specification; the one that the episode owes first where none is given, else the oldest.
    pub spec: Option<Uuid>,
    /// A cut of the episode; the latest where none is given.
    pub cut: Option<Uuid>,
}

impl From<ClearanceQuery> for Asked {
    fn from(query: ClearanceQuery) -> Self {
        Self {
            specification: query.spec,
            cut: query.cut,
        }
    }
}

/// Whether everything in the cut may be shown where, when and how the delivery needs it, with every reason.
/// `conflict` when the episode has no cut, or the series no specification, yet.
#[utoipa::path(tag = "Clearance",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ClearanceQuery),
    responses((status = 200, body = Clearance), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/clearance")]
async fn read_clearance(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ClearanceQuery>,
) -> Answer {
    let (series, episode) = path.into_inner();
    let asked = query.into_inner().into();
    let found = ops::answer(&app, &actor, series, episode, asked).await?;
    Ok(HttpResponse::Ok().json(found))
}

/// Against which delivery the events are measured.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct StripQuery {
    /// As for the clearance.
    spec: Option<Uuid>,
}

/// The cut as a strip: every event with its source, its scene and the worst state among what is in it.
#[utoipa::path(tag = "Clearance", params(("series" = Uuid, Path), ("cut" = Uuid, Path), StripQuery),
    responses((status = 200, body = CutEvents), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cuts/{cut}/events")]
async fn list_cut_events(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<StripQuery>,
) -> Answer {
    let (series, cut) = path.into_inner();
    let found = ops::events(&app, &actor, series, cut, query.spec).await?;
    Ok(HttpResponse::Ok().json(found))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(read_clearance).service(list_cut_events);
}
