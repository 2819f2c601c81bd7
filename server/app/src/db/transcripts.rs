//! Transcripts: what is said in a file, line by line, with its times.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::words::fold;
use waybill_domain::spoken::Spoken;

use super::Conn;
use super::record::like;
use super::schema::transcripts;

/// A transcript of a file.
#[derive(Clone, Debug, Serialize, ToSchema, Queryable, Selectable)]
#[diesel(table_name = transcripts)]
pub struct Transcript {
    pub id: Uuid,
    #[serde(skip)]
    pub series_id: Uuid,
    pub file_id: Uuid,
    /// Of the uploaded file.
    pub name: String,
    /// BCP 47; empty when nobody said.
    pub language: String,
    /// Lines with times.
    pub lines: i32,
    pub brought_by_name: String,
    pub created_at: DateTime<Utc>,
}

/// Who brings a transcript in, of what, and when.
#[derive(Clone, Debug)]
pub struct Brought<'a> {
    pub series: Uuid,
    pub file: Uuid,
    pub name: &'a str,
    pub language: &'a str,
    pub by: (Uuid, &'a str),
    pub at: DateTime<Utc>,
}

/// Keeps a transcript with all its lines.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn insert(
    conn: &mut Conn,
    brought: &Brought<'_>,
    spoken: &[Spoken],
) -> QueryResult<Transcript> {
    let id = Uuid::now_v7();
    diesel::sql_query(
        "insert into transcripts (id, series_id, file_id, name, language, lines, brought_by, brought_by_name, created_at) \
         values ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
    )
    .bind::<SqlUuid, _>(id)
    .bind::<SqlUuid, _>(brought.series)
    .bind::<SqlUuid, _>(brought.file)
    .bind::<Text, _>(brought.name)
    .bind::<Text, _>(brought.language)
    .bind::<Integer, _>(i32::try_from(spoken.len()).unwrap_or(i32::MAX))
    .bind::<SqlUuid, _>(brought.by.0)
    .bind::<Text, _>(brought.by.1)
    .bind::<Timestamptz, _>(brought.at)
    .execute(conn)
    .await?;
    let words = |one: &Spoken| fold(&format!("{} {}", one.speaker, one.text));
    diesel::sql_query(
        "insert into transcript_lines (transcript_id, position, series_id, file_id, start_ms, end_ms, speaker, text, words) \
         select $1, u.at, $2, $3, u.start_ms, u.end_ms, u.speaker, u.text, u.words \
         from unnest($4::int8[], $5::int8[], $6::text[], $7::text[], $8::text[]) with ordinality \
             u (start_ms, end_ms, speaker, text, words, at)",
    )
    .bind::<SqlUuid, _>(id)
    .bind::<SqlUuid, _>(brought.series)
    .bind::<SqlUuid, _>(brought.file)
    .bind::<Array<BigInt>, _>(spoken.iter().map(|one| one.start).collect::<Vec<_>>())
    .bind::<Array<BigInt>, _>(spoken.iter().map(|one| one.end).collect::<Vec<_>>())
    .bind::<Array<Text>, _>(spoken.iter().map(|one| one.speaker.as_str()).collect::<Vec<_>>())
    .bind::<Array<Text>, _>(spoken.iter().map(|one| one.text.as_str()).collect::<Vec<_>>())
    .bind::<Array<Text>, _>(spoken.iter().map(words).collect::<Vec<_>>())
    .execute(conn)
    .await?;
    transcripts::table
        .find(id)
        .select(Transcript::as_select())
        .first(conn)
        .await
}

/// Transcripts of a file, the oldest first.
pub async fn of_file(conn: &mut Conn, series: Uuid, file: Uuid) -> QueryResult<Vec<Transcript>> {
    transcripts::table
        .filter(transcripts::series_id.eq(series))
        .filter(transcripts::file_id.eq(file))
        .order(transcripts::id)
        .select(Transcript::as_select())
        .load(conn)
        .await
}

/// Takes a transcript away with its lines; what it was.
pub async fn delete(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<Transcript>> {
    diesel::delete(
        transcripts::table
            .find(id)
            .filter(transcripts::series_id.eq(series)),
    )
    .returning(Transcript::as_returning())
    .get_result(conn)
    .await
    .optional()
}

/// A line that was said.
#[derive(Clone, Debug, QueryableByName)]
pub struct SaidLine {
    #[diesel(sql_type = SqlUuid)]
    pub file_id: Uuid,
    #[diesel(sql_type = BigInt)]
    pub start_ms: i64,
    #[diesel(sql_type = BigInt)]
    pub end_ms: i64,
    #[diesel(sql_type = Text)]
    pub speaker: String,
    #[diesel(sql_type = Text)]
    pub text: String,
}

/// The first lines of each of these files in which all these folded words were said; no words: all lines.
pub async fn said(
    conn: &mut Conn,
    series: Uuid,
    files: &[Uuid],
    words: &[String],
    each: i64,
) -> QueryResult<Vec<SaidLine>> {
    let patterns: Vec<String> = words.iter().map(|word| like(word)).collect();
    diesel::sql_query(
        "select l.file_id, l.start_ms, l.end_ms, l.speaker, l.text from unnest($2::uuid[]) f (id) \
         cross join lateral (select * from transcript_lines t where t.series_id = $1 and t.file_id = f.id \
             and ($3::text[] is null or t.words like all($3)) order by t.start_ms, t.position limit $4) l \
         order by l.file_id, l.start_ms",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(files)
    .bind::<Nullable<Array<Text>>, _>((!patterns.is_empty()).then_some(patterns))
    .bind::<BigInt, _>(each)
    .load(conn)
    .await
}
