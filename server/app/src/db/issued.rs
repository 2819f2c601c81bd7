//! Papers as they were sent to a broadcaster, and the heads of issued cue sheets beside them.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::schema::issued_papers;
use crate::text_enum;

text_enum! {
    /// What kind of paper was sent.
    pub enum IssuedKind {
        Report = "report", ThirdParty = "third_party", Credits = "credits", Checklist = "checklist",
        ChainOfTitle = "chain_of_title",
    }
}

text_enum! {
    /// In which form.
    pub enum IssuedForm { Pdf = "pdf", Xlsx = "xlsx", Csv = "csv" }
}

/// An issued paper without its file.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = issued_papers)]
pub struct IssuedHead {
    pub id: Uuid,
    pub series_id: Uuid,
    pub episode_id: Uuid,
    pub kind: IssuedKind,
    pub form: IssuedForm,
    pub cut_name: String,
    /// What it was measured against.
    pub specification: String,
    pub file_name: String,
    /// What was said with it.
    pub note: String,
    pub sha256: String,
    pub issued_by_name: String,
    pub issued_at: DateTime<Utc>,
    /// Sent in error; the receiver no longer sees it.
    #[schema(required)]
    pub taken_back_at: Option<DateTime<Utc>>,
    pub taken_back_by: String,
    /// For which broadcaster; empty: its specification named none.
    pub broadcaster: String,
}

/// A paper to be kept as it is sent.
#[derive(Insertable)]
#[diesel(table_name = issued_papers)]
pub struct NewIssuedPaper {
    pub id: Uuid,
    pub series_id: Uuid,
    pub episode_id: Uuid,
    pub kind: IssuedKind,
    pub form: IssuedForm,
    pub cut_name: String,
    pub specification: String,
    pub file_name: String,
    pub note: String,
    pub bytes: Vec<u8>,
    pub sha256: String,
    pub issued_by: Uuid,
    pub issued_by_name: String,
    pub issued_at: DateTime<Utc>,
    pub broadcaster: String,
}

/// Keeps a paper.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn keep(conn: &mut Conn, paper: NewIssuedPaper) -> QueryResult<IssuedHead> {
    diesel::insert_into(issued_papers::table)
        .values(paper)
        .returning(IssuedHead::as_returning())
        .get_result(conn)
        .await
}

/// The issued papers of a series, the newest first.
pub async fn heads(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<IssuedHead>> {
    issued_papers::table
        .filter(issued_papers::series_id.eq(series))
        .order((issued_papers::issued_at.desc(), issued_papers::id.desc()))
        .limit(2000)
        .select(IssuedHead::as_select())
        .load(conn)
        .await
}

/// An issued paper.
pub async fn head(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<IssuedHead>> {
    issued_papers::table
        .filter(issued_papers::series_id.eq(series))
        .filter(issued_papers::id.eq(id))
        .select(IssuedHead::as_select())
        .first(conn)
        .await
        .optional()
}

/// The file of an issued paper.
pub async fn bytes(conn: &mut Conn, id: Uuid) -> QueryResult<Vec<u8>> {
    issued_papers::table
        .find(id)
        .select(issued_papers::bytes)
        .first(conn)
        .await
}

/// Takes a paper back, or puts it back.
pub async fn set_taken_back(
    conn: &mut Conn,
    id: Uuid,
    at: Option<DateTime<Utc>>,
    by: &str,
) -> QueryResult<IssuedHead> {
    diesel::update(issued_papers::table.find(id))
        .set((
            issued_papers::taken_back_at.eq(at),
            issued_papers::taken_back_by.eq(by),
        ))
        .returning(IssuedHead::as_returning())
        .get_result(conn)
        .await
}

#[derive(QueryableByName)]
struct Buyer {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    episode_id: Option<Uuid>,
    #[diesel(sql_type = Text)]
    broadcaster: String,
}

/// The broadcasters of a series: those of its specifications and of what was issued, each with the episode that is owed or
/// was sent to them; none where a specification is owed by no episode yet.
pub async fn buyers(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<(Option<Uuid>, String)>> {
    let rows: Vec<Buyer> = diesel::sql_query(
        "select null::uuid as episode_id, broadcaster from specifications where series_id = $1 and deleted_at is null \
         union select d.episode_id, s.broadcaster from deliverables d join specifications s on s.id = d.specification_id \
           where d.series_id = $1 and d.deleted_at is null and s.deleted_at is null \
         union select episode_id, broadcaster from issued_papers where series_id = $1 \
         order by broadcaster",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await?;
    let named = rows
        .into_iter()
        .filter(|row| !row.broadcaster.trim().is_empty());
    Ok(named.map(|row| (row.episode_id, row.broadcaster)).collect())
}

/// The head of an issued cue sheet.
#[derive(Clone, Debug, QueryableByName, Serialize, ToSchema)]
pub struct IssuedCueSheetHead {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub episode_id: Uuid,
    /// 1 for the first of the episode; the highest holds.
    #[diesel(sql_type = Integer)]
    pub number: i32,
    #[diesel(sql_type = Text)]
    pub cut_name: String,
    #[diesel(sql_type = Text)]
    pub pdf_sha256: String,
    #[diesel(sql_type = Text)]
    pub issued_by_name: String,
    #[diesel(sql_type = Timestamptz)]
    pub issued_at: DateTime<Utc>,
}

/// The issued cue sheets of a series, the newest first.
pub async fn cue_sheets(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<IssuedCueSheetHead>> {
    diesel::sql_query(
        "select id, episode_id, number, coalesce(sheet #>> '{head,cut_name}', '') as cut_name, pdf_sha256, \
           issued_by_name, issued_at \
         from issued_cue_sheets where series_id = $1 order by issued_at desc, id desc limit 2000",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await
}
