//! What a paper grants, measured against the need and narrowed by its own limits: episodes and versions (runs are
//! counted in `runs`); the options by which it may be extended (R7); what was assumed (R1, R2).

use chrono::NaiveDate;

use super::paper::{Context, Paper, PaperGrant};
use super::reason::{Reason, ReasonCode, Weight};
use super::words;
use crate::rights::coverage::{Grant, Granted};
use crate::rights::days::Days;
use crate::rights::limits::{OptionState, OptionStep, option_steps};
use crate::rights::term::{Event, Holds, Starts, Term, counting_assumed, days_of};
use crate::rights::territory::TerritorySet;
use crate::wording::{and_list, date_words};

/// What a limit of a grant does to the need.
enum Lack {
    /// The grant does not help here.
    Fails(ReasonCode, &'static str, String),
    /// Whether it helps cannot be said.
    Unknown(ReasonCode, &'static str, String),
}

impl Context<'_> {
    /// Measures what a paper grants, narrows it by its limits, and says what was assumed.
    pub fn add_grants<'a>(
        &self,
        paper: &mut Paper<'a>,
        grants: &'a [Grant],
        signed: Option<NaiveDate>,
        signature_planned: bool,
    ) {
        let events = &self.question.events;
        let (groups, today) = (&self.question.groups, self.question.today);
        paper.signed = signed;
        let date_of = |event: Event| self.date_of(event, signed);
        let planned = |event: Event| match event {
            Event::Signature => signature_planned,
            Event::FirstTransmission => events.first_transmission.is_provisional(),
            Event::Delivery => events.delivery.is_provisional(),
            Event::FirstUse => events.first_use.is_provisional(),
        };
        for grant in grants {
            let granted = match grant.measure(&self.asked, groups, today, date_of) {
                Ok(granted) => granted,
                Err(wrong) => {
                    let sentence = format!("{}: {wrong}.", words::first_upper(&paper.name));
                    paper.find(
                        ReasonCode::TerritoryUnreadable,
                        "R3",
                        Weight::Unknown,
                        sentence,
                    );
                    paper.grants.push(self.unreadable(grant));
                    continue;
                }
            };
            if matches!(granted.holds, Holds::On(days) if days.is_empty()) {
                let sentence = format!(
                    "{} ends before it begins; one of its dates must be wrong.",
                    words::first_upper(&paper.name)
                );
                paper.find(
                    ReasonCode::EndsBeforeItBegins,
                    "R1",
                    Weight::Fails,
                    sentence,
                );
            }
            if self.touches(&granted) {
                assume(paper, grant, date_of, planned);
            }
            let first = paper.grants.len();
            paper.grants.push(PaperGrant {
                written: Some(grant),
                nominal: granted.clone(),
                allowed: granted,
            });
            self.narrow(paper, first);
            self.options(paper, first);
        }
    }

    /// A grant whose territories cannot be read: it may be about any of them, on any day.
    fn unreadable(&self, grant: &Grant) -> PaperGrant<'static> {
        let readable = Grant {
            territories: vec![],
            territories_except: vec![],
            ..grant.clone()
        };
        let groups = &self.question.groups;
        let media = readable
            .measure(&self.asked, groups, self.question.today, |_| None)
            .map_or(vec![], |granted| granted.media);
        let granted = Granted {
            territories: self.asked.territories,
            media,
            holds: Holds::Perhaps(Days::ALWAYS),
        };
        PaperGrant {
            written: None,
            nominal: granted.clone(),
            allowed: granted,
        }
    }

    /// Whether a grant has anything to do with what is asked.
    pub fn touches(&self, granted: &Granted) -> bool {
        !granted.territories.and(self.asked.territories).is_empty() && granted.media.contains(&true)
    }

    /// Takes from the paper's last grant what its limits do not allow.
    fn narrow(&self, paper: &mut Paper<'_>, at: usize) {
        let Some(grant) = paper.grants[at].written else {
            return;
        };
        let name = words::first_upper(&paper.name);
        let scopes = [
            self.episode_lack(&name, grant),
            self.version_lack(&name, grant),
        ];
        for lack in scopes.into_iter().flatten() {
            let allowed = &mut paper.grants[at].allowed;
            if matches!(lack, Lack::Fails(..)) {
                allowed.territories = TerritorySet::EMPTY;
            } else if let Holds::On(days) = allowed.holds {
                allowed.holds = Holds::Perhaps(days);
            }
            let nominal = paper.grants[at].nominal.clone();
            self.take_lack(paper, lack, &nominal);
        }
    }

    fn episode_lack(&self, name: &str, grant: &Grant) -> Option<Lack> {
        let only = &grant.limits.episodes;
        if only.is_empty() {
            return None;
        }
        let numbers: Vec<String> = only.iter().map(ToString::to_string).collect();
        let what = format!(
            "{name} is for episode{} {} only",
            if only.len() == 1 { "" } else { "s" },
            and_list(&numbers)
        );
        match self.question.need.episode {
            Some(number) if only.contains(&number) => None,
            Some(number) => Some(Lack::Fails(
                ReasonCode::OtherEpisode,
                "R3",
                format!("{what}; this is episode {number}."),
            )),
            None => Some(Lack::Unknown(
                ReasonCode::VersionUnknown,
                "R3",
                format!("{what}, and which episode this is was not said."),
            )),
        }
    }

    fn version_lack(&self, name: &str, grant: &Grant) -> Option<Lack> {
        let only = &grant.limits.versions;
        if only.is_empty() {
            return None;
        }
        let same = |one: &String| one.trim().to_lowercase();
        let wanted = same(&self.question.need.version);
        let listed: Vec<String> = only.iter().map(|one| format!("“{}”", one.trim())).collect();
        let what = format!("{name} is for the version {} only", and_list(&listed));
        if wanted.is_empty() {
            return Some(Lack::Unknown(
                ReasonCode::VersionUnknown,
                "R3",
                format!("{what}, and the specification does not name the version it asks for."),
            ));
        }
        (!only.iter().any(|one| same(one) == wanted)).then(|| {
            Lack::Fails(
                ReasonCode::OtherVersion,
                "R3",
                format!(
                    "{what}; the delivery asks for “{}”.",
                    self.question.need.version.trim()
                ),
            )
        })
    }

    /// Adds the reason, about the cells that the grant would have covered.
    fn take_lack(&self, paper: &mut Paper<'_>, lack: Lack, nominal: &Granted) {
        let territories = nominal.territories.and(self.asked.territories);
        let media = self.media_of(&nominal.media);
        if territories.is_empty() || media.is_empty() {
            return;
        }
        let (weight, code, rule, sentence) = match lack {
            Lack::Fails(code, rule, sentence) => (Weight::Fails, code, rule, sentence),
            Lack::Unknown(code, rule, sentence) => (Weight::Unknown, code, rule, sentence),
        };
        let mut reason: Reason = paper.reason(code, rule, weight, sentence);
        reason.cells = Some(self.cells(territories, media, vec![]));
        paper.takings.push(reason);
    }

    pub fn media_of(&self, includes: &[bool]) -> Vec<String> {
        let pairs = self.asked.media.iter().zip(includes);
        pairs
            .filter(|(_, has)| **has)
            .map(|(name, _)| name.clone())
            .collect()
    }

    /// What is to be said of a grant's options (R7).
    fn options(&self, paper: &mut Paper<'_>, at: usize) {
        let Some(grant) = paper.grants[at].written else {
            return;
        };
        if grant.options.is_empty() || !self.touches(&paper.grants[at].nominal) {
            return;
        }
        let Some(expiry) = self.plain_end(paper, grant) else {
            return;
        };
        let name = words::first_upper(&paper.name);
        let today = self.question.today;
        for step in option_steps(&grant.options, expiry, today) {
            let months = words::number(step.option.months, "month");
            let (by, end) = (date_words(step.notice_by), date_words(step.expiry));
            let (code, sentence) = match step.option.state(step.expiry, today) {
                OptionState::TakenUp => (
                    ReasonCode::OptionTakenUp,
                    format!(
                        "{name} was extended by {months} until {}.",
                        date_words(step.option.extended(step.expiry))
                    ),
                ),
                OptionState::Open => (
                    ReasonCode::OptionOpen,
                    self.notice_ahead(paper, &step).unwrap_or_else(|| format!(
                        "{name} can be extended by {months} after {end} if notice is given by {by}."
                    )),
                ),
                OptionState::Missed => (
                    ReasonCode::OptionMissed,
                    format!(
                        "Option missed: notice to extend {} by {months} was due by {by}; its term runs until {end}.",
                        paper.name
                    ),
                ),
            };
            paper.find(code, "R7", Weight::Shown, sentence);
        }
    }

    /// Notice of an option that is dated on a day still ahead: nothing is extended before it is given (R7).
    fn notice_ahead(&self, paper: &Paper<'_>, step: &OptionStep<'_>) -> Option<String> {
        let day = self.ahead(step.option.taken_up_on)?;
        Some(format!(
            "Notice to extend {} by {} is dated {}, which is still ahead; until it is given the term runs until {}. It is due by {}.",
            paper.name,
            words::number(step.option.months, "month"),
            date_words(day),
            date_words(step.expiry),
            date_words(step.notice_by)
        ))
    }

    /// The last day of a grant's own term, without its options, where it is known.
    pub fn plain_end(&self, paper: &Paper<'_>, grant: &Grant) -> Option<NaiveDate> {
        let start = match grant.starts {
            Starts::On(date) => Some(date),
            Starts::At(event) => self.date_of(event, paper.signed),
        };
        match days_of(start, grant.term, grant.counting, grant.long_stop) {
            Holds::On(days) if !days.is_empty() && days.to < NaiveDate::MAX => Some(days.to),
            _ => None,
        }
    }

    /// The date of an event that starts a term; the signature is the paper's own.
    fn date_of(&self, event: Event, signed: Option<NaiveDate>) -> Option<NaiveDate> {
        let events = &self.question.events;
        match event {
            Event::Signature => signed,
            Event::FirstTransmission => events.first_transmission.date(),
            Event::Delivery => events.delivery.date(),
            Event::FirstUse => events.first_use.date(),
        }
    }
}

/// Writes down what is taken for granted where a grant's paper does not say (R1, R2).
fn assume(
    paper: &mut Paper<'_>,
    grant: &Grant,
    date_of: impl Fn(Event) -> Option<NaiveDate>,
    planned: impl Fn(Event) -> bool,
) {
    let start = match grant.starts {
        Starts::On(date) => Some(date),
        Starts::At(event) => date_of(event),
    };
    let name = words::first_upper(&paper.name);
    if let (Some(start), Some(Term::Months(months)), None) = (start, grant.term, grant.counting) {
        paper
            .assumptions
            .push(format!("{name}: {} (R1).", counting_assumed(start, months)));
    }
    if let (Starts::At(event), Some(date)) = (grant.starts, start)
        && planned(event)
    {
        paper.provisional = true;
        paper.assumptions.push(format!(
            "{name} runs from {}, which is taken to be {} as planned; if that moves, so does the \
             term (R2).",
            event.words(),
            date_words(date)
        ));
    }
}
