//! Who asks, and may they? Not a member of the series: it does not exist for you (404). A member without the right:
//! 403, with the right named.

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;
use waybill_domain::perms::{self, Action, Role};
use waybill_domain::wording::local;

use crate::db::{self, Conn, series::Series};
use crate::error::OpError;

/// The person who asks, as the session or the token says, checked in the database on each request.
#[derive(Clone, Debug)]
pub struct Actor {
    pub user_id: Uuid,
    pub organisation_id: Uuid,
    pub name: String,
    pub email: String,
    pub is_admin: bool,
    /// The browser session; none for a device token.
    pub session_id: Option<Uuid>,
}

/// A person inside a series: what they may do there.
#[derive(Clone, Debug)]
pub struct Access {
    pub actor: Actor,
    pub series: Series,
    pub roles: Vec<Role>,
}

impl Access {
    /// Whether the person may do `action` in this series.
    pub fn may(&self, action: Action) -> bool {
        perms::may(&self.roles, self.actor.is_admin, action)
    }

    /// The day that it is in the series' zone.
    pub fn today(&self, now: DateTime<Utc>) -> NaiveDate {
        local(now, &self.series.fields.zone).date()
    }

    /// Stops who may not.
    ///
    /// # Errors
    /// `NotAllowed`, naming the right that is missing.
    pub fn require(&self, action: Action) -> Result<(), OpError> {
        if self.may(action) {
            return Ok(());
        }
        tracing::warn!(user.id = %self.actor.user_id, series.id = %self.series.id, ?action, "access.refused");
        Err(OpError::NotAllowed(format!(
            "Your roles in this series do not include “{}”. Ask a series producer or an administrator.",
            words(action)
        )))
    }
}

/// Lets the actor into a series to do `action`.
///
/// # Errors
/// `NotFound` for who is neither a member nor an administrator of its organisation, `NotAllowed` without the right.
pub async fn enter(
    conn: &Conn,
    actor: &Actor,
    series: Uuid,
    action: Action,
) -> Result<Access, OpError> {
    let access = look(conn, actor, series).await?;
    access.require(action)?;
    Ok(access)
}

/// Lets the actor into a series without asking for a particular right.
///
/// # Errors
/// `NotFound` as [`enter`].
pub async fn look(conn: &Conn, actor: &Actor, series: Uuid) -> Result<Access, OpError> {
    // both on the way at once
    let (found, roles) = tokio::try_join!(
        db::series::load(conn, series),
        db::series::roles(conn, series, actor.user_id)
    )?;
    let found = found.filter(|found| {
        found.organisation_id == actor.organisation_id && found.deleted_at.is_none()
    });
    let Some(series) = found else {
        return Err(OpError::NotFound("the series"));
    };
    if roles.is_empty() && !actor.is_admin {
        return Err(OpError::NotFound("the series"));
    }
    Ok(Access {
        actor: actor.clone(),
        series,
        roles,
    })
}

/// Stops who does not administer the organisation.
///
/// # Errors
/// `NotAllowed`.
pub fn require_admin(actor: &Actor) -> Result<(), OpError> {
    if actor.is_admin {
        Ok(())
    } else {
        Err(OpError::NotAllowed(
            "Only an administrator of the organisation can do this.".into(),
        ))
    }
}

/// `ViewBirthDate` as `view birth date`.
fn words(action: Action) -> String {
    let mut out = String::new();
    for c in format!("{action:?}").chars() {
        if c.is_uppercase() && !out.is_empty() {
            out.push(' ');
        }
        out.extend(c.to_lowercase());
    }
    out
}
