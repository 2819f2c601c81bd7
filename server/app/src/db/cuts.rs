//! Cuts and their events: what was imported, word for word, and what each event was matched with.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::dsl::count_star;
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::timeline::Warning;

use super::schema::{cut_events, cuts, episodes, users};
use super::{Conn, Json};
use crate::text_enum;

text_enum! {
    /// The form of file that a cut came in.
    pub enum CutFormat { Edl = "edl", Otio = "otio" }
}

text_enum! {
    /// What an event was matched with.
    pub enum MatchKind {
        File = "file", Asset = "asset", Music = "music", Black = "black", Unknown = "unknown",
    }
}

/// A cut, without its events and the file it came in.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = cuts)]
pub struct CutHead {
    pub id: Uuid,
    pub series_id: Uuid,
    /// Also the ETag.
    pub version: i32,
    pub created_at: DateTime<Utc>,
    pub updated_at: DateTime<Utc>,
    /// When it was moved to the bin.
    #[schema(required)]
    pub deleted_at: Option<DateTime<Utc>>,
    pub episode_id: Uuid,
    pub name: String,
    /// Read from the name; the latest cut is the one with the highest date and number.
    #[schema(required)]
    pub cut_date: Option<NaiveDate>,
    /// Read from the name.
    #[schema(required)]
    pub cut_number: Option<i32>,
    pub format: CutFormat,
    /// As written in the file.
    pub title: String,
    /// Frame rate of the record side, for instance `25` or `29.97df`.
    pub rate: String,
    /// Record frame of the first frame, counted from 00:00:00:00.
    pub start_frame: i64,
    pub duration_frames: i64,
    pub locked: bool,
    /// Name of the imported file.
    pub source_name: String,
    pub source_sha256: String,
    /// What a person should look at, with the line it is about.
    #[schema(value_type = Vec<Warning>)]
    pub warnings: Json<Vec<Warning>>,
    #[schema(required)]
    pub imported_by: Option<Uuid>,
}

/// A cut to be stored.
#[derive(Insertable)]
#[diesel(table_name = cuts)]
pub struct NewCut {
    pub id: Uuid,
    pub series_id: Uuid,
    pub episode_id: Uuid,
    pub name: String,
    pub cut_date: Option<NaiveDate>,
    pub cut_number: Option<i32>,
    pub format: CutFormat,
    pub title: String,
    pub rate: String,
    pub start_frame: i64,
    pub duration_frames: i64,
    pub locked: bool,
    pub source_name: String,
    pub source_sha256: String,
    pub source: Vec<u8>,
    pub warnings: Json<Vec<Warning>>,
    pub imported_by: Uuid,
    pub version: i32,
    pub created_at: DateTime<Utc>,
    pub updated_at: DateTime<Utc>,
}

/// An event of a cut as it is stored.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = cut_events)]
pub struct EventRow {
    pub cut_id: Uuid,
    pub series_id: Uuid,
    pub position: i32,
    pub origin: String,
    pub event: String,
    pub track: String,
    pub picture: bool,
    pub sound: bool,
    pub enabled: bool,
    /// The word of `timeline::EventKind`.
    pub kind: String,
    pub reel: String,
    pub clip: String,
    pub source_name: String,
    /// The rate at which the source's frames are counted.
    pub rate: String,
    pub record_in: i64,
    pub record_out: i64,
    pub source_in: Option<i64>,
    pub source_out: Option<i64>,
    pub speed: Option<String>,
    pub comments: Json<Vec<String>>,
    pub match_kind: MatchKind,
    pub match_how: String,
    pub file_id: Option<Uuid>,
    pub asset_id: Option<Uuid>,
    pub music_id: Option<Uuid>,
    pub file_in: Option<i64>,
    pub file_out: Option<i64>,
}

impl EventRow {
    /// Its number in the cut.
    pub fn number(&self) -> u32 {
        u32::try_from(self.position).unwrap_or(0)
    }
}

/// Number of events of a cut, in all and by what they were matched with.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct CutCounts {
    pub events: i64,
    pub files: i64,
    pub imports: i64,
    pub music: i64,
    pub black: i64,
    pub unknown_sources: i64,
}

/// What the parts of an episode that a cut needs are.
#[derive(Clone, Debug, Queryable)]
pub struct EpisodeHead {
    pub id: Uuid,
    pub number: i32,
    pub title: String,
}

/// Finds a live episode, and keeps others from importing into it at the same time when `locked`.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn episode(
    conn: &mut Conn,
    series: Uuid,
    id: Uuid,
    locked: bool,
) -> QueryResult<Option<EpisodeHead>> {
    let query = episodes::table
        .filter(episodes::id.eq(id))
        .filter(episodes::series_id.eq(series))
        .filter(episodes::deleted_at.is_null())
        .select((episodes::id, episodes::number, episodes::title));
    if locked {
        query.for_no_key_update().first(conn).await.optional()
    } else {
        query.first(conn).await.optional()
    }
}

/// Stores a cut.
pub async fn insert(conn: &mut Conn, cut: NewCut) -> QueryResult<CutHead> {
    diesel::insert_into(cuts::table)
        .values(cut)
        .returning(CutHead::as_returning())
        .get_result(conn)
        .await
}

/// Stores the events of a cut, as many at a time as one statement can bind.
pub async fn insert_events(conn: &mut Conn, rows: &[EventRow]) -> QueryResult<()> {
    const AT_A_TIME: usize = 2000;
    for some in rows.chunks(AT_A_TIME) {
        diesel::insert_into(cut_events::table)
            .values(some.to_vec())
            .execute(conn)
            .await?;
    }
    Ok(())
}

/// A cut, from the bin too.
pub async fn load(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<CutHead>> {
    cuts::table
        .filter(cuts::id.eq(id))
        .filter(cuts::series_id.eq(series))
        .select(CutHead::as_select())
        .first(conn)
        .await
        .optional()
}

/// Live cuts of an episode, the latest first: highest date, then number (R48); what has no date in
/// its name comes last.
pub async fn of_episode(conn: &mut Conn, episode: Uuid) -> QueryResult<Vec<CutHead>> {
    cuts::table
        .filter(cuts::episode_id.eq(episode))
        .filter(cuts::deleted_at.is_null())
        .order((
            cuts::cut_date.desc().nulls_last(),
            cuts::cut_number.desc().nulls_last(),
            cuts::created_at.desc(),
            cuts::id.desc(),
        ))
        .select(CutHead::as_select())
        .load(conn)
        .await
}

/// The latest live cut of each live episode of a series.
pub async fn current_of_series(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<Uuid>> {
    cuts::table
        .inner_join(episodes::table.on(episodes::id.eq(cuts::episode_id)))
        .filter(cuts::series_id.eq(series))
        .filter(cuts::deleted_at.is_null())
        .filter(episodes::deleted_at.is_null())
        .distinct_on(cuts::episode_id)
        .order((
            cuts::episode_id,
            cuts::cut_date.desc().nulls_last(),
            cuts::cut_number.desc().nulls_last(),
            cuts::created_at.desc(),
            cuts::id.desc(),
        ))
        .select(cuts::id)
        .load(conn)
        .await
}

/// The live cut of an episode that came from the same content, counted at the same rate.
pub async fn same(
    conn: &mut Conn,
    episode: Uuid,
    sha256: &str,
    rate: &str,
) -> QueryResult<Option<CutHead>> {
    cuts::table
        .filter(cuts::episode_id.eq(episode))
        .filter(cuts::source_sha256.eq(sha256))
        .filter(cuts::rate.eq(rate))
        .filter(cuts::deleted_at.is_null())
        .select(CutHead::as_select())
        .first(conn)
        .await
        .optional()
}

/// Locks or unlocks where the version is still `version`.
pub async fn set_locked(
    conn: &mut Conn,
    id: Uuid,
    version: i32,
    locked: bool,
    now: DateTime<Utc>,
) -> QueryResult<Option<CutHead>> {
    diesel::update(cuts::table.find(id))
        .filter(cuts::version.eq(version))
        .filter(cuts::deleted_at.is_null())
        .set((
            cuts::locked.eq(locked),
            cuts::version.eq(version.wrapping_add(1)),
            cuts::updated_at.eq(now),
        ))
        .returning(CutHead::as_returning())
        .get_result(conn)
        .await
        .optional()
}

/// Moves a cut to the bin or back where the version is still `version`.
pub async fn set_deleted(
    conn: &mut Conn,
    id: Uuid,
    version: i32,
    deleted_at: Option<DateTime<Utc>>,
    now: DateTime<Utc>,
) -> QueryResult<Option<CutHead>> {
    crate::set_deleted!(cuts, CutHead, conn, id, version, deleted_at, now)
}

/// Counts of several cuts at once.
pub async fn counts(conn: &mut Conn, ids: &[Uuid]) -> QueryResult<HashMap<Uuid, CutCounts>> {
    let rows: Vec<(Uuid, MatchKind, i64)> = cut_events::table
        .filter(cut_events::cut_id.eq_any(ids))
        .group_by((cut_events::cut_id, cut_events::match_kind))
        .select((cut_events::cut_id, cut_events::match_kind, count_star()))
        .load(conn)
        .await?;
    let mut all: HashMap<Uuid, CutCounts> = HashMap::new();
    for (cut, kind, n) in rows {
        let counts = all.entry(cut).or_default();
        counts.events += n;
        match kind {
            MatchKind::File => counts.files += n,
            MatchKind::Asset => counts.imports += n,
            MatchKind::Music => counts.music += n,
            MatchKind::Black => counts.black += n,
            MatchKind::Unknown => counts.unknown_sources += n,
        }
    }
    Ok(all)
}

/// Events of a cut in record order.
pub async fn events(conn: &mut Conn, cut: Uuid) -> QueryResult<Vec<EventRow>> {
    cut_events::table
        .filter(cut_events::cut_id.eq(cut))
        .order(cut_events::position)
        .select(EventRow::as_select())
        .load(conn)
        .await
}

/// Writes the matches of these events of one cut, in one statement.
pub async fn set_matches(conn: &mut Conn, cut: Uuid, rows: &[EventRow]) -> QueryResult<()> {
    fn column<T>(rows: &[EventRow], value: impl Fn(&EventRow) -> T) -> Vec<T> {
        rows.iter().map(value).collect()
    }
    if rows.is_empty() {
        return Ok(());
    }
    diesel::sql_query(
        "update cut_events e set match_kind = n.kind, match_how = n.how, file_id = n.file, asset_id = n.asset, \
           music_id = n.music, file_in = n.file_in, file_out = n.file_out \
         from unnest($2, $3, $4, $5, $6, $7, $8, $9) as n (position, kind, how, file, asset, music, file_in, file_out) \
         where e.cut_id = $1 and e.position = n.position",
    )
    .bind::<SqlUuid, _>(cut)
    .bind::<Array<Integer>, _>(column(rows, |row| row.position))
    .bind::<Array<Text>, _>(column(rows, |row| row.match_kind.word()))
    .bind::<Array<Text>, _>(column(rows, |row| row.match_how.clone()))
    .bind::<Array<Nullable<SqlUuid>>, _>(column(rows, |row| row.file_id))
    .bind::<Array<Nullable<SqlUuid>>, _>(column(rows, |row| row.asset_id))
    .bind::<Array<Nullable<SqlUuid>>, _>(column(rows, |row| row.music_id))
    .bind::<Array<Nullable<BigInt>>, _>(column(rows, |row| row.file_in))
    .bind::<Array<Nullable<BigInt>>, _>(column(rows, |row| row.file_out))
    .execute(conn)
    .await
    .map(drop)
}

/// Names of people who imported cuts.
pub async fn names_of_users(conn: &mut Conn, ids: &[Uuid]) -> QueryResult<HashMap<Uuid, String>> {
    let rows: Vec<(Uuid, String)> = users::table
        .filter(users::id.eq_any(ids))
        .select((users::id, users::name))
        .load(conn)
        .await?;
    Ok(rows.into_iter().collect())
}
