//! What the clearance of a cut is worked out from, read in a constant number of queries: the used files with their logs,
//! everybody and everything in them, and the papers behind those.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Date, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::cut_uses::{Content, Contents};

use super::assets::Asset;
use super::episodes::Episode;
use super::licences::{Licence, LicenceState};
use super::music::Music;
use super::people::Person;
use super::places::Place;
use super::releases::Release;
use super::scenes::Scene;
use super::schema::{assets, licences, log_entries, music, people, places, releases, scenes};
use super::specifications::Specification;
use super::{Conn, Json};

/// A file that a cut uses.
#[derive(Clone, Debug, QueryableByName)]
pub struct FileRow {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub frame_count: Option<i64>,
    /// Day of its shoot day, else of its card.
    #[diesel(sql_type = Nullable<Date>)]
    pub filmed_on: Option<NaiveDate>,
    /// Places of its shoot day.
    #[diesel(sql_type = Array<SqlUuid>)]
    pub place_ids: Vec<Uuid>,
}

/// A live entry of the in-shot log.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = log_entries)]
pub struct LogRow {
    pub file_id: Uuid,
    pub frame_in: Option<i64>,
    pub frame_out: Option<i64>,
    pub person_id: Option<Uuid>,
    pub place_id: Option<Uuid>,
    pub asset_id: Option<Uuid>,
    pub music_id: Option<Uuid>,
    /// Words of the domain's `Presence` and `Face`.
    pub presence: String,
    pub face: String,
    pub named_on_screen: bool,
    pub voice_changed: bool,
}

/// Everybody and everything in a cut, by id.
#[derive(Debug, Default)]
pub struct Records {
    pub people: HashMap<Uuid, Person>,
    pub places: HashMap<Uuid, Place>,
    pub assets: HashMap<Uuid, Asset>,
    pub music: HashMap<Uuid, Music>,
    /// Recordings that hold the works of other recordings among the music.
    pub works: HashMap<Uuid, Music>,
    /// Live ones about any of these.
    pub releases: Vec<Release>,
    /// Live ones about any of these that were not replaced.
    pub licences: Vec<Licence>,
}

/// Ids of what is looked up.
#[derive(Debug, Default)]
pub struct Ids {
    pub people: Vec<Uuid>,
    pub places: Vec<Uuid>,
    pub assets: Vec<Uuid>,
    pub music: Vec<Uuid>,
}

/// What the deliverables of an episode say about one specification.
#[derive(Clone, Copy, Debug, QueryableByName)]
pub struct Owed {
    /// The first that is not done yet.
    #[diesel(sql_type = Nullable<Date>)]
    pub due: Option<NaiveDate>,
    /// Whether clean covers of texted or blurred shots are among them.
    #[diesel(sql_type = Bool)]
    pub clean_covers: bool,
}

/// Files by id.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn files(conn: &mut Conn, series: Uuid, ids: &[Uuid]) -> QueryResult<Vec<FileRow>> {
    diesel::sql_query(
        "select f.id, f.name, f.frame_count, coalesce(d.day, c.shot_on) as filmed_on, \
           coalesce(d.place_ids, '{}') as place_ids \
         from files f left join cards c on c.id = f.card_id left join shoot_days d on d.id = c.shoot_day_id \
         where f.series_id = $1 and f.id = any($2)",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)
    .await
}

/// Live entries of the log of these files.
pub async fn log(conn: &mut Conn, files: &[Uuid]) -> QueryResult<Vec<LogRow>> {
    log_entries::table
        .filter(log_entries::file_id.eq_any(files))
        .filter(log_entries::deleted_at.is_null())
        .order(log_entries::id)
        .select(LogRow::as_select())
        .load(conn)
        .await
}

/// Records by id, with the papers behind them. Records in the bin are found too: a cut may still use them. One is read
/// while the database looks for the next.
pub async fn records(conn: &Conn, series: Uuid, ids: &Ids) -> QueryResult<Records> {
    /// Rows of a table of the series, by id.
    macro_rules! by_id {
        ($table:ident, $row:ty, $ids:expr) => {
            async {
                let found: Vec<$row> = $table::table
                    .filter($table::series_id.eq(series))
                    .filter($table::id.eq_any($ids))
                    .select(<$row>::as_select())
                    .load(&mut &*conn)
                    .await?;
                Ok(found.into_iter().map(|one| (one.id, one)).collect())
            }
        };
    }
    let (people, places, assets, music, releases, licences) = tokio::try_join!(
        by_id!(people, Person, &ids.people),
        by_id!(places, Place, &ids.places),
        by_id!(assets, Asset, &ids.assets),
        by_id!(music, Music, &ids.music),
        releases_of(conn, series, ids),
        licences_of(conn, series, ids),
    )?;
    let works = works_of(conn, series, &music).await?;
    Ok(Records {
        people,
        places,
        assets,
        music,
        works,
        releases,
        licences,
    })
}

/// Recordings that hold the works of other recordings.
async fn works_of(
    conn: &Conn,
    series: Uuid,
    pieces: &HashMap<Uuid, Music>,
) -> QueryResult<HashMap<Uuid, Music>> {
    let ids: Vec<Uuid> = (pieces.values())
        .filter_map(|piece| piece.fields.same_work_id)
        .collect();
    if ids.is_empty() {
        return Ok(HashMap::new());
    }
    let works: Vec<Music> = music::table
        .filter(music::series_id.eq(series))
        .filter(music::id.eq_any(&ids))
        .select(Music::as_select())
        .load(&mut &*conn)
        .await?;
    Ok(works.into_iter().map(|work| (work.id, work)).collect())
}

async fn releases_of(conn: &Conn, series: Uuid, ids: &Ids) -> QueryResult<Vec<Release>> {
    releases::table
        .filter(releases::series_id.eq(series))
        .filter(releases::deleted_at.is_null())
        .filter(
            (releases::person_id.eq_any(&ids.people))
                .or(releases::place_id.eq_any(&ids.places))
                .or(releases::asset_id.eq_any(&ids.assets))
                // A notice may stand for people of whom nobody logged the place.
                .or(releases::kind.eq("crowd_notice")),
        )
        .order(releases::id)
        .select(Release::as_select())
        .load(&mut &*conn)
        .await
}

async fn licences_of(conn: &Conn, series: Uuid, ids: &Ids) -> QueryResult<Vec<Licence>> {
    licences::table
        .filter(licences::series_id.eq(series))
        .filter(licences::deleted_at.is_null())
        .filter(licences::status.ne(LicenceState::Replaced))
        .filter((licences::asset_id.eq_any(&ids.assets)).or(licences::music_id.eq_any(&ids.music)))
        .order(licences::id)
        .select(Licence::as_select())
        .load(&mut &*conn)
        .await
}

#[derive(QueryableByName)]
struct Included {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Date)]
    day: NaiveDate,
}

/// The first day on which each import and each piece of music stood in a cut of the episode, deleted cuts too (R52).
pub async fn included(
    conn: &mut Conn,
    series: Uuid,
    episode: Uuid,
) -> QueryResult<HashMap<Uuid, NaiveDate>> {
    let rows: Vec<Included> = diesel::sql_query(
        "select coalesce(e.asset_id, e.music_id) as id, \
           min(coalesce(c.cut_date, (c.created_at at time zone 'UTC')::date)) as day \
         from cut_events e join cuts c on c.id = e.cut_id \
         where c.series_id = $1 and c.episode_id = $2 and coalesce(e.asset_id, e.music_id) is not null group by 1",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<SqlUuid, _>(episode)
    .load(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.id, row.day)).collect())
}

/// What is inside each import of a series.
pub async fn contents(conn: &mut Conn, series: Uuid) -> QueryResult<Contents> {
    let rows: Vec<(Uuid, Json<Vec<Content>>)> = assets::table
        .filter(assets::series_id.eq(series))
        .filter(assets::contents.ne(serde_json::json!([])))
        .select((assets::id, assets::contents))
        .load(conn)
        .await?;
    Ok(rows
        .into_iter()
        .map(|(id, inside)| (id, inside.0))
        .collect())
}

#[derive(QueryableByName)]
struct LastChange {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = Text)]
    actor_name: String,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
}

/// Who changed each of these records last, and when.
pub async fn last_changes(
    conn: &mut Conn,
    ids: &[Uuid],
) -> QueryResult<HashMap<Uuid, (String, DateTime<Utc>)>> {
    let rows: Vec<LastChange> = diesel::sql_query(
        "select distinct on (subject_id) subject_id, actor_name, at from audit where subject_id = any($1) \
         order by subject_id, id desc",
    )
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| (row.subject_id, (row.actor_name, row.at)))
        .collect())
}

/// A live episode with its dates.
pub async fn episode(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<Episode>> {
    use super::schema::episodes;
    episodes::table
        .filter(episodes::id.eq(id))
        .filter(episodes::series_id.eq(series))
        .filter(episodes::deleted_at.is_null())
        .select(Episode::as_select())
        .first(conn)
        .await
        .optional()
}

/// A live specification: the one asked for, else the one that the episode owes first, else the oldest.
pub async fn specification(
    conn: &mut Conn,
    series: Uuid,
    episode: Uuid,
    asked: Option<Uuid>,
) -> QueryResult<Option<Specification>> {
    use super::schema::{deliverables, specifications};
    let live = specifications::table
        .filter(specifications::series_id.eq(series))
        .filter(specifications::deleted_at.is_null());
    if let Some(id) = asked {
        let one = live.filter(specifications::id.eq(id));
        let query = one.select(Specification::as_select());
        return query.first(conn).await.optional();
    }
    let owed = live
        .inner_join(
            deliverables::table
                .on(deliverables::specification_id.eq(specifications::id.nullable())),
        )
        .filter(deliverables::episode_id.eq(episode))
        .filter(deliverables::deleted_at.is_null())
        .order((
            deliverables::due_on.asc().nulls_last(),
            specifications::id.asc(),
        ))
        .select(Specification::as_select())
        .first(conn)
        .await
        .optional()?;
    if owed.is_some() {
        return Ok(owed);
    }
    live.order(specifications::id)
        .select(Specification::as_select())
        .first(conn)
        .await
        .optional()
}

/// When an episode is due under a specification, and whether clean covers are asked for.
pub async fn owed(conn: &mut Conn, episode: Uuid, specification: Uuid) -> QueryResult<Owed> {
    diesel::sql_query(
        "select min(due_on) filter (where status not in ('sent', 'accepted', 'waived')) as due, \
           coalesce(bool_or(item ~* 'textless|clean (cover|version)' and status <> 'waived'), false) as clean_covers \
         from deliverables where episode_id = $1 and specification_id = $2 and deleted_at is null",
    )
    .bind::<SqlUuid, _>(episode)
    .bind::<SqlUuid, _>(specification)
    .get_result(conn)
    .await
}

/// Live scenes of an episode in their order.
pub async fn scenes(conn: &mut Conn, episode: Uuid) -> QueryResult<Vec<Scene>> {
    scenes::table
        .filter(scenes::episode_id.eq(episode))
        .filter(scenes::deleted_at.is_null())
        .order((scenes::position, scenes::id))
        .select(Scene::as_select())
        .load(conn)
        .await
}

/// Size in bytes of the file that a cut came in.
pub async fn source_size(conn: &mut Conn, cut: Uuid) -> QueryResult<i32> {
    use super::schema::cuts;
    cuts::table
        .find(cut)
        .select(diesel::dsl::sql::<diesel::sql_types::Integer>(
            "octet_length(source)",
        ))
        .first(conn)
        .await
}
