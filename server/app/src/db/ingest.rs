//! Taking in a chunk of a scan: a few statements for two thousand files, each over arrays. Sending the same again
//! changes nothing. What follows when it is complete is in `scan_end.rs`.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{
    Array, BigInt, Bool, Date, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use serde_json::Value;
use uuid::Uuid;

use super::Conn;
use super::statement::statement;

/// The files of a chunk, column by column: what `unnest` wants. All columns have one length.
#[derive(Debug, Default)]
pub struct Columns {
    pub ids: Vec<Uuid>,
    pub cards: Vec<Option<Uuid>>,
    pub names: Vec<String>,
    pub stems: Vec<String>,
    /// Folded words of the folder and of the name, and where they stand.
    pub places: Vec<String>,
    pub called: Vec<String>,
    pub folders: Vec<i64>,
    pub name_ids: Vec<i32>,
    pub sizes: Vec<i64>,
    pub xxh128: Vec<String>,
    pub hashes: Vec<Value>,
    pub kinds: Vec<&'static str>,
    pub facts: Vec<Option<Value>>,
    pub reels: Vec<String>,
    pub rate_nums: Vec<Option<i32>>,
    pub rate_dens: Vec<Option<i32>>,
    pub drops: Vec<Option<bool>>,
    pub starts: Vec<Option<i64>>,
    pub counts: Vec<Option<i64>>,
    pub paths: Vec<String>,
    pub modified: Vec<Option<DateTime<Utc>>>,
    pub read: Vec<DateTime<Utc>>,
}

#[derive(QueryableByName)]
struct FileId {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// Adds the contents that the series does not have; answers their ids. In order of the hash, so that two scans with the
/// same files wait for each other instead of locking each other out.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn add_files(
    conn: &mut Conn,
    series: Uuid,
    rows: &Columns,
    now: DateTime<Utc>,
) -> QueryResult<BTreeSet<Uuid>> {
    let added: Vec<FileId> = statement(
        "insert into files (id, series_id, card_id, name, stem, folder, name_id, size, xxh128, hashes, kind, facts, reel, \
             rate_num, rate_den, drop_frame, start_frame, frame_count, created_at) \
         select distinct on (xxh128, size) id, $1, card, name, stem, folder, name_id, size, xxh128, hashes, kind, facts, reel, \
             num, den, drops, start, count, $2 \
         from unnest($3::uuid[], $4::uuid[], $5::text[], $6::text[], $7::int8[], $19::int4[], $8::int8[], $9::text[], \
             $10::jsonb[], $11::text[], $12::jsonb[], $13::text[], $14::int4[], $15::int4[], $16::bool[], \
             $17::int8[], $18::int8[]) with ordinality as u (id, card, name, stem, folder, name_id, size, xxh128, \
             hashes, kind, facts, reel, num, den, drops, start, count, at) \
         order by xxh128, size, at \
         on conflict (series_id, xxh128, size) do nothing returning id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Timestamptz, _>(now)
    .bind::<Array<SqlUuid>, _>(&rows.ids)
    .bind::<Array<Nullable<SqlUuid>>, _>(&rows.cards)
    .bind::<Array<Text>, _>(&rows.names)
    .bind::<Array<Text>, _>(&rows.stems)
    .bind::<Array<BigInt>, _>(&rows.folders)
    .bind::<Array<BigInt>, _>(&rows.sizes)
    .bind::<Array<Text>, _>(&rows.xxh128)
    .bind::<Array<Jsonb>, _>(&rows.hashes)
    .bind::<Array<Text>, _>(&rows.kinds)
    .bind::<Array<Nullable<Jsonb>>, _>(&rows.facts)
    .bind::<Array<Text>, _>(&rows.reels)
    .bind::<Array<Nullable<Integer>>, _>(&rows.rate_nums)
    .bind::<Array<Nullable<Integer>>, _>(&rows.rate_dens)
    .bind::<Array<Nullable<Bool>>, _>(&rows.drops)
    .bind::<Array<Nullable<BigInt>>, _>(&rows.starts)
    .bind::<Array<Nullable<BigInt>>, _>(&rows.counts)
    .bind::<Array<Integer>, _>(&rows.name_ids)
    .load(conn)
    .await?;
    Ok(added.into_iter().map(|row| row.id).collect())
}

/// A content as the series has it.
#[derive(Clone, Debug, QueryableByName)]
pub struct Known {
    /// Place in the chunk, from 0.
    #[diesel(sql_type = BigInt)]
    pub at: i64,
    #[diesel(sql_type = SqlUuid)]
    pub file_id: Uuid,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub card_id: Option<Uuid>,
    #[diesel(sql_type = Jsonb)]
    pub hashes: Value,
    #[diesel(sql_type = Bool)]
    pub has_facts: bool,
    /// Where it was found first.
    #[diesel(sql_type = BigInt)]
    pub folder: i64,
    #[diesel(sql_type = Integer)]
    pub name_id: i32,
}

/// The file of each content of the chunk, of which these were added just now: those are as they came, the others are
/// looked up. One for each, unless a file went away meanwhile.
pub async fn find_files(
    conn: &mut Conn,
    series: Uuid,
    rows: &Columns,
    added: &BTreeSet<Uuid>,
) -> QueryResult<Vec<Known>> {
    let (came, others): (Vec<usize>, Vec<usize>) =
        (0..rows.ids.len()).partition(|at| rows.ids.get(*at).is_some_and(|id| added.contains(id)));
    let mut known: Vec<Known> = came
        .iter()
        .filter_map(|at| {
            Some(Known {
                at: i64::try_from(*at).ok()?,
                file_id: *rows.ids.get(*at)?,
                card_id: *rows.cards.get(*at)?,
                hashes: rows.hashes.get(*at)?.clone(),
                has_facts: rows.facts.get(*at)?.is_some(),
                folder: *rows.folders.get(*at)?,
                name_id: *rows.name_ids.get(*at)?,
            })
        })
        .collect();
    if others.is_empty() {
        return Ok(known);
    }
    let found: Vec<Known> = statement(
        "select u.at, f.id as file_id, f.card_id, f.hashes, f.facts is not null as has_facts, f.folder, f.name_id \
         from unnest($2::text[], $3::int8[], $4::int8[]) u (xxh128, size, at) \
         join files f on f.series_id = $1 and f.xxh128 = u.xxh128 and f.size = u.size",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(pick(&rows.xxh128, &others))
    .bind::<Array<BigInt>, _>(pick(&rows.sizes, &others))
    .bind::<Array<BigInt>, _>(
        others
            .iter()
            .filter_map(|at| i64::try_from(*at).ok())
            .collect::<Vec<_>>(),
    )
    .load(conn)
    .await?;
    known.extend(found);
    known.sort_by_key(|known| known.at);
    Ok(known)
}

/// What a scan adds to a content that was known: more types of hash, its card, facts from a reader that has learned.
#[derive(Debug, Default)]
pub struct Additions {
    pub ids: Vec<Uuid>,
    pub hashes: Vec<Value>,
    pub cards: Vec<Option<Uuid>>,
    /// Places in the chunk whose facts are taken.
    pub at: Vec<usize>,
}

/// Of a column, what stands at these places of the chunk.
fn pick<T: Clone>(column: &[T], at: &[usize]) -> Vec<T> {
    at.iter()
        .filter_map(|at| column.get(*at).cloned())
        .collect()
}

impl Additions {
    /// The contents that had no card and have one now, with their places in the chunk.
    pub fn moved(&self, known: &[Known]) -> Vec<(usize, Uuid)> {
        let adds = self.cards.iter().zip(&self.at);
        adds.filter(|(card, _)| card.is_some())
            .filter_map(|(_, at)| known.get(*at).map(|known| (*at, known)))
            .filter(|(_, known)| known.card_id.is_none())
            .map(|(at, known)| (at, known.file_id))
            .collect()
    }
}

/// Adds to known contents; nothing that is there is replaced.
pub async fn extend_files(conn: &mut Conn, rows: &Columns, more: &Additions) -> QueryResult<usize> {
    if more.ids.is_empty() {
        return Ok(0);
    }
    statement(
        "update files f set hashes = u.hashes || f.hashes, card_id = coalesce(f.card_id, u.card), \
             facts = coalesce(f.facts, u.facts), \
             kind = case when f.facts is null then u.kind else f.kind end, \
             reel = case when f.facts is null then u.reel else f.reel end, \
             rate_num = case when f.facts is null then u.num else f.rate_num end, \
             rate_den = case when f.facts is null then u.den else f.rate_den end, \
             drop_frame = case when f.facts is null then u.drops else f.drop_frame end, \
             start_frame = case when f.facts is null then u.start else f.start_frame end, \
             frame_count = case when f.facts is null then u.count else f.frame_count end \
         from unnest($1::uuid[], $2::jsonb[], $3::uuid[], $4::jsonb[], $5::text[], $6::text[], $7::int4[], \
             $8::int4[], $9::bool[], $10::int8[], $11::int8[]) \
             as u (id, hashes, card, facts, kind, reel, num, den, drops, start, count) \
         where f.id = u.id",
    )
    .bind::<Array<SqlUuid>, _>(&more.ids)
    .bind::<Array<Jsonb>, _>(&more.hashes)
    .bind::<Array<Nullable<SqlUuid>>, _>(&more.cards)
    .bind::<Array<Nullable<Jsonb>>, _>(pick(&rows.facts, &more.at))
    .bind::<Array<Text>, _>(pick(&rows.kinds, &more.at))
    .bind::<Array<Text>, _>(pick(&rows.reels, &more.at))
    .bind::<Array<Nullable<Integer>>, _>(pick(&rows.rate_nums, &more.at))
    .bind::<Array<Nullable<Integer>>, _>(pick(&rows.rate_dens, &more.at))
    .bind::<Array<Nullable<Bool>>, _>(pick(&rows.drops, &more.at))
    .bind::<Array<Nullable<BigInt>>, _>(pick(&rows.starts, &more.at))
    .bind::<Array<Nullable<BigInt>>, _>(pick(&rows.counts, &more.at))
    .execute(conn)
    .await
}

/// Locks files until the transaction ends, in one order, before their copies change: who counts the same files waits
/// here, and never while holding one that the other needs.
pub async fn lock_files(conn: &mut Conn, files: &[Uuid]) -> QueryResult<()> {
    statement("select 1 from files where id = any($1) order by id for no key update")
        .bind::<Array<SqlUuid>, _>(files)
        .execute(conn)
        .await
        .map(drop)
}

/// A copy that is known at a place of a chunk.
#[derive(Clone, Debug, QueryableByName)]
pub struct There {
    /// Place in the chunk, from 0.
    #[diesel(sql_type = BigInt)]
    pub at: i64,
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub file_id: Uuid,
    #[diesel(sql_type = Text)]
    pub state: String,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub mtime: Option<DateTime<Utc>>,
    #[diesel(sql_type = Timestamptz)]
    pub checked_at: DateTime<Utc>,
}

/// Every content that was ever known at the places of the chunk. The drive is locked, so this stays true.
pub async fn there(conn: &mut Conn, drive: Uuid, rows: &Columns) -> QueryResult<Vec<There>> {
    statement(
        "select u.at - 1 as at, c.id, c.file_id, c.state, c.mtime, c.checked_at \
         from unnest($2::text[]) with ordinality as u (path, at) \
         join copies c on c.drive_id = $1 and c.path = u.path",
    )
    .bind::<SqlUuid, _>(drive)
    .bind::<Array<Text>, _>(&rows.paths)
    .load(conn)
    .await
}

/// Marks copies whose place holds another content now: theirs is not there any more.
pub async fn mark_changed(
    conn: &mut Conn,
    scan: Uuid,
    copies: &[(Uuid, DateTime<Utc>)],
) -> QueryResult<usize> {
    let (ids, read): (Vec<Uuid>, Vec<DateTime<Utc>>) = copies.iter().copied().unzip();
    statement(
        "update copies c set state = 'changed', check_id = $1, checked_at = greatest(c.checked_at, u.read) \
         from unnest($2::uuid[], $3::timestamptz[]) as u (id, read) where c.id = u.id",
    )
    .bind::<SqlUuid, _>(scan)
    .bind::<Array<SqlUuid>, _>(ids)
    .bind::<Array<Timestamptz>, _>(read)
    .execute(conn)
    .await
}

/// A copy as a scan found it.
#[derive(Clone, Debug)]
pub struct Seen {
    pub id: Uuid,
    pub file: Uuid,
    /// Place in the chunk.
    pub at: usize,
}

fn places(copies: &[Seen]) -> Vec<usize> {
    copies.iter().map(|copy| copy.at).collect()
}

/// Brings known copies up to date: they are there, and were read again.
pub async fn refresh_copies(
    conn: &mut Conn,
    scan: Uuid,
    rows: &Columns,
    copies: &[Seen],
) -> QueryResult<usize> {
    let at = places(copies);
    statement(
        "update copies c set state = 'verified', mtime = u.modified, \
             checked_at = greatest(c.checked_at, u.read), check_id = $1 \
         from unnest($2::uuid[], $3::timestamptz[], $4::timestamptz[]) as u (id, modified, read) where c.id = u.id",
    )
    .bind::<SqlUuid, _>(scan)
    .bind::<Array<SqlUuid>, _>(copies.iter().map(|copy| copy.id).collect::<Vec<_>>())
    .bind::<Array<Nullable<Timestamptz>>, _>(pick(&rows.modified, &at))
    .bind::<Array<Timestamptz>, _>(pick(&rows.read, &at))
    .execute(conn)
    .await
}

/// Adds copies that are new.
pub async fn insert_copies(
    conn: &mut Conn,
    series: Uuid,
    (scan, drive): (Uuid, Uuid),
    rows: &Columns,
    copies: &[Seen],
) -> QueryResult<usize> {
    let at = places(copies);
    statement(
        "insert into copies (id, series_id, file_id, drive_id, path, mtime, checked_at, state, check_id) \
         select id, $1, file, $2, path, modified, read, 'verified', $3 \
         from unnest($4::uuid[], $5::uuid[], $6::text[], $7::timestamptz[], $8::timestamptz[]) \
             as u (id, file, path, modified, read)",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<SqlUuid, _>(drive)
    .bind::<SqlUuid, _>(scan)
    .bind::<Array<SqlUuid>, _>(copies.iter().map(|copy| copy.id).collect::<Vec<_>>())
    .bind::<Array<SqlUuid>, _>(copies.iter().map(|copy| copy.file).collect::<Vec<_>>())
    .bind::<Array<Text>, _>(pick(&rows.paths, &at))
    .bind::<Array<Nullable<Timestamptz>>, _>(pick(&rows.modified, &at))
    .bind::<Array<Timestamptz>, _>(pick(&rows.read, &at))
    .execute(conn)
    .await
}

/// A card to be found or made.
#[derive(Clone, Debug)]
pub struct CardSeen {
    pub name: String,
    pub camera: String,
    pub number: String,
    pub shot_on: Option<NaiveDate>,
}

/// A card that is there now.
#[derive(Clone, Debug, QueryableByName)]
pub struct CardRow {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
}

/// Makes the cards that are not there, tied to the shoot day of their date where there is one; answers all of them.
pub async fn cards(
    conn: &mut Conn,
    series: Uuid,
    seen: &[CardSeen],
    now: DateTime<Utc>,
) -> QueryResult<Vec<CardRow>> {
    let column = |of: fn(&CardSeen) -> &String| seen.iter().map(of).collect::<Vec<_>>();
    let names = column(|card| &card.name);
    statement(
        "insert into cards (id, series_id, shoot_day_id, name, camera, number, shot_on, state, wiped_by, notes, \
             version, created_at, updated_at) \
         select id, $1, (select d.id from shoot_days d where d.series_id = $1 and d.day = u.day \
             and d.deleted_at is null order by d.id limit 1), name, camera, number, day, 'offloading', '', '', 1, $2, $2 \
         from unnest($3::uuid[], $4::text[], $5::text[], $6::text[], $7::date[]) as u (id, name, camera, number, day) \
         order by name on conflict (series_id, name) where deleted_at is null do nothing",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Timestamptz, _>(now)
    .bind::<Array<SqlUuid>, _>(seen.iter().map(|_| Uuid::now_v7()).collect::<Vec<_>>())
    .bind::<Array<Text>, _>(&names)
    .bind::<Array<Text>, _>(column(|card| &card.camera))
    .bind::<Array<Text>, _>(column(|card| &card.number))
    .bind::<Array<Nullable<Date>>, _>(seen.iter().map(|card| card.shot_on).collect::<Vec<_>>())
    .execute(conn)
    .await?;
    statement(
        "select id, name from cards where series_id = $1 and deleted_at is null and name = any($2)",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(&names)
    .load(conn)
    .await
}
