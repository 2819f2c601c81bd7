//! One side of an element in one manner of use: which of its papers hold, and what they leave open.

use chrono::NaiveDate;

use super::forms::{self, Manner};
use super::paper::{Context, Paper};
use super::question::{Element, Side};
use super::reason::{Reason, ReasonCode, Weight};
use super::runs::Offer;
use super::shortfall;
use crate::rights::coverage::{CellState, Granted, groups};
use crate::rights::release::Restriction;
use crate::rights::term::Holds;

/// What must hold at once: one side of the element in one manner of use.
pub(super) struct Demand<'a> {
    /// Each paper with every finding about it in these uses.
    judged: Vec<(&'a Paper<'a>, Vec<Reason>)>,
    /// The grants of the papers that hold, conditions taken away.
    pub granted: Vec<Granted>,
    /// Those of them that rest on more than a crowd notice.
    firm: Vec<Granted>,
    /// Where the runs of all that holds are too few or unknown, and of all papers on their face (R4).
    runs: Vec<Reason>,
    /// What conditions of the forms bind these uses to, and what those take from the needed cells (R23).
    promised: Vec<Reason>,
}

/// What the papers allow in one manner of use. A paper that fails gives nothing; one in doubt gives
/// its grants, perhaps.
pub(super) fn demand<'a>(
    cx: &Context<'_>,
    element: &Element,
    papers: &[&'a Paper<'a>],
    manner: Manner,
) -> Demand<'a> {
    let mut demand = Demand {
        judged: vec![],
        granted: vec![],
        firm: vec![],
        runs: vec![],
        promised: vec![],
    };
    let mut judged: Vec<(&'a Paper<'a>, Vec<Reason>)> = papers
        .iter()
        .map(|paper| {
            let mut findings = paper.findings.clone();
            if let Some(form) = paper.form {
                findings.extend(forms::findings(cx, element, paper, form, manner));
            }
            (*paper, findings)
        })
        .collect();
    withdrawn(element, &mut judged);
    let masks = promised(&mut judged, &mut demand.promised);
    let (mut holding, mut on_face) = (Vec::new(), Vec::new());
    for (paper, findings) in judged {
        let worst = worst(&findings);
        for grant in &paper.grants {
            let runs = grant.written.and_then(|written| written.limits.runs);
            let offer = |granted: &Granted| Offer {
                paper,
                granted: granted.clone(),
                runs,
            };
            on_face.push(offer(&grant.nominal));
            if worst == Weight::Fails {
                continue;
            }
            let mut allowed = offer(&grant.allowed);
            for mask in &masks {
                narrow(&mut allowed.granted, mask);
            }
            if let (Weight::Unknown, Holds::On(days)) = (worst, allowed.granted.holds) {
                allowed.granted.holds = Holds::Perhaps(days);
            }
            holding.push(allowed);
        }
        demand.judged.push((paper, findings));
    }
    let (granted, lacks) = cx.count_runs(&holding);
    for (offer, granted) in holding.iter().zip(granted) {
        if !offer.paper.evidence_only {
            demand.firm.extend(granted.iter().cloned());
        }
        demand.granted.extend(granted);
    }
    demand.runs = lacks;
    // A paper that fails for another reason hides nothing about its runs.
    for lack in cx.count_runs(&on_face).1 {
        let known = |one: &Reason| one.sentence == lack.sentence;
        if !demand.runs.iter().any(known) {
            demand.runs.push(lack);
        }
    }
    demand
}

/// A withdrawal is the person's and not one form's: no other paper of theirs holds against it (R19), except a form that
/// they signed after the day on which it was accepted.
fn withdrawn(element: &Element, judged: &mut [(&Paper<'_>, Vec<Reason>)]) {
    if element.kind.word() != "person" {
        return;
    }
    let said: Vec<(Option<NaiveDate>, Reason)> = judged
        .iter()
        .flat_map(|(paper, findings)| {
            let on = paper.form.and_then(|form| form.facts.withdrawn_on);
            findings.iter().filter_map(move |reason| match reason.code {
                ReasonCode::Withdrawn => Some((on, reason.clone())),
                ReasonCode::Held => Some((None, reason.clone())),
                _ => None,
            })
        })
        .collect();
    for (paper, findings) in judged {
        let signed = paper.form.and_then(|form| form.signed_on);
        for (on, reason) in &said {
            let anew = matches!((on, signed), (Some(on), Some(signed)) if signed > *on);
            if !anew && !findings.contains(reason) {
                findings.push(reason.clone());
            }
        }
    }
}

/// What was promised on one form binds these uses whichever paper allows them (R23: each clip × restriction). A form
/// about other days of filming promises nothing about these. Answers with what the conditions leave, form by form.
fn promised(judged: &mut [(&Paper<'_>, Vec<Reason>)], said: &mut Vec<Reason>) -> Vec<Granted> {
    let (mut masks, mut broken) = (Vec::new(), Vec::new());
    for (paper, findings) in judged.iter() {
        let (Some(form), Some(condition)) = (paper.form, &paper.condition) else {
            continue;
        };
        if (findings.iter()).any(|reason| reason.code == ReasonCode::FilmedOutside) {
            continue;
        }
        masks.push(condition.leaves.clone());
        said.extend(condition.takings.iter().cloned());
        let refused = form.restrictions.contains(&Restriction::NoPromotion);
        for reason in findings.iter().filter(|reason| reason.rule == "R23") {
            if reason.weight == Weight::Shown {
                said.push(reason.clone());
            } else if reason.code != ReasonCode::PromotionNotAllowed || refused {
                broken.push(reason.clone());
            }
        }
    }
    for (_, findings) in judged {
        for reason in &broken {
            if !findings.contains(reason) {
                findings.push(reason.clone());
            }
        }
    }
    masks
}

/// Takes from a grant what a condition does not leave.
fn narrow(granted: &mut Granted, mask: &Granted) {
    granted.territories = granted.territories.and(mask.territories);
    for (one, left) in granted.media.iter_mut().zip(&mask.media) {
        *one &= left;
    }
    let (Holds::On(left) | Holds::Perhaps(left)) = mask.holds;
    let (Holds::On(days) | Holds::Perhaps(days)) = &mut granted.holds;
    *days = days.and(left);
}

fn covers(cx: &Context<'_>, granted: &Vec<Granted>) -> bool {
    groups(&cx.asked, std::slice::from_ref(granted))
        .iter()
        .all(|group| group.lack.state(cx.asked.days) == CellState::Covered)
}

/// The heaviest of a paper's findings.
fn worst(findings: &[Reason]) -> Weight {
    findings
        .iter()
        .map(|reason| reason.weight)
        .min()
        .unwrap_or(Weight::Shown)
}

impl<'a> Demand<'a> {
    /// The papers that do not fail.
    pub fn holding(&self) -> impl Iterator<Item = &'a Paper<'a>> {
        let holds = |findings: &[Reason]| worst(findings) != Weight::Fails;
        self.judged
            .iter()
            .filter(move |(_, findings)| holds(findings))
            .map(|(paper, _)| *paper)
    }

    /// Each paper with the heaviest of its findings.
    pub fn judged(&self) -> impl Iterator<Item = (&'a Paper<'a>, Weight)> {
        (self.judged.iter()).map(|(paper, findings)| (*paper, worst(findings)))
    }

    pub fn is_met(&self, cx: &Context<'_>) -> bool {
        covers(cx, &self.granted)
    }

    /// Whether it is met only because a crowd notice is among its papers (R22).
    pub fn rests_on_notice(&self, cx: &Context<'_>) -> bool {
        self.firm.len() < self.granted.len() && self.is_met(cx) && !covers(cx, &self.firm)
    }

    /// Whether conditions bind these uses, of a paper that holds or of another (R23).
    pub fn is_restricted(&self) -> bool {
        let kept = |reason: &Reason| reason.weight == Weight::Shown;
        self.holding().any(Paper::is_restricted) || self.promised.iter().any(kept)
    }

    /// Where the demand is met: what is to be said of the papers that hold. A wish to withdraw and a
    /// condition are said whichever form they came with.
    pub fn shown(&self) -> impl Iterator<Item = Reason> {
        let of_papers = self.judged.iter().flat_map(|(_, findings)| {
            let holds = worst(findings) != Weight::Fails;
            findings
                .iter()
                .filter(move |reason| holds || reason.code == ReasonCode::WithdrawalRequested)
        });
        let kept = |reason: &&Reason| reason.weight == Weight::Shown;
        of_papers.chain(self.promised.iter().filter(kept)).cloned()
    }

    /// Where it is not met: every finding about every paper, and what conditions take away.
    pub fn all_findings(&self) -> impl Iterator<Item = Reason> {
        self.judged
            .iter()
            .flat_map(|(paper, findings)| findings.iter().chain(&paper.takings))
            .chain(&self.promised)
            .chain(&self.runs)
            .cloned()
    }

    /// What the papers do not reach: those that hold as they stand, and all of them on their face,
    /// so that a faulty paper hides no fault of a good one.
    pub fn shortfalls(&self, cx: &Context<'_>, element: &Element, side: Side) -> Vec<Reason> {
        if self.judged.is_empty() {
            return vec![]; // said by `missing`
        }
        let label = &element.label;
        let subject = match side {
            Side::Composition => format!("the composition of {label}"),
            Side::Recording => format!("the recording of {label}"),
            Side::Beside(permission) => format!("{label}, by {} permission,", permission.words()),
            Side::Whole | Side::Both => label.clone(),
        };
        let of = |papers: Vec<&'a Paper<'a>>, in_doubt| {
            let side = shortfall::Side {
                subject: subject.clone(),
                papers,
                in_doubt,
            };
            shortfall::reasons(cx, &side)
        };
        let all: Vec<&Paper<'_>> = self.judged.iter().map(|(paper, _)| *paper).collect();
        let sound = |findings: &[Reason]| worst(findings) == Weight::Shown;
        let good: Vec<&Paper<'_>> = self
            .judged
            .iter()
            .filter(|(_, findings)| sound(findings))
            .map(|(paper, _)| *paper)
            .collect();
        if good.len() == all.len() {
            return of(all, false);
        }
        // What the good papers do not reach at all is left to the others' findings.
        let beyond = |code| {
            matches!(
                code,
                ReasonCode::NotGranted | ReasonCode::GroundDoesNotReach
            )
        };
        let mut out = of(good, false);
        out.retain(|reason| !beyond(reason.code));
        for reason in of(all, true) {
            if !out
                .iter()
                .any(|known| known.code == reason.code && known.cells == reason.cells)
            {
                out.push(reason);
            }
        }
        out
    }
}
