//! Transcripts: what is said in a file, line by line, with its times.

use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::words::fold;
use waybill_domain::spoken::Spoken;

use super::Conn;
use super::record::{Fields, like};
use super::schema::transcripts;
use crate::error::FieldError;
use crate::ops::check;
use crate::record_table;

/// A transcript of a file.
#[derive(Clone, Debug, Serialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = transcripts, treat_none_as_null = true)]
pub struct TranscriptFields {
    pub file_id: Uuid,
    /// Of the uploaded file.
    pub name: String,
    /// BCP 47; empty when nobody said.
    pub language: String,
    /// Lines with times.
    pub lines: i32,
    #[serde(skip)]
    pub brought_by: Option<Uuid>,
    pub brought_by_name: String,
}

impl Fields for TranscriptFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/name", &self.name, 200);
        check::text(&mut faults, "/language", &self.language, 35);
        faults
    }
}

record_table! {
    /// A transcript.
    pub struct Transcript { fields: TranscriptFields }
    table: transcripts, kind: "transcript", name: "The transcript",
    search: [name],
    used_by: &[],
}

/// Keeps the lines of a transcript.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn insert_lines(conn: &mut Conn, of: &Transcript, spoken: &[Spoken]) -> QueryResult<()> {
    let words = |one: &Spoken| fold(&format!("{} {}", one.speaker, one.text));
    diesel::sql_query(
        "insert into transcript_lines (transcript_id, position, series_id, file_id, start_ms, end_ms, speaker, text, words) \
         select $1, u.at, $2, $3, u.start_ms, u.end_ms, u.speaker, u.text, u.words \
         from unnest($4::int8[], $5::int8[], $6::text[], $7::text[], $8::text[]) with ordinality \
             u (start_ms, end_ms, speaker, text, words, at)",
    )
    .bind::<SqlUuid, _>(of.id)
    .bind::<SqlUuid, _>(of.series_id)
    .bind::<SqlUuid, _>(of.fields.file_id)
    .bind::<Array<BigInt>, _>(spoken.iter().map(|one| one.start).collect::<Vec<_>>())
    .bind::<Array<BigInt>, _>(spoken.iter().map(|one| one.end).collect::<Vec<_>>())
    .bind::<Array<Text>, _>(spoken.iter().map(|one| one.speaker.as_str()).collect::<Vec<_>>())
    .bind::<Array<Text>, _>(spoken.iter().map(|one| one.text.as_str()).collect::<Vec<_>>())
    .bind::<Array<Text>, _>(spoken.iter().map(words).collect::<Vec<_>>())
    .execute(conn)
    .await
    .map(drop)
}

/// Live transcripts of a file, the oldest first.
pub async fn of_file(conn: &mut Conn, series: Uuid, file: Uuid) -> QueryResult<Vec<Transcript>> {
    transcripts::table
        .filter(transcripts::series_id.eq(series))
        .filter(transcripts::file_id.eq(file))
        .filter(transcripts::deleted_at.is_null())
        .order(transcripts::id)
        .select(Transcript::as_select())
        .load(conn)
        .await
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
         cross join lateral (select t.* from transcript_lines t join transcripts r on r.id = t.transcript_id \
             where t.series_id = $1 and t.file_id = f.id and r.deleted_at is null \
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
