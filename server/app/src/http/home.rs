//! Today.

use actix_web::web::Data;
use actix_web::{HttpResponse, get};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::home::{self, Attention};

/// What needs attention, soonest first.
#[derive(Serialize, ToSchema)]
struct AttentionList {
    items: Vec<Attention>,
}

#[utoipa::path(tag = "Today", responses((status = 200, body = AttentionList), (status = "4XX", body = Problem)))]
#[get("/api/home")]
async fn read_home(app: Data<App>, actor: Actor) -> Answer {
    let items = home::attention(&app, &actor).await?;
    Ok(HttpResponse::Ok().json(AttentionList { items }))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(read_home);
}
