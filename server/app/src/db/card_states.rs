//! How far each card is, worked out from the copies of its files; and what each shoot day should have brought.
//!
//! Which copies count is decided by the views `card_manifest` and `drives_at_hand`.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{
    Array, BigInt, Bool, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::manifest::RUN_DEVICE;

use super::{Conn, one_device};

/// A card whose state is another one now.
#[derive(Clone, Debug, Serialize, QueryableByName)]
pub struct CardMoved {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = Text)]
    pub before: String,
    #[diesel(sql_type = Text)]
    pub after: String,
}

/// Whose cards are worked out.
#[derive(Clone, Copy, Debug)]
pub enum Touched {
    /// Cards with files on this drive, and on those that are one with it: what happens to one happens to all.
    Drive(Uuid),
    /// This card.
    Card(Uuid),
    /// Every card of the series.
    All,
}

/// Works out the cards: how many files each has, on how many devices the worst of them is verified, and by R38 its
/// state. A card goes back when its copies are no longer there; a wiped one stays wiped. `apart`: whether two copies
/// in one place count as one.
///
/// It is worked from the counts in `holdings`; only a card with a file that is verified nowhere is looked at file by
/// file, because such a file may be no part of it.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn work_out(
    conn: &mut Conn,
    series: Uuid,
    touched: Touched,
    apart: bool,
    now: DateTime<Utc>,
) -> QueryResult<Vec<CardMoved>> {
    let (drive, card) = match touched {
        Touched::Drive(drive) => (Some(drive), None),
        Touched::Card(card) => (None, Some(card)),
        Touched::All => (None, None),
    };
    diesel::sql_query(
        "with alike as materialized ( \
             select o.id from drives o, drives d where d.id = $2 and o.series_id = $1 \
                 and (o.id = d.id or o.one_with = d.one_with)), \
         touched as materialized ( \
             select distinct h.card_id as id from holdings h \
                 where h.series_id = $1 and h.drives && array(select id from alike) \
             union select f.card_id from copies c join files f on f.id = c.file_id \
                 where c.drive_id = $2 and c.state <> 'verified' \
             union select k.id from cards k where k.series_id = $1 and $2::uuid is null \
                 and ($3::uuid is null or k.id = $3)), \
         held as materialized ( \
             select h.card_id, h.drives, sum(h.files) as files, sum(h.bytes) as bytes from holdings h \
             where h.series_id = $1 and h.card_id in (select id from touched) \
             group by h.card_id, h.drives having sum(h.files) <> 0), \
         bare as materialized (select card_id from held where drives = '{}'), \
         counted as ( \
             select h.card_id, h.files, h.bytes, exists ( \
                 select 1 from files f where f.card_id = h.card_id and f.size = 0) as empty, array( \
                 select distinct d.device from drives_at_hand d where d.id = any(h.drives)) as devices \
             from held h where h.card_id not in (select card_id from bare) \
             union all \
             select m.card_id, 1, m.size, m.size = 0, m.devices from card_manifest m \
             where m.card_id in (select card_id from bare)), \
         per_card as ( \
             select m.card_id, sum(m.files) as files, sum(m.bytes) as bytes, min(cardinality(m.devices)) as least, \
                 bool_and(cardinality(m.devices) >= 2 and not m.empty) as safe, \
                 bool_and(not $4 or (select count(distinct p.place) from ( \
                     select min(lower(btrim(d.place))) as place from drives_at_hand d \
                     where d.series_id = $1 and d.device = any(m.devices) and btrim(d.place) <> '' \
                     group by d.device) p) >= 2) as apart \
             from counted m group by m.card_id), \
         wanted as ( \
             select k.id, k.state as before, p.files::int4, p.bytes::int8, p.least, case \
                 when k.state = 'wiped' then k.state \
                 when not p.safe then 'offloading' \
                 when p.apart and (select r.positive from card_reports r where r.card_id = k.id \
                     order by r.given_at desc, r.id desc limit 1) then 'safe_to_wipe' \
                 else 'two_copies_checked' end as after \
             from per_card p join cards k on k.id = p.card_id \
             where k.series_id = $1 and k.deleted_at is null order by k.id for no key update of k) \
         update cards k set state = w.after, files = w.files, bytes = w.bytes, least_copies = w.least, \
             version = k.version + (k.state <> w.after)::int4, \
             updated_at = case when k.state <> w.after then $5 else k.updated_at end \
         from wanted w where k.id = w.id and (k.state, k.files, k.bytes, k.least_copies) is distinct from \
             (w.after, w.files, w.bytes, w.least) \
         returning k.id, k.name, w.before, w.after",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Nullable<SqlUuid>, _>(drive)
    .bind::<Nullable<SqlUuid>, _>(card)
    .bind::<Bool, _>(apart)
    .bind::<Timestamptz, _>(now)
    .load::<CardMoved>(conn)
    .await
    .map(|all| {
        all.into_iter()
            .filter(|card| card.before != card.after)
            .collect()
    })
}

/// Cards on this drive that have a date on which the series has no shoot day.
#[derive(Clone, Debug, QueryableByName)]
pub struct DayWanted {
    #[diesel(sql_type = Date)]
    pub day: NaiveDate,
    #[diesel(sql_type = BigInt)]
    pub cards: i64,
}

/// Dates of these cards on which no shoot day is entered.
pub async fn days_wanted(
    conn: &mut Conn,
    series: Uuid,
    cards: &[Uuid],
) -> QueryResult<Vec<DayWanted>> {
    diesel::sql_query(
        "select k.shot_on as day, count(*) as cards from cards k \
         where k.id = any($1) and k.deleted_at is null and k.shoot_day_id is null and k.shot_on is not null \
             and not exists (select 1 from shoot_days d where d.series_id = $2 and d.day = k.shot_on \
                 and d.deleted_at is null) \
         group by k.shot_on order by k.shot_on",
    )
    .bind::<Array<SqlUuid>, _>(cards)
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await
}

/// What a shoot day should have brought, and what came.
#[derive(Clone, Debug, Serialize, ToSchema, QueryableByName)]
pub struct Arrival {
    #[diesel(sql_type = SqlUuid)]
    pub shoot_day_id: Uuid,
    #[diesel(sql_type = Date)]
    pub day: NaiveDate,
    #[diesel(sql_type = Text)]
    pub title: String,
    #[diesel(sql_type = Integer)]
    pub expected: i32,
    /// Cards of the day of which at least one copy was verified.
    #[diesel(sql_type = BigInt)]
    pub arrived: i64,
    /// Cards of which every file has two verified copies on different drives.
    #[diesel(sql_type = BigInt)]
    pub two_copies: i64,
    /// Cards that did not arrive; 0 when more came than were expected.
    #[diesel(sql_type = BigInt)]
    pub missing: i64,
    /// Names of the cards that arrived.
    #[diesel(sql_type = Array<Text>)]
    pub cards: Vec<String>,
    /// Of these, the ones with pictures at another frame rate than the series'.
    #[diesel(sql_type = Array<Text>)]
    pub other_rate: Vec<String>,
}

/// Shoot days up to `until` with what they should have brought, those with something missing first, then the newest
/// first. A card belongs to the day that it is tied to, or else to the day of its date.
pub async fn arrivals(
    conn: &mut Conn,
    series: Uuid,
    until: NaiveDate,
    (num, den): (i64, i64),
) -> QueryResult<Vec<Arrival>> {
    diesel::sql_query(
        "select d.id as shoot_day_id, d.day, d.title, d.cards_expected as expected, \
             count(k.id) as arrived, \
             count(k.id) filter (where k.state in ('two_copies_checked', 'safe_to_wipe', 'wiped')) as two_copies, \
             greatest(d.cards_expected - count(k.id), 0)::int8 as missing, \
             coalesce(array_agg(k.name order by k.name) filter (where k.id is not null), '{}') as cards, \
             coalesce(array_agg(k.name order by k.name) filter (where exists (select 1 from card_rates r \
                 where r.card_id = k.id and r.rate_num * $4 <> r.rate_den * $3)), '{}') as other_rate \
         from shoot_days d left join lateral ( \
             select k.id, k.name, k.state from cards k \
             where k.series_id = $1 and k.deleted_at is null \
                 and (k.shoot_day_id = d.id or (k.shoot_day_id is null and k.shot_on = d.day)) \
                 and exists (select 1 from files f join copies c on c.file_id = f.id \
                     where f.card_id = k.id and c.state in ('verified', 'unreadable', 'missing'))) k on true \
         where d.series_id = $1 and d.deleted_at is null and d.day <= $2 \
         group by d.id order by (greatest(d.cards_expected - count(k.id), 0) > 0) desc, d.day desc, d.id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Date, _>(until)
    .bind::<BigInt, _>(num)
    .bind::<BigInt, _>(den)
    .load(conn)
    .await
}

/// What a drive holds.
#[derive(Clone, Debug, Default, Serialize, ToSchema, QueryableByName)]
pub struct DriveContents {
    /// Verified copies.
    #[diesel(sql_type = BigInt)]
    pub files: i64,
    /// Bytes of those.
    #[diesel(sql_type = BigInt)]
    pub bytes: i64,
    /// Cards that those are from.
    #[diesel(sql_type = BigInt)]
    pub cards: i64,
    /// Contents of which this drive holds the only copy that was verified.
    #[diesel(sql_type = BigInt)]
    pub only_copies: i64,
    /// Copies that were found changed, missing or unreadable, and are not back.
    #[diesel(sql_type = BigInt)]
    pub lost: i64,
    /// When any of them was last read.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    #[schema(required)]
    pub checked_at: Option<DateTime<Utc>>,
    /// When a scan's computer saw the room that is noted as free; null where a person noted it.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    #[schema(required)]
    pub free_seen_at: Option<DateTime<Utc>>,
    /// Label of the drive that this one may be the same as: equal places, times and contents.
    #[diesel(sql_type = Nullable<Text>)]
    #[schema(required)]
    pub may_be: Option<String>,
    /// Drives that lie on the same device: together with this one they are one copy.
    #[diesel(sql_type = Array<Text>)]
    pub beside: Vec<String>,
    /// Why its copies don't count though it is there itself: what is amiss with drives that are one with it.
    #[diesel(sql_type = Array<Text>)]
    pub held_back: Vec<String>,
    /// Whether it was told what device this drive is; else another one may lie on the same device unnoticed.
    #[diesel(sql_type = Bool)]
    pub device_known: bool,
}

/// Counts of what a drive holds.
pub async fn contents(conn: &mut Conn, series: Uuid, drive: Uuid) -> QueryResult<DriveContents> {
    let held_back = one_device::held_back(conn, series, &[drive]).await?;
    let mut contents: DriveContents = diesel::sql_query(concat!(
        "select count(*) filter (where c.state = 'verified') as files, \
             coalesce(sum(f.size) filter (where c.state = 'verified'), 0)::int8 as bytes, \
             count(distinct f.card_id) filter (where c.state = 'verified') as cards, \
             (select coalesce(sum(h.files), 0)::int8 from holdings h \
                 where h.series_id = $1 and h.drives @> array[$2] and not exists ( \
                     select 1 from drives_at_hand d where d.id = any(h.drives) and d.device <> ( \
                         select coalesce(one_with, id) from drives where id = $2))) as only_copies, \
             (select count(*) from copies x join files g on g.id = x.file_id \
                 where x.drive_id = $2 and x.state <> 'verified' \
                     and (x.state in ('missing', 'unreadable') or (x.state = 'changed' and not exists ( \
                         select 1 from copies o join files older on older.id = o.file_id where o.drive_id = x.drive_id \
                             and o.path = x.path and o.state = 'verified' and older.created_at < g.created_at)))) as lost, \
             max(c.checked_at) as checked_at, \
             (select free_seen_at from drives where id = $2 and free_bytes = free_seen) as free_seen_at, \
             (select t.label from drives d join drives t on t.id = d.twin_of where d.id = $2) as may_be, \
             exists (select 1 from scans s, unnest(s.devices) n where s.series_id = $1 and s.drive_id = $2 \
                 and not starts_with(n, $3)) as device_known, \
             array(",
        one_device::labels_beside!(),
        ") as beside, '{}'::text[] as held_back \
         from copies c join files f on f.id = c.file_id where c.series_id = $1 and c.drive_id = $2",
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<SqlUuid, _>(drive)
    .bind::<Text, _>(RUN_DEVICE)
    .get_result(conn)
    .await?;
    contents.held_back = held_back.iter().map(ToString::to_string).collect();
    Ok(contents)
}
