//! The import: all rows or none, in one transaction, each as through the record's own routes; or the good rows alone,
//! when somebody says so. And the list of the rows that are in error, to be corrected and brought in again.

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::sheet::{Cell, SheetKind};
use waybill_domain::wording;
use waybill_reports::sheet::SheetTable;

use super::kind;
use super::opened::open;
use super::plan::{Planned, RowOutcome};
use super::preview::counts;
use super::write::{self, Outcome, What, Write};
use super::{RowAct, SheetAsk, names, word};
use crate::app::App;
use crate::db::Conn;
use crate::db::sheets::{self as db, ImportRow, ImportedRow};
use crate::error::{OpError, REQUEST_ID};
use crate::ops::access::{Access, Actor, enter, look};
use crate::ops::audit::{self, NOTHING, Subject};

/// What is brought in: what the preview showed.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ImportAsk {
    pub ask: SheetAsk,
    /// Of the preview. When the records or the file say something else by now, nothing is stored.
    pub fingerprint: String,
    /// Rows in error are left out; else one of them keeps everything out.
    #[serde(default)]
    pub only_good: bool,
}

/// An act of bringing in a list.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetImport {
    pub id: Uuid,
    pub kind: SheetKind,
    pub file_name: String,
    pub by: String,
    pub at: DateTime<Utc>,
    /// Records that it made.
    pub made: i32,
    /// Records that it changed.
    pub changed: i32,
    /// Rows that did nothing: the same, duplicates that were left out.
    pub left_out: i32,
    /// Rows in error that were left out.
    pub faulty: i32,
    #[schema(required)]
    pub undone_at: Option<DateTime<Utc>>,
    #[schema(required)]
    pub undone_by: Option<String>,
    /// What the undo left as it is.
    pub kept: Vec<KeptRecord>,
    /// Whether this person may undo it.
    pub may_undo: bool,
}

/// A record that an undo left as it is.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct KeptRecord {
    /// Row of the list.
    pub row: i32,
    pub record_id: Uuid,
    pub title: String,
    /// Why.
    pub words: String,
}

pub(super) fn import_view(access: &Access, row: ImportRow) -> Result<SheetImport, OpError> {
    let kind = kind::of_word(&row.kind)?;
    let kept = row
        .kept
        .map(serde_json::from_value)
        .transpose()
        .map_err(|error| OpError::Internal(format!("kept records: {error}")))?;
    Ok(SheetImport {
        id: row.id,
        kind,
        file_name: row.file_name,
        by: row.user_name,
        at: row.at,
        made: row.made,
        changed: row.changed,
        left_out: row.left_out,
        faulty: row.faulty,
        may_undo: row.undone_at.is_none() && access.may(kind::rights(kind).edit),
        undone_at: row.undone_at,
        undone_by: row.undone_by,
        kept: kept.unwrap_or_default(),
    })
}

/// The newest 200 imports of the kinds that the person may see.
///
/// # Errors
/// Access; the database's.
pub async fn list(app: &App, actor: &Actor, series: Uuid) -> Result<Vec<SheetImport>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = look(conn, actor, series).await?;
    let rows = db::imports(conn, series, 200).await?;
    let mut out = Vec::new();
    for row in rows {
        if access.may(kind::rights(kind::of_word(&row.kind)?).view) {
            out.push(import_view(&access, row)?);
        }
    }
    Ok(out)
}

/// Brings a list in.
///
/// # Errors
/// Access; `Conflict` when something is otherwise than the preview showed, or rows are in error; the database's. Nothing
/// is stored then.
pub async fn bring_in(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    import: &ImportAsk,
) -> Result<SheetImport, OpError> {
    let (_, upload, opened) = open(app, actor, series, id, &import.ask).await?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let access = enter(conn, actor, series, kind::rights(opened.kind).edit).await?;
        let names = names::load(conn, &access, opened.kind).await?;
        let today = access.today(now);
        let plan = (opened.plan(conn, &access, &names, &import.ask, today)).await?;
        if plan.fingerprint != import.fingerprint {
            return Err(OpError::Conflict(
                "The records, or the list, are not as the preview showed them. Nothing was stored; look at the preview again.".into(),
            ));
        }
        let counted = counts(&plan.rows);
        let blocking = counted.blocking;
        if blocking > 0 && !import.only_good {
            return Err(OpError::Conflict(format!(
                "{} in error. Correct that, or choose to bring in only the good rows. Nothing was stored.",
                wording::counted(blocking as u64, "row is", "rows are")
            )));
        }
        let import_id = Uuid::now_v7();
        let rows = carry_out(conn, &access, opened.kind, now, import_id, &plan.rows).await?;
        if rows.is_empty() {
            return Err(OpError::Conflict(
                "No row makes or changes anything, so there is nothing to bring in.".into(),
            ));
        }
        let number = |n: usize| i32::try_from(n).unwrap_or(i32::MAX);
        let row = ImportRow {
            id: import_id,
            series_id: series,
            kind: word(opened.kind).to_owned(),
            file_name: upload.name.clone(),
            user_id: Some(actor.user_id),
            user_name: actor.name.clone(),
            at: now,
            made: number(counted.would_make),
            changed: number(counted.would_change),
            left_out: number(counted.rows - counted.faulty - counted.would_make - counted.would_change),
            faulty: number(counted.faulty),
            request_id: REQUEST_ID.try_with(|id| *id).ok(),
            undone_at: None,
            undone_by: None,
            kept: None,
        };
        db::add_import(conn, &row, &rows).await?;
        let subject = Subject::of(series, "sheet_import", import_id);
        let after = json!({
            "kind": row.kind, "file_name": row.file_name, "made": row.made, "changed": row.changed,
            "left_out": row.left_out, "faulty": row.faulty,
        });
        audit::record(conn, actor, now, "imported", subject, NOTHING, Some(&after)).await?;
        db::forget(conn, series, actor.user_id, id).await?;
        import_view(&access, row)
    })
    .await
}

async fn carry_out(
    conn: &mut Conn,
    access: &Access,
    kind: SheetKind,
    now: DateTime<Utc>,
    import_id: Uuid,
    rows: &[Planned],
) -> Result<Vec<ImportedRow>, OpError> {
    let (mut out, mut writes) = (Vec::new(), Vec::new());
    for one in rows
        .iter()
        .filter(|one| one.row.outcome != RowOutcome::Faulty)
    {
        let (id, what, before) = match (one.row.act, &one.target) {
            (RowAct::New, _) => (Uuid::now_v7(), What::Make(one.fields.clone()), None),
            (RowAct::Update, Some(item)) => (
                item.id,
                What::Change(item.version, one.fields.clone()),
                Some(Value::Object(item.whole.clone())),
            ),
            _ => continue,
        };
        let row = i32::try_from(one.row.number).unwrap_or(i32::MAX);
        writes.push(Write { row, id, what });
        out.push(ImportedRow {
            import_id,
            record_id: id,
            number: row,
            version: 0, // known when it is written
            before,
        });
    }
    let outcomes = write::all(conn, access, kind, now, writes).await?;
    for (row, outcome) in out.iter_mut().zip(outcomes) {
        let Outcome::Written(version) = outcome else {
            return Err(OpError::Conflict(format!(
                "Somebody changed the record of row {} just now. Nothing was stored; look at the preview again.",
                row.number
            )));
        };
        row.version = version;
    }
    let ids: Vec<Uuid> = out.iter().map(|row| row.record_id).collect();
    crate::ops::after::changed_many(conn, access, now, kind::record_kind(kind), &ids).await?;
    Ok(out)
}

/// The rows in error as a table of their own: as they stand in the file, with a column that says what is wrong.
///
/// # Errors
/// As the preview.
pub async fn faulty_rows(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    ask: &SheetAsk,
) -> Result<Vec<u8>, OpError> {
    let (access, _, opened) = open(app, actor, series, id, ask).await?;
    let conn = &mut *app.pool.get().await?;
    let names = names::load(conn, &access, opened.kind).await?;
    let today = access.today(app.now());
    let plan = opened.plan(conn, &access, &names, ask, today).await?;
    let mut headings: Vec<String> = opened.headings.clone();
    let width = headings.len();
    headings.push("What is wrong".into());
    let mut rows = Vec::new();
    for one in plan
        .rows
        .iter()
        .filter(|one| one.row.outcome == RowOutcome::Faulty)
    {
        let Some(grid) = opened.grid(one.row.number) else {
            continue;
        };
        let mut cells: Vec<Cell> = (0..width).map(|at| grid.cell(at).clone()).collect();
        let words: Vec<String> = one
            .row
            .faults
            .iter()
            .map(
                |fault| match fault.heading.as_ref().or(fault.label.as_ref()) {
                    Some(place) => format!("{place}: {}", fault.words),
                    None => fault.words.clone(),
                },
            )
            .collect();
        cells.push(Cell::text(words.join(" ")));
        rows.push(cells);
    }
    let table = SheetTable {
        name: "Rows in error".into(),
        headings,
        rows,
        numbers: vec![],
    };
    waybill_reports::sheet::csv(&table)
        .map_err(|error| OpError::Internal(format!("rows in error: {error}")))
}
