//! The queue: claim in one short transaction, run outside any, finish in another. A claim is a lease with a token: a
//! worker that dies loses nothing, and one that outlives its lease can't overwrite another's result. Attempts are
//! counted at the claim, so that a job that kills its worker stops as well.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde_json::Value;
use uuid::Uuid;

use super::JobError;
use crate::db::Conn;
use crate::db::schema::jobs;

/// How long a worker may take before others may claim the job.
pub const LEASE: TimeDelta = TimeDelta::minutes(2);
/// After this many attempts a job is dead.
pub const MOST_ATTEMPTS: i32 = 10;

/// A claimed job.
#[derive(Clone, Debug, QueryableByName)]
#[diesel(table_name = jobs)]
pub struct Job {
    pub id: Uuid,
    pub kind: String,
    pub payload: Value,
    pub attempts: i32,
    pub claim: Option<Uuid>,
}

/// Claims up to `most` due jobs.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn claim(conn: &mut Conn, now: DateTime<Utc>, most: i64) -> QueryResult<Vec<Job>> {
    diesel::sql_query(
        "update jobs set locked_until = $1, claim = $2, attempts = attempts + 1
         where id in (
             select id from jobs
             where dead_at is null and run_at <= $3 and (locked_until is null or locked_until <= $3)
             order by run_at, id
             for update skip locked
             limit $4)
         returning id, kind, payload, attempts, claim",
    )
    .bind::<Timestamptz, _>(now + LEASE)
    .bind::<SqlUuid, _>(Uuid::now_v7())
    .bind::<Timestamptz, _>(now)
    .bind::<BigInt, _>(most)
    .load(conn)
    .await
}

/// Takes a job out of the queue, or puts it back with its next time. Only the holder of the claim can.
pub async fn finish(
    conn: &mut Conn,
    job: &Job,
    outcome: Result<(), JobError>,
    now: DateTime<Utc>,
) -> QueryResult<()> {
    let held = jobs::table
        .filter(jobs::id.eq(job.id))
        .filter(jobs::claim.eq(job.claim));
    let (fault, wait) = match outcome {
        Ok(()) => return diesel::delete(held).execute(conn).await.map(drop),
        Err(JobError::Dead(fault)) => (fault, None),
        Err(JobError::Retry(fault, wait)) => (fault, Some(wait)),
        Err(JobError::Op(error)) => (error.to_string(), Some(doubling(job.attempts))),
    };
    let dead = wait.is_none() || job.attempts >= MOST_ATTEMPTS;
    if dead {
        tracing::error!(job.id = %job.id, job.kind, fault, "job.dead");
    } else {
        tracing::warn!(job.id = %job.id, job.kind, fault, "job.again");
    }
    diesel::update(held)
        .set((
            jobs::run_at.eq(now + wait.unwrap_or_default()),
            jobs::locked_until.eq(None::<DateTime<Utc>>),
            jobs::claim.eq(None::<Uuid>),
            jobs::last_error.eq(fault),
            jobs::dead_at.eq(dead.then_some(now)),
        ))
        .execute(conn)
        .await
        .map(drop)
}

/// 5 s, doubling.
fn doubling(attempts: i32) -> TimeDelta {
    let doublings = u32::try_from(attempts - 1).unwrap_or(0).min(10);
    TimeDelta::seconds(5_i64 << doublings)
}
