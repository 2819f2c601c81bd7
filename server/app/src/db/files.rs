//! Files: one row per content, found by its words and by what is known of it.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::dsl::sql;
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::sql_types::{
    Array, BigInt, Bool, Date, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use serde_json::Value;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::logged::Logged;

use super::Conn;
use super::schema::files;
use crate::text_enum;

/// Text as it is searched: lower case, without accents, one blank for any run of blanks and slashes.
pub fn fold(text: &str) -> String {
    let plain: String = text
        .nfkd()
        .filter(|c| !is_combining_mark(*c))
        .flat_map(char::to_lowercase)
        .map(|c| {
            if c == '/' || c.is_whitespace() {
                ' '
            } else {
                c
            }
        })
        .collect();
    plain
        .split(' ')
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// What a cut calls a clip: the name without its extension, lower case.
pub fn stem(name: &str) -> String {
    let stem = match name.rsplit_once('.') {
        Some((stem, extension)) if !stem.is_empty() && extension.len() <= 5 => stem,
        _ => name,
    };
    stem.to_lowercase()
}

/// What files are asked for.
#[derive(Clone, Debug, Default)]
pub struct Filter {
    /// Folded words, each of which is part of the file's words.
    pub words: Vec<String>,
    pub card: Option<Uuid>,
    pub drive: Option<Uuid>,
    pub day: Option<Uuid>,
    pub logged: Option<Logged>,
    pub person: Option<Uuid>,
    pub place: Option<Uuid>,
    pub asset: Option<Uuid>,
    pub music: Option<Uuid>,
    pub kind: Option<FileKind>,
}

text_enum! {
    /// What a file holds.
    pub enum FileKind { Picture = "picture", Sound = "sound", Other = "other" }
}

type Ids<'a> = files::BoxedQuery<'a, Pg, SqlUuid>;

/// Ids of the files that fit, by name, after the file `after`, at most `limit`.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn search(
    conn: &mut Conn,
    series: Uuid,
    filter: &Filter,
    after: Option<Uuid>,
    limit: i64,
) -> QueryResult<Vec<Uuid>> {
    let mut query = by_log(fitting(series, filter), filter);
    if let Some(after) = after {
        query = query.filter(
            sql::<Bool>("(files.name, files.id) > (select a.name, a.id from files a where a.id = ")
                .bind::<SqlUuid, _>(after)
                .sql(" and a.series_id = ")
                .bind::<SqlUuid, _>(series)
                .sql(")"),
        );
    }
    query
        .order((files::name, files::id))
        .limit(limit)
        .load(conn)
        .await
}

/// By what the file is and where it lies.
fn fitting(series: Uuid, filter: &Filter) -> Ids<'_> {
    let mut query = files::table
        .filter(files::series_id.eq(series))
        .select(files::id)
        .into_boxed::<Pg>();
    for word in &filter.words {
        query = query.filter(files::folded.like(super::record::like(word)));
    }
    if let Some(card) = filter.card {
        query = query.filter(files::card_id.eq(card));
    }
    if let Some(kind) = filter.kind {
        query = query.filter(files::kind.eq(kind.word()));
    }
    if let Some(drive) = filter.drive {
        query = query.filter(
            sql::<Bool>(
                "exists (select 1 from copies c where c.file_id = files.id and c.state <> 'changed' and c.drive_id = ",
            )
            .bind::<SqlUuid, _>(drive)
            .sql(")"),
        );
    }
    if let Some(day) = filter.day {
        query = query.filter(
            sql::<Bool>(
                "files.card_id in (select k.id from cards k, shoot_days d where k.series_id = d.series_id \
                 and k.deleted_at is null \
                 and (k.shoot_day_id = d.id or (k.shoot_day_id is null and k.shot_on = d.day)) and d.id = ",
            )
            .bind::<SqlUuid, _>(day)
            .sql(")"),
        );
    }
    query
}

/// By what was logged of the file.
fn by_log<'a>(mut query: Ids<'a>, filter: &Filter) -> Ids<'a> {
    const LIVE: &str =
        "select 1 from log_entries l where l.file_id = files.id and l.deleted_at is null";
    for (column, id) in [
        (" and l.person_id = ", filter.person),
        (" and l.place_id = ", filter.place),
        (" and l.asset_id = ", filter.asset),
        (" and l.music_id = ", filter.music),
    ] {
        if let Some(id) = id {
            query = query.filter(
                sql::<Bool>("exists (")
                    .sql(LIVE)
                    .sql(column)
                    .bind::<SqlUuid, _>(id)
                    .sql(")"),
            );
        }
    }
    match filter.logged {
        None => query,
        Some(Logged::No) => query.filter(sql::<Bool>("not exists (").sql(LIVE).sql(")")),
        Some(Logged::Yes) => query.filter(sql::<Bool>(WHOLE)),
        Some(Logged::Partly) => query.filter(
            sql::<Bool>("exists (")
                .sql(LIVE)
                .sql(") and not ")
                .sql(WHOLE),
        ),
    }
}

/// Whether the whole file is logged: `domain::footage::logged::of_file`, in SQL. A test holds the two together.
const WHOLE: &str = "coalesce((select bool_or(l.frame_in is null) or (files.frame_count is not null and \
     range_agg(int8range(l.frame_in, l.frame_out)) filter (where l.frame_in is not null) \
         @> int8range(0, files.frame_count)) \
     from log_entries l where l.file_id = files.id and l.deleted_at is null), false)";

/// Where a content lies.
#[derive(Clone, Debug, Serialize, ToSchema, QueryableByName)]
pub struct FileCopy {
    #[diesel(sql_type = SqlUuid)]
    #[serde(skip)]
    pub file_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub drive_id: Uuid,
    /// Label of the drive.
    #[diesel(sql_type = Text)]
    pub drive: String,
    /// Where the drive is.
    #[diesel(sql_type = Text)]
    pub place: String,
    #[diesel(sql_type = Text)]
    pub holder: String,
    /// How the drive is.
    #[diesel(sql_type = Text)]
    pub drive_status: String,
    /// Path on the drive, the scanned folder first.
    #[diesel(sql_type = Text)]
    pub path: String,
    /// verified, changed, missing or unreadable.
    #[diesel(sql_type = Text)]
    pub state: String,
    /// When the content was last read there.
    #[diesel(sql_type = Timestamptz)]
    pub checked_at: DateTime<Utc>,
}

/// Copies of these files on live drives, verified ones first.
pub async fn copies(conn: &mut Conn, series: Uuid, ids: &[Uuid]) -> QueryResult<Vec<FileCopy>> {
    diesel::sql_query(
        "select c.file_id, c.drive_id, d.label as drive, d.place, d.holder, d.status as drive_status, c.path, c.state, \
             c.checked_at \
         from copies c join drives d on d.id = c.drive_id and d.deleted_at is null \
         where c.series_id = $1 and c.file_id = any($2) \
         order by (c.state = 'verified') desc, lower(d.label), c.path, c.id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)
    .await
}

/// A file as the catalogue has it.
#[derive(Clone, Debug, QueryableByName)]
pub struct FileRow {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = Text)]
    pub kind: FileKind,
    #[diesel(sql_type = BigInt)]
    pub size: i64,
    #[diesel(sql_type = Jsonb)]
    pub hashes: Value,
    #[diesel(sql_type = Nullable<Jsonb>)]
    pub facts: Option<Value>,
    #[diesel(sql_type = Text)]
    pub reel: String,
    #[diesel(sql_type = Nullable<Integer>)]
    pub rate_num: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub rate_den: Option<i32>,
    #[diesel(sql_type = Nullable<Bool>)]
    pub drop_frame: Option<bool>,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub start_frame: Option<i64>,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub frame_count: Option<i64>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub card_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    pub card: Option<String>,
    #[diesel(sql_type = Nullable<Date>)]
    pub shot_on: Option<NaiveDate>,
    #[diesel(sql_type = Timestamptz)]
    pub created_at: DateTime<Utc>,
}

/// These files of the series, by name.
pub async fn load(conn: &mut Conn, series: Uuid, ids: &[Uuid]) -> QueryResult<Vec<FileRow>> {
    diesel::sql_query(
        "select f.id, f.name, f.kind, f.size, f.hashes, f.facts, f.reel, f.rate_num, f.rate_den, f.drop_frame, \
             f.start_frame, f.frame_count, k.id as card_id, k.name as card, k.shot_on, f.created_at \
         from files f left join cards k on k.id = f.card_id and k.deleted_at is null \
         where f.series_id = $1 and f.id = any($2) order by f.name, f.id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)
    .await
}

/// A cut that uses a file.
#[derive(Clone, Debug, Serialize, ToSchema, QueryableByName)]
pub struct FileUse {
    #[diesel(sql_type = SqlUuid)]
    pub cut_id: Uuid,
    #[diesel(sql_type = Text)]
    pub cut: String,
    #[diesel(sql_type = SqlUuid)]
    pub episode_id: Uuid,
    #[diesel(sql_type = Text)]
    pub episode: String,
    /// Events of the cut that use it.
    #[diesel(sql_type = BigInt)]
    pub events: i64,
}

/// Live cuts that use a file, the newest first.
pub async fn uses(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Vec<FileUse>> {
    diesel::sql_query(
        "select c.id as cut_id, c.name as cut, e.id as episode_id, e.title as episode, count(*) as events \
         from cut_events v join cuts c on c.id = v.cut_id and c.deleted_at is null \
         join episodes e on e.id = c.episode_id and e.deleted_at is null \
         where v.series_id = $1 and v.file_id = $2 group by c.id, e.id order by c.created_at desc, c.id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<SqlUuid, _>(id)
    .load(conn)
    .await
}
