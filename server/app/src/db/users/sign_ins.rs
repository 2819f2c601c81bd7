//! Signed in: sessions, device tokens, reset links, and wrong tries.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{User, load};
use crate::db::Conn;
use crate::db::schema::{device_tokens, password_resets, sessions, sign_in_failures, users};

/// A sign-in as its owner sees it.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = sessions)]
pub struct SignIn {
    pub id: Uuid,
    pub created_at: DateTime<Utc>,
    pub last_seen_at: DateTime<Utc>,
    /// What the browser called itself.
    pub agent: String,
    pub address: String,
}

/// Makes a session.
pub async fn insert_session(
    conn: &mut Conn,
    user: Uuid,
    token_hash: &[u8],
    agent: &str,
    address: &str,
    now: DateTime<Utc>,
    life: TimeDelta,
) -> QueryResult<Uuid> {
    let id = Uuid::now_v7();
    diesel::insert_into(sessions::table)
        .values((
            sessions::id.eq(id),
            sessions::user_id.eq(user),
            sessions::token_hash.eq(token_hash),
            sessions::created_at.eq(now),
            sessions::last_seen_at.eq(now),
            sessions::expires_at.eq(now + life),
            sessions::agent.eq(agent.chars().take(300).collect::<String>()),
            sessions::address.eq(address),
        ))
        .execute(conn)
        .await?;
    Ok(id)
}

/// Who holds a live session with this token, seen within `idle`; none when it ended.
pub async fn by_session(
    conn: &mut Conn,
    token_hash: &[u8],
    now: DateTime<Utc>,
    idle: TimeDelta,
) -> QueryResult<Option<(Uuid, DateTime<Utc>, User)>> {
    sessions::table
        .inner_join(users::table.on(users::id.eq(sessions::user_id)))
        .filter(sessions::token_hash.eq(token_hash))
        .filter(sessions::ended_at.is_null())
        .filter(sessions::expires_at.gt(now))
        .filter(sessions::last_seen_at.gt(now - idle))
        .filter(users::disabled_at.is_null())
        .select((sessions::id, sessions::last_seen_at, User::as_select()))
        .first(conn)
        .await
        .optional()
}

/// Notes that a session was used.
pub async fn touch_session(conn: &mut Conn, id: Uuid, now: DateTime<Utc>) -> QueryResult<()> {
    diesel::update(sessions::table.find(id))
        .set(sessions::last_seen_at.eq(now))
        .execute(conn)
        .await
        .map(drop)
}

/// Live sessions of a person, newest first.
pub async fn sign_ins(conn: &mut Conn, user: Uuid, now: DateTime<Utc>) -> QueryResult<Vec<SignIn>> {
    sessions::table
        .filter(sessions::user_id.eq(user))
        .filter(sessions::ended_at.is_null())
        .filter(sessions::expires_at.gt(now))
        .order(sessions::last_seen_at.desc())
        .select(SignIn::as_select())
        .load(conn)
        .await
}

/// Ends one session of a person; false when there is none such.
pub async fn end_session(
    conn: &mut Conn,
    user: Uuid,
    id: Uuid,
    now: DateTime<Utc>,
) -> QueryResult<bool> {
    diesel::update(sessions::table.find(id))
        .filter(sessions::user_id.eq(user))
        .filter(sessions::ended_at.is_null())
        .set(sessions::ended_at.eq(now))
        .execute(conn)
        .await
        .map(|rows| rows > 0)
}

/// Ends all sessions and device tokens of a person, but for the session `keep`.
pub async fn end_everything(
    conn: &mut Conn,
    user: Uuid,
    keep: Option<Uuid>,
    now: DateTime<Utc>,
) -> QueryResult<()> {
    let keep = keep.unwrap_or(Uuid::nil());
    diesel::update(sessions::table)
        .filter(sessions::user_id.eq(user))
        .filter(sessions::id.ne(keep))
        .filter(sessions::ended_at.is_null())
        .set(sessions::ended_at.eq(now))
        .execute(conn)
        .await?;
    diesel::update(device_tokens::table)
        .filter(device_tokens::user_id.eq(user))
        .filter(device_tokens::ended_at.is_null())
        .set(device_tokens::ended_at.eq(now))
        .execute(conn)
        .await
        .map(drop)
}

/// A device token as its owner sees it; the token itself was shown once.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = device_tokens)]
pub struct DeviceToken {
    pub id: Uuid,
    pub label: String,
    pub created_at: DateTime<Utc>,
    pub expires_at: DateTime<Utc>,
    #[schema(required)]
    pub last_used_at: Option<DateTime<Utc>>,
}

/// Makes a device token's row.
pub async fn insert_device_token(
    conn: &mut Conn,
    user: Uuid,
    label: &str,
    now: DateTime<Utc>,
    expires_at: DateTime<Utc>,
) -> QueryResult<DeviceToken> {
    diesel::insert_into(device_tokens::table)
        .values((
            device_tokens::id.eq(Uuid::now_v7()),
            device_tokens::user_id.eq(user),
            device_tokens::label.eq(label),
            device_tokens::created_at.eq(now),
            device_tokens::expires_at.eq(expires_at),
        ))
        .returning(DeviceToken::as_returning())
        .get_result(conn)
        .await
}

/// Who holds a live device token; notes its use.
pub async fn by_device_token(
    conn: &mut Conn,
    id: Uuid,
    now: DateTime<Utc>,
) -> QueryResult<Option<User>> {
    let owner: Option<Uuid> = diesel::update(device_tokens::table.find(id))
        .filter(device_tokens::ended_at.is_null())
        .filter(device_tokens::expires_at.gt(now))
        .set(device_tokens::last_used_at.eq(now))
        .returning(device_tokens::user_id)
        .get_result(conn)
        .await
        .optional()?;
    let Some(owner) = owner else { return Ok(None) };
    Ok(load(conn, owner)
        .await?
        .filter(|user| user.disabled_at.is_none()))
}

/// Live device tokens of a person.
pub async fn device_tokens_of(
    conn: &mut Conn,
    user: Uuid,
    now: DateTime<Utc>,
) -> QueryResult<Vec<DeviceToken>> {
    device_tokens::table
        .filter(device_tokens::user_id.eq(user))
        .filter(device_tokens::ended_at.is_null())
        .filter(device_tokens::expires_at.gt(now))
        .order(device_tokens::created_at.desc())
        .select(DeviceToken::as_select())
        .load(conn)
        .await
}

/// Ends a device token of a person; false when there is none such.
pub async fn end_device_token(
    conn: &mut Conn,
    user: Uuid,
    id: Uuid,
    now: DateTime<Utc>,
) -> QueryResult<bool> {
    diesel::update(device_tokens::table.find(id))
        .filter(device_tokens::user_id.eq(user))
        .filter(device_tokens::ended_at.is_null())
        .set(device_tokens::ended_at.eq(now))
        .execute(conn)
        .await
        .map(|rows| rows > 0)
}

/// Makes a reset's row.
pub async fn insert_reset(
    conn: &mut Conn,
    user: Uuid,
    token_hash: &[u8],
    now: DateTime<Utc>,
    life: TimeDelta,
) -> QueryResult<()> {
    diesel::insert_into(password_resets::table)
        .values((
            password_resets::id.eq(Uuid::now_v7()),
            password_resets::user_id.eq(user),
            password_resets::token_hash.eq(token_hash),
            password_resets::created_at.eq(now),
            password_resets::expires_at.eq(now + life),
        ))
        .execute(conn)
        .await
        .map(drop)
}

/// Spends a reset; whose it was, or none when it is spent, too old or unknown.
pub async fn spend_reset(
    conn: &mut Conn,
    token_hash: &[u8],
    now: DateTime<Utc>,
) -> QueryResult<Option<Uuid>> {
    diesel::update(password_resets::table)
        .filter(password_resets::token_hash.eq(token_hash))
        .filter(password_resets::used_at.is_null())
        .filter(password_resets::expires_at.gt(now))
        .set(password_resets::used_at.eq(now))
        .returning(password_resets::user_id)
        .get_result(conn)
        .await
        .optional()
}

/// When the next try for any of these subjects is allowed; none: now.
pub async fn next_try(conn: &mut Conn, subjects: &[String]) -> QueryResult<Option<DateTime<Utc>>> {
    sign_in_failures::table
        .filter(sign_in_failures::subject.eq_any(subjects))
        .select(diesel::dsl::max(sign_in_failures::next_try_at))
        .first(conn)
        .await
}

/// Counts one more failure and returns how many in a row there are now.
pub async fn count_failure(conn: &mut Conn, subject: &str, now: DateTime<Utc>) -> QueryResult<i32> {
    diesel::insert_into(sign_in_failures::table)
        .values((
            sign_in_failures::subject.eq(subject),
            sign_in_failures::failures.eq(1),
            sign_in_failures::next_try_at.eq(now),
        ))
        .on_conflict(sign_in_failures::subject)
        .do_update()
        .set(sign_in_failures::failures.eq(sign_in_failures::failures + 1))
        .returning(sign_in_failures::failures)
        .get_result(conn)
        .await
}

/// Sets when the next try is allowed.
pub async fn delay_next_try(conn: &mut Conn, subject: &str, at: DateTime<Utc>) -> QueryResult<()> {
    diesel::update(sign_in_failures::table.find(subject))
        .set(sign_in_failures::next_try_at.eq(at))
        .execute(conn)
        .await
        .map(drop)
}

/// A success starts the count anew.
pub async fn forget_failures(conn: &mut Conn, subjects: &[String]) -> QueryResult<()> {
    diesel::delete(sign_in_failures::table.filter(sign_in_failures::subject.eq_any(subjects)))
        .execute(conn)
        .await
        .map(drop)
}
