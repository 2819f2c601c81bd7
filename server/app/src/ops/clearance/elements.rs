//! From rows to the elements of the question: what each event uses, and the papers and grounds behind everything used.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::{DateTime, Utc};
use uuid::Uuid;
use waybill_domain::clearance::{
    AgeBand, Answer, Backing, Basis, Element, ElementKind, Licence, LicenceStatus, NotNeeded,
    Presence, Release, Side, Standing, Use,
};
use waybill_domain::cut_uses::{ElementKey, LogLine, UsedEvent, UsedFile, UsedSource};
use waybill_domain::perms::Action;
use waybill_domain::rights::basis::{CreativeCommons, FairUse, Ground};
use waybill_domain::rights::release::{Face, Form, Signer};
use waybill_domain::rights::term::EventDate;

use super::super::access::Access;
use super::super::matching::key_of;
use crate::db::assets::{Asset, AssetBasis, AssetClass};
use crate::db::clearance::{FileRow, Ids, LogRow, Records};
use crate::db::cuts::{EventRow, MatchKind};
use crate::db::licences::{Licence as LicenceRow, LicenceSide, LicenceState};
use crate::db::music::Music;
use crate::db::people::{KeptAge as Band, Person};
use crate::db::releases::{Release as ReleaseRow, ReleaseKind, ReleaseSigner, ReleaseState};

/// Who decided something, and when.
pub type Decided = HashMap<Uuid, (String, DateTime<Utc>)>;

/// The events of a cut as far as their use goes.
pub fn used_events(rows: &[EventRow]) -> Vec<UsedEvent> {
    rows.iter()
        .map(|row| UsedEvent {
            position: position(row),
            record: (row.record_in, row.record_out),
            picture: row.picture,
            sound: row.sound,
            source: used_source(row),
            plain_speed: row.speed.is_none(),
        })
        .collect()
}

/// Number of an event.
pub fn position(row: &EventRow) -> u32 {
    u32::try_from(row.position).unwrap_or(0)
}

fn used_source(row: &EventRow) -> UsedSource {
    let unknown = || UsedSource::Unknown { key: key_of(row) };
    let frames = row.file_in.zip(row.file_out);
    let item = |element: ElementKey| UsedSource::Item {
        element,
        file: row.file_id.map(|id| (id, frames)),
    };
    match row.match_kind {
        MatchKind::Black => UsedSource::Nothing,
        MatchKind::Unknown => unknown(),
        // What it was matched with may have gone since.
        MatchKind::File => (row.file_id).map_or_else(unknown, |id| UsedSource::File { id, frames }),
        MatchKind::Asset => (row.asset_id).map_or_else(unknown, |id| item(ElementKey::Asset(id))),
        MatchKind::Music => (row.music_id).map_or_else(unknown, |id| item(ElementKey::Music(id))),
    }
}

/// The used files with their logs.
pub fn used_files(files: &HashMap<Uuid, FileRow>, log: &[LogRow]) -> HashMap<Uuid, UsedFile> {
    let mut all: HashMap<Uuid, UsedFile> = files
        .values()
        .map(|file| {
            let used = UsedFile {
                frames: file.frame_count,
                filmed_on: file.filmed_on,
                log: vec![],
            };
            (file.id, used)
        })
        .collect();
    for row in log {
        if let Some(file) = all.get_mut(&row.file_id) {
            file.log.push(line(row));
        }
    }
    all
}

fn line(row: &LogRow) -> LogLine {
    let element = (row.person_id.map(ElementKey::Person))
        .or(row.place_id.map(ElementKey::Place))
        .or(row.asset_id.map(ElementKey::Asset))
        .or(row.music_id.map(ElementKey::Music));
    let word = |word: &str| serde_json::Value::String(word.to_owned());
    LogLine {
        range: row.frame_in.zip(row.frame_out),
        element,
        presence: serde_json::from_value(word(&row.presence)).unwrap_or(Presence::None),
        face: serde_json::from_value(word(&row.face)).unwrap_or(Face::Shown),
        name_on_screen: row.named_on_screen,
    }
}

/// Ids of the records that elements stand for.
pub fn ids<'a>(keys: impl Iterator<Item = &'a ElementKey>) -> Ids {
    let mut ids = Ids::default();
    for key in keys {
        match key {
            ElementKey::Person(id) => ids.people.push(*id),
            ElementKey::Place(id) => ids.places.push(*id),
            ElementKey::Asset(id) => ids.assets.push(*id),
            ElementKey::Music(id) => ids.music.push(*id),
            ElementKey::Unlogged(_) | ElementKey::Unknown(_) => {}
        }
    }
    ids
}

/// Releases that are a decision that nothing is needed: who decided stands in the audit trail.
pub fn decisions(records: &Records) -> Vec<Uuid> {
    (records.releases.iter())
        .filter(|release| release.fields.status == ReleaseState::NotNeeded)
        .map(|release| release.id)
        .collect()
}

/// Id of an element in questions, answers and reports: its record's, the file's, or the source's key.
pub fn id_of(key: &ElementKey) -> String {
    match key {
        ElementKey::Person(id)
        | ElementKey::Place(id)
        | ElementKey::Asset(id)
        | ElementKey::Music(id)
        | ElementKey::Unlogged(id) => id.to_string(),
        ElementKey::Unknown(key) => format!("source:{key}"),
    }
}

/// Every element of the cut with its papers.
pub fn build(
    access: &Access,
    uses: &BTreeMap<ElementKey, Vec<Use>>,
    files: &HashMap<Uuid, FileRow>,
    events: &[EventRow],
    records: &Records,
    decided: &Decided,
) -> Vec<Element> {
    // What is cut in by itself is there on purpose.
    let deliberate: BTreeSet<Uuid> = events.iter().filter_map(|event| event.asset_id).collect();
    uses.iter()
        .map(|(key, uses)| {
            let (kind, label) = kind_and_label(key, files, events, records);
            Element {
                id: id_of(key),
                kind,
                label,
                uses: uses.clone(),
                backing: backing(access, key, records, decided, &deliberate),
            }
        })
        .collect()
}

fn kind_and_label(
    key: &ElementKey,
    files: &HashMap<Uuid, FileRow>,
    events: &[EventRow],
    records: &Records,
) -> (ElementKind, String) {
    match key {
        ElementKey::Person(id) => records.people.get(id).map(|person| {
            let name = person.fields.credited_name.clone();
            (person_kind(person), name)
        }),
        ElementKey::Place(id) => {
            (records.places.get(id)).map(|place| (ElementKind::Place, place.fields.name.clone()))
        }
        ElementKey::Asset(id) => (records.assets.get(id))
            .map(|asset| (asset_kind(asset.fields.class), asset.fields.title.clone())),
        ElementKey::Music(id) => {
            (records.music.get(id)).map(|music| (ElementKind::Music, music.fields.title.clone()))
        }
        ElementKey::Unlogged(id) => {
            (files.get(id)).map(|file| (ElementKind::UnloggedFootage, file.name.clone()))
        }
        ElementKey::Unknown(key) => events
            .iter()
            .find(|event| event.match_kind != MatchKind::Black && key_of(event) == *key)
            .map(|event| (ElementKind::UnknownSource, source_label(event))),
    }
    .unwrap_or((
        ElementKind::UnknownSource,
        "something that was deleted".into(),
    ))
}

fn person_kind(person: &Person) -> ElementKind {
    ElementKind::Person {
        born: person.fields.born,
        age_band: person.fields.age_band.map(|band| match band {
            Band::Adult => AgeBand::Adult,
            Band::Minor => AgeBand::Minor,
        }),
    }
}

fn asset_kind(class: AssetClass) -> ElementKind {
    match class {
        AssetClass::Artwork => ElementKind::Artwork,
        AssetClass::Brand => ElementKind::Brand,
        other => ElementKind::Asset {
            class: other.word().into(),
        },
    }
}

/// What a cut calls a source that nothing answers for.
pub fn source_label(row: &EventRow) -> String {
    let name = [&row.clip, &row.source_name]
        .into_iter()
        .map(|name| name.trim())
        .find(|name| !name.is_empty());
    match (name, row.reel.trim()) {
        (Some(name), "" | "AX") => format!("“{name}”"),
        (Some(name), reel) => format!("“{name}” (reel {reel})"),
        (None, "") => format!("the source of event {}", row.position),
        (None, reel) => format!("reel {reel}"),
    }
}

fn backing(
    access: &Access,
    key: &ElementKey,
    records: &Records,
    decided: &Decided,
    deliberate: &BTreeSet<Uuid>,
) -> Backing {
    let mut backing = Backing::default();
    for row in &records.releases {
        if is_about(row, key) {
            add_release(&mut backing, access, row, decided);
        }
    }
    for row in &records.licences {
        let about = match key {
            ElementKey::Asset(id) => row.fields.asset_id == Some(*id),
            ElementKey::Music(id) => row.fields.music_id == Some(*id),
            _ => false,
        };
        if about {
            backing.licences.push(licence(row));
        }
    }
    match key {
        ElementKey::Asset(id) => {
            if let Some(asset) = records.assets.get(id) {
                add_basis(&mut backing, asset, deliberate.contains(id));
            }
        }
        ElementKey::Music(id) => {
            backing
                .bases
                .extend(records.music.get(id).and_then(free_composition));
        }
        _ => {}
    }
    backing
}

/// Whose form it is. A crew member's contract is about their work, and a school's permission does not stand for a
/// guardian's (rulebook 3.1): neither clears a person in the picture.
fn is_about(row: &ReleaseRow, key: &ElementKey) -> bool {
    use ReleaseKind::{Appearance, Artwork, Location, Materials, Minor, School};
    let fields = &row.fields;
    match key {
        ElementKey::Person(id) => {
            fields.person_id == Some(*id) && matches!(fields.kind, Appearance | Minor)
        }
        ElementKey::Place(id) => {
            fields.place_id == Some(*id) && matches!(fields.kind, Location | School)
        }
        ElementKey::Asset(id) => {
            fields.asset_id == Some(*id) && matches!(fields.kind, Materials | Artwork)
        }
        _ => false,
    }
}

fn add_release(backing: &mut Backing, access: &Access, row: &ReleaseRow, decided: &Decided) {
    let fields = &row.fields;
    if fields.status == ReleaseState::NotNeeded {
        let by = decided.get(&row.id);
        let reason = if access.may(Action::ViewSensitiveNotes) {
            fields.status_note.clone()
        } else {
            "the reason stands in the record".into()
        };
        backing.not_needed = Some(NotNeeded {
            reason,
            decided_by: by.map(|(name, _)| name.clone()).unwrap_or_default(),
            decided_on: by.map(|(_, at)| {
                waybill_domain::report::local(*at, &access.series.fields.zone).date()
            }),
        });
        return;
    }
    backing.releases.push(Release {
        id: row.id.to_string(),
        standing: match fields.status {
            ReleaseState::Problem => Standing::Problem,
            ReleaseState::SignedNotChecked => Standing::NotChecked,
            _ => Standing::Checked,
        },
        form: Form {
            signed_on: fields.signed_on,
            signed_by: fields.signed_by.map(|by| match by {
                ReleaseSigner::Person => Signer::Person,
                ReleaseSigner::Guardian => Signer::Guardian,
                ReleaseSigner::Owner => Signer::Owner,
                ReleaseSigner::Other => Signer::Other,
            }),
            filmed_from: fields.filmed_from,
            filmed_to: fields.filmed_to,
            entity: fields.entity.clone(),
            consideration_stated: !fields.consideration.trim().is_empty(),
            allows_editing: fields.allows_editing,
            allows_promotion: fields.allows_promotion,
            grants: fields.grants.0.clone(),
            withdrawal: fields.withdrawal.as_ref().map(|withdrawal| withdrawal.0),
            restrictions: fields.restrictions.0.clone(),
        },
    });
}

fn licence(row: &LicenceRow) -> Licence {
    let fields = &row.fields;
    Licence {
        id: row.id.to_string(),
        licensor: fields.licensor.clone(),
        side: match fields.side {
            LicenceSide::Whole => Side::Whole,
            LicenceSide::Composition => Side::Composition,
            LicenceSide::Recording => Side::Recording,
            LicenceSide::Both => Side::Both,
        },
        status: match fields.status {
            LicenceState::Temp => LicenceStatus::Temp,
            LicenceState::Asking => LicenceStatus::Asking,
            LicenceState::Quoted => LicenceStatus::Quoted,
            LicenceState::AgreedUnsigned => LicenceStatus::AgreedUnsigned,
            LicenceState::Signed => LicenceStatus::Signed,
            LicenceState::Paid => LicenceStatus::Paid,
            LicenceState::Replaced => LicenceStatus::Replaced,
        },
        signed: EventDate {
            known: fields.signed_on,
            planned: None,
        },
        grants: fields.grants.0.clone(),
        allows_promotion: fields.allows_promotion,
        waiver_approved_on: None,
    }
}

/// The ground on which an import stands, as far as its record says. What it does not say is missing, never a yes.
fn add_basis(backing: &mut Backing, asset: &Asset, deliberate: bool) {
    let fields = &asset.fields;
    let noted = !fields.basis_note.trim().is_empty();
    let lawyers_note = noted && fields.basis_decided_on.is_some();
    let ground = match fields.basis {
        // Their papers say all of it.
        AssetBasis::Licensed | AssetBasis::Released | AssetBasis::Unknown => return,
        AssetBasis::NotNeeded => {
            backing.not_needed = Some(NotNeeded {
                reason: fields.basis_note.clone(),
                decided_by: fields.basis_decided_by.clone(),
                decided_on: fields.basis_decided_on,
            });
            return;
        }
        AssetBasis::Own => Ground::OwnMaterial,
        AssetBasis::PublicDomain => Ground::PublicDomain {
            territories: vec![],
        },
        AssetBasis::FairDealing => Ground::FairDealing { lawyers_note },
        AssetBasis::Incidental => Ground::Incidental {
            lawyers_note,
            deliberate,
        },
        AssetBasis::FairUse => Ground::FairUse(FairUse {
            opinion_letter: lawyers_note,
            ..FairUse::default()
        }),
        AssetBasis::CreativeCommons => Ground::CreativeCommons(creative_commons(asset)),
    };
    backing.bases.push(Basis {
        side: Side::Whole,
        ground,
    });
}

/// The licence's name is the basis note, such as `CC BY-NC 4.0`; a programme is paid for, and cutting alters.
fn creative_commons(asset: &Asset) -> CreativeCommons {
    let fields = &asset.fields;
    let name = fields.basis_note.to_ascii_uppercase();
    let has = |condition: &str| {
        name.split(|c: char| !c.is_ascii_alphanumeric())
            .any(|word| word == condition)
    };
    CreativeCommons {
        non_commercial: has("NC"),
        no_derivatives: has("ND"),
        share_alike: has("SA"),
        title: fields.title.clone(),
        author: fields.owner.clone(),
        source: fields.source.clone(),
        licence: fields.basis_note.clone(),
        paid_or_broadcast: true,
        altered: true,
    }
}

fn free_composition(music: &Music) -> Option<Basis> {
    music.fields.composition_public_domain.then(|| Basis {
        side: Side::Composition,
        ground: Ground::PublicDomain {
            territories: vec![],
        },
    })
}

/// Where more than one source fits, the answer says so instead of "nothing".
pub fn say_why_unknown(answer: &mut Answer, events: &[EventRow]) {
    for element in &mut answer.elements {
        let Some(first) = element
            .first_use
            .filter(|_| element.kind == "unknown_source")
        else {
            continue;
        };
        let how = (events.iter())
            .find(|event| position(event) == first.event)
            .map(|event| event.match_how.as_str())
            .filter(|how| !how.is_empty() && !how.starts_with("Nothing"));
        if let (Some(how), Some(reason)) = (how, element.reasons.first_mut()) {
            reason.sentence = format!("{}: {how}", element.label);
        }
    }
}
