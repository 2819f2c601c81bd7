//! What a change would do, before anyone signs: the question is asked again with the change made, and
//! the two answers are compared cell by cell. Nothing is stored.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::answer::{Answer, CellGroup, Counts, State, Window};
use super::owners;
use super::question::{Element, Licence, LicenceStatus, Question, Side};
use super::{NeedError, clear, words};
use crate::rights::coverage::{CellState, Grant};
use crate::rights::licence_terms::LicenceTerms;
use crate::rights::medium;
use crate::rights::term::{Event, EventDate, Holds, Starts, Term};
use crate::rights::territory::{Groups, TerritorySet};

/// A change to try.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "change", rename_all = "snake_case")]
pub enum TriedChange {
    /// One more grant, signed today; it may be passed on where the delivery is sub-licensed.
    AddGrant {
        /// Id of the element.
        element: String,
        /// Which right; `both` where one party gives both sides of music.
        side: Side,
        /// The grant.
        grant: Grant,
        /// Whether promotion may use it.
        allows_promotion: bool,
    },
    /// All grants of a licence or release run until a later day; one that runs longer already stays as it is.
    Extend {
        /// Id of the licence or release.
        paper: String,
        /// The new last day.
        to: NaiveDate,
    },
    /// The element is taken out of the cut.
    Drop {
        /// Id of the element.
        element: String,
    },
    /// The delivery needs more territories.
    AddTerritories {
        /// Codes as in a grant.
        territories: Vec<String>,
    },
    /// The episode is first transmitted on another day.
    MoveFirstTransmission {
        /// That day.
        to: NaiveDate,
    },
}

/// What the changes do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WhatIf {
    /// As it stands.
    pub before: Outcome,
    /// With the changes made.
    pub after: Outcome,
    /// Number of cells, over all elements, that the changes clear.
    pub won: u32,
    /// Number of cells that were cleared and no longer are.
    pub lost: u32,
    /// Number of cells that are asked for the first time and are not cleared.
    pub newly_open: u32,
    /// Every element that the changes touch, worst outcome first.
    pub elements: Vec<ElementChange>,
}

/// An answer in short.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Outcome {
    /// Whether any required cell fails.
    pub blocked: bool,
    /// Number of elements in each state.
    pub counts: Counts,
    /// How long the episode may be shown.
    pub window: Window,
}

/// What the changes do to one element.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ElementChange {
    /// Its id.
    pub id: String,
    /// What the team calls it.
    pub label: String,
    /// Its state as it stands.
    pub before: State,
    /// Its state with the changes made; None: it is no longer in the cut.
    pub after: Option<State>,
    /// Cells that the changes clear.
    pub won: Vec<PlaceChange>,
    /// Cells that were cleared and no longer are.
    pub lost: Vec<PlaceChange>,
    /// Cells that are asked for the first time and are not cleared.
    pub newly_open: Vec<PlaceChange>,
}

/// Cells that change alike: every territory here × every medium here.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PlaceChange {
    /// Territories: alpha-2 codes, or `WORLD` for all of them.
    pub territories: Vec<String>,
    /// Media.
    pub media: Vec<String>,
    /// Where, in words.
    pub place: String,
    /// In which media, in words.
    pub media_words: String,
    /// Number of cells.
    pub cells: u32,
}

/// A change that cannot be tried.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WhatIfError {
    /// The element of a step, counted from nought, is not in the cut.
    #[error("step {0}: there is no such element in this cut")]
    NoElement(usize),
    /// The paper of a step is behind no element of the cut.
    #[error("step {0}: there is no such licence or release behind this cut")]
    NoPaper(usize),
    /// The need cannot be worked.
    #[error(transparent)]
    Need(#[from] NeedError),
}

/// Asks the question as it stands and with the changes made, and compares (no day is won or lost in
/// part: a cell counts as cleared only when every needed day is).
pub fn what_if(question: &Question, changes: &[TriedChange]) -> Result<WhatIf, WhatIfError> {
    let mut changed = question.clone();
    for (step, change) in changes.iter().enumerate() {
        apply(&mut changed, step, change)?;
    }
    let (before, after) = (clear(question)?, clear(&changed)?);
    let mut elements: Vec<ElementChange> = before
        .elements
        .iter()
        .filter_map(|old| {
            let new = after.elements.iter().find(|new| new.id == old.id);
            let (was, is) = (Cells::of(&old.cells), new.map(|new| Cells::of(&new.cells)));
            let change = ElementChange {
                id: old.id.clone(),
                label: old.label.clone(),
                before: old.state,
                after: new.map(|new| new.state),
                won: is
                    .as_ref()
                    .map_or(vec![], |is| places(&is.cleared, &was.cleared)),
                lost: is
                    .as_ref()
                    .map_or(vec![], |is| places(&was.cleared, &is.cleared)),
                newly_open: is
                    .as_ref()
                    .map_or(vec![], |is| places(&is.open(), &was.asked)),
            };
            let same = change.after == Some(change.before)
                && change.won.is_empty()
                && change.lost.is_empty()
                && change.newly_open.is_empty();
            (!same).then_some(change)
        })
        .collect();
    elements.sort_by_key(|one| (one.after.is_none(), one.after, one.before));
    let count = |of: fn(&ElementChange) -> &Vec<PlaceChange>| {
        elements.iter().flat_map(of).map(|place| place.cells).sum()
    };
    Ok(WhatIf {
        won: count(|one| &one.won),
        lost: count(|one| &one.lost),
        newly_open: count(|one| &one.newly_open),
        before: Outcome::of(before),
        after: Outcome::of(after),
        elements,
    })
}

impl Outcome {
    fn of(answer: Answer) -> Self {
        Outcome {
            blocked: answer.blocked,
            counts: answer.counts,
            window: answer.window,
        }
    }
}

fn apply(question: &mut Question, step: usize, change: &TriedChange) -> Result<(), WhatIfError> {
    match change {
        TriedChange::AddGrant {
            element,
            side,
            grant,
            allows_promotion,
        } => {
            let signed = Some(question.today);
            let found =
                find(&mut question.elements, element).ok_or(WhatIfError::NoElement(step))?;
            found.backing.licences.push(Licence {
                id: format!("step {step}"),
                licensor: owners::TRIED.into(),
                side: *side,
                status: LicenceStatus::Signed,
                signed: EventDate {
                    known: signed,
                    planned: None,
                },
                grants: vec![grant.clone()],
                allows_promotion: *allows_promotion,
                // Agreed as the delivery needs it, which may be sub-licensed (R8).
                terms: LicenceTerms {
                    sublicence: Some(true),
                    ..Default::default()
                },
            });
        }
        TriedChange::Extend { paper, to } => extend(question, step, paper, *to)?,
        TriedChange::Drop { element } => {
            let place = question.elements.iter().position(|one| one.id == *element);
            question
                .elements
                .remove(place.ok_or(WhatIfError::NoElement(step))?);
        }
        TriedChange::AddTerritories { territories } => {
            let set = |codes: &[String]| {
                TerritorySet::parse(codes.iter().map(String::as_str), &question.groups)
            };
            // What is asked for is no longer excepted, whatever regions or groups name either.
            let except = set(&question.need.territories_except).map_err(NeedError::from)?;
            let added = set(territories).map_err(NeedError::from)?;
            let need = &mut question.need;
            need.territories.extend(territories.iter().cloned());
            need.territories_except = except.minus(added).codes();
        }
        TriedChange::MoveFirstTransmission { to } => {
            question.events.first_transmission.known = Some(*to);
        }
    }
    Ok(())
}

fn find<'a>(elements: &'a mut [Element], id: &str) -> Option<&'a mut Element> {
    elements.iter_mut().find(|one| one.id == id)
}

/// A later last day for each grant that has an earlier one, or none that is known; a later one is kept, whatever says it:
/// a day, months from a known start, options taken up.
fn extend(
    question: &mut Question,
    step: usize,
    paper: &str,
    to: NaiveDate,
) -> Result<(), WhatIfError> {
    let mut found = false;
    let (events, today) = (question.events, question.today);
    for element in &mut question.elements {
        let backing = &mut element.backing;
        let licences = (backing.licences.iter_mut())
            .filter(|one| one.id == paper)
            .map(|one| (one.signed.date(), &mut one.grants));
        let releases = (backing.releases.iter_mut())
            .filter(|one| one.id == paper)
            .map(|one| (one.form.signed_on, &mut one.form.grants));
        for (signed, grants) in licences.chain(releases) {
            for grant in grants {
                found = true;
                let start = match grant.starts {
                    Starts::On(date) => Some(date),
                    Starts::At(Event::Signature) => signed,
                    Starts::At(Event::FirstTransmission) => events.first_transmission.date(),
                    Starts::At(Event::Delivery) => events.delivery.date(),
                    Starts::At(Event::FirstUse) => events.first_use.date(),
                };
                let keeps = match (grant.term, grant.holds(start, today)) {
                    // Its end is not known, so the new day is the better word.
                    (None, _) | (Some(Term::Months(_)), Holds::Perhaps(_)) => false,
                    (_, Holds::On(days) | Holds::Perhaps(days)) => days.to >= to,
                };
                if !keeps {
                    grant.term = Some(Term::To(to));
                    grant.long_stop = grant.long_stop.map(|stop| stop.max(to));
                    // The new day is the last; what was taken up before it adds nothing to it.
                    grant
                        .options
                        .retain(|one| one.taken_up_on.is_none_or(|day| day > today));
                }
            }
        }
    }
    if found {
        Ok(())
    } else {
        Err(WhatIfError::NoPaper(step))
    }
}

/// The asked and the cleared territories of each medium.
#[derive(Default)]
struct Cells {
    asked: BTreeMap<String, TerritorySet>,
    cleared: BTreeMap<String, TerritorySet>,
}

impl Cells {
    fn of(groups: &[CellGroup]) -> Self {
        let mut cells = Cells::default();
        for group in groups {
            // Codes of an answer are always known ones.
            let codes = group.territories.iter().map(String::as_str);
            let here = TerritorySet::parse(codes, &Groups::new()).unwrap_or_default();
            for name in &group.media {
                let add = |map: &mut BTreeMap<String, TerritorySet>| {
                    let set = map.entry(name.clone()).or_default();
                    *set = set.or(here);
                };
                add(&mut cells.asked);
                if group.state == CellState::Covered {
                    add(&mut cells.cleared);
                }
            }
        }
        cells
    }

    fn open(&self) -> BTreeMap<String, TerritorySet> {
        minus(&self.asked, &self.cleared)
    }
}

fn minus(
    one: &BTreeMap<String, TerritorySet>,
    other: &BTreeMap<String, TerritorySet>,
) -> BTreeMap<String, TerritorySet> {
    one.iter()
        .map(|(name, set)| {
            let less = other.get(name).copied().unwrap_or_default();
            (name.clone(), set.minus(less))
        })
        .filter(|(_, set)| !set.is_empty())
        .collect()
}

/// What is in `one` and not in `other`, media with equal territories together.
fn places(
    one: &BTreeMap<String, TerritorySet>,
    other: &BTreeMap<String, TerritorySet>,
) -> Vec<PlaceChange> {
    let mut alike: BTreeMap<TerritorySet, Vec<String>> = BTreeMap::new();
    for (name, set) in minus(one, other) {
        alike.entry(set).or_default().push(name);
    }
    alike
        .into_iter()
        .map(|(set, media)| PlaceChange {
            territories: words::codes(set),
            place: set.words(),
            media_words: medium::words(&media),
            cells: set.len() * u32::try_from(media.len()).unwrap_or(u32::MAX),
            media,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::tests::{day, good_form, one_adult, question_of};
    use super::*;
    use crate::rights::term::Counting;

    fn texts(list: &[&str]) -> Vec<String> {
        list.iter().map(|text| (*text).to_owned()).collect()
    }

    /// Television in the UK, 1 Oct 2026 to 30 Sep 2029; the form's only grant is changed.
    fn asked(change: impl FnOnce(&mut Grant)) -> Question {
        let mut form = good_form();
        change(&mut form.grants[0]);
        question_of(one_adult(form))
    }

    fn tried(question: &Question, change: TriedChange) -> (u32, u32, u32) {
        let found = what_if(question, &[change]).expect("a change that can be tried");
        (found.won, found.lost, found.newly_open)
    }

    fn extended(question: &Question, to: &str) -> (u32, u32, u32) {
        let (paper, to) = ("r1".into(), day(to));
        tried(question, TriedChange::Extend { paper, to })
    }

    /// By hand: the world without the US and Canada, and a form for the world without them; M.49's region 021 holds both
    /// (and Bermuda, Greenland, Saint Pierre and Miquelon, asked for already). Source: common practice, no source.
    #[test]
    fn a_region_asked_for_takes_its_members_out_of_the_exceptions() {
        let mut question = asked(|grant| grant.territories_except = texts(&["US", "CA"]));
        question.need.territories = texts(&["WORLD"]);
        question.need.territories_except = texts(&["US", "CA"]);
        question
            .groups
            .insert("Over there".into(), texts(&["US", "CA"]));
        for (added, cells) in [("021", 2), ("Over there", 2), ("US", 1), ("FR", 0)] {
            let territories = texts(&[added]);
            let found = tried(&question, TriedChange::AddTerritories { territories });
            assert_eq!(found, (0, 0, cells), "{added}");
        }
        // The other way about: a member of a region that is excepted.
        question.need.territories_except = texts(&["021"]);
        let territories = texts(&["CA"]);
        let found = tried(&question, TriedChange::AddTerritories { territories });
        assert_eq!(found, (0, 0, 1));
    }

    /// Source: rulebook R1(a): 60 months from 1 Mar 2026 end on 28 Feb 2031; R7: what was taken up adds to the term.
    #[test]
    fn an_extension_never_shortens() {
        let months = |grant: &mut Grant, months| {
            grant.starts = Starts::On(day("2026-03-01"));
            grant.term = Some(Term::Months(months));
            grant.counting = Some(Counting::Including);
        };
        let question = asked(|grant| months(grant, 60));
        assert_eq!(extended(&question, "2027-01-01"), (0, 0, 0));
        // Until 28 Feb 2029, which is too short, and then for long enough.
        let question = asked(|grant| months(grant, 36));
        assert_eq!(extended(&question, "2029-09-29"), (0, 0, 0));
        assert_eq!(extended(&question, "2029-09-30"), (1, 0, 0));
        // An option that was taken up carries it past the day that is tried.
        let question = asked(|grant| {
            months(grant, 36);
            grant.options = vec![crate::rights::limits::RenewalOption {
                months: 12,
                notice_days: 30,
                price: String::new(),
                taken_up_on: Some(day("2026-05-01")),
            }];
        });
        assert_eq!(extended(&question, "2029-06-30"), (0, 0, 0));
        // For ever, but no longer than a long stop says: that is what an extension moves.
        let question = asked(|grant| grant.long_stop = Some(day("2029-01-01")));
        assert_eq!(extended(&question, "2029-09-30"), (1, 0, 0));
    }
}
