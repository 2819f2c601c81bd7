//! Lists going out, in the form in which they come in: what is written changes nothing when it is brought in again. What
//! a person may not see is not in it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::sheet::{SheetKind, write};
use waybill_reports::sheet::SheetTable;

use super::kind::{self, Item};
use super::{names, rights, word};
use crate::app::App;
use crate::error::OpError;
use crate::ops::access::{Actor, enter};
use crate::ops::audit::{self, NOTHING, Subject};

/// As what a list is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SheetForm {
    Csv,
    Xlsx,
}

/// Which list, as what.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ExportAsk {
    pub kind: SheetKind,
    pub form: SheetForm,
    /// Only these records, in this order: as the page shows them. None: all.
    #[serde(default)]
    pub ids: Option<Vec<Uuid>>,
}

/// A list as a file.
pub struct Exported {
    pub file_name: String,
    pub media_type: &'static str,
    pub bytes: Vec<u8>,
}

/// Writes a list; leaves a line in the audit trail, since it takes data out of the house.
///
/// # Errors
/// Access; the database's.
pub async fn export(
    app: &App,
    actor: &Actor,
    series: Uuid,
    ask: &ExportAsk,
) -> Result<Exported, OpError> {
    let table = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, rights(ask.kind).view).await?;
        let hidden = kind::hidden(&access, ask.kind)?;
        let names = names::load(conn, &access, ask.kind).await?;
        let items = kind::all(conn, &access, ask.kind).await?;
        let chosen: Vec<&Item> = match &ask.ids {
            None => items.iter().collect(),
            Some(ids) => {
                let by_id: BTreeMap<Uuid, &Item> =
                    items.iter().map(|item| (item.id, item)).collect();
                ids.iter().filter_map(|id| by_id.get(id).copied()).collect()
            }
        };
        let subject = Subject {
            series: Some(series),
            kind: "list",
            id: None,
        };
        let after = json!({ "kind": word(ask.kind), "form": ask.form, "records": chosen.len() });
        audit::record(
            conn,
            actor,
            app.now(),
            "downloaded",
            subject,
            NOTHING,
            Some(&after),
        )
        .await?;
        SheetTable {
            name: title(ask.kind).into(),
            headings: write::headings(ask.kind, &hidden)
                .into_iter()
                .map(str::to_owned)
                .collect(),
            rows: chosen
                .iter()
                .map(|item| write::row(ask.kind, &item.id.to_string(), &item.seen, &names, &hidden))
                .collect(),
            numbers: write::numbers(ask.kind, &hidden),
        }
    };
    let day = app.now().format("%Y-%m-%d");
    let (ending, media_type) = match ask.form {
        SheetForm::Csv => ("csv", "text/csv; charset=utf-8"),
        SheetForm::Xlsx => (
            "xlsx",
            "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        ),
    };
    let form = ask.form;
    let bytes = tokio::task::spawn_blocking(move || match form {
        SheetForm::Csv => waybill_reports::sheet::csv(&table),
        SheetForm::Xlsx => waybill_reports::sheet::xlsx(&table),
    })
    .await
    .map_err(|error| OpError::Internal(format!("list: {error}")))?
    .map_err(|error| OpError::Internal(format!("list: {error}")))?;
    Ok(Exported {
        file_name: format!("{}-{day}.{ending}", word(ask.kind).replace('_', "-")),
        media_type,
        bytes,
    })
}

/// Name of the sheet.
fn title(kind: SheetKind) -> &'static str {
    match kind {
        SheetKind::People => "People",
        SheetKind::Places => "Places",
        SheetKind::ShootDays => "Shoot days",
        SheetKind::Releases => "Releases",
        SheetKind::Assets => "Imported assets",
        SheetKind::Music => "Music",
        SheetKind::Licences => "Licences",
        SheetKind::Drives => "Drives",
        SheetKind::Deliverables => "Deliverables",
    }
}
