//! What changes on which day: ends and beginnings of terms, last days for options (R7), holdbacks,
//! embargoes, showings.

use chrono::NaiveDate;

use super::answer::{DayKind, DayLine};
use super::paper::{Context, Paper, PaperGrant};
use super::question::{Element, Question};
use super::words;
use crate::rights::days::Days;
use crate::rights::limits::{OptionState, option_steps};
use crate::rights::medium;
use crate::rights::release::Restriction;
use crate::rights::term::{Event, Holds, Starts};
use crate::wording::date_words;

/// The days of the need and of the showings.
pub(super) fn of_episode(question: &Question, needed: Days) -> Vec<DayLine> {
    let line = |on, kind, sentence: String| DayLine {
        on,
        kind,
        element: None,
        paper_id: None,
        sentence,
        provisional: false,
    };
    let mut days = vec![
        line(
            needed.from,
            DayKind::NeedBegins,
            "First day on which the delivery needs its rights.".into(),
        ),
        line(
            needed.to,
            DayKind::NeedEnds,
            "Last day on which the delivery needs its rights.".into(),
        ),
    ];
    days.extend(question.showings.iter().map(|showing| {
        let sentence = format!("Shown in {}.", medium::words(&showing.media));
        line(showing.at.date(), DayKind::Showing, sentence)
    }));
    days
}

/// The days of an element's papers.
pub(super) fn of_papers(cx: &Context<'_>, element: &Element, papers: &[Paper<'_>]) -> Vec<DayLine> {
    let mut days = Vec::new();
    for paper in papers {
        let add = |on: NaiveDate, kind, provisional, sentence: String| DayLine {
            on,
            kind,
            element: Some(element.id.clone()),
            paper_id: paper.id.map(str::to_owned),
            sentence,
            provisional,
        };
        for grant in paper
            .grants
            .iter()
            .filter(|grant| cx.touches(&grant.nominal))
        {
            of_grant(cx, element, paper, grant, &add, &mut days);
        }
        for restriction in paper.form.iter().flat_map(|form| &form.restrictions) {
            if let Restriction::NotBefore { date } = restriction {
                let sentence = format!(
                    "{} may be shown from this day.",
                    words::first_upper(&element.label)
                );
                days.push(add(*date, DayKind::EmbargoEnds, false, sentence));
            }
        }
    }
    for licence in &element.backing.licences {
        if let Some(on) = licence.terms.holdback_until {
            days.push(DayLine {
                on,
                kind: DayKind::HoldbackEnds,
                element: Some(element.id.clone()),
                paper_id: Some(licence.id.clone()),
                sentence: format!(
                    "{} may use {} elsewhere after this day.",
                    licence.licensor, element.label
                ),
                provisional: false,
            });
        }
    }
    days
}

fn of_grant(
    cx: &Context<'_>,
    element: &Element,
    paper: &Paper<'_>,
    grant: &PaperGrant<'_>,
    add: &dyn Fn(NaiveDate, DayKind, bool, String) -> DayLine,
    days: &mut Vec<DayLine>,
) {
    let (Some(written), Holds::On(term)) = (grant.written, grant.nominal.holds) else {
        return;
    };
    if term.is_empty() {
        return;
    }
    let events = &cx.question.events;
    let provisional = match written.starts {
        Starts::On(_) | Starts::At(Event::Signature) => paper.provisional && paper.signed.is_none(),
        Starts::At(Event::FirstTransmission) => events.first_transmission.is_provisional(),
        Starts::At(Event::Delivery) => events.delivery.is_provisional(),
        Starts::At(Event::FirstUse) => events.first_use.is_provisional(),
    };
    let (label, name) = (&element.label, words::first_upper(&paper.name));
    if term.to < NaiveDate::MAX {
        let sentence = format!("{name}: last day of its term for {label}.");
        days.push(add(term.to, DayKind::TermEnds, provisional, sentence));
    }
    if term.from > cx.asked.days.from {
        let sentence = format!("{name}: its term for {label} begins.");
        days.push(add(term.from, DayKind::TermBegins, provisional, sentence));
    }
    let Some(expiry) = cx.plain_end(paper, written) else {
        return;
    };
    for step in option_steps(&written.options, expiry, cx.question.today) {
        let left = match step.option.state(step.expiry, cx.question.today) {
            OptionState::TakenUp => continue,
            OptionState::Open => "last day",
            OptionState::Missed => "option missed: this was the last day",
        };
        let sentence = format!(
            "{name}: {left} to give notice for {} after {}.",
            words::number(step.option.months, "month"),
            date_words(step.expiry)
        );
        days.push(add(
            step.notice_by,
            DayKind::OptionNotice,
            provisional,
            sentence,
        ));
    }
}

/// Soonest first; what is said twice, once.
pub(super) fn in_order(days: &mut Vec<DayLine>) {
    days.sort_by(|a, b| {
        (a.on, a.kind, &a.element, &a.sentence).cmp(&(b.on, b.kind, &b.element, &b.sentence))
    });
    days.dedup();
}
