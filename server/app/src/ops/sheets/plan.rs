//! What each row of a list would do: make a record, change one, nothing, or that it can't be done and why. The preview
//! shows it, the import carries it out.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::sheet::row::{self, CellFault, Columns, RowRead};
use waybill_domain::sheet::value::{Context, Names, Said};
use waybill_domain::sheet::{GridRow, SheetKind, write};

use super::kind::{self, Item, Judged};
use super::{RowAct, RowChoice};
use crate::auth::tokens::hex;
use crate::db::Conn;
use crate::error::{FieldError, OpError};
use crate::ops::access::Access;

/// What a row is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RowOutcome {
    /// A record that is not there yet.
    New,
    /// A record as it is already.
    Same,
    /// A record that is there, found by its id, with other contents.
    Changes,
    /// Like a record that is there, or like an earlier row.
    Duplicate,
    /// It can't be brought in as it is.
    Faulty,
}

/// What is wrong with a row.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct RowFault {
    /// Heading of the column; none where no column says it.
    #[schema(required)]
    pub heading: Option<String>,
    /// The field, as we call it.
    #[schema(required)]
    pub label: Option<String>,
    /// What stands in the cell.
    pub value: String,
    /// What is wrong and what to do.
    pub words: String,
}

/// A field that would be another.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct RowChange {
    pub label: String,
    pub before: String,
    pub after: String,
}

/// What a row is a duplicate of.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct RowDuplicate {
    /// A record; none: an earlier row of the list.
    #[schema(required)]
    pub record_id: Option<Uuid>,
    /// The earlier row.
    #[schema(required)]
    pub row: Option<u32>,
    pub title: String,
    /// By what they are the same: `name`, `label`, `date`.
    pub by: String,
}

/// A row and what it would do.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SheetRow {
    /// Its number in the file.
    pub number: u32,
    /// What it is about.
    pub title: String,
    pub outcome: RowOutcome,
    /// What the import would do with it.
    pub act: RowAct,
    pub changes: Vec<RowChange>,
    pub duplicates: Vec<RowDuplicate>,
    pub faults: Vec<RowFault>,
}

/// A row with what carrying it out needs.
pub(super) struct Planned {
    pub row: SheetRow,
    /// The record that is changed.
    pub target: Option<Item>,
    /// The fields that are kept.
    pub fields: Map<String, Value>,
}

/// All rows.
pub(super) struct Plan {
    pub rows: Vec<Planned>,
    /// Stands for all that the import would do.
    pub fingerprint: String,
}

/// What planning needs.
pub(super) struct Table<'a> {
    pub kind: SheetKind,
    pub headings: &'a [String],
    pub rows: &'a [GridRow],
    pub columns: &'a Columns,
    pub context: Context<'a>,
    pub blank_clears: bool,
    pub for_duplicates: RowAct,
    pub choices: &'a [RowChoice],
    pub hidden: &'a [&'static str],
    /// In the series' zone.
    pub today: NaiveDate,
}

/// Plans every row, with every rule that only the database can tell.
pub(super) async fn make(
    conn: &mut Conn,
    access: &Access,
    table: &Table<'_>,
) -> Result<Plan, OpError> {
    let items = kind::all(conn, access, table.kind).await?;
    let mut planner = Planner {
        access,
        table,
        items: &items,
        by_id: items.iter().map(|item| (item.id, item)).collect(),
        by_key: BTreeMap::new(),
        earlier: BTreeMap::new(),
        taken: BTreeMap::new(),
        choices: table.choices.iter().map(|one| (one.number, one)).collect(),
    };
    for (at, item) in items.iter().enumerate() {
        for (key, _) in row::keys(table.kind, &item.seen) {
            planner.by_key.entry(key).or_default().push(at);
        }
    }
    let mut rows = Vec::with_capacity(table.rows.len());
    for grid in table.rows {
        rows.push(planner.row(conn, grid).await?);
    }
    planner.find_lost(conn, &mut rows).await?;
    let print: Vec<Value> = rows
        .iter()
        .map(|one| {
            let target = one.target.as_ref().map(|item| (item.id, item.version));
            json!([
                one.row.number,
                one.row.outcome,
                one.row.act,
                target,
                one.fields
            ])
        })
        .collect();
    let text = serde_json::to_vec(&print)
        .map_err(|error| OpError::Internal(format!("fingerprint: {error}")))?;
    Ok(Plan {
        rows,
        fingerprint: hex(&Sha256::digest(text)),
    })
}

struct Planner<'a> {
    access: &'a Access,
    table: &'a Table<'a>,
    items: &'a [Item],
    by_id: BTreeMap<Uuid, &'a Item>,
    by_key: BTreeMap<String, Vec<usize>>,
    /// Keys of earlier rows that make a record.
    earlier: BTreeMap<String, (u32, String)>,
    /// Records that an earlier row is about.
    taken: BTreeMap<Uuid, u32>,
    choices: BTreeMap<u32, &'a RowChoice>,
}

impl Planner<'_> {
    fn names(&self) -> &Names {
        self.table.context.names
    }

    async fn row(&mut self, conn: &mut Conn, grid: &GridRow) -> Result<Planned, OpError> {
        let kind = self.table.kind;
        let read = row::read(self.table.columns, grid, &self.table.context);
        let said = said(&read);
        let title = row::title(kind, &said, self.names());
        let mut faults: Vec<RowFault> = read.faults.iter().map(|fault| self.fault(fault)).collect();
        let choice = self.choices.get(&grid.number).copied();
        let mut duplicates = Vec::new();
        let mut target: Option<Item> = None;
        let by_id = read.id.is_some();
        match read.id {
            Some(id) => match self.by_id.get(&id) {
                Some(item) => target = Some((*item).clone()),
                None => faults.push(row_fault(
                    "There is no record with this id in the series; it may have been deleted. Empty the cell to make a new one.",
                )),
            },
            None => duplicates = self.duplicates(&said),
        }
        let act = match (choice, by_id, duplicates.is_empty()) {
            (Some(choice), ..) => choice.act,
            (None, true, _) => RowAct::Update,
            (None, false, true) => RowAct::New,
            (None, false, false) => self.table.for_duplicates,
        };
        if !by_id {
            target = self.chosen(choice, &duplicates, act, &mut faults);
        }
        let taken = target
            .as_ref()
            .and_then(|item| self.taken.get(&item.id))
            .copied();
        if let (Some(row), true) = (taken, act != RowAct::New) {
            faults.push(row_fault(&format!(
                "Row {row} is about the same record. Leave one of the two out."
            )));
        }
        let mut planned = Planned {
            row: SheetRow {
                number: grid.number,
                title,
                outcome: RowOutcome::New,
                act,
                changes: Vec::new(),
                duplicates,
                faults,
            },
            target: target.filter(|_| act != RowAct::New),
            fields: Map::new(),
        };
        self.lay(conn, &read, &mut planned).await?;
        self.settle(&said, by_id, &mut planned);
        Ok(planned)
    }

    /// The record that a row is about, among those it may be a duplicate of.
    fn chosen(
        &self,
        choice: Option<&RowChoice>,
        duplicates: &[RowDuplicate],
        act: RowAct,
        faults: &mut Vec<RowFault>,
    ) -> Option<Item> {
        let records: Vec<Uuid> = duplicates.iter().filter_map(|one| one.record_id).collect();
        let named = choice.and_then(|choice| choice.record_id);
        let id = match (named, records.as_slice()) {
            (Some(id), records) if records.contains(&id) => id,
            (Some(_), _) => {
                faults.push(row_fault(
                    "The record that was chosen is no duplicate of this row; choose again.",
                ));
                return None;
            }
            (None, [one]) => *one,
            (None, []) if act == RowAct::Update => {
                faults.push(row_fault("There is no record that this row could change. Choose “make new” or “leave out”."));
                return None;
            }
            (None, []) => return None,
            (None, _) => {
                if act == RowAct::Update {
                    faults.push(row_fault(
                        "Several records fit this row. Choose which of them it changes.",
                    ));
                }
                return None;
            }
        };
        self.by_id.get(&id).map(|item| (*item).clone())
    }

    fn duplicates(&self, said: &Map<String, Value>) -> Vec<RowDuplicate> {
        let mut out: Vec<RowDuplicate> = Vec::new();
        for (key, by) in row::keys(self.table.kind, said) {
            for at in self.by_key.get(&key).into_iter().flatten() {
                let item = &self.items[*at];
                if !out.iter().any(|one| one.record_id == Some(item.id)) {
                    out.push(RowDuplicate {
                        record_id: Some(item.id),
                        row: None,
                        title: row::title(self.table.kind, &item.seen, self.names()),
                        by: by.to_owned(),
                    });
                }
            }
            if let Some((row, title)) = self.earlier.get(&key)
                && !out.iter().any(|one| one.row == Some(*row))
            {
                out.push(RowDuplicate {
                    record_id: None,
                    row: Some(*row),
                    title: title.clone(),
                    by: by.to_owned(),
                });
            }
        }
        out
    }

    /// Lays the row over its record, or over nothing, and asks the kind's own rules.
    async fn lay(
        &self,
        conn: &mut Conn,
        read: &RowRead,
        planned: &mut Planned,
    ) -> Result<(), OpError> {
        let table = self.table;
        let old = planned.target.as_ref();
        let laid = row::lay(
            table.kind,
            table.columns,
            read,
            old.map(|item| &item.seen),
            table.blank_clears,
        );
        let lacking = laid.faults.iter().map(|fault| self.fault(fault));
        planned.row.faults.extend(lacking);
        if !read.faults.is_empty() || !laid.faults.is_empty() {
            // What the rules say of the cells that could be read is said in the same breath.
            let named: Vec<&str> = (read.faults.iter().chain(&laid.faults))
                .filter_map(|fault| fault.field)
                .collect();
            let today = table.today;
            let found = kind::rules(self.access, table.kind, old, laid.fields, today)?;
            let about_cell = |fault: &&FieldError| {
                let key = key_of(fault);
                !named.contains(&key.as_str())
                    && matches!(
                        read.said.get(key.as_str()),
                        Some(Said::Value(..) | Said::Several(_))
                    )
            };
            let more = found
                .iter()
                .filter(about_cell)
                .map(|fault| self.rule(fault));
            planned.row.faults.extend(more);
            return Ok(());
        }
        let today = Some(table.today);
        match kind::judge(conn, self.access, table.kind, old, laid.fields, today).await? {
            Judged::Faults(faults) => {
                planned
                    .row
                    .faults
                    .extend(faults.iter().map(|fault| self.rule(fault)));
            }
            Judged::Well(fields) => {
                if let Some(old) = old {
                    let after = kind::seen(self.access, table.kind, &fields)?;
                    planned.row.changes = self.changes(&old.seen, &after);
                }
                planned.fields = fields;
            }
        }
        Ok(())
    }

    /// Names the rows that would keep a reference to what is no longer there: one question for all of them.
    async fn find_lost(&self, conn: &mut Conn, rows: &mut [Planned]) -> Result<(), OpError> {
        let does = |one: &&mut Planned| {
            one.row.act != RowAct::Skip && one.row.outcome != RowOutcome::Faulty
        };
        let mut rows: Vec<&mut Planned> = rows.iter_mut().filter(does).collect();
        let records: Vec<&Map<String, Value>> = rows.iter().map(|one| &one.fields).collect();
        let lost = kind::lost(conn, self.access, self.table.kind, &records).await?;
        for (one, lost) in rows.iter_mut().zip(lost) {
            if !lost.is_empty() {
                one.row.outcome = RowOutcome::Faulty;
                one.row
                    .faults
                    .extend(lost.iter().map(|fault| self.rule(fault)));
            }
        }
        Ok(())
    }

    /// What the row is, now that all is known of it.
    fn settle(&mut self, said: &Map<String, Value>, by_id: bool, planned: &mut Planned) {
        let row = &mut planned.row;
        let same = planned
            .target
            .as_ref()
            .is_some_and(|item| item.whole == planned.fields);
        let unique =
            self.table.kind.is_unique() && row.act == RowAct::New && !row.duplicates.is_empty();
        if unique && row.faults.is_empty() {
            row.faults.push(row_fault(
                "There can't be two with this name. Leave the row out, or let it change the one that is there.",
            ));
        }
        let left_out = row.act == RowAct::Skip && !row.duplicates.is_empty();
        if same && row.faults.is_empty() {
            row.outcome = RowOutcome::Same;
            row.act = RowAct::Skip;
        } else if !row.faults.is_empty() && !left_out {
            row.outcome = RowOutcome::Faulty;
        } else if !row.duplicates.is_empty() {
            row.faults.clear();
            row.outcome = RowOutcome::Duplicate;
        } else if by_id {
            row.outcome = RowOutcome::Changes;
        }
        if let Some(item) = &planned.target {
            self.taken.entry(item.id).or_insert(row.number);
        }
        if row.act == RowAct::New {
            for (key, _) in row::keys(self.table.kind, said) {
                self.earlier
                    .entry(key)
                    .or_insert((row.number, row.title.clone()));
            }
        }
    }

    fn changes(&self, before: &Map<String, Value>, after: &Map<String, Value>) -> Vec<RowChange> {
        let table = self.table;
        let shown =
            |record: &Map<String, Value>, field| write::cell(field, record, self.names()).shown();
        table
            .kind
            .fields()
            .iter()
            .filter(|field| !table.hidden.contains(&field.key))
            .map(|field| (field, shown(before, field), shown(after, field)))
            .filter(|(_, before, after)| before != after)
            .map(|(field, before, after)| RowChange {
                label: field.label.to_owned(),
                before,
                after,
            })
            .collect()
    }

    fn fault(&self, fault: &CellFault) -> RowFault {
        let field = fault.field.and_then(|key| self.table.kind.field(key));
        RowFault {
            heading: fault
                .column
                .and_then(|at| self.table.headings.get(at))
                .cloned(),
            label: field.map(|field| field.label.to_owned()),
            value: fault.value.chars().take(200).collect(),
            words: fault.words.clone(),
        }
    }

    /// A fault of a record's own rules, at the column that gives the field.
    fn rule(&self, fault: &FieldError) -> RowFault {
        let key = key_of(fault);
        let field = self.table.kind.field(&key);
        let column = self.table.columns.of(&key);
        RowFault {
            heading: column.and_then(|at| self.table.headings.get(at)).cloned(),
            label: field.map(|field| field.label.to_owned()),
            value: String::new(),
            words: fault.detail.clone(),
        }
    }
}

/// The field that a rule's fault is about.
fn key_of(fault: &FieldError) -> String {
    let parts: Vec<&str> = fault.pointer.split('/').collect();
    match parts.as_slice() {
        [_, "grants", _, part, ..] => format!("grant.{part}"),
        [_, first, ..] => (*first).to_owned(),
        _ => String::new(),
    }
}

fn row_fault(words: &str) -> RowFault {
    RowFault {
        heading: None,
        label: None,
        value: String::new(),
        words: words.to_owned(),
    }
}

/// What the cells say, as far as it names a record.
fn said(read: &RowRead) -> Map<String, Value> {
    read.said
        .iter()
        .filter_map(|(key, said)| match said {
            Said::Value(value, _) => Some(((*key).to_owned(), value.clone())),
            Said::Blank | Said::Kept | Said::Several(_) => None,
        })
        .collect()
}
