//! A grant with a number of runs, against the runs that the delivery needs and the showings entered (R4).
//! Each grant counts for itself: runs of several grants do not add up.

use chrono::NaiveDateTime;

use super::grants::Lack;
use super::paper::{Context, Paper, PaperGrant};
use super::reason::ReasonCode;
use super::words;
use crate::rights::coverage::Granted;
use crate::rights::limits::{Runs, count_runs};
use crate::rights::medium;
use crate::rights::term::Holds;
use crate::rights::territory::TerritorySet;

impl Context<'_> {
    /// Runs (R4): media that are shown run by run are taken out where there are too few, or where
    /// nobody said how many are needed.
    pub fn narrow_runs(&self, paper: &mut Paper<'_>, at: usize, name: &str, runs: Runs) {
        let nominal = paper.grants[at].nominal.clone();
        let in_runs: Vec<bool> = (self.asked.media.iter().zip(&nominal.media))
            .map(|(name, has)| *has && medium::has_runs(name))
            .collect();
        let media = self.media_of(&in_runs);
        let here = nominal.territories.and(self.asked.territories);
        if media.is_empty() || here.is_empty() {
            return;
        }
        let allowed = format!(
            "{name} allows {} ({})",
            words::number(runs.allowed, "run"),
            runs.counting.words()
        );
        let (used, most) = self.used_up(here, &media, &nominal, runs);
        let needed = self.question.need.runs;
        let lack = match needed {
            Some(needed) if needed > runs.allowed => Some((
                here,
                Lack::Fails(
                    ReasonCode::RunsTooFew,
                    "R4",
                    format!("{allowed}; the delivery needs {needed}."),
                ),
            )),
            _ if !used.is_empty() => Some((
                used,
                Lack::Fails(
                    ReasonCode::RunsTooFew,
                    "R4",
                    format!(
                        "{allowed}; the showings entered make {most} in {}.",
                        used.words()
                    ),
                ),
            )),
            Some(_) => None,
            None => Some((
                here,
                Lack::Unknown(
                    ReasonCode::RunsUnknown,
                    "R4",
                    format!("{allowed}; how many the delivery needs was not said."),
                ),
            )),
        };
        let Some((territories, lack)) = lack else {
            return;
        };
        let fails = matches!(lack, Lack::Fails(..));
        // The grant itself goes on without those cells; what is doubtful goes on as doubtful.
        let mut doubtful = paper.grants[at].allowed.clone();
        for (granted, run) in paper.grants[at].allowed.media.iter_mut().zip(&in_runs) {
            *granted &= !run;
        }
        for (granted, run) in doubtful.media.iter_mut().zip(&in_runs) {
            *granted &= run;
        }
        if let (false, Holds::On(days)) = (fails, doubtful.holds) {
            doubtful.holds = Holds::Perhaps(days);
        }
        if fails {
            doubtful.territories = doubtful.territories.minus(territories);
        }
        paper.grants.push(PaperGrant {
            written: None,
            nominal: nominal.clone(),
            allowed: doubtful,
        });
        self.take_lack(paper, lack, &nominal, Some((territories, media)));
    }

    /// Where the showings entered make more runs than are allowed, and the most that they make.
    fn used_up(
        &self,
        here: TerritorySet,
        media: &[String],
        nominal: &Granted,
        runs: Runs,
    ) -> (TerritorySet, u32) {
        let days = match nominal.holds {
            Holds::On(days) | Holds::Perhaps(days) => days,
        };
        let (mut over, mut most) = (TerritorySet::EMPTY, 0);
        for name in media {
            let mut classes: Vec<(TerritorySet, Vec<NaiveDateTime>)> = vec![(here, vec![])];
            for showing in &self.question.showings {
                let day = showing.at.date();
                if !medium::any_includes(&showing.media, name) || day < days.from || day > days.to {
                    continue;
                }
                let codes = showing.territories.iter().map(String::as_str);
                // A territory that cannot be read may be any: the run counts everywhere.
                let shown = TerritorySet::parse(codes, &self.question.groups).unwrap_or(here);
                classes = classes
                    .into_iter()
                    .flat_map(|(set, times)| {
                        let mut with = times.clone();
                        with.push(showing.at);
                        [(set.and(shown), with), (set.minus(shown), times)]
                    })
                    .filter(|(set, _)| !set.is_empty())
                    .collect();
            }
            for (set, times) in classes {
                let count = count_runs(&times, runs.counting);
                if count > runs.allowed {
                    over = over.or(set);
                    most = most.max(count);
                }
            }
        }
        (over, most)
    }
}
