//! Failing cells of a coverage answer (R3), compressed to a few lines that a person can read:
//! cells that fail on the same days for the same reason are printed as territories × media × days.
//! Never a percentage: the cells themselves are listed.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Named, ReportSpecification};
use crate::rights::medium;
use crate::wording::{and_list, date_words, days_words};

/// How a cell fails.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum CellKind {
    /// Known not to be cleared on these days.
    Gap,
    /// Something that decides is missing.
    Unknown,
    /// Cleared only under a condition.
    Restricted,
}

impl CellKind {
    /// The words in front of failing cells: `Not cleared`, `Not known`, `Restricted`.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Gap => "Not cleared",
            Self::Unknown => "Not known",
            Self::Restricted => "Restricted",
        }
    }
}

/// A run of days, both ends included.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
pub struct DaySpan {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
}

/// One failing cell: input of [`compress_cells`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// Needed territory.
    pub territory: Named,
    /// Needed medium.
    pub medium: Named,
    /// How it fails.
    pub kind: CellKind,
    /// On which days; empty means on all needed days.
    pub days: Vec<DaySpan>,
    /// What is missing or asked, in a few words; may be empty.
    pub because: String,
}

/// Cells that fail alike: every territory here × every medium here × all these days.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FailingCells {
    /// How they fail.
    pub kind: CellKind,
    /// Territories, in the order of the specification.
    pub territories: Vec<Named>,
    /// Whether these are all needed territories.
    pub all_territories: bool,
    /// Media, in the order of the specification.
    pub media: Vec<Named>,
    /// Whether these are all needed media.
    pub all_media: bool,
    /// The needed media that are not among these, in the order of the specification.
    #[serde(default)]
    pub other_media: Vec<Named>,
    /// Days; empty means on all needed days.
    pub days: Vec<DaySpan>,
    /// What is missing or asked, in a few words; may be empty.
    pub because: String,
}

/// Compresses single failing cells to few blocks of territories × media × days.
///
/// Two steps, each exact: cells alike in kind, days and reason are put together; among them the
/// media that fail in the same set of territories make one block. No cell is lost or added, and the
/// same cells in any order give the same blocks.
#[must_use]
pub fn compress_cells(cells: &[Cell], needed: &ReportSpecification) -> Vec<FailingCells> {
    type Alike<'a> = (CellKind, Vec<DaySpan>, &'a str);
    let mut alike: BTreeMap<Alike<'_>, BTreeMap<&Named, BTreeSet<&Named>>> = BTreeMap::new();
    for cell in cells {
        let mut days = cell.days.clone();
        days.sort_unstable();
        days.dedup();
        let group = alike.entry((cell.kind, days, &cell.because)).or_default();
        group
            .entry(&cell.medium)
            .or_default()
            .insert(&cell.territory);
    }
    let mut blocks = Vec::new();
    for ((kind, days, because), by_medium) in alike {
        let mut same: BTreeMap<BTreeSet<&Named>, Vec<&Named>> = BTreeMap::new();
        for (medium, territories) in by_medium {
            same.entry(territories).or_default().push(medium);
        }
        for (territories, media) in same {
            let territories = in_order(territories.into_iter(), &needed.territories);
            let media = in_order(media.into_iter(), &needed.media);
            blocks.push(FailingCells {
                kind,
                all_territories: holds_all(&territories, &needed.territories),
                all_media: holds_all(&media, &needed.media),
                other_media: (needed.media.iter())
                    .filter(|one| media.iter().all(|other| other.code != one.code))
                    .cloned()
                    .collect(),
                territories,
                media,
                days: days.clone(),
                because: because.to_owned(),
            });
        }
    }
    let place = |block: &FailingCells| {
        let of = |named: Option<&Named>, all: &[Named]| {
            named
                .and_then(|n| all.iter().position(|x| x.code == n.code))
                .unwrap_or(usize::MAX)
        };
        (
            block.kind,
            block.days.clone(),
            of(block.media.first(), &needed.media),
            of(block.territories.first(), &needed.territories),
        )
    };
    blocks.sort_by_key(place);
    blocks
}

/// Puts names in the order in which the specification lists them, strangers last by code.
fn in_order<'a>(names: impl Iterator<Item = &'a Named>, order: &[Named]) -> Vec<Named> {
    let mut list: Vec<Named> = names.cloned().collect();
    list.sort_by_key(|name| {
        let at = order
            .iter()
            .position(|n| n.code == name.code)
            .unwrap_or(usize::MAX);
        (at, name.code.clone())
    });
    list
}

fn holds_all(have: &[Named], needed: &[Named]) -> bool {
    !needed.is_empty() && needed.iter().all(|n| have.iter().any(|h| h.code == n.code))
}

impl DaySpan {
    /// Number of days, both ends counted; nought when the span is turned round.
    #[must_use]
    pub fn len(self) -> i64 {
        ((self.to - self.from).num_days() + 1).max(0)
    }

    /// Whether no day is in it, which only a span that is turned round can claim.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.len() == 0
    }

    /// `10 Jan 2029 to 30 Sep 2029 (264 days)`, or the single day.
    #[must_use]
    pub fn words(self) -> String {
        if self.from == self.to {
            return format!("{} (1 day)", date_words(self.from));
        }
        let (from, to) = (date_words(self.from), date_words(self.to));
        format!("{from} to {to} ({})", days_words(self.len()))
    }
}

impl FailingCells {
    /// The territories in words: `all territories`, or their names with "and".
    #[must_use]
    pub fn territory_words(&self) -> String {
        let plural = self.territories.len() > 1;
        if self.all_territories && plural {
            "all territories".into()
        } else {
            names(&self.territories)
        }
    }

    /// The media in words: `all needed media`, or as [`medium::words_among`] says them.
    #[must_use]
    pub fn media_words(&self) -> String {
        if self.all_media && self.media.len() > 1 {
            return "all needed media".into();
        }
        medium::words_among(&codes(&self.media), &codes(&self.other_media))
    }

    /// Where it fails as a sentence says it: `for free television in the UK and Ireland`.
    #[must_use]
    pub fn scope(&self) -> String {
        let media = medium::words_among(&codes(&self.media), &codes(&self.other_media));
        format!("for {media} in {}", names(&self.territories))
    }

    /// The days in words; `all needed days` when none are listed.
    #[must_use]
    pub fn days_words(&self) -> String {
        if self.days.is_empty() {
            return "all needed days".into();
        }
        let spans: Vec<String> = self.days.iter().map(|span| span.words()).collect();
        and_list(&spans)
    }

    /// The whole block in one line: `Ireland × free television × 10 Jan 2029 to …: why`.
    #[must_use]
    pub fn words(&self) -> String {
        let days = self.days_words();
        let mut line = format!(
            "{} × {} × {days}",
            self.territory_words(),
            self.media_words()
        );
        if !self.because.is_empty() {
            line.push_str(": ");
            line.push_str(&self.because);
        }
        line
    }
}

fn codes(list: &[Named]) -> Vec<&str> {
    list.iter().map(|named| named.code.as_str()).collect()
}

fn names(list: &[Named]) -> String {
    let list: Vec<String> = list.iter().map(|named| named.name.clone()).collect();
    and_list(&list)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(code: &str, name: &str) -> Named {
        Named {
            code: code.into(),
            name: name.into(),
        }
    }

    fn day(y: i32, m: u32, d: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(y, m, d).expect("a real date")
    }

    /// The need of rulebook R3's own example: {US, CA, GB} × {free television, SVOD}.
    fn needed() -> ReportSpecification {
        ReportSpecification {
            name: "Transmission".into(),
            version: None,
            broadcaster: "Channel".into(),
            territories: vec![
                named("US", "United States"),
                named("CA", "Canada"),
                named("GB", "United Kingdom"),
            ],
            media: vec![
                named("television.free", "free television"),
                named("on_demand.subscription", "subscription on demand"),
            ],
            first_day: Some(day(2026, 10, 1)),
            last_day: Some(day(2029, 9, 30)),
        }
    }

    fn cell(territory: usize, medium: usize, days: Vec<DaySpan>) -> Cell {
        let needed = needed();
        Cell {
            territory: needed.territories[territory].clone(),
            medium: needed.media[medium].clone(),
            kind: CellKind::Gap,
            days,
            because: String::new(),
        }
    }

    // Source: rulebook R3, example: SVOD partial in US and CA (365 days), none in GB.
    #[test]
    fn rulebook_r3_example_compresses_to_two_lines() {
        let gap = vec![DaySpan {
            from: day(2028, 10, 1),
            to: day(2029, 9, 30),
        }];
        let cells = [cell(2, 1, vec![]), cell(1, 1, gap.clone()), cell(0, 1, gap)];
        let words: Vec<String> = compress_cells(&cells, &needed())
            .iter()
            .map(FailingCells::words)
            .collect();
        assert_eq!(
            words,
            [
                "United Kingdom × subscription on demand × all needed days",
                "United States and Canada × subscription on demand × \
                 1 Oct 2028 to 30 Sep 2029 (365 days)",
            ]
        );
    }

    // Source: rulebook R2, example: a term that is 264 days short.
    #[test]
    fn rulebook_r2_example_counts_264_days() {
        let span = DaySpan {
            from: day(2029, 1, 10),
            to: day(2029, 9, 30),
        };
        assert_eq!(span.words(), "10 Jan 2029 to 30 Sep 2029 (264 days)");
    }

    #[test]
    fn no_cell_is_lost_or_added() {
        let mut cells = Vec::new();
        for (t, m) in [(0, 0), (1, 0), (2, 0), (0, 1), (2, 1)] {
            cells.push(cell(t, m, vec![]));
        }
        let blocks = compress_cells(&cells, &needed());
        let mut back: Vec<(String, String)> = Vec::new();
        for block in &blocks {
            for t in &block.territories {
                back.extend(block.media.iter().map(|m| (t.code.clone(), m.code.clone())));
            }
        }
        let mut all: Vec<_> = cells
            .iter()
            .map(|c| (c.territory.code.clone(), c.medium.code.clone()))
            .collect();
        back.sort();
        all.sort();
        assert_eq!(back, all);
        cells.reverse();
        assert_eq!(
            compress_cells(&cells, &needed()),
            blocks,
            "order of input does not matter"
        );
        assert_eq!(blocks[0].territory_words(), "all territories");
    }
}
