//! Tokens for devices, and the end of one's own sign-ins.

use chrono::TimeDelta;
use diesel_async::AsyncConnection;
use uuid::Uuid;

use crate::app::App;
use crate::auth::tokens::Purpose;
use crate::db::users::{self, DeviceToken};
use crate::error::OpError;
use crate::ops::access::Actor;
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::check;

/// How long a device token works.
const DEVICE_LIFE: TimeDelta = TimeDelta::days(180);

/// Makes a token for a device (the command on a laptop); the text is shown once.
///
/// # Errors
/// `Invalid`; the database's.
pub async fn make_device_token(
    app: &App,
    actor: &Actor,
    label: &str,
) -> Result<(DeviceToken, String), OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/label", label, 100);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    let row = conn
        .transaction::<_, OpError, _>(async |conn| {
            let row = users::insert_device_token(
                conn,
                actor.user_id,
                label.trim(),
                now,
                now + DEVICE_LIFE,
            )
            .await?;
            let subject = Subject {
                series: None,
                kind: "device_token",
                id: Some(row.id),
            };
            audit::record(conn, actor, now, "created", subject, NOTHING, Some(&row)).await?;
            Ok(row)
        })
        .await?;
    let token = app
        .token_key
        .sign(Purpose::Device, row.id, now, DEVICE_LIFE)?;
    Ok((row, token))
}

/// Ends one of one's own sign-ins or device tokens.
///
/// # Errors
/// `NotFound`; the database's.
pub async fn end_own(app: &App, actor: &Actor, what: Own, id: Uuid) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    let (kind, name, ended) = match what {
        Own::SignIn => (
            "sign_in",
            "the sign-in",
            users::end_session(conn, actor.user_id, id, now).await?,
        ),
        Own::DeviceToken => (
            "device_token",
            "the device token",
            users::end_device_token(conn, actor.user_id, id, now).await?,
        ),
    };
    if !ended {
        return Err(OpError::NotFound(name));
    }
    let subject = Subject {
        series: None,
        kind,
        id: Some(id),
    };
    audit::record(conn, actor, now, "ended", subject, NOTHING, NOTHING).await
}

/// What of one's own is to be ended.
#[derive(Clone, Copy)]
pub enum Own {
    SignIn,
    DeviceToken,
}
