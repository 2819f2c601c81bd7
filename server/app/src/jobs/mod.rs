//! Background work: a queue in the database, a metronome, and one file per job.
//!
//! The metronome (once a minute, UTC) never decides what is due; rows with times do. Two servers ticking do no harm,
//! and what was missed while down is caught up by the first tick.

pub mod digest;
pub mod fire_reminder;
pub mod queue;
pub mod send_mail;
pub mod tidy;
pub mod timetable;
pub mod worker;

use chrono::TimeDelta;

use crate::app::App;
use crate::error::OpError;
use queue::Job;

/// How a run of a job ended, when not well.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// Try again after this time.
    #[error("{0}")]
    Retry(String, TimeDelta),
    /// As [`Self::Retry`], after the queue's own growing delay.
    #[error(transparent)]
    Op(#[from] OpError),
    /// Never again; a person must look.
    #[error("{0}")]
    Dead(String),
}

impl From<diesel::result::Error> for JobError {
    fn from(error: diesel::result::Error) -> Self {
        Self::Op(error.into())
    }
}

impl From<diesel_async::pooled_connection::deadpool::PoolError> for JobError {
    fn from(error: diesel_async::pooled_connection::deadpool::PoolError) -> Self {
        Self::Op(error.into())
    }
}

/// Runs one job by its kind.
///
/// # Errors
/// See [`JobError`].
pub async fn run(app: &App, job: &Job) -> Result<(), JobError> {
    match job.kind.as_str() {
        "send_mail" => send_mail::run(app, job).await,
        "fire_reminder" => fire_reminder::run(app, job).await,
        "send_digest" => digest::run(app, job).await,
        "tidy_catalogue" => tidy::run(app, job).await,
        other => Err(JobError::Dead(format!("no such kind of job: {other}"))),
    }
}

/// The id that a payload carries under `name`.
///
/// # Errors
/// `Dead` when it is missing.
pub fn id(job: &Job, name: &str) -> Result<uuid::Uuid, JobError> {
    job.payload
        .get(name)
        .and_then(|value| value.as_str())
        .and_then(|text| text.parse().ok())
        .ok_or_else(|| JobError::Dead(format!("no {name} in the job")))
}
