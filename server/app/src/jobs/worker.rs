//! Takes jobs and runs them, a few at a time, until told to stop. A lost database costs a pause, not the worker.

use std::panic::AssertUnwindSafe;
use std::time::Duration;

use futures_util::FutureExt;
use tokio::sync::watch;

use super::{JobError, queue};
use crate::app::App;
use crate::error::OpError;

/// Between two looks into an empty queue.
const PAUSE: Duration = Duration::from_secs(1);

/// Runs jobs until `stop` says so; the job in hand is finished first.
pub async fn work(app: App, mut stop: watch::Receiver<bool>) {
    while !*stop.borrow() {
        let busy = match run_some(&app, 1).await {
            Ok(count) => count > 0,
            Err(error) => {
                tracing::error!(%error, "jobs.unreachable");
                false
            }
        };
        if !busy {
            tokio::select! {
                () = tokio::time::sleep(PAUSE) => {}
                _ = stop.changed() => {}
            }
        }
    }
}

/// Claims and runs up to `most` due jobs; how many there were.
///
/// # Errors
/// When the database can't be reached.
pub async fn run_some(app: &App, most: i64) -> Result<usize, OpError> {
    let jobs = queue::claim(&mut *app.pool.get().await?, app.now(), most).await?;
    for job in &jobs {
        let outcome = AssertUnwindSafe(super::run(app, job))
            .catch_unwind()
            .await
            .unwrap_or_else(|_| Err(JobError::Dead("the job panicked".into())));
        queue::finish(&mut *app.pool.get().await?, job, outcome, app.now()).await?;
    }
    Ok(jobs.len())
}

/// Runs everything that is due now, and what that makes due at once; for tests and for the command line.
///
/// # Errors
/// When the database can't be reached.
pub async fn run_due(app: &App) -> Result<usize, OpError> {
    let mut total = 0;
    loop {
        match run_some(app, 50).await? {
            0 => return Ok(total),
            count => total += count,
        }
    }
}
