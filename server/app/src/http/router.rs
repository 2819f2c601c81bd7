//! Every route in one list. The same line puts it into the OpenAPI document; `.route(` would not, and is not used.

use actix_web::http::Method;
use actix_web::http::header::ALLOW;
use actix_web::web::{self, Data, JsonConfig, PathConfig, PayloadConfig, QueryConfig};
use actix_web::{HttpRequest, HttpResponse, ResponseError};
use utoipa::OpenApi as _;
use utoipa::openapi::OpenApi as Document;
use utoipa_actix_web::AppExt;
use utoipa_actix_web::service_config::ServiceConfig;

use super::{
    account, board, captions, cards, clearance, cue_sheets, cuts, documents, drives, file_pictures,
    files, home, issued, log, openapi, papers, records, reminders, report, saved_searches, scans,
    sealed_notes, series, sheets, shots, team, transcripts, what_if,
};
use crate::app::App;
use crate::error::{ApiError, Code, OpError, problem};

/// JSON bodies above this are refused.
const JSON_LIMIT: usize = 2 * 1024 * 1024;

/// Every documented route. They are tried one after the other, so what is asked for most, and while somebody types, goes
/// first.
fn routes(config: &mut ServiceConfig<'_>) {
    config
        .configure(files::routes)
        .configure(scans::routes)
        .configure(account::routes)
        .configure(team::routes)
        .configure(records::routes)
        .configure(cuts::routes)
        .configure(captions::routes)
        .configure(clearance::routes)
        .configure(cue_sheets::routes)
        .configure(home::routes)
        .configure(documents::routes)
        .configure(board::routes)
        .configure(report::routes)
        .configure(papers::routes)
        .configure(issued::routes)
        .configure(series::routes)
        .configure(reminders::routes)
        .configure(sealed_notes::routes)
        .configure(drives::routes)
        .configure(cards::routes)
        .configure(what_if::routes)
        .configure(file_pictures::routes)
        .configure(sheets::routes)
        .configure(log::routes)
        .configure(saved_searches::routes)
        .configure(transcripts::routes)
        .configure(shots::routes);
}

/// The OpenAPI document, without a database.
pub fn document() -> Document {
    let (_, document) = actix_web::App::new()
        .into_utoipa_app()
        .openapi(openapi::Head::openapi())
        .configure(routes)
        .split_for_parts();
    document
}

/// How long the head of a request may take. Actix gives 5 seconds, which a weak signal, or a worker in the middle of a
/// long list, outlasts; the one who asks would read an empty 408.
pub const HEAD_WITHIN: std::time::Duration = std::time::Duration::from_secs(30);

/// Builds the service for one worker; what workers share (`app`, `document`) is made outside.
#[macro_export]
macro_rules! service {
    ($app:expr, $document:expr) => {
        actix_web::App::new()
            .configure($crate::http::router::configure(
                $app.clone(),
                $document.clone(),
            ))
            .wrap(actix_web::middleware::Compress::default())
            .wrap(actix_web::middleware::from_fn($crate::http::guard::guard))
    };
}

/// Settings, routes and the last resort.
pub fn configure(app: Data<App>, document: Data<Document>) -> impl FnOnce(&mut web::ServiceConfig) {
    move |config| {
        config
            .app_data(app)
            .app_data(document)
            .app_data(
                JsonConfig::default()
                    .limit(JSON_LIMIT)
                    .error_handler(|error, _| json_fault(&error).into()),
            )
            .app_data(
                PathConfig::default()
                    .error_handler(|_, _| ApiError(OpError::NotFound("such an address")).into()),
            )
            .app_data(QueryConfig::default().error_handler(|error, _| {
                ApiError(OpError::BadRequest(format!(
                    "the address's query can't be read: {error}"
                )))
                .into()
            }))
            .app_data(PayloadConfig::default().limit(JSON_LIMIT));
        let mut own = ServiceConfig::new(config);
        routes(&mut own);
        config
            .service(openapi::read_document)
            .service(openapi::read_page)
            .default_service(web::to(last_resort));
    }
}

fn json_fault(error: &actix_web::error::JsonPayloadError) -> ApiError {
    use actix_web::error::JsonPayloadError as Fault;
    ApiError(match error {
        Fault::OverflowKnownLength { .. } | Fault::Overflow { .. } => OpError::TooLarge(format!(
            "at most {} MiB of JSON are taken",
            JSON_LIMIT >> 20
        )),
        Fault::ContentType => OpError::UnsupportedType("send the body as application/json".into()),
        Fault::Deserialize(error) => OpError::BadRequest(format!("the body does not fit: {error}")),
        other => OpError::BadRequest(format!("the body can't be read: {other}")),
    })
}

/// Pages for people; for programs a problem: 405 where the address exists with another method, else 404.
async fn last_resort(
    request: HttpRequest,
    app: Data<App>,
    document: Data<Document>,
) -> HttpResponse {
    if !request.path().starts_with("/api/") {
        return match *request.method() {
            Method::GET | Method::HEAD => crate::web::serve(&request, &app.config.web).await,
            _ => HttpResponse::MethodNotAllowed()
                .insert_header((ALLOW, "GET, HEAD"))
                .finish(),
        };
    }
    let allowed = methods_at(&document, request.path());
    if allowed.is_empty() || allowed.contains(&request.method().as_str()) {
        return ApiError(OpError::NotFound("such an address")).error_response();
    }
    HttpResponse::MethodNotAllowed()
        .insert_header((ALLOW, allowed.join(", ")))
        .content_type("application/problem+json; charset=utf-8")
        .json(problem(
            Code::MethodNotAllowed,
            format!(
                "{} can't be done at this address; possible: {}.",
                request.method(),
                allowed.join(", ")
            ),
        ))
}

/// Methods that the document knows at a path.
fn methods_at(document: &Document, path: &str) -> Vec<&'static str> {
    let asked: Vec<&str> = path.split('/').collect();
    let fits = |template: &str| {
        let parts: Vec<&str> = template.split('/').collect();
        parts.len() == asked.len()
            && parts
                .iter()
                .zip(&asked)
                .all(|(part, asked)| part.starts_with('{') || part == asked)
    };
    let mut methods = Vec::new();
    for (template, item) in &document.paths.paths {
        if fits(template) {
            let known = [
                ("GET", item.get.is_some()),
                ("POST", item.post.is_some()),
                ("PUT", item.put.is_some()),
                ("DELETE", item.delete.is_some()),
            ];
            methods.extend(
                known
                    .into_iter()
                    .filter(|(_, is)| *is)
                    .map(|(name, _)| name),
            );
        }
    }
    methods
}
