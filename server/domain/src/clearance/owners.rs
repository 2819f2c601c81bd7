//! Who has to give each side of a piece of music: every owner of a share, not any one of them (rulebook 3.3, R12).

use super::demand::demand;
use super::forms::Manner;
use super::paper::{Context, Paper};
use super::question::{Element, ElementKind, Licence, Owner, Side};
use super::reason::{Reason, ReasonCode, Weight};
use super::words;
use crate::music::shares::percent;
use crate::rights::coverage::{Granted, groups};

/// The licensor of a licence that is only tried out: taken as given by all owners of its side.
pub(super) const TRIED: &str = "the licensor of this step";

/// The owners recorded of a side.
pub(super) fn of(element: &Element, side: Side) -> impl Iterator<Item = &Owner> {
    let music = matches!(element.kind, ElementKind::Music);
    let owners = element.backing.owners.iter();
    owners.filter(move |owner| music && owner.side == side)
}

/// The papers by which the original of a side is cleared, where all owners on record are those of a version of it:
/// all but theirs. None: its own owners are asked, or there is no such version.
pub(super) fn of_original<'a, 'b>(
    element: &Element,
    side: Side,
    papers: &[&'b Paper<'a>],
) -> Option<Vec<&'b Paper<'a>>> {
    let mut owners = of(element, side).peekable();
    owners.peek()?;
    owners.all(|owner| owner.of_version).then(|| {
        let others = papers.iter().filter(|paper| {
            licence(element, paper)
                .is_none_or(|one| !of(element, side).any(|owner| names(&one.licensor, &owner.name)))
        });
        others.copied().collect()
    })
}

/// The papers by which an owner gives their share. A licence of another owner is none; one from somebody who owns
/// nothing of this side may be, so it counts as unknown where the owner's own papers do not suffice. A ground is about
/// the whole side. `here`: the papers of that side.
pub(super) fn papers<'a>(
    cx: &Context<'_>,
    element: &Element,
    owner: &Owner,
    here: &[&Paper<'a>],
) -> Vec<Paper<'a>> {
    let (mut firm, mut perhaps) = (Vec::new(), Vec::new());
    for paper in here {
        let mut paper = Paper::clone(paper);
        let licence = licence(element, &paper);
        if owner.of_version && paper.of_original {
            // Whether there is such a version is not known while its share, or who holds it, is not.
            if owner.share.is_none() || owner.name.is_empty() {
                let sentence = format!(
                    "{}; whether it is a version with rights of its own, which {} does not clear, is not on record.",
                    words::first_upper(&held(element, owner)),
                    paper.name
                );
                paper.find(code(owner.side), "R12", Weight::Unknown, sentence);
                perhaps.push(paper);
            }
            continue;
        }
        if licence.is_none_or(|one| names(&one.licensor, &owner.name)) {
            firm.push(paper);
            continue;
        }
        let by_another = licence.is_some_and(|one| {
            of(element, owner.side).any(|other| names(&one.licensor, &other.name))
        });
        let sure = owner.share.is_some() && !owner.name.is_empty();
        if by_another && sure {
            continue;
        }
        let sentence = format!(
            "{}; that {} is given for this too is not on record.",
            words::first_upper(&held(element, owner)),
            paper.name
        );
        paper.find(code(owner.side), "R12", Weight::Unknown, sentence);
        perhaps.push(paper);
    }
    let manner = element.uses.first().map_or(Manner::UNKNOWN, Manner::of);
    let own: Vec<&Paper<'_>> = firm.iter().collect();
    if !demand(cx, element, &own, manner).is_met(cx) {
        firm.extend(perhaps);
    }
    firm
}

/// Whose share is not cleared, where something of it certainly is not.
pub(super) fn lacking(
    cx: &Context<'_>,
    element: &Element,
    owner: &Owner,
    granted: &Vec<Granted>,
) -> Option<Reason> {
    let found = groups(&cx.asked, std::slice::from_ref(granted));
    if found.iter().all(|group| group.lack.gaps.is_empty()) {
        return None;
    }
    let own = element.backing.licences.iter();
    let asked = own
        .filter(|one| one.side == owner.side || one.side == Side::Both || one.side == Side::Whole)
        .any(|one| names(&one.licensor, &owner.name));
    let said = match (owner.name.is_empty(), asked) {
        (true, _) => "",
        (false, true) => ", whose licence does not clear all that is needed",
        (false, false) => ", from whom no licence is on file",
    };
    let of_version = if owner.of_version {
        "; an arrangement or translation is a work of its own, though the original be free of rights"
    } else {
        ""
    };
    let code = code(owner.side);
    Some(Reason {
        code,
        rule: "R12".into(),
        weight: Weight::Fails,
        sentence: format!(
            "{}{said}{of_version}.",
            words::first_upper(&held(element, owner))
        ),
        action: words::action(code).into(),
        cells: None,
        paper_id: None,
        events: vec![],
    })
}

/// "40 % of the composition of The Ebb is held by Second Pub".
fn held(element: &Element, owner: &Owner) -> String {
    let share = owner
        .share
        .map_or_else(|| "a share, not entered,".into(), percent);
    let side = match owner.side {
        Side::Composition => "composition",
        _ => "recording",
    };
    let by = match owner.name.as_str() {
        "" => "nobody who is named",
        name => name,
    };
    format!("{share} of the {side} of {} is held by {by}", element.label)
}

fn code(side: Side) -> ReasonCode {
    match side {
        Side::Composition => ReasonCode::CompositionMissing,
        _ => ReasonCode::RecordingMissing,
    }
}

fn licence<'a>(element: &'a Element, paper: &Paper<'_>) -> Option<&'a Licence> {
    let mut licences = element.backing.licences.iter();
    licences.find(|one| paper.id == Some(one.id.as_str()))
}

/// Whether a licensor, as entered, is this owner, or several among whom they are: "Foxglove Row Music and Second Pub",
/// "Harbour Rights for Second Pub".
pub fn names(licensor: &str, owner: &str) -> bool {
    let plain = |text: &str| -> Vec<String> {
        let text = text.to_lowercase();
        let parted = text.replace([',', ';', '/', '&', '+', '(', ')'], " , ");
        let words = parted.split(|c: char| !(c.is_alphanumeric() || c == ','));
        let words = words.filter(|word| !word.is_empty());
        words.map(str::to_owned).collect()
    };
    let (whole, own) = (plain(licensor), plain(owner));
    if licensor == TRIED {
        return true;
    }
    let parts = |word: &String| matches!(word.as_str(), "," | "and" | "for");
    !own.is_empty()
        && (0..whole.len()).any(|at| {
            let (before, rest) = whole.split_at(at);
            rest.strip_prefix(own.as_slice()).is_some_and(|after| {
                before.last().is_none_or(parts) && after.first().is_none_or(parts)
            })
        })
}

#[cfg(test)]
mod tests {
    use super::names;

    // Common practice, no source: one paper may be given by several, or by somebody for another.
    #[test]
    fn a_licensor_is_an_owner_by_the_whole_name() {
        for (licensor, owner) in [
            ("second  pub", "Second Pub"),
            ("Foxglove Row Music and Second Pub", "Second Pub"),
            ("Reed & Wren, Second Pub", "Reed & Wren"),
            ("Harbour Rights for Second Pub", "Second Pub"),
        ] {
            assert!(names(licensor, owner), "{licensor}: {owner}");
        }
        for (licensor, owner) in [
            ("Second Pub Europe", "Second Pub"),
            ("Not Second Pub", "Second Pub"),
            ("Foxglove Row Music", "Second Pub"),
            ("Foxglove Row Music", ""),
        ] {
            assert!(!names(licensor, owner), "{licensor}: {owner}");
        }
    }
}
