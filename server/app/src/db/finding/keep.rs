//! What a chunk of a scan adds to what files are found by: folders, names, the words of both, and where else a known
//! content lies. Few statements over arrays; where nothing is new, they only read.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Date, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::footage::words::{digits, words};

use crate::db::Conn;
use crate::db::ingest::{Columns, Known};
use crate::db::statement::statement;

/// What tells one folder from another: its words, and the card or else the day.
type Place = (String, Option<Uuid>, Option<NaiveDate>);

#[derive(QueryableByName)]
struct FolderAt {
    /// From 1.
    #[diesel(sql_type = BigInt)]
    at: i64,
    #[diesel(sql_type = BigInt)]
    key: i64,
}

#[derive(QueryableByName)]
struct NameAt {
    /// From 1.
    #[diesel(sql_type = BigInt)]
    at: i64,
    #[diesel(sql_type = Integer)]
    id: i32,
}

/// Fills in where each file of the chunk stands: folders and names that are new are made.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn find_places(conn: &mut Conn, series: Uuid, rows: &mut Columns) -> QueryResult<()> {
    let mut places = BTreeMap::<Place, i64>::new();
    let mut names = BTreeMap::<String, i32>::new();
    for at in 0..rows.ids.len() {
        if let Some(place) = place(rows, at) {
            places.insert(place, 0);
        }
        names.insert(rows.called.get(at).cloned().unwrap_or_default(), 0);
    }
    let mut fresh = number_names(conn, series, &mut names).await?;
    fresh.extend(number_folders(conn, series, &mut places).await?);
    learn(conn, series, &fresh).await?;
    rows.folders = (0..rows.ids.len())
        .map(|at| place(rows, at).and_then(|place| places.get(&place).copied()))
        .map(Option::unwrap_or_default)
        .collect();
    rows.name_ids = rows
        .called
        .iter()
        .map(|name| names.get(name).copied().unwrap_or_default())
        .collect();
    Ok(())
}

/// Files of a card belong together; others by the day on which they were modified.
fn place(rows: &Columns, at: usize) -> Option<Place> {
    let card = rows.cards.get(at).copied().flatten();
    let modified = rows.modified.get(at).copied().flatten();
    let day = modified
        .filter(|_| card.is_none())
        .map(|modified| modified.date_naive());
    Some((rows.places.get(at)?.clone(), card, day))
}

/// Gives each name its number; answers the names that are new.
async fn number_names(
    conn: &mut Conn,
    series: Uuid,
    names: &mut BTreeMap<String, i32>,
) -> QueryResult<Vec<String>> {
    known_names(conn, series, names).await?;
    let fresh: Vec<String> = names
        .iter()
        .filter(|(_, id)| **id == 0)
        .map(|(name, _)| name.clone())
        .collect();
    if fresh.is_empty() {
        return Ok(fresh);
    }
    // in their order, so that two scans wait for each other instead of locking each other out
    statement(
        "insert into names (series_id, words) select $1, u.words from unnest($2::text[]) with ordinality u (words, at) \
         order by u.at on conflict do nothing",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(&fresh)
    .execute(conn)
    .await?;
    known_names(conn, series, names).await?;
    Ok(fresh)
}

async fn known_names(
    conn: &mut Conn,
    series: Uuid,
    names: &mut BTreeMap<String, i32>,
) -> QueryResult<()> {
    let asked: Vec<&String> = names.keys().collect();
    let found: Vec<NameAt> = statement(
        "select u.at, n.id from unnest($2::text[]) with ordinality u (words, at) \
         join names n on n.series_id = $1 and n.words = u.words order by u.at",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(asked)
    .load(conn)
    .await?;
    let mut found = found.into_iter().peekable();
    for (at, id) in (1..).zip(names.values_mut()) {
        if let Some(row) = found.next_if(|row| row.at == at) {
            *id = row.id;
        }
    }
    Ok(())
}

/// Gives each folder its key; answers the words of those that are new.
async fn number_folders(
    conn: &mut Conn,
    series: Uuid,
    places: &mut BTreeMap<Place, i64>,
) -> QueryResult<Vec<String>> {
    known_folders(conn, series, places).await?;
    let fresh: Vec<Place> = places
        .iter()
        .filter(|(_, key)| **key == 0)
        .map(|(place, _)| place.clone())
        .collect();
    if fresh.is_empty() {
        return Ok(Vec::new());
    }
    let (texts, cards, days) = apart(&fresh);
    statement(
        "insert into folders (key, series_id, words, card_id, modified_on) \
         select folder_key(coalesce(d.day, k.shot_on, u.modified_on), nextval('folder_numbers')), $1, u.words, u.card, \
             u.modified_on \
         from unnest($2::text[], $3::uuid[], $4::date[]) with ordinality u (words, card, modified_on, at) \
         left join cards k on k.id = u.card left join shoot_days d on d.id = k.shoot_day_id \
         order by u.at on conflict do nothing",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(&texts)
    .bind::<Array<Nullable<SqlUuid>>, _>(cards)
    .bind::<Array<Nullable<Date>>, _>(days)
    .execute(conn)
    .await?;
    known_folders(conn, series, places).await?;
    Ok(fresh.into_iter().map(|(words, ..)| words).collect())
}

async fn known_folders(
    conn: &mut Conn,
    series: Uuid,
    places: &mut BTreeMap<Place, i64>,
) -> QueryResult<()> {
    let asked: Vec<Place> = places.keys().cloned().collect();
    let (texts, cards, days) = apart(&asked);
    let found: Vec<FolderAt> = statement(
        "select u.at, o.key from unnest($2::text[], $3::uuid[], $4::date[]) with ordinality \
             u (words, card, modified_on, at) \
         join folders o on o.series_id = $1 and o.words = u.words and o.card_id is not distinct from u.card \
             and o.modified_on is not distinct from u.modified_on \
         order by u.at",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(texts)
    .bind::<Array<Nullable<SqlUuid>>, _>(cards)
    .bind::<Array<Nullable<Date>>, _>(days)
    .load(conn)
    .await?;
    let mut found = found.into_iter().peekable();
    for (at, key) in (1..).zip(places.values_mut()) {
        if let Some(row) = found.next_if(|row| row.at == at) {
            *key = row.key;
        }
    }
    Ok(())
}

fn apart(places: &[Place]) -> (Vec<&String>, Vec<Option<Uuid>>, Vec<Option<NaiveDate>>) {
    (
        places.iter().map(|(words, ..)| words).collect(),
        places.iter().map(|(_, card, _)| *card).collect(),
        places.iter().map(|(_, _, day)| *day).collect(),
    )
}

/// Keeps the words of new names and folders, for what is mistyped.
async fn learn(conn: &mut Conn, series: Uuid, texts: &[String]) -> QueryResult<()> {
    let all: BTreeSet<&str> = texts.iter().flat_map(|text| words(text)).collect();
    if all.is_empty() {
        return Ok(());
    }
    statement(
        "insert into search_words (series_id, digits, word) \
         select $1, u.digits, u.word from unnest($2::text[], $3::text[]) with ordinality u (word, digits, at) \
         order by u.at on conflict do nothing",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(all.iter().copied().collect::<Vec<_>>())
    .bind::<Array<Text>, _>(all.iter().map(|word| digits(word)).collect::<Vec<_>>())
    .execute(conn)
    .await
    .map(drop)
}

#[derive(QueryableByName)]
struct Words {
    #[diesel(sql_type = BigInt)]
    key: i64,
    #[diesel(sql_type = Text)]
    words: String,
}

/// Notes which drive holds files of which folders, and under what other words known contents lie there.
pub async fn place_known(
    conn: &mut Conn,
    series: Uuid,
    drive: Uuid,
    rows: &Columns,
    known: &[Known],
) -> QueryResult<()> {
    let folders: BTreeSet<i64> = known.iter().map(|known| known.folder).collect();
    statement(
        "insert into folder_drives (folder, drive_id) select u.folder, $1 from unnest($2::int8[]) u (folder) \
         where not exists (select 1 from folder_drives h where h.folder = u.folder and h.drive_id = $1) \
         order by u.folder on conflict do nothing",
    )
    .bind::<SqlUuid, _>(drive)
    .bind::<Array<BigInt>, _>(folders.iter().copied().collect::<Vec<_>>())
    .execute(conn)
    .await?;
    let mut elsewhere: Vec<(usize, &Known)> = known
        .iter()
        .enumerate()
        .filter(|(at, known)| {
            rows.folders.get(*at) != Some(&known.folder)
                || rows.name_ids.get(*at) != Some(&known.name_id)
        })
        .collect();
    if elsewhere.is_empty() {
        return Ok(());
    }
    let first: Vec<Words> = statement("select key, words from folders where key = any($1)")
        .bind::<Array<BigInt>, _>(
            elsewhere
                .iter()
                .map(|(_, known)| known.folder)
                .collect::<Vec<_>>(),
        )
        .load(conn)
        .await?;
    let first: BTreeMap<i64, String> = first.into_iter().map(|row| (row.key, row.words)).collect();
    // what is part of the first words is found by them already
    elsewhere.retain(|(at, known)| {
        rows.name_ids.get(*at) != Some(&known.name_id)
            || !rows
                .places
                .get(*at)
                .zip(first.get(&known.folder))
                .is_some_and(|(here, first)| first.contains(here.as_str()))
    });
    statement(
        "insert into other_places (file_id, place, name_id, series_id, folder) \
         select u.file, u.place, u.name, $1, u.folder from unnest($2::uuid[], $3::int8[], $4::int4[], $5::int8[]) \
             u (file, place, name, folder) \
         order by 1, 2, 3 on conflict do nothing",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(elsewhere.iter().map(|(_, known)| known.file_id).collect::<Vec<_>>())
    .bind::<Array<BigInt>, _>(picked(&rows.folders, &elsewhere))
    .bind::<Array<Integer>, _>(picked(&rows.name_ids, &elsewhere))
    .bind::<Array<BigInt>, _>(elsewhere.iter().map(|(_, known)| known.folder).collect::<Vec<_>>())
    .execute(conn)
    .await
    .map(drop)
}

fn picked<T: Copy + Default>(column: &[T], rows: &[(usize, &Known)]) -> Vec<T> {
    rows.iter()
        .map(|(at, _)| column.get(*at).copied().unwrap_or_default())
        .collect()
}

/// Moves files that turned out to be of a card to that card's folder; where they stood stays another place of theirs.
/// `at`: their places in the chunk.
pub async fn move_to_card(
    conn: &mut Conn,
    series: Uuid,
    rows: &Columns,
    moved: &[(usize, Uuid)],
) -> QueryResult<()> {
    if moved.is_empty() {
        return Ok(());
    }
    let files: Vec<Uuid> = moved.iter().map(|(_, file)| *file).collect();
    let folders: Vec<i64> = moved
        .iter()
        .filter_map(|(at, _)| rows.folders.get(*at).copied())
        .collect();
    let names: Vec<i32> = moved
        .iter()
        .filter_map(|(at, _)| rows.name_ids.get(*at).copied())
        .collect();
    statement(
        "with moved as (select * from unnest($2::uuid[], $3::int8[], $4::int4[]) u (file, folder, name)), \
         stayed as (insert into other_places (file_id, place, name_id, series_id, folder) \
             select f.id, f.folder, f.name_id, $1, m.folder from files f join moved m on m.file = f.id \
             on conflict do nothing), \
         others as (update other_places o set folder = m.folder from moved m where o.file_id = m.file), \
         logged as (update log_entries l set folder = m.folder from moved m where l.file_id = m.file), \
         marked as (update shots s set folder = m.folder from moved m where s.file_id = m.file) \
         update files f set folder = m.folder, name_id = m.name from moved m where f.id = m.file",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(files)
    .bind::<Array<BigInt>, _>(folders)
    .bind::<Array<Integer>, _>(names)
    .execute(conn)
    .await
    .map(drop)
}
