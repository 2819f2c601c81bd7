//! Transcripts of files.

use actix_web::web::{Bytes, Data, Path, Query};
use actix_web::{HttpResponse, delete, get, post};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::{Answer, IfMatch, record};
use crate::app::App;
use crate::db::transcripts::Transcript;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::log::RIGHTS;
use crate::ops::{records, transcripts as ops};

/// What is brought in.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct TranscriptQuery {
    /// Name of the uploaded file.
    name: String,
    /// BCP 47, as `en-GB`.
    language: Option<String>,
}

/// Transcripts, the oldest first.
#[derive(Serialize, ToSchema)]
struct TranscriptList {
    items: Vec<Transcript>,
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = TranscriptList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/files/{id}/transcripts")]
async fn list_transcripts(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, file) = path.into_inner();
    let items = ops::list(&app, &actor, series, file).await?;
    Ok(HttpResponse::Ok().json(TranscriptList { items }))
}

/// The body is a WebVTT or SubRip file of at most 2 MiB; its times count from the file's first frame.
#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), ("id" = Uuid, Path), TranscriptQuery),
    request_body(content = String, content_type = "text/vtt"),
    responses((status = 201, body = Transcript), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/files/{id}/transcripts")]
async fn create_transcript(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<TranscriptQuery>,
    body: Bytes,
) -> Answer {
    let (series, file) = path.into_inner();
    let told = (
        query.name.as_str(),
        query.language.as_deref().unwrap_or_default(),
    );
    let made = ops::bring(&app, &actor, series, file, told, &body).await?;
    Ok(record(HttpResponse::Created(), made.version, &made))
}

#[utoipa::path(tag = "Files",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = Transcript), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/transcripts/{id}")]
async fn delete_transcript(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    version: IfMatch,
) -> Answer {
    let (series, id) = path.into_inner();
    let gone = records::remove::<Transcript>(&app, &actor, series, RIGHTS, id, version.0).await?;
    Ok(record(HttpResponse::Ok(), gone.version, &gone))
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = Transcript), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/transcripts/{id}/restore")]
async fn restore_transcript(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let back = records::restore::<Transcript>(&app, &actor, series, RIGHTS, id).await?;
    Ok(record(HttpResponse::Ok(), back.version, &back))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_transcripts)
        .service(create_transcript)
        .service(restore_transcript)
        .service(delete_transcript);
}
