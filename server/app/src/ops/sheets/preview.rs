//! What a file would do, before anything is stored: how it was read, which column is which field, what was not decided
//! yet, and each row.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::sheet::dates::{self, DayOrder, Detected, Reading};
use waybill_domain::sheet::delimited::Separator;
use waybill_domain::sheet::headings;
use waybill_domain::sheet::row::Columns;
use waybill_domain::sheet::serial::Serials;
use waybill_domain::sheet::value::{Context, Names, fold_word, known_word};
use waybill_domain::sheet::{Cell, GridRow, Holds, SheetKind, SheetMapping};

use super::file::{self, Book};
use super::plan::{self, Plan, Planned, RowOutcome, SheetRow, Table};
use super::{READING, RowAct, SheetAsk, blocking, kind, names, upload};
use crate::app::App;
use crate::db::Conn;
use crate::db::sheets::{self as db, UploadRow};
use crate::error::OpError;
use crate::ops::access::{Access, Actor};

/// A file that was read, and what is known of its reading.
pub(super) struct Opened {
    pub kind: SheetKind,
    book: Book,
    heading_row: u32,
    headings: Vec<String>,
    rows: Vec<GridRow>,
    mapping: SheetMapping,
    hidden: Vec<&'static str>,
    days: Detected,
    words: BTreeMap<(String, String), String>,
}

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

/// A word in a column with a closed set of values, and what it is taken for.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetWord {
    pub field: String,
    pub label: String,
    pub word: String,
    /// Cells that have it.
    pub count: usize,
    /// None: not known; these cells are in error until somebody says.
    #[schema(required)]
    pub value: Option<String>,
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
    let plan = opened.plan(conn, &access, &names, ask, false).await?;
    Ok(view(row, opened, plan, shown))
}

/// Reads the file of an upload as `ask` says, guessing the rest.
pub(super) async fn open(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    ask: &SheetAsk,
) -> Result<(Access, UploadRow, Opened), OpError> {
    let (access, kind, mut row, kept) = {
        let conn = &mut *app.pool.get().await?;
        let (access, kind, row) = upload(app, conn, actor, series, id).await?;
        let kept = match ask.kept_mapping {
            Some(id) => Some(kept_mapping(conn, series, kind, id).await?),
            None => None,
        };
        (access, kind, row, kept)
    };
    let hidden = kind::hidden(&access, kind)?;
    let content = std::mem::take(&mut row.content);
    let (sheet, separator) = (ask.sheet.clone(), ask.separator);
    let book = {
        // No connection is held while the file is read.
        let _place = READING
            .acquire()
            .await
            .map_err(|error| OpError::Internal(format!("sheets: {error}")))?;
        blocking(move || file::open(&content, sheet.as_deref(), separator)).await?
    };
    let opened = Opened::new(kind, book, hidden, ask, kept)?;
    Ok((access, row, opened))
}

async fn kept_mapping(
    conn: &mut Conn,
    series: Uuid,
    kind: SheetKind,
    id: Uuid,
) -> Result<SheetMapping, OpError> {
    let row = db::mapping(conn, series, id)
        .await?
        .filter(|row| row.kind == kind::word(kind))
        .ok_or(OpError::NotFound("the kept mapping"))?;
    serde_json::from_value(row.mapping)
        .map_err(|error| OpError::Internal(format!("kept mapping: {error}")))
}

impl Opened {
    fn new(
        kind: SheetKind,
        mut book: Book,
        hidden: Vec<&'static str>,
        ask: &SheetAsk,
        kept: Option<SheetMapping>,
    ) -> Result<Self, OpError> {
        let mut rows = std::mem::take(&mut book.rows);
        let at = match ask.heading_row {
            None => Some(headings::heading_row(kind, &rows)),
            Some(0) => None,
            Some(number) => {
                let found = rows.iter().position(|row| row.number == number);
                Some(found.ok_or_else(|| {
                    OpError::field(
                        "/heading_row",
                        format!("Row {number} has no content; choose the row with the headings."),
                    )
                })?)
            }
        };
        let width = rows.iter().map(|row| row.cells.len()).max().unwrap_or(0);
        let (heading_row, mut headings) = match at {
            Some(at) => (rows[at].number, headings::texts(&rows[at])),
            None => (0, (1..=width).map(|n| format!("Column {n}")).collect()),
        };
        headings.resize(width, String::new());
        rows.drain(..at.map_or(0, |at| at + 1));
        let mapping = match (kept, &ask.mapping) {
            (Some(kept), _) => kept.on(kind, &headings, &hidden),
            (None, Some(sent)) => sent.clone(),
            (None, None) => SheetMapping::guess(kind, &headings, &hidden),
        };
        if mapping.columns.len() != headings.len() {
            return Err(OpError::field(
                "/mapping/columns",
                format!(
                    "The file has {} columns, the mapping {}.",
                    headings.len(),
                    mapping.columns.len()
                ),
            ));
        }
        if let Some(fault) = mapping.fault(kind, &hidden) {
            return Err(OpError::field("/mapping", fault));
        }
        let columns = Columns::new(kind, &mapping);
        let day_columns: Vec<usize> = columns
            .all()
            .filter(|(field, _)| matches!(field.holds, Holds::Day | Holds::Starts | Holds::Term))
            .flat_map(|(_, columns)| columns.iter().copied())
            .collect();
        let cells = rows
            .iter()
            .flat_map(|row| day_columns.iter().map(|at| (row.number, row.cell(*at))));
        let days = dates::detect(cells, book.serials);
        let words = mapping
            .words
            .iter()
            .map(|one| ((one.field.clone(), fold_word(&one.word)), one.value.clone()))
            .collect();
        Ok(Self {
            kind,
            book,
            heading_row,
            headings,
            rows,
            mapping,
            hidden,
            days,
            words,
        })
    }

    fn reading(&self) -> Reading {
        Reading {
            order: self.mapping.day_order.or(self.days.reading.order),
            serials: self.mapping.serials.or(self.days.reading.serials),
        }
    }

    /// Headings, for the list of rows that are in error.
    pub(super) fn headings(&self) -> &[String] {
        &self.headings
    }

    /// A row of the file.
    pub(super) fn grid(&self, number: u32) -> Option<&GridRow> {
        self.rows
            .binary_search_by_key(&number, |row| row.number)
            .ok()
            .map(|at| &self.rows[at])
    }

    pub(super) async fn plan(
        &self,
        conn: &mut Conn,
        access: &Access,
        names: &Names,
        ask: &SheetAsk,
        whole: bool,
    ) -> Result<Plan, OpError> {
        let columns = Columns::new(self.kind, &self.mapping);
        let table = Table {
            kind: self.kind,
            headings: &self.headings,
            rows: &self.rows,
            columns: &columns,
            context: Context {
                days: self.reading(),
                words: &self.words,
                names,
                list_sign: self
                    .mapping
                    .list_sign
                    .as_ref()
                    .and_then(|sign| sign.chars().next()),
            },
            blank_clears: self.mapping.blank_clears,
            for_duplicates: ask.for_duplicates,
            choices: &ask.choices,
            hidden: &self.hidden,
        };
        plan::make(conn, access, &table, whole).await
    }

    /// The words in columns with a closed set of values.
    fn words_seen(&self) -> Vec<SheetWord> {
        let columns = Columns::new(self.kind, &self.mapping);
        let mut out = Vec::new();
        for (field, places) in columns.all() {
            if !matches!(field.holds, Holds::Choice(_) | Holds::YesNo) {
                continue;
            }
            let mut seen: BTreeMap<String, (String, usize)> = BTreeMap::new();
            for cell in self
                .rows
                .iter()
                .flat_map(|row| places.iter().map(|at| row.cell(*at)))
            {
                if !cell.is_empty() && !matches!(cell, Cell::Broken(_)) {
                    let text: String = cell.shown().trim().chars().take(100).collect();
                    let entry = seen.entry(fold_word(&text)).or_insert((text, 0));
                    entry.1 += 1;
                }
            }
            for (folded, (word, count)) in seen.into_iter().take(60) {
                let decided = self.words.get(&(field.key.to_owned(), folded)).cloned();
                out.push(SheetWord {
                    field: field.key.to_owned(),
                    label: field.label.to_owned(),
                    value: decided.or_else(|| known_word(field, &word)),
                    word,
                    count,
                });
            }
        }
        out
    }
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
            joins: !field.parts.is_empty(),
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
