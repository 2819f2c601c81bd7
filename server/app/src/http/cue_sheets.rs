//! Cue sheets: the one that the cut gives now, what a person adds, and those that were issued.

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::web::{Data, Json, Path, Query};
use actix_web::{HttpResponse, get, post, put};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::music::filing::FilingRule;

use super::types::{Answer, IfMatch, Items, record};
use crate::app::App;
use crate::db::cue_sheets::{CueSheetFields, CueSheetSettings, UsageWord, VocalsWord};
use crate::db::deliverables::Deliverable;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::cue_sheets::{self as ops, CueWords, IssuedSheet, WorkingSheet};
use crate::ops::papers::{File, Form};

/// Which cut a sheet is made from.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct SheetQuery {
    /// None: the latest that is locked, else the latest.
    cut: Option<Uuid>,
}

/// A paper's form, as the last part of an address.
#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PaperEnding {
    Json,
    Pdf,
    Xlsx,
    Csv,
}

impl From<PaperEnding> for Form {
    fn from(ending: PaperEnding) -> Self {
        match ending {
            PaperEnding::Json => Self::Json,
            PaperEnding::Pdf => Self::Pdf,
            PaperEnding::Xlsx => Self::Xlsx,
            PaperEnding::Csv => Self::Csv,
        }
    }
}

/// A file to take away; its name has plain letters only.
pub fn attached(file: File) -> HttpResponse {
    let disposition = format!("attachment; filename=\"{}\"", file.name);
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, file.media_type))
        .insert_header((CONTENT_DISPOSITION, disposition))
        .insert_header((CACHE_CONTROL, "no-store"))
        .body(file.bytes)
}

/// The cue sheet that a cut gives now: cues joined from events, counted once where they overlap, with what a person said
/// of each, what is open, and what changed since the last one was issued.
#[utoipa::path(tag = "Cue sheets", params(("series" = Uuid, Path), ("episode" = Uuid, Path), SheetQuery),
    responses((status = 200, body = WorkingSheet), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/cue-sheet")]
async fn read_cue_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<SheetQuery>,
) -> Answer {
    let (series, episode) = path.into_inner();
    let sheet = ops::read(&app, &actor, series, episode, query.cut).await?;
    Ok(record(HttpResponse::Ok(), sheet.settings.version, &sheet))
}

/// The same as a file, marked as a draft.
#[utoipa::path(tag = "Cue sheets",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ("form" = String, Path), SheetQuery),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/cue-sheet/draft/{form}")]
async fn draft_cue_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, PaperEnding)>,
    query: Query<SheetQuery>,
) -> Answer {
    let (series, episode, form) = path.into_inner();
    let file = ops::draft(&app, &actor, series, episode, query.cut, form.into()).await?;
    Ok(attached(file))
}

/// Writes the head of the sheet and how its cues are counted. `If-Match: "0"` where nothing was written yet.
#[utoipa::path(tag = "Cue sheets",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = CueSheetSettings), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/episodes/{episode}/cue-sheet/settings")]
async fn write_cue_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
    body: Json<CueSheetFields>,
) -> Answer {
    let fields = body.into_inner();
    let made = ops::set_fields(&app, &actor, path.into_inner(), version.0, fields).await?;
    Ok(record(HttpResponse::Ok(), made.version, &made))
}

/// What is said of a cue, which is named by its cut, its music and its frames.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct CueBody {
    cut_id: Uuid,
    music_id: Uuid,
    record_in: i64,
    record_out: i64,
    usage: Option<UsageWord>,
    vocals: Option<VocalsWord>,
    performer_visible: Option<bool>,
    /// For the team; never printed.
    #[serde(default)]
    note: String,
}

/// Says of a cue how its music is used. `If-Match: "0"` where nothing was said of it yet.
#[utoipa::path(tag = "Cue sheets",
    params(("series" = Uuid, Path), ("episode" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = WorkingSheet), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/episodes/{episode}/cue-sheet/cue")]
async fn write_cue(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
    body: Json<CueBody>,
) -> Answer {
    let body = body.into_inner();
    let words = CueWords {
        cut_id: body.cut_id,
        music_id: body.music_id,
        record_in: body.record_in,
        record_out: body.record_out,
        usage: body.usage,
        vocals: body.vocals,
        performer_visible: body.performer_visible,
        note: body.note,
    };
    let sheet = ops::set_cue(&app, &actor, path.into_inner(), version.0, words).await?;
    Ok(record(HttpResponse::Ok(), sheet.settings.version, &sheet))
}

/// Which filing day is to be kept in sight.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct FilingBody {
    rule: FilingRule,
}

/// Makes a deliverable, and so reminders, of a day by which some society wants the sheet (R17).
#[utoipa::path(tag = "Cue sheets", params(("series" = Uuid, Path), ("episode" = Uuid, Path)),
    responses((status = 201, body = Deliverable), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/episodes/{episode}/cue-sheet/filing")]
async fn switch_filing_on(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<FilingBody>,
) -> Answer {
    let (series, episode) = path.into_inner();
    let made = ops::switch_on(&app, &actor, series, episode, body.rule).await?;
    Ok(record(HttpResponse::Created(), made.version, &made))
}

/// What is issued.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct IssueBody {
    /// The locked cut.
    cut_id: Uuid,
    /// Send it although points are open; they are printed on it.
    #[serde(default)]
    with_open_points: bool,
}

/// Issues the sheet of a locked cut: it is kept as it is sent, under the next number.
#[utoipa::path(tag = "Cue sheets", params(("series" = Uuid, Path), ("episode" = Uuid, Path)),
    responses((status = 201, body = IssuedSheet), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/episodes/{episode}/cue-sheets")]
async fn issue_cue_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<IssueBody>,
) -> Answer {
    let at = path.into_inner();
    let made = ops::issue(&app, &actor, at, body.cut_id, body.with_open_points).await?;
    Ok(HttpResponse::Created().json(made))
}

/// The issued sheets of an episode, the latest first; it says whether that one is still true, and why not (R16).
#[utoipa::path(tag = "Cue sheets", params(("series" = Uuid, Path), ("episode" = Uuid, Path)),
    responses((status = 200, body = Items<IssuedSheet>), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/episodes/{episode}/cue-sheets")]
async fn list_cue_sheets(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, episode) = path.into_inner();
    let items = ops::issued(&app, &actor, series, episode).await?;
    Ok(HttpResponse::Ok().json(Items { items }))
}

/// An issued sheet, byte for byte as it was sent.
#[utoipa::path(tag = "Cue sheets",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("form" = String, Path)),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/cue-sheets/{id}/{form}")]
async fn download_cue_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, PaperEnding)>,
) -> Answer {
    let (series, id, form) = path.into_inner();
    let file = ops::download(&app, &actor, series, id, form.into()).await?;
    Ok(attached(file))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(draft_cue_sheet)
        .service(write_cue_sheet)
        .service(write_cue)
        .service(switch_filing_on)
        .service(read_cue_sheet)
        .service(issue_cue_sheet)
        .service(list_cue_sheets)
        .service(download_cue_sheet);
}
