//! Still pictures of clips: sent by the command, shown beside the file.

use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ETAG, IF_NONE_MATCH,
    VARY,
};
use actix_web::web::{Bytes, Data, Json, Path};
use actix_web::{HttpRequest, HttpResponse, get, post, put};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::db::file_pictures::{PictureKind, UnpicturedFile};
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::file_pictures::{self as ops, ContentAsked, PictureLinks};

/// Contents, at most 5,000.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PicturesAsked {
    contents: Vec<ContentAsked>,
}

/// Those of them that lack a picture, in the order asked.
#[derive(Serialize, ToSchema)]
struct PicturesLacking {
    items: Vec<UnpicturedFile>,
}

/// Which of these contents are files of the series without a poster or contact sheet. What the series does not know is
/// left out.
#[utoipa::path(tag = "Files", params(("series" = Uuid, Path)),
    responses((status = 200, body = PicturesLacking), (status = "4XX", body = Problem)))]
#[post("/api/series/{series}/pictures/lacking")]
async fn find_lacking_pictures(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    body: Json<PicturesAsked>,
) -> Answer {
    let contents = body.into_inner().contents;
    let items = ops::lacking(&app, &actor, path.into_inner(), contents).await?;
    Ok(HttpResponse::Ok().json(PicturesLacking { items }))
}

/// The body is the JPEG itself, of at most 1 MiB. A picture that is there already stays; the answer names it.
#[utoipa::path(tag = "Files",
    params(("series" = Uuid, Path), ("id" = Uuid, Path), ("kind" = inline(PictureKind), Path)),
    request_body(content = Vec<u8>, content_type = "image/jpeg"),
    responses((status = 200, body = PictureLinks), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/files/{id}/pictures/{kind}")]
async fn send_picture(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid, PictureKind)>,
    request: HttpRequest,
    body: Bytes,
) -> Answer {
    let (series, file, kind) = path.into_inner();
    let header = request.headers().get(CONTENT_TYPE);
    let media_type = header.and_then(|value| value.to_str().ok()?.split(';').next());
    let media_type = media_type.unwrap_or_default().trim();
    let links = ops::receive(&app, &actor, (series, file), kind, media_type, body).await?;
    Ok(HttpResponse::Ok().json(links))
}

/// A picture by its SHA-256, as the links of files name it. It never changes; other people's browsers are not to keep it.
#[utoipa::path(tag = "Files", params(("series" = Uuid, Path), ("id" = String, Path)),
    responses((status = 200, body = Vec<u8>, content_type = "image/jpeg"), (status = 304),
        (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/pictures/{id}")]
async fn read_picture(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, String)>,
    request: HttpRequest,
) -> Answer {
    let (series, id) = path.into_inner();
    let known = request.headers().get(IF_NONE_MATCH);
    let known = known.and_then(|value| value.to_str().ok());
    let tag = format!("\"{id}\"");
    // the right is looked at before anything is said
    let (mut answer, picture) = if known.is_some_and(|known| known.contains(&tag)) {
        ops::seen(&app, &actor, series, &id).await?;
        (HttpResponse::NotModified(), None)
    } else {
        let (name, content) = ops::fetch(&app, &actor, series, &id).await?;
        (HttpResponse::Ok(), Some((name, content)))
    };
    answer
        .insert_header((ETAG, tag))
        .insert_header((CACHE_CONTROL, "private, max-age=31536000, immutable"))
        // whoever signs in next at the same browser is asked for their own right
        .insert_header((VARY, "Cookie, Authorization"));
    let Some((name, content)) = picture else {
        return Ok(answer.finish());
    };
    let attached = super::documents::attachment(&format!("{name}.jpg"));
    let inline = attached.replacen("attachment", "inline", 1);
    Ok(answer
        .content_type("image/jpeg")
        .insert_header((CONTENT_DISPOSITION, inline))
        .insert_header((CONTENT_SECURITY_POLICY, "sandbox; default-src 'none'"))
        .body(content))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(find_lacking_pictures)
        .service(send_picture)
        .service(read_picture);
}
