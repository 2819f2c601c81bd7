//! Cards beyond their record: copies, what stands against wiping one, post's reports.

use actix_web::web::{Data, Json, Path};
use actix_web::{HttpResponse, get, post};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::db::wipe::CardCopies;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::cards::{self as ops, CardSafety};

/// How many copies each card has.
#[derive(Serialize, ToSchema)]
struct CardCopiesList {
    items: Vec<CardCopies>,
}

#[utoipa::path(tag = "Cards", params(("series" = Uuid, Path)),
    responses((status = 200, body = CardCopiesList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/card-copies")]
async fn list_card_copies(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let items = ops::copies(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(CardCopiesList { items }))
}

#[utoipa::path(tag = "Cards", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = CardSafety), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cards/{id}/safety")]
async fn read_card_safety(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, card) = path.into_inner();
    Ok(HttpResponse::Ok().json(ops::safety(&app, &actor, series, card).await?))
}

/// Post's word on a card.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewCardReport {
    /// Whether all of it is good.
    positive: bool,
    /// What is wrong, where it is not.
    #[serde(default)]
    words: String,
}

#[utoipa::path(tag = "Cards", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = CardSafety), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/cards/{id}/reports")]
async fn report_card(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<NewCardReport>,
) -> Answer {
    let body = body.into_inner();
    let safety = ops::report(&app, &actor, path.into_inner(), body.positive, body.words).await?;
    Ok(HttpResponse::Ok().json(safety))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_card_copies)
        .service(read_card_safety)
        .service(report_card);
}
