//! The five things that can be done with any record of a series, and the undo of one of them.
//!
//! Concurrency is decided by the `update … where version = …` itself, never by reading first: of two people who
//! changed the same version one wins, and the other gets both versions back.

use std::collections::{BTreeMap, HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Uuid as SqlUuid};
use diesel_async::{AsyncConnection, RunQueryDsl};
use serde::Serialize;
use uuid::Uuid;
use waybill_domain::perms::Action;

use super::access::{Access, Actor, enter};
use super::audit::{self, NOTHING, Subject};
use crate::app::App;
use crate::db::Conn;
use crate::db::record::{Fields, Record, Reference};
use crate::error::{FieldError, OpError};

/// Who may see and who may change a kind of record.
#[derive(Clone, Copy)]
pub struct Rights {
    pub view: Action,
    pub edit: Action,
}

/// A page of a list.
#[derive(Debug, Serialize)]
pub struct Page<T> {
    pub items: Vec<T>,
    /// Id to ask the next page with; none on the last.
    pub next: Option<Uuid>,
}

/// What a list is asked for.
#[derive(Debug, Default)]
pub struct Ask {
    pub q: Option<String>,
    pub after: Option<Uuid>,
    pub limit: Option<i64>,
}

/// Live records, oldest first.
///
/// # Errors
/// Access; the database's.
pub async fn list<R: Record>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    rights: Rights,
    ask: Ask,
) -> Result<Page<R>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, rights.view).await?;
    let limit = ask.limit.unwrap_or(200).clamp(1, 500);
    let q = ask.q.filter(|q| !q.trim().is_empty());
    if q.as_ref()
        .is_some_and(|q| q.len() > 500 || q.contains('\0'))
    {
        return Err(OpError::BadRequest(
            "search for fewer words, without control characters".into(),
        ));
    }
    let mut items = R::list(conn, series, q, ask.after, limit + 1).await?;
    let more = items.len() as i64 > limit;
    items.truncate(usize::try_from(limit).unwrap_or(usize::MAX));
    let next = items.last().filter(|_| more).map(Record::id);
    for item in &mut items {
        item.fields_mut().hide(&access);
    }
    Ok(Page { items, next })
}

/// One record, from the bin too (so that it can be restored from its address).
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn read<R: Record>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    rights: Rights,
    id: Uuid,
) -> Result<R, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, rights.view).await?;
    let mut record = find::<R>(conn, series, id).await?;
    record.fields_mut().hide(&access);
    Ok(record)
}

/// Makes a record, under an id that the client may have chosen (so that sending it twice is harmless).
///
/// # Errors
/// Access; `Invalid` with every fault; `Conflict` when the id is taken; the database's.
pub async fn create<R: Record>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    rights: Rights,
    mut fields: R::Fields,
) -> Result<R, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, rights.edit).await?;
    let now = app.now();
    let mut record = conn
        .transaction::<_, OpError, _>(async |conn| {
            fields.settle();
            fields.note_entering(None, &access, access.today(now));
            fields.allowed(None, &access)?;
            check_today(conn, &access, now, None, &fields).await?;
            let record = R::insert(conn, series, Uuid::now_v7(), fields.clone(), now).await?;
            let subject = Subject::of(series, R::KIND, record.id());
            audit::record(conn, actor, now, "created", subject, NOTHING, Some(&record)).await?;
            super::after::changed(conn, &access, now, R::KIND, record.id()).await?;
            Ok(record)
        })
        .await?;
    record.fields_mut().hide(&access);
    Ok(record)
}

/// Replaces the fields of version `version`.
///
/// # Errors
/// Access; `Invalid`; `NotFound`; `Stale` with the version that is there; the database's.
pub async fn replace<R: Record>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    rights: Rights,
    id: Uuid,
    version: i32,
    mut fields: R::Fields,
) -> Result<R, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, rights.edit).await?;
    let now = app.now();
    let mut record = conn
        .transaction::<_, OpError, _>(async |conn| {
            let before = find::<R>(conn, series, id).await?;
            fields.keep_hidden(before.fields(), &access);
            fields.settle();
            fields.note_entering(Some(before.fields()), &access, access.today(now));
            fields.allowed(Some(before.fields()), &access)?;
            check_today(conn, &access, now, Some((id, before.fields())), &fields).await?;
            let Some(record) = R::update(conn, series, id, version, fields.clone(), now).await?
            else {
                return Err(stale::<R>(conn, &access, id).await?);
            };
            let subject = Subject::of(series, R::KIND, id);
            audit::record(
                conn,
                actor,
                now,
                "changed",
                subject,
                Some(&before),
                Some(&record),
            )
            .await?;
            super::after::changed(conn, &access, now, R::KIND, id).await?;
            Ok(record)
        })
        .await?;
    record.fields_mut().hide(&access);
    Ok(record)
}

/// Moves a record to the bin; refused while others name it.
///
/// # Errors
/// Access; `NotFound`; `Stale`; `UnsafeState` naming what still uses it; the database's.
pub async fn remove<R: Record>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    rights: Rights,
    id: Uuid,
    version: i32,
) -> Result<R, OpError> {
    set_deleted(app, actor, series, rights, id, Some(version)).await
}

/// Takes a record back from the bin.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn restore<R: Record>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    rights: Rights,
    id: Uuid,
) -> Result<R, OpError> {
    set_deleted(app, actor, series, rights, id, None).await
}

/// `version` given: to the bin; none: back.
async fn set_deleted<R: Record>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    rights: Rights,
    id: Uuid,
    version: Option<i32>,
) -> Result<R, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, rights.edit).await?;
    let now = app.now();
    let mut record = conn
        .transaction::<_, OpError, _>(async |conn| {
            let before = find::<R>(conn, series, id).await?;
            let (at, deleted_at, action) = match version {
                Some(version) => (version, Some(now), "deleted"),
                None => (before.version(), None, "restored"),
            };
            if before.deleted_at().is_some() == deleted_at.is_some() {
                return Ok(before);
            }
            if deleted_at.is_some() {
                unused::<R>(conn, id).await?;
            } else {
                // What it points at may have gone to the bin after it.
                valid(references(conn, series, before.fields()).await?)?;
            }
            let Some(record) = R::set_deleted(conn, series, id, at, deleted_at, now).await? else {
                return Err(stale::<R>(conn, &access, id).await?);
            };
            let subject = Subject::of(series, R::KIND, id);
            audit::record(
                conn,
                actor,
                now,
                action,
                subject,
                Some(&before),
                Some(&record),
            )
            .await?;
            super::after::changed(conn, &access, now, R::KIND, id).await?;
            Ok(record)
        })
        .await?;
    record.fields_mut().hide(&access);
    Ok(record)
}

async fn find<R: Record>(conn: &mut Conn, series: Uuid, id: Uuid) -> Result<R, OpError> {
    R::load(conn, series, id)
        .await?
        .ok_or(OpError::NotFound(R::NAME))
}

async fn stale<R: Record>(conn: &mut Conn, access: &Access, id: Uuid) -> Result<OpError, OpError> {
    let mut current = find::<R>(conn, access.series.id, id).await?;
    current.fields_mut().hide(access);
    audit::stale(conn, id, current.version(), &current).await
}

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = BigInt)]
    n: i64,
}

/// What the rules of a kind say, those that only the database knows too.
pub(super) async fn check<F: Fields>(
    conn: &mut Conn,
    series: Uuid,
    old: Option<(Uuid, &F)>,
    fields: &F,
) -> Result<(), OpError> {
    checked(conn, series, old, fields, fields.faults()).await
}

/// The same of a change that somebody makes now.
async fn check_today<F: Fields>(
    conn: &mut Conn,
    access: &Access,
    now: DateTime<Utc>,
    old: Option<(Uuid, &F)>,
    fields: &F,
) -> Result<(), OpError> {
    let mut faults = fields.faults();
    faults.extend(fields.faults_today(old.map(|(_, old)| old), access.today(now)));
    checked(conn, access.series.id, old, fields, faults).await
}

async fn checked<F: Fields>(
    conn: &mut Conn,
    series: Uuid,
    old: Option<(Uuid, &F)>,
    fields: &F,
    mut faults: Vec<FieldError>,
) -> Result<(), OpError> {
    faults.extend(references(conn, series, fields).await?);
    valid(faults)?;
    F::gate(conn, series, old, fields).await
}

/// The references that lead nowhere.
async fn references<F: Fields>(
    conn: &mut Conn,
    series: Uuid,
    fields: &F,
) -> Result<Vec<FieldError>, OpError> {
    let mut all = all_references(conn, series, vec![fields.references()]).await?;
    Ok(all.pop().unwrap_or_default())
}

/// The references of many records that lead nowhere, looked for with one question to each table.
pub(super) async fn all_references(
    conn: &mut Conn,
    series: Uuid,
    all: Vec<Vec<Reference>>,
) -> Result<Vec<Vec<FieldError>>, OpError> {
    let mut sought: BTreeMap<&'static str, HashSet<Uuid>> = BTreeMap::new();
    for reference in all.iter().flatten() {
        sought
            .entry(reference.table)
            .or_default()
            .insert(reference.id);
    }
    let mut there: HashSet<(&'static str, Uuid)> = HashSet::new();
    for (table, ids) in sought {
        // Table names come from the code, never from a request.
        let found: Vec<Found> = diesel::sql_query(format!(
            "select id, 1::int8 as n from {table} where id = any($1) and series_id = $2 and deleted_at is null"
        ))
        .bind::<Array<SqlUuid>, _>(ids.into_iter().collect::<Vec<_>>())
        .bind::<SqlUuid, _>(series)
        .load(conn)
        .await?;
        there.extend(found.into_iter().map(|one| (table, one.id)));
    }
    let faults = |references: Vec<Reference>| {
        references
            .into_iter()
            .filter(|one| !there.contains(&(one.table, one.id)))
            .map(|one| {
                FieldError::new(
                    one.pointer,
                    "There is no such record in this series (it may have been deleted).",
                )
            })
            .collect()
    };
    Ok(all.into_iter().map(faults).collect())
}

fn valid(faults: Vec<FieldError>) -> Result<(), OpError> {
    if faults.is_empty() {
        Ok(())
    } else {
        Err(OpError::Invalid(faults))
    }
}

async fn unused<R: Record>(conn: &mut Conn, id: Uuid) -> Result<(), OpError> {
    match users::<R>(conn, &[id]).await?.remove(&id) {
        None => Ok(()),
        Some(words) => Err(OpError::UnsafeState(words)),
    }
}

/// Why records are not to be deleted: what names them still, in a sentence; only those that something names.
pub(super) async fn users<R: Record>(
    conn: &mut Conn,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, String>, OpError> {
    let mut users: HashMap<Uuid, Vec<String>> = HashMap::new();
    for (table, column, words) in R::USED_BY {
        let found: Vec<Found> = diesel::sql_query(format!(
            "select sought as id, count(*) as n from unnest($1::uuid[]) as u (sought) \
             join (select * from {table}) as users on sought = {column} where deleted_at is null group by sought"
        ))
        .bind::<Array<SqlUuid>, _>(ids)
        .load(conn)
        .await?;
        for one in found {
            let said = format!("{} {words}", one.n);
            users.entry(one.id).or_default().push(said);
        }
    }
    let sentence = |users: Vec<String>| {
        format!(
            "{} is still named by {}. Change or delete those first; nothing was deleted.",
            R::NAME,
            users.join(" and ")
        )
    };
    Ok(users
        .into_iter()
        .map(|(id, users)| (id, sentence(users)))
        .collect())
}
