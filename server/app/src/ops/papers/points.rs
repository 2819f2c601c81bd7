//! The points of the insurer's checklist (rulebook 3.5, in our own words), and what the records of an episode say of each.

use waybill_domain::clearance::{ElementAnswer, State};
use waybill_domain::cut_uses::ElementKey;

use super::third_party::counted;
use crate::db::assets::{AssetBasis, AssetClass};
use crate::db::deliverables::DeliverableState;
use crate::db::licences::LicenceState;
use crate::ops::child_licence;
use crate::ops::clearance::{Worked, id_of};

/// A point.
pub struct Point {
    pub item: &'static str,
    pub words: &'static str,
    look: Look,
}

/// Where a point is looked up; the rest only a person can say.
#[derive(Clone, Copy)]
enum Look {
    Person,
    Owed(&'static str),
    Unsigned,
    Elements(fn(&ElementKey, &Worked) -> bool),
    Editing,
    Deceased,
    Embedded,
    Blocked,
    Grounds,
    Withdrawals,
    Captions,
    Minors,
}

/// What the records say of a point.
pub struct Found {
    pub words: Vec<String>,
    /// Something stands against it.
    pub open: bool,
}

const fn point(item: &'static str, words: &'static str, look: Look) -> Point {
    Point { item, words, look }
}

/// All points in their order.
pub const POINTS: [Point; 21] = [
    point(
        "counsel",
        "Counsel reviewed the programme throughout, up to the final cut.",
        Look::Person,
    ),
    point(
        "outline",
        "Script or outline was read for defamation and privacy.",
        Look::Person,
    ),
    point(
        "synopsis",
        "A detailed synopsis of the documentary exists.",
        Look::Person,
    ),
    point(
        "origin",
        "Copyright and origin of underlying works were searched.",
        Look::Person,
    ),
    point(
        "submissions",
        "The history of ideas submitted by others was looked at.",
        Look::Person,
    ),
    point(
        "title",
        "A title report was made before the final title.",
        Look::Owed("title report"),
    ),
    point(
        "agreements",
        "Everybody who supplied material or services has a written agreement.",
        Look::Unsigned,
    ),
    point(
        "people",
        "Recognisable living people are released, unless not seen long or clearly enough.",
        Look::Elements(is_person),
    ),
    point(
        "captions",
        "Captions name people as they confirmed it, and nobody who asked not to be named.",
        Look::Captions,
    ),
    point(
        "minors",
        "Releases bind minors where they are concerned.",
        Look::Minors,
    ),
    point(
        "editing",
        "Releases allow editing, re-ordering and juxtaposition.",
        Look::Editing,
    ),
    point(
        "deceased",
        "Deceased people were considered.",
        Look::Deceased,
    ),
    point(
        "allegations",
        "Allegations are supported by sources.",
        Look::Person,
    ),
    point(
        "brands",
        "Private numbers, plates, addresses, brands and logos were looked at.",
        Look::Elements(is_brand),
    ),
    point(
        "places",
        "Distinctive places, buildings, artworks and products are cleared.",
        Look::Elements(is_place),
    ),
    point(
        "clips",
        "Clips are cleared with their underlying rights and performers.",
        Look::Embedded,
    ),
    point(
        "music",
        "Music is cleared: composition, recording and performance.",
        Look::Elements(is_music),
    ),
    point(
        "media",
        "All needed media and territories are granted, new media included.",
        Look::Blocked,
    ),
    point(
        "grounds",
        "Reliance on fair use or fair dealing is declared, with counsel’s letter.",
        Look::Grounds,
    ),
    point(
        "claims",
        "Claims, threats and withdrawals are disclosed.",
        Look::Withdrawals,
    ),
    point(
        "insured",
        "The distributor is named as additional insured where asked for.",
        Look::Person,
    ),
];

fn is_person(key: &ElementKey, _: &Worked) -> bool {
    matches!(key, ElementKey::Person(_))
}

fn is_minor(key: &ElementKey, worked: &Worked) -> bool {
    use crate::db::people::KeptAge;
    let ElementKey::Person(id) = key else {
        return false;
    };
    worked
        .material
        .records
        .people
        .get(id)
        .is_some_and(|person| match person.fields.born {
            // Whoever was a minor when filmed, too, though of age by now (R20).
            Some(born) => {
                let filmed = worked.material.uses.get(key).into_iter().flatten();
                let first = filmed.filter_map(|one| one.filmed_on).min();
                let day = first.unwrap_or(worked.today).min(worked.today);
                waybill_domain::age::age(born, day) < worked.question.house.adult_at
            }
            None => person.fields.age_band == Some(KeptAge::Minor),
        })
}

fn of_class(key: &ElementKey, worked: &Worked, classes: &[AssetClass]) -> bool {
    let ElementKey::Asset(id) = key else {
        return false;
    };
    let asset = worked.material.records.assets.get(id);
    asset.is_some_and(|asset| classes.contains(&asset.fields.class))
}

fn is_brand(key: &ElementKey, worked: &Worked) -> bool {
    of_class(key, worked, &[AssetClass::Brand])
}

fn is_place(key: &ElementKey, worked: &Worked) -> bool {
    matches!(key, ElementKey::Place(_)) || of_class(key, worked, &[AssetClass::Artwork])
}

fn is_music(key: &ElementKey, _: &Worked) -> bool {
    matches!(key, ElementKey::Music(_))
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
        words.push(match unknown {
            1 => "1 source or file of the cut is unknown or not logged whole.".into(),
            n => format!("{n} sources or files of the cut are unknown or not logged whole."),
        });
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
        return (
            vec![format!("All {} releases allow it.", releases.len())],
            false,
        );
    }
    (
        vec![format!(
            "{refuse} of {} releases do not say so.",
            releases.len()
        )],
        true,
    )
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
        if fields.basis_note.trim().is_empty() || fields.basis_decided_on.is_none() {
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
