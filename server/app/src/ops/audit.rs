//! The line that every change leaves: who, when, what, before, after.

use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::access::Actor;
use crate::db::Conn;
pub use crate::db::audit::untold;
use crate::db::audit::{NewAuditLine, add, last_change};
use crate::error::{OpError, REQUEST_ID, Stale};

/// What a change was about.
#[derive(Clone, Copy)]
pub struct Subject<'a> {
    pub series: Option<Uuid>,
    pub kind: &'a str,
    pub id: Option<Uuid>,
}

impl<'a> Subject<'a> {
    /// A record of a series.
    pub fn of(series: Uuid, kind: &'a str, id: Uuid) -> Self {
        Self {
            series: Some(series),
            kind,
            id: Some(id),
        }
    }
}

/// Adds the line; to be called in the transaction of the change.
///
/// # Errors
/// The database's; then the change must not be kept either.
pub async fn record<B: Serialize, A: Serialize>(
    conn: &mut Conn,
    actor: &Actor,
    now: DateTime<Utc>,
    action: &str,
    subject: Subject<'_>,
    before: Option<&B>,
    after: Option<&A>,
) -> Result<(), OpError> {
    let line = Line {
        action,
        subject,
        before: before.map(json).transpose()?,
        after: after.map(json).transpose()?,
    };
    record_all(conn, actor, now, vec![line]).await
}

/// A line of many.
pub struct Line<'a> {
    pub action: &'a str,
    pub subject: Subject<'a>,
    pub before: Option<Value>,
    pub after: Option<Value>,
}

/// As [`record`], for many changes of one act.
///
/// # Errors
/// The database's; then the changes must not be kept either.
pub async fn record_all(
    conn: &mut Conn,
    actor: &Actor,
    now: DateTime<Utc>,
    lines: Vec<Line<'_>>,
) -> Result<(), OpError> {
    let request_id = REQUEST_ID.try_with(|id| *id).ok();
    let lines: Vec<NewAuditLine<'_>> = lines
        .into_iter()
        .map(|line| NewAuditLine {
            at: now,
            organisation_id: actor.organisation_id,
            series_id: line.subject.series,
            actor_id: Some(actor.user_id),
            actor_name: &actor.name,
            action: line.action,
            subject_kind: line.subject.kind,
            subject_id: line.subject.id,
            before: line.before,
            after: line.after,
            request_id,
        })
        .collect();
    Ok(add(conn, &lines).await?)
}

/// For a change that has no before or no after.
pub const NOTHING: Option<&Value> = None;

/// What somebody is told who changed another version of `subject` than the one that is there.
///
/// # Errors
/// The database's.
pub async fn stale<T: Serialize>(
    conn: &mut Conn,
    subject: Uuid,
    version: i32,
    current: &T,
) -> Result<OpError, OpError> {
    let change = last_change(conn, subject).await?;
    Ok(OpError::Stale(Box::new(Stale {
        version,
        current: json(current)?,
        changed_by: change.as_ref().map(|(name, _)| name.clone()),
        changed_at: change.map(|(_, at)| at),
    })))
}

fn json<T: Serialize>(value: &T) -> Result<Value, OpError> {
    serde_json::to_value(value)
        .map_err(|error| OpError::Internal(format!("value of a record: {error}")))
}
