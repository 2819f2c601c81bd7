//! The outbox: a mail is a row, written in the transaction of the fact that it tells. A job sends it.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde_json::json;
use uuid::Uuid;

use crate::app::App;
use crate::db::Conn;
use crate::db::schema::{jobs, mails};
use crate::error::OpError;

/// A mail to be sent.
pub struct NewMail {
    pub organisation_id: Uuid,
    pub user_id: Option<Uuid>,
    /// As in the table's check: `invitation`, `password_reset`, `reminder`, `digest`, `notice`.
    pub kind: &'static str,
    pub recipient: String,
    pub subject: String,
    pub text: String,
    pub html: String,
    /// After this the mail would only confuse: it is not sent any more.
    pub useless_after: Option<DateTime<Utc>>,
}

/// Puts a mail and the job that sends it into the queue; returns the mail's id.
///
/// # Errors
/// The database's.
pub async fn post(conn: &mut Conn, app: &App, mail: NewMail) -> Result<Uuid, OpError> {
    let id = Uuid::now_v7();
    let now = app.now();
    let host = app.config.url.host_str().unwrap_or("localhost").to_owned();
    diesel::insert_into(mails::table)
        .values((
            mails::id.eq(id),
            mails::organisation_id.eq(mail.organisation_id),
            mails::user_id.eq(mail.user_id),
            mails::kind.eq(mail.kind),
            mails::recipient.eq(mail.recipient),
            mails::subject.eq(mail.subject),
            mails::body_text.eq(mail.text),
            mails::body_html.eq(mail.html),
            mails::message_id.eq(format!("<{id}@{host}>")),
            mails::state.eq("due"),
            mails::useless_after.eq(mail.useless_after),
            mails::created_at.eq(now),
        ))
        .execute(conn)
        .await?;
    enqueue(
        conn,
        now,
        "send_mail",
        json!({ "mail_id": id }),
        Some(format!("mail:{id}")),
        TimeDelta::zero(),
    )
    .await?;
    Ok(id)
}

/// Puts a job into the queue, `delay` from `now`; a live job with the same key makes it a no-op.
///
/// # Errors
/// The database's.
pub async fn enqueue(
    conn: &mut Conn,
    now: DateTime<Utc>,
    kind: &str,
    payload: serde_json::Value,
    dedupe_key: Option<String>,
    delay: TimeDelta,
) -> Result<(), OpError> {
    diesel::insert_into(jobs::table)
        .values((
            jobs::id.eq(Uuid::now_v7()),
            jobs::kind.eq(kind),
            jobs::payload.eq(payload),
            jobs::dedupe_key.eq(dedupe_key),
            jobs::run_at.eq(now + delay),
            jobs::attempts.eq(0),
            jobs::created_at.eq(now),
        ))
        .on_conflict_do_nothing()
        .execute(conn)
        .await?;
    Ok(())
}
