//! Reminders of a series, and the mail queue for administrators.

use actix_web::web::{Data, Path};
use actix_web::{HttpResponse, get, post};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::mails::{self, MailView};
use crate::ops::reminders::{self as ops, ReminderView};

/// Reminders, soonest first.
#[derive(Serialize, ToSchema)]
struct ReminderList {
    items: Vec<ReminderView>,
}

#[utoipa::path(tag = "Reminders", params(("series" = Uuid, Path)),
    responses((status = 200, body = ReminderList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/reminders")]
async fn list_reminders(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let items = ops::list(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(ReminderList { items }))
}

#[utoipa::path(tag = "Reminders", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/reminders/{id}/acknowledge")]
async fn acknowledge_reminder(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    ops::acknowledge(&app, &actor, series, id).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Mails of the last weeks, newest first.
#[derive(Serialize, ToSchema)]
struct MailList {
    items: Vec<MailView>,
}

#[utoipa::path(tag = "Reminders", responses((status = 200, body = MailList), (status = "4XX", body = Problem)))]
#[get("/api/mails")]
async fn list_mails(app: Data<App>, actor: Actor) -> Answer {
    let items = mails::list(&app, &actor).await?;
    Ok(HttpResponse::Ok().json(MailList { items }))
}

#[utoipa::path(tag = "Reminders", params(("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[post("/api/mails/{id}/send-again")]
async fn send_mail_again(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    mails::send_again(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_reminders)
        .service(acknowledge_reminder)
        .service(list_mails)
        .service(send_mail_again);
}
