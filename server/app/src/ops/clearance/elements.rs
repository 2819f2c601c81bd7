//! From rows to the elements of the question: what each event uses, and what the team calls it.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use uuid::Uuid;
use waybill_domain::clearance::{AgeBand, Answer, Element, ElementKind, Presence, Use};
use waybill_domain::cut_uses::{
    Content, Contents, ElementKey, ItemPart, LogLine, UsedEvent, UsedFile, UsedSource,
};
use waybill_domain::rights::release::Face;
use waybill_domain::timecode::Rate;

use super::super::access::Access;
use super::super::matching::key_of;
use super::backing::{Papers, backing};
use crate::db::assets::AssetClass;
use crate::db::clearance::{FileRow, Ids, LogRow, Records};
use crate::db::cuts::{EventRow, MatchKind};
use crate::db::people::{KeptAge, Person};

/// The events of a cut as far as their use goes.
pub fn used_events(rows: &[EventRow]) -> Vec<UsedEvent> {
    rows.iter()
        .map(|row| UsedEvent {
            position: row.number(),
            record: (row.record_in, row.record_out),
            picture: row.picture,
            sound: row.sound,
            source: used_source(row),
            plain_speed: row.speed.is_none(),
        })
        .collect()
}

fn used_source(row: &EventRow) -> UsedSource {
    let unknown = || UsedSource::Unknown { key: key_of(row) };
    let frames = row.file_in.zip(row.file_out);
    let item = |element: ElementKey| UsedSource::Item {
        element,
        file: row.file_id.map(|id| (id, frames)),
        part: part(row),
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

/// The part of an import that an event uses, from its beginning: as the catalogued file says; else by a timecode that
/// may begin at zero. One of an hour and more may as well be the first frame's.
fn part(row: &EventRow) -> Option<ItemPart> {
    let rate: Rate = row.rate.parse().ok()?;
    let frames = if row.file_id.is_some() {
        row.file_in.zip(row.file_out)
    } else {
        let hour = rate.nominal() * 3600;
        (row.source_in.zip(row.source_out)).filter(|(_, to)| *to < hour)
    };
    Some(ItemPart {
        frames: frames?,
        rate,
    })
}

/// What is assumed of where things are in imports, where it is said for any that these events use.
pub fn inside_words(rows: &[EventRow], contents: &Contents) -> Option<&'static str> {
    let placed = |row: &&EventRow| {
        let inside = row.asset_id.and_then(|id| contents.get(&id));
        inside.is_some_and(|inside| inside.iter().any(Content::is_placed))
    };
    let no_file = |row: &EventRow| row.file_id.is_none() || row.file_in.is_none();
    (rows.iter().filter(placed)).any(no_file).then_some(
        "What is inside an import counts from its in to its out. Where the import is no catalogued file, its timecode is \
         taken to begin at zero; where that can't be, at another speed, or within an import within an import, it counts as \
         long as the import is used.",
    )
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
        voice_changed: row.voice_changed,
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
    papers: &Papers<'_>,
) -> Vec<Element> {
    // What is cut in by itself is there on purpose.
    let deliberate: BTreeSet<Uuid> = events.iter().filter_map(|event| event.asset_id).collect();
    let mut sources: HashMap<String, &EventRow> = HashMap::new();
    for event in events {
        if let UsedSource::Unknown { key } = used_source(event) {
            sources.entry(key).or_insert(event);
        }
    }
    uses.iter()
        .map(|(key, uses)| {
            let (kind, label) = kind_and_label(key, files, &sources, papers.records);
            let captions = match key {
                ElementKey::Person(id) => papers.captions.get(id).cloned(),
                _ => None,
            };
            Element {
                captions: captions.unwrap_or_default(),
                id: id_of(key),
                kind,
                label,
                uses: uses.clone(),
                backing: backing(access, key, uses, papers, &deliberate),
            }
        })
        .collect()
}

fn kind_and_label(
    key: &ElementKey,
    files: &HashMap<Uuid, FileRow>,
    sources: &HashMap<String, &EventRow>,
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
        ElementKey::Unknown(key) => {
            (sources.get(key)).map(|event| (ElementKind::UnknownSource, source_label(event)))
        }
    }
    .unwrap_or((
        ElementKind::UnknownSource,
        "something that was deleted".into(),
    ))
}

fn person_kind(person: &Person) -> ElementKind {
    ElementKind::Person {
        born: person.fields.born,
        died: person.fields.died,
        age_band: person.fields.age_band.map(|band| match band {
            KeptAge::Adult => AgeBand::Adult,
            KeptAge::Minor => AgeBand::Minor,
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

/// Where more than one source fits, the answer says so instead of "nothing".
pub fn say_why_unknown(answer: &mut Answer, events: &[EventRow]) {
    let by_position: HashMap<u32, &EventRow> =
        events.iter().map(|event| (event.number(), event)).collect();
    for element in &mut answer.elements {
        let Some(first) = element
            .first_use
            .filter(|_| element.kind == "unknown_source")
        else {
            continue;
        };
        let how = (by_position.get(&first.event))
            .map(|event| event.match_how.as_str())
            .filter(|how| !how.is_empty() && !how.starts_with("Nothing"));
        if let (Some(how), Some(reason)) = (how, element.reasons.first_mut()) {
            reason.sentence = format!("{}: {how}", element.label);
        }
    }
}
