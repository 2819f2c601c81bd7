//! What the records of an episode say of the points of the insurer's checklist.

use waybill_domain::clearance::{ElementAnswer, State};
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::wording::{self, grouped};

use super::points::{Look, Point, is_minor, of_class};
use super::third_party::counted;
use crate::db::assets::{AssetBasis, AssetClass};
use crate::db::deliverables::DeliverableState;
use crate::db::licences::LicenceState;
use crate::ops::child_licence;
use crate::ops::clearance::{Worked, id_of};

/// What the records say of a point.
pub struct Found {
    pub words: Vec<String>,
    /// Something stands against it.
    pub open: bool,
}

/// What the records say of a point.
pub fn found(point: &Point, worked: &Worked, owed: &[(String, DeliverableState)]) -> Found {
    let (words, open) = match point.look {
        Look::Person => (vec!["The records can’t tell.".into()], false),
        Look::Owed(item) => deliverable(item, owed),
        Look::Unsigned => unsigned(worked),
        Look::Elements(which) => elements(worked, which),
        Look::Minors => minors(worked),
        Look::Editing => editing(worked),
        Look::Deceased => deceased(worked),
        Look::Embedded => embedded(worked),
        Look::Blocked => (vec![blocked(worked)], worked.answer.blocked),
        Look::Grounds => grounds(worked),
        Look::Withdrawals => withdrawals(worked),
        Look::Captions => captions(worked),
    };
    Found { words, open }
}

fn deliverable(item: &str, owed: &[(String, DeliverableState)]) -> (Vec<String>, bool) {
    let found = owed
        .iter()
        .find(|(words, _)| words.to_lowercase().contains(item));
    match found {
        Some((words, state)) => {
            let done = matches!(
                state,
                DeliverableState::Accepted | DeliverableState::Sent | DeliverableState::Ready
            );
            (
                vec![format!(
                    "Deliverable “{words}”: {}.",
                    state.word().replace('_', " ")
                )],
                !done,
            )
        }
        None => (vec!["No deliverable of that name.".into()], false),
    }
}

/// At most so many names; the log and the report have them all.
const NAMED: usize = 8;

fn named(names: &[String]) -> String {
    let shown = names
        .iter()
        .take(NAMED)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    match names.len().saturating_sub(NAMED) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

fn elements(worked: &Worked, which: fn(&ElementKey, &Worked) -> bool) -> (Vec<String>, bool) {
    let keys: Vec<String> = (worked.material.uses.keys())
        .filter(|key| which(key, worked))
        .map(id_of)
        .collect();
    let all: Vec<&ElementAnswer> = (worked.answer.elements.iter())
        .filter(|element| keys.contains(&element.id))
        .collect();
    let labels = |fits: fn(State) -> bool| -> Vec<String> {
        (all.iter())
            .filter(|element| fits(element.state))
            .map(|element| element.label.clone())
            .collect()
    };
    let (failing, held) = (labels(State::blocks), labels(has_conditions));
    let mut words = vec![format!(
        "{} in the cut, {} not cleared.",
        all.len(),
        failing.len()
    )];
    if !failing.is_empty() {
        words.push(format!("Open: {}.", named(&failing)));
    }
    if !held.is_empty() {
        words.push(format!("Only on conditions: {}.", named(&held)));
    }
    let unknown = unknown(worked);
    if unknown > 0 {
        words.push(format!(
            "{} unknown or not logged whole.",
            wording::counted(
                unknown as u64,
                "source or file of the cut is",
                "sources or files of the cut are"
            )
        ));
    }
    let open = !failing.is_empty() || !held.is_empty() || unknown > 0;
    (words, open)
}

/// Cleared, but restricted or with evidence only: an insurer wants to hear of it.
fn has_conditions(state: State) -> bool {
    matches!(state, State::Restricted | State::EvidenceOnly)
}

fn unknown(worked: &Worked) -> usize {
    (worked.material.uses.keys())
        .filter(|key| matches!(key, ElementKey::Unknown(_) | ElementKey::Unlogged(_)))
        .count()
}

fn unsigned(worked: &Worked) -> (Vec<String>, bool) {
    let open: Vec<String> = (worked.material.records.licences.iter())
        .filter(|licence| {
            !matches!(
                licence.fields.status,
                LicenceState::Signed | LicenceState::Paid
            )
        })
        .map(|licence| licence.fields.licensor.clone())
        .collect();
    if open.is_empty() {
        return (
            vec!["No licence of the cut’s material is unsigned.".into()],
            false,
        );
    }
    (vec![format!("Not signed: {}.", named(&open))], true)
}

fn editing(worked: &Worked) -> (Vec<String>, bool) {
    let releases = &worked.material.records.releases;
    let refuse = releases
        .iter()
        .filter(|release| !release.fields.allows_editing)
        .count();
    if refuse == 0 {
        let words = match releases.len() {
            1 => "The one release allows it.".into(),
            all => format!("All {} releases allow it.", grouped(all as u64)),
        };
        return (vec![words], false);
    }
    let words = format!(
        "{} of {} {} not say so.",
        grouped(refuse as u64),
        wording::counted(releases.len() as u64, "release", "releases"),
        if refuse == 1 { "does" } else { "do" }
    );
    (vec![words], true)
}

fn deceased(worked: &Worked) -> (Vec<String>, bool) {
    let died: Vec<String> = (worked.material.records.people.values())
        .filter(|person| person.fields.died.is_some())
        .map(|person| person.fields.credited_name.clone())
        .collect();
    if died.is_empty() {
        return (
            vec!["Nobody in the cut is entered as deceased.".into()],
            false,
        );
    }
    (vec![format!("Deceased: {}.", named(&died))], false)
}

fn embedded(worked: &Worked) -> (Vec<String>, bool) {
    let clips = |key: &ElementKey, worked: &Worked| {
        of_class(
            key,
            worked,
            &[
                AssetClass::Archive,
                AssetClass::Web,
                AssetClass::PhoneVideo,
                AssetClass::Still,
            ],
        )
    };
    let (mut words, open) = elements(worked, clips);
    let inside: Vec<String> = (worked.material.uses.keys())
        .filter_map(|key| match key {
            ElementKey::Asset(id) => worked.material.records.assets.get(id),
            _ => None,
        })
        .filter(|asset| !asset.fields.embedded.trim().is_empty())
        .map(|asset| format!("{} ({})", asset.fields.title, asset.fields.embedded.trim()))
        .collect();
    if !inside.is_empty() {
        words.push(format!(
            "Inside clips, with rights of their own: {}.",
            named(&inside)
        ));
    }
    (words, open)
}

fn blocked(worked: &Worked) -> String {
    let count = |fits: fn(State) -> bool| {
        (worked.answer.elements.iter())
            .filter(|element| fits(element.state))
            .count()
    };
    let (failing, held) = (count(State::blocks), count(has_conditions));
    let all = counted(worked.answer.elements.len(), "element");
    let more = match held {
        0 => String::new(),
        held => format!(" Only on conditions: {held}."),
    };
    format!("Not cleared for this delivery: {failing} of {all}.{more}")
}

fn grounds(worked: &Worked) -> (Vec<String>, bool) {
    let mut without = Vec::new();
    let mut with = 0;
    for key in worked.material.uses.keys() {
        let ElementKey::Asset(id) = key else {
            continue;
        };
        let Some(asset) = worked.material.records.assets.get(id) else {
            continue;
        };
        let fields = &asset.fields;
        if !matches!(
            fields.basis,
            AssetBasis::FairUse | AssetBasis::FairDealing | AssetBasis::Incidental
        ) {
            continue;
        }
        let details = &fields.basis_details.0;
        let noted = match fields.basis {
            AssetBasis::FairUse => details.opinion_letter_on.or(details.lawyers_note_on),
            _ => details.lawyers_note_on,
        };
        if noted.is_none_or(|day| day > worked.today) {
            without.push(fields.title.clone());
        } else {
            with += 1;
        }
    }
    let mut words = vec![format!("{} rest on such a ground.", with + without.len())];
    if !without.is_empty() {
        words.push(format!(
            "Without a dated note of counsel: {}.",
            named(&without)
        ));
    }
    (words, !without.is_empty())
}

/// Minors' releases, and what councils were asked where they are filmed in the UK (R25).
fn minors(worked: &Worked) -> (Vec<String>, bool) {
    let (mut words, mut open) = elements(worked, is_minor);
    for release in &worked.material.records.releases {
        let fields = &release.fields;
        let Some(person) = fields.person_id else {
            continue;
        };
        let in_cut = worked
            .material
            .uses
            .contains_key(&ElementKey::Person(person));
        if !in_cut || fields.details.0.child.in_uk != Some(true) {
            continue;
        }
        let stands = child_licence::of(fields, worked.today);
        let name = worked.material.records.people.get(&person);
        if let Some((stands, name)) = stands.zip(name) {
            words.push(format!(
                "Child licence for {}: {}",
                name.fields.credited_name, stands.sentence
            ));
            open |= stands.state.is_open();
        }
    }
    (words, open)
}

fn captions(worked: &Worked) -> (Vec<String>, bool) {
    let checked = worked.material.captions.checked(&worked.material);
    if checked.is_empty() {
        return (vec!["No caption of this cut is entered.".into()], false);
    }
    let mut words = vec![format!("{} entered.", counted(checked.len(), "caption"))];
    let wrong: Vec<String> = (checked.into_iter())
        .flat_map(|(_, findings)| findings)
        .map(|one| one.sentence)
        .collect();
    let open = !wrong.is_empty();
    let more = wrong.len().saturating_sub(10);
    words.extend(wrong.into_iter().take(10));
    if more > 0 {
        words.push(format!("And {more} more, on the credit list."));
    }
    (words, open)
}

fn withdrawals(worked: &Worked) -> (Vec<String>, bool) {
    let asked = (worked.material.records.releases.iter())
        .filter(|release| release.fields.withdrawal.is_some())
        .count();
    if asked == 0 {
        return (vec!["No withdrawal is entered.".into()], false);
    }
    (
        vec![format!(
            "A request to withdraw is on record for {}.",
            counted(asked, "release")
        )],
        true,
    )
}
