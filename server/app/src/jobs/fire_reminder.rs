//! Tells people of one date. The reminder may be moot by now, or overtaken by its successor: then nobody is told.

use chrono::{Datelike, NaiveDate, TimeDelta};
use diesel::prelude::*;
use diesel_async::{AsyncConnection, RunQueryDsl};
use serde_json::json;

use super::queue::Job;
use super::{JobError, id};
use crate::app::App;
use crate::db::reminders::{self as db, Dated, Reminder};
use crate::db::schema::{reminder_notices, reminders};
use crate::db::users::{MailChoice, User};
use crate::db::{self as tables, Conn};
use crate::error::OpError;
use crate::mail::text;
use crate::ops::outbox::{self, NewMail};
use crate::ops::reminders as ops;

/// A digest waits this long, so that what fires at the same hour stands in one mail.
const GATHER: TimeDelta = TimeDelta::minutes(5);
/// A reminder's mail that could not leave for this long would only confuse.
const USEFUL: TimeDelta = TimeDelta::days(2);

/// See the module's head.
///
/// # Errors
/// The database's: then all of it is tried again.
pub async fn run(app: &App, job: &Job) -> Result<(), JobError> {
    let reminder = id(job, "reminder_id")?;
    let conn = &mut *app.pool.get().await?;
    conn.transaction::<_, OpError, _>(async |conn| fire(conn, app, reminder).await)
        .await?;
    Ok(())
}

async fn fire(conn: &mut Conn, app: &App, id: uuid::Uuid) -> Result<(), OpError> {
    let now = app.now();
    let row: Option<Reminder> = reminders::table
        .find(id)
        .filter(reminders::fired_at.is_null())
        .filter(reminders::resolved_at.is_null())
        .select(Reminder::as_select())
        .for_update()
        .first(conn)
        .await
        .optional()?;
    let Some(row) = row else { return Ok(()) };
    let stands = db::dates(conn, row.series_id, &row.subject_kind, row.subject_id)
        .await?
        .iter()
        .any(|Dated { aspect, on }| *aspect == row.aspect && *on == row.due_on);
    let overtaken: i64 = reminders::table
        .filter(reminders::subject_id.eq(row.subject_id))
        .filter(reminders::aspect.eq(&row.aspect))
        .filter(reminders::due_on.eq(row.due_on))
        .filter(reminders::fire_at.gt(row.fire_at))
        .filter(reminders::fire_at.le(now))
        .count()
        .get_result(conn)
        .await?;
    let series = tables::series::load(conn, row.series_id)
        .await?
        .filter(|series| series.deleted_at.is_none());
    let (Some(series), true, 0) = (series, stands, overtaken) else {
        diesel::update(reminders::table.find(id))
            .set(reminders::resolved_at.eq(now))
            .execute(conn)
            .await?;
        return Ok(());
    };
    let zone = waybill_domain::schedule::zone(&series.fields.zone).unwrap_or(chrono_tz::Tz::UTC);
    let today = now.with_timezone(&zone).date_naive();
    let names = db::names(conn, row.series_id).await?;
    let what = db::about(
        names.get(&row.subject_id).map_or("", String::as_str),
        &row.aspect,
    );
    let line = sentence(&what, row.due_on, today);
    let link = app
        .config
        .link(&ops::path(row.series_id, &row.subject_kind, row.subject_id));
    for user in ops::recipients(
        conn,
        row.series_id,
        &row.subject_kind,
        row.subject_id,
        row.days_before,
    )
    .await?
    {
        tell(conn, app, &user, id, &series.fields.title, &line, &link).await?;
    }
    diesel::update(reminders::table.find(id))
        .set(reminders::fired_at.eq(now))
        .execute(conn)
        .await?;
    Ok(())
}

async fn tell(
    conn: &mut Conn,
    app: &App,
    user: &User,
    reminder: uuid::Uuid,
    title: &str,
    line: &str,
    link: &str,
) -> Result<(), OpError> {
    let now = app.now();
    let mail_id = match user.mail_choice {
        MailChoice::None => return Ok(()),
        MailChoice::Digest => {
            let key = format!("digest:{}", user.id);
            outbox::enqueue(
                conn,
                now,
                "send_digest",
                json!({ "user_id": user.id }),
                Some(key),
                GATHER,
            )
            .await?;
            None
        }
        MailChoice::Each => {
            let account = app.config.link("/account");
            let letter = text::letter(
                &format!("{title}: {line}"),
                &[
                    format!("Hello {},", user.name),
                    format!("{line}."),
                    format!("Series: {title}"),
                    format!("You can choose one mail a day, or none, at {account}"),
                ],
                Some(("Open it in Waybill", link)),
            );
            let mail = NewMail {
                organisation_id: user.organisation_id,
                user_id: Some(user.id),
                kind: "reminder",
                recipient: user.email.clone(),
                subject: letter.subject,
                text: letter.text,
                html: letter.html,
                useless_after: Some(now + USEFUL),
            };
            Some(outbox::post(conn, app, mail).await?)
        }
    };
    diesel::insert_into(reminder_notices::table)
        .values((
            reminder_notices::reminder_id.eq(reminder),
            reminder_notices::user_id.eq(user.id),
            reminder_notices::mail_id.eq(mail_id),
            reminder_notices::created_at.eq(now),
        ))
        .on_conflict_do_nothing()
        .execute(conn)
        .await?;
    Ok(())
}

/// `End of the licence of “…” on Tue 9 Jan 2029, in 30 days`.
pub fn sentence(what: &str, due: NaiveDate, today: NaiveDate) -> String {
    let days = (due - today).num_days();
    let when = match days {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        -1 => "one day overdue".to_owned(),
        2.. => format!("in {days} days"),
        _ => format!("{} days overdue", -days),
    };
    let date = format!("{} {} {}", due.format("%a"), due.day(), due.format("%b %Y"));
    let verb = if what.starts_with("End of") {
        "on"
    } else {
        "is due on"
    };
    format!("{what} {verb} {date}, {when}")
}
