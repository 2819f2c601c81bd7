//! Lists that teams have already: a file comes in and is kept for a day, a preview says of each row what it would do,
//! and only the import stores anything, in one transaction. An import can be undone as one act. Lists go out in the form
//! in which they come in.
//!
//! The preview keeps nothing: it is worked anew from the stored file, the mapping that the page sends and the records as
//! they are. What was shown has a fingerprint, and the import refuses when it would do something else.

pub mod export;
pub mod file;
pub mod import;
mod kind;
mod names;
mod opened;
pub mod plan;
pub mod preview;
pub mod undo;
mod write;

use bytes::Bytes;
use chrono::{DateTime, TimeDelta, Utc};
use diesel_async::AsyncConnection;
use futures_util::{Stream, StreamExt};
use serde::{Deserialize, Serialize};
use tokio::sync::Semaphore;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::sheet::delimited::Separator;
use waybill_domain::sheet::{SheetKind, SheetMapping};

use super::access::{Access, Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::check;
use crate::app::App;
use crate::db::Conn;
use crate::db::sheets::{self as db, MappingRow, UploadRow};
use crate::error::OpError;

pub use kind::{rights, word};

/// Largest file, bytes.
pub const LARGEST: usize = 10 * 1024 * 1024;
/// Files that are read at the same time: reading uses a core.
static READING: Semaphore = Semaphore::const_new(2);

/// What to do with a row that is a duplicate of a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RowAct {
    /// Leave the row out.
    #[default]
    Skip,
    /// Change the record.
    Update,
    /// Make a new record beside it.
    New,
}

/// What a person decided for one row.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RowChoice {
    /// Number of the row in the file.
    pub number: u32,
    pub act: RowAct,
    /// With `update`: which of several duplicates.
    #[serde(default)]
    pub record_id: Option<Uuid>,
}

/// How a file is read and what its rows do. What is left out is guessed, and said in the answer.
#[derive(Clone, Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SheetAsk {
    /// Name of the sheet in the workbook.
    #[serde(default)]
    pub sheet: Option<String>,
    /// What parts the cells of a text file.
    #[serde(default)]
    pub separator: Option<Separator>,
    /// Number of the row with the headings; 0 for none.
    #[serde(default)]
    pub heading_row: Option<u32>,
    #[serde(default)]
    pub mapping: Option<SheetMapping>,
    /// In place of `mapping`: one that was kept.
    #[serde(default)]
    pub kept_mapping: Option<Uuid>,
    /// For duplicates that nobody decided on.
    #[serde(default)]
    pub for_duplicates: RowAct,
    #[serde(default)]
    pub choices: Vec<RowChoice>,
}

/// A file that was taken in.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetUpload {
    pub id: Uuid,
    pub kind: SheetKind,
    pub name: String,
    /// Bytes.
    pub size: usize,
    /// When it is deleted, with all that stands in it.
    pub kept_until: DateTime<Utc>,
}

/// Takes a file in. It must be a table that can be read; what it holds is judged by the preview.
///
/// # Errors
/// Access; `TooLarge`; `UnsupportedType` and `BadRequest` with what to do instead; the database's.
pub async fn receive<E: std::fmt::Display>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    kind: SheetKind,
    name: &str,
    body: impl Stream<Item = Result<Bytes, E>>,
) -> Result<SheetUpload, OpError> {
    // The connection goes back before the slow part begins.
    enter(&*app.pool.get().await?, actor, series, rights(kind).edit).await?;
    let mut faults = Vec::new();
    check::required(&mut faults, "/name", name, 255);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let content = pour(body).await?;
    let size = content.len();
    let content = {
        let _place = READING
            .acquire()
            .await
            .map_err(|error| OpError::Internal(format!("sheets: {error}")))?;
        blocking(move || file::open(&content, None, None).map(|_| content)).await?
    };
    let row = UploadRow {
        id: Uuid::now_v7(),
        series_id: series,
        user_id: actor.user_id,
        kind: word(kind).to_owned(),
        name: name.trim().to_owned(),
        content,
        created_at: app.now(),
    };
    db::keep(&mut *app.pool.get().await?, &row).await?;
    Ok(SheetUpload {
        id: row.id,
        kind,
        name: row.name,
        size,
        kept_until: row.created_at + TimeDelta::days(1),
    })
}

async fn pour<E: std::fmt::Display>(
    body: impl Stream<Item = Result<Bytes, E>>,
) -> Result<Vec<u8>, OpError> {
    let mut body = std::pin::pin!(body);
    let mut content = Vec::new();
    while let Some(chunk) = body.next().await {
        let chunk = chunk.map_err(|error| {
            OpError::BadRequest(format!("the file broke off ({error}); nothing was kept"))
        })?;
        if content.len() + chunk.len() > LARGEST {
            return Err(OpError::TooLarge(format!(
                "the list has more than {} MB; take pictures and other sheets out of it, or split it",
                LARGEST >> 20
            )));
        }
        content.extend_from_slice(&chunk);
    }
    Ok(content)
}

/// Runs what keeps a core busy where it keeps nobody waiting.
async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, file::SheetError> + Send + 'static,
) -> Result<T, OpError> {
    super::blocking(work).await?.map_err(OpError::from)
}

/// The file of this person, with what they may do; refused once its day is over.
async fn upload(
    app: &App,
    conn: &mut Conn,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
) -> Result<(Access, SheetKind, UploadRow), OpError> {
    let access = super::access::look(conn, actor, series).await?;
    let since = app.now() - TimeDelta::days(1);
    let row = db::upload(conn, series, actor.user_id, id, since)
        .await?
        .ok_or(OpError::NotFound(
            "the list (it is kept for a day; send it again)",
        ))?;
    let kind = kind::of_word(&row.kind)?;
    access.require(rights(kind).edit)?;
    Ok((access, kind, row))
}

/// Deletes a file before its day is over.
///
/// # Errors
/// Access; the database's.
pub async fn forget(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    super::access::look(conn, actor, series).await?;
    Ok(db::forget(conn, series, actor.user_id, id).await?)
}

/// Deletes all files whose day is over.
///
/// # Errors
/// The database's.
pub async fn sweep(app: &App) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    Ok(db::forget_before(conn, app.now() - TimeDelta::days(1)).await?)
}

/// A mapping under its name.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptMapping {
    pub id: Uuid,
    pub kind: SheetKind,
    pub name: String,
    pub mapping: SheetMapping,
    pub made_by: String,
    pub updated_at: DateTime<Utc>,
}

fn kept(row: MappingRow) -> Result<KeptMapping, OpError> {
    Ok(KeptMapping {
        id: row.id,
        kind: kind::of_word(&row.kind)?,
        name: row.name,
        mapping: serde_json::from_value(row.mapping)
            .map_err(|error| OpError::Internal(format!("kept mapping: {error}")))?,
        made_by: row.made_by,
        updated_at: row.updated_at,
    })
}

/// The mappings that were kept, for one kind of list or for all that the person may bring in.
///
/// # Errors
/// Access; the database's.
pub async fn mappings(
    app: &App,
    actor: &Actor,
    series: Uuid,
    kind: Option<SheetKind>,
) -> Result<Vec<KeptMapping>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = super::access::look(conn, actor, series).await?;
    let mut out = Vec::new();
    for one in SheetKind::ALL {
        let asked = kind.is_none_or(|kind| kind == one);
        if asked && access.may(rights(one).edit) {
            let rows = db::mappings(conn, series, word(one)).await?;
            for row in rows {
                out.push(kept(row)?);
            }
        }
    }
    Ok(out)
}

/// Keeps a mapping under a name; one that had the name is replaced.
///
/// # Errors
/// Access; `Invalid`; the database's.
pub async fn keep_mapping(
    app: &App,
    actor: &Actor,
    series: Uuid,
    kind: SheetKind,
    name: &str,
    mapping: SheetMapping,
) -> Result<KeptMapping, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, rights(kind).edit).await?;
    let mut faults = Vec::new();
    check::required(&mut faults, "/name", name, 100);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    if let Some(fault) = mapping.fault(kind, &[]) {
        return Err(OpError::field("/mapping", fault));
    }
    let value = serde_json::to_value(&mapping)
        .map_err(|error| OpError::Internal(format!("mapping: {error}")))?;
    let text = value.to_string();
    if text.len() > 200_000 || text.contains("\\u0000") {
        return Err(OpError::field(
            "/mapping",
            "This mapping is too large, or has control characters in it.",
        ));
    }
    let now = app.now();
    let row = conn
        .transaction::<_, OpError, _>(async |conn| {
            let all = db::mappings(conn, series, word(kind)).await?;
            let same = |row: &&MappingRow| row.name.to_lowercase() == name.trim().to_lowercase();
            let instead: Vec<Uuid> = all.iter().filter(same).map(|row| row.id).collect();
            let row = MappingRow {
                id: Uuid::now_v7(),
                series_id: series,
                kind: word(kind).to_owned(),
                name: name.trim().to_owned(),
                mapping: value,
                made_by: actor.name.clone(),
                updated_at: now,
            };
            db::keep_mapping(conn, &row, &instead).await?;
            let subject = Subject::of(series, "sheet_mapping", row.id);
            let after = serde_json::json!({ "kind": row.kind, "name": row.name });
            audit::record(conn, actor, now, "kept", subject, NOTHING, Some(&after)).await?;
            Ok(row)
        })
        .await?;
    kept(row)
}

/// Deletes a kept mapping.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn forget_mapping(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = super::access::look(conn, actor, series).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let row = db::mapping(conn, series, id)
            .await?
            .ok_or(OpError::NotFound("the kept mapping"))?;
        access.require(rights(kind::of_word(&row.kind)?).edit)?;
        db::forget_mapping(conn, id).await?;
        let subject = Subject::of(series, "sheet_mapping", id);
        let before = serde_json::json!({ "kind": row.kind, "name": row.name });
        audit::record(conn, actor, now, "deleted", subject, Some(&before), NOTHING).await
    })
    .await
}
