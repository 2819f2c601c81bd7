//! Lists: a file in, a preview, the import, its undo; lists out.

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::web::{Data, Json, Path, Payload, Query};
use actix_web::{HttpResponse, delete, get, post};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::sheet::{SheetKind, SheetMapping};

use super::documents::attachment;
use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::sheets::export::{ExportAsk, export};
use crate::ops::sheets::import::{ImportAsk, SheetImport, bring_in, faulty_rows, list};
use crate::ops::sheets::preview::{RowsShown, SheetPreview, preview};
use crate::ops::sheets::undo::undo;
use crate::ops::sheets::{self as ops, KeptMapping, SheetAsk, SheetUpload};

/// What an upload is.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct SheetQuery {
    kind: SheetKind,
    /// Name of the file.
    name: String,
}

/// Which kept mappings.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct SheetKindQuery {
    /// For this kind of list; all that the person may bring in when not given.
    kind: Option<SheetKind>,
}

/// What the preview is asked for.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PreviewAsk {
    #[serde(default)]
    ask: SheetAsk,
    #[serde(default)]
    show: RowsShown,
}

/// A mapping to be kept under a name.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewMapping {
    kind: SheetKind,
    name: String,
    mapping: SheetMapping,
}

/// Mappings by name.
#[derive(Serialize, ToSchema)]
struct KeptMappings {
    items: Vec<KeptMapping>,
}

/// Imports, the newest first.
#[derive(Serialize, ToSchema)]
struct SheetImports {
    items: Vec<SheetImport>,
}

/// Send the file itself as the body: XLSX, or text with separators in UTF-8, UTF-16 or Windows-1252, up to 10 MB,
/// 20,000 rows and 200 columns. It is kept for a day, for its sender alone, and stores nothing yet.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path), SheetQuery),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 201, body = SheetUpload), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sheets")]
async fn send_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<SheetQuery>,
    body: Payload,
) -> Answer {
    let query = query.into_inner();
    let made = ops::receive(
        &app,
        &actor,
        path.into_inner(),
        query.kind,
        &query.name,
        body,
    )
    .await?;
    Ok(HttpResponse::Created().json(made))
}

/// Says of each row what it would do. Stores nothing.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = SheetPreview), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sheets/{id}/preview")]
async fn preview_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<PreviewAsk>,
) -> Answer {
    let (series, id) = path.into_inner();
    let view = preview(&app, &actor, series, id, &body.ask, &body.show).await?;
    Ok(HttpResponse::Ok()
        .insert_header((CACHE_CONTROL, "no-store"))
        .json(view))
}

/// Brings the list in: all of it or nothing, or with `only_good` the rows without an error.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 201, body = SheetImport), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sheets/{id}/import")]
async fn import_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<ImportAsk>,
) -> Answer {
    let (series, id) = path.into_inner();
    let made = bring_in(&app, &actor, series, id, &body).await?;
    Ok(HttpResponse::Created().json(made))
}

/// The rows in error as CSV, with a column that says what is wrong.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = Vec<u8>, content_type = "text/csv"), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sheets/{id}/faulty-rows")]
async fn read_faulty_rows(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<SheetAsk>,
) -> Answer {
    let (series, id) = path.into_inner();
    let bytes = faulty_rows(&app, &actor, series, id, &body).await?;
    Ok(file("rows-in-error.csv", "text/csv; charset=utf-8", bytes))
}

/// Deletes a file before its day is over.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/sheets/{id}")]
async fn forget_sheet(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    ops::forget(&app, &actor, series, id).await?;
    Ok(HttpResponse::NoContent().finish())
}

#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path), SheetKindQuery),
    responses((status = 200, body = KeptMappings), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/sheet-mappings")]
async fn list_sheet_mappings(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<SheetKindQuery>,
) -> Answer {
    let items = ops::mappings(&app, &actor, path.into_inner(), query.kind).await?;
    Ok(HttpResponse::Ok().json(KeptMappings { items }))
}

/// Keeps a mapping under a name, in place of one that had the name.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path)),
    responses((status = 201, body = KeptMapping), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sheet-mappings")]
async fn keep_sheet_mapping(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<NewMapping>,
) -> Answer {
    let body = body.into_inner();
    let kept = ops::keep_mapping(
        &app,
        &actor,
        path.into_inner(),
        body.kind,
        &body.name,
        body.mapping,
    )
    .await?;
    Ok(HttpResponse::Created().json(kept))
}

#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/sheet-mappings/{id}")]
async fn forget_sheet_mapping(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    ops::forget_mapping(&app, &actor, series, id).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// What was brought in, by whom, when, from which file.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path)),
    responses((status = 200, body = SheetImports), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/sheet-imports")]
async fn list_sheet_imports(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let items = list(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(SheetImports { items }))
}

/// Takes an import back as one act. What was changed since, or is in use by now, is named in `kept` and left.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = SheetImport), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sheet-imports/{id}/undo")]
async fn undo_sheet_import(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let undone = undo(&app, &actor, series, id).await?;
    Ok(HttpResponse::Ok().json(undone))
}

/// A list as a file that can be brought in again.
#[utoipa::path(tag = "Lists", params(("series" = Uuid, Path)),
    responses((status = 200, body = Vec<u8>, content_type = "application/octet-stream"),
        (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sheet-exports")]
async fn export_sheet(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<ExportAsk>,
) -> Answer {
    let made = export(&app, &actor, path.into_inner(), &body).await?;
    Ok(file(&made.file_name, made.media_type, made.bytes))
}

fn file(name: &str, media_type: &'static str, bytes: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, media_type))
        .insert_header((CONTENT_DISPOSITION, attachment(name)))
        .insert_header((CACHE_CONTROL, "no-store"))
        .body(bytes)
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(send_sheet)
        .service(preview_sheet)
        .service(import_sheet)
        .service(read_faulty_rows)
        .service(forget_sheet)
        .service(list_sheet_mappings)
        .service(keep_sheet_mapping)
        .service(forget_sheet_mapping)
        .service(list_sheet_imports)
        .service(undo_sheet_import)
        .service(export_sheet);
}
