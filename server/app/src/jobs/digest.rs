//! One mail with all reminders that wait for somebody who chose the daily digest. Reminders fire at nine in the
//! morning of their series' zone, so a person whose series share a zone gets one mail a day.

use chrono::{NaiveDate, TimeDelta};
use diesel::prelude::*;
use diesel_async::{AsyncConnection, RunQueryDsl};
use uuid::Uuid;

use super::fire_reminder::sentence;
use super::queue::Job;
use super::{JobError, id};
use crate::app::App;
use crate::db::schema::{reminder_notices, reminders, series};
use crate::db::{self as tables, Conn};
use crate::error::OpError;
use crate::mail::text;
use crate::ops::outbox::{self, NewMail};
use crate::ops::reminders as ops;

/// A digest that could not leave for this long would only confuse.
const USEFUL: TimeDelta = TimeDelta::days(2);

/// See the module's head.
///
/// # Errors
/// The database's: then all of it is tried again.
pub async fn run(app: &App, job: &Job) -> Result<(), JobError> {
    let user = id(job, "user_id")?;
    let conn = &mut *app.pool.get().await?;
    conn.transaction::<_, OpError, _>(async |conn| gather(conn, app, user).await)
        .await?;
    Ok(())
}

async fn gather(conn: &mut Conn, app: &App, user: Uuid) -> Result<(), OpError> {
    type Row = (Uuid, Uuid, String, Uuid, String, NaiveDate, String, String);
    let Some(user) = tables::users::load(conn, user)
        .await?
        .filter(|user| user.disabled_at.is_none())
    else {
        return Ok(());
    };
    let rows: Vec<Row> = reminder_notices::table
        .inner_join(reminders::table.on(reminders::id.eq(reminder_notices::reminder_id)))
        .inner_join(series::table.on(series::id.eq(reminders::series_id)))
        .filter(reminder_notices::user_id.eq(user.id))
        .filter(reminder_notices::mail_id.is_null())
        .order((reminders::due_on, reminders::id))
        .limit(200)
        .select((
            reminders::id,
            reminders::series_id,
            reminders::subject_kind,
            reminders::subject_id,
            reminders::aspect,
            reminders::due_on,
            series::title,
            series::zone,
        ))
        .load(conn)
        .await?;
    if rows.is_empty() {
        return Ok(());
    }
    let mut paragraphs = vec![format!("Hello {},", user.name)];
    for (_, series_id, kind, subject, aspect, due_on, title, zone) in &rows {
        let zone = waybill_domain::schedule::zone(zone).unwrap_or(chrono_tz::Tz::UTC);
        let today = app.now().with_timezone(&zone).date_naive();
        let names = tables::reminders::names(conn, *series_id).await?;
        let what = tables::reminders::about(names.get(subject).map_or("", String::as_str), aspect);
        let link = app.config.link(&ops::path(*series_id, kind, *subject));
        paragraphs.push(format!(
            "{title}: {}.\n{link}",
            sentence(&what, *due_on, today)
        ));
    }
    paragraphs.push(format!(
        "You can choose a mail for each, or none, at {}",
        app.config.link("/account")
    ));
    let count = if rows.len() == 1 {
        "One reminder".to_owned()
    } else {
        format!("{} reminders", rows.len())
    };
    let letter = text::letter(
        &count,
        &paragraphs,
        Some(("Open Waybill", &app.config.link("/"))),
    );
    let now = app.now();
    let mail = outbox::post(
        conn,
        app,
        NewMail {
            organisation_id: user.organisation_id,
            user_id: Some(user.id),
            kind: "digest",
            recipient: user.email.clone(),
            subject: letter.subject,
            text: letter.text,
            html: letter.html,
            useless_after: Some(now + USEFUL),
        },
    )
    .await?;
    let told: Vec<Uuid> = rows.iter().map(|row| row.0).collect();
    diesel::update(
        reminder_notices::table
            .filter(reminder_notices::user_id.eq(user.id))
            .filter(reminder_notices::reminder_id.eq_any(told)),
    )
    .set(reminder_notices::mail_id.eq(mail))
    .execute(conn)
    .await?;
    Ok(())
}
