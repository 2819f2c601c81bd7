//! Searches that somebody keeps: their own, or for everybody who may see footage.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::schema::saved_searches;

/// What is kept.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = saved_searches)]
#[serde(deny_unknown_fields)]
pub struct SavedSearchFields {
    pub name: String,
    /// The part of the page's address after the question mark.
    pub query: String,
    /// Whether everybody who may see footage sees it.
    pub shared: bool,
}

/// A kept search.
#[derive(Clone, Debug, Serialize, ToSchema, Queryable, Selectable)]
#[diesel(table_name = saved_searches)]
pub struct SavedSearch {
    pub id: Uuid,
    #[serde(skip)]
    pub series_id: Uuid,
    #[serde(skip)]
    pub owner_id: Uuid,
    pub version: i32,
    /// When it was forgotten.
    #[schema(required)]
    pub deleted_at: Option<DateTime<Utc>>,
    #[diesel(embed)]
    #[serde(flatten)]
    pub fields: SavedSearchFields,
}

/// Those of a person and the shared ones, by name.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn seen_by(conn: &mut Conn, series: Uuid, user: Uuid) -> QueryResult<Vec<SavedSearch>> {
    saved_searches::table
        .filter(saved_searches::series_id.eq(series))
        .filter(saved_searches::owner_id.eq(user).or(saved_searches::shared))
        .filter(saved_searches::deleted_at.is_null())
        .order((saved_searches::name, saved_searches::id))
        .limit(500)
        .select(SavedSearch::as_select())
        .load(conn)
        .await
}

/// A kept search that the person sees, a forgotten one too.
pub async fn find(
    conn: &mut Conn,
    series: Uuid,
    user: Uuid,
    id: Uuid,
) -> QueryResult<Option<SavedSearch>> {
    saved_searches::table
        .find(id)
        .filter(saved_searches::series_id.eq(series))
        .filter(saved_searches::owner_id.eq(user).or(saved_searches::shared))
        .select(SavedSearch::as_select())
        .first(conn)
        .await
        .optional()
}

/// How many a person keeps.
pub async fn count(conn: &mut Conn, series: Uuid, user: Uuid) -> QueryResult<i64> {
    saved_searches::table
        .filter(saved_searches::series_id.eq(series))
        .filter(saved_searches::owner_id.eq(user))
        .filter(saved_searches::deleted_at.is_null())
        .count()
        .get_result(conn)
        .await
}

/// Keeps a search.
pub async fn insert(
    conn: &mut Conn,
    series: Uuid,
    owner: Uuid,
    fields: &SavedSearchFields,
    now: DateTime<Utc>,
) -> QueryResult<SavedSearch> {
    diesel::insert_into(saved_searches::table)
        .values((
            saved_searches::id.eq(Uuid::now_v7()),
            saved_searches::series_id.eq(series),
            saved_searches::owner_id.eq(owner),
            saved_searches::version.eq(1),
            saved_searches::created_at.eq(now),
            saved_searches::updated_at.eq(now),
            fields.clone(),
        ))
        .returning(SavedSearch::as_returning())
        .get_result(conn)
        .await
}

/// Replaces it where its version is still `version`.
pub async fn update(
    conn: &mut Conn,
    id: Uuid,
    version: i32,
    fields: &SavedSearchFields,
    now: DateTime<Utc>,
) -> QueryResult<Option<SavedSearch>> {
    diesel::update(
        saved_searches::table
            .find(id)
            .filter(saved_searches::version.eq(version))
            .filter(saved_searches::deleted_at.is_null()),
    )
    .set((
        fields,
        saved_searches::version.eq(version.wrapping_add(1)),
        saved_searches::updated_at.eq(now),
    ))
    .returning(SavedSearch::as_returning())
    .get_result(conn)
    .await
    .optional()
}

/// Forgets it (`deleted_at` set) or takes it back where its version is still `version`.
pub async fn set_deleted(
    conn: &mut Conn,
    id: Uuid,
    version: i32,
    deleted_at: Option<DateTime<Utc>>,
    now: DateTime<Utc>,
) -> QueryResult<Option<SavedSearch>> {
    crate::set_deleted!(
        saved_searches,
        SavedSearch,
        conn,
        id,
        version,
        deleted_at,
        now
    )
}
