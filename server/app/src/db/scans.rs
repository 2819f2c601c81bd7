//! Scans of drives: the row of each, its chunks, and the drive that it belongs to. What a chunk holds is taken in by
//! `ingest.rs`.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::manifest::{ScanStart, ScanSummary, Skipped};

use super::schema::{drives, scan_chunks, scans};
use super::{Conn, Json};
use crate::text_enum;

text_enum! {
    /// How far a scan is.
    pub enum ScanState { Receiving = "receiving", Complete = "complete" }
}

/// A scan of a drive.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = scans)]
pub struct Scan {
    pub id: Uuid,
    #[serde(skip)]
    pub series_id: Uuid,
    pub drive_id: Uuid,
    /// Name of the scanned folder.
    pub root: String,
    /// Program that scanned.
    pub tool: String,
    pub state: ScanState,
    /// Chunks received.
    pub next_chunk: i32,
    pub files: i32,
    pub bytes: i64,
    /// Contents that the series did not have before.
    pub new_files: i32,
    pub new_copies: i32,
    /// Known contents of which it told more than was known.
    #[serde(skip)]
    pub extended: i32,
    #[schema(value_type = Vec<String>)]
    pub warnings: Json<Vec<String>>,
    #[serde(skip)]
    pub skipped: Json<Vec<Skipped>>,
    #[serde(skip)]
    pub summary: Option<Json<ScanSummary>>,
    pub created_at: DateTime<Utc>,
    #[schema(required)]
    pub completed_at: Option<DateTime<Utc>>,
}

/// A drive, as far as scans care.
#[derive(Clone, Debug, Queryable, Selectable, Serialize)]
#[diesel(table_name = drives)]
pub struct ScannedDrive {
    pub id: Uuid,
    pub label: String,
    pub volume: String,
    pub twin_of: Option<Uuid>,
    pub known_separate: bool,
    #[serde(skip)]
    pub deleted_at: Option<DateTime<Utc>>,
}

/// The scan, locked until the transaction ends, so that two senders of one scan take turns.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn lock(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<Scan>> {
    scans::table
        .find(id)
        .filter(scans::series_id.eq(series))
        .select(Scan::as_select())
        .for_update()
        .first(conn)
        .await
        .optional()
}

/// The scan as it is just now.
pub async fn find(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<Scan>> {
    scans::table
        .find(id)
        .filter(scans::series_id.eq(series))
        .select(Scan::as_select())
        .first(conn)
        .await
        .optional()
}

/// The scan of this id, of whatever series.
pub async fn any(conn: &mut Conn, id: Uuid) -> QueryResult<Option<Scan>> {
    scans::table
        .find(id)
        .select(Scan::as_select())
        .first(conn)
        .await
        .optional()
}

/// The folder of a scan and the label of its drive, as they are just now.
pub async fn place(
    conn: &mut Conn,
    series: Uuid,
    id: Uuid,
) -> QueryResult<Option<(String, String)>> {
    scans::table
        .find(id)
        .filter(scans::series_id.eq(series))
        .inner_join(drives::table.on(drives::id.eq(scans::drive_id)))
        .select((scans::root, drives::label))
        .first(conn)
        .await
        .optional()
}

/// The newest scans of a series.
pub async fn newest(conn: &mut Conn, series: Uuid, limit: i64) -> QueryResult<Vec<Scan>> {
    scans::table
        .filter(scans::series_id.eq(series))
        .order((scans::created_at.desc(), scans::id.desc()))
        .limit(limit)
        .select(Scan::as_select())
        .load(conn)
        .await
}

/// Opens a scan; false when the id is taken.
pub async fn insert(
    conn: &mut Conn,
    series: Uuid,
    drive: Uuid,
    user: Uuid,
    start: &ScanStart,
    warnings: Vec<String>,
    now: DateTime<Utc>,
) -> QueryResult<bool> {
    let made = diesel::insert_into(scans::table)
        .values((
            scans::id.eq(start.id),
            scans::series_id.eq(series),
            scans::drive_id.eq(drive),
            scans::started_by.eq(user),
            scans::root.eq(&start.root),
            scans::tool.eq(&start.tool),
            scans::state.eq(ScanState::Receiving),
            scans::next_chunk.eq(0),
            scans::files.eq(0),
            scans::bytes.eq(0),
            scans::new_files.eq(0),
            scans::new_copies.eq(0),
            scans::warnings.eq(Json(warnings)),
            scans::skipped.eq(Json(start.skipped.clone())),
            scans::devices.eq(&start.devices),
            scans::created_at.eq(now),
        ))
        .on_conflict_do_nothing()
        .execute(conn)
        .await?;
    Ok(made == 1)
}

/// Sets the warnings of a scan that was opened just now.
pub async fn warn(conn: &mut Conn, id: Uuid, warnings: Vec<String>) -> QueryResult<()> {
    diesel::update(scans::table.find(id))
        .set(scans::warnings.eq(Json(warnings)))
        .execute(conn)
        .await
        .map(drop)
}

/// Forgets a scan that brought nothing.
pub async fn delete(conn: &mut Conn, id: Uuid) -> QueryResult<()> {
    diesel::delete(scans::table.find(id))
        .execute(conn)
        .await
        .map(drop)
}

/// Removes a drive that only a scan made at `made` knows of; false when it is known for anything else.
pub async fn delete_untouched_drive(
    conn: &mut Conn,
    id: Uuid,
    made: DateTime<Utc>,
) -> QueryResult<bool> {
    use diesel::sql_types::{Timestamptz, Uuid as SqlUuid};
    diesel::sql_query(
        "delete from drives d where d.id = $1 and d.version = 1 and d.created_at = $2 \
             and not exists (select 1 from scans s where s.drive_id = d.id) \
             and not exists (select 1 from drive_checks k where k.drive_id = d.id) \
             and not exists (select 1 from custody_events e where e.drive_id = d.id) \
             and not exists (select 1 from copies c where c.drive_id = d.id)",
    )
    .bind::<SqlUuid, _>(id)
    .bind::<Timestamptz, _>(made)
    .execute(conn)
    .await
    .map(|count| count == 1)
}

/// Keeps the counts and warnings of a scan.
pub async fn update(conn: &mut Conn, scan: &Scan) -> QueryResult<()> {
    diesel::update(scans::table.find(scan.id))
        .set((
            scans::state.eq(scan.state),
            scans::next_chunk.eq(scan.next_chunk),
            scans::files.eq(scan.files),
            scans::bytes.eq(scan.bytes),
            scans::new_files.eq(scan.new_files),
            scans::new_copies.eq(scan.new_copies),
            scans::extended.eq(scan.extended),
            scans::warnings.eq(&scan.warnings),
            scans::summary.eq(&scan.summary),
            scans::completed_at.eq(scan.completed_at),
        ))
        .execute(conn)
        .await
        .map(drop)
}

/// Digests of the chunks received, in their order.
pub async fn digests(conn: &mut Conn, scan: Uuid) -> QueryResult<Vec<String>> {
    scan_chunks::table
        .filter(scan_chunks::scan_id.eq(scan))
        .order(scan_chunks::number)
        .select(scan_chunks::digest)
        .load(conn)
        .await
}

/// The digest under which chunk `number` was received.
pub async fn digest(conn: &mut Conn, scan: Uuid, number: i32) -> QueryResult<Option<String>> {
    scan_chunks::table
        .find((scan, number))
        .select(scan_chunks::digest)
        .first(conn)
        .await
        .optional()
}

/// Notes a chunk as received, with the copies that it saw.
pub async fn insert_chunk(
    conn: &mut Conn,
    scan: Uuid,
    number: i32,
    digest: &str,
    seen: &[Uuid],
) -> QueryResult<()> {
    use diesel::sql_types::{Array, Integer, Text, Uuid as SqlUuid};
    diesel::sql_query(
        "insert into scan_chunks (scan_id, number, digest, files, copies) \
         values ($1, $2, $3, cardinality($4), $4)",
    )
    .bind::<SqlUuid, _>(scan)
    .bind::<Integer, _>(number)
    .bind::<Text, _>(digest)
    .bind::<Array<SqlUuid>, _>(seen)
    .execute(conn)
    .await
    .map(drop)
}

/// The live drive with this label, in any case.
pub async fn drive_by_label(
    conn: &mut Conn,
    series: Uuid,
    label: &str,
) -> QueryResult<Option<ScannedDrive>> {
    use diesel::dsl::sql;
    use diesel::sql_types::{Bool, Text};
    drives::table
        .filter(drives::series_id.eq(series))
        .filter(drives::deleted_at.is_null())
        .filter(
            sql::<Bool>("lower(label) = lower(")
                .bind::<Text, _>(label)
                .sql(")"),
        )
        .select(ScannedDrive::as_select())
        .first(conn)
        .await
        .optional()
}

/// The live drive whose volume has this id.
pub async fn drive_by_volume(
    conn: &mut Conn,
    series: Uuid,
    volume: &str,
) -> QueryResult<Option<ScannedDrive>> {
    drives::table
        .filter(drives::series_id.eq(series))
        .filter(drives::deleted_at.is_null())
        .filter(drives::volume.eq(volume))
        .select(ScannedDrive::as_select())
        .first(conn)
        .await
        .optional()
}

/// A live drive of the series, locked as by [`lock_drive`].
pub async fn find_drive(
    conn: &mut Conn,
    series: Uuid,
    id: Uuid,
) -> QueryResult<Option<ScannedDrive>> {
    drives::table
        .find(id)
        .filter(drives::series_id.eq(series))
        .filter(drives::deleted_at.is_null())
        .select(ScannedDrive::as_select())
        .for_no_key_update()
        .first(conn)
        .await
        .optional()
}

/// A drive as it is just now.
pub async fn drive(conn: &mut Conn, id: Uuid) -> QueryResult<ScannedDrive> {
    drives::table
        .find(id)
        .select(ScannedDrive::as_select())
        .first(conn)
        .await
}

/// A drive, locked until the transaction ends: scans of one drive take turns.
pub async fn lock_drive(conn: &mut Conn, id: Uuid) -> QueryResult<ScannedDrive> {
    drives::table
        .find(id)
        .select(ScannedDrive::as_select())
        .for_no_key_update()
        .first(conn)
        .await
}

/// These drives and those that may be one of them, locked as by [`lock_drive`]. They are locked in their order: of two
/// alike drives that are completed at once, each looks at the other.
pub async fn lock_alike(conn: &mut Conn, ids: &[Uuid]) -> QueryResult<Vec<ScannedDrive>> {
    let mut locked: Vec<ScannedDrive> = Vec::new();
    loop {
        let links: Vec<(Uuid, Option<Uuid>)> = drives::table
            .filter(drives::id.eq_any(ids))
            .or_filter(drives::twin_of.assume_not_null().eq_any(ids))
            .select((drives::id, drives::twin_of))
            .load(conn)
            .await?;
        let near = links
            .into_iter()
            .flat_map(|(id, twin_of)| [Some(id), twin_of]);
        let near: BTreeSet<Uuid> = near.flatten().collect();
        if locked.iter().map(|drive| drive.id).eq(near.iter().copied()) {
            return Ok(locked);
        }
        // again, if one more turned out to be alike while this waited
        locked = drives::table
            .filter(drives::id.eq_any(near))
            .order(drives::id)
            .select(ScannedDrive::as_select())
            .for_no_key_update()
            .load(conn)
            .await?;
    }
}

/// Whether this drive was taken for another one.
pub async fn has_twin(conn: &mut Conn, id: Uuid) -> QueryResult<bool> {
    let twin_of: Option<Uuid> = drives::table
        .find(id)
        .select(drives::twin_of)
        .first(conn)
        .await?;
    Ok(twin_of.is_some())
}

/// Makes a drive of which only the label is known.
pub async fn insert_drive(
    conn: &mut Conn,
    series: Uuid,
    label: &str,
    volume: &str,
    now: DateTime<Utc>,
) -> QueryResult<ScannedDrive> {
    diesel::insert_into(drives::table)
        .values((
            drives::id.eq(Uuid::now_v7()),
            drives::series_id.eq(series),
            drives::label.eq(label),
            drives::serial.eq(""),
            drives::kind.eq("other"),
            drives::encrypted.eq(false),
            drives::place.eq(""),
            drives::holder.eq(""),
            drives::status.eq("fine"),
            drives::notes.eq(""),
            drives::version.eq(1),
            drives::created_at.eq(now),
            drives::updated_at.eq(now),
            drives::volume.eq(volume),
        ))
        .returning(ScannedDrive::as_returning())
        .get_result(conn)
        .await
}

/// Keeps what a scan found out about which drive this is; the record's version stays.
pub async fn identify_drive(conn: &mut Conn, drive: &ScannedDrive) -> QueryResult<()> {
    diesel::update(drives::table.find(drive.id))
        .set((
            drives::volume.eq(&drive.volume),
            drives::twin_of.eq(drive.twin_of),
            drives::known_separate.eq(drive.known_separate),
        ))
        .execute(conn)
        .await
        .map(drop)
}
