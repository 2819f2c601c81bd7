//! Files: one row per content, with its copies and uses. They are found by `finding`.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{
    Array, BigInt, Bool, Date, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::clocks::Clock;
use super::statement::statement;
use crate::text_enum;

/// What a cut calls a clip: the name without its extension, lower case.
pub fn stem(name: &str) -> String {
    let stem = match name.rsplit_once('.') {
        Some((stem, extension)) if !stem.is_empty() && extension.len() <= 5 => stem,
        _ => name,
    };
    stem.to_lowercase()
}

text_enum! {
    /// What a file holds.
    pub enum FileKind { Picture = "picture", Sound = "sound", Other = "other" }
}

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
    /// To look it up by: the same, with the drive's label in front where the scanned folder is not called so.
    #[diesel(sql_type = Text)]
    pub full_path: String,
    /// verified, changed, missing or unreadable.
    #[diesel(sql_type = Text)]
    pub state: String,
    /// When the content was last read there.
    #[diesel(sql_type = Timestamptz)]
    pub checked_at: DateTime<Utc>,
}

/// Copies of these files on live drives, verified ones first.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn copies(conn: &Conn, series: Uuid, ids: &[Uuid]) -> QueryResult<Vec<FileCopy>> {
    statement(
        "select c.file_id, c.drive_id, d.label as drive, d.place, d.holder, d.status as drive_status, c.path, \
             case when starts_with(lower(c.path), lower(d.label) || '/') then c.path \
                 else d.label || '/' || c.path end as full_path, \
             c.state, c.checked_at \
         from copies c join drives d on d.id = c.drive_id and d.deleted_at is null \
         where c.series_id = $1 and c.file_id = any($2) \
         order by (c.state = 'verified') desc, lower(d.label), c.path, c.id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(&mut &*conn)
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

impl FileRow {
    /// How its frames are counted and written.
    pub fn clock(&self) -> Clock {
        Clock {
            id: self.id,
            name: self.name.clone(),
            rate_num: self.rate_num,
            rate_den: self.rate_den,
            drop_frame: self.drop_frame,
            start_frame: self.start_frame,
            frame_count: self.frame_count,
        }
    }
}

/// These files of the series, in this order.
pub async fn load(conn: &Conn, series: Uuid, ids: &[Uuid]) -> QueryResult<Vec<FileRow>> {
    statement(
        "select f.id, f.name, f.kind, f.size, f.hashes, f.facts, f.reel, f.rate_num, f.rate_den, f.drop_frame, \
             f.start_frame, f.frame_count, k.id as card_id, k.name as card, k.shot_on, f.created_at \
         from unnest($2::uuid[]) with ordinality u (id, at) join files f on f.id = u.id and f.series_id = $1 \
         left join cards k on k.id = f.card_id and k.deleted_at is null order by u.at",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(&mut &*conn)
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
    statement(
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
