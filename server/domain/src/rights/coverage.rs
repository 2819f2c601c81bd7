//! Which needed cells (territory × medium × days) a set of grants covers (R1–R3).
//!
//! Days are never enumerated: a cell is worked with intervals, and territories that every grant
//! treats alike are worked once. What comes out is grouped by equal result, never a percentage.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::days::{DaySet, Days};
use super::limits::{Limits, RenewalOption, with_options};
use super::medium;
use super::term::{Counting, Event, Holds, Starts, Term, days_of};
use super::territory::{Groups, TerritorySet, UnknownTerritory};

/// What a licence or a release allows: territories × media × term, with exceptions.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Grant {
    /// ISO 3166-1 codes, M.49 regions, `WORLD`, or names of the team's groups.
    pub territories: Vec<String>,
    /// Excepted from them.
    #[serde(default)]
    pub territories_except: Vec<String>,
    /// Dotted media names; `all` for all.
    pub media: Vec<String>,
    /// Excepted from them.
    #[serde(default)]
    pub media_except: Vec<String>,
    /// What starts the term.
    pub starts: Starts,
    /// How long it runs. None: not filled in, which is unknown and never perpetuity.
    pub term: Option<Term>,
    /// How months are counted. None: not stated; the earlier end is taken and shown as assumed.
    #[serde(default)]
    pub counting: Option<Counting>,
    /// A date beyond which it never runs, whatever its start (R2).
    #[serde(default)]
    pub long_stop: Option<NaiveDate>,
    /// Runs, episodes and versions that it is limited to (R3, R4).
    #[serde(default)]
    pub limits: Limits,
    /// Rights to extend it, in their order (R7).
    #[serde(default)]
    pub options: Vec<RenewalOption>,
}

/// What is asked of the grants.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// Needed territories.
    pub territories: TerritorySet,
    /// Needed media, in the order in which they are listed.
    pub media: Vec<String>,
    /// Needed days.
    pub days: Days,
}

impl Asked {
    /// Some of the needed media in words ([`medium::words_among`]).
    pub fn media_words(&self, media: &[String]) -> String {
        let others = self.media.iter().filter(|name| !media.contains(name));
        let (media, others): (Vec<&str>, Vec<&str>) = (
            media.iter().map(String::as_str).collect(),
            others.map(String::as_str).collect(),
        );
        medium::words_among(&media, &others)
    }
}

/// A grant measured against what is asked: its territories, which of the asked media it includes
/// (by place), and when it holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Granted {
    /// Territories, exceptions taken away.
    pub territories: TerritorySet,
    /// One answer per asked medium, exceptions taken away.
    pub media: Vec<bool>,
    /// When it holds.
    pub holds: Holds,
}

/// What one cell, or many equal ones, lacks.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Lack {
    /// Asked days that no grant covers or could cover.
    pub gaps: DaySet,
    /// Asked days that only grants with unknown dates could cover.
    pub unknown: DaySet,
}

/// State of a cell over all its asked days.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum CellState {
    /// Every day is a gap.
    None,
    /// Some day is a gap, some is not.
    Partial,
    /// No gap, but some day is unknown.
    Unknown,
    /// Every day is covered.
    Covered,
}

/// Cells with an equal result: every territory here × every medium here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// Territories.
    pub territories: TerritorySet,
    /// Media, as places in [`Asked::media`].
    pub media: Vec<usize>,
    /// What these cells lack.
    pub lack: Lack,
}

impl Grant {
    /// When it holds from this start on: its term, longer by the options taken up in time, by `today` (R1, R2, R7).
    pub fn holds(&self, start: Option<NaiveDate>, today: NaiveDate) -> Holds {
        let plain = days_of(start, self.term, self.counting, self.long_stop);
        match plain {
            Holds::On(days) if !days.is_empty() && days.to < NaiveDate::MAX => {
                let cap = self.long_stop.unwrap_or(NaiveDate::MAX);
                let to = with_options(&self.options, days.to, today).min(cap);
                Holds::On(Days::new(days.from, to))
            }
            other => other,
        }
    }

    /// Measures the grant against what is asked, as it stands on `today`. `date_of` gives the date of an event if known.
    pub fn measure(
        &self,
        asked: &Asked,
        groups: &Groups,
        today: NaiveDate,
        date_of: impl Fn(Event) -> Option<NaiveDate>,
    ) -> Result<Granted, UnknownTerritory> {
        let set = |codes: &[String]| TerritorySet::parse(codes.iter().map(String::as_str), groups);
        let start = match self.starts {
            Starts::On(date) => Some(date),
            Starts::At(event) => date_of(event),
        };
        let has_medium = |needed: &String| {
            medium::any_includes(&self.media, needed)
                && !medium::any_includes(&self.media_except, needed)
        };
        Ok(Granted {
            territories: set(&self.territories)?.minus(set(&self.territories_except)?),
            media: asked.media.iter().map(has_medium).collect(),
            holds: self.holds(start, today),
        })
    }
}

impl Lack {
    /// What is lacking on `asked` days when these grants, and no others, hold.
    pub fn of(asked: Days, holds: impl IntoIterator<Item = Holds>) -> Self {
        let (mut known, mut perhaps) = (Vec::new(), Vec::new());
        for one in holds {
            match one {
                Holds::On(days) => known.push(days.and(asked)),
                Holds::Perhaps(days) => perhaps.push(days.and(asked)),
            }
        }
        let open = DaySet::union([asked]).minus(&DaySet::union(known));
        let gaps = open.minus(&DaySet::union(perhaps));
        Lack {
            unknown: open.minus(&gaps),
            gaps,
        }
    }

    /// What is lacking when both must hold: a gap in either is a gap, whatever is unknown.
    pub fn and(&self, other: &Lack) -> Lack {
        let gaps = self.gaps.or(&other.gaps);
        Lack {
            unknown: self.unknown.or(&other.unknown).minus(&gaps),
            gaps,
        }
    }

    /// State of a cell that lacks this, of `asked` days.
    pub fn state(&self, asked: Days) -> CellState {
        match (self.gaps.is_empty(), self.unknown.is_empty()) {
            (true, true) => CellState::Covered,
            (true, false) => CellState::Unknown,
            (false, _) if self.gaps.count() == asked.count() => CellState::None,
            (false, _) => CellState::Partial,
        }
    }
}

/// Works every asked cell and groups equal ones. `requirements` must all be met at once, each by
/// the union of its own grants: the composition and the recording of one piece of music, say.
///
/// The groups are disjoint and together are all that was asked; worst first.
pub fn groups(asked: &Asked, requirements: &[Vec<Granted>]) -> Vec<Group> {
    let grants: Vec<(usize, &Granted)> = requirements
        .iter()
        .enumerate()
        .flat_map(|(requirement, list)| list.iter().map(move |grant| (requirement, grant)))
        .collect();
    // Cells that the same grants reach lack the same days: each such set is worked once.
    let mut lacks: BTreeMap<Vec<usize>, Lack> = BTreeMap::new();
    let mut by_result: BTreeMap<(Lack, Vec<usize>), TerritorySet> = BTreeMap::new();
    for alike in classes(asked.territories, &grants) {
        let mut here: BTreeMap<Lack, Vec<usize>> = BTreeMap::new();
        for (reach, media) in by_reach(asked, &grants, alike) {
            let lack = lacks
                .entry(reach)
                .or_insert_with_key(|reach| lack(asked.days, requirements.len(), &grants, reach));
            here.entry(lack.clone()).or_default().extend(media);
        }
        for (lack, mut media) in here {
            media.sort_unstable();
            let territories = by_result.entry((lack, media)).or_default();
            *territories = territories.or(alike);
        }
    }
    let mut out: Vec<Group> = by_result
        .into_iter()
        .map(|((lack, media), territories)| Group {
            territories,
            media,
            lack,
        })
        .collect();
    out.sort_by_cached_key(|group| {
        (
            group.lack.state(asked.days),
            group.media.clone(),
            group.territories,
        )
    });
    out
}

/// What cells lack that these grants, by place, reach: all requirements must be met.
fn lack(days: Days, requirements: usize, grants: &[(usize, &Granted)], reach: &[usize]) -> Lack {
    let one = |requirement: usize| {
        let own = reach
            .iter()
            .map(|at| grants[*at])
            .filter(|(of, _)| *of == requirement);
        Lack::of(days, own.map(|(_, grant)| grant.holds))
    };
    (0..requirements)
        .map(one)
        .fold(Lack::default(), |all, one| all.and(&one))
}

/// Splits the asked territories into sets that every grant treats alike.
fn classes(asked: TerritorySet, grants: &[(usize, &Granted)]) -> Vec<TerritorySet> {
    let mut cuts: Vec<TerritorySet> = grants.iter().map(|(_, grant)| grant.territories).collect();
    cuts.sort_unstable();
    cuts.dedup();
    let mut classes = vec![asked];
    for cut in cuts {
        classes = classes
            .into_iter()
            .flat_map(|class| [class.and(cut), class.minus(cut)])
            .filter(|class| !class.is_empty())
            .collect();
    }
    classes.retain(|class| !class.is_empty());
    classes
}

/// The asked media, grouped by the grants that reach them in territories that are all `alike`.
fn by_reach(
    asked: &Asked,
    grants: &[(usize, &Granted)],
    alike: TerritorySet,
) -> BTreeMap<Vec<usize>, Vec<usize>> {
    let here: Vec<usize> = (0..grants.len())
        .filter(|at| !grants[*at].1.territories.and(alike).is_empty())
        .collect();
    let mut out: BTreeMap<Vec<usize>, Vec<usize>> = BTreeMap::new();
    for place in 0..asked.media.len() {
        let includes = |at: &usize| grants[*at].1.media.get(place) == Some(&true);
        out.entry(here.iter().copied().filter(includes).collect())
            .or_default()
            .push(place);
    }
    out
}

#[cfg(test)]
mod tests;
