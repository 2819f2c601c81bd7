//! What happens around every request: an id, security headers, the check against forged calls, one log line, and a
//! problem body for every fault, the framework's own included.

use std::panic::AssertUnwindSafe;

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::error::InternalError;
use actix_web::http::header::{
    ALLOW, CONTENT_TYPE, COOKIE, HeaderMap, HeaderName, HeaderValue, ORIGIN,
    STRICT_TRANSPORT_SECURITY,
};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::web::Data;
use actix_web::{Error, HttpResponse, ResponseError};
use futures_util::FutureExt;
use uuid::Uuid;

use crate::app::App;
use crate::error::{ApiError, Code, OpError, REQUEST_ID, problem};

/// The header that a page of ours sends with each change; a form on another site can't.
pub const OWN_HEADER: &str = "x-waybill";

/// The outermost layer.
///
/// # Errors
/// None of its own: faults become answers.
pub async fn guard(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let id = Uuid::now_v7();
    REQUEST_ID.scope(id, inner(request, next, id)).await
}

async fn inner(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
    id: Uuid,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let app = request.app_data::<Data<App>>().cloned();
    let (method, path) = (request.method().clone(), request.path().to_owned());
    let started = std::time::Instant::now();
    let mut answer = if forged(&request, app.as_deref().map(AsRef::as_ref)) {
        tracing::warn!(%method, %path, "request.forged");
        let fault = ApiError(OpError::NotAllowed(
            "This change did not come from a page of this server (the header X-Waybill is missing).".into(),
        ));
        request.into_response(fault.error_response())
    } else {
        // A panic would close the connection without a word. The request itself can't be kept for the answer: the
        // router must own it alone.
        match AssertUnwindSafe(next.call(request)).catch_unwind().await {
            Ok(Ok(answer)) => answer.map_into_boxed_body(),
            Ok(Err(error)) => {
                let answer = error.error_response();
                return Err(InternalError::from_response(error, answer).into());
            }
            Err(_) => {
                let fault = ApiError(OpError::Internal("a handler panicked".into()));
                let answer = fault.error_response();
                return Err(InternalError::from_response(fault, answer).into());
            }
        }
    };
    if answer.status().is_client_error() || answer.status().is_server_error() {
        answer = in_our_words(answer);
    }
    let https = app.is_some_and(|app| app.config.is_https());
    let plain_api = path.starts_with("/api");
    headers(answer.headers_mut(), https, plain_api, id);
    let status = answer.status().as_u16();
    let ms = started.elapsed().as_millis();
    tracing::info!(request.id = %id, %method, path = %path.escape_debug(), status, ms, "request.done");
    Ok(answer)
}

/// A change made with a cookie must carry our header, and must not say that it comes from elsewhere.
fn forged(request: &ServiceRequest, app: Option<&App>) -> bool {
    if matches!(
        *request.method(),
        Method::GET | Method::HEAD | Method::OPTIONS
    ) {
        return false;
    }
    let headers = request.headers();
    let other_site = headers
        .get("sec-fetch-site")
        .is_some_and(|site| site == "cross-site" || site == "same-site");
    let other_origin = match (
        headers.get(ORIGIN).and_then(|origin| origin.to_str().ok()),
        app,
    ) {
        (Some(origin), Some(app)) => {
            let ours = app.config.url.origin().ascii_serialization();
            let host = request
                .headers()
                .get("host")
                .and_then(|host| host.to_str().ok())
                .unwrap_or_default();
            origin != ours && origin.split("://").nth(1) != Some(host)
        }
        _ => false,
    };
    let by_cookie = headers.contains_key(COOKIE) || !headers.contains_key("authorization");
    other_site || other_origin || (by_cookie && !headers.contains_key(OWN_HEADER))
}

/// Faults that the framework words itself get our shape.
fn in_our_words(answer: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let ours = answer
        .headers()
        .get(CONTENT_TYPE)
        .is_some_and(|kind| kind.as_bytes().starts_with(b"application/problem+json"));
    if ours || !answer.request().path().starts_with("/api") {
        return answer;
    }
    let (code, detail) = match answer.status() {
        StatusCode::NOT_FOUND => (Code::NotFound, "There is nothing at this address."),
        StatusCode::METHOD_NOT_ALLOWED => (
            Code::MethodNotAllowed,
            "This can't be done at this address.",
        ),
        StatusCode::PAYLOAD_TOO_LARGE => (Code::TooLarge, "More was sent than is taken here."),
        StatusCode::UNSUPPORTED_MEDIA_TYPE => (Code::UnsupportedType, "Send application/json."),
        status if status.is_client_error() => (Code::BadRequest, "The request can't be read."),
        _ => (
            Code::Internal,
            "Something went wrong here. Nothing was saved.",
        ),
    };
    let allow = answer.headers().get(ALLOW).cloned();
    let body = problem(code, detail);
    let status = StatusCode::from_u16(body.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let mut response = HttpResponse::build(status)
        .content_type("application/problem+json; charset=utf-8")
        .json(body);
    if let Some(allow) = allow {
        response.headers_mut().insert(ALLOW, allow);
    }
    ServiceResponse::new(answer.request().clone(), response)
}

fn headers(headers: &mut HeaderMap, https: bool, api: bool, id: Uuid) {
    const POLICY: &str = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; \
                          object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'";
    let mut set = |name: &'static str, value: &'static str| {
        let name = HeaderName::from_static(name);
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    };
    set("content-security-policy", POLICY);
    set("x-content-type-options", "nosniff");
    set("referrer-policy", "no-referrer");
    set("cross-origin-opener-policy", "same-origin");
    set(
        "permissions-policy",
        "camera=(self), microphone=(), geolocation=()",
    );
    if api {
        set("cache-control", "no-store");
    }
    if https {
        headers.insert(
            STRICT_TRANSPORT_SECURITY,
            HeaderValue::from_static("max-age=31536000; includeSubDomains"),
        );
    }
    if let Ok(value) = HeaderValue::from_str(&id.to_string()) {
        headers.insert(HeaderName::from_static("x-request-id"), value);
    }
}
