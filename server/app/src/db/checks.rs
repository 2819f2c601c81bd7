//! Readings of drives: scans, copies that were read back, verifications. The row of each, what a verification found,
//! and what it changes of the copies.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::verification::VerificationSummary;

use super::schema::{check_chunks, check_faults, drive_checks};
use super::{Conn, Json};

/// A reading of a drive.
#[derive(Clone, Debug, Queryable, Selectable, Insertable, Serialize, ToSchema)]
#[diesel(table_name = drive_checks)]
pub struct DriveCheck {
    pub id: Uuid,
    #[serde(skip)]
    pub series_id: Uuid,
    pub drive_id: Uuid,
    /// `scan`, `copy` (read back after copying) or `verify`.
    pub how: String,
    /// The folder of the drive that was read.
    pub root: String,
    pub tool: String,
    /// Name of the computer; empty where it was not told.
    pub machine: String,
    #[serde(skip)]
    pub checked_by: Option<Uuid>,
    /// Who made it.
    pub checked_by_name: String,
    /// `receiving` or `complete`.
    pub state: String,
    #[serde(skip)]
    pub next_chunk: i32,
    /// Places reported.
    pub lines: i32,
    /// Counts of a verification.
    #[schema(required, value_type = Option<VerificationSummary>)]
    pub summary: Option<Json<VerificationSummary>>,
    pub created_at: DateTime<Utc>,
    #[schema(required)]
    pub completed_at: Option<DateTime<Utc>>,
}

/// Opens a reading; false when the id is taken.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn insert(conn: &mut Conn, check: &DriveCheck) -> QueryResult<bool> {
    let made = diesel::insert_into(drive_checks::table)
        .values(check)
        .on_conflict_do_nothing()
        .execute(conn)
        .await?;
    Ok(made == 1)
}

/// The reading of this id, of whatever series.
pub async fn any(conn: &mut Conn, id: Uuid) -> QueryResult<Option<DriveCheck>> {
    drive_checks::table
        .find(id)
        .select(DriveCheck::as_select())
        .first(conn)
        .await
        .optional()
}

/// The verification, locked until the transaction ends.
pub async fn lock(
    conn: &mut Conn,
    series: Uuid,
    drive: Uuid,
    id: Uuid,
) -> QueryResult<Option<DriveCheck>> {
    drive_checks::table
        .find(id)
        .filter(drive_checks::series_id.eq(series))
        .filter(drive_checks::drive_id.eq(drive))
        .filter(drive_checks::how.eq("verify"))
        .select(DriveCheck::as_select())
        .for_update()
        .first(conn)
        .await
        .optional()
}

/// The newest readings of a drive.
pub async fn of_drive(
    conn: &mut Conn,
    series: Uuid,
    drive: Uuid,
    limit: i64,
) -> QueryResult<Vec<DriveCheck>> {
    drive_checks::table
        .filter(drive_checks::series_id.eq(series))
        .filter(drive_checks::drive_id.eq(drive))
        .order((drive_checks::created_at.desc(), drive_checks::id.desc()))
        .limit(limit)
        .select(DriveCheck::as_select())
        .load(conn)
        .await
}

/// Keeps how far a reading is.
pub async fn update(conn: &mut Conn, check: &DriveCheck) -> QueryResult<()> {
    diesel::update(drive_checks::table.find(check.id))
        .set((
            drive_checks::state.eq(&check.state),
            drive_checks::next_chunk.eq(check.next_chunk),
            drive_checks::lines.eq(check.lines),
            drive_checks::summary.eq(&check.summary),
            drive_checks::completed_at.eq(check.completed_at),
        ))
        .execute(conn)
        .await
        .map(drop)
}

/// Forgets a reading that brought nothing.
pub async fn delete(conn: &mut Conn, id: Uuid) -> QueryResult<()> {
    diesel::delete(drive_checks::table.find(id))
        .execute(conn)
        .await
        .map(drop)
}

/// Says that the reading of a scan is complete.
pub async fn close_scan(
    conn: &mut Conn,
    id: Uuid,
    lines: i32,
    now: DateTime<Utc>,
) -> QueryResult<()> {
    diesel::update(drive_checks::table.find(id))
        .set((
            drive_checks::state.eq("complete"),
            drive_checks::lines.eq(lines),
            drive_checks::completed_at.eq(now),
        ))
        .execute(conn)
        .await
        .map(drop)
}

/// Digests of the chunks received, in their order.
pub async fn digests(conn: &mut Conn, check: Uuid) -> QueryResult<Vec<String>> {
    check_chunks::table
        .filter(check_chunks::check_id.eq(check))
        .order(check_chunks::number)
        .select(check_chunks::digest)
        .load(conn)
        .await
}

/// The digest under which chunk `number` was received.
pub async fn digest(conn: &mut Conn, check: Uuid, number: i32) -> QueryResult<Option<String>> {
    check_chunks::table
        .find((check, number))
        .select(check_chunks::digest)
        .first(conn)
        .await
        .optional()
}

/// Notes a chunk as received.
pub async fn insert_chunk(
    conn: &mut Conn,
    check: Uuid,
    number: i32,
    digest: &str,
    lines: i32,
) -> QueryResult<()> {
    diesel::insert_into(check_chunks::table)
        .values((
            check_chunks::check_id.eq(check),
            check_chunks::number.eq(number),
            check_chunks::digest.eq(digest),
            check_chunks::lines.eq(lines),
        ))
        .execute(conn)
        .await
        .map(drop)
}

/// Something that is not as it was.
#[derive(Clone, Debug, PartialEq, Eq, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = check_faults)]
pub struct CheckFault {
    /// Path on the drive, the read folder first.
    pub path: String,
    /// `changed`, `missing`, `unreadable`, `new`, `renamed`, or `unknown` where nothing can be said.
    pub result: String,
    pub detail: String,
}

/// Notes what was found; what is noted already stays.
pub async fn add_faults(conn: &mut Conn, check: Uuid, faults: &[CheckFault]) -> QueryResult<usize> {
    let column = |of: fn(&CheckFault) -> &String| faults.iter().map(of).collect::<Vec<_>>();
    diesel::sql_query(
        "insert into check_faults (check_id, path, result, detail) select $1, path, result, detail \
         from unnest($2::text[], $3::text[], $4::text[]) as u (path, result, detail) on conflict do nothing",
    )
    .bind::<SqlUuid, _>(check)
    .bind::<Array<Text>, _>(column(|fault| &fault.path))
    .bind::<Array<Text>, _>(column(|fault| &fault.result))
    .bind::<Array<Text>, _>(column(|fault| &fault.detail))
    .execute(conn)
    .await
}

/// What a verification of the series found, by path, after the path `after`.
pub async fn faults(
    conn: &mut Conn,
    series: Uuid,
    check: Uuid,
    after: &str,
    limit: i64,
) -> QueryResult<Vec<CheckFault>> {
    check_faults::table
        .inner_join(drive_checks::table.on(drive_checks::id.eq(check_faults::check_id)))
        .filter(check_faults::check_id.eq(check))
        .filter(drive_checks::series_id.eq(series))
        .filter(check_faults::path.gt(after))
        .order(check_faults::path)
        .limit(limit)
        .select(CheckFault::as_select())
        .load(conn)
        .await
}

/// A copy that the catalogue knows at a place.
#[derive(Clone, Debug, QueryableByName)]
pub struct KnownCopy {
    /// Place in the list of paths, from 0.
    #[diesel(sql_type = BigInt)]
    pub at: i64,
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub file_id: Uuid,
    #[diesel(sql_type = Text)]
    pub state: String,
    #[diesel(sql_type = BigInt)]
    pub size: i64,
    #[diesel(sql_type = Jsonb)]
    pub hashes: Value,
}

/// Every content that was ever known at these places of a drive, the present one first.
pub async fn copies_at(
    conn: &mut Conn,
    drive: Uuid,
    paths: &[String],
) -> QueryResult<Vec<KnownCopy>> {
    diesel::sql_query(
        "select u.at - 1 as at, c.id, c.file_id, c.state, f.size, f.hashes \
         from unnest($2::text[]) with ordinality as u (path, at) \
         join copies c on c.drive_id = $1 and c.path = u.path join files f on f.id = c.file_id \
         order by u.at, c.state = 'changed', c.checked_at desc",
    )
    .bind::<SqlUuid, _>(drive)
    .bind::<Array<Text>, _>(paths)
    .load(conn)
    .await
}

/// The file of a content.
#[derive(Clone, Debug, QueryableByName)]
pub struct ByContent {
    /// Place in the lists, from 0.
    #[diesel(sql_type = BigInt)]
    pub at: i64,
    #[diesel(sql_type = SqlUuid)]
    pub file_id: Uuid,
}

/// Files of the series by xxh128 and size; an empty digest finds none.
pub async fn by_content(
    conn: &mut Conn,
    series: Uuid,
    xxh128: &[String],
    sizes: &[i64],
) -> QueryResult<Vec<ByContent>> {
    diesel::sql_query(
        "select u.at - 1 as at, f.id as file_id from unnest($2::text[], $3::int8[]) with ordinality \
             as u (xxh128, size, at) \
         join files f on f.series_id = $1 and f.xxh128 = u.xxh128 and f.size = u.size",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(xxh128)
    .bind::<Array<BigInt>, _>(sizes)
    .load(conn)
    .await
}

/// What a verification makes of known copies.
#[derive(Clone, Debug, Default)]
pub struct CopyChanges {
    pub ids: Vec<Uuid>,
    pub states: Vec<&'static str>,
    pub read: Vec<DateTime<Utc>>,
    /// Where each lies now; none: where it was.
    pub paths: Vec<Option<String>>,
}

/// Sets the states of copies, and the places of those that were renamed.
pub async fn change_copies(
    conn: &mut Conn,
    check: Uuid,
    changes: &CopyChanges,
) -> QueryResult<usize> {
    diesel::sql_query(
        "update copies c set state = u.state, check_id = $1, path = coalesce(u.path, c.path), \
             checked_at = case when u.state in ('verified', 'changed') then greatest(c.checked_at, u.read) \
                 else c.checked_at end \
         from unnest($2::uuid[], $3::text[], $4::timestamptz[], $5::text[]) as u (id, state, read, path) \
         where c.id = u.id",
    )
    .bind::<SqlUuid, _>(check)
    .bind::<Array<SqlUuid>, _>(&changes.ids)
    .bind::<Array<Text>, _>(&changes.states)
    .bind::<Array<Timestamptz>, _>(&changes.read)
    .bind::<Array<Nullable<Text>>, _>(&changes.paths)
    .execute(conn)
    .await
}

/// Copies of known contents at places where they were not known.
#[derive(Clone, Debug, Default)]
pub struct CopyAdditions {
    pub files: Vec<Uuid>,
    pub paths: Vec<String>,
    pub read: Vec<DateTime<Utc>>,
}

/// Adds copies; one that is there is verified again. In two statements: see the migration of `holdings`.
pub async fn add_copies(
    conn: &mut Conn,
    series: Uuid,
    drive: Uuid,
    check: Uuid,
    more: &CopyAdditions,
) -> QueryResult<()> {
    if more.files.is_empty() {
        return Ok(());
    }
    diesel::sql_query(
        "update copies c set state = 'verified', check_id = $2, checked_at = greatest(c.checked_at, u.read) \
         from unnest($3::uuid[], $4::text[], $5::timestamptz[]) as u (file, path, read) \
         where c.drive_id = $1 and c.path = u.path and c.file_id = u.file",
    )
    .bind::<SqlUuid, _>(drive)
    .bind::<SqlUuid, _>(check)
    .bind::<Array<SqlUuid>, _>(&more.files)
    .bind::<Array<Text>, _>(&more.paths)
    .bind::<Array<Timestamptz>, _>(&more.read)
    .execute(conn)
    .await?;
    diesel::sql_query(
        "insert into copies (id, series_id, file_id, drive_id, path, checked_at, state, check_id) \
         select id, $1, file, $2, path, read, 'verified', $3 \
         from unnest($4::uuid[], $5::uuid[], $6::text[], $7::timestamptz[]) as u (id, file, path, read) \
         on conflict (drive_id, path, file_id) do nothing",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<SqlUuid, _>(drive)
    .bind::<SqlUuid, _>(check)
    .bind::<Array<SqlUuid>, _>(more.files.iter().map(|_| Uuid::now_v7()).collect::<Vec<_>>())
    .bind::<Array<SqlUuid>, _>(&more.files)
    .bind::<Array<Text>, _>(&more.paths)
    .bind::<Array<Timestamptz>, _>(&more.read)
    .execute(conn)
    .await
    .map(drop)
}

/// A copy that is expected on a drive.
#[derive(Clone, Debug, QueryableByName)]
pub struct ExpectedCopy {
    #[diesel(sql_type = Text)]
    pub path: String,
    #[diesel(sql_type = BigInt)]
    pub size: i64,
    #[diesel(sql_type = Jsonb)]
    pub hashes: Value,
    #[diesel(sql_type = Text)]
    pub state: String,
    #[diesel(sql_type = Timestamptz)]
    pub checked_at: DateTime<Utc>,
}

/// What is known on a drive below a folder (`root`, none: all), by path in byte order, after the path `after`.
pub async fn expected(
    conn: &mut Conn,
    drive: Uuid,
    root: Option<&str>,
    after: &str,
    limit: i64,
) -> QueryResult<Vec<ExpectedCopy>> {
    diesel::sql_query(
        "select c.path, f.size, f.hashes, c.state, c.checked_at from copies c join files f on f.id = c.file_id \
         where c.drive_id = $1 and c.state <> 'changed' and c.path > $3 \
             and ($2 is null or starts_with(c.path, $2 || '/')) \
         order by c.path limit $4",
    )
    .bind::<SqlUuid, _>(drive)
    .bind::<Nullable<Text>, _>(root)
    .bind::<Text, _>(after)
    .bind::<BigInt, _>(limit)
    .load(conn)
    .await
}

/// What the care of a drive depends on.
#[derive(Clone, Debug, QueryableByName)]
pub struct DriveCare {
    #[diesel(sql_type = Text)]
    pub status: String,
    #[diesel(sql_type = Nullable<diesel::sql_types::Date>)]
    pub next_check_on: Option<chrono::NaiveDate>,
    #[diesel(sql_type = Text)]
    pub holder: String,
    #[diesel(sql_type = Text)]
    pub place: String,
    #[diesel(sql_type = Timestamptz)]
    pub created_at: DateTime<Utc>,
    /// When the verified copy that was read longest ago was read.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub oldest: Option<DateTime<Utc>>,
    /// Whether a file of a card was found changed or unreadable here and is not back.
    #[diesel(sql_type = Bool)]
    pub bad: bool,
}

/// Facts about a live drive.
pub async fn care(conn: &mut Conn, series: Uuid, drive: Uuid) -> QueryResult<Option<DriveCare>> {
    diesel::sql_query(
        "select d.status, d.next_check_on, d.holder, d.place, d.created_at, \
             (select min(c.checked_at) from copies c where c.drive_id = d.id and c.state = 'verified') as oldest, \
             exists (select 1 from copies c join files f on f.id = c.file_id \
                 where c.drive_id = d.id and c.state <> 'verified' and f.card_id is not null and (c.state = 'unreadable' \
                     or (c.state = 'changed' and not exists ( \
                         select 1 from copies o join files older on older.id = o.file_id \
                         where o.drive_id = c.drive_id and o.path = c.path and o.state = 'verified' \
                             and older.created_at < f.created_at)))) as bad \
         from drives d where d.id = $2 and d.series_id = $1 and d.deleted_at is null",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<SqlUuid, _>(drive)
    .get_result(conn)
    .await
    .optional()
}

/// Keeps what care found out of a drive, as a new version of its record.
pub async fn set_care(
    conn: &mut Conn,
    drive: Uuid,
    care: &DriveCare,
    now: DateTime<Utc>,
) -> QueryResult<()> {
    use super::schema::drives;
    diesel::update(drives::table.find(drive))
        .set((
            drives::status.eq(&care.status),
            drives::next_check_on.eq(care.next_check_on),
            drives::holder.eq(&care.holder),
            drives::place.eq(&care.place),
            drives::version.eq(drives::version + 1),
            drives::updated_at.eq(now),
        ))
        .execute(conn)
        .await
        .map(drop)
}
