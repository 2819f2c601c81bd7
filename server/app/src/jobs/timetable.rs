//! What happens at which times: one table. The times are UTC and only make things be looked at.

use std::sync::Arc;

use anyhow::{Context, Result};
use chrono::TimeDelta;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use tokio_cron_scheduler::{Job, JobScheduler};

use crate::app::App;
use crate::db::schema::{mails, password_resets, sessions};
use crate::error::OpError;
use crate::ops::{reminders, sheets};

/// Something that is looked at from time to time.
#[derive(Clone, Copy, Debug)]
pub enum Look {
    /// Reminders whose time has come.
    Due,
    /// Reminders of the days ahead, for what is overdue and for terms whose start became known; lists whose day is over.
    Plan,
    /// Sessions and links that ended long ago.
    Sweep,
}

/// Seconds, minutes, hours, days, months, weekdays.
const TABLE: [(&str, Look); 3] = [
    ("0 * * * * *", Look::Due),
    ("30 7 * * * *", Look::Plan),
    ("10 41 3 * * *", Look::Sweep),
];

/// Starts the metronome.
///
/// # Errors
/// When a line of the table can't be read.
pub async fn start(app: App) -> Result<JobScheduler> {
    let scheduler = JobScheduler::new().await.context("metronome")?;
    let app = Arc::new(app);
    for (when, look) in TABLE {
        let app = Arc::clone(&app);
        let job = Job::new_async(when, move |_, _| {
            let app = Arc::clone(&app);
            Box::pin(async move {
                if let Err(error) = act(&app, look).await {
                    tracing::error!(?look, %error, "timetable.failed");
                }
            })
        })
        .with_context(|| format!("timetable line {look:?}"))?;
        scheduler.add(job).await.context("metronome")?;
    }
    scheduler.start().await.context("metronome")?;
    Ok(scheduler)
}

/// Looks once.
///
/// # Errors
/// The database's.
pub async fn act(app: &App, look: Look) -> Result<(), OpError> {
    match look {
        Look::Due => reminders::enqueue_due(app).await.map(drop),
        Look::Plan => {
            sheets::sweep(app).await?;
            reminders::plan_all(app).await
        }
        Look::Sweep => sweep(app).await,
    }
}

async fn sweep(app: &App) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let long_ago = app.now() - TimeDelta::days(90);
    diesel::delete(sessions::table.filter(sessions::expires_at.lt(long_ago)))
        .execute(conn)
        .await?;
    diesel::delete(password_resets::table.filter(password_resets::expires_at.lt(long_ago)))
        .execute(conn)
        .await?;
    let year_ago = app.now() - TimeDelta::days(365);
    diesel::delete(mails::table.filter(mails::created_at.lt(year_ago)))
        .execute(conn)
        .await?;
    Ok(())
}
