//! Writing the records of a list: those that are made in statements of many, those that go to the bin too, each with
//! its line in the audit trail.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use uuid::Uuid;
use waybill_domain::sheet::SheetKind;

use super::kind::{of_kind, read, record_kind};
use crate::db::Conn;
use crate::db::record::{MOST_INSERTED, Record};
use crate::error::OpError;
use crate::ops::access::Access;
use crate::ops::audit::{self, Line, Subject};
use crate::ops::records;

/// What is to happen with a record, and the row of the list that says so.
pub(super) struct Write {
    pub row: i32,
    pub id: Uuid,
    pub what: What,
}

/// What is to happen with a record.
pub(super) enum What {
    Make(Map<String, Value>),
    /// Of this version.
    Change(i32, Map<String, Value>),
    /// Of this version.
    Bin(i32),
}

/// What came of it.
pub(super) enum Outcome {
    /// The version that it has now.
    Written(i32),
    /// Its version is another by now.
    Stale,
    /// Others name it, as the sentence says; it is as it was.
    Used(String),
}

/// Carries out all of it, changes first, so that a name that one row gives up is free for another. Outcomes are in the
/// order of `writes`.
pub(super) async fn all(
    conn: &mut Conn,
    access: &Access,
    kind: SheetKind,
    now: DateTime<Utc>,
    writes: Vec<Write>,
) -> Result<Vec<Outcome>, OpError> {
    of_kind!(kind, of(conn, access, kind, now, writes).await)
}

async fn of<R: Record>(
    conn: &mut Conn,
    access: &Access,
    kind: SheetKind,
    now: DateTime<Utc>,
    writes: Vec<Write>,
) -> Result<Vec<Outcome>, OpError>
where
    R::Fields: DeserializeOwned,
{
    let series = access.series.id;
    let order: Vec<(Uuid, &'static str)> = writes
        .iter()
        .map(|write| (write.id, write.what.action()))
        .collect();
    let before = before::<R>(conn, series, &writes).await?;
    let (mut makes, mut bins, mut after) = (Vec::new(), Vec::new(), HashMap::new());
    for write in writes {
        let version = before.get(&write.id).map(R::version);
        match write.what {
            What::Make(fields) => makes.push((write.row, write.id, read::<R>(fields)?)),
            What::Bin(of) if version == Some(of) => bins.push(write.id),
            What::Change(of, fields) if version == Some(of) => {
                let fields = read::<R>(fields)?;
                let changed = R::update(conn, series, write.id, of, fields, now).await;
                let changed = changed.map_err(|error| at_row(write.row, error.into()))?;
                after.extend(changed.map(|record| (write.id, record)));
            }
            What::Bin(_) | What::Change(..) => {}
        }
    }
    let mut used = records::users::<R>(conn, &bins).await?;
    bins.retain(|id| !used.contains_key(id));
    let binned = R::bin_all(conn, series, &bins, now).await?;
    after.extend(binned.into_iter().map(|record| (record.id(), record)));
    for some in makes.chunks(MOST_INSERTED) {
        let made = insert::<R>(conn, series, some, now).await?;
        after.extend(made.into_iter().map(|record| (record.id(), record)));
    }
    let mut lines = Vec::with_capacity(order.len());
    let mut out = Vec::with_capacity(order.len());
    for (id, action) in order {
        let Some(record) = after.get(&id) else {
            out.push(used.remove(&id).map_or(Outcome::Stale, Outcome::Used));
            continue;
        };
        out.push(Outcome::Written(record.version()));
        lines.push(Line {
            action,
            subject: Subject::of(series, record_kind(kind), id),
            before: before.get(&id).map(json).transpose()?,
            after: Some(json(record)?),
        });
    }
    audit::record_all(conn, &access.actor, now, lines).await?;
    Ok(out)
}

impl What {
    fn action(&self) -> &'static str {
        match self {
            Self::Make(_) => "created",
            Self::Change(..) => "changed",
            Self::Bin(_) => "deleted",
        }
    }
}

/// The records that are there already, as they are, locked.
async fn before<R: Record>(
    conn: &mut Conn,
    series: Uuid,
    writes: &[Write],
) -> Result<HashMap<Uuid, R>, OpError> {
    let there = |write: &&Write| !matches!(write.what, What::Make(_));
    let ids: Vec<Uuid> = writes.iter().filter(there).map(|write| write.id).collect();
    if ids.is_empty() {
        return Ok(HashMap::new());
    }
    let found = R::lock_all(conn, series, &ids).await?;
    Ok(found
        .into_iter()
        .map(|record| (record.id(), record))
        .collect())
}

/// Inserts some; when the database refuses, one after another, to say which row it is.
async fn insert<R: Record>(
    conn: &mut Conn,
    series: Uuid,
    some: &[(i32, Uuid, R::Fields)],
    now: DateTime<Utc>,
) -> Result<Vec<R>, OpError> {
    let together = conn
        .transaction::<_, OpError, _>(async |conn| {
            let new = some.iter().map(|(_, id, fields)| (*id, fields.clone()));
            Ok(R::insert_all(conn, series, new.collect(), now).await?)
        })
        .await;
    if let Ok(made) = together {
        return Ok(made);
    }
    let mut made = Vec::with_capacity(some.len());
    for (row, id, fields) in some {
        let one = R::insert(conn, series, *id, fields.clone(), now).await;
        made.push(one.map_err(|error| at_row(*row, error.into()))?);
    }
    Ok(made)
}

fn json<R: Record>(record: &R) -> Result<Value, OpError> {
    serde_json::to_value(record).map_err(|error| OpError::Internal(format!("record: {error}")))
}

/// Says which row a fault is in.
fn at_row(row: i32, error: OpError) -> OpError {
    match error {
        OpError::Invalid(mut faults) => {
            for fault in &mut faults {
                fault.pointer = format!("/rows/{row}{}", fault.pointer);
            }
            OpError::Invalid(faults)
        }
        OpError::Conflict(words) => OpError::Conflict(format!("Row {row}: {words}")),
        other => other,
    }
}
