//! The board: how each episode of a series stands.

use actix_web::web::{Data, Path};
use actix_web::{HttpResponse, get};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::board::{self, BoardEpisode};

/// Episodes by number.
#[derive(Serialize, ToSchema)]
struct Board {
    episodes: Vec<BoardEpisode>,
}

#[utoipa::path(tag = "Series", params(("series" = Uuid, Path)),
    responses((status = 200, body = Board), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/board")]
async fn read_board(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let episodes = board::of_series(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(Board { episodes }))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(read_board);
}
