//! What if drives die; what to copy so that nothing stands on one copy; how well cards and episodes are kept; the names
//! of cards.

use actix_web::web::{Bytes, Data, Json, Path, Query};
use actix_web::{HttpResponse, get, post};
use futures_util::StreamExt;
use futures_util::future::ready;
use futures_util::stream::{once, try_unfold};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::error::{ApiError, OpError, Problem};
use crate::ops::access::Actor;
use crate::ops::copy_plan::{self, CopyPlan};
use crate::ops::csv::cell;
use crate::ops::keeping::{self, CardKept, Keeping};
use crate::ops::roll_names::{self, NameChange, RollNames};
use crate::ops::what_if::{self as ops, Asked, DriveLoss, FileAtRisk};

/// Files in one page of a list.
const PAGE: i64 = 500;
/// Files in one part of a downloaded list, which is read and sent part by part.
const PART: i64 = 20_000;

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct WhatIfQuery {
    /// Ids of the drives that die, with commas between them.
    drives: Option<String>,
    /// A place where all drives die.
    place: Option<String>,
    /// Bytes a second at which copying goes; 250,000,000 when not given.
    rate: Option<f64>,
    /// Share of drives that fail in a year; 0.0157 when not given.
    yearly: Option<f64>,
    /// Of the list of files: those down to one copy instead of those that are gone.
    single: Option<bool>,
    /// Of the list of files: so many are passed over.
    offset: Option<i64>,
}

impl WhatIfQuery {
    fn asked(&self) -> Result<Asked, OpError> {
        let ids = self.drives.as_deref().unwrap_or_default().split(',');
        let drives = ids
            .filter(|id| !id.trim().is_empty())
            .map(|id| id.trim().parse::<Uuid>())
            .collect::<Result<Vec<_>, _>>()
            .map_err(|error| OpError::BadRequest(format!("`drives` is no list of ids: {error}")))?;
        if drives.len() > 1000 {
            return Err(OpError::BadRequest("at most 1,000 drives are taken".into()));
        }
        Ok(Asked {
            drives,
            place: self.place.clone().filter(|place| !place.trim().is_empty()),
            rate: self.rate,
            yearly: self.yearly,
        })
    }
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), WhatIfQuery),
    responses((status = 200, body = DriveLoss), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/what-if")]
async fn read_what_if(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<WhatIfQuery>,
) -> Answer {
    let answer = ops::what_if(&app, &actor, path.into_inner(), &query.asked()?).await?;
    Ok(HttpResponse::Ok().json(answer))
}

/// Files at risk, by card and name.
#[derive(Serialize, ToSchema)]
struct FilesAtRisk {
    items: Vec<FileAtRisk>,
    /// Ask with `offset` for the next page; null on the last.
    #[schema(required)]
    next: Option<i64>,
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), WhatIfQuery),
    responses((status = 200, body = FilesAtRisk), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/what-if/files")]
async fn list_files_at_risk(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<WhatIfQuery>,
) -> Answer {
    let offset = query.offset.unwrap_or(0).max(0);
    let single = query.single.unwrap_or(false);
    let page = (offset, PAGE + 1);
    let asked = query.asked()?;
    let mut items = ops::files(&app, &actor, path.into_inner(), &asked, single, page).await?;
    let more = items.len() as i64 > PAGE;
    items.truncate(500);
    let next = more.then_some(offset + PAGE);
    Ok(HttpResponse::Ok().json(FilesAtRisk { items, next }))
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), WhatIfQuery),
    responses((status = 200, body = String, content_type = "text/csv"), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/what-if/files.csv")]
async fn read_files_at_risk_csv(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<WhatIfQuery>,
) -> Answer {
    let (single, asked, series) = (
        query.single.unwrap_or(false),
        query.asked()?,
        path.into_inner(),
    );
    // the first part here, so that what is wrong with the question is a problem and no broken download
    let first = ops::files(&app, &actor, series, &asked, single, (0, PART)).await?;
    let head = "card,name,bytes,drive,path\r\n".to_owned();
    let next = (first.len() as i64 == PART).then_some(PART);
    let rest = try_unfold(next, move |offset| {
        let (app, actor, asked) = (app.clone(), actor.clone(), asked.clone());
        async move {
            let Some(offset) = offset else {
                return Ok::<_, ApiError>(None);
            };
            let part = (offset, PART);
            let rows = ops::files(&app, &actor, series, &asked, single, part).await?;
            let follows = (rows.len() as i64 == PART).then(|| offset.saturating_add(PART));
            Ok(Some((lines(String::new(), &rows), follows)))
        }
    });
    let body = once(ready(Ok(lines(head, &first))))
        .chain(rest)
        .map(|part| part.map(Bytes::from).map_err(actix_web::Error::from));
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header((
            "content-disposition",
            "attachment; filename=\"files-at-risk.csv\"",
        ))
        .streaming(body))
}

/// The files as lines of a table, after what stands before them.
fn lines(mut text: String, rows: &[FileAtRisk]) -> String {
    for row in rows {
        let card = row.card.as_deref().unwrap_or_default();
        let cells = [
            card,
            &row.name,
            &row.size.to_string(),
            &row.drive,
            &row.path,
        ]
        .map(cell);
        text.push_str(&cells.join(","));
        text.push_str("\r\n");
    }
    text
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct CopyPlanQuery {
    /// Whether a copy must go to another place.
    apart: Option<bool>,
    /// Bytes a second at which copying goes; 250,000,000 when not given.
    rate: Option<f64>,
}

#[utoipa::path(tag = "Drives", params(("series" = Uuid, Path), CopyPlanQuery),
    responses((status = 200, body = CopyPlan), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/copy-plan")]
async fn read_copy_plan(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<CopyPlanQuery>,
) -> Answer {
    let (apart, rate) = (query.apart.unwrap_or(false), query.rate.unwrap_or(250e6));
    let plan = copy_plan::copy_plan(&app, &actor, path.into_inner(), apart, rate).await?;
    Ok(HttpResponse::Ok().json(plan))
}

#[utoipa::path(tag = "Cards", params(("series" = Uuid, Path)),
    responses((status = 200, body = Keeping), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/keeping")]
async fn read_keeping(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    Ok(HttpResponse::Ok().json(keeping::all(&app, &actor, path.into_inner()).await?))
}

#[utoipa::path(tag = "Cards", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = CardKept), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cards/{id}/keeping")]
async fn read_card_keeping(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, card) = path.into_inner();
    Ok(HttpResponse::Ok().json(keeping::of_card(&app, &actor, series, card).await?))
}

#[utoipa::path(tag = "Cards", params(("series" = Uuid, Path)),
    responses((status = 200, body = RollNames), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/roll-names")]
async fn read_roll_names(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    Ok(HttpResponse::Ok().json(roll_names::check(&app, &actor, path.into_inner()).await?))
}

/// Cards to be renamed in the catalogue.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NameChanges {
    renamings: Vec<NameChange>,
}

#[utoipa::path(tag = "Cards", params(("series" = Uuid, Path)), request_body = NameChanges,
    responses((status = 200, body = RollNames), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/roll-names")]
async fn rename_rolls(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<NameChanges>,
) -> Answer {
    let wanted = body.into_inner().renamings;
    let names = roll_names::rename(&app, &actor, path.into_inner(), wanted).await?;
    Ok(HttpResponse::Ok().json(names))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(read_what_if)
        .service(list_files_at_risk)
        .service(read_files_at_risk_csv)
        .service(read_copy_plan)
        .service(read_keeping)
        .service(read_card_keeping)
        .service(read_roll_names)
        .service(rename_rolls);
}
