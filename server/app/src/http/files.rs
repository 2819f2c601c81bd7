//! Files of the catalogue: search, and one file with all that is known of it.

use actix_web::web::{Data, Path, Query};
use actix_web::{HttpResponse, get};
use chrono::NaiveDate;
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::footage::logged::Logged;

use super::log::ids;
use super::types::Answer;
use crate::app::App;
use crate::db::files::FileKind;
use crate::db::shots::ShotKind;
use crate::error::{OpError, Problem};
use crate::ops::access::Actor;
use crate::ops::files::{self as ops, FileDetail};
use crate::ops::finding::lists;
use crate::ops::finding::{self, FileFacets, FilePage, Question};

/// Which files.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct FileQuery {
    /// Words or parts of words of the name, folders or reel; all of them must be there.
    q: Option<String>,
    card: Option<Uuid>,
    drive: Option<Uuid>,
    /// A shoot day.
    day: Option<Uuid>,
    /// The date on which the card was shot.
    on: Option<NaiveDate>,
    camera: Option<String>,
    /// A card's name or number, or the reel of a header.
    roll: Option<String>,
    #[param(inline)]
    logged: Option<Logged>,
    /// One: logged in the file. More, parted by commas: in frame together.
    person: Option<String>,
    place: Option<Uuid>,
    asset: Option<Uuid>,
    music: Option<Uuid>,
    #[param(inline)]
    kind: Option<FileKind>,
    /// Among the selects: 1 must be in, 2 strong, 3 usable.
    rank: Option<i16>,
    #[param(inline)]
    shot: Option<ShotKind>,
    /// A label that the file's own timecode runs over, at the file's rate.
    timecode: Option<String>,
    /// A digest of any type that was made.
    hash: Option<String>,
    /// Words that were said, all in one line of a transcript.
    spoken: Option<String>,
    /// Ids with commas between: only these are taken out. For lists alone.
    chosen: Option<String>,
    /// The `next` of the page before.
    after: Option<Uuid>,
    /// At most 500; 50 when not given.
    limit: Option<i64>,
}

impl FileQuery {
    fn chosen(&self) -> Result<Vec<Uuid>, OpError> {
        self.chosen
            .as_deref()
            .filter(|ids| !ids.is_empty())
            .map_or(Ok(Vec::new()), ids)
    }

    fn question(self) -> Question {
        Question {
            q: self.q,
            card: self.card,
            drive: self.drive,
            day: self.day,
            on: self.on,
            camera: self.camera,
            roll: self.roll,
            logged: self.logged,
            person: self.person,
            place: self.place,
            asset: self.asset,
            music: self.music,
            kind: self.kind,
            rank: self.rank,
            shot: self.shot,
            timecode: self.timecode,
            hash: self.hash,
            spoken: self.spoken,
        }
    }
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), FileQuery),
    responses((status = 200, body = FilePage), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/files")]
async fn list_files(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<FileQuery>,
) -> Answer {
    let query = query.into_inner();
    let (after, limit) = (query.after, query.limit);
    let page = finding::list(
        &app,
        &actor,
        path.into_inner(),
        query.question(),
        after,
        limit,
    )
    .await?;
    Ok(HttpResponse::Ok().json(page))
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), FileQuery),
    responses((status = 200, body = FileFacets), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/file-facets")]
async fn list_file_facets(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<FileQuery>,
) -> Answer {
    let question = query.into_inner().question();
    let facets = finding::facets(&app, &actor, path.into_inner(), question).await?;
    Ok(HttpResponse::Ok().json(facets))
}

/// One line a copy.
#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), FileQuery),
    responses((status = 200, body = String, content_type = "text/csv"), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/files.csv")]
async fn read_files_csv(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<FileQuery>,
) -> Answer {
    let query = query.into_inner();
    let chosen = query.chosen()?;
    let text = lists::table(&app, &actor, path.into_inner(), query.question(), chosen).await?;
    Ok(download("files.csv", "text/csv; charset=utf-8", text))
}

/// The ranked parts of the files, or all of a file without one, as a plain-text list of the SMPTE ST 258 family.
#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), FileQuery),
    responses((status = 200, body = String, content_type = "text/plain"), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/selects.edl")]
async fn read_selects_edl(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<FileQuery>,
) -> Answer {
    let query = query.into_inner();
    let (chosen, form) = (query.chosen()?, lists::Form::Edl);
    let text = lists::edit_list(
        &app,
        &actor,
        path.into_inner(),
        query.question(),
        chosen,
        form,
    )
    .await?;
    Ok(download("selects.edl", "text/plain; charset=utf-8", text))
}

/// The same as OpenTimelineIO.
#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), FileQuery),
    responses((status = 200, body = String, content_type = "application/json"), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/selects.otio")]
async fn read_selects_otio(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<FileQuery>,
) -> Answer {
    let query = query.into_inner();
    let (chosen, form) = (query.chosen()?, lists::Form::Otio);
    let text = lists::edit_list(
        &app,
        &actor,
        path.into_inner(),
        query.question(),
        chosen,
        form,
    )
    .await?;
    Ok(download("selects.otio", "application/json", text))
}

fn download(name: &str, media_type: &str, text: String) -> HttpResponse {
    HttpResponse::Ok()
        .content_type(media_type)
        .insert_header((
            "content-disposition",
            format!("attachment; filename=\"{name}\""),
        ))
        .body(text)
}

#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), ("id" = Uuid, Path)),
    responses((status = 200, body = FileDetail), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/files/{id}")]
async fn read_file(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, id) = path.into_inner();
    Ok(HttpResponse::Ok().json(ops::read(&app, &actor, series, id).await?))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_files)
        .service(list_file_facets)
        .service(read_files_csv)
        .service(read_selects_edl)
        .service(read_selects_otio)
        .service(read_file);
}
