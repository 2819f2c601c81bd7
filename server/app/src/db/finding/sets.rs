//! Which folders and which names something is said of: sorted lists of their numbers, each by one small statement.

use diesel::prelude::*;
use diesel::sql_types::{
    Array, BigInt, Bool, Date, Integer, Nullable, SmallInt, Text, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::ask::{Ask, Clocked, Hit};
use super::sql::holding;
use crate::db::Conn;
use crate::db::record::like;
use crate::db::statement::{once, statement};

#[derive(QueryableByName)]
struct Keys {
    #[diesel(sql_type = Nullable<Array<BigInt>>)]
    keys: Option<Vec<i64>>,
}

impl Keys {
    fn sorted(self) -> Vec<i64> {
        let mut keys = self.keys.unwrap_or_default();
        keys.sort_unstable();
        keys
    }
}

#[derive(QueryableByName)]
struct Answers {
    #[diesel(sql_type = Array<Bool>)]
    said: Vec<bool>,
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

#[derive(QueryableByName)]
struct Names {
    #[diesel(sql_type = Nullable<Array<Integer>>)]
    ids: Option<Vec<i32>>,
    #[diesel(sql_type = Nullable<Array<BigInt>>)]
    files: Option<Vec<i64>>,
}

#[derive(QueryableByName)]
struct Texts {
    #[diesel(sql_type = Nullable<Array<Text>>)]
    texts: Option<Vec<String>>,
}

/// All folders of the series.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn all(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<i64>> {
    let keys: Keys = statement("select array_agg(key) as keys from folders where series_id = $1")
        .bind::<SqlUuid, _>(series)
        .get_result(conn)
        .await?;
    Ok(keys.sorted())
}

/// Folders whose words hold this text. Planned for each text: two letters are no use to an index of three.
pub async fn saying(conn: &Conn, series: Uuid, text: &str) -> QueryResult<Vec<i64>> {
    let keys: Keys = diesel::sql_query(
        "select array_agg(key) as keys from folders where series_id = $1 and words like $2",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Text, _>(like(text))
    .get_result(&mut &*conn)
    .await?;
    Ok(keys.sorted())
}

/// Which of these patterns the words of any folder fit, by place.
pub async fn any_saying(
    conn: &mut Conn,
    series: Uuid,
    patterns: &[String],
) -> QueryResult<Vec<bool>> {
    let each: Vec<String> = (2..)
        .take(patterns.len())
        .map(|at| {
            format!("exists (select 1 from folders where series_id = $1 and words like ${at})")
        })
        .collect();
    let mut asked =
        once(format!("select array[{}] as said", each.join(", "))).bind::<SqlUuid, _>(series);
    for pattern in patterns {
        asked = asked.bind::<Text, _>(pattern);
    }
    let said: Answers = asked.get_result(conn).await?;
    Ok(said.said)
}

/// The next folders whose words fit all these patterns, from this one on. Planned for each text, as [`saying`] is; each
/// pattern is a condition of its own, since the index of three letters serves no list of patterns.
pub async fn next_saying(
    conn: &mut Conn,
    series: Uuid,
    patterns: &[String],
    from: i64,
    most: usize,
) -> QueryResult<Vec<i64>> {
    let fit: String = (4..)
        .take(patterns.len())
        .map(|at| format!(" and words like ${at}"))
        .collect();
    let text = format!(
        "select array_agg(key) as keys from (select key from folders where series_id = $1 and key >= $2{fit} \
             order by key limit $3) k"
    );
    let mut asked = once(text)
        .bind::<SqlUuid, _>(series)
        .bind::<BigInt, _>(from)
        .bind::<BigInt, _>(i64::try_from(most).unwrap_or(i64::MAX));
    for pattern in patterns {
        asked = asked.bind::<Text, _>(pattern);
    }
    let keys: Keys = asked.get_result(conn).await?;
    Ok(keys.sorted())
}

/// The next folders of the series, from this one on.
pub async fn next(conn: &mut Conn, series: Uuid, from: i64, most: usize) -> QueryResult<Vec<i64>> {
    let keys: Keys = statement(
        "select array_agg(key) as keys from (select key from folders where series_id = $1 and key >= $2 \
             order by key limit $3) k",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<BigInt, _>(from)
    .bind::<BigInt, _>(i64::try_from(most).unwrap_or(i64::MAX))
    .get_result(conn)
    .await?;
    Ok(keys.sorted())
}

/// How many folders of the series there are from one to another.
pub async fn between(conn: &mut Conn, series: Uuid, from: i64, to: i64) -> QueryResult<i64> {
    let counted: Count = statement(
        "select count(*) as count from folders where series_id = $1 and key between $2 and $3",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<BigInt, _>(from)
    .bind::<BigInt, _>(to)
    .get_result(conn)
    .await?;
    Ok(counted.count)
}

/// Names that hold this text, and about how many files are called so.
pub async fn named(conn: &Conn, series: Uuid, text: &str) -> QueryResult<Vec<(i32, i64)>> {
    let found: Names = diesel::sql_query(
        "select array_agg(id) as ids, array_agg(files) as files from names where series_id = $1 and words like $2",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Text, _>(like(text))
    .get_result(&mut &*conn)
    .await?;
    let files = found.files.unwrap_or_default();
    Ok(found
        .ids
        .unwrap_or_default()
        .into_iter()
        .zip(files)
        .collect())
}

/// A file by its name.
#[derive(QueryableByName)]
pub struct Called {
    #[diesel(embed)]
    pub hit: Hit,
    /// Whether more of the same name may follow.
    #[diesel(sql_type = Bool)]
    pub cut: bool,
}

/// The first files of each of these names in the order of hits, at most `each` of a name, after the hit `after` and up to
/// the folder `until`; in no order. Prepared: how many names there are does not matter to the plan, which looks each up.
pub async fn of_each_name(
    conn: &mut Conn,
    names: &[i32],
    (after, until): (Option<Hit>, Option<i64>),
    each: usize,
) -> QueryResult<Vec<Called>> {
    statement(
        "select f.folder, f.id, f.at = $5 as cut from unnest($1::int4[]) n (id) cross join lateral \
             (select folder, id, row_number() over (order by folder, id) as at from files where name_id = n.id \
                 and (folder, id) > (coalesce($2::int8, -1), coalesce($3::uuid, '00000000-0000-0000-0000-000000000000')) \
                 and folder <= coalesce($4::int8, 9223372036854775807) order by folder, id limit $5::int8) f",
    )
    .bind::<Array<Integer>, _>(names)
    .bind::<Nullable<BigInt>, _>(after.map(|hit| hit.folder))
    .bind::<Nullable<SqlUuid>, _>(after.map(|hit| hit.id))
    .bind::<Nullable<BigInt>, _>(until)
    .bind::<BigInt, _>(i64::try_from(each).unwrap_or(i64::MAX))
    .load(conn)
    .await
}

/// Words of the series with these digits and about this length.
pub async fn words_like(
    conn: &mut Conn,
    series: Uuid,
    digits: &str,
    (from, to): (i32, i32),
) -> QueryResult<Vec<String>> {
    let texts: Texts = statement(
        "select array_agg(word order by word) as texts from search_words where series_id = $1 and digits = $2 \
             and length(word) between $3 and $4",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Text, _>(digits)
    .bind::<Integer, _>(from)
    .bind::<Integer, _>(to)
    .get_result(conn)
    .await?;
    Ok(texts.texts.unwrap_or_default())
}

/// Folders of the cards that are asked for.
macro_rules! of_cards {
    ($also:literal) => {
        concat!(
            "select array_agg(o.key) as keys from cards k join folders o on o.card_id = k.id \
             where k.series_id = $1 and o.series_id = $1 and k.deleted_at is null and ($2::uuid is null or k.id = $2) \
                 and ($3::text is null or lower(k.camera) = $3) \
                 and ($4::uuid is null or k.shoot_day_id = $4 or (k.shoot_day_id is null and k.shot_on = \
                     (select d.day from shoot_days d where d.id = $4 and d.series_id = $1))) ",
            $also
        )
    };
}

/// Folders of the cards that are asked for by card, day or camera; none when they are not.
pub async fn of_cards(conn: &mut Conn, series: Uuid, ask: &Ask) -> QueryResult<Option<Vec<i64>>> {
    if ask.card.is_none() && ask.day.is_none() && ask.on.is_none() && ask.camera.is_none() {
        return Ok(None);
    }
    // the day is part of the keys of a card's folders
    let text = match ask.on {
        Some(_) => of_cards!(
            "and o.key between folder_key($5, 0) and folder_key($5, 2147483647) \
             and ((k.shoot_day_id is null and k.shot_on = $5) or k.shoot_day_id in \
                 (select id from shoot_days where series_id = $1 and day = $5))"
        ),
        None => of_cards!("and $5::date is null"),
    };
    let keys: Keys = statement(text)
        .bind::<SqlUuid, _>(series)
        .bind::<Nullable<SqlUuid>, _>(ask.card)
        .bind::<Nullable<Text>, _>(ask.camera.as_deref())
        .bind::<Nullable<SqlUuid>, _>(ask.day)
        .bind::<Nullable<Date>, _>(ask.on)
        .get_result(conn)
        .await?;
    Ok(Some(keys.sorted()))
}

/// Folders of which a drive holds files.
pub async fn on_drive(conn: &mut Conn, drive: Uuid) -> QueryResult<Vec<i64>> {
    let keys: Keys =
        statement("select array_agg(folder) as keys from folder_drives where drive_id = $1")
            .bind::<SqlUuid, _>(drive)
            .get_result(conn)
            .await?;
    Ok(keys.sorted())
}

/// Folders with files of this roll: by the card's name or number, or by the reel in a header.
pub async fn of_roll(conn: &mut Conn, series: Uuid, roll: &str) -> QueryResult<Vec<i64>> {
    let keys: Keys = statement(
        "select array_agg(key) as keys from ( \
             select folder as key from files where series_id = $1 and reel <> '' and lower(reel) = $2 \
             union select o.key from cards k join folders o on o.card_id = k.id where k.series_id = $1 \
                 and k.deleted_at is null and $2 in (lower(k.name), lower(k.number), lower(k.camera || k.number))) u",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Text, _>(roll)
    .get_result(conn)
    .await?;
    Ok(keys.sorted())
}

/// Folders with files that hold one of these frames.
pub async fn at_timecode(conn: &mut Conn, series: Uuid, at: &Clocked) -> QueryResult<Vec<i64>> {
    let keys: Keys = statement(concat!(
        "select array_agg(distinct f.folder) as keys from ",
        holding!("$2", "$3", "$4", "$5"),
    ))
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Integer>, _>(&at.nums)
    .bind::<Array<Integer>, _>(&at.dens)
    .bind::<Array<Bool>, _>(&at.drops)
    .bind::<Array<BigInt>, _>(&at.frames)
    .get_result(conn)
    .await?;
    Ok(keys.sorted())
}

/// Folders with files logged with one of these records.
pub async fn logged_with(
    conn: &mut Conn,
    series: Uuid,
    ask: &Ask,
) -> QueryResult<Option<Vec<i64>>> {
    let first = ask.people.as_slice().first().copied();
    if first.is_none() && ask.place.is_none() && ask.asset.is_none() && ask.music.is_none() {
        return Ok(None);
    }
    let keys: Keys = statement(
        "select array_agg(distinct folder) as keys from log_entries where series_id = $1 and deleted_at is null \
             and case when $2::uuid is not null then person_id = $2 when $3::uuid is not null then place_id = $3 \
                 when $4::uuid is not null then asset_id = $4 else music_id = $5::uuid end",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Nullable<SqlUuid>, _>(first)
    .bind::<Nullable<SqlUuid>, _>(ask.place)
    .bind::<Nullable<SqlUuid>, _>(ask.asset)
    .bind::<Nullable<SqlUuid>, _>(ask.music)
    .get_result(conn)
    .await?;
    Ok(Some(keys.sorted()))
}

/// Folders with files in which these words were said in one line.
pub async fn saying_aloud(
    conn: &mut Conn,
    series: Uuid,
    words: &[String],
) -> QueryResult<Vec<i64>> {
    let keys: Keys = statement(
        "select array_agg(distinct f.folder) as keys from transcript_lines t join files f on f.id = t.file_id \
         join transcripts r on r.id = t.transcript_id where t.series_id = $1 and r.deleted_at is null and t.words like all($2)",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(words.iter().map(|word| like(word)).collect::<Vec<_>>())
    .get_result(conn)
    .await?;
    Ok(keys.sorted())
}

/// Folders with files that hold a shot of this rank and kind.
pub async fn with_shots(conn: &mut Conn, series: Uuid, ask: &Ask) -> QueryResult<Option<Vec<i64>>> {
    if ask.rank.is_none() && ask.shot.is_none() {
        return Ok(None);
    }
    let keys: Keys = statement(
        "select array_agg(distinct folder) as keys from shots where series_id = $1 and deleted_at is null \
             and ($2::int2 is null or rank = $2) and ($3::text is null or kind = $3)",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Nullable<SmallInt>, _>(ask.rank)
    .bind::<Nullable<Text>, _>(ask.shot.map(|shot| shot.word()))
    .get_result(conn)
    .await?;
    Ok(Some(keys.sorted()))
}
