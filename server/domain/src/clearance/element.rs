//! One element: what it demands of its papers, the cells that follow, and every reason.

use std::collections::BTreeMap;

use chrono::Days as Count;

use super::answer::{CellGroup, DayLine, ElementAnswer, End, FirstUse, State};
use super::behind;
use super::calendar;
use super::demand::demand;
use super::forms::{self, Manner};
use super::owners;
use super::paper::{Context, Paper};
use super::question::{Element, ElementKind, Owner, Side};
use super::reason::{Reason, ReasonCode, Weight};
use super::words;
use crate::rights::coverage::{Asked, Granted, Group, groups};
use crate::rights::days::{Days, previous};
use crate::rights::term::Holds;
use crate::wording::date_words;

/// An end within this many days of today is "soon": the first reminder's distance (R6).
const SOON_DAYS: u64 = 180;

/// Works one element.
pub(super) fn clear(cx: &Context<'_>, element: &Element) -> (ElementAnswer, Vec<DayLine>) {
    let mut days = Vec::new();
    let answer = match &element.kind {
        ElementKind::UnknownSource => nothing_known(
            cx,
            element,
            State::UnknownSource,
            ReasonCode::UnknownSource,
            format!(
                "{} matches nothing in the catalogue.",
                words::first_upper(&element.label)
            ),
        ),
        ElementKind::UnloggedFootage => nothing_known(
            cx,
            element,
            State::NotLogged,
            ReasonCode::NotLogged,
            format!("Nobody has logged who and what is in {}.", element.label),
        ),
        _ => with_papers(cx, element, &mut days),
    };
    (answer, days)
}

/// An element of which nothing can be said: every cell is a gap.
fn nothing_known(
    cx: &Context<'_>,
    element: &Element,
    state: State,
    code: ReasonCode,
    sentence: String,
) -> ElementAnswer {
    let reason = plain_reason(code, "R3", sentence);
    ElementAnswer {
        state,
        cells: cells(cx, &groups(&cx.asked, &[vec![]])),
        reasons: vec![reason],
        end: End::NotCleared,
        ..blank(element)
    }
}

fn with_papers(cx: &Context<'_>, element: &Element, days: &mut Vec<DayLine>) -> ElementAnswer {
    let papers = cx.papers(element);
    days.extend(calendar::of_papers(cx, element, &papers));
    let mut demands: Vec<Vec<Granted>> = Vec::new();
    let mut reasons = Reasons::default();
    let mut holds = Holding::default();
    let mut behind = Vec::new();
    let mut ask =
        |side: Side, here: &[&Paper<'_>], owner: Option<&Owner>, reasons: &mut Reasons| {
            for (manner, events) in manners(element, here) {
                let demand = demand(cx, element, here, manner);
                behind::take_in(&mut behind, cx, element, demand.judged());
                holds.restricted |= demand.is_restricted();
                holds.provisional |= demand.holding().any(|paper| paper.provisional);
                holds.evidence_only |= demand.rests_on_notice(cx);
                if demand.is_met(cx) {
                    reasons.add(demand.shown(), &events);
                } else {
                    reasons.add(demand.all_findings(), &events);
                    reasons.add(demand.shortfalls(cx, element, side), &[]);
                    reasons.add(
                        owner.and_then(|one| owners::lacking(cx, element, one, &demand.granted)),
                        &[],
                    );
                }
                if !demands.contains(&demand.granted) {
                    demands.push(demand.granted);
                }
            }
        };
    for side in sides(element) {
        let here: Vec<&Paper<'_>> = papers.iter().filter(|paper| paper.is_about(side)).collect();
        if here.is_empty() {
            let other_side = !matches!(side, Side::Beside(_)) && !papers.is_empty();
            reasons.add([missing(element, side, other_side)], &[]);
        }
        // Each owner of a side of music has to give it; without any paper that is said already.
        let shared: Vec<&Owner> = owners::of(element, side)
            .filter(|_| !here.is_empty())
            .collect();
        if shared.is_empty() {
            ask(side, &here, None, &mut reasons);
        }
        if let Some(of_original) =
            owners::of_original(element, side, &here).filter(|_| !shared.is_empty())
        {
            ask(side, &of_original, None, &mut reasons);
        }
        for owner in shared {
            let theirs = owners::papers(cx, element, owner, &here);
            let theirs: Vec<&Paper<'_>> = theirs.iter().collect();
            ask(side, &theirs, Some(owner), &mut reasons);
        }
    }
    if let Some(reason) = inside(element) {
        reasons.add([reason], &[]);
        demands.push(vec![perhaps(cx)]);
    }
    let found = groups(&cx.asked, &demands);
    let end = end(cx, &demands);
    reasons.add(cx.death(element), &[]);
    reasons.add(spelling(element), &[]);
    let state = state(cx, &found, &holds, end, &mut reasons, element);
    let mut assumptions: Vec<String> = papers
        .iter()
        .flat_map(|paper| paper.assumptions.iter().cloned())
        .collect();
    assumptions.dedup();
    ElementAnswer {
        state,
        cells: cells(cx, &found),
        reasons: reasons.in_order(),
        assumptions,
        provisional: holds.provisional,
        end,
        behind,
        ..blank(element)
    }
}

/// How what holds, holds.
#[derive(Default)]
struct Holding {
    restricted: bool,
    provisional: bool,
    evidence_only: bool,
}

fn sides(element: &Element) -> Vec<Side> {
    let beside = element.backing.also_needed.iter();
    match &element.kind {
        ElementKind::Music => vec![Side::Composition, Side::Recording],
        _ => [Side::Whole]
            .into_iter()
            .chain(beside.map(|permission| Side::Beside(*permission)))
            .collect(),
    }
}

/// Rights inside a clip stay the producer's problem (rulebook 3.2 [IDA-ARCH2]): while what is said to be inside is not
/// entered, nobody knows what clears it.
fn inside(element: &Element) -> Option<Reason> {
    if says_nothing(&element.backing.inside) {
        return None;
    }
    // The note itself may name somebody who must not be named (rulebook 7.5).
    let sentence = format!(
        "By its note {} has something inside with rights of its own, and nothing of it is entered.",
        element.label
    );
    let mut reason = plain_reason(ReasonCode::InsideNotEntered, "R3", sentence);
    reason.weight = Weight::Unknown;
    Some(reason)
}

/// Whether somebody said that nothing is inside.
fn says_nothing(words: &str) -> bool {
    let plain: Vec<String> = words
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    let plain = plain.join(" ");
    matches!(
        plain.as_str(),
        "" | "no" | "none" | "nothing" | "nothing inside" | "nil" | "n a"
    )
}

/// Perhaps everywhere, always: what is unknown.
fn perhaps(cx: &Context<'_>) -> Granted {
    Granted {
        territories: cx.asked.territories,
        media: vec![true; cx.asked.media.len()],
        holds: Holds::Perhaps(Days::ALWAYS),
    }
}

/// Captions that are not the name that the person confirmed (R36): to be put right, no matter of rights.
fn spelling(element: &Element) -> Vec<Reason> {
    let said = element.captions.iter().flat_map(|one| {
        let events = forms::events_under(element, one);
        (one.faults.iter()).map(move |fault| (fault.clone(), events.clone()))
    });
    said.map(|(sentence, events)| {
        let mut reason = plain_reason(ReasonCode::CaptionDiffers, "R36", sentence);
        (reason.weight, reason.events) = (Weight::Shown, events);
        reason
    })
    .collect()
}

/// Uses grouped by what forms ask about, with their events; one group where no form is there.
fn manners(element: &Element, papers: &[&Paper<'_>]) -> Vec<(Manner, Vec<u32>)> {
    if papers.iter().all(|paper| paper.form.is_none()) || element.uses.is_empty() {
        let manner = element.uses.first().map_or(Manner::UNKNOWN, Manner::of);
        return vec![(manner, vec![])];
    }
    let mut out: BTreeMap<Manner, Vec<u32>> = BTreeMap::new();
    for one in &element.uses {
        out.entry(Manner::of(one)).or_default().push(one.event);
    }
    let all_alike = out.len() == 1;
    out.into_iter()
        .map(|(manner, events)| (manner, if all_alike { vec![] } else { events }))
        .collect()
}

/// Nothing at all is on file for a side.
fn missing(element: &Element, side: Side, other_side_there: bool) -> Reason {
    let label = &element.label;
    let (code, sentence) = match (side, &element.kind) {
        (Side::Composition, _) if other_side_there => (
            ReasonCode::CompositionMissing,
            format!(
                "Only the recording of {label} is provided for; nothing clears the composition."
            ),
        ),
        (Side::Recording, _) if other_side_there => (
            ReasonCode::RecordingMissing,
            format!(
                "Only the composition of {label} is provided for; nothing clears the recording."
            ),
        ),
        (Side::Composition, _) => (
            ReasonCode::CompositionMissing,
            format!("Nothing on file clears the composition of {label}."),
        ),
        (Side::Recording, _) => (
            ReasonCode::RecordingMissing,
            format!("Nothing on file clears the recording of {label}."),
        ),
        (Side::Beside(permission), _) => (
            ReasonCode::PermissionMissing,
            format!(
                "{label} also needs {} permission; none is on file.",
                permission.words()
            ),
        ),
        (_, ElementKind::Person { .. }) => (
            ReasonCode::NoPermission,
            format!("No release of {label} is on file."),
        ),
        _ => (
            ReasonCode::NoPermission,
            format!("No licence, release or other ground for {label} is on file."),
        ),
    };
    plain_reason(code, "R3", sentence)
}

fn plain_reason(code: ReasonCode, rule: &str, sentence: String) -> Reason {
    Reason {
        code,
        rule: rule.into(),
        weight: Weight::Fails,
        sentence,
        action: words::action(code).into(),
        cells: None,
        paper_id: None,
        events: vec![],
    }
}

/// Reasons by sentence, so that one that holds in several uses is said once, with its events.
#[derive(Default)]
struct Reasons(Vec<Reason>);

impl Reasons {
    fn add(&mut self, reasons: impl IntoIterator<Item = Reason>, events: &[u32]) {
        for mut reason in reasons {
            let same = self.0.iter_mut().find(|known| {
                known.sentence == reason.sentence && known.paper_id == reason.paper_id
            });
            match same {
                // No events means all uses: nothing to add to that.
                Some(known) if known.events.is_empty() => {}
                Some(known) if events.is_empty() => known.events.clear(),
                Some(known) => known.events.extend(events),
                None => {
                    // A finding about some events keeps them, whatever else is alike.
                    if reason.events.is_empty() {
                        reason.events = events.to_vec();
                    }
                    self.0.push(reason);
                }
            }
        }
    }

    /// Failing ones first, else in the order found; events in the order of the cut.
    fn in_order(mut self) -> Vec<Reason> {
        for reason in &mut self.0 {
            reason.events.sort_unstable();
            reason.events.dedup();
        }
        self.0.sort_by_key(|reason| reason.weight);
        self.0
    }
}

fn state(
    cx: &Context<'_>,
    found: &[Group],
    holds: &Holding,
    end: End,
    reasons: &mut Reasons,
    element: &Element,
) -> State {
    if found.iter().any(|group| !group.lack.gaps.is_empty()) {
        return State::Gap;
    }
    if found.iter().any(|group| !group.lack.unknown.is_empty()) {
        return State::Unknown;
    }
    let soon = cx.question.today.checked_add_days(Count::new(SOON_DAYS));
    let ends_soon = match (end, soon) {
        (End::On(day), Some(soon)) if day <= soon => Some(day),
        _ => None,
    };
    if let Some(day) = ends_soon {
        let sentence = format!(
            "The right to {} ends on {}.",
            element.label,
            date_words(day)
        );
        let mut reason = plain_reason(ReasonCode::EndsSoon, "R5", sentence);
        reason.weight = Weight::Shown;
        reasons.add([reason], &[]);
    }
    match (holds.evidence_only, holds.restricted, ends_soon) {
        (true, ..) => State::EvidenceOnly,
        (_, true, _) => State::Restricted,
        (_, _, Some(_)) => State::EndsSoon,
        (_, _, None) => State::Covered,
    }
}

/// Until when every needed cell is covered without a break from the first needed day (R5).
///
/// An unknown within the needed days makes the end unknown; one that only begins after them is not
/// relied on, and the earlier, known end is taken.
fn end(cx: &Context<'_>, demands: &[Vec<Granted>]) -> End {
    let needed = cx.asked.days;
    let onward = Asked {
        days: Days::new(needed.from, Days::ALWAYS.to),
        ..cx.asked.clone()
    };
    let end_of = |group: &Group| {
        let first = |ranges: &[Days]| ranges.first().map(|days| days.from);
        let (gap, unknown) = (
            first(group.lack.gaps.ranges()),
            first(group.lack.unknown.ranges()),
        );
        match (gap, unknown) {
            (Some(gap), _) if gap == needed.from => End::NotCleared,
            (gap, Some(unknown)) if gap.is_none_or(|gap| unknown < gap) => {
                if unknown <= needed.to {
                    End::Unknown
                } else {
                    End::On(previous(unknown))
                }
            }
            (Some(gap), _) => End::On(previous(gap)),
            (None, _) => End::Open,
        }
    };
    groups(&onward, demands)
        .iter()
        .map(end_of)
        .fold(End::Open, End::earlier)
}

fn cells(cx: &Context<'_>, found: &[Group]) -> Vec<CellGroup> {
    found
        .iter()
        .map(|group| {
            let media: Vec<String> = group
                .media
                .iter()
                .filter_map(|place| cx.asked.media.get(*place).cloned())
                .collect();
            CellGroup {
                territories: words::codes(group.territories),
                place: group.territories.words(),
                media_words: cx.asked.media_words(&media),
                media,
                state: group.lack.state(cx.asked.days),
                gaps: group.lack.gaps.ranges().to_vec(),
                unknown: group.lack.unknown.ranges().to_vec(),
            }
        })
        .collect()
}

/// What is the same whatever the answer: name, first use, time.
fn blank(element: &Element) -> ElementAnswer {
    let first = element
        .uses
        .iter()
        .min_by_key(|one| (one.record_in, one.event));
    ElementAnswer {
        id: element.id.clone(),
        kind: element.kind.word().into(),
        label: element.label.clone(),
        state: State::Unknown,
        first_use: first.map(|one| FirstUse {
            event: one.event,
            record_in: one.record_in,
        }),
        uses: u32::try_from(element.uses.len()).unwrap_or(u32::MAX),
        total_frames: total_frames(element),
        cells: vec![],
        reasons: vec![],
        assumptions: vec![],
        provisional: false,
        end: End::NotCleared,
        behind: vec![],
    }
}

/// Frames in which the element is present, overlapping uses counted once.
fn total_frames(element: &Element) -> u64 {
    let mut ranges: Vec<(u64, u64)> = element
        .uses
        .iter()
        .map(|one| (one.record_in, one.record_out))
        .collect();
    ranges.sort_unstable();
    let (mut total, mut until) = (0, 0);
    for (from, to) in ranges {
        total += to.saturating_sub(from.max(until));
        until = until.max(to);
    }
    total
}
