//! Taking an import back, as one act: records that it made go to the bin, records that it changed are as they were.
//! What somebody changed since, or what others refer to by now, is named and left.

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde_json::{Map, Value, json};
use uuid::Uuid;
use waybill_domain::sheet::SheetKind;
use waybill_domain::sheet::row;
use waybill_domain::sheet::value::Names;

use super::import::{KeptRecord, SheetImport, import_view};
use super::kind::{self, Item, Judged};
use super::names;
use super::write::{self, Outcome, What, Write};
use crate::app::App;
use crate::db::Conn;
use crate::db::sheets::{self as db, ImportedRow};
use crate::error::{FieldError, OpError};
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
        let rows = db::imported_rows(conn, id).await?;
        let (mut kept, done) = undoing.take_back(conn, &rows).await?;
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
    /// Takes rows back; those that are left as they are with the reason, and the ids of the others.
    async fn take_back(
        &self,
        conn: &mut Conn,
        rows: &[ImportedRow],
    ) -> Result<(Vec<KeptRecord>, Vec<Uuid>), OpError> {
        let ids: Vec<Uuid> = rows.iter().map(|row| row.record_id).collect();
        let items = kind::locked(conn, self.access, self.kind, &ids).await?;
        let (mut kept, mut done, mut writes) = (Vec::new(), Vec::new(), Vec::new());
        for row in rows {
            // What is no longer there needs no undoing.
            match items.get(&row.record_id) {
                Some((item, binned)) => match self.write_of(conn, row, item, *binned).await? {
                    Ok(Some(what)) => writes.push((row, item, what)),
                    Ok(None) => done.push(row.record_id),
                    Err(words) => kept.push(self.left(row, item, words)),
                },
                None => done.push(row.record_id),
            }
        }
        let befores: Vec<&Map<String, Value>> = (writes.iter())
            .filter_map(|(row, ..)| row.before.as_ref()?.as_object())
            .collect();
        let lost = kind::lost(conn, self.access, self.kind, &befores).await?;
        let mut lost = lost.into_iter();
        let mut sound = Vec::with_capacity(writes.len());
        for (row, item, what) in writes {
            let faults = match what {
                What::Change(..) => lost.next().unwrap_or_default(),
                _ => Vec::new(),
            };
            if faults.is_empty() {
                sound.push((row, item, what));
            } else {
                kept.push(self.left(row, item, cannot_stand(faults)));
            }
        }
        let rows: Vec<(&ImportedRow, &Item)> =
            sound.iter().map(|(row, item, _)| (*row, *item)).collect();
        let writes = sound.into_iter().map(|(row, item, what)| Write {
            row: row.number,
            id: item.id,
            what,
        });
        let writes = writes.collect();
        let outcomes = write::all(conn, self.access, self.kind, self.now, writes).await?;
        for ((row, item), outcome) in rows.into_iter().zip(outcomes) {
            match outcome {
                Outcome::Written(_) => done.push(item.id),
                Outcome::Used(words) => kept.push(self.left(row, item, words)),
                Outcome::Stale => {
                    kept.push(self.left(row, item, "It was changed just now.".into()));
                }
            }
        }
        Ok((kept, done))
    }

    /// What takes a row back: none where that was done already, words where it can't be.
    async fn write_of(
        &self,
        conn: &mut Conn,
        row: &ImportedRow,
        item: &Item,
        binned: bool,
    ) -> Result<Result<Option<What>, String>, OpError> {
        if item.version != row.version {
            if binned && row.before.is_none() {
                return Ok(Ok(None));
            }
            let change = crate::db::audit::last_change(conn, row.record_id).await?;
            let who = change.map_or_else(|| "somebody".to_owned(), |(name, _)| name);
            return Ok(Err(format!("It was changed since, last by {who}.")));
        }
        match &row.before {
            None => Ok(Ok(Some(What::Bin(item.version)))),
            Some(Value::Object(before)) => {
                let judged =
                    kind::judge(conn, self.access, self.kind, None, before.clone(), None).await?;
                Ok(match judged {
                    Judged::Faults(faults) => Err(cannot_stand(faults)),
                    Judged::Well(_) => Ok(Some(What::Change(item.version, before.clone()))),
                })
            }
            Some(_) => Err(OpError::Internal("an import's row is no object".into())),
        }
    }

    fn left(&self, row: &ImportedRow, item: &Item, words: String) -> KeptRecord {
        KeptRecord {
            row: row.number,
            record_id: row.record_id,
            title: row::title(self.kind, &item.seen, self.names),
            words,
        }
    }
}

fn cannot_stand(faults: Vec<FieldError>) -> String {
    let words: Vec<String> = faults.into_iter().map(|fault| fault.detail).collect();
    format!("As it was it can't stand any more: {}", words.join(" "))
}
