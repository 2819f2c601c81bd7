//! Series and who works on them.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Role;

use super::Conn;
use super::schema::{memberships, series, users};
use crate::text_enum;

text_enum! {
    /// When the numbers of cards begin again.
    pub enum RollRestart { Never = "never", EachDay = "each_day" }
}

#[expect(
    clippy::derivable_impls,
    reason = "the macro takes no attribute on a variant"
)]
impl Default for RollRestart {
    fn default() -> Self {
        Self::Never
    }
}

/// The settings of a series that people may write.
#[derive(
    Clone,
    Debug,
    PartialEq,
    Serialize,
    Deserialize,
    ToSchema,
    Queryable,
    Selectable,
    Insertable,
    AsChangeset,
)]
#[diesel(table_name = series, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct SeriesFields {
    pub title: String,
    /// The company that releases name as the producer.
    #[serde(default)]
    pub producer_entity: String,
    /// IANA time zone; deadlines and reminders are in it.
    pub zone: String,
    /// How roll folders are named, for instance `{date:YYYYMMDD}_{card}_{camera}_{words}`.
    pub roll_pattern: String,
    /// Usual frame rate, for instance `25` or `29.97df`.
    pub frame_rate: String,
    /// Age from which people sign for themselves.
    pub adult_at: i32,
    /// Whether a release must state what was given for it.
    pub consideration_required: bool,
    #[serde(default)]
    pub holidays: Vec<NaiveDate>,
    #[schema(required)]
    pub shoot_from: Option<NaiveDate>,
    #[schema(required)]
    pub shoot_to: Option<NaiveDate>,
    /// Months from one check of a drive to the next.
    #[serde(default = "six")]
    pub check_months: i32,
    /// Whether a card is safe only when its copies are in two places.
    #[serde(default)]
    pub copies_apart: bool,
    /// Where the team works; a copy anywhere else is off site. Empty: where most copies are.
    #[serde(default)]
    pub main_place: String,
    /// Whether the numbers of cards begin again each day.
    #[serde(default)]
    pub roll_restart: RollRestart,
}

const fn six() -> i32 {
    6
}

/// A series.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = series)]
pub struct Series {
    pub id: Uuid,
    pub organisation_id: Uuid,
    pub version: i32,
    pub created_at: DateTime<Utc>,
    pub updated_at: DateTime<Utc>,
    #[schema(required)]
    pub deleted_at: Option<DateTime<Utc>>,
    #[diesel(embed)]
    #[serde(flatten)]
    pub fields: SeriesFields,
}

/// A series by id, from the bin too.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn load(conn: &Conn, id: Uuid) -> QueryResult<Option<Series>> {
    series::table
        .find(id)
        .select(Series::as_select())
        .first(&mut &*conn)
        .await
        .optional()
}

/// Live series of an organisation with the roles that `user` has in each, by title.
pub async fn of_user(
    conn: &mut Conn,
    organisation: Uuid,
    user: Uuid,
) -> QueryResult<Vec<(Series, Vec<Role>)>> {
    let rows: Vec<(Series, Option<Vec<String>>)> = series::table
        .left_join(
            memberships::table.on(memberships::series_id
                .eq(series::id)
                .and(memberships::user_id.eq(user))),
        )
        .filter(series::organisation_id.eq(organisation))
        .filter(series::deleted_at.is_null())
        .order((series::title, series::id))
        .select((Series::as_select(), memberships::roles.nullable()))
        .load(conn)
        .await?;
    Ok(rows
        .into_iter()
        .map(|(series, words)| (series, read_roles(words.unwrap_or_default())))
        .collect())
}

/// Roles of one user in one series; none for a stranger.
pub async fn roles(conn: &Conn, series: Uuid, user: Uuid) -> QueryResult<Vec<Role>> {
    let words: Option<Vec<String>> = memberships::table
        .find((series, user))
        .select(memberships::roles)
        .first(&mut &*conn)
        .await
        .optional()?;
    Ok(read_roles(words.unwrap_or_default()))
}

/// Sets the roles of a user; an empty list ends the membership.
pub async fn set_roles(
    conn: &mut Conn,
    series: Uuid,
    user: Uuid,
    roles: &[Role],
    now: DateTime<Utc>,
) -> QueryResult<()> {
    if roles.is_empty() {
        diesel::delete(memberships::table.find((series, user)))
            .execute(conn)
            .await?;
        return Ok(());
    }
    let words: Vec<String> = roles.iter().map(|role| word(*role)).collect();
    diesel::insert_into(memberships::table)
        .values((
            memberships::series_id.eq(series),
            memberships::user_id.eq(user),
            memberships::roles.eq(&words),
            memberships::created_at.eq(now),
        ))
        .on_conflict((memberships::series_id, memberships::user_id))
        .do_update()
        .set(memberships::roles.eq(&words))
        .execute(conn)
        .await
        .map(drop)
}

/// A member of a series.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Member {
    pub user_id: Uuid,
    pub name: String,
    pub email: String,
    pub roles: Vec<Role>,
    /// For which broadcaster a delivery contact receives; null: nobody said.
    #[schema(required)]
    pub broadcaster: Option<String>,
}

/// For which broadcaster somebody receives in a series.
pub async fn broadcaster_of(
    conn: &mut Conn,
    series: Uuid,
    user: Uuid,
) -> QueryResult<Option<String>> {
    let found = memberships::table
        .find((series, user))
        .select(memberships::broadcaster)
        .first::<Option<String>>(conn)
        .await
        .optional()?;
    Ok(found.flatten())
}

/// Says for which broadcaster a member receives.
pub async fn set_broadcaster(
    conn: &mut Conn,
    series: Uuid,
    user: Uuid,
    broadcaster: Option<&str>,
) -> QueryResult<()> {
    diesel::update(memberships::table.find((series, user)))
        .set(memberships::broadcaster.eq(broadcaster))
        .execute(conn)
        .await
        .map(drop)
}

/// Members of a series by name.
pub async fn members(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<Member>> {
    type Row = (Uuid, String, String, Vec<String>, Option<String>);
    let rows: Vec<Row> = memberships::table
        .inner_join(users::table.on(users::id.eq(memberships::user_id)))
        .filter(memberships::series_id.eq(series))
        .filter(users::disabled_at.is_null())
        .order((users::name, users::id))
        .select((
            users::id,
            users::name,
            users::email,
            memberships::roles,
            memberships::broadcaster,
        ))
        .load(conn)
        .await?;
    Ok(rows
        .into_iter()
        .map(|(user_id, name, email, words, broadcaster)| Member {
            user_id,
            name,
            email,
            roles: read_roles(words),
            broadcaster,
        })
        .collect())
}

/// Makes a series.
pub async fn insert(
    conn: &mut Conn,
    organisation: Uuid,
    fields: &SeriesFields,
    now: DateTime<Utc>,
) -> QueryResult<Series> {
    diesel::insert_into(series::table)
        .values((
            series::id.eq(Uuid::now_v7()),
            series::organisation_id.eq(organisation),
            series::version.eq(1),
            series::created_at.eq(now),
            series::updated_at.eq(now),
            fields.clone(),
        ))
        .returning(Series::as_returning())
        .get_result(conn)
        .await
}

/// Replaces the settings where the version is still `version`.
pub async fn update(
    conn: &mut Conn,
    id: Uuid,
    version: i32,
    fields: &SeriesFields,
    now: DateTime<Utc>,
) -> QueryResult<Option<Series>> {
    diesel::update(series::table.find(id))
        .filter(series::version.eq(version))
        .set((
            fields.clone(),
            series::version.eq(version.wrapping_add(1)),
            series::updated_at.eq(now),
        ))
        .returning(Series::as_returning())
        .get_result(conn)
        .await
        .optional()
}

/// Moves a series to the bin or back.
pub async fn set_deleted(
    conn: &mut Conn,
    id: Uuid,
    version: i32,
    deleted_at: Option<DateTime<Utc>>,
    now: DateTime<Utc>,
) -> QueryResult<Option<Series>> {
    crate::set_deleted!(series, Series, conn, id, version, deleted_at, now)
}

/// The word under which a role is stored: the same as in JSON.
pub fn word(role: Role) -> String {
    serde_json::to_value(role)
        .ok()
        .and_then(|value| value.as_str().map(str::to_owned))
        .unwrap_or_default()
}

/// Words that no role has any more are left out: they allow nothing.
pub fn read_roles(words: Vec<String>) -> Vec<Role> {
    words
        .into_iter()
        .filter_map(|word| serde_json::from_value(serde_json::Value::String(word)).ok())
        .collect()
}
