//! Papers of an episode as pages and files, the insurer's checklist, the binder of scans, and the costs of a series.

use actix_web::HttpResponse;
use actix_web::web::{Data, Json, Path, Query};
use actix_web::{get, put};
use serde::Deserialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::papers::PrintedPaper;

use super::clearance::ClearanceQuery;
use super::cue_sheets::{PaperEnding, attached};
use super::types::{Answer, IfMatch, record};
use crate::app::App;
use crate::db::papers::{AnswerRow, ChecklistAnswer};
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::costs::{self, CostSummary};
use crate::ops::papers::checklist::{self, Checklist};
use crate::ops::papers::{binder, episode};
use crate::ops::report::Purpose;

/// A paper about an episode, as part of an address.
#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
enum PaperKind {
    ThirdParty,
    Credits,
    Checklist,
    ChainOfTitle,
}

impl From<PaperKind> for episode::Kind {
    fn from(kind: PaperKind) -> Self {
        match kind {
            PaperKind::ThirdParty => Self::ThirdParty,
            PaperKind::Credits => Self::Credits,
            PaperKind::Checklist => Self::Checklist,
            PaperKind::ChainOfTitle => Self::ChainOfTitle,
        }
    }
}

/// A paper about an episode's cut, for a page.
#[utoipa::path(tag = "Papers",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ("kind" = String, Path), ClearanceQuery),
    responses((status = 200, body = PrintedPaper), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/papers/{kind}")]
async fn read_paper(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, PaperKind)>,
    query: Query<ClearanceQuery>,
) -> Answer {
    let (series, episode, kind) = path.into_inner();
    let asked = query.into_inner().into();
    let paper = episode::read(&app, &actor, (series, episode), asked, kind.into()).await?;
    Ok(HttpResponse::Ok().json(paper))
}

/// The same paper as a file.
#[utoipa::path(tag = "Papers",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ("kind" = String, Path), ("form" = String, Path),
        ClearanceQuery),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/papers/{kind}/{form}")]
async fn download_paper(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, PaperKind, PaperEnding)>,
    query: Query<ClearanceQuery>,
) -> Answer {
    let (series, episode, kind, form) = path.into_inner();
    let asked = query.into_inner().into();
    let which = (kind.into(), form.into());
    let ids = (series, episode);
    let file = episode::file(&app, &actor, ids, asked, which, Purpose::Download).await?;
    Ok(attached(file))
}

/// One document with the scans of all releases and licences behind a cut, each behind a page that says what it is and
/// its SHA-256. Scans that the caller may not see are left out, and the contents say so.
#[utoipa::path(tag = "Papers",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ClearanceQuery),
    responses((status = 200, content_type = "application/pdf", body = Vec<u8>), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/binder.pdf")]
async fn download_binder(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ClearanceQuery>,
) -> Answer {
    let asked = query.into_inner().into();
    let file = binder::file(&app, &actor, path.into_inner(), asked).await?;
    Ok(attached(file))
}

/// The insurer's checklist of an episode: what the records say of each point, and what a person answered.
#[utoipa::path(tag = "Papers",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ClearanceQuery),
    responses((status = 200, body = Checklist), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/checklist")]
async fn read_checklist(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ClearanceQuery>,
) -> Answer {
    let asked = query.into_inner().into();
    let list = checklist::read(&app, &actor, path.into_inner(), asked).await?;
    Ok(HttpResponse::Ok().json(list))
}

/// An answer to a point of the checklist.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ChecklistBody {
    answer: ChecklistAnswer,
    /// Needed with `not_applicable`.
    #[serde(default)]
    note: String,
}

/// Answers a point. `If-Match: "0"` where it was not answered yet.
#[utoipa::path(tag = "Papers",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ("item" = String, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = AnswerRow), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/episodes/{episode}/checklist/{item}")]
async fn answer_checklist(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, String)>,
    version: IfMatch,
    body: Json<ChecklistBody>,
) -> Answer {
    let (series, episode, item) = path.into_inner();
    let ChecklistBody { answer, note } = body.into_inner();
    let ids = (series, episode);
    let made = checklist::answer(&app, &actor, ids, &item, version.0, (answer, note)).await?;
    Ok(record(HttpResponse::Ok(), made.version, &made))
}

/// What licences cost against the budgets, per episode and currency. Needs the right to see fees.
#[utoipa::path(tag = "Papers", params(("series" = Uuid, Path)),
    responses((status = 200, body = CostSummary), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cost-summary")]
async fn read_cost_summary(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let summary = costs::summary(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(summary))
}

/// The same as a file, licence by licence.
#[utoipa::path(tag = "Papers", params(("series" = Uuid, Path), ("form" = String, Path)),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cost-summary/{form}")]
async fn download_costs(app: Data<App>, actor: Actor, path: Path<(Uuid, PaperEnding)>) -> Answer {
    let (series, form) = path.into_inner();
    let file = costs::file(&app, &actor, series, form.into()).await?;
    Ok(attached(file))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(download_paper)
        .service(read_paper)
        .service(download_binder)
        .service(answer_checklist)
        .service(read_checklist)
        .service(download_costs)
        .service(read_cost_summary);
}
