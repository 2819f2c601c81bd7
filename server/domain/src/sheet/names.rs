//! What reading and writing a cell need besides the cell: the names of other records, how days are written, what words
//! were decided to mean.

use std::collections::{BTreeMap, BTreeSet};

use uuid::Uuid;

use super::cell::fold;
use super::dates::Reading;
use super::kinds::Named;

/// What stands in a cell for something that the list can't show; brought in again, it leaves the
/// field as it is.
pub const KEPT: &str = "(see the record)";

/// The names by which cells can name other records of the series.
#[derive(Clone, Debug, Default)]
pub struct Names {
    /// Folded name to records.
    by_name: BTreeMap<Named, BTreeMap<String, BTreeSet<Uuid>>>,
    /// Record to the name that we write.
    label: BTreeMap<(Named, Uuid), String>,
    /// Groups of territories that the series keeps.
    groups: Vec<String>,
}

impl Names {
    /// Adds a record: the name that we write, and others by which it is known.
    pub fn add(&mut self, named: Named, id: Uuid, label: &str, also: &[&str]) {
        let known = self.by_name.entry(named).or_default();
        for name in also.iter().chain([&label]) {
            let folded = fold(name);
            if !folded.is_empty() {
                known.entry(folded).or_default().insert(id);
            }
        }
        self.label.insert((named, id), label.to_owned());
    }

    /// Adds a group of territories.
    pub fn add_group(&mut self, name: &str) {
        self.groups.push(name.to_owned());
    }

    /// The groups of territories.
    pub fn groups(&self) -> &[String] {
        &self.groups
    }

    /// As [`Names::label`], of records that are there.
    pub fn known(&self, named: Named, id: Uuid) -> Option<String> {
        let known = self.label.contains_key(&(named, id));
        known.then(|| self.label(named, id))
    }

    /// The record that a cell names.
    ///
    /// # Errors
    /// In words, when it is none or several.
    pub fn find(&self, named: Named, text: &str) -> Result<Uuid, String> {
        let text = text.trim();
        // As we write it where a name alone would not do: `Ann Lee [id]`.
        let id = text
            .strip_suffix(']')
            .and_then(|rest| rest.rsplit_once('['))
            .map_or(text, |(_, id)| id);
        if let Ok(id) = Uuid::parse_str(id)
            && self.label.contains_key(&(named, id))
        {
            return Ok(id);
        }
        let found = self
            .by_name
            .get(&named)
            .and_then(|known| known.get(&fold(text)));
        let shown: String = text.chars().take(60).collect();
        match found.map(|ids| (ids.len(), ids.first())) {
            Some((1, Some(id))) => Ok(*id),
            Some((several, _)) => Err(format!(
                "There are {several} records called “{shown}”. Give one of them another name, or write its id in square brackets."
            )),
            None => Err(format!(
                "There is no {} called “{shown}” in this series. Make it first, or correct the name.",
                named.one()
            )),
        }
    }

    /// How a record is written in a cell: its name, with the id where others share the name.
    pub fn label(&self, named: Named, id: Uuid) -> String {
        let Some(label) = self.label.get(&(named, id)) else {
            return id.to_string();
        };
        let alone = self
            .by_name
            .get(&named)
            .and_then(|known| known.get(&fold(label)))
            .is_some_and(|ids| ids.len() == 1);
        if alone {
            label.clone()
        } else {
            format!("{label} [{id}]")
        }
    }
}

/// What reading a cell needs besides the cell.
#[derive(Clone, Debug)]
pub struct Context<'a> {
    pub days: Reading,
    /// Words that somebody decided on: field and folded word to value, empty for nothing.
    pub words: &'a BTreeMap<(String, String), String>,
    pub names: &'a Names,
    pub list_sign: Option<char>,
}
