//! Taking an import back, as one act: records that it made go to the bin, records that it changed are as they were.
//! What somebody changed since, or what others refer to by now, is named and left.

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde_json::{Value, json};
use uuid::Uuid;
use waybill_domain::sheet::SheetKind;
use waybill_domain::sheet::row;
use waybill_domain::sheet::value::Names;

use super::import::{KeptRecord, SheetImport, import_view};
use super::kind::{self, Judged, Write};
use super::names;
use crate::app::App;
use crate::db::Conn;
use crate::db::sheets::{self as db, ImportedRow};
use crate::error::OpError;
use crate::ops::access::{Access, Actor, look};
use crate::ops::audit::{self, NOTHING, Subject};

/// Undoes an import.
///
/// # Errors
/// Access; `NotFound`; `Conflict` when it was undone before; the database's.
pub async fn undo(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
) -> Result<SheetImport, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = look(conn, actor, series).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let mut import = db::lock_import(conn, series, id)
            .await?
            .ok_or(OpError::NotFound("the import"))?;
        let kind = kind::of_word(&import.kind)?;
        access.require(kind::rights(kind).edit)?;
        if import.undone_at.is_some() {
            return Err(OpError::Conflict("This import was undone already.".into()));
        }
        let names = names::load(conn, &access, kind).await?;
        let undoing = Undoing {
            access: &access,
            kind,
            now,
            names: &names,
        };
        let (mut kept, mut done) = (Vec::new(), Vec::new());
        for row in db::imported_rows(conn, id).await? {
            match undoing.row(conn, &row).await? {
                Some(left) => kept.push(left),
                None => done.push(row.record_id),
            }
        }
        crate::ops::after::changed_many(conn, &access, now, kind::record_kind(kind), &done).await?;
        kept.sort_by_key(|one| one.row);
        let left = serde_json::to_value(&kept)
            .map_err(|error| OpError::Internal(format!("kept records: {error}")))?;
        db::mark_undone(conn, id, &actor.name, now, left.clone()).await?;
        let subject = Subject::of(series, "sheet_import", id);
        let after =
            json!({ "file_name": import.file_name, "undone": done.len(), "left": kept.len() });
        audit::record(conn, actor, now, "undone", subject, NOTHING, Some(&after)).await?;
        import.undone_at = Some(now);
        import.undone_by = Some(actor.name.clone());
        import.kept = Some(left);
        import_view(&access, import)
    })
    .await
}

struct Undoing<'a> {
    access: &'a Access,
    kind: SheetKind,
    now: DateTime<Utc>,
    names: &'a Names,
}

impl Undoing<'_> {
    /// Takes one row back; what is left as it is comes back with the reason.
    async fn row(&self, conn: &mut Conn, row: &ImportedRow) -> Result<Option<KeptRecord>, OpError> {
        let Some((item, binned)) = kind::one(conn, self.access, self.kind, row.record_id).await?
        else {
            return Ok(None);
        };
        let left = |words: String| {
            Ok(Some(KeptRecord {
                row: row.number,
                record_id: row.record_id,
                title: row::title(self.kind, &item.seen, self.names),
                words,
            }))
        };
        if item.version != row.version {
            if binned && row.before.is_none() {
                return Ok(None);
            }
            let change = crate::db::audit::last_change(conn, row.record_id).await?;
            let who = change.map_or_else(|| "somebody".to_owned(), |(name, _)| name);
            return left(format!("It was changed since, last by {who}."));
        }
        let (write, action) = match &row.before {
            None => (Write::Bin(item.id, item.version), "deleted"),
            Some(Value::Object(before)) => {
                match kind::judge(conn, self.access, self.kind, None, before.clone(), true).await? {
                    Judged::Faults(faults) => {
                        let words: Vec<String> =
                            faults.into_iter().map(|fault| fault.detail).collect();
                        return left(format!(
                            "As it was it can't stand any more: {}",
                            words.join(" ")
                        ));
                    }
                    Judged::Well(_) => {}
                }
                (
                    Write::Change(item.id, item.version, before.clone()),
                    "changed",
                )
            }
            Some(_) => return Err(OpError::Internal("an import's row is no object".into())),
        };
        let written = match kind::write(conn, self.access, self.kind, self.now, write).await {
            Err(OpError::UnsafeState(words)) => return left(words),
            other => other?,
        };
        let Some(written) = written else {
            return left("It was changed just now.".into());
        };
        let subject = Subject::of(self.access.series.id, kind::record_kind(self.kind), item.id);
        audit::record(
            conn,
            &self.access.actor,
            self.now,
            action,
            subject,
            written.before.as_ref(),
            Some(&written.after),
        )
        .await?;
        Ok(None)
    }
}
