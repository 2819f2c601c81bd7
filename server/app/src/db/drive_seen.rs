//! What the computer that scans a drive says of it: its room, its kind, its serial number.

use chrono::{DateTime, Utc};
use diesel::QueryResult;
use diesel::sql_types::{BigInt, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::manifest::DriveSeen;

use super::Conn;

/// Keeps what was seen, unless something newer is known. Free room is always what was seen; what else a person has
/// entered stays, and only what is open is filled in.
///
/// # Errors
/// The database's.
pub async fn keep(
    conn: &mut Conn,
    drive: Uuid,
    seen: &DriveSeen,
    now: DateTime<Utc>,
) -> QueryResult<()> {
    let bytes = |bytes: u64| i64::try_from(bytes).unwrap_or(i64::MAX);
    diesel::sql_query(
        "update drives d set capacity_bytes = s.capacity, free_bytes = s.free, free_seen = s.free, free_seen_at = $4, \
             kind = case when d.kind = 'other' then coalesce($5, d.kind) else d.kind end, \
             serial = case when d.serial = '' then coalesce($6, '') else d.serial end, \
             version = d.version + 1, updated_at = $7 \
         from (select coalesce(capacity_bytes, $2) as capacity, least($3, coalesce(capacity_bytes, $2)) as free \
             from drives where id = $1) s \
         where d.id = $1 and (d.free_seen_at is null or d.free_seen_at < $4)",
    )
    .bind::<SqlUuid, _>(drive)
    .bind::<BigInt, _>(bytes(seen.capacity_bytes))
    .bind::<BigInt, _>(bytes(seen.free_bytes))
    .bind::<Timestamptz, _>(seen.at.min(now))
    .bind::<Nullable<Text>, _>(seen.kind.map(|kind| kind.word()))
    .bind::<Nullable<Text>, _>(seen.serial.as_deref())
    .bind::<Timestamptz, _>(now)
    .execute(conn)
    .await
    .map(drop)
}
