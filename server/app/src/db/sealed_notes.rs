//! Notes that only the people named in them may open. The heads are listed without the text.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::Conn;
use super::schema::sealed_notes;

/// A note without its text.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = sealed_notes)]
pub struct NoteHead {
    pub id: Uuid,
    pub series_id: Uuid,
    pub subject_kind: String,
    pub subject_id: Uuid,
    pub title: String,
    pub readers: Vec<Uuid>,
    pub written_by: Option<Uuid>,
    pub written_by_name: String,
    pub created_at: DateTime<Utc>,
}

/// A note to be kept.
#[derive(Insertable)]
#[diesel(table_name = sealed_notes)]
pub struct NewNote<'a> {
    pub id: Uuid,
    pub series_id: Uuid,
    pub subject_kind: &'a str,
    pub subject_id: Uuid,
    pub title: &'a str,
    pub body: &'a str,
    pub readers: &'a [Uuid],
    pub written_by: Uuid,
    pub written_by_name: &'a str,
    pub created_at: DateTime<Utc>,
}

/// Keeps a note.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn add(conn: &mut Conn, note: &NewNote<'_>) -> QueryResult<NoteHead> {
    diesel::insert_into(sealed_notes::table)
        .values(note)
        .returning(NoteHead::as_returning())
        .get_result(conn)
        .await
}

/// Heads of the live notes of a series, or of one subject of it, oldest first.
pub async fn heads(
    conn: &mut Conn,
    series: Uuid,
    subject: Option<Uuid>,
) -> QueryResult<Vec<NoteHead>> {
    let mut query = sealed_notes::table
        .filter(sealed_notes::series_id.eq(series))
        .filter(sealed_notes::deleted_at.is_null())
        .order(sealed_notes::id)
        .limit(500)
        .select(NoteHead::as_select())
        .into_boxed();
    if let Some(subject) = subject {
        query = query.filter(sealed_notes::subject_id.eq(subject));
    }
    query.load(conn).await
}

/// The head of a live note.
pub async fn head(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<NoteHead>> {
    sealed_notes::table
        .filter(sealed_notes::id.eq(id))
        .filter(sealed_notes::series_id.eq(series))
        .filter(sealed_notes::deleted_at.is_null())
        .select(NoteHead::as_select())
        .first(conn)
        .await
        .optional()
}

/// The text of a note.
pub async fn body(conn: &mut Conn, id: Uuid) -> QueryResult<String> {
    sealed_notes::table
        .find(id)
        .select(sealed_notes::body)
        .first(conn)
        .await
}

/// Names other readers.
pub async fn set_readers(conn: &mut Conn, id: Uuid, readers: &[Uuid]) -> QueryResult<NoteHead> {
    diesel::update(sealed_notes::table.find(id))
        .set(sealed_notes::readers.eq(readers))
        .returning(NoteHead::as_returning())
        .get_result(conn)
        .await
}

/// Takes a note away; its text goes with it.
pub async fn remove(conn: &mut Conn, id: Uuid, now: DateTime<Utc>) -> QueryResult<()> {
    diesel::update(sealed_notes::table.find(id))
        .set((
            sealed_notes::deleted_at.eq(now),
            sealed_notes::body.eq("(taken away)"),
        ))
        .execute(conn)
        .await
        .map(drop)
}
