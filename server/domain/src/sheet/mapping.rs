//! How a table is read as records: which column is which field, and all that a person decided on
//! the way. Kept under a name it serves the next list of the same form, by its headings.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::cell::fold;
use super::dates::DayOrder;
use super::headings;
use super::kinds::{Field, SheetKind};
use super::serial::Serials;

/// A column and what it means.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ColumnUse {
    /// The heading, as the file has it.
    pub heading: String,
    /// Name of the field; `id` for the id of the record; none: the column is left away.
    #[serde(default)]
    #[schema(required)]
    pub field: Option<String>,
}

/// A field that has the same content in every row where no cell says it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SameInAll {
    /// Name of the field.
    pub field: String,
    /// As it would stand in a cell.
    pub text: String,
}

/// What a word in a column stands for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WordUse {
    /// Name of the field.
    pub field: String,
    /// The word, as the file has it.
    pub word: String,
    /// The value; empty for "nothing".
    pub value: String,
}

/// How a table is read.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SheetMapping {
    /// One for each column, in order.
    pub columns: Vec<ColumnUse>,
    /// Contents for all rows.
    #[serde(default)]
    pub same_in_all: Vec<SameInAll>,
    /// Words that somebody decided on.
    #[serde(default)]
    pub words: Vec<WordUse>,
    /// Order of day and month. None: as found in the file.
    #[serde(default)]
    #[schema(required)]
    pub day_order: Option<DayOrder>,
    /// From which year numbers count days. None: as the file says.
    #[serde(default)]
    #[schema(required)]
    pub serials: Option<Serials>,
    /// What parts several values in one cell, one sign. None: line breaks, semicolons, bars.
    #[serde(default)]
    #[schema(required)]
    pub list_sign: Option<String>,
    /// An empty cell empties the field of a record that is changed; else it leaves it as it is.
    #[serde(default)]
    pub blank_clears: bool,
}

impl SheetMapping {
    /// The mapping that the headings suggest.
    pub fn guess(kind: SheetKind, headings: &[String], hidden: &[&str]) -> Self {
        let fields = headings::guess(kind, headings, hidden);
        let columns = headings
            .iter()
            .zip(fields)
            .map(|(heading, field)| ColumnUse {
                heading: heading.clone(),
                field: field.map(str::to_owned),
            });
        Self {
            columns: columns.collect(),
            ..Self::default()
        }
    }

    /// A kept mapping on another table of the same form: columns are found by their headings, what
    /// is new is guessed.
    pub fn on(&self, kind: SheetKind, headings: &[String], hidden: &[&str]) -> Self {
        let mut columns = Self::guess(kind, headings, hidden).columns;
        let mut taken = vec![false; columns.len()];
        for kept in &self.columns {
            let place = (0..columns.len())
                .find(|at| !taken[*at] && fold(&columns[*at].heading) == fold(&kept.heading));
            if let Some(at) = place {
                columns[at].field.clone_from(&kept.field);
                taken[at] = true;
            }
        }
        // What was only guessed gives way to what was kept.
        for at in 0..columns.len() {
            let field = columns[at].field.clone();
            let doubled = field.is_some()
                && (0..columns.len()).any(|other| taken[other] && columns[other].field == field);
            if !taken[at] && doubled {
                columns[at].field = None;
            }
        }
        Self {
            columns,
            ..self.clone()
        }
    }

    /// What is wrong with it for this kind of list, in a sentence.
    pub fn fault(&self, kind: SheetKind, hidden: &[&str]) -> Option<String> {
        let named = self
            .columns
            .iter()
            .filter_map(|column| column.field.as_deref())
            .chain(self.same_in_all.iter().map(|one| one.field.as_str()));
        for key in named.filter(|key| *key != headings::ID_KEY) {
            let Some(field) = kind.field(key) else {
                return Some(format!(
                    "“{}” is not a field of this kind of list.",
                    key.chars().take(60).collect::<String>()
                ));
            };
            if hidden.contains(&key) {
                return Some(format!(
                    "Your roles in this series do not include seeing “{}”, so it can't be brought in. Leave that column away.",
                    field.label
                ));
            }
        }
        for (at, column) in self.columns.iter().enumerate() {
            let Some(key) = column.field.as_deref() else {
                continue;
            };
            let twice = self.columns[..at]
                .iter()
                .any(|other| other.field.as_deref() == Some(key));
            let joins = kind.field(key).is_some_and(Field::joins);
            if twice && !joins {
                let label = kind.field(key).map_or("the id", |field| field.label);
                return Some(format!("Two columns are “{label}”. Choose one of them."));
            }
        }
        if self
            .list_sign
            .as_ref()
            .is_some_and(|sign| sign.chars().count() != 1)
        {
            return Some("What parts several values in a cell is one sign.".into());
        }
        None
    }
}
