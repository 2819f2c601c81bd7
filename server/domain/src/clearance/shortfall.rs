//! What the papers of one side do not reach, in words: which cells, which days, and by how much
//! (R2, R3).

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::paper::{Context, Paper, PaperGrant};
use super::reason::{Reason, ReasonCode, Weight};
use super::words;
use crate::rights::coverage::{Granted, Group, groups};
use crate::rights::days::{Days, next, previous};
use crate::rights::term::{Event, Holds, Starts};
use crate::rights::territory::TerritorySet;
use crate::wording::{and_list, date_words};

/// The papers of one side of an element, on their face.
pub(super) struct Side<'a> {
    /// Within a sentence: "Harbour newsreel 1934", "the composition of The Ebb".
    pub subject: String,
    pub papers: Vec<&'a Paper<'a>>,
    /// Whether some of them fail for another reason, so that nothing "is" cleared by them.
    pub in_doubt: bool,
}

/// Every gap and every unknown that the papers leave on their face.
pub(super) fn reasons(cx: &Context<'_>, side: &Side<'_>) -> Vec<Reason> {
    let nominal: Vec<Granted> = side
        .grants()
        .map(|(_, grant)| grant.nominal.clone())
        .collect();
    let mut out = Vec::new();
    let parts = groups(&cx.asked, &[nominal])
        .into_iter()
        .flat_map(|group| by_grants(side, group));
    for group in parts {
        let here: Vec<(&Paper<'_>, &PaperGrant<'_>)> = side
            .grants()
            .filter(|(_, grant)| reaches(grant, &group))
            .collect();
        for gap in group.lack.gaps.ranges() {
            out.extend(gap_reason(cx, side, &group, &here, *gap));
        }
        if !group.lack.unknown.is_empty() {
            out.extend(unknown_reasons(cx, side, &group, &here));
        }
    }
    out
}

/// Parts cells that lack the same days by what stands beside those days: what ended is not what was
/// never granted, and one paper's end is not another's.
fn by_grants(side: &Side<'_>, group: Group) -> Vec<Group> {
    type Beside = (bool, Option<NaiveDate>, Option<NaiveDate>, Vec<usize>);
    if group.lack.gaps.is_empty() && group.lack.unknown.is_empty() {
        return vec![group];
    }
    let grants: Vec<(&Paper<'_>, &PaperGrant<'_>)> = side.grants().collect();
    let mut classes = vec![group.territories];
    for (_, grant) in &grants {
        let cut = grant.nominal.territories;
        classes = classes
            .into_iter()
            .flat_map(|class| [class.and(cut), class.minus(cut)])
            .filter(|class| !class.is_empty())
            .collect();
    }
    let gap = group.lack.gaps.ranges().first().copied();
    let mut parts: BTreeMap<(Beside, usize), TerritorySet> = BTreeMap::new();
    for class in classes {
        for place in &group.media {
            let cell = Group {
                territories: class,
                media: vec![*place],
                lack: Default::default(),
            };
            let reach = (0..grants.len()).filter(|at| reaches(grants[*at].1, &cell));
            let reach: Vec<usize> = reach.collect();
            let here: Vec<_> = reach.iter().map(|at| grants[*at]).collect();
            let (before, after) = gap.map_or((None, None), |gap| neighbours(&here, gap));
            let unsure = |at: &usize| matches!(grants[*at].1.nominal.holds, Holds::Perhaps(_));
            let perhaps = reach.iter().copied().filter(unsure).collect();
            let set = parts
                .entry(((here.is_empty(), before, after, perhaps), *place))
                .or_default();
            *set = set.or(class);
        }
    }
    // Media whose territories are alike are said together.
    let mut alike: BTreeMap<(Beside, TerritorySet), Vec<usize>> = BTreeMap::new();
    for ((beside, place), set) in parts {
        alike.entry((beside, set)).or_default().push(place);
    }
    alike
        .into_iter()
        .map(|((_, territories), media)| Group {
            territories,
            media,
            lack: group.lack.clone(),
        })
        .collect()
}

fn reaches(grant: &PaperGrant<'_>, group: &Group) -> bool {
    let has = |place: &usize| grant.nominal.media.get(*place) == Some(&true);
    !grant.nominal.territories.and(group.territories).is_empty() && group.media.iter().any(has)
}

impl<'a> Side<'a> {
    fn grants(&self) -> impl Iterator<Item = (&'a Paper<'a>, &'a PaperGrant<'a>)> {
        self.papers
            .iter()
            .flat_map(|paper| paper.grants.iter().map(|grant| (*paper, grant)))
    }
}

/// "for free television in the UK".
fn scope(cx: &Context<'_>, group: &Group) -> String {
    let media: Vec<String> = group
        .media
        .iter()
        .filter_map(|place| cx.asked.media.get(*place).cloned())
        .collect();
    format!(
        "for {} in {}",
        cx.asked.media_words(&media),
        group.territories.words()
    )
}

/// The known ends before a gap and beginnings after it.
fn neighbours(
    here: &[(&Paper<'_>, &PaperGrant<'_>)],
    gap: Days,
) -> (Option<NaiveDate>, Option<NaiveDate>) {
    let known = here
        .iter()
        .filter_map(|(_, grant)| match grant.nominal.holds {
            Holds::On(days) if !days.is_empty() => Some(days),
            _ => None,
        });
    let (mut before, mut after) = (None, None);
    for days in known {
        if days.to < gap.from {
            before = before.max(Some(days.to));
        } else if days.from > gap.to {
            after = Some(after.map_or(days.from, |first: NaiveDate| first.min(days.from)));
        }
    }
    (before, after)
}

/// What a gap is, from what stands before and after it. None where the papers' own findings say all:
/// their terms end before they begin.
fn kind_of(
    asked: Days,
    gap: Days,
    side: &Side<'_>,
    here: &[(&Paper<'_>, &PaperGrant<'_>)],
) -> Option<ReasonCode> {
    if here.is_empty() {
        let grounds_only = side.papers.iter().all(|paper| paper.id.is_none());
        return Some(if grounds_only {
            ReasonCode::GroundDoesNotReach
        } else {
            ReasonCode::NotGranted
        });
    }
    if gap == asked {
        return match neighbours(here, gap) {
            (Some(_), _) => Some(ReasonCode::Ended),
            (None, Some(_)) => Some(ReasonCode::StartsTooLate),
            (None, None) => None,
        };
    }
    Some(if gap.to == asked.to {
        ReasonCode::EndsTooEarly
    } else if gap.from == asked.from {
        ReasonCode::StartsTooLate
    } else {
        ReasonCode::DaysMissing
    })
}

fn gap_reason(
    cx: &Context<'_>,
    side: &Side<'_>,
    group: &Group,
    here: &[(&Paper<'_>, &PaperGrant<'_>)],
    gap: Days,
) -> Option<Reason> {
    let code = kind_of(cx.asked.days, gap, side, here)?;
    let rule = if code == ReasonCode::GroundDoesNotReach {
        "R54"
    } else {
        "R3"
    };
    let sentence = gap_sentence(cx, side, group, here, gap, code);
    Some(reason(
        cx,
        code,
        rule,
        Weight::Fails,
        sentence,
        group,
        vec![gap],
        only_paper(here),
    ))
}

fn gap_sentence(
    cx: &Context<'_>,
    side: &Side<'_>,
    group: &Group,
    here: &[(&Paper<'_>, &PaperGrant<'_>)],
    gap: Days,
    code: ReasonCode,
) -> String {
    let asked = cx.asked.days;
    let subject = words::first_upper(&side.subject);
    let (is, was) = if side.in_doubt {
        ("would be", "would have been")
    } else {
        ("is", "was")
    };
    let scope = scope(cx, group);
    let (from, to) = (date_words(asked.from), date_words(asked.to));
    let needed = if asked.from == asked.to {
        format!("on {from}")
    } else {
        format!("from {from} to {to}")
    };
    let count = words::days(gap.count());
    let unknown_beside = group
        .lack
        .unknown
        .ranges()
        .iter()
        .any(|days| next(days.to) == gap.from || next(gap.to) == days.from);
    let at_best = if unknown_beside { " at best" } else { "" };
    let (before, after) = neighbours(here, gap);
    match code {
        ReasonCode::Ended => format!(
            "{subject} {was} cleared {scope} until {}; the delivery needs it {needed}.",
            before.map_or_else(String::new, date_words)
        ),
        ReasonCode::StartsTooLate => format!(
            "{subject} {is} cleared {scope} only from {}{at_best}; the delivery needs it from \
             {from} ({count} missing).",
            date_words(if gap == asked {
                after.unwrap_or(gap.to)
            } else {
                next(gap.to)
            })
        ),
        ReasonCode::EndsTooEarly => format!(
            "{subject} {is} cleared {scope} until {}{at_best}; the delivery needs it until {to} \
             ({count} short).",
            date_words(previous(gap.from))
        ),
        ReasonCode::DaysMissing => format!(
            "{subject} is not cleared {scope} from {} to {} ({count} missing between two terms).",
            date_words(gap.from),
            date_words(gap.to)
        ),
        _ => format!(
            "{subject} is not cleared {scope}{}; the delivery needs it {needed}.",
            hints(side, group)
        ),
    }
}

/// Why no paper reaches these cells: "(the licence from Quay Archive excepts Germany)".
fn hints(side: &Side<'_>, group: &Group) -> String {
    let mut hints: Vec<String> = Vec::new();
    for paper in &side.papers {
        let territory = paper
            .grants
            .iter()
            .any(|g| !g.nominal.territories.and(group.territories).is_empty());
        let has = |g: &PaperGrant<'_>| {
            group
                .media
                .iter()
                .any(|place| g.nominal.media.get(*place) == Some(&true))
        };
        let lacks = match (territory, paper.grants.iter().any(has)) {
            _ if paper.grants.is_empty() => "grants nothing yet",
            (false, true) => "does not include these territories",
            (true, false) => "does not include these media",
            (false, false) => "includes neither these territories nor these media",
            (true, true) => "does not include these territories and media together",
        };
        let hint = format!("{} {lacks}", paper.name);
        if !hints.contains(&hint) {
            hints.push(hint);
        }
    }
    if hints.is_empty() {
        String::new()
    } else {
        format!(" ({})", and_list(&hints))
    }
}

fn unknown_reasons(
    cx: &Context<'_>,
    side: &Side<'_>,
    group: &Group,
    here: &[(&Paper<'_>, &PaperGrant<'_>)],
) -> Vec<Reason> {
    let days = group.lack.unknown.ranges().to_vec();
    let scope = scope(cx, group);
    here.iter()
        .filter(|(_, grant)| matches!(grant.nominal.holds, Holds::Perhaps(_)))
        .filter_map(|(paper, grant)| {
            let written = grant.written?;
            let (code, why) = match (written.starts, written.term) {
                (Starts::At(event), Some(_)) => (
                    ReasonCode::StartUnknown,
                    format!(
                        "{} starts at {}, which has no date yet",
                        paper.name,
                        event.words()
                    ),
                ),
                _ => (
                    ReasonCode::TermUnknown,
                    format!("the term of {} is not filled in", paper.name),
                ),
            };
            let sentence = format!(
                "Whether {} is cleared {scope} is unknown: {why}.",
                side.subject
            );
            let weight = Weight::Unknown;
            let mut one = reason(
                cx,
                code,
                "R2",
                weight,
                sentence,
                group,
                days.clone(),
                paper.id,
            );
            if let (ReasonCode::StartUnknown, Starts::At(event)) = (code, written.starts) {
                one.action = match event {
                    Event::Signature => format!(
                        "Enter the day on which {} is signed, planned if need be, or agree a fixed day.",
                        paper.name
                    ),
                    _ => format!(
                        "Enter the day of {}, planned if need be, or agree a fixed day for {}.",
                        event.words(),
                        paper.name
                    ),
                };
            }
            Some(one)
        })
        .collect()
}

/// The paper, where only one is concerned.
fn only_paper<'a>(here: &[(&Paper<'a>, &PaperGrant<'a>)]) -> Option<&'a str> {
    let (first, _) = here.first()?;
    here.iter()
        .all(|(paper, _)| paper.id == first.id)
        .then_some(first.id)?
}

#[expect(
    clippy::too_many_arguments,
    reason = "each is one field of the reason it makes"
)]
fn reason(
    cx: &Context<'_>,
    code: ReasonCode,
    rule: &str,
    weight: Weight,
    sentence: String,
    group: &Group,
    days: Vec<Days>,
    paper: Option<&str>,
) -> Reason {
    let media = group
        .media
        .iter()
        .filter_map(|place| cx.asked.media.get(*place).cloned());
    Reason {
        code,
        rule: rule.into(),
        weight,
        sentence,
        action: words::action(code).into(),
        cells: Some(cx.cells(group.territories, media.collect(), days)),
        paper_id: paper.map(str::to_owned),
        events: vec![],
    }
}
