//! Documents: uploaded scans. A document is its content; the same scan sent twice to a series is one row.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::schema::documents;
use crate::error::OpError;

/// An uploaded document.
#[derive(Clone, Debug, PartialEq, Queryable, Selectable, Insertable, Serialize, ToSchema)]
#[diesel(table_name = documents)]
pub struct Document {
    pub series_id: Uuid,
    /// SHA-256 of the content, 64 hexadecimal digits.
    pub id: String,
    /// Name of the file as it was sent first.
    pub name: String,
    pub media_type: String,
    /// Bytes.
    pub size: i64,
    pub created_at: DateTime<Utc>,
}

/// One document of a series.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn load(conn: &mut Conn, series: Uuid, id: &str) -> QueryResult<Option<Document>> {
    documents::table
        .find((series, id))
        .select(Document::as_select())
        .first(conn)
        .await
        .optional()
}

/// Adds a document; false when the series has it already.
pub async fn add(conn: &mut Conn, document: &Document) -> QueryResult<bool> {
    let rows = diesel::insert_into(documents::table)
        .values(document)
        .on_conflict_do_nothing()
        .execute(conn)
        .await?;
    Ok(rows > 0)
}

/// Stops a record that names a document which the series does not have.
///
/// # Errors
/// `Invalid` at `pointer`; the database's.
pub async fn must_exist(
    conn: &mut Conn,
    series: Uuid,
    pointer: &str,
    id: Option<&str>,
) -> Result<(), OpError> {
    match id {
        Some(id) if load(conn, series, id).await?.is_none() => Err(OpError::field(
            pointer,
            "There is no such document in this series. Upload it first.",
        )),
        _ => Ok(()),
    }
}
