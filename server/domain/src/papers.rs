//! A printed list about an episode: what stands on it, before anybody chose paper, workbook or table. The cue sheet, the
//! log of third-party material, the credits, the checklist and the like are all made of this.

use chrono::{DateTime, NaiveDateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Printed on every paper (rulebook 7).
pub const NOT_ADVICE: &str = "This is not legal advice. It follows what was typed in and the rules shown; counsel and local law decide.";

/// One list with its head, its assumptions and its cautions.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PrintedPaper {
    /// `Music cue sheet`.
    pub title: String,
    pub series: String,
    /// `Episode 3, First Light`.
    pub episode: String,
    /// The cut in few words, for the head of each page.
    pub cut: String,
    /// What the whole comes to, in a sentence; empty: nothing.
    pub verdict: String,
    pub facts: Vec<PaperFact>,
    /// The first is the list itself. The table form has all but those that say again what stands in others.
    pub sections: Vec<PaperSection>,
    pub assumptions: Vec<String>,
    pub cautions: Vec<String>,
    /// More columns than a page is wide: on its side.
    pub landscape: bool,
    pub made_at: DateTime<Utc>,
    /// IANA name; the paper's day and time are in it.
    pub time_zone: String,
    pub made_by: String,
}

/// A name and its value in the head.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PaperFact {
    pub name: String,
    pub value: String,
}

/// A list with its heading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PaperSection {
    pub title: String,
    pub lead: String,
    pub columns: Vec<PaperColumn>,
    pub rows: Vec<PaperRow>,
    /// Said in place of an empty list.
    pub nothing: String,
    /// It says again what stands in the rows of other sections, for a quick look: the table form leaves it out.
    #[serde(skip)]
    pub says_again: bool,
}

/// A column.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PaperColumn {
    pub name: String,
    /// Its part of the width.
    pub width: u32,
    /// Numbers stand at the right.
    pub number: bool,
}

/// A row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PaperRow {
    /// As many as there are columns.
    pub cells: Vec<String>,
    /// Something is still open in it.
    pub open: bool,
}

impl PaperFact {
    /// A fact; none when there is nothing to say.
    pub fn some(name: &str, value: impl Into<String>) -> Option<Self> {
        let value = value.into();
        (!value.trim().is_empty()).then(|| Self {
            name: name.into(),
            value,
        })
    }
}

impl PaperSection {
    /// An empty list; columns as (name, width, whether it holds numbers).
    pub fn new(title: &str, nothing: &str, columns: &[(&str, u32, bool)]) -> Self {
        Self {
            title: title.into(),
            lead: String::new(),
            columns: columns
                .iter()
                .map(|(name, width, number)| PaperColumn {
                    name: (*name).into(),
                    width: *width,
                    number: *number,
                })
                .collect(),
            rows: Vec::new(),
            nothing: nothing.into(),
            says_again: false,
        }
    }

    /// Adds a row, cut or filled to the number of columns.
    pub fn push(&mut self, open: bool, cells: impl IntoIterator<Item = String>) {
        let mut cells: Vec<String> = cells.into_iter().collect();
        cells.resize(self.columns.len(), String::new());
        self.rows.push(PaperRow { cells, open });
    }
}

impl PrintedPaper {
    /// What the file is called where a reader shows its title: the paper, the series and the episode.
    pub fn whole_title(&self) -> String {
        [&self.series, &self.episode]
            .into_iter()
            .filter(|part| !part.is_empty())
            .fold((self.title.clone(), ": "), |(title, between), part| {
                (format!("{title}{between}{part}"), ", ")
            })
            .0
    }

    /// The time of making on the wall clock of the series.
    pub fn made_local(&self) -> NaiveDateTime {
        crate::wording::local(self.made_at, &self.time_zone)
    }
}
