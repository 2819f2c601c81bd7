//! Grants with a number of runs, against the runs that the delivery needs and the showings entered (R4).
//!
//! Runs of several grants add up wherever all of them reach; each showing uses up a run of one grant only, of the one
//! that leaves most for the others. A grant without a number takes any showing on its days.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, NaiveDateTime};

use super::paper::{Context, Paper};
use super::reason::{Reason, ReasonCode, Weight};
use super::words;
use crate::rights::coverage::Granted;
use crate::rights::days::Days;
use crate::rights::limits::Runs;
use crate::rights::medium;
use crate::rights::term::Holds;
use crate::rights::territory::TerritorySet;
use crate::wording::and_list;

/// How many ways of dealing showings out to grants are followed at once; beyond it the cheapest are, so that at worst
/// runs are found to be too few.
const MOST_WAYS: usize = 512;

/// What a paper's grant offers to a demand.
pub(super) struct Offer<'a> {
    pub paper: &'a Paper<'a>,
    pub granted: Granted,
    /// How often it may be shown. None: as often as wanted.
    pub runs: Option<Runs>,
}

/// How the runs stand in a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Verdict {
    /// Enough, or no matter.
    Enough,
    /// The delivery needs this many, and they allow fewer.
    NeedsMore(u32),
    /// The showings entered make this many.
    Shown(u32),
    /// Nobody said how many the delivery needs.
    NotSaid,
}

/// Cells in which the same counted offers, by place, stand alike.
type Alike = BTreeMap<(Verdict, Vec<usize>, Vec<bool>), TerritorySet>;

impl Context<'_> {
    /// What the offers grant with their runs counted, and every cell in which those are too few or unknown.
    pub fn count_runs(&self, offers: &[Offer<'_>]) -> (Vec<Vec<Granted>>, Vec<Reason>) {
        if offers.iter().all(|offer| offer.runs.is_none()) {
            let plain = offers.iter().map(|offer| vec![offer.granted.clone()]);
            return (plain.collect(), vec![]);
        }
        let alike = self.alike(offers);
        let granted = offers.iter().enumerate();
        let granted = granted.map(|(at, offer)| self.left(at, offer, &alike));
        let lacks = (alike.iter())
            .filter_map(|((verdict, counted, media), set)| {
                self.run_reason(offers, *verdict, counted, media, *set)
            })
            .collect();
        (granted.collect(), lacks)
    }

    /// The verdict on every needed cell that a counted offer reaches.
    fn alike(&self, offers: &[Offer<'_>]) -> Alike {
        let mut cells: BTreeMap<(Verdict, Vec<usize>, TerritorySet), Vec<bool>> = BTreeMap::new();
        for class in self.run_classes(offers) {
            for (place, name) in self.asked.media.iter().enumerate() {
                if !medium::has_runs(name) {
                    continue;
                }
                let here: Vec<usize> = (0..offers.len())
                    .filter(|at| reaches(&offers[*at], class, place))
                    .collect();
                let counted: Vec<usize> = (here.iter().copied())
                    .filter(|at| offers[*at].runs.is_some() && self.is_in_time(&offers[*at]))
                    .collect();
                if counted.is_empty() {
                    continue;
                }
                let verdict = self.verdict(offers, &here, class, name);
                let none = || vec![false; self.asked.media.len()];
                cells.entry((verdict, counted, class)).or_insert_with(none)[place] = true;
            }
        }
        let mut alike = Alike::new();
        for ((verdict, counted, class), media) in cells {
            let set = alike.entry((verdict, counted, media)).or_default();
            *set = set.or(class);
        }
        alike
    }

    /// Whether it holds on any needed day; one that does not can still take a showing on its own days.
    fn is_in_time(&self, offer: &Offer<'_>) -> bool {
        !days(&offer.granted).and(self.asked.days).is_empty()
    }

    /// The needed territories, split where an offer or a showing tells them apart.
    fn run_classes(&self, offers: &[Offer<'_>]) -> Vec<TerritorySet> {
        let shown = self.question.showings.iter();
        let mut cuts: BTreeSet<TerritorySet> = shown.map(|one| self.shown_in(one)).collect();
        cuts.extend(offers.iter().map(|offer| offer.granted.territories));
        let mut classes = vec![self.asked.territories];
        for cut in cuts {
            classes = (classes.into_iter())
                .flat_map(|class| [class.and(cut), class.minus(cut)])
                .filter(|class| !class.is_empty())
                .collect();
        }
        classes
    }

    /// A territory that cannot be read may be any: the run counts everywhere.
    fn shown_in(&self, showing: &super::question::Showing) -> TerritorySet {
        let codes = showing.territories.iter().map(String::as_str);
        TerritorySet::parse(codes, &self.question.groups).unwrap_or(TerritorySet::world())
    }

    fn verdict(
        &self,
        offers: &[Offer<'_>],
        here: &[usize],
        class: TerritorySet,
        medium: &str,
    ) -> Verdict {
        let mut counted = Vec::new();
        let mut free = Vec::new();
        let mut allowed = 0_u32;
        for offer in here.iter().map(|at| &offers[*at]) {
            let days = days(&offer.granted);
            let Some(runs) = offer.runs else {
                free.push(days);
                continue;
            };
            counted.push((days, runs));
            if self.is_in_time(offer) {
                allowed = allowed.saturating_add(runs.allowed);
            }
        }
        let asked = self.asked.days;
        if let Some(needed) = self.question.need.runs
            && needed > allowed
            && !free.iter().any(|days| !days.and(asked).is_empty())
        {
            return Verdict::NeedsMore(needed);
        }
        let mut times: Vec<NaiveDateTime> = (self.question.showings.iter())
            .filter(|one| medium::any_includes(&one.media, medium))
            .filter(|one| !self.shown_in(one).and(class).is_empty())
            .map(|one| one.at)
            .filter(|at| !free.iter().any(|days| holds(*days, at.date())))
            .collect();
        times.sort_unstable();
        if least_runs(&times, &counted).is_none() {
            let endless = counted.iter().map(|(days, runs)| {
                let allowed = u32::MAX;
                (*days, Runs { allowed, ..*runs })
            });
            let made = least_runs(&times, &endless.collect::<Vec<_>>());
            return Verdict::Shown(made.unwrap_or(u32::MAX));
        }
        // Where the number needed is not said, only a grant that needs no counting is sure.
        let sure = free.iter().any(|days| days.and(asked) == asked);
        match self.question.need.runs {
            None if !sure => Verdict::NotSaid,
            _ => Verdict::Enough,
        }
    }

    /// What one offer still grants.
    fn left(&self, at: usize, offer: &Offer<'_>, alike: &Alike) -> Vec<Granted> {
        if offer.runs.is_none() || !self.is_in_time(offer) {
            return vec![offer.granted.clone()];
        }
        let mut plain = offer.granted.clone();
        for (has, name) in plain.media.iter_mut().zip(&self.asked.media) {
            *has &= !medium::has_runs(name);
        }
        let counted = (alike.iter())
            .filter(|((verdict, places, _), _)| {
                places.contains(&at) && matches!(verdict, Verdict::Enough | Verdict::NotSaid)
            })
            .map(|((verdict, _, media), set)| Granted {
                territories: *set,
                media: media.clone(),
                holds: match (verdict, offer.granted.holds) {
                    (Verdict::NotSaid, Holds::On(days)) => Holds::Perhaps(days),
                    (_, holds) => holds,
                },
            });
        std::iter::once(plain).chain(counted).collect()
    }

    fn run_reason(
        &self,
        offers: &[Offer<'_>],
        verdict: Verdict,
        counted: &[usize],
        media: &[bool],
        territories: TerritorySet,
    ) -> Option<Reason> {
        let allowed = allowed_words(offers, counted);
        let (code, weight, sentence) = match verdict {
            Verdict::Enough => return None,
            Verdict::NeedsMore(needed) => (
                ReasonCode::RunsTooFew,
                Weight::Fails,
                format!("{allowed}; the delivery needs {needed}."),
            ),
            Verdict::Shown(made) => (
                ReasonCode::RunsTooFew,
                Weight::Fails,
                format!(
                    "{allowed}; the showings entered make {made} in {}.",
                    territories.words()
                ),
            ),
            Verdict::NotSaid => (
                ReasonCode::RunsUnknown,
                Weight::Unknown,
                format!("{allowed}; how many the delivery needs was not said."),
            ),
        };
        let first = offers[*counted.first()?].paper;
        let mut reason = first.reason(code, "R4", weight, sentence);
        if counted.iter().any(|at| offers[*at].paper.id != first.id) {
            reason.paper_id = None;
        }
        reason.cells = Some(self.cells(territories, self.media_of(media), vec![]));
        Some(reason)
    }
}

/// "The licence from Quay Archive allows 2 runs (…)"; of several: "… and … together allow 3 runs (…)".
fn allowed_words(offers: &[Offer<'_>], counted: &[usize]) -> String {
    let mut names: Vec<String> = Vec::new();
    let mut counting: Vec<String> = Vec::new();
    let mut total = 0_u32;
    for offer in counted.iter().map(|at| &offers[*at]) {
        let Some(runs) = offer.runs else { continue };
        total = total.saturating_add(runs.allowed);
        let (name, how) = (offer.paper.name.clone(), runs.counting.words().to_owned());
        for (list, one) in [(&mut names, name), (&mut counting, how)] {
            if !list.contains(&one) {
                list.push(one);
            }
        }
    }
    let verb = match (names.len(), counted.len()) {
        (1, 1) => "allows",
        (1, _) => "allows in all",
        _ => "together allow",
    };
    format!(
        "{} {verb} {} ({})",
        words::first_upper(&and_list(&names)),
        words::number(total, "run"),
        and_list(&counting)
    )
}

fn reaches(offer: &Offer<'_>, class: TerritorySet, place: usize) -> bool {
    let granted = &offer.granted;
    !granted.territories.and(class).is_empty() && granted.media.get(place) == Some(&true)
}

fn days(granted: &Granted) -> Days {
    match granted.holds {
        Holds::On(days) | Holds::Perhaps(days) => days,
    }
}

fn holds(days: Days, day: NaiveDate) -> bool {
    days.from <= day && day <= days.to
}

/// For each grant the runs used up, and the showing that its last run began with.
type Way = Vec<(u32, Option<NaiveDateTime>)>;

fn total(way: &[(u32, Option<NaiveDateTime>)]) -> u32 {
    way.iter().map(|(used, _)| *used).sum()
}

/// The fewest runs that showings, in order of time, use up when each is dealt to a grant that holds on its day; None
/// where the grants do not allow so many. A showing on a day of no grant is left out: that day is not covered anyway.
fn least_runs(times: &[NaiveDateTime], grants: &[(Days, Runs)]) -> Option<u32> {
    let mut ways: BTreeSet<Way> = BTreeSet::from([vec![(0, None); grants.len()]]);
    for at in times {
        let on_day: Vec<usize> = (0..grants.len())
            .filter(|place| holds(grants[*place].0, at.date()))
            .collect();
        if on_day.is_empty() {
            continue;
        }
        let mut after = BTreeSet::new();
        for way in ways {
            let runs_on = |place: &usize| {
                let (first, counting) = (way[*place].1, grants[*place].1.counting);
                first.is_some_and(|first| counting.is_same_run(first, *at))
            };
            if on_day.iter().any(runs_on) {
                after.insert(way);
                continue;
            }
            for place in &on_day {
                let (used, _) = way[*place];
                if used < grants[*place].1.allowed {
                    let mut next = way.clone();
                    next[*place] = (used + 1, Some(*at));
                    after.insert(next);
                }
            }
        }
        if after.len() > MOST_WAYS {
            let mut cheapest: Vec<Way> = after.into_iter().collect();
            cheapest.sort_by_key(|way| total(way));
            cheapest.truncate(MOST_WAYS);
            after = cheapest.into_iter().collect();
        }
        ways = after;
    }
    ways.iter().map(|way| total(way)).min()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rights::limits::{RunCounting, count_runs};

    fn at(text: &str) -> NaiveDateTime {
        text.parse().expect("a real time")
    }

    fn runs(allowed: u32, counting: RunCounting) -> Runs {
        Runs { allowed, counting }
    }

    fn term(from: &str, to: &str) -> Days {
        Days::new(from.parse().expect("a date"), to.parse().expect("a date"))
    }

    /// Source: rulebook R4: plays on day 0, 2, 6 and 7 are two releases, however they are dealt out.
    #[test]
    fn r4_four_plays_are_two_releases_of_one_grant_or_one_of_each() {
        let plays = ["01", "03", "07", "08"].map(|day| at(&format!("2029-01-{day}T20:00:00")));
        let year = term("2029-01-01", "2029-12-31");
        let counting = RunCounting::SevenDaysByTheHour;
        for grants in [
            vec![(year, runs(2, counting))],
            vec![(year, runs(1, counting)), (year, runs(1, counting))],
        ] {
            assert_eq!(least_runs(&plays, &grants), Some(2));
        }
        assert_eq!(least_runs(&plays, &[(year, runs(1, counting))]), None);
    }

    /// Hand-worked: of two grants the one that ends first gives its run to the earlier showing, whichever stands
    /// first; no showing is counted against both.
    #[test]
    fn r4_each_showing_is_counted_once() {
        let (early, late) = (
            (term("2029-01-01", "2029-03-31"), runs(1, RunCounting::Each)),
            (term("2029-01-01", "2029-12-31"), runs(1, RunCounting::Each)),
        );
        let plays = [at("2029-02-01T20:00:00"), at("2029-06-01T20:00:00")];
        assert_eq!(least_runs(&plays, &[early, late]), Some(2));
        assert_eq!(least_runs(&plays, &[late, early]), Some(2));
        let both_late = [at("2029-05-01T20:00:00"), at("2029-06-01T20:00:00")];
        assert_eq!(least_runs(&both_late, &[early, late]), None);
        assert_eq!(least_runs(&[], &[early]), Some(0));
    }

    proptest::proptest! {
        /// One grant by itself counts as [`count_runs`] does; two alike count as one with both numbers.
        #[test]
        fn r4_adding_up_agrees_with_counting(
            hours in proptest::collection::vec(0_i64..1200, 0..9), first in 0_u32..4, second in 0_u32..4,
        ) {
            let start = at("2029-01-01T00:00:00");
            let mut plays: Vec<NaiveDateTime> =
                hours.iter().map(|hour| start + chrono::TimeDelta::hours(*hour)).collect();
            plays.sort_unstable();
            let year = term("2029-01-01", "2029-12-31");
            for counting in [RunCounting::Each, RunCounting::SevenDaysByTheHour, RunCounting::SevenCalendarDays] {
                let made = count_runs(&plays, counting);
                let fits = |allowed: u32| (made <= allowed).then_some(made);
                let one = [(year, runs(first, counting))];
                proptest::prop_assert_eq!(least_runs(&plays, &one), fits(first));
                let two = [(year, runs(first, counting)), (year, runs(second, counting))];
                proptest::prop_assert_eq!(least_runs(&plays, &two), fits(first + second));
            }
        }
    }
}
