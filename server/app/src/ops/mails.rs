//! The outbox as an administrator sees it: what waits, what failed and why, and trying again.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel_async::{AsyncConnection, RunQueryDsl};
use serde::Serialize;
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;

use super::access::{Actor, require_admin};
use super::audit::{self, NOTHING, Subject};
use super::outbox;
use crate::app::App;
use crate::db::schema::mails;
use crate::error::OpError;

/// A mail without its body.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = mails)]
pub struct MailView {
    pub id: Uuid,
    pub kind: String,
    pub recipient: String,
    pub subject: String,
    /// `due`, `sent`, `failed`, `useless`.
    pub state: String,
    /// What the mail server said last.
    #[schema(required)]
    pub last_answer: Option<String>,
    pub created_at: DateTime<Utc>,
    #[schema(required)]
    pub sent_at: Option<DateTime<Utc>>,
}

/// The newest 500 mails of the organisation.
///
/// # Errors
/// `NotAllowed` for who is not an administrator.
pub async fn list(app: &App, actor: &Actor) -> Result<Vec<MailView>, OpError> {
    require_admin(actor)?;
    let conn = &mut *app.pool.get().await?;
    Ok(mails::table
        .filter(mails::organisation_id.eq(actor.organisation_id))
        .order(mails::created_at.desc())
        .limit(500)
        .select(MailView::as_select())
        .load(conn)
        .await?)
}

/// Puts a failed mail into the queue again.
///
/// # Errors
/// `NotAllowed`; `NotFound`; `UnsafeState` for a mail that did not fail.
pub async fn send_again(app: &App, actor: &Actor, id: Uuid) -> Result<(), OpError> {
    require_admin(actor)?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let state: Option<String> = mails::table
            .find(id)
            .filter(mails::organisation_id.eq(actor.organisation_id))
            .select(mails::state)
            .for_update()
            .first(conn)
            .await
            .optional()?;
        match state.as_deref() {
            None => return Err(OpError::NotFound("the mail")),
            Some("failed") => {}
            Some(_) => {
                return Err(OpError::UnsafeState(
                    "Only a mail that failed can be sent again.".into(),
                ));
            }
        }
        diesel::update(mails::table.find(id))
            .set((
                mails::state.eq("due"),
                mails::useless_after.eq(now + TimeDelta::days(2)),
            ))
            .execute(conn)
            .await?;
        let key = Some(format!("mail:{id}"));
        outbox::enqueue(
            conn,
            now,
            "send_mail",
            json!({ "mail_id": id }),
            key,
            TimeDelta::zero(),
        )
        .await?;
        let subject = Subject {
            series: None,
            kind: "mail",
            id: Some(id),
        };
        audit::record(conn, actor, now, "sent_again", subject, NOTHING, NOTHING).await
    })
    .await
}
