//! What an element rests on: its papers and grounds by name, and whether each holds.

use super::answer::{Behind, PaperHolds, PaperKind};
use super::paper::{Context, Paper};
use super::question::{Element, Licence, LicenceStatus, Side};
use super::reason::Weight;
use super::words;
use crate::rights::days::Days;
use crate::rights::term::Holds;
use crate::wording::date_words;

/// Takes in how the papers of one demand stand. One that holds for some use holds.
pub(super) fn take_in<'a>(
    known: &mut Vec<Behind>,
    cx: &Context<'_>,
    element: &Element,
    judged: impl Iterator<Item = (&'a Paper<'a>, Weight)>,
) {
    for (paper, worst) in judged {
        let holds = match worst {
            Weight::Fails => PaperHolds::No,
            _ if !reaches(cx, paper) => PaperHolds::NotHere,
            Weight::Unknown => PaperHolds::Unknown,
            Weight::Shown => PaperHolds::Yes,
        };
        let name = name(cx, element, paper);
        let same = |one: &&mut Behind| one.paper_id.as_deref() == paper.id && one.name == name;
        match known.iter_mut().find(same) {
            Some(one) => one.holds = one.holds.max(holds),
            None => known.push(Behind {
                kind: kind(element, paper),
                paper_id: paper.id.map(str::to_owned),
                name,
                holds,
            }),
        }
    }
}

/// Whether anything of it is about needed places, media and days.
fn reaches(cx: &Context<'_>, paper: &Paper<'_>) -> bool {
    paper.grants.iter().any(|grant| {
        let (Holds::On(days) | Holds::Perhaps(days)) = grant.allowed.holds;
        let days: Days = days.and(cx.asked.days);
        cx.touches(&grant.allowed) && !days.is_empty()
    })
}

fn kind(element: &Element, paper: &Paper<'_>) -> PaperKind {
    let licences = &element.backing.licences;
    match paper.id {
        Some(_) if paper.form.is_some() => PaperKind::Release,
        Some(id) if licences.iter().any(|one| one.id == id) => PaperKind::Licence,
        _ if paper.is_decision => PaperKind::Decision,
        _ => PaperKind::Ground,
    }
}

/// "The licence from Quay Archive for the composition, signed on 10 Jan 2026".
fn name(cx: &Context<'_>, element: &Element, paper: &Paper<'_>) -> String {
    let side = match paper.side {
        Side::Composition => " for the composition",
        Side::Recording => " for the recording",
        Side::Whole | Side::Both | Side::Beside(_) => "",
    };
    // The day of a licence that is not signed is only planned.
    let is_signed =
        |one: &Licence| matches!(one.status, LicenceStatus::Signed | LicenceStatus::Paid);
    let mut licences = element.backing.licences.iter();
    let unsigned = licences.any(|one| paper.id == Some(one.id.as_str()) && !is_signed(one));
    let signed = cx.come(paper.signed).filter(|_| !unsigned).map(date_words);
    let signed = signed.filter(|day| !paper.name.ends_with(day.as_str()));
    let signed = signed.map_or_else(String::new, |day| format!(", signed on {day}"));
    format!("{}{side}{signed}", words::first_upper(&paper.name))
}
