//! Reminders (R6): which dates a subject has, the days before them on which to remind, and who is told.
//!
//! A reminder is a row with a natural key, so that planning twice, or on two servers, changes nothing. The instant is
//! nine in the morning of the series' zone, worked out from rule and zone each time it is planned. What is resolved or
//! has got another date loses its rows that were not sent; a sent one is never moved.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use diesel::prelude::*;
use diesel::sql_types::Timestamptz;
use diesel_async::{AsyncConnection, RunQueryDsl};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::schedule::{self, Threshold};

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use crate::app::App;
use crate::db::reminders::{self as db, Dated};
use crate::db::schema::reminders;
use crate::db::series::Series;
use crate::db::{self as tables, Conn};
use crate::error::OpError;

/// How far ahead weekly reminders of what is overdue are planned; the hourly plan goes on from there.
const AHEAD: TimeDelta = TimeDelta::days(10);

/// Subjects that are planned in one go, so that no statement has more values than PostgreSQL takes.
const TOGETHER: usize = 500;

/// Plans the reminders of subjects of one kind anew; called in the transaction of their change.
///
/// # Errors
/// The database's.
pub async fn refresh(
    conn: &mut Conn,
    series: &Series,
    kind: &'static str,
    ids: &[Uuid],
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    for some in ids.chunks(TOGETHER) {
        refresh_some(conn, series, kind, some, now).await?;
    }
    Ok(())
}

/// An unsent reminder: its id, its subject, what it is about, its key, its time.
type Unsent = (Uuid, Uuid, String, NaiveDate, String, DateTime<Utc>);

async fn refresh_some(
    conn: &mut Conn,
    series: &Series,
    kind: &'static str,
    ids: &[Uuid],
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let dates = if series.deleted_at.is_some() {
        HashMap::new()
    } else {
        db::dates_of(conn, series.id, kind, ids).await?
    };
    let zone = zone(series);
    let today = now.with_timezone(&zone).date_naive();
    // A missed option can't be seen to any more: nobody is reminded of it every week.
    let open = |dated: &Dated| dated.aspect != "option" || dated.on >= today;
    let wanted: Vec<db::Planned> = ids
        .iter()
        .flat_map(|id| {
            dates
                .get(id)
                .into_iter()
                .flatten()
                .map(move |dated| (*id, dated))
        })
        .filter(|(_, dated)| open(dated))
        .flat_map(|(id, dated)| planned(series.id, zone, kind, id, dated, now))
        .collect();
    let keys: HashSet<&str> = wanted.iter().map(|row| row.dedupe_key.as_str()).collect();
    let unsent: Vec<Unsent> = reminders::table
        .filter(reminders::subject_id.eq_any(ids))
        .filter(reminders::fired_at.is_null())
        .filter(reminders::resolved_at.is_null())
        .select((
            reminders::id,
            reminders::subject_id,
            reminders::aspect,
            reminders::due_on,
            reminders::dedupe_key,
            reminders::fire_at,
        ))
        .load(conn)
        .await?;
    // A row whose time came while the server was down is still to be fired, when its date still stands.
    let stands = |subject: &Uuid, aspect: &str, on: NaiveDate| {
        let found = dates.get(subject);
        found.is_some_and(|all| all.iter().any(|one| one.aspect == aspect && one.on == on))
    };
    let moot: Vec<Uuid> = unsent
        .into_iter()
        .filter(|(_, subject, aspect, due_on, key, fire_at)| {
            let overdue = *fire_at <= now && stands(subject, aspect, *due_on);
            !overdue && !keys.contains(key.as_str())
        })
        .map(|(id, ..)| id)
        .collect();
    if !moot.is_empty() {
        diesel::delete(reminders::table.filter(reminders::id.eq_any(moot)))
            .execute(conn)
            .await?;
    }
    for some in wanted.chunks(5000) {
        diesel::insert_into(reminders::table)
            .values(some)
            .on_conflict_do_nothing()
            .execute(conn)
            .await?;
    }
    Ok(())
}

fn zone(series: &Series) -> Tz {
    // Checked when the series was saved; UTC only where the name has since left the database of zones.
    schedule::zone(&series.fields.zone).unwrap_or(Tz::UTC)
}

fn planned(
    series: Uuid,
    zone: Tz,
    kind: &'static str,
    subject: Uuid,
    dated: &Dated,
    now: DateTime<Utc>,
) -> Vec<db::Planned> {
    let horizon = (now + AHEAD)
        .with_timezone(&zone)
        .date_naive()
        .max(dated.on);
    schedule::notices(dated.on, horizon)
        .into_iter()
        .map(|notice| {
            let days_before = match notice.threshold {
                Threshold::DaysBefore(days) => i32::try_from(days).unwrap_or(i32::MAX),
                Threshold::WeeksOverdue(weeks) => {
                    i32::try_from(weeks).unwrap_or(0).saturating_mul(-7)
                }
            };
            db::Planned {
                id: Uuid::now_v7(),
                series_id: series,
                subject_kind: kind,
                subject_id: subject,
                aspect: dated.aspect,
                due_on: dated.on,
                days_before,
                fire_at: schedule::reminder_instant(zone, notice.on),
                dedupe_key: format!(
                    "{kind}:{subject}:{}:{}:{days_before}",
                    dated.aspect, dated.on
                ),
                created_at: now,
            }
        })
        .filter(|row| row.fire_at > now)
        .collect()
}

/// Plans for everything: what became overdue, and terms whose start became known. Catches up after any outage.
///
/// # Errors
/// The database's.
pub async fn plan_all(app: &App) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    for series in db::all_series(conn).await? {
        for (kind, ids) in db::subjects_of(conn, series.id).await? {
            for some in ids.chunks(TOGETHER) {
                conn.transaction::<_, OpError, _>(async |conn| {
                    refresh(conn, &series, kind, some, now).await
                })
                .await?;
            }
        }
    }
    Ok(())
}

/// Plans anew for all subjects of a series: its zone changed, or an episode's dates did.
///
/// # Errors
/// The database's.
pub async fn refresh_series(
    conn: &mut Conn,
    series: &Series,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    for (kind, ids) in db::subjects_of(conn, series.id).await? {
        refresh(conn, series, kind, &ids, now).await?;
    }
    Ok(())
}

/// Puts a job into the queue for each reminder whose time has come. One statement; the unique key makes a second
/// server's tick a no-op.
///
/// # Errors
/// The database's.
pub async fn enqueue_due(app: &App) -> Result<usize, OpError> {
    let conn = &mut *app.pool.get().await?;
    let count = diesel::sql_query(
        "insert into jobs (id, kind, payload, dedupe_key, run_at, attempts, created_at)
         select gen_random_uuid(), 'fire_reminder', jsonb_build_object('reminder_id', id), 'reminder:' || id, $1, 0, $1
         from reminders where fired_at is null and resolved_at is null and fire_at <= $1
         on conflict do nothing",
    )
    .bind::<Timestamptz, _>(app.now())
    .execute(conn)
    .await?;
    Ok(count)
}

/// A reminder as people see it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ReminderView {
    pub id: Uuid,
    pub subject_kind: String,
    pub subject_id: Uuid,
    /// What it is about, in words.
    pub what: String,
    pub due_on: NaiveDate,
    /// Days before the date; negative: days overdue.
    pub days_before: i32,
    pub fire_at: DateTime<Utc>,
    #[schema(required)]
    pub fired_at: Option<DateTime<Utc>>,
    #[schema(required)]
    pub acknowledged_at: Option<DateTime<Utc>>,
    /// Where in the web part it leads.
    pub path: String,
}

/// Reminders of a series: those sent in the last 60 days and those to come, soonest first.
///
/// # Errors
/// Access; the database's.
pub async fn list(app: &App, actor: &Actor, series: Uuid) -> Result<Vec<ReminderView>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewDeliveries).await?;
    let mut rows = db::around(conn, series, app.now() - TimeDelta::days(60)).await?;
    rows.retain(|row| access.may(seen_by(&row.subject_kind)));
    let names = db::names(conn, series).await?;
    Ok(rows
        .into_iter()
        .map(|row| {
            let what = names.get(&row.subject_id).cloned().unwrap_or_default();
            ReminderView {
                path: path(series, &row.subject_kind, row.subject_id),
                what: db::about(&what, &row.aspect),
                id: row.id,
                subject_kind: row.subject_kind,
                subject_id: row.subject_id,
                due_on: row.due_on,
                days_before: row.days_before,
                fire_at: row.fire_at,
                fired_at: row.fired_at,
                acknowledged_at: row.acknowledged_at,
            }
        })
        .collect())
}

/// Where in the web part a subject is.
pub fn path(series: Uuid, kind: &str, id: Uuid) -> String {
    let place = match kind {
        "licence" => "clearance/licences",
        "drive" => "footage/drives",
        _ => "delivery/deliverables",
    };
    format!("/s/{series}/{place}?record={id}")
}

/// The right to see what a reminder is about: a licence's tells of its owner, a drive's of the footage.
fn seen_by(kind: &str) -> Action {
    match kind {
        "licence" => Action::ViewLicences,
        "drive" => Action::ViewFootage,
        _ => Action::ViewDeliveries,
    }
}

/// Says that somebody has seen to it; the other thresholds of the same date stay.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn acknowledge(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewDeliveries).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let kind: Option<String> = diesel::update(
            reminders::table
                .filter(reminders::id.eq(id))
                .filter(reminders::series_id.eq(series)),
        )
        .set((
            reminders::acknowledged_by.eq(actor.user_id),
            reminders::acknowledged_at.eq(now),
        ))
        .returning(reminders::subject_kind)
        .get_result(conn)
        .await
        .optional()?;
        let kind = kind.ok_or(OpError::NotFound("the reminder"))?;
        access.require(seen_by(&kind))?;
        let subject = Subject::of(series, "reminder", id);
        audit::record(conn, actor, now, "acknowledged", subject, NOTHING, NOTHING).await
    })
    .await
}

/// Who is told about a subject: its owner; from a week before, and where there is none, all who may change it.
///
/// # Errors
/// The database's.
pub async fn recipients(
    conn: &mut Conn,
    series: Uuid,
    kind: &str,
    id: Uuid,
    days_before: i32,
) -> Result<Vec<tables::users::User>, OpError> {
    let action = match kind {
        "licence" => Action::EditLicences,
        "drive" => Action::EditFootage,
        _ => Action::EditDeliverables,
    };
    let owner = db::owner(conn, kind, id).await?;
    let mut told = Vec::new();
    for member in tables::series::members(conn, series).await? {
        let may = waybill_domain::perms::may(&member.roles, false, action);
        let owns = owner == Some(member.user_id);
        if owns || (may && (owner.is_none() || days_before <= 7)) {
            told.extend(tables::users::load(conn, member.user_id).await?);
        }
    }
    Ok(told)
}
