//! Grounds other than a licence, measured and put in words (R22, R51, R54, R55).

use chrono::NaiveDate;

use super::paper::{Context, Paper};
use super::question::{Element, Presence};
use super::reason::{ReasonCode, Weight};
use super::words;
use crate::age::age;
use crate::rights::basis::{Effect, Finding, FreeByAge, Ground, findings, reach};
use crate::rights::release::Subject;
use crate::rights::territory::TerritorySet;
use crate::wording::{and_list, date_words};

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

/// The rule about what the ground rests on.
pub(super) fn rule(ground: &Ground) -> &'static str {
    match ground {
        Ground::FairUse(_) => "R51",
        Ground::PublicDomain { .. } => "R9",
        Ground::CreativeCommons(_) => "R55",
        Ground::CrowdNotice(_) => "R22",
        _ => "R54",
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
    if matches!(ground, Ground::CrowdNotice(_)) {
        not_for_children(cx, element, paper);
    }
    for finding in findings(ground, background) {
        let weight = match finding.effect() {
            Effect::Fails => Weight::Fails,
            Effect::Doubt => Weight::Unknown,
            Effect::Shown => Weight::Shown,
        };
        let (code, rule, sentence) = say(&finding, &element.label, &paper.name);
        paper.find(code, rule, weight, sentence);
    }
    standing(cx, ground, element, paper);
}

/// A notice never stands for a child's own release, nor for somebody who may be one (rulebook 3.1).
fn not_for_children(cx: &Context<'_>, element: &Element, paper: &mut Paper<'_>) {
    let adult_at = cx.question.house.adult_at;
    let minor = |filmed_on: Option<NaiveDate>| match cx.subject(element, filmed_on) {
        Subject::Born(born) => filmed_on.map(|day| age(born, day) < adult_at),
        Subject::Adult | Subject::Property => Some(false),
        Subject::Minor => Some(true),
        Subject::AgeNotKnown => None,
    };
    // Where no date of birth is kept, every use is alike.
    let days = element.uses.iter().map(|one| one.filmed_on);
    let ages: Vec<Option<bool>> = days.map(minor).collect();
    let in_doubt = || {
        let mut uses = element.uses.iter();
        uses.find_map(|one| cx.birth_in_doubt(element, one.filmed_on))
    };
    let label = &element.label;
    let (code, weight, sentence) = if ages.contains(&Some(true)) {
        let said =
            format!("{label} was under {adult_at}; a crowd notice is not enough for a child.");
        (ReasonCode::NoticeNotEnough, Weight::Fails, said)
    } else if ages.contains(&None)
        && let Some(wrong) = in_doubt()
    {
        let said = format!(
            "Whether {label} was of age is unknown: {wrong}; a crowd notice is not enough for a child."
        );
        (ReasonCode::AgeUnknown, Weight::Unknown, said)
    } else if ages.contains(&None) {
        let said = format!(
            "Nobody has recorded whether {label} was of age; a crowd notice is not enough for a child."
        );
        (ReasonCode::AgeUnknown, Weight::Unknown, said)
    } else {
        return;
    };
    paper.find(code, "R22", weight, sentence);
}

/// What is always shown with a ground.
fn standing(cx: &Context<'_>, ground: &Ground, element: &Element, paper: &mut Paper<'_>) {
    let label = &element.label;
    match ground {
        Ground::PublicDomain { territories, age } => {
            let sentence = format!(
                "That {label} is in the public domain is an estimate{}.",
                estimate_words(*age)
            );
            paper.find(
                ReasonCode::PublicDomainEstimate,
                "R9",
                Weight::Shown,
                sentence,
            );
            too_young(cx, label, territories, *age, paper);
        }
        Ground::CrowdNotice(_) => {
            paper.evidence_only = true;
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

/// ": by age free in the US from 1 Jan 2030 …".
fn estimate_words(age: FreeByAge) -> String {
    let said: Vec<String> = [
        age.us()
            .map(|day| format!("likely free in the US from {}", date_words(day))),
        age.life_and_seventy().map(|day| {
            format!(
                "where 70 years after death are protected, from {}",
                date_words(day)
            )
        }),
    ]
    .into_iter()
    .flatten()
    .collect();
    if said.is_empty() {
        String::new()
    } else {
        format!(": {}", and_list(&said))
    }
}

/// A finding that names places where the years on record speak against it (R9): the US by the year of publication, all
/// others by the year of death, as it is not said where that rule is another.
fn too_young(
    cx: &Context<'_>,
    label: &str,
    territories: &[String],
    age: FreeByAge,
    paper: &mut Paper<'_>,
) {
    let from = cx.asked.days.from;
    let set = |codes: &[String]| {
        let codes = codes.iter().map(String::as_str);
        TerritorySet::parse(codes, &cx.question.groups).unwrap_or_default()
    };
    let needed = set(territories).and(cx.asked.territories);
    let us = set(&["US".to_owned()]);
    let late = |free: Option<NaiveDate>, here: TerritorySet| {
        free.filter(|day| *day > from && !here.is_empty())
    };
    let by_publication = late(age.us(), needed.and(us)).map(|free| {
        format!(
            "By its year of publication {label} is likely free in the US only from {}; the delivery needs it there \
             from {}.",
            date_words(free),
            date_words(from)
        )
    });
    let by_death = late(age.life_and_seventy(), needed.minus(us)).map(|free| {
        format!(
            "By the year of death {label} is likely free only from {} where 70 years after death are protected; the \
             delivery needs it from {}, and where the rule is another nobody has said.",
            date_words(free),
            date_words(from)
        )
    });
    for sentence in by_publication.into_iter().chain(by_death) {
        paper.find(
            ReasonCode::PublicDomainTooYoung,
            "R9",
            Weight::Unknown,
            sentence,
        );
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
        Finding::LicenceUnread(words) => (
            ReasonCode::LicenceUnread,
            "R55",
            match words.as_str() {
                "" => format!("Which Creative Commons licence {label} is under is not entered."),
                words => format!(
                    "Which Creative Commons licence {label} is under can't be read from “{words}”."
                ),
            },
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
