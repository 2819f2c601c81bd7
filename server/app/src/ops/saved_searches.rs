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
        if db::count(conn, series, actor.user_id).await? >= KEPT {
            return Err(OpError::Conflict(format!(
                "You keep {KEPT} searches here, which is all there is room for. Forget one first; nothing was saved."
            )));
        }
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
/// Access; `Invalid`; `NotFound`; `Conflict` when somebody changed it meanwhile.
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
        let new = db::update(conn, id, version, &fields, now)
            .await?
            .ok_or_else(changed)?;
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

/// Forgets a kept search.
///
/// # Errors
/// As [`replace`].
pub async fn remove(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    version: i32,
) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let old = owned(conn, actor, series, id).await?;
        if !db::delete(conn, id, version).await? {
            return Err(changed());
        }
        let subject = Subject::of(series, "saved_search", id);
        audit::record(conn, actor, now, "deleted", subject, Some(&old), NOTHING).await
    })
    .await
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

fn changed() -> OpError {
    OpError::Conflict(
        "This search was changed meanwhile. Look at it again, then decide; nothing was saved."
            .into(),
    )
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
