//! Sends one mail of the outbox. At least once: a crash between the server's yes and our note sends it again under
//! the same Message-ID, so that most mail programs show it once.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::queue::{Job, MOST_ATTEMPTS};
use super::{JobError, id};
use crate::app::App;
use crate::db::schema::mails;
use crate::mail::carrier::{Letter, SendError};

#[derive(Queryable)]
struct Row {
    state: String,
    useless_after: Option<DateTime<Utc>>,
    message_id: String,
    recipient: String,
    subject: String,
    text: String,
    html: String,
    created_at: DateTime<Utc>,
}

/// See the module's head.
///
/// # Errors
/// `Retry` in 1, 5, 15, then 60 minutes while the server is at fault.
pub async fn run(app: &App, job: &Job) -> Result<(), JobError> {
    let mail = id(job, "mail_id")?;
    let row: Option<Row> = {
        let conn = &mut *app.pool.get().await?;
        mails::table
            .find(mail)
            .select((
                mails::state,
                mails::useless_after,
                mails::message_id,
                mails::recipient,
                mails::subject,
                mails::body_text,
                mails::body_html,
                mails::created_at,
            ))
            .first(conn)
            .await
            .optional()?
    };
    let Some(row) = row.filter(|row| row.state == "due") else {
        return Ok(());
    };
    let now = app.now();
    if row.useless_after.is_some_and(|at| at < now) {
        return note(
            app,
            mail,
            "useless",
            "not sent: it would have come too late",
        )
        .await;
    }
    let letter = Letter {
        message_id: row.message_id,
        recipient: row.recipient,
        subject: row.subject,
        text: row.text,
        html: row.html,
        created_at: row.created_at,
    };
    match app.carrier.send(&letter).await {
        Ok(answer) => {
            tracing::info!(mail.id = %mail, "mail.sent");
            note(app, mail, "sent", &answer).await
        }
        Err(SendError::Refused(answer)) => {
            tracing::error!(mail.id = %mail, answer, "mail.refused");
            note(app, mail, "failed", &answer).await
        }
        Err(SendError::Later(answer)) if job.attempts >= MOST_ATTEMPTS => {
            note(app, mail, "failed", &answer).await
        }
        Err(SendError::Later(answer)) => {
            note(app, mail, "due", &answer).await?;
            let minutes = match job.attempts {
                ..=1 => 1,
                2 => 5,
                3 => 15,
                _ => 60,
            };
            Err(JobError::Retry(answer, TimeDelta::minutes(minutes)))
        }
    }
}

/// Notes how it went. The body of a mail that is over is blanked: it may hold a link that lets somebody in.
async fn note(app: &App, mail: uuid::Uuid, state: &str, answer: &str) -> Result<(), JobError> {
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    let over = matches!(state, "sent" | "useless");
    diesel::update(mails::table.find(mail))
        .set((
            mails::state.eq(state),
            mails::last_answer.eq(answer),
            mails::sent_at.eq((state == "sent").then_some(now)),
        ))
        .execute(conn)
        .await?;
    if over {
        diesel::update(mails::table.find(mail))
            .set((mails::body_text.eq(""), mails::body_html.eq("")))
            .execute(conn)
            .await?;
    }
    Ok(())
}
