//! The report's standing sentences: why it is blocked, the rules that were applied, the cautions.

use std::collections::BTreeSet;

use waybill_domain::clearance::Answer;
use waybill_domain::report::{RuleUsed, STANDARD_CAUTIONS};
use waybill_domain::wording::{and_list, counted, date_words, local};

use super::super::clearance::approvals::ApprovalView;

/// What each rule says, in a sentence (rulebook 4).
const RULES: [(&str, &str); 22] = [
    (
        "R1",
        "A term in months ends on the day before the corresponding day, or on it; the earlier is taken where the paper \
         does not say.",
    ),
    (
        "R2",
        "A term that starts with an event has no known end until the event has a date; a planned date gives a \
         provisional one.",
    ),
    (
        "R3",
        "Each needed territory and medium must be covered on every needed day, by one grant or by several that leave \
         no day out.",
    ),
    (
        "R4",
        "Grants with a number of runs cover no more of them, in each territory and medium, than they allow together; each \
         showing is counted once.",
    ),
    (
        "R5",
        "The episode may be shown only as long as every element in it may be.",
    ),
    (
        "R7",
        "An option is lost when the last day for notice has passed, though the term may still run.",
    ),
    (
        "R8",
        "Rights must last as long as the longest sub-licence of the distribution.",
    ),
    (
        "R9",
        "Public domain by age is an estimate, and differs from country to country.",
    ),
    (
        "R10",
        "A licence may bill a least number of seconds, for each cut or for the project.",
    ),
    (
        "R11",
        "Under equal terms a licensor is paid no less than the best paid.",
    ),
    (
        "R12",
        "Both sides of music are cleared by all their owners; an arrangement is a work of its own, though the original be \
         free of rights.",
    ),
    (
        "R19",
        "A release holds only if it is signed in time, by the right person, for the right company and for this use.",
    ),
    (
        "R20",
        "Age is counted on the day of filming; a minor's form needs a guardian's signature.",
    ),
    (
        "R21",
        "A release signed after the first use does not hold; one signed long after filming is to be checked.",
    ),
    (
        "R22",
        "A crowd notice is evidence only, and never for somebody who is more than background.",
    ),
    (
        "R23",
        "A condition that somebody set is measured against each use and each thing to be delivered.",
    ),
    (
        "R26",
        "Before a repeat it is asked whether anybody has died or been accused, and whether a licence has lapsed.",
    ),
    (
        "R36",
        "A caption is the name that the person confirmed, letter by letter, accents and capitals kept.",
    ),
    (
        "R50",
        "The report lists every element of the cut, worst first; it is blocked if any needed cell fails.",
    ),
    (
        "R51",
        "Fair use is accepted only after disclosure, approval, counsel's opinion letter and the insurer's endorsement.",
    ),
    (
        "R52",
        "The buyer's waiver comes before the licence is signed.",
    ),
    (
        "R54",
        "A ground other than a licence holds only in its own country, and may not carry promotion.",
    ),
];

/// The rule about Creative Commons comes last, as in the rulebook.
const CREATIVE_COMMONS: (&str, &str) = (
    "R55",
    "The conditions of a Creative Commons licence are kept: no paid use under NC, no changes under ND, a full credit.",
);

/// The rules that were applied: those behind a reason, and those that every report follows.
pub fn rules(answer: &Answer) -> Vec<RuleUsed> {
    let mut applied: BTreeSet<&str> = ["R3", "R5", "R50"].into();
    for element in &answer.elements {
        applied.extend(element.reasons.iter().map(|reason| reason.rule.as_str()));
        if element.provisional {
            applied.insert("R2");
        }
    }
    for (rule, _) in RULES {
        let named = |text: &String| text.contains(&format!("({rule})"));
        if answer.assumptions.iter().any(named) {
            applied.insert(rule);
        }
    }
    RULES
        .into_iter()
        .chain([CREATIVE_COMMONS])
        .filter(|(rule, _)| applied.contains(rule))
        .map(|(rule, says)| RuleUsed {
            rule: rule.into(),
            says: says.into(),
        })
        .collect()
}

/// The sentence under the verdict.
pub fn blocked_because(answer: &Answer) -> String {
    let counts = &answer.counts;
    let said: Vec<String> = [
        (counts.gap, "has a gap", "have a gap"),
        (
            counts.unknown_source,
            "is an unknown source",
            "are unknown sources",
        ),
        (counts.unknown, "is unknown", "are unknown"),
        (counts.not_logged, "is not logged", "are not logged"),
    ]
    .into_iter()
    .filter(|(n, ..)| *n > 0)
    .map(|(n, one, more)| format!("{n} {}", if n == 1 { one } else { more }))
    .collect();
    let all = answer.elements.len();
    if said.is_empty() {
        return match all {
            0 => "Nothing in this cut needs clearing.".into(),
            _ => "Nothing blocks this delivery: every element is covered for what it needs.".into(),
        };
    }
    let failing = counts.gap + counts.unknown_source + counts.unknown + counts.not_logged;
    let of = match all {
        1 => "The one element is".to_owned(),
        _ if failing == 1 => format!("1 of {all} elements is"),
        _ => format!("{failing} of {all} elements are"),
    };
    format!(
        "{of} not cleared for what this delivery needs: {}.",
        and_list(&said)
    )
}

/// Who approved what, after the verdict; a later change reopens what it touches.
pub fn approved(approval: &ApprovalView, zone: &str) -> String {
    let day = date_words(local(approval.approved_at, zone).date());
    let own = if approval.self_approved {
        " (self-approved: the same person entered papers behind it)"
    } else {
        ""
    };
    let open = match (approval.reopened.len(), approval.never_covered.len()) {
        (0, 0) => "all of it stands".to_owned(),
        (changed, never) => format!(
            "{} of them {}, {changed} changed since, {never} of this cut {} never approved",
            approval.stands.len(),
            if approval.stands.len() == 1 {
                "stands"
            } else {
                "stand"
            },
            if never == 1 { "was" } else { "were" },
        ),
    };
    format!(
        " {} approved {} of {} on {day}{own}; {open}.",
        approval.approved_by,
        counted(approval.covered.into(), "element", "elements"),
        approval.cut_name
    )
}

/// The cautions of rulebook 7 that concern this report.
pub fn cautions(minors: bool, anonymity: bool) -> Vec<String> {
    let mut cautions: Vec<String> = STANDARD_CAUTIONS.iter().map(|one| (*one).into()).collect();
    if minors {
        cautions.push(
            "Where anyone under 18 is concerned, their welfare comes first; an immediate concern goes to the \
             safeguarding lead or the emergency services, not into a note."
                .into(),
        );
    }
    if anonymity {
        cautions.push(
            "A person who was promised anonymity can be named by file names, captions and clean covers. Check them \
             before anything is handed over."
                .into(),
        );
    }
    cautions
}
