//! Lists that are brought in: the files for a day, the mappings under their names, the imports with their rows.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde_json::Value;
use uuid::Uuid;

use super::Conn;
use super::schema::{sheet_import_rows, sheet_imports, sheet_mappings, sheet_uploads};

/// A file that somebody is bringing in.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = sheet_uploads)]
pub struct UploadRow {
    pub id: Uuid,
    pub series_id: Uuid,
    pub user_id: Uuid,
    pub kind: String,
    pub name: String,
    pub content: Vec<u8>,
    pub created_at: DateTime<Utc>,
}

/// Keeps a file; of one person the newest five in a series stay.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn keep(conn: &mut Conn, row: &UploadRow) -> QueryResult<()> {
    diesel::insert_into(sheet_uploads::table)
        .values(row)
        .execute(conn)
        .await?;
    let newest: Vec<Uuid> = sheet_uploads::table
        .filter(sheet_uploads::series_id.eq(row.series_id))
        .filter(sheet_uploads::user_id.eq(row.user_id))
        .select(sheet_uploads::id)
        .order(sheet_uploads::id.desc())
        .limit(5)
        .load(conn)
        .await?;
    diesel::delete(
        sheet_uploads::table
            .filter(sheet_uploads::series_id.eq(row.series_id))
            .filter(sheet_uploads::user_id.eq(row.user_id))
            .filter(sheet_uploads::id.ne_all(newest)),
    )
    .execute(conn)
    .await
    .map(drop)
}

/// A file of this person that was sent after `since`.
pub async fn upload(
    conn: &mut Conn,
    series: Uuid,
    user: Uuid,
    id: Uuid,
    since: DateTime<Utc>,
) -> QueryResult<Option<UploadRow>> {
    sheet_uploads::table
        .filter(sheet_uploads::id.eq(id))
        .filter(sheet_uploads::series_id.eq(series))
        .filter(sheet_uploads::user_id.eq(user))
        .filter(sheet_uploads::created_at.gt(since))
        .select(UploadRow::as_select())
        .first(conn)
        .await
        .optional()
}

/// Deletes a file of this person.
pub async fn forget(conn: &mut Conn, series: Uuid, user: Uuid, id: Uuid) -> QueryResult<()> {
    diesel::delete(
        sheet_uploads::table
            .filter(sheet_uploads::id.eq(id))
            .filter(sheet_uploads::series_id.eq(series))
            .filter(sheet_uploads::user_id.eq(user)),
    )
    .execute(conn)
    .await
    .map(drop)
}

/// Deletes the files that were sent before an instant.
pub async fn forget_before(conn: &mut Conn, instant: DateTime<Utc>) -> QueryResult<()> {
    diesel::delete(sheet_uploads::table.filter(sheet_uploads::created_at.lt(instant)))
        .execute(conn)
        .await
        .map(drop)
}

/// A mapping under its name.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = sheet_mappings)]
pub struct MappingRow {
    pub id: Uuid,
    pub series_id: Uuid,
    pub kind: String,
    pub name: String,
    pub mapping: Value,
    pub made_by: String,
    pub updated_at: DateTime<Utc>,
}

/// Mappings for a kind of list, by name.
pub async fn mappings(conn: &mut Conn, series: Uuid, kind: &str) -> QueryResult<Vec<MappingRow>> {
    sheet_mappings::table
        .filter(sheet_mappings::series_id.eq(series))
        .filter(sheet_mappings::kind.eq(kind))
        .select(MappingRow::as_select())
        .order((sheet_mappings::name, sheet_mappings::id))
        .load(conn)
        .await
}

/// Keeps a mapping in place of those in `instead`.
pub async fn keep_mapping(conn: &mut Conn, row: &MappingRow, instead: &[Uuid]) -> QueryResult<()> {
    diesel::delete(sheet_mappings::table.filter(sheet_mappings::id.eq_any(instead)))
        .execute(conn)
        .await?;
    diesel::insert_into(sheet_mappings::table)
        .values(row)
        .execute(conn)
        .await
        .map(drop)
}

/// One mapping.
pub async fn mapping(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<MappingRow>> {
    sheet_mappings::table
        .filter(sheet_mappings::id.eq(id))
        .filter(sheet_mappings::series_id.eq(series))
        .select(MappingRow::as_select())
        .first(conn)
        .await
        .optional()
}

/// Deletes a mapping.
pub async fn forget_mapping(conn: &mut Conn, id: Uuid) -> QueryResult<()> {
    diesel::delete(sheet_mappings::table.find(id))
        .execute(conn)
        .await
        .map(drop)
}

/// An act of bringing in a list.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = sheet_imports)]
pub struct ImportRow {
    pub id: Uuid,
    pub series_id: Uuid,
    pub kind: String,
    pub file_name: String,
    pub user_id: Option<Uuid>,
    pub user_name: String,
    pub at: DateTime<Utc>,
    pub made: i32,
    pub changed: i32,
    pub left_out: i32,
    pub faulty: i32,
    pub request_id: Option<Uuid>,
    pub undone_at: Option<DateTime<Utc>>,
    pub undone_by: Option<String>,
    pub kept: Option<Value>,
}

/// What a row of an import did.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = sheet_import_rows)]
pub struct ImportedRow {
    pub import_id: Uuid,
    pub record_id: Uuid,
    pub number: i32,
    /// The record's version after it.
    pub version: i32,
    /// The record's fields before it; none where the row made the record.
    pub before: Option<Value>,
}

/// Adds an import with its rows.
pub async fn add_import(
    conn: &mut Conn,
    import: &ImportRow,
    rows: &[ImportedRow],
) -> QueryResult<()> {
    diesel::insert_into(sheet_imports::table)
        .values(import)
        .execute(conn)
        .await?;
    for some in rows.chunks(1000) {
        diesel::insert_into(sheet_import_rows::table)
            .values(some)
            .execute(conn)
            .await?;
    }
    Ok(())
}

/// The newest imports of a series.
pub async fn imports(conn: &mut Conn, series: Uuid, limit: i64) -> QueryResult<Vec<ImportRow>> {
    sheet_imports::table
        .filter(sheet_imports::series_id.eq(series))
        .select(ImportRow::as_select())
        .order(sheet_imports::id.desc())
        .limit(limit)
        .load(conn)
        .await
}

/// One import, locked until the transaction ends.
pub async fn lock_import(
    conn: &mut Conn,
    series: Uuid,
    id: Uuid,
) -> QueryResult<Option<ImportRow>> {
    sheet_imports::table
        .filter(sheet_imports::id.eq(id))
        .filter(sheet_imports::series_id.eq(series))
        .select(ImportRow::as_select())
        .for_update()
        .first(conn)
        .await
        .optional()
}

/// The rows of an import, the last first.
pub async fn imported_rows(conn: &mut Conn, import: Uuid) -> QueryResult<Vec<ImportedRow>> {
    sheet_import_rows::table
        .filter(sheet_import_rows::import_id.eq(import))
        .select(ImportedRow::as_select())
        .order(sheet_import_rows::number.desc())
        .load(conn)
        .await
}

/// Notes that an import was undone, by whom, and what stayed.
pub async fn mark_undone(
    conn: &mut Conn,
    id: Uuid,
    by: &str,
    at: DateTime<Utc>,
    kept: Value,
) -> QueryResult<()> {
    diesel::update(sheet_imports::table.find(id))
        .set((
            sheet_imports::undone_at.eq(at),
            sheet_imports::undone_by.eq(by),
            sheet_imports::kept.eq(kept),
        ))
        .execute(conn)
        .await
        .map(drop)
}
