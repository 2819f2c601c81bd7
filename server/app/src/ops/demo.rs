//! What the demonstration needs beyond the operations that everybody uses: whether it is there, the secret that its
//! passwords come from, and giving somebody the printed password again.

use diesel::prelude::*;
use diesel_async::{AsyncConnection, RunQueryDsl};

use super::audit::{self, NOTHING, Subject};
use crate::app::App;
use crate::auth::actor::actor;
use crate::auth::passwords;
use crate::auth::tokens::{digest, random};
use crate::db::Conn;
use crate::db::schema::server_facts;
use crate::db::users;
use crate::error::OpError;

const SECRET: &str = "demo_secret";
const LOADED: &str = "demo_loaded";

/// How far the demonstration is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DemoState {
    /// Nobody is on this server.
    Empty,
    /// A load began and did not end.
    Begun,
    Loaded,
    /// People who have nothing to do with it.
    Others,
}

/// How far the demonstration is on this server.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn state(app: &App) -> Result<DemoState, OpError> {
    let conn = &mut *app.pool.get().await?;
    if fact(conn, LOADED).await?.is_some() {
        return Ok(DemoState::Loaded);
    }
    Ok(
        match (fact(conn, SECRET).await?.is_some(), users::any(conn).await?) {
            (true, _) => DemoState::Begun,
            (false, true) => DemoState::Others,
            (false, false) => DemoState::Empty,
        },
    )
}

/// The secret of this server's demonstration; made at the first load.
pub async fn secret(app: &App) -> Result<Vec<u8>, OpError> {
    let conn = &mut *app.pool.get().await?;
    keep(conn, app, SECRET, digest(&random())).await?;
    fact(conn, SECRET)
        .await?
        .ok_or_else(|| OpError::Internal("the demonstration's secret is gone".into()))
}

/// Notes that everything is there.
pub async fn mark_loaded(app: &App) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    keep(conn, app, LOADED, Vec::new()).await
}

/// Gives somebody a password and ends their sign-ins.
///
/// # Errors
/// `NotFound` when nobody has the address.
pub async fn set_password(app: &App, email: &str, password: &str) -> Result<(), OpError> {
    let hash = passwords::hash(app, password).await?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let user = users::by_email(conn, email)
            .await?
            .ok_or(OpError::NotFound("the person"))?;
        users::set_password(conn, user.id, &hash, now).await?;
        users::end_everything(conn, user.id, None, now).await?;
        let subject = Subject {
            series: None,
            kind: "user",
            id: Some(user.id),
        };
        let who = actor(user, None);
        audit::record(conn, &who, now, "reset_password", subject, NOTHING, NOTHING).await
    })
    .await
}

async fn fact(conn: &mut Conn, name: &str) -> Result<Option<Vec<u8>>, OpError> {
    let query = server_facts::table
        .find(name)
        .select(server_facts::value)
        .first(conn);
    Ok(query.await.optional()?)
}

async fn keep(conn: &mut Conn, app: &App, name: &str, value: Vec<u8>) -> Result<(), OpError> {
    diesel::insert_into(server_facts::table)
        .values((
            server_facts::name.eq(name),
            server_facts::value.eq(value),
            server_facts::created_at.eq(app.now()),
        ))
        .on_conflict_do_nothing()
        .execute(conn)
        .await?;
    Ok(())
}
