//! New passwords: one's own, with the old one, and by a link that a mail brings.

use chrono::TimeDelta;
use diesel_async::AsyncConnection;

use super::{Origin, slow_down};
use crate::app::App;
use crate::auth::actor::actor;
use crate::auth::passwords;
use crate::auth::tokens::{digest, random};
use crate::db::users;
use crate::error::OpError;
use crate::ops::access::Actor;
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::outbox::{self, NewMail};

/// How long a reset link works.
const RESET_LIFE: TimeDelta = TimeDelta::minutes(30);

/// Changes one's own password; ends all other sessions and device tokens.
///
/// # Errors
/// `Invalid` for a wrong old or a weak new password.
pub async fn change_password(
    app: &App,
    actor: &Actor,
    old: &str,
    new: &str,
) -> Result<(), OpError> {
    let user = {
        let conn = &mut *app.pool.get().await?;
        users::load(conn, actor.user_id)
            .await?
            .ok_or(OpError::Unauthenticated)?
    };
    if !passwords::fits(app, old, Some(user.password_hash)).await? {
        return Err(OpError::field("/old", "This is not your present password."));
    }
    if let Some(fault) = passwords::fault(new, &[&user.name, &user.email]) {
        return Err(OpError::field("/new", fault));
    }
    let hash = passwords::hash(app, new).await?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        users::set_password(conn, actor.user_id, &hash, now).await?;
        users::end_everything(conn, actor.user_id, actor.session_id, now).await?;
        let subject = Subject {
            series: None,
            kind: "user",
            id: Some(actor.user_id),
        };
        audit::record(
            conn,
            actor,
            now,
            "changed_password",
            subject,
            NOTHING,
            NOTHING,
        )
        .await
    })
    .await
}

/// Sends a reset link, if the address is known; the answer is the same either way.
///
/// # Errors
/// `RateLimited`; the database's.
pub async fn ask_reset(app: &App, email: &str, origin: &Origin) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    let key = format!("reset:{}", origin.address);
    if let Some(at) = users::next_try(conn, std::slice::from_ref(&key)).await?
        && at > now
    {
        return Err(OpError::RateLimited(
            (at - now).num_seconds().unsigned_abs().max(1),
        ));
    }
    conn.transaction::<_, OpError, _>(async |conn| {
        slow_down(conn, &key, 10, now).await?;
        let Some(user) = users::by_email(conn, email.trim())
            .await?
            .filter(|user| user.disabled_at.is_none())
        else {
            return Ok(());
        };
        let token = random();
        users::insert_reset(conn, user.id, &digest(&token), now, RESET_LIFE).await?;
        let link = app.config.link(&format!("/reset#{token}"));
        let mail = crate::mail::text::reset(&user.name, &link);
        outbox::post(
            conn,
            app,
            NewMail {
                organisation_id: user.organisation_id,
                user_id: Some(user.id),
                kind: "password_reset",
                recipient: user.email,
                subject: mail.subject,
                text: mail.text,
                html: mail.html,
                useless_after: Some(now + RESET_LIFE),
            },
        )
        .await?;
        Ok(())
    })
    .await
}

/// Sets a new password by a reset link; ends all sessions. Does not sign in.
///
/// # Errors
/// `Invalid` for a weak password; `NotAllowed` for a spent link.
pub async fn use_reset(app: &App, token: &str, password: &str) -> Result<(), OpError> {
    if let Some(fault) = passwords::fault(password, &[]) {
        return Err(OpError::field("/password", fault));
    }
    let hash = passwords::hash(app, password).await?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let Some(id) = users::spend_reset(conn, &digest(token), now).await? else {
            return Err(OpError::NotAllowed(
                "This link is spent or too old. Ask for a fresh one; nothing was changed.".into(),
            ));
        };
        let user = users::load(conn, id)
            .await?
            .ok_or(OpError::NotFound("the person"))?;
        // Only now is it known whose name it must not be; the link is not spent by this.
        if let Some(fault) = passwords::fault(password, &[&user.name, &user.email]) {
            return Err(OpError::field("/password", fault));
        }
        users::set_password(conn, id, &hash, now).await?;
        users::end_everything(conn, id, None, now).await?;
        users::forget_failures(conn, &[format!("account:{}", user.email.to_lowercase())]).await?;
        let subject = Subject {
            series: None,
            kind: "user",
            id: Some(id),
        };
        audit::record(
            conn,
            &actor(user, None),
            now,
            "reset_password",
            subject,
            NOTHING,
            NOTHING,
        )
        .await
    })
    .await
}
