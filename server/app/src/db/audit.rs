//! The audit trail: rows are only ever added (a trigger sees to it), in the transaction of the change.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::schema::audit;

/// One line of the trail.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = audit)]
pub struct AuditLine {
    pub id: i64,
    pub at: DateTime<Utc>,
    #[schema(required)]
    pub actor_id: Option<Uuid>,
    pub actor_name: String,
    pub action: String,
    pub subject_kind: String,
    #[schema(required)]
    pub subject_id: Option<Uuid>,
    #[schema(required)]
    pub before: Option<Value>,
    #[schema(required)]
    pub after: Option<Value>,
    /// The request that made it: lines with the same one are one act, for instance an import of a list.
    #[schema(required)]
    pub request_id: Option<Uuid>,
}

/// A line to be added.
#[derive(Insertable)]
#[diesel(table_name = audit)]
pub struct NewAuditLine<'a> {
    pub at: DateTime<Utc>,
    pub organisation_id: Uuid,
    pub series_id: Option<Uuid>,
    pub actor_id: Option<Uuid>,
    pub actor_name: &'a str,
    pub action: &'a str,
    pub subject_kind: &'a str,
    pub subject_id: Option<Uuid>,
    pub before: Option<Value>,
    pub after: Option<Value>,
    pub request_id: Option<Uuid>,
}

/// Adds lines, at most a thousand to a statement.
///
/// # Errors
/// The database's.
pub async fn add(conn: &mut Conn, lines: &[NewAuditLine<'_>]) -> QueryResult<()> {
    for some in lines.chunks(1000) {
        diesel::insert_into(audit::table)
            .values(some)
            .execute(conn)
            .await?;
    }
    Ok(())
}

/// Lines of a series, newest first, older than `before` (a line's id).
///
/// # Errors
/// The database's.
pub async fn of_series(
    conn: &mut Conn,
    series: Uuid,
    subject: Option<Uuid>,
    before: Option<i64>,
    limit: i64,
) -> QueryResult<Vec<AuditLine>> {
    let mut query = audit::table
        .filter(audit::series_id.eq(series))
        .select(AuditLine::as_select())
        .order(audit::id.desc())
        .limit(limit)
        .into_boxed();
    if let Some(subject) = subject {
        query = query.filter(audit::subject_id.eq(subject));
    }
    if let Some(before) = before {
        query = query.filter(audit::id.lt(before));
    }
    query.load(conn).await
}

/// The newest line about one record: who changed it last, and when.
///
/// # Errors
/// The database's.
pub async fn last_change(
    conn: &mut Conn,
    subject: Uuid,
) -> QueryResult<Option<(String, DateTime<Utc>)>> {
    audit::table
        .filter(audit::subject_id.eq(subject))
        .select((audit::actor_name, audit::at))
        .order(audit::id.desc())
        .first(conn)
        .await
        .optional()
}

/// Those of these records of which no line tells.
///
/// # Errors
/// The database's.
pub async fn untold(conn: &mut Conn, subjects: &[Uuid]) -> QueryResult<BTreeSet<Uuid>> {
    let told: BTreeSet<Option<Uuid>> = audit::table
        .filter(audit::subject_id.eq_any(subjects))
        .select(audit::subject_id)
        .distinct()
        .load(conn)
        .await?
        .into_iter()
        .collect();
    let untold = subjects.iter().filter(|id| !told.contains(&Some(**id)));
    Ok(untold.copied().collect())
}
