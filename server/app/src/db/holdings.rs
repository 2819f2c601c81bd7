//! What lies on which devices, counted together: the compact groups that `domain::footage::risk` works on. A copy counts
//! when it was verified and its drive is at hand, as in the view `card_manifest`; two drives that may be one are one.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Date, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::Conn;

/// The most devices that are told apart at once.
pub const DEVICES: usize = 256;

/// A live drive.
#[derive(Clone, Debug, QueryableByName)]
pub struct LiveDrive {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// Itself, or the drive that it may be.
    #[diesel(sql_type = SqlUuid)]
    pub device: Uuid,
    #[diesel(sql_type = Text)]
    pub label: String,
    #[diesel(sql_type = Text)]
    pub kind: String,
    #[diesel(sql_type = Text)]
    pub place: String,
    #[diesel(sql_type = Text)]
    pub status: String,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub capacity_bytes: Option<i64>,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub free_bytes: Option<i64>,
    #[diesel(sql_type = Nullable<Date>)]
    pub next_check_on: Option<NaiveDate>,
}

impl LiveDrive {
    /// Whether its copies count: it is there, and nothing on it is known to be wrong.
    pub fn at_hand(&self) -> bool {
        matches!(self.status.as_str(), "fine" | "check_due")
    }
}

/// All live drives of a series, by label.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn drives(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<LiveDrive>> {
    diesel::sql_query(
        "select id, coalesce(twin_of, id) as device, label, kind, place, status, capacity_bytes, free_bytes, \
             next_check_on \
         from drives where series_id = $1 and deleted_at is null order by lower(label), id",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await
}

/// Devices by number: those of the drives at hand, in the order of the list.
#[derive(Clone, Debug, Default)]
pub struct Devices {
    /// The device of each number.
    pub ids: Vec<Uuid>,
    /// Drives at hand and the numbers of their devices.
    of_drive: BTreeMap<Uuid, u16>,
}

impl Devices {
    /// Numbers the devices of the drives at hand.
    pub fn of(drives: &[LiveDrive]) -> Self {
        let mut devices = Self::default();
        for drive in drives.iter().filter(|drive| drive.at_hand()) {
            let known = devices.ids.iter().position(|id| *id == drive.device);
            let number = known.unwrap_or_else(|| {
                devices.ids.push(drive.device);
                devices.ids.len() - 1
            });
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

    fn masks(&self) -> (Vec<Uuid>, Vec<String>) {
        let mask = |number: u16| {
            (0..DEVICES)
                .map(|at| if at == usize::from(number) { '1' } else { '0' })
                .collect::<String>()
        };
        self.of_drive
            .iter()
            .map(|(drive, number)| (*drive, mask(*number)))
            .unzip()
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
#[derive(Clone, Debug, QueryableByName)]
pub struct Group {
    /// A digit for each device.
    #[diesel(sql_type = Text)]
    mask: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub card_id: Option<Uuid>,
    #[diesel(sql_type = BigInt)]
    pub files: i64,
    #[diesel(sql_type = BigInt)]
    pub bytes: i64,
}

impl Group {
    /// A file of which no copy counts.
    pub fn bare() -> Self {
        Self {
            mask: String::new(),
            card_id: None,
            files: 0,
            bytes: 0,
        }
    }

    /// Numbers of the devices.
    pub fn devices(&self) -> Vec<u16> {
        (0_u16..)
            .zip(self.mask.bytes())
            .filter(|(_, digit)| *digit == b'1')
            .map(|(number, _)| number)
            .collect()
    }
}

const PER_FILE: &str = "with m as materialized ( \
         select u.drive, u.mask::bit(256) as mask from unnest($2::uuid[], $3::text[]) as u (drive, mask)), \
     per_file as ( \
         select c.file_id, bit_or(m.mask) as mask from copies c join m on m.drive = c.drive_id \
         where c.series_id = $1 and c.state = 'verified' and ";

const GROUPS: &str = " group by c.file_id) \
     select p.mask::text as mask, f.card_id, count(*) as files, sum(f.size)::int8 as bytes \
     from per_file p join files f on f.id = p.file_id group by p.mask, f.card_id";

/// As [`GROUPS`], with the files of the scope that have no copy.
const GROUPS_OF_SCOPE: &str = " group by c.file_id) \
     select coalesce(p.mask, 0::bit(256))::text as mask, f.card_id, count(*) as files, sum(f.size)::int8 as bytes \
     from files f left join per_file p on p.file_id = f.id where f.id in ";

/// Counts files together by the devices that they are verified on.
pub async fn groups(
    conn: &mut Conn,
    series: Uuid,
    devices: &Devices,
    scope: Scope<'_>,
) -> QueryResult<Vec<Group>> {
    const ON: &str =
        "(select o.file_id from copies o where o.drive_id = any($4) and o.state = 'verified')";
    // A damaged content that was never part of the card is left out, as the view does.
    const CARD: &str = "(select m.file_id from card_manifest m where m.card_id = any($4))";
    const CUT: &str =
        "(select e.file_id from cut_events e where e.cut_id = any($4) and e.file_id is not null)";
    let (drives, masks) = devices.masks();
    let (sql, ids) = match scope {
        Scope::All => (
            format!("{PER_FILE}$4::uuid[] is not null{GROUPS}"),
            Vec::new(),
        ),
        Scope::OnDrives(ids) => (format!("{PER_FILE}c.file_id in {ON}{GROUPS}"), ids.to_vec()),
        Scope::Card(id) | Scope::Cut(id) => {
            let which = if matches!(scope, Scope::Card(_)) {
                CARD
            } else {
                CUT
            };
            let sql = format!(
                "{PER_FILE}c.file_id in {which}{GROUPS_OF_SCOPE}{which} group by p.mask, f.card_id"
            );
            (sql, vec![id])
        }
    };
    diesel::sql_query(sql)
        .bind::<SqlUuid, _>(series)
        .bind::<Array<SqlUuid>, _>(drives)
        .bind::<Array<Text>, _>(masks)
        .bind::<Array<SqlUuid>, _>(ids)
        .load(conn)
        .await
}

/// A file that would be gone, or down to one copy.
#[derive(Clone, Debug, QueryableByName)]
pub struct HarmedFile {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = BigInt)]
    pub size: i64,
    #[diesel(sql_type = Nullable<Text>)]
    pub card: Option<String>,
    /// A drive that holds it now, and where.
    #[diesel(sql_type = Text)]
    pub drive: String,
    #[diesel(sql_type = Text)]
    pub path: String,
}

/// What is lost: drives at hand that are gone, and those that are left with the numbers of their devices.
#[derive(Clone, Debug, Default)]
pub struct Split {
    pub dead: Vec<Uuid>,
    pub left: Vec<Uuid>,
    pub left_devices: Vec<i32>,
}

/// Whether the file of the column has a copy on what is gone ($2) and, on what is left ($3 with $4), so many devices.
macro_rules! harmed {
    ($column:literal, $devices:literal) => {
        concat!(
            "exists (select 1 from copies c where c.file_id = ", $column,
            " and c.state = 'verified' and c.drive_id = any($2)) \
             and (select count(distinct m.device) from copies c \
                 join unnest($3::uuid[], $4::int4[]) as m (drive, device) on m.drive = c.drive_id \
                 where c.file_id = ", $column, " and c.state = 'verified') = ", $devices
        )
    };
}

/// Files that would be gone (or, with `single`, down to one copy), by card and name.
pub async fn harmed_files(
    conn: &mut Conn,
    series: Uuid,
    split: &Split,
    single: bool,
    offset: i64,
    limit: i64,
) -> QueryResult<Vec<HarmedFile>> {
    let fits = if single {
        harmed!("f.id", "1")
    } else {
        harmed!("f.id", "0")
    };
    diesel::sql_query(format!(
        "select f.id, f.name, f.size, k.name as card, w.label as drive, w.path \
         from files f left join cards k on k.id = f.card_id and k.deleted_at is null \
         join lateral (select d.label, c.path from copies c join drives d on d.id = c.drive_id \
             where c.file_id = f.id and c.state = 'verified' and c.drive_id = any($2) order by d.label, c.path limit 1) w \
             on true \
         where f.series_id = $1 \
             and f.id in (select o.file_id from copies o where o.drive_id = any($2) and o.state = 'verified') and {fits} \
         order by k.name nulls last, f.name, f.id offset $5 limit $6",
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(&split.dead)
    .bind::<Array<SqlUuid>, _>(&split.left)
    .bind::<Array<diesel::sql_types::Integer>, _>(&split.left_devices)
    .bind::<BigInt, _>(offset)
    .bind::<BigInt, _>(limit)
    .load(conn)
    .await
}

/// A person on camera in what would be gone.
#[derive(Clone, Debug, QueryableByName)]
pub struct HarmedPerson {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    /// Files with them on camera that would be gone.
    #[diesel(sql_type = BigInt)]
    pub gone: i64,
    /// Files with them on camera that there are.
    #[diesel(sql_type = BigInt)]
    pub all: i64,
}

/// People who are logged on camera in files that would be gone.
pub async fn harmed_people(
    conn: &mut Conn,
    series: Uuid,
    split: &Split,
) -> QueryResult<Vec<HarmedPerson>> {
    diesel::sql_query(concat!(
        "select p.id, p.credited_name as name, count(distinct l.file_id) filter (where ",
        harmed!("l.file_id", "0"),
        ") as gone, count(distinct l.file_id) as all \
         from log_entries l join people p on p.id = l.person_id and p.deleted_at is null \
         where l.series_id = $1 and l.deleted_at is null and l.kind = 'person' and l.presence = 'on_camera' \
         group by p.id having count(distinct l.file_id) filter (where ",
        harmed!("l.file_id", "0"),
        ") > 0 order by gone desc, name, p.id",
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(&split.dead)
    .bind::<Array<SqlUuid>, _>(&split.left)
    .bind::<Array<diesel::sql_types::Integer>, _>(&split.left_devices)
    .load(conn)
    .await
}

/// A cut that uses what would be gone.
#[derive(Clone, Debug, QueryableByName)]
pub struct HarmedCut {
    #[diesel(sql_type = SqlUuid)]
    pub cut_id: Uuid,
    #[diesel(sql_type = Text)]
    pub cut: String,
    #[diesel(sql_type = SqlUuid)]
    pub episode_id: Uuid,
    #[diesel(sql_type = Text)]
    pub episode: String,
    /// Events whose file would be gone.
    #[diesel(sql_type = BigInt)]
    pub gone: i64,
    #[diesel(sql_type = BigInt)]
    pub all: i64,
}

/// The newest cut of each episode, where any of its events would lose its file.
pub async fn harmed_cuts(
    conn: &mut Conn,
    series: Uuid,
    split: &Split,
) -> QueryResult<Vec<HarmedCut>> {
    diesel::sql_query(concat!(
        "select t.id as cut_id, t.name as cut, e.id as episode_id, e.title as episode, \
             count(*) filter (where v.file_id is not null and ",
        harmed!("v.file_id", "0"),
        ") as gone, count(*) as all \
         from episodes e join lateral (select c.id, c.name from cuts c where c.episode_id = e.id \
             and c.deleted_at is null order by c.created_at desc, c.id desc limit 1) t on true \
         join cut_events v on v.cut_id = t.id \
         where e.series_id = $1 and e.deleted_at is null group by t.id, t.name, e.id \
         having count(*) filter (where v.file_id is not null and ",
        harmed!("v.file_id", "0"),
        ") > 0 order by e.number",
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(&split.dead)
    .bind::<Array<SqlUuid>, _>(&split.left)
    .bind::<Array<diesel::sql_types::Integer>, _>(&split.left_devices)
    .load(conn)
    .await
}

/// A file by itself, for a card that fits on no drive whole.
#[derive(Clone, Debug, QueryableByName)]
pub struct LoneFile {
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = BigInt)]
    pub size: i64,
}

/// Files of a card (none: outside of cards) that have one copy, on this device's drives; at most `limit`, the largest
/// first. `others`: the drives of all other devices.
pub async fn lone_files(
    conn: &mut Conn,
    series: Uuid,
    card: Option<Uuid>,
    (own, others): (&[Uuid], &[Uuid]),
    limit: i64,
) -> QueryResult<Vec<LoneFile>> {
    diesel::sql_query(
        "select f.name, f.size from files f where f.series_id = $1 and f.card_id is not distinct from $2 \
             and exists (select 1 from copies c where c.file_id = f.id and c.state = 'verified' \
                 and c.drive_id = any($3)) \
             and not exists (select 1 from copies c where c.file_id = f.id and c.state = 'verified' \
                 and c.drive_id = any($4)) \
         order by f.size desc, f.name, f.id limit $5",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Nullable<SqlUuid>, _>(card)
    .bind::<Array<SqlUuid>, _>(own)
    .bind::<Array<SqlUuid>, _>(others)
    .bind::<BigInt, _>(limit)
    .load(conn)
    .await
}
