//! Notes that only the people named in them may open.

use actix_web::web::{Data, Json, Path, Query};
use actix_web::{HttpResponse, delete, get, post, put};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::sealed_notes::{self as ops, SealedNote, SealedNoteInput};

/// Of which record.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct NoteQuery {
    /// A person or a release; all of the series where none is given.
    subject: Option<Uuid>,
}

/// Heads of notes, oldest first.
#[derive(Serialize, ToSchema)]
struct SealedNoteList {
    items: Vec<SealedNote>,
}

/// The text of a note.
#[derive(Serialize, ToSchema)]
struct SealedNoteText {
    text: String,
}

/// Who may open a note.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NoteReaders {
    readers: Vec<Uuid>,
}

#[utoipa::path(tag = "Sealed notes", params(("series" = Uuid, Path), NoteQuery),
    responses((status = 200, body = SealedNoteList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/sealed-notes")]
async fn list_sealed_notes(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<NoteQuery>,
) -> Answer {
    let items = ops::list(&app, &actor, path.into_inner(), query.subject).await?;
    Ok(HttpResponse::Ok().json(SealedNoteList { items }))
}

/// Heads of the notes that you are named in, oldest first; no role is asked for.
#[utoipa::path(tag = "Sealed notes", params(("series" = Uuid, Path)),
    responses((status = 200, body = SealedNoteList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/my-sealed-notes")]
async fn list_my_sealed_notes(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let items = ops::mine(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(SealedNoteList { items }))
}

#[utoipa::path(tag = "Sealed notes", params(("series" = Uuid, Path)),
    responses((status = 201, body = SealedNote), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sealed-notes")]
async fn create_sealed_note(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<SealedNoteInput>,
) -> Answer {
    let made = ops::create(&app, &actor, path.into_inner(), body.into_inner()).await?;
    Ok(HttpResponse::Created().json(made))
}

/// Opens a note, if you are named in it. Each opening is written down.
#[utoipa::path(tag = "Sealed notes", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = SealedNoteText), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/sealed-notes/{id}/open")]
async fn open_sealed_note(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    let text = ops::open(&app, &actor, series, id).await?;
    Ok(HttpResponse::Ok().json(SealedNoteText { text }))
}

#[utoipa::path(tag = "Sealed notes", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = SealedNote), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/sealed-notes/{id}/readers")]
async fn set_sealed_note_readers(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<NoteReaders>,
) -> Answer {
    let (series, id) = path.into_inner();
    let made = ops::set_readers(&app, &actor, series, id, body.into_inner().readers).await?;
    Ok(HttpResponse::Ok().json(made))
}

#[utoipa::path(tag = "Sealed notes", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/sealed-notes/{id}")]
async fn delete_sealed_note(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    ops::remove(&app, &actor, series, id).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_sealed_notes)
        .service(list_my_sealed_notes)
        .service(create_sealed_note)
        .service(open_sealed_note)
        .service(set_sealed_note_readers)
        .service(delete_sealed_note);
}
