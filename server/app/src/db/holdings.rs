//! What lies on which devices, counted together: the compact groups that `domain::footage::risk` works on. A copy counts
//! when it was verified and its drive is at hand, as in the views `card_manifest` and `drives_at_hand`; two drives that may be one are one.
//!
//! The counts are kept in the table `holdings` (its migration says how), by drives; which of these are at hand and which
//! are one device is decided when they are read.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Date, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::Conn;

/// A live drive.
#[derive(Clone, Debug, QueryableByName)]
pub struct LiveDrive {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// Itself, or what stands for all drives on its device.
    #[diesel(sql_type = SqlUuid)]
    pub device: Uuid,
    #[diesel(sql_type = Text)]
    pub label: String,
    #[diesel(sql_type = Text)]
    pub kind: String,
    #[diesel(sql_type = Text)]
    pub place: String,
    /// Whether its copies count (view `drives_at_hand`): it is there, and nothing on it or its device is known to be
    /// wrong.
    #[diesel(sql_type = Bool)]
    pub at_hand: bool,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub capacity_bytes: Option<i64>,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub free_bytes: Option<i64>,
    #[diesel(sql_type = Nullable<Date>)]
    pub next_check_on: Option<NaiveDate>,
}

/// All live drives of a series, by label.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn drives(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<LiveDrive>> {
    diesel::sql_query(
        "select id, coalesce(one_with, id) as device, label, kind, place, capacity_bytes, free_bytes, \
             next_check_on, id in (select h.id from drives_at_hand h where h.series_id = $1) as at_hand \
         from drives where series_id = $1 and deleted_at is null order by lower(label), id",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await
}

/// Devices by number: those of the drives at hand, in the order of the list.
#[derive(Clone, Debug, Default)]
pub struct Devices {
    /// For each number the drive at hand that speaks for the device: the one that it is known by, or else its first.
    pub ids: Vec<Uuid>,
    /// Drives at hand and the numbers of their devices.
    of_drive: BTreeMap<Uuid, u16>,
}

impl Devices {
    /// Numbers the devices of the drives at hand.
    pub fn of(drives: &[LiveDrive]) -> Self {
        let mut devices = Self::default();
        let mut known_by: Vec<Uuid> = Vec::new();
        for drive in drives.iter().filter(|drive| drive.at_hand) {
            let known = known_by.iter().position(|id| *id == drive.device);
            let number = known.unwrap_or_else(|| {
                known_by.push(drive.device);
                devices.ids.push(drive.id);
                devices.ids.len() - 1
            });
            if drive.id == drive.device {
                devices.ids[number] = drive.id;
            }
            if let Ok(number) = u16::try_from(number) {
                devices.of_drive.insert(drive.id, number);
            }
        }
        devices
    }

    /// The number of a drive's device; none for a drive that is not at hand.
    pub fn number(&self, drive: Uuid) -> Option<u16> {
        self.of_drive.get(&drive).copied()
    }

    /// Drives at hand whose devices fit.
    pub fn drives_where(&self, fits: impl Fn(u16) -> bool) -> Vec<Uuid> {
        let all = self.of_drive.iter();
        all.filter(|(_, number)| fits(**number))
            .map(|(drive, _)| *drive)
            .collect()
    }

    /// The devices of these drives, each once, in order.
    fn numbers(&self, drives: &[Uuid]) -> Vec<u16> {
        let mut numbers: Vec<u16> = drives.iter().filter_map(|id| self.number(*id)).collect();
        numbers.sort_unstable();
        numbers.dedup();
        numbers
    }
}

/// Which files are counted.
#[derive(Clone, Copy, Debug)]
pub enum Scope<'a> {
    /// All with a copy that counts.
    All,
    /// Those with a copy that counts on any of these drives.
    OnDrives(&'a [Uuid]),
    /// All of a card, those without a copy too.
    Card(Uuid),
    /// All that an imported cut uses, those without a copy too.
    Cut(Uuid),
}

/// Files of one card on the same devices.
#[derive(Clone, Debug, Default)]
pub struct Group {
    /// Numbers of the devices, in order; none: no copy counts.
    pub devices: Vec<u16>,
    pub card_id: Option<Uuid>,
    pub files: i64,
    pub bytes: i64,
}

/// Files of one card on the same drives.
#[derive(Clone, Debug, QueryableByName)]
pub struct Held {
    #[diesel(sql_type = Array<SqlUuid>)]
    pub drives: Vec<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub card_id: Option<Uuid>,
    #[diesel(sql_type = BigInt)]
    pub files: i64,
    #[diesel(sql_type = BigInt)]
    pub bytes: i64,
}

/// All that is kept on drives, or only what has a copy on any of `on`.
pub async fn held(conn: &mut Conn, series: Uuid, on: Option<&[Uuid]>) -> QueryResult<Vec<Held>> {
    diesel::sql_query(
        "select drives, card_id, sum(files)::int8 as files, sum(bytes)::int8 as bytes from holdings \
         where series_id = $1 and drives <> '{}' and ($2 is null or drives && $2) \
         group by drives, card_id having sum(files) <> 0",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Nullable<Array<SqlUuid>>, _>(on)
    .load(conn)
    .await
}

/// As [`held`], of the files that a query for `$1` names, those without a copy too.
async fn held_of(conn: &mut Conn, which: &str, id: Uuid) -> QueryResult<Vec<Held>> {
    diesel::sql_query(format!(
        "with own as materialized ({which}) \
         select d.drives, f.card_id, count(*) as files, sum(f.size)::int8 as bytes \
         from own join files f on f.id = own.file_id cross join lateral ( \
             select array(select distinct c.drive_id from copies c where c.file_id = f.id and c.state = 'verified' \
                 order by c.drive_id) as drives) d \
         group by d.drives, f.card_id"
    ))
    .bind::<SqlUuid, _>(id)
    .load(conn)
    .await
}

/// Folds the rows of each count into one. Two at once do no harm: each row is folded by who removes it.
pub async fn fold(conn: &mut Conn, series: Uuid) -> QueryResult<()> {
    diesel::sql_query(
        "with rows as (delete from holdings where series_id = $1 returning card_id, drives, files, bytes) \
         insert into holdings (series_id, card_id, drives, files, bytes) \
         select $1, card_id, drives, sum(files), sum(bytes) from rows group by card_id, drives having sum(files) <> 0",
    )
    .bind::<SqlUuid, _>(series)
    .execute(conn)
    .await
    .map(drop)
}

/// Counts the files of each name of a series anew: from an index alone, half a second for two million.
pub async fn count_names(conn: &mut Conn, series: Uuid) -> QueryResult<()> {
    diesel::sql_query(
        "update names n set files = f.files \
         from (select m.id, count(*) as files from names m join files f on f.name_id = m.id \
             where m.series_id = $1 group by m.id) f \
         where n.id = f.id and n.files <> f.files",
    )
    .bind::<SqlUuid, _>(series)
    .execute(conn)
    .await
    .map(drop)
}

/// Takes new samples of the tables that scans fill.
pub async fn analyse(conn: &mut Conn) -> QueryResult<()> {
    diesel::sql_query("analyze files, copies, cards, holdings, scan_chunks")
        .execute(conn)
        .await
        .map(drop)
}

/// Counts files together by the devices that they are verified on.
pub async fn groups(
    conn: &mut Conn,
    series: Uuid,
    devices: &Devices,
    scope: Scope<'_>,
) -> QueryResult<Vec<Group>> {
    // A damaged content that was never part of the card is left out, as the view does.
    const CARD: &str = "select m.file_id from card_manifest m where m.card_id = $1";
    const CUT: &str =
        "select distinct e.file_id from cut_events e where e.cut_id = $1 and e.file_id is not null";
    let (held, bare) = match scope {
        Scope::All => (held(conn, series, None).await?, false),
        Scope::OnDrives(ids) => (held(conn, series, Some(ids)).await?, false),
        Scope::Card(id) => (held_of(conn, CARD, id).await?, true),
        Scope::Cut(id) => (held_of(conn, CUT, id).await?, true),
    };
    let mut sums = BTreeMap::<(Option<Uuid>, Vec<u16>), (i64, i64)>::new();
    for one in held {
        let numbers = devices.numbers(&one.drives);
        if bare || !numbers.is_empty() {
            let sum = sums.entry((one.card_id, numbers)).or_default();
            *sum = (sum.0 + one.files, sum.1 + one.bytes);
        }
    }
    let group = |((card_id, devices), (files, bytes))| Group {
        devices,
        card_id,
        files,
        bytes,
    };
    Ok(sums.into_iter().map(group).collect())
}
