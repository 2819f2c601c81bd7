//! The OpenAPI 3.1 document and a readable page of it.

use actix_web::web::Data;
use actix_web::{HttpResponse, get};
use utoipa::OpenApi;
use utoipa::openapi::OpenApi as Document;

/// Head of the document; paths and schemas are collected from the routes.
#[derive(OpenApi)]
#[openapi(info(
    title = "Waybill",
    description = "From camera cards to the proof that everything in the episode may be shown. Sign in with a cookie \
                   (changes then need the header `X-Waybill: 1`) or with a device token as `Authorization: Bearer`. \
                   Records carry their version in the ETag; changes name it in If-Match. Results follow what was \
                   entered and the rules shown; they are not legal advice."
))]
pub struct Head;

#[get("/api/openapi.json")]
pub async fn read_document(document: Data<Document>) -> HttpResponse {
    HttpResponse::Ok().json(document.get_ref())
}

/// A plain page: each path, what it takes, what it answers.
#[get("/api/docs")]
pub async fn read_page(document: Data<Document>) -> HttpResponse {
    use crate::mail::text::escape;
    let mut html = String::from(
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><meta name=\"viewport\" \
         content=\"width=device-width\"><title>Waybill API</title><style>body{font:16px/1.5 sans-serif;margin:2rem \
         auto;max-width:60rem;padding:0 1rem;background:#faf7f2;color:#1d2a30}code{font-size:.95em}dt{margin-top:1rem}\
         h2{margin-top:2rem}@media(prefers-color-scheme:dark){body{background:#10191d;color:#e8e4da}a{color:#7cc4ca}}\
         </style><h1>Waybill API</h1>",
    );
    if let Some(description) = &document.info.description {
        html.push_str(&format!("<p>{}</p>", escape(description)));
    }
    html.push_str("<p>The whole document, with every schema: <a href=\"/api/openapi.json\">/api/openapi.json</a></p><dl>");
    for (path, item) in &document.paths.paths {
        for (method, operation) in [
            ("GET", &item.get),
            ("POST", &item.post),
            ("PUT", &item.put),
            ("DELETE", &item.delete),
        ] {
            let Some(operation) = operation else { continue };
            let words = operation
                .operation_id
                .as_deref()
                .unwrap_or_default()
                .replace('_', " ");
            let more = operation.summary.as_deref().unwrap_or_default();
            html.push_str(&format!(
                "<dt><code>{method} {}</code></dt><dd>{} {}</dd>",
                escape(path),
                escape(&words),
                escape(more)
            ));
        }
    }
    html.push_str("</dl></html>");
    HttpResponse::Ok()
        .content_type("text/html; charset=utf-8")
        .body(html)
}
