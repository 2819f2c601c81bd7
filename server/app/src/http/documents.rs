//! Documents: a raw body in, an attachment out.

use actix_web::http::header::{
    CONTENT_DISPOSITION, CONTENT_LENGTH, CONTENT_SECURITY_POLICY, CONTENT_TYPE,
};
use actix_web::web::{Data, Path, Payload, Query};
use actix_web::{HttpRequest, HttpResponse, get, put};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::documents::{self as ops, Upload};

/// What an upload is called.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct DocumentQuery {
    /// Name of the file; its ending must fit the Content-Type.
    name: String,
}

/// A document that was taken in.
#[derive(Serialize, ToSchema)]
struct DocumentView {
    /// SHA-256 of the content; records name it in `document_id`.
    id: String,
    name: String,
    /// Bytes.
    size: i64,
    media_type: String,
}

/// Send the file itself as the body, with its Content-Type and Content-Length: PDF, JPEG or PNG, up to 25 MB. The same
/// content sent twice is one document.
#[utoipa::path(tag = "Documents", params(("series" = Uuid, Path), DocumentQuery),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = DocumentView), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/documents")]
async fn send_document(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    query: Query<DocumentQuery>,
    request: HttpRequest,
    body: Payload,
) -> Answer {
    let header = |name| {
        request
            .headers()
            .get(name)
            .and_then(|value| value.to_str().ok())
    };
    let upload = Upload {
        name: query.into_inner().name,
        media_type: header(CONTENT_TYPE)
            .and_then(|value| value.split(';').next())
            .unwrap_or_default()
            .to_owned(),
        length: header(CONTENT_LENGTH).and_then(|value| value.parse().ok()),
    };
    let kept = ops::receive(&app, &actor, path.into_inner(), upload, body).await?;
    Ok(HttpResponse::Ok().json(DocumentView {
        id: kept.id,
        name: kept.name,
        size: kept.size,
        media_type: kept.media_type,
    }))
}

#[utoipa::path(tag = "Documents", params(("series" = Uuid, Path), ("id" = String, Path)),
    responses((status = 200, body = Vec<u8>, content_type = "application/octet-stream"),
        (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/documents/{id}")]
async fn read_document_content(app: Data<App>, actor: Actor, path: Path<(Uuid, String)>) -> Answer {
    let (series, id) = path.into_inner();
    let (document, content) = ops::fetch(&app, &actor, series, &id).await?;
    Ok(HttpResponse::Ok()
        .content_type(document.media_type)
        .insert_header((CONTENT_DISPOSITION, attachment(&document.name)))
        .insert_header((CONTENT_SECURITY_POLICY, "sandbox; default-src 'none'"))
        .body(content))
}

/// The header that names a download: plain letters for old readers, all of it for the others (RFC 6266, RFC 8187).
pub fn attachment(name: &str) -> String {
    let plain: String = name
        .chars()
        .map(|c| {
            if c.is_ascii_graphic() && !matches!(c, '"' | '\\' | '%' | '/') || c == ' ' {
                c
            } else {
                '_'
            }
        })
        .collect();
    let mut whole = String::new();
    for byte in name.bytes() {
        // attr-char of RFC 8187.
        if byte.is_ascii_alphanumeric() || b"!#$&+-.^_`|~".contains(&byte) {
            whole.push(char::from(byte));
        } else {
            whole.push_str(&format!("%{byte:02X}"));
        }
    }
    format!("attachment; filename=\"{plain}\"; filename*=UTF-8''{whole}")
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config.service(send_document).service(read_document_content);
}

#[cfg(test)]
mod tests {
    use super::attachment;

    /// Encoded by hand after RFC 8187 section 3.2.1.
    #[test]
    fn names_survive_and_break_nothing() {
        assert_eq!(
            attachment("Übung \"1\";.pdf"),
            "attachment; filename=\"_bung _1_;.pdf\"; filename*=UTF-8''%C3%9Cbung%20%221%22%3B.pdf"
        );
        assert_eq!(
            attachment("../a\r\nX: y.pdf"),
            "attachment; filename=\".._a__X: y.pdf\"; filename*=UTF-8''..%2Fa%0D%0AX%3A%20y.pdf"
        );
    }
}
