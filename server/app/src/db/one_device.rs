//! Drives that share a device: what scans said of where their folders lie, and the groups that follow
//! (`domain::footage::one_device`).

use std::collections::BTreeMap;

use diesel::dsl::sql;
use diesel::prelude::*;
use diesel::sql_types::{Array, Bool, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use uuid::Uuid;
use waybill_domain::footage::one_device::together;

use super::Conn;
use super::schema::drives;

/// What stands for a drive's group, before or after it was worked out anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct OneWith {
    pub one_with: Option<Uuid>,
}

/// A drive whose group is another one now.
#[derive(Clone, Copy, Debug)]
pub struct Regrouped {
    pub drive: Uuid,
    pub before: OneWith,
    pub after: OneWith,
}

/// Whoever changes what names the devices of a series' drives takes turns until the transaction ends. Taken before any
/// drive is locked.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn take_turns(conn: &mut Conn, series: Uuid) -> QueryResult<()> {
    diesel::sql_query(
        "select pg_advisory_xact_lock(hashtextextended('one device ' || $1::text, 0))",
    )
    .bind::<SqlUuid, _>(series)
    .execute(conn)
    .await
    .map(drop)
}

/// Adds to what a scan said of its device; true when there is something new.
pub async fn add(conn: &mut Conn, scan: Uuid, devices: &[String]) -> QueryResult<bool> {
    let changed = diesel::sql_query(
        "update scans set devices = array(select distinct n from unnest(devices || $2) n order by n) \
         where id = $1 and not devices @> $2",
    )
    .bind::<SqlUuid, _>(scan)
    .bind::<Array<Text>, _>(devices)
    .execute(conn)
    .await?;
    Ok(changed > 0)
}

/// What a scan told of its device.
#[derive(Clone, Debug, QueryableByName)]
pub struct Told {
    #[diesel(sql_type = SqlUuid)]
    pub scan: Uuid,
    #[diesel(sql_type = Array<Text>)]
    pub devices: Vec<String>,
}

/// What a scan told of its device, itself among them, and what earlier ones told of the same folder of the drive or of
/// one within it.
pub async fn told(conn: &mut Conn, scan: Uuid) -> QueryResult<Vec<Told>> {
    diesel::sql_query(
        "select o.id as scan, o.devices from scans o, scans s where s.id = $1 and o.drive_id = s.drive_id \
             and (o.root = s.root or starts_with(o.root, s.root || '/')) and o.created_at <= s.created_at \
             and o.devices <> '{}'",
    )
    .bind::<SqlUuid, _>(scan)
    .load(conn)
    .await
}

/// Forgets what these scans told.
pub async fn forget(conn: &mut Conn, scans: &[Uuid]) -> QueryResult<()> {
    diesel::sql_query("update scans set devices = '{}' where id = any($1)")
        .bind::<Array<SqlUuid>, _>(scans)
        .execute(conn)
        .await
        .map(drop)
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = SqlUuid)]
    drive: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
}

/// Works out anew which drives of a series are one; those whose group changed. Drives in the bin are counted in: what
/// two others share with one of them they share with each other.
pub async fn regroup(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<Regrouped>> {
    let named: Vec<Named> = diesel::sql_query(
        "select distinct s.drive_id as drive, n.name from scans s, unnest(s.devices) as n (name) \
         where s.series_id = $1 and s.devices <> '{}'",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await?;
    let rows: Vec<(Uuid, Option<Uuid>, Option<Uuid>)> = drives::table
        .filter(drives::series_id.eq(series))
        .order(drives::id)
        .select((drives::id, drives::twin_of, drives::one_with))
        .load(conn)
        .await?;
    let alike = rows
        .iter()
        .filter_map(|(id, twin_of, _)| Some((*id, (*twin_of)?)));
    let groups: BTreeMap<Uuid, Uuid> = together(
        named.iter().map(|named| (named.drive, named.name.as_str())),
        alike,
    );
    let mut changed = Vec::new();
    for (drive, _, one_with) in rows {
        let now = groups.get(&drive).copied();
        if now != one_with {
            diesel::update(drives::table.find(drive))
                .set(drives::one_with.eq(now))
                .execute(conn)
                .await?;
            changed.push(Regrouped {
                drive,
                before: OneWith { one_with },
                after: OneWith { one_with: now },
            });
        }
    }
    Ok(changed)
}

#[derive(QueryableByName)]
struct Label {
    #[diesel(sql_type = Text)]
    label: String,
}

/// Labels of the other live drives of the series ($1) that share a device with the drive ($2), as scans told of it.
macro_rules! labels_beside {
    () => {
        "select d.label from drives d where d.series_id = $1 and d.id <> $2 and d.deleted_at is null and exists ( \
             select 1 from scans o, scans s where s.series_id = $1 and s.drive_id = $2 and s.devices <> '{}' \
                 and o.series_id = $1 and o.drive_id = d.id and o.devices && s.devices) \
         order by lower(d.label), d.id"
    };
}
pub(super) use labels_beside;

/// The drives that share a device with this one.
pub async fn beside(conn: &mut Conn, series: Uuid, drive: Uuid) -> QueryResult<Vec<String>> {
    let labels: Vec<Label> = diesel::sql_query(labels_beside!())
        .bind::<SqlUuid, _>(series)
        .bind::<SqlUuid, _>(drive)
        .load(conn)
        .await?;
    Ok(labels.into_iter().map(|row| row.label).collect())
}

#[derive(QueryableByName)]
struct Labels {
    #[diesel(sql_type = Array<Text>)]
    labels: Vec<String>,
}

/// A drive that is there itself, and what its copies don't count for: another one of its device, or that it may be, is
/// missing or has something bad on it. The sentence that says so.
#[derive(Clone, Debug, QueryableByName, thiserror::Error)]
#[error(
    "{label} doesn't count as a copy: {by} {}, and the two share a device or may be one drive. That ends when {by} is \
     scanned without a fault, or retired.",
    if *missing { "is missing" } else { "has a mismatch" }
)]
pub struct HeldBack {
    #[diesel(sql_type = Text)]
    pub label: String,
    /// The other one; with a word where it is in the bin.
    #[diesel(sql_type = Text)]
    pub by: String,
    /// Else it is in mismatch.
    #[diesel(sql_type = Bool)]
    pub missing: bool,
}

/// Which of these drives don't count for what befell others (view `drives_at_hand`).
pub async fn held_back(
    conn: &mut Conn,
    series: Uuid,
    drives: &[Uuid],
) -> QueryResult<Vec<HeldBack>> {
    diesel::sql_query(
        "select d.label, o.label || case when o.deleted_at is null then '' else ' (in the bin)' end as by, \
             o.status = 'missing' as missing \
         from drives d join drives o on o.series_id = d.series_id and o.one_with = d.one_with \
         where d.series_id = $1 and d.id = any($2) and d.deleted_at is null and d.status in ('fine', 'check_due') \
             and o.status in ('missing', 'mismatch') \
         order by lower(d.label), d.id, lower(o.label), o.id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(drives)
    .load(conn)
    .await
}

/// Live drives that hold files of a card.
pub async fn that_hold(conn: &mut Conn, series: Uuid, card: Uuid) -> QueryResult<Vec<Uuid>> {
    drives::table
        .filter(drives::series_id.eq(series))
        .filter(drives::deleted_at.is_null())
        .filter(sql::<Bool>("exists (select 1 from holdings h where h.series_id = drives.series_id and h.card_id = ")
            .bind::<SqlUuid, _>(card)
            .sql(" and h.drives @> array[drives.id] and h.files > 0)"))
        .select(drives::id)
        .load(conn)
        .await
}

/// Of these drives those at hand that are one copy: their labels, group by group.
pub async fn one_copy(
    conn: &mut Conn,
    series: Uuid,
    drives: &[Uuid],
) -> QueryResult<Vec<Vec<String>>> {
    let groups: Vec<Labels> = diesel::sql_query(
        "select array_agg(d.label order by lower(d.label), d.id) as labels \
         from drives_at_hand h join drives d on d.id = h.id where h.series_id = $1 and h.id = any($2) \
         group by h.device having count(*) > 1 order by 1",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(drives)
    .load(conn)
    .await?;
    Ok(groups.into_iter().map(|row| row.labels).collect())
}
