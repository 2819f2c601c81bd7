//! A request's cookie or bearer token, turned into the person who asks. Checked in the database on each request, so
//! that signing out, being disabled and losing a role bite at once.

use std::future::Future;
use std::pin::Pin;

use actix_web::cookie::{Cookie, SameSite};
use actix_web::dev::Payload;
use actix_web::http::header::AUTHORIZATION;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use chrono::TimeDelta;

use super::tokens::{Purpose, digest};
use crate::app::App;
use crate::config::Config;
use crate::db::users::{self, User};
use crate::error::{ApiError, OpError};
use crate::ops::access::Actor;

/// Longest life of a session.
pub const SESSION_LIFE: TimeDelta = TimeDelta::days(30);
/// A session not used for this long ends.
pub const SESSION_IDLE: TimeDelta = TimeDelta::days(7);
/// How fresh `last_seen_at` is kept; a write per request would cost more than it tells.
const TOUCH: TimeDelta = TimeDelta::minutes(5);

/// Name of the session cookie: bound to the host over TLS, plain on a local address.
pub fn cookie_name(config: &Config) -> &'static str {
    if config.is_https() {
        "__Host-waybill"
    } else {
        "waybill"
    }
}

/// The session cookie; an empty token takes it away.
pub fn cookie(config: &Config, token: &str) -> Cookie<'static> {
    let mut cookie = Cookie::build(cookie_name(config), token.to_owned())
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(config.is_https())
        .finish();
    cookie.set_max_age(if token.is_empty() {
        actix_web::cookie::time::Duration::ZERO
    } else {
        actix_web::cookie::time::Duration::days(SESSION_LIFE.num_days())
    });
    cookie
}

impl FromRequest for Actor {
    type Error = ApiError;
    type Future = Pin<Box<dyn Future<Output = Result<Self, ApiError>>>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let app = request.app_data::<Data<App>>().cloned();
        let bearer = request
            .headers()
            .get(AUTHORIZATION)
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.strip_prefix("Bearer "))
            .map(str::to_owned);
        let cookie = app
            .as_ref()
            .and_then(|app| request.cookie(cookie_name(&app.config)))
            .map(|cookie| cookie.value().to_owned());
        Box::pin(async move {
            let app = app.ok_or_else(|| OpError::Internal("no app data".into()))?;
            match (bearer, cookie) {
                (Some(token), _) => by_bearer(&app, &token).await,
                (None, Some(token)) => by_cookie(&app, &token).await,
                (None, None) => Err(OpError::Unauthenticated.into()),
            }
        })
    }
}

async fn by_cookie(app: &App, token: &str) -> Result<Actor, ApiError> {
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    let (session, seen, user) = users::by_session(conn, &digest(token), now, SESSION_IDLE)
        .await?
        .ok_or(OpError::Unauthenticated)?;
    if now - seen > TOUCH {
        users::touch_session(conn, session, now).await?;
    }
    Ok(actor(user, Some(session)))
}

async fn by_bearer(app: &App, token: &str) -> Result<Actor, ApiError> {
    let now = app.now();
    let id = app
        .token_key
        .read(Purpose::Device, token, now)
        .ok_or(OpError::Unauthenticated)?;
    let conn = &mut *app.pool.get().await?;
    let user = users::by_device_token(conn, id, now)
        .await?
        .ok_or(OpError::Unauthenticated)?;
    Ok(actor(user, None))
}

/// A person as the one who acts.
pub fn actor(user: User, session_id: Option<uuid::Uuid>) -> Actor {
    Actor {
        user_id: user.id,
        organisation_id: user.organisation_id,
        name: user.name,
        email: user.email,
        is_admin: user.is_admin,
        session_id,
    }
}
