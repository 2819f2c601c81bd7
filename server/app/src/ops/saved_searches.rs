//! Searches that somebody keeps. A shared one is changed and forgotten by its owner, or by who runs the house.

use diesel_async::AsyncConnection;
use uuid::Uuid;
use waybill_domain::perms::Action;

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::check;
use crate::app::App;
use crate::db::Conn;
use crate::db::saved_searches::{self as db, SavedSearch, SavedSearchFields};
use crate::error::{FieldError, OpError};

/// The most that one person keeps in a series.
const KEPT: i64 = 200;

/// What a person keeps, and what is shared.
///
/// # Errors
/// Access; the database's.
pub async fn list(app: &App, actor: &Actor, series: Uuid) -> Result<Vec<SavedSearch>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    Ok(db::seen_by(conn, series, actor.user_id).await?)
}

/// Keeps a search.
///
/// # Errors
/// Access; `Invalid`; the database's.
pub async fn create(
    app: &App,
    actor: &Actor,
    series: Uuid,
    fields: SavedSearchFields,
) -> Result<SavedSearch, OpError> {
    checked(&fields)?;
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        room(conn, series, actor.user_id).await?;
        let made = db::insert(conn, series, actor.user_id, &fields, now).await?;
        let subject = Subject::of(series, "saved_search", made.id);
        audit::record(conn, actor, now, "created", subject, NOTHING, Some(&made)).await?;
        Ok(made)
    })
    .await
}

/// Replaces a kept search.
///
/// # Errors
/// Access; `Invalid`; `NotFound`; `Stale` when somebody changed it meanwhile; the database's.
pub async fn replace(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    version: i32,
    fields: SavedSearchFields,
) -> Result<SavedSearch, OpError> {
    checked(&fields)?;
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let old = owned(conn, actor, series, id).await?;
        let Some(new) = db::update(conn, id, version, &fields, now).await? else {
            return Err(stale(conn, actor, series, id).await?);
        };
        let subject = Subject::of(series, "saved_search", id);
        audit::record(
            conn,
            actor,
            now,
            "replaced",
            subject,
            Some(&old),
            Some(&new),
        )
        .await?;
        Ok(new)
    })
    .await
}

/// Forgets a kept search (`version` given) or takes it back.
///
/// # Errors
/// As [`replace`]; `Conflict` where there is no room to take it back.
pub async fn set_deleted(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    version: Option<i32>,
) -> Result<SavedSearch, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let old = owned(conn, actor, series, id).await?;
        let (at, deleted_at, action) = match version {
            Some(version) => (version, Some(now), "deleted"),
            None => (old.version, None, "restored"),
        };
        if old.deleted_at.is_some() == deleted_at.is_some() {
            return Ok(old);
        }
        if deleted_at.is_none() {
            room(conn, series, old.owner_id).await?;
        }
        let Some(new) = db::set_deleted(conn, id, at, deleted_at, now).await? else {
            return Err(stale(conn, actor, series, id).await?);
        };
        let subject = Subject::of(series, "saved_search", id);
        audit::record(conn, actor, now, action, subject, Some(&old), Some(&new)).await?;
        Ok(new)
    })
    .await
}

async fn room(conn: &mut Conn, series: Uuid, owner: Uuid) -> Result<(), OpError> {
    if db::count(conn, series, owner).await? >= KEPT {
        return Err(OpError::Conflict(format!(
            "You keep {KEPT} searches here, which is all there is room for. Forget one first; nothing was saved."
        )));
    }
    Ok(())
}

async fn owned(
    conn: &mut Conn,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
) -> Result<SavedSearch, OpError> {
    let found = db::find(conn, series, actor.user_id, id)
        .await?
        .ok_or(OpError::NotFound("the kept search"))?;
    if found.owner_id != actor.user_id && !actor.is_admin {
        return Err(OpError::NotAllowed(
            "Somebody else shared this search; only they or an administrator can change it.".into(),
        ));
    }
    Ok(found)
}

async fn stale(conn: &mut Conn, actor: &Actor, series: Uuid, id: Uuid) -> Result<OpError, OpError> {
    let current = owned(conn, actor, series, id).await?;
    audit::stale(conn, id, current.version, &current).await
}

fn checked(fields: &SavedSearchFields) -> Result<(), OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/name", &fields.name, 100);
    check::required(&mut faults, "/query", &fields.query, 4000);
    if fields.query.contains(char::is_control) {
        faults.push(FieldError::new("/query", "An address holds no such signs."));
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(OpError::Invalid(faults))
    }
}
