//! What a file would do, before anything is stored: how it was read, which column is which field, what was not decided
//! yet, and each row.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::sheet::dates::DayOrder;
use waybill_domain::sheet::delimited::Separator;
use waybill_domain::sheet::serial::Serials;
use waybill_domain::sheet::{Holds, SheetKind, SheetMapping};

use super::opened::{Opened, SheetWord, open};
use super::plan::{Plan, Planned, RowOutcome, SheetRow};
use super::{RowAct, SheetAsk, names};
use crate::app::App;
use crate::db::sheets::UploadRow;
use crate::error::OpError;
use crate::ops::access::Actor;

/// Which rows are shown.
#[derive(Clone, Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RowsShown {
    /// Only these; none: all.
    #[serde(default)]
    pub outcome: Option<RowOutcome>,
    /// How many are passed over.
    #[serde(default)]
    pub from: usize,
    /// At most 500; 100 when not given.
    #[serde(default)]
    pub limit: Option<usize>,
}

/// A column of the file.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetColumn {
    pub heading: String,
    /// The first contents.
    pub samples: Vec<String>,
}

/// A value of a closed set.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetChoice {
    pub value: String,
    pub words: String,
}

/// A field that a column can fill.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetField {
    pub key: String,
    pub label: String,
    /// A new record can't do without it.
    pub required: bool,
    /// Several columns may make it up together.
    pub joins: bool,
    pub choices: Vec<SheetChoice>,
    /// What a new record gets where no cell says it, in words.
    #[schema(required)]
    pub default: Option<String>,
}

/// How dates are read.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetDays {
    #[schema(required)]
    pub order: Option<DayOrder>,
    #[schema(required)]
    pub serials: Option<Serials>,
    /// What the file says, in sentences.
    pub words: Vec<String>,
    /// Some dates need an order that nobody chose yet.
    pub asks_order: bool,
    /// Some numbers need a year to count from that nobody chose yet.
    pub asks_serials: bool,
}

/// How many rows there are of each outcome, and what the import would do.
#[derive(Debug, Default, Serialize, ToSchema)]
pub struct SheetCounts {
    pub rows: usize,
    pub new: usize,
    pub same: usize,
    pub changes: usize,
    pub duplicates: usize,
    pub faulty: usize,
    /// Rows in error that nobody chose to leave out: they keep everything out, or are left out by `only_good`.
    pub blocking: usize,
    /// Records that would be made.
    pub would_make: usize,
    /// Records that would be changed.
    pub would_change: usize,
}

/// The preview of a list.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetPreview {
    pub kind: SheetKind,
    pub name: String,
    /// The sheets of a workbook.
    pub sheets: Vec<String>,
    #[schema(required)]
    pub sheet: Option<String>,
    /// Of a text file.
    #[schema(required)]
    pub separator: Option<Separator>,
    /// Of a text file: `UTF-8`, `UTF-16`, `Windows-1252`.
    #[schema(required)]
    pub encoding: Option<String>,
    /// What had to be assumed.
    pub warnings: Vec<String>,
    /// Number of the row with the headings; 0: none.
    pub heading_row: u32,
    pub columns: Vec<SheetColumn>,
    pub fields: Vec<SheetField>,
    /// What was used: to be sent back, corrected or not.
    pub mapping: SheetMapping,
    pub days: SheetDays,
    pub words: Vec<SheetWord>,
    pub counts: SheetCounts,
    /// As many as were asked for.
    pub rows: Vec<SheetRow>,
    /// To be sent with the import: it does exactly this or nothing.
    pub fingerprint: String,
}

/// Says what a file would do.
///
/// # Errors
/// Access; `NotFound` once its day is over; `Invalid` for a mapping that does not fit; `BadRequest` for a sheet that is
/// not there; the database's.
pub async fn preview(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    ask: &SheetAsk,
    shown: &RowsShown,
) -> Result<SheetPreview, OpError> {
    let (access, row, opened) = open(app, actor, series, id, ask).await?;
    let conn = &mut *app.pool.get().await?;
    let names = names::load(conn, &access, opened.kind).await?;
    let today = access.today(app.now());
    let plan = opened.plan(conn, &access, &names, ask, today).await?;
    Ok(view(row, opened, plan, shown))
}

/// What the rows of a plan are and do.
pub(super) fn counts(rows: &[Planned]) -> SheetCounts {
    let mut out = SheetCounts {
        rows: rows.len(),
        ..SheetCounts::default()
    };
    for one in rows {
        match one.row.outcome {
            RowOutcome::New => out.new += 1,
            RowOutcome::Same => out.same += 1,
            RowOutcome::Changes => out.changes += 1,
            RowOutcome::Duplicate => out.duplicates += 1,
            RowOutcome::Faulty => {
                out.faulty += 1;
                out.blocking += usize::from(one.row.act != RowAct::Skip);
            }
        }
        if one.row.outcome != RowOutcome::Faulty {
            match one.row.act {
                RowAct::New => out.would_make += 1,
                RowAct::Update => out.would_change += 1,
                RowAct::Skip => {}
            }
        }
    }
    out
}

fn view(row: UploadRow, opened: Opened, plan: Plan, shown: &RowsShown) -> SheetPreview {
    let columns = opened
        .headings
        .iter()
        .enumerate()
        .map(|(at, heading)| SheetColumn {
            heading: heading.clone(),
            samples: opened
                .rows
                .iter()
                .map(|row| row.cell(at))
                .filter(|cell| !cell.is_empty())
                .take(3)
                .map(|cell| cell.shown().chars().take(80).collect())
                .collect(),
        });
    let reading = opened.reading();
    let days = SheetDays {
        order: reading.order,
        serials: reading.serials,
        words: opened.days.words.clone(),
        asks_order: opened.days.asks_order && reading.order.is_none(),
        asks_serials: opened.days.asks_serials && reading.serials.is_none(),
    };
    let counts = counts(&plan.rows);
    let rows = plan
        .rows
        .into_iter()
        .map(|one| one.row)
        .filter(|row| shown.outcome.is_none_or(|outcome| row.outcome == outcome))
        .skip(shown.from)
        .take(shown.limit.unwrap_or(100).min(500))
        .collect();
    SheetPreview {
        kind: opened.kind,
        name: row.name,
        columns: columns.collect(),
        fields: fields(opened.kind, &opened.hidden),
        words: opened.words_seen(),
        days,
        counts,
        rows,
        fingerprint: plan.fingerprint,
        sheets: opened.book.sheets,
        sheet: opened.book.sheet,
        separator: opened.book.separator,
        encoding: opened.book.encoding.map(str::to_owned),
        warnings: opened.book.warnings,
        heading_row: opened.heading_row,
        mapping: opened.mapping,
    }
}

fn fields(kind: SheetKind, hidden: &[&str]) -> Vec<SheetField> {
    let choice = |value: &str, words: &str| SheetChoice {
        value: value.to_owned(),
        words: words.to_owned(),
    };
    kind.fields()
        .iter()
        .filter(|field| !hidden.contains(&field.key))
        .map(|field| SheetField {
            key: field.key.to_owned(),
            label: field.label.to_owned(),
            required: field.required,
            joins: field.joins(),
            choices: match field.holds {
                Holds::Choice(choices) => choices
                    .iter()
                    .map(|one| choice(one.value, one.words))
                    .collect(),
                Holds::YesNo => vec![choice("yes", "yes"), choice("no", "no")],
                _ => Vec::new(),
            },
            default: field
                .default
                .map(|value| field.word(value).unwrap_or(value).to_owned()),
        })
        .collect()
}
