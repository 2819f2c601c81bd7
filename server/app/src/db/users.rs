//! People who sign in; with what, and how guessing is slowed, is `sign_ins`.

mod sign_ins;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::schema::{organisations, users};
use crate::text_enum;

pub use sign_ins::{
    DeviceToken, SignIn, by_device_token, by_session, count_failure, delay_next_try,
    device_tokens_of, end_device_token, end_everything, end_session, forget_failures,
    insert_device_token, insert_reset, insert_session, next_try, sign_ins, spend_reset,
    touch_session,
};

text_enum! {
    /// How somebody wants to be reminded.
    pub enum MailChoice { Each = "each", Digest = "digest", None = "none" }
}

/// A person who may sign in.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = users)]
pub struct User {
    pub id: Uuid,
    pub organisation_id: Uuid,
    pub email: String,
    pub name: String,
    pub password_hash: String,
    pub is_admin: bool,
    pub disabled_at: Option<DateTime<Utc>>,
    pub mail_choice: MailChoice,
    pub version: i32,
    pub created_at: DateTime<Utc>,
}

/// A person as others see them.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct UserView {
    pub id: Uuid,
    pub name: String,
    pub email: String,
    pub is_admin: bool,
    pub disabled: bool,
    pub mail_choice: MailChoice,
    pub version: i32,
}

impl From<User> for UserView {
    fn from(user: User) -> Self {
        Self {
            id: user.id,
            name: user.name,
            email: user.email,
            is_admin: user.is_admin,
            disabled: user.disabled_at.is_some(),
            mail_choice: user.mail_choice,
            version: user.version,
        }
    }
}

diesel::define_sql_function! { fn lower(text: diesel::sql_types::Text) -> diesel::sql_types::Text; }

/// Whether anybody can sign in yet.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn any(conn: &mut Conn) -> QueryResult<bool> {
    diesel::select(diesel::dsl::exists(users::table.select(users::id)))
        .get_result(conn)
        .await
}

/// Makes an organisation.
pub async fn insert_organisation(
    conn: &mut Conn,
    name: &str,
    now: DateTime<Utc>,
) -> QueryResult<Uuid> {
    let id = Uuid::now_v7();
    diesel::insert_into(organisations::table)
        .values((
            organisations::id.eq(id),
            organisations::name.eq(name),
            organisations::created_at.eq(now),
        ))
        .execute(conn)
        .await?;
    Ok(id)
}

/// Name of an organisation.
pub async fn organisation_name(conn: &mut Conn, id: Uuid) -> QueryResult<String> {
    organisations::table
        .find(id)
        .select(organisations::name)
        .first(conn)
        .await
}

/// A new person.
pub struct NewUser<'a> {
    pub organisation_id: Uuid,
    pub email: &'a str,
    pub name: &'a str,
    pub password_hash: &'a str,
    pub is_admin: bool,
}

/// Makes a person.
pub async fn insert(conn: &mut Conn, new: NewUser<'_>, now: DateTime<Utc>) -> QueryResult<User> {
    diesel::insert_into(users::table)
        .values((
            users::id.eq(Uuid::now_v7()),
            users::organisation_id.eq(new.organisation_id),
            users::email.eq(new.email),
            users::name.eq(new.name),
            users::password_hash.eq(new.password_hash),
            users::is_admin.eq(new.is_admin),
            users::mail_choice.eq(MailChoice::Each),
            users::version.eq(1),
            users::created_at.eq(now),
            users::updated_at.eq(now),
        ))
        .returning(User::as_returning())
        .get_result(conn)
        .await
}

/// A person by address, whatever its case.
pub async fn by_email(conn: &mut Conn, email: &str) -> QueryResult<Option<User>> {
    users::table
        .filter(lower(users::email).eq(email.to_lowercase()))
        .select(User::as_select())
        .first(conn)
        .await
        .optional()
}

/// A person by id.
pub async fn load(conn: &mut Conn, id: Uuid) -> QueryResult<Option<User>> {
    users::table
        .find(id)
        .select(User::as_select())
        .first(conn)
        .await
        .optional()
}

/// People of an organisation by name.
pub async fn of_organisation(conn: &mut Conn, organisation: Uuid) -> QueryResult<Vec<User>> {
    users::table
        .filter(users::organisation_id.eq(organisation))
        .order((users::name, users::id))
        .select(User::as_select())
        .load(conn)
        .await
}

/// Sets a new password; the caller ends the sessions.
pub async fn set_password(
    conn: &mut Conn,
    id: Uuid,
    hash: &str,
    now: DateTime<Utc>,
) -> QueryResult<()> {
    diesel::update(users::table.find(id))
        .set((users::password_hash.eq(hash), users::updated_at.eq(now)))
        .execute(conn)
        .await
        .map(drop)
}

/// What a person may change about themselves.
pub async fn set_own(
    conn: &mut Conn,
    id: Uuid,
    name: &str,
    mail_choice: MailChoice,
    now: DateTime<Utc>,
) -> QueryResult<User> {
    diesel::update(users::table.find(id))
        .set((
            users::name.eq(name),
            users::mail_choice.eq(mail_choice),
            users::version.eq(users::version + 1),
            users::updated_at.eq(now),
        ))
        .returning(User::as_returning())
        .get_result(conn)
        .await
}

/// What an administrator may change about a person, where the version is still `version`.
pub async fn set_by_admin(
    conn: &mut Conn,
    id: Uuid,
    version: i32,
    is_admin: bool,
    disabled_at: Option<DateTime<Utc>>,
    now: DateTime<Utc>,
) -> QueryResult<Option<User>> {
    diesel::update(users::table.find(id))
        .filter(users::version.eq(version))
        .set((
            users::is_admin.eq(is_admin),
            users::disabled_at.eq(disabled_at),
            users::version.eq(version.wrapping_add(1)),
            users::updated_at.eq(now),
        ))
        .returning(User::as_returning())
        .get_result(conn)
        .await
        .optional()
}
