//! The heart: may everything in this cut be shown there, then, in that way?
//!
//! A [`Question`] holds a delivery's need and every element of a cut with the papers behind it; the
//! [`Answer`] from [`clear`] says for each element in which needed cells it is covered, where not,
//! and every reason why, worst first. Nothing is looked up and no clock is asked: equal questions,
//! equal answers.
//!
//! How it goes: each paper is measured against the need (`paper`, `grants`, `runs`, `ground`, `terms`), less what its
//! conditions take away (`conditions`), with what is wrong with it in each manner of use (`forms`), days that are still
//! ahead (`ahead`) and days of birth and death that can't be (`life`) among it; what holds of each side (`demand`), and
//! of music for each owner (`owners`), is joined into cells (`element`); what is not reached is put in words
//! (`shortfall`), and the papers are named (`behind`); the weakest element sets the episode's window (`window`); what
//! changes on which day is the `calendar`. [`what_if`] asks again with changes made; [`fingerprint`] is what an approval
//! covers.

mod ahead;
mod answer;
mod behind;
mod calendar;
mod conditions;
mod demand;
mod element;
mod forms;
mod grants;
mod ground;
mod life;
mod owners;
mod paper;
mod question;
mod reason;
mod runs;
mod shortfall;
mod terms;
mod touch;
mod what_if;
mod window;
mod words;

pub use answer::{
    Answer, Behind, CellGroup, Counts, DayKind, DayLine, ElementAnswer, End, FirstUse, PaperHolds,
    PaperKind, State, Window,
};
pub use owners::names as names_owner;
pub use question::{
    AgeBand, Backing, Basis, BesideNotNeeded, Captioned, Element, ElementKind, EpisodeEvents,
    Licence, LicenceStatus, Need, NotNeeded, Owner, Permission, Presence, Question, Release,
    Showing, Side, Standing, Use,
};
pub use reason::{Reason, ReasonCells, ReasonCode, Weight};
pub use touch::{fingerprint, touched};
pub use what_if::{ElementChange, Outcome, PlaceChange, TriedChange, WhatIf, WhatIfError, what_if};

use std::collections::HashSet;
use std::sync::LazyLock;

use chrono::Months;
use rayon::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};

use self::paper::Context;
use crate::rights::coverage::Asked;
use crate::rights::days::Days;
use crate::rights::medium;
use crate::rights::territory::{TerritorySet, UnknownTerritory};
use crate::wording::{counted, date_words};

/// Fewest elements that are worth a thread.
const SHARE: usize = 32;

/// Threads that do nothing else, as many as there are cores; none where the machine gives none. rayon's common ones set
/// paper too, for seconds at a time, and an answer would wait for them.
static THREADS: LazyLock<Option<ThreadPool>> = LazyLock::new(|| {
    let name = |n| format!("clearance-{n}");
    ThreadPoolBuilder::new().thread_name(name).build().ok()
});

/// A need that cannot be worked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NeedError {
    /// A territory of the need cannot be read.
    #[error(transparent)]
    Territory(#[from] UnknownTerritory),
    /// The last needed day is before the first.
    #[error("the delivery's last needed day, {to}, is before its first, {from}", from = date_words(*from), to = date_words(*to))]
    Reversed {
        /// First needed day.
        from: chrono::NaiveDate,
        /// Last needed day.
        to: chrono::NaiveDate,
    },
    /// Exceptions leave no territory or no medium.
    #[error("the delivery needs no {0}: its exceptions leave nothing")]
    Empty(&'static str),
}

/// Answers the question for every element of the cut.
///
/// A fault in one record (a territory that cannot be read, say) is a reason of its element and
/// stops nothing else; only a need that cannot be worked is an error.
pub fn clear(question: &Question) -> Result<Answer, NeedError> {
    let need = &question.need;
    let asked = asked(question)?;
    let first_shown_on = (question.events.first_use.date())
        .or(question.events.first_transmission.date())
        .unwrap_or(need.from);
    let needed = asked.days;
    let cx = Context {
        question,
        asked,
        first_shown_on,
    };
    let mut calendar = calendar::of_episode(question, needed);
    let (mut elements, days) = each(&cx, &question.elements);
    calendar.extend(days.into_iter().flatten());
    calendar::in_order(&mut calendar);
    elements.sort_by_cached_key(|element| {
        let first = element
            .first_use
            .map(|first| (first.record_in, first.event));
        (
            element.state,
            first.is_none(),
            first,
            element.label.clone(),
            element.id.clone(),
        )
    });
    let mut assumptions: Vec<String> = overhang_assumed(need, needed).into_iter().collect();
    let mut said: HashSet<String> = assumptions.iter().cloned().collect();
    for element in &elements {
        for one in &element.assumptions {
            let one = format!("{}: {one}", element.label);
            if said.insert(one.clone()) {
                assumptions.push(one);
            }
        }
    }
    Ok(Answer {
        blocked: elements.iter().any(|element| element.state.blocks()),
        counts: Counts::of(&elements),
        window: window::of(&elements),
        needed,
        needed_by: need.due.map_or(need.from, |due| due.min(need.from)),
        assumptions,
        calendar,
        elements,
    })
}

/// Answers each element, and the days of its calendar, in the order asked. Elements know nothing of each other, so many
/// are shared among threads.
fn each(cx: &Context<'_>, elements: &[Element]) -> (Vec<ElementAnswer>, Vec<Vec<DayLine>>) {
    let answer = |one| element::clear(cx, one);
    let threads = (elements.len() > SHARE).then(|| THREADS.as_ref()).flatten();
    match threads {
        Some(threads) => {
            threads.install(|| elements.par_iter().with_min_len(SHARE).map(answer).unzip())
        }
        None => elements.iter().map(answer).unzip(),
    }
}

/// Opens the need: territories, media without children, days with the overhang (R8).
fn asked(question: &Question) -> Result<Asked, NeedError> {
    let need = &question.need;
    let set =
        |codes: &[String]| TerritorySet::parse(codes.iter().map(String::as_str), &question.groups);
    let territories = set(&need.territories)?.minus(set(&need.territories_except)?);
    let mut media = medium::leaves(&need.media);
    media.retain(|name| !medium::any_includes(&need.media_except, name));
    if need.to < need.from {
        return Err(NeedError::Reversed {
            from: need.from,
            to: need.to,
        });
    }
    if territories.is_empty() {
        return Err(NeedError::Empty("territory"));
    }
    if media.is_empty() {
        return Err(NeedError::Empty("medium"));
    }
    let to = need
        .to
        .checked_add_months(Months::new(need.overhang_months))
        .unwrap_or(need.to);
    Ok(Asked {
        territories,
        media,
        days: Days::new(need.from, to),
    })
}

fn overhang_assumed(need: &Need, needed: Days) -> Option<String> {
    (need.overhang_months > 0).then(|| {
        format!(
            "Needed until {}: the distribution ends on {}, and a sub-licence may run {} longer \
             (R8).",
            date_words(needed.to),
            date_words(need.to),
            counted(need.overhang_months.into(), "month", "months")
        )
    })
}

impl Counts {
    fn of(elements: &[ElementAnswer]) -> Self {
        let mut counts = Counts::default();
        for element in elements {
            let count = match element.state {
                State::Gap => &mut counts.gap,
                State::UnknownSource => &mut counts.unknown_source,
                State::Unknown => &mut counts.unknown,
                State::NotLogged => &mut counts.not_logged,
                State::EvidenceOnly => &mut counts.evidence_only,
                State::Restricted => &mut counts.restricted,
                State::EndsSoon => &mut counts.ends_soon,
                State::Covered => &mut counts.covered,
            };
            *count += 1;
        }
        counts
    }
}

#[cfg(test)]
mod tests;
