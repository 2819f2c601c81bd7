//! A list that was sent, read as a person asked: which row holds the headings, which column is which field, how days are
//! written, which rows belong together.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::sheet::dates::{self, Detected, Reading};
use waybill_domain::sheet::row::Columns;
use waybill_domain::sheet::value::{Context, Names, fold_word, known_word};
use waybill_domain::sheet::{Cell, GridRow, Holds, SheetKind, SheetMapping, headings, rows};
use waybill_domain::wording::counted;

use super::file::{self, Book};
use super::plan::{self, Plan, Table};
use super::{READING, SheetAsk, blocking, kind, upload};
use crate::app::App;
use crate::db::Conn;
use crate::db::sheets::{self as db, UploadRow};
use crate::error::OpError;
use crate::ops::access::{Access, Actor};

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

/// A file that was read, and what is known of its reading.
pub(super) struct Opened {
    pub kind: SheetKind,
    pub book: Book,
    pub heading_row: u32,
    pub headings: Vec<String>,
    pub rows: Vec<GridRow>,
    pub mapping: SheetMapping,
    pub hidden: Vec<&'static str>,
    pub days: Detected,
    words: BTreeMap<(String, String), String>,
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
                    "The file has {}, the mapping {}.",
                    counted(headings.len() as u64, "column", "columns"),
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
        let (rows, away) = rows::together(&columns, &rows);
        book.warnings.extend(read_together(&away));
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

    pub(super) fn reading(&self) -> Reading {
        Reading {
            order: self.mapping.day_order.or(self.days.reading.order),
            serials: self.mapping.serials.or(self.days.reading.serials),
        }
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
        today: NaiveDate,
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
            today,
        };
        plan::make(conn, access, &table).await
    }

    /// The words in columns with a closed set of values.
    pub(super) fn words_seen(&self) -> Vec<SheetWord> {
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

/// Says which rows were taken as further grants of the record above them.
fn read_together(away: &[u32]) -> Option<String> {
    const NAMED: usize = 12;
    let named: Vec<String> = away.iter().take(NAMED).map(u32::to_string).collect();
    let more = match away.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let (rows, are) = match away.len() {
        0 => return None,
        1 => ("Row", "says a further grant of the record above it, and is"),
        _ => (
            "Rows",
            "say further grants of the records above them, and are",
        ),
    };
    Some(format!(
        "{rows} {}{more} {are} read as one with it. Where that is not meant, fill in the other cells.",
        named.join(", ")
    ))
}
