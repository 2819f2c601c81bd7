//! What would be gone with some drives, by name: files, people, cuts; and the files that stand on one copy. Only what is
//! asked about is looked at: the cards of a page, the files that were logged or that a cut uses.

use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::Conn;

/// What is lost: drives at hand that are gone, and those that are left.
#[derive(Clone, Debug, Default)]
pub struct Split {
    pub dead: Vec<Uuid>,
    pub left: Vec<Uuid>,
}

/// For the file of the column: whether it has a copy on what is gone ($2), and on how many devices of what is left ($3)
/// it is.
macro_rules! fate {
    ($column:literal) => {
        concat!(
            "cross join lateral (select coalesce(bool_or(c.drive_id = any($2)), false) as hit, \
                 count(distinct coalesce(d.one_with, d.id)) filter (where c.drive_id = any($3)) as devices \
             from copies c join drives d on d.id = c.drive_id where c.file_id = ",
            $column,
            " and c.state = 'verified') fate "
        )
    };
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

/// Files that would be left on so many devices (0: gone, 1: down to one copy), of these cards and, with `outside`, of
/// none; by the card's name and the file's.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn files(
    conn: &mut Conn,
    series: Uuid,
    split: &Split,
    left: i64,
    (cards, outside): (&[Uuid], bool),
    (offset, limit): (i64, i64),
) -> QueryResult<Vec<HarmedFile>> {
    diesel::sql_query(concat!(
        "select p.id, p.name, p.size, p.card, w.label as drive, w.path from ( \
             select f.id, f.name, f.size, k.name as card from ( \
                 select id, name, size, card_id from files where series_id = $1 and card_id = any($5) \
                 union all \
                 select id, name, size, card_id from files where $6 and series_id = $1 and card_id is null \
                     and id in (select o.file_id from copies o where o.drive_id = any($2) and o.state = 'verified')) f \
             left join cards k on k.id = f.card_id and k.deleted_at is null ",
        fate!("f.id"),
        "where fate.hit and fate.devices = $4 order by k.name nulls last, f.name, f.id offset $7 limit $8) p \
         cross join lateral (select d.label, c.path from copies c join drives d on d.id = c.drive_id \
             where c.file_id = p.id and c.state = 'verified' and c.drive_id = any($2) order by d.label, c.path limit 1) w \
         order by p.card nulls last, p.name, p.id",
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(&split.dead)
    .bind::<Array<SqlUuid>, _>(&split.left)
    .bind::<BigInt, _>(left)
    .bind::<Array<SqlUuid>, _>(cards)
    .bind::<Bool, _>(outside)
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
pub async fn people(
    conn: &mut Conn,
    series: Uuid,
    split: &Split,
) -> QueryResult<Vec<HarmedPerson>> {
    diesel::sql_query(concat!(
        "with shown as materialized (select distinct l.person_id, l.file_id from log_entries l \
             where l.series_id = $1 and l.deleted_at is null and l.kind = 'person' and l.presence = 'on_camera'), \
         gone as materialized (select s.file_id from (select distinct file_id from shown) s ",
        fate!("s.file_id"),
        "where fate.hit and fate.devices = 0) \
         select p.id, p.credited_name as name, count(g.file_id) as gone, count(*) as all \
         from shown s join people p on p.id = s.person_id and p.deleted_at is null \
         left join gone g on g.file_id = s.file_id \
         group by p.id having count(g.file_id) > 0 order by gone desc, name, p.id",
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(&split.dead)
    .bind::<Array<SqlUuid>, _>(&split.left)
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
pub async fn cuts(conn: &mut Conn, series: Uuid, split: &Split) -> QueryResult<Vec<HarmedCut>> {
    diesel::sql_query(concat!(
        "with newest as materialized (select t.id, t.name, e.id as episode_id, e.title, e.number \
             from episodes e join lateral (select c.id, c.name from cuts c where c.episode_id = e.id \
                 and c.deleted_at is null order by c.created_at desc, c.id desc limit 1) t on true \
             where e.series_id = $1 and e.deleted_at is null), \
         gone as materialized (select u.file_id from (select distinct v.file_id from newest n \
                 join cut_events v on v.cut_id = n.id where v.file_id is not null) u ",
        fate!("u.file_id"),
        "where fate.hit and fate.devices = 0) \
         select n.id as cut_id, n.name as cut, n.episode_id, n.title as episode, count(g.file_id) as gone, \
             count(*) as all \
         from newest n join cut_events v on v.cut_id = n.id left join gone g on g.file_id = v.file_id \
         group by n.id, n.name, n.episode_id, n.title, n.number having count(g.file_id) > 0 order by n.number",
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(&split.dead)
    .bind::<Array<SqlUuid>, _>(&split.left)
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

/// Files of a card (none: outside of cards) that have one copy, on this device's drives, the largest first. `others`:
/// the drives of all other devices.
pub async fn lone_files(
    conn: &mut Conn,
    series: Uuid,
    card: Option<Uuid>,
    (own, others): (&[Uuid], &[Uuid]),
) -> QueryResult<Vec<LoneFile>> {
    // an index serves either form, but not "is not distinct from"
    let of_card = match card {
        Some(_) => "f.card_id = $2",
        None => "f.card_id is null and $2::uuid is null",
    };
    diesel::sql_query(format!(
        "select f.name, f.size from files f where f.series_id = $1 and {of_card} \
             and exists (select 1 from copies c where c.file_id = f.id and c.state = 'verified' \
                 and c.drive_id = any($3)) \
             and not exists (select 1 from copies c where c.file_id = f.id and c.state = 'verified' \
                 and c.drive_id = any($4)) \
         order by f.size desc, f.name, f.id",
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<Nullable<SqlUuid>, _>(card)
    .bind::<Array<SqlUuid>, _>(own)
    .bind::<Array<SqlUuid>, _>(others)
    .load(conn)
    .await
}
