//! Grounds other than a licence, measured and put in words (R22, R51, R54, R55).

use super::answer::{ReasonCode, Weight};
use super::paper::{Context, Paper};
use super::question::{Element, Presence};
use super::words;
use crate::report::and_list;
use crate::rights::basis::{Effect, Finding, Ground, findings, reach};
use crate::rights::territory::TerritorySet;

/// The ground within a sentence.
pub(super) fn name(ground: &Ground) -> &'static str {
    match ground {
        Ground::OwnMaterial => "own material",
        Ground::PublicDomain { .. } => "the public-domain finding",
        Ground::FairDealing { .. } => "fair dealing",
        Ground::Incidental { .. } => "incidental inclusion",
        Ground::FairUse(_) => "fair use",
        Ground::CreativeCommons(_) => "the Creative Commons licence",
        Ground::BlanketMusic { .. } => "the broadcaster's blanket licence",
        Ground::CrowdNotice(_) => "the crowd notice",
    }
}

/// Gives the paper its reach and its findings.
pub(super) fn measure(cx: &Context<'_>, element: &Element, ground: &Ground, paper: &mut Paper<'_>) {
    let reach = reach(ground);
    let codes = reach.territories.iter().map(String::as_str);
    match TerritorySet::parse(codes, &cx.question.groups) {
        Ok(territories) => cx.add_ground(paper, territories, reach.promotion),
        Err(wrong) => {
            let sentence = format!("{}: {wrong}.", words::first_upper(&paper.name));
            paper.find(
                ReasonCode::TerritoryUnreadable,
                "R54",
                Weight::Unknown,
                sentence,
            );
        }
    }
    let background = element
        .uses
        .iter()
        .all(|one| one.presence == Presence::Background);
    for finding in findings(ground, background) {
        let weight = match finding.effect() {
            Effect::Fails => Weight::Fails,
            Effect::Doubt => Weight::Unknown,
            Effect::Shown => Weight::Shown,
        };
        let (code, rule, sentence) = say(&finding, &element.label, &paper.name);
        paper.find(code, rule, weight, sentence);
    }
    standing(ground, element, paper);
}

/// What is always shown with a ground.
fn standing(ground: &Ground, element: &Element, paper: &mut Paper<'_>) {
    let label = &element.label;
    match ground {
        Ground::PublicDomain { .. } => {
            let sentence = format!("That {label} is in the public domain is an estimate.");
            paper.find(
                ReasonCode::PublicDomainEstimate,
                "R9",
                Weight::Shown,
                sentence,
            );
        }
        Ground::CrowdNotice(_) => {
            let sentence = format!("The notice behind {label} is evidence only, not consent.");
            paper.find(
                ReasonCode::NoticeIsEvidenceOnly,
                "R22",
                Weight::Shown,
                sentence,
            );
        }
        _ => {}
    }
}

fn list(items: &[&str]) -> String {
    and_list(
        &items
            .iter()
            .map(|item| (*item).to_owned())
            .collect::<Vec<_>>(),
    )
}

fn say(finding: &Finding, label: &str, ground: &str) -> (ReasonCode, &'static str, String) {
    match finding {
        Finding::NoLawyersNote => (
            ReasonCode::NoLawyersNote,
            "R54",
            format!("{label} relies on {ground}, and no lawyer's note is on file."),
        ),
        Finding::Deliberate => (
            ReasonCode::NotIncidental,
            "R54",
            format!("{label} was put there on purpose, so it is not incidental."),
        ),
        Finding::FairUseIncomplete(missing) => {
            let steps: Vec<&str> = missing.iter().map(|step| step.words()).collect();
            let sentence = format!(
                "{label} relies on fair use, which is not accepted yet; still missing: {}.",
                list(&steps)
            );
            (ReasonCode::FairUseIncomplete, "R51", sentence)
        }
        Finding::NonCommercial => (
            ReasonCode::NonCommercialOnly,
            "R55",
            format!(
                "{label} is licensed for non-commercial use only; this is broadcast or paid for."
            ),
        ),
        Finding::NoDerivatives => (
            ReasonCode::NoDerivatives,
            "R55",
            format!("The licence of {label} forbids changes, and the cut changes it."),
        ),
        Finding::ShareAlike => (
            ReasonCode::ShareAlike,
            "R55",
            format!("The licence of {label} carries over to what is made from it."),
        ),
        Finding::CreditIncomplete(missing) => (
            ReasonCode::CreditIncomplete,
            "R55",
            format!("The credit for {label} lacks: {}.", list(missing)),
        ),
        Finding::PublicDomainWhere => (
            ReasonCode::PublicDomainWhere,
            "R54",
            format!("Nobody has said in which territories {label} is in the public domain."),
        ),
        Finding::BlanketTheme => (
            ReasonCode::BlanketTheme,
            "R54",
            format!(
                "{label} is the theme of three or more episodes; the blanket licence excludes that."
            ),
        ),
        Finding::NoticeIncomplete(missing) => (
            ReasonCode::NoticeIncomplete,
            "R22",
            format!(
                "The record of the notice behind {label} lacks: {}.",
                list(missing)
            ),
        ),
        Finding::NotBackground => (
            ReasonCode::NoticeNotEnough,
            "R22",
            format!("{label} is more than background, for which a crowd notice is not enough."),
        ),
    }
}
