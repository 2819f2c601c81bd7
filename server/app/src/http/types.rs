//! What several handlers share: versions in headers, paging, the address of the caller.

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::http::header::{CACHE_CONTROL, ETAG, IF_MATCH, USER_AGENT};
use actix_web::{FromRequest, HttpRequest, HttpResponse, HttpResponseBuilder};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::app::App;
use crate::error::{ApiError, OpError};
use crate::ops::records::Ask;
use crate::ops::sign_in::Origin;

/// A handler's answer.
pub type Answer = Result<HttpResponse, ApiError>;

/// The version that the caller changed: `If-Match: "3"`.
pub struct IfMatch(pub i32);

impl FromRequest for IfMatch {
    type Error = ApiError;
    type Future = Ready<Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(version(request).map(Self).map_err(ApiError::from))
    }
}

fn version(request: &HttpRequest) -> Result<i32, OpError> {
    let value = request
        .headers()
        .get(IF_MATCH)
        .ok_or(OpError::PreconditionRequired)?;
    value
        .to_str()
        .ok()
        .and_then(|text| {
            text.trim()
                .strip_prefix('"')?
                .strip_suffix('"')?
                .parse()
                .ok()
        })
        .ok_or_else(|| {
            OpError::BadRequest("If-Match must be the ETag of the record, such as \"3\"".into())
        })
}

/// Where a request comes from; a proxy's word counts only when the proxy is trusted.
pub struct Caller(pub Origin);

impl FromRequest for Caller {
    type Error = ApiError;
    type Future = Ready<Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let agent = request
            .headers()
            .get(USER_AGENT)
            .and_then(|value| value.to_str().ok())
            .unwrap_or("unknown")
            .to_owned();
        ready(Ok(Self(Origin {
            agent,
            address: address(request),
        })))
    }
}

fn address(request: &HttpRequest) -> String {
    let Some(peer) = request.peer_addr().map(|peer| peer.ip()) else {
        return "unknown".into();
    };
    let trusted = request
        .app_data::<actix_web::web::Data<App>>()
        .is_some_and(|app| app.config.trusted_proxies.contains(&peer));
    let forwarded = request
        .headers()
        .get("x-forwarded-for")
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.rsplit(',').next())
        .and_then(|value| value.trim().parse::<std::net::IpAddr>().ok());
    match forwarded {
        Some(client) if trusted => client.to_string(),
        _ => peer.to_string(),
    }
}

/// What a list is asked for.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ListQuery {
    /// Words to look for.
    pub q: Option<String>,
    /// The `next` of the page before.
    pub after: Option<Uuid>,
    /// At most 500; 200 when not given.
    pub limit: Option<i64>,
}

impl From<ListQuery> for Ask {
    fn from(query: ListQuery) -> Self {
        Self {
            q: query.q,
            after: query.after,
            limit: query.limit,
        }
    }
}

/// A list that is never long enough to need pages.
#[derive(Debug, Serialize, ToSchema)]
pub struct Items<T> {
    pub items: Vec<T>,
}

/// A record with its version in the ETag.
pub fn record<T: Serialize>(
    mut answer: HttpResponseBuilder,
    version: i32,
    body: &T,
) -> HttpResponse {
    answer
        .insert_header((ETAG, format!("\"{version}\"")))
        .insert_header((CACHE_CONTROL, "no-store"))
        .json(body)
}
