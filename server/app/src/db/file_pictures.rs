//! Still pictures of clips: which file has which, by the hash under which the file store keeps it.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{
    Array, BigInt, Bool, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::statement::statement;
use crate::text_enum;

text_enum! {
    /// A single picture of a clip, or several of its length on one sheet.
    pub enum PictureKind { Poster = "poster", ContactSheet = "contact_sheet" }
}

/// A picture of a file.
#[derive(Clone, Debug)]
pub struct FilePicture {
    pub file_id: Uuid,
    pub kind: PictureKind,
    pub series_id: Uuid,
    /// SHA-256 of the picture, hex.
    pub sha256: String,
    /// Bytes.
    pub size: i32,
    pub created_at: DateTime<Utc>,
}

/// Adds a picture; false when the file has one of that kind already.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn add(conn: &mut Conn, picture: &FilePicture) -> QueryResult<bool> {
    diesel::sql_query(
        "insert into file_pictures (file_id, kind, series_id, sha256, size, created_at) \
         values ($1, $2, $3, $4, $5, $6) on conflict (file_id, kind) do nothing",
    )
    .bind::<SqlUuid, _>(picture.file_id)
    .bind::<Text, _>(picture.kind)
    .bind::<SqlUuid, _>(picture.series_id)
    .bind::<Text, _>(&picture.sha256)
    .bind::<Integer, _>(picture.size)
    .bind::<Timestamptz, _>(picture.created_at)
    .execute(conn)
    .await
    .map(|rows| rows > 0)
}

#[derive(QueryableByName)]
struct Name {
    #[diesel(sql_type = Nullable<Text>)]
    name: Option<String>,
}

/// The name of a file of the series.
pub async fn name_of(conn: &mut Conn, series: Uuid, file: Uuid) -> QueryResult<Option<String>> {
    let found: Option<Name> =
        diesel::sql_query("select name from files where series_id = $1 and id = $2")
            .bind::<SqlUuid, _>(series)
            .bind::<SqlUuid, _>(file)
            .get_result(conn)
            .await
            .optional()?;
    Ok(found.and_then(|found| found.name))
}

/// The name of a file of the series that has this picture.
pub async fn file_with(conn: &mut Conn, series: Uuid, sha256: &str) -> QueryResult<Option<String>> {
    let found: Name = diesel::sql_query(
        "select min(f.name) as name from file_pictures p join files f on f.id = p.file_id \
         where p.series_id = $1 and p.sha256 = $2",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Text, _>(sha256)
    .get_result(conn)
    .await?;
    Ok(found.name)
}

/// The pictures that files have.
#[derive(Clone, Debug, QueryableByName)]
pub struct PictureOf {
    #[diesel(sql_type = SqlUuid)]
    pub file_id: Uuid,
    #[diesel(sql_type = Text)]
    pub kind: PictureKind,
    #[diesel(sql_type = Text)]
    pub sha256: String,
}

/// The pictures of these files.
pub async fn of_files(conn: &Conn, series: Uuid, files: &[Uuid]) -> QueryResult<Vec<PictureOf>> {
    statement(
        "select file_id, kind, sha256 from file_pictures where file_id = any($2) and series_id = $1",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(files)
    .load(&mut &*conn)
    .await
}

/// A file that has not every picture.
#[derive(Clone, Debug, Serialize, ToSchema, QueryableByName)]
pub struct UnpicturedFile {
    /// Place among the contents that were asked about, from 0.
    #[diesel(sql_type = BigInt)]
    pub at: i64,
    #[diesel(sql_type = SqlUuid)]
    pub file_id: Uuid,
    #[diesel(sql_type = Bool)]
    pub lacks_poster: bool,
    #[diesel(sql_type = Bool)]
    pub lacks_contact_sheet: bool,
}

/// Which of these contents (xxh128, size) are files of the series that lack a picture.
pub async fn lacking(
    conn: &mut Conn,
    series: Uuid,
    (hashes, sizes): (&[String], &[i64]),
) -> QueryResult<Vec<UnpicturedFile>> {
    diesel::sql_query(
        "select u.at - 1 as at, f.id as file_id, not p.poster as lacks_poster, \
             not p.contact_sheet as lacks_contact_sheet \
         from unnest($2::text[], $3::int8[]) with ordinality as u (xxh128, size, at) \
         join files f on f.series_id = $1 and f.xxh128 = u.xxh128 and f.size = u.size \
         cross join lateral (select coalesce(bool_or(kind = 'poster'), false) as poster, \
             coalesce(bool_or(kind = 'contact_sheet'), false) as contact_sheet \
             from file_pictures where file_id = f.id) p \
         where not (p.poster and p.contact_sheet) order by u.at",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(hashes)
    .bind::<Array<BigInt>, _>(sizes)
    .load(conn)
    .await
}
