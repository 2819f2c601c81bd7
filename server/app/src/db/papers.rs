//! What papers are made from beyond a cut's clearance: crew contracts, shoot days' crews, answers to the checklist, and
//! what deliverables an episode owes.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::deliverables::DeliverableState;
use super::releases::{Release, ReleaseKind};
use super::schema::{checklist_answers, deliverables, people, releases, shoot_days};
use crate::text_enum;

text_enum! {
    /// A person's answer to a point of the checklist.
    pub enum ChecklistAnswer {
        Yes = "yes", No = "no", NotApplicable = "not_applicable", Open = "open",
    }
}

/// An answer as it is kept.
#[derive(Clone, Debug, Queryable, Selectable, Insertable, Serialize, ToSchema)]
#[diesel(table_name = checklist_answers)]
pub struct AnswerRow {
    pub episode_id: Uuid,
    pub item: String,
    pub series_id: Uuid,
    pub answer: ChecklistAnswer,
    pub note: String,
    pub answered_by: String,
    pub version: i32,
    pub updated_at: DateTime<Utc>,
}

/// Live crew contracts of a series with the credited name of whom each is about.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn crew_releases(
    conn: &mut Conn,
    series: Uuid,
) -> QueryResult<Vec<(Release, Option<String>)>> {
    releases::table
        .left_join(people::table.on(people::id.nullable().eq(releases::person_id)))
        .filter(releases::series_id.eq(series))
        .filter(releases::deleted_at.is_null())
        .filter(releases::kind.eq(ReleaseKind::Crew))
        .order(releases::id)
        .select((Release::as_select(), people::credited_name.nullable()))
        .load(conn)
        .await
}

/// Shoot days with the crew that was noted.
pub async fn crew_of_days(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<(NaiveDate, String)>> {
    shoot_days::table
        .filter(shoot_days::series_id.eq(series))
        .filter(shoot_days::deleted_at.is_null())
        .filter(shoot_days::crew.ne(""))
        .order(shoot_days::day)
        .select((shoot_days::day, shoot_days::crew))
        .load(conn)
        .await
}

/// Live deliverables of an episode: what and how far.
pub async fn owed(conn: &mut Conn, episode: Uuid) -> QueryResult<Vec<(String, DeliverableState)>> {
    deliverables::table
        .filter(deliverables::episode_id.eq(episode))
        .filter(deliverables::deleted_at.is_null())
        .order(deliverables::id)
        .select((deliverables::item, deliverables::status))
        .load(conn)
        .await
}

/// The answers of an episode.
pub async fn answers(conn: &mut Conn, episode: Uuid) -> QueryResult<Vec<AnswerRow>> {
    checklist_answers::table
        .filter(checklist_answers::episode_id.eq(episode))
        .select(AnswerRow::as_select())
        .load(conn)
        .await
}

/// Writes an answer where its version is still `row.version` (0: there is none yet); none when it is not.
pub async fn set_answer(conn: &mut Conn, mut row: AnswerRow) -> QueryResult<Option<AnswerRow>> {
    let version = row.version;
    row.version = version.wrapping_add(1);
    if version == 0 {
        return diesel::insert_into(checklist_answers::table)
            .values(row)
            .on_conflict_do_nothing()
            .returning(AnswerRow::as_returning())
            .get_result(conn)
            .await
            .optional();
    }
    diesel::update(checklist_answers::table.find((row.episode_id, row.item.clone())))
        .filter(checklist_answers::version.eq(version))
        .set((
            checklist_answers::answer.eq(row.answer),
            checklist_answers::note.eq(row.note),
            checklist_answers::answered_by.eq(row.answered_by),
            checklist_answers::version.eq(row.version),
            checklist_answers::updated_at.eq(row.updated_at),
        ))
        .returning(AnswerRow::as_returning())
        .get_result(conn)
        .await
        .optional()
}
