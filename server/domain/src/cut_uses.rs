//! Who and what is used in a cut: each event's part of its file, met with the log of that file.
//!
//! A person is used only where the event's range overlaps the log's. Footage that nobody logged,
//! and a source that nothing in the catalogue answers for, are elements of their own: a gap in
//! what is known is never an empty shot. The places of a shoot day are not implied.

use std::collections::{BTreeMap, HashMap};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::clearance::{Presence, Use};
use crate::rights::release::Face;
use crate::timecode::Rate;
use crate::usage::{Frames, total, union};

/// An event of a cut and what it was matched with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UsedEvent {
    /// Its number in record order.
    pub position: u32,
    /// Frames of the cut.
    pub record: Frames,
    pub picture: bool,
    pub sound: bool,
    pub source: UsedSource,
    /// Whether one frame of the source is one frame of the cut.
    pub plain_speed: bool,
}

/// What an event was matched with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UsedSource {
    /// Black, a machine's picture, or an event that is switched off.
    Nothing,
    /// Nothing answers for it; the key tells one unknown source from another.
    Unknown { key: String },
    /// A file of the catalogue. No frames: which part is not known, so all of it counts.
    File { id: Uuid, frames: Option<Frames> },
    /// An import or a piece of music, with its file where that is catalogued.
    Item {
        element: ElementKey,
        file: Option<(Uuid, Option<Frames>)>,
        /// Which part of it, from its beginning; None: not known.
        part: Option<ItemPart>,
    },
}

/// The part of an import that an event uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ItemPart {
    /// Frames from its beginning.
    pub frames: Frames,
    /// At which they are counted.
    pub rate: Rate,
}

/// An element of a cut.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ElementKey {
    Person(Uuid),
    Place(Uuid),
    Asset(Uuid),
    Music(Uuid),
    /// Footage of this file that nobody logged.
    Unlogged(Uuid),
    /// A source that nothing answers for.
    Unknown(String),
}

/// What somebody wrote down about a file, or a range of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LogLine {
    /// None: the whole file.
    pub range: Option<Frames>,
    /// None: somebody looked, and there is nothing to clear.
    pub element: Option<ElementKey>,
    pub presence: Presence,
    pub face: Face,
    pub name_on_screen: bool,
    /// Whether the voice was made unrecognisable.
    pub voice_changed: bool,
}

/// Somebody or something inside an import: the song on a newsreel, the painting in a still. It has
/// rights of its own, and comes into the cut with the import. Exactly one of the three ids is set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Content {
    /// A person.
    #[serde(default)]
    pub person_id: Option<Uuid>,
    /// Another import: an artwork, a brand, a clip within the clip.
    #[serde(default)]
    pub asset_id: Option<Uuid>,
    /// A piece of music.
    #[serde(default)]
    pub music_id: Option<Uuid>,
    /// How it is present.
    pub presence: Presence,
    /// What is seen of a face.
    pub face: Face,
    /// Where in the import it begins: whole seconds from the import's own beginning. None: there.
    #[serde(default)]
    pub from_seconds: Option<u32>,
    /// The second at which it has ended. None: with the import.
    #[serde(default)]
    pub to_seconds: Option<u32>,
    /// How, or more closely where.
    #[serde(default)]
    pub note: String,
}

impl Content {
    /// The element that it is.
    pub fn element(&self) -> Option<ElementKey> {
        (self.person_id.map(ElementKey::Person))
            .or(self.asset_id.map(ElementKey::Asset))
            .or(self.music_id.map(ElementKey::Music))
    }

    /// Whether it is said where in the import it is.
    pub fn is_placed(&self) -> bool {
        self.from_seconds.is_some() || self.to_seconds.is_some()
    }

    /// The frames of the import in which it is; begun frames count.
    fn frames(&self, rate: Rate) -> Frames {
        let exact = |seconds: u32| i128::from(seconds) * i128::from(rate.num());
        let den = i128::from(rate.den());
        let frame = |frame: i128| i64::try_from(frame).unwrap_or(i64::MAX);
        let from = self.from_seconds.map_or(0, exact).div_euclid(den);
        let to = self.to_seconds.map_or(i64::MAX, |seconds| {
            frame((exact(seconds) + den - 1).div_euclid(den))
        });
        (frame(from), to)
    }
}

/// What is inside each import, by its id.
pub type Contents = HashMap<Uuid, Vec<Content>>;

/// A file that a cut uses.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct UsedFile {
    /// Number of its frames, if known.
    pub frames: Option<i64>,
    /// Day of filming, if known.
    pub filmed_on: Option<NaiveDate>,
    pub log: Vec<LogLine>,
}

/// Every element of a cut with its uses.
///
/// Whether an event is heard follows its tracks; a cut that lists no sound at all is one exported
/// without it, and then everything counts as heard.
pub fn uses(
    events: &[UsedEvent],
    files: &HashMap<Uuid, UsedFile>,
    contents: &Contents,
) -> BTreeMap<ElementKey, Vec<Use>> {
    let silent_list = !events.iter().any(|event| event.sound);
    let mut all: BTreeMap<ElementKey, Vec<Use>> = BTreeMap::new();
    for event in events
        .iter()
        .filter(|event| event.record.0 < event.record.1)
    {
        let senses = Senses {
            seen: event.picture,
            heard: event.sound || silent_list,
        };
        let mut here = event_uses(event, senses, files);
        add_contents(&mut here, event, senses, contents);
        for (element, one) in here {
            all.entry(element).or_default().push(one);
        }
    }
    all
}

/// What is inside the imports that an event uses comes with them, to any depth and each once; from and to where it is
/// said to be in an import that was cut in by itself. Where in it an import within an import begins is not known, so what
/// is inside that counts whole.
fn add_contents(
    here: &mut Vec<(ElementKey, Use)>,
    event: &UsedEvent,
    senses: Senses,
    contents: &Contents,
) {
    let part = match event.source {
        UsedSource::Item { part, .. } => part,
        _ => None,
    };
    let mut at = 0;
    while let Some((element, outer)) = here.get(at).cloned() {
        let part = part.filter(|_| at == 0);
        at += 1;
        let ElementKey::Asset(id) = element else {
            continue;
        };
        for content in contents.get(&id).into_iter().flatten() {
            let Some(inner) = content.element() else {
                continue;
            };
            let line = LogLine {
                range: None,
                element: None,
                presence: content.presence,
                face: content.face,
                name_on_screen: false,
                voice_changed: false,
            };
            let Some((presence, face)) = present(&line, senses) else {
                continue;
            };
            let placed = part.filter(|_| content.is_placed());
            let record =
                placed.map(|part| part_of_record(event, content.frames(part.rate), part.frames));
            let (record_in, record_out) = match record {
                // the event uses another part of the import
                Some(None) => continue,
                Some(Some((from, to))) => (unsigned(from), unsigned(to)),
                None => (outer.record_in, outer.record_out),
            };
            let one = Use {
                record_in,
                record_out,
                presence,
                face,
                // When the import's own pictures were taken is not known.
                filmed_on: None,
                voice_changed: !senses.heard,
                ..outer.clone()
            };
            let again = |(known, use_): &(ElementKey, Use)| {
                *known == inner && use_.record_in == one.record_in
            };
            if !here.iter().any(again) {
                here.push((inner, one));
            }
        }
    }
}

/// How an event reaches the audience.
#[derive(Clone, Copy)]
struct Senses {
    seen: bool,
    heard: bool,
}

fn event_uses(
    event: &UsedEvent,
    senses: Senses,
    files: &HashMap<Uuid, UsedFile>,
) -> Vec<(ElementKey, Use)> {
    let plain = |presence: Presence, filmed_on: Option<NaiveDate>| Use {
        event: event.position,
        record_in: unsigned(event.record.0),
        record_out: unsigned(event.record.1),
        presence,
        face: Face::NotApplicable,
        name_on_screen: false,
        voice_changed: false,
        filmed_on,
    };
    let whole = UsedFile::default();
    match &event.source {
        UsedSource::Nothing => vec![],
        UsedSource::Unknown { key } => {
            let use_ = plain(Presence::None, None);
            vec![(ElementKey::Unknown(key.clone()), use_)]
        }
        UsedSource::Item { element, file, .. } => {
            let presence = match element {
                ElementKey::Music(_) => Presence::Heard,
                _ if senses.seen => Presence::InShot,
                _ => Presence::Heard,
            };
            let mut out = vec![(element.clone(), plain(presence, None))];
            if let Some((id, frames)) = file {
                let file = files.get(id).unwrap_or(&whole);
                out.extend(logged(event, senses, file, *frames));
            }
            out
        }
        UsedSource::File { id, frames } => {
            let file = files.get(id).unwrap_or(&whole);
            let mut out = logged(event, senses, file, *frames);
            if has_unlogged(file, *frames) {
                let use_ = plain(Presence::None, file.filmed_on);
                out.push((ElementKey::Unlogged(*id), use_));
            }
            out
        }
    }
}

/// Whether some used frame of a file is in no entry of its log.
fn has_unlogged(file: &UsedFile, frames: Option<Frames>) -> bool {
    if file.log.iter().any(|line| line.range.is_none()) {
        return false;
    }
    let (from, to) = frames
        .or(file.frames.map(|n| (0, n)))
        .unwrap_or((0, i64::MAX));
    let to = to.max(from.saturating_add(1));
    let met = file
        .log
        .iter()
        .filter_map(|line| overlap(line.range?, (from, to)));
    total(&union(met)) < to - from
}

/// The uses that the log of a file gives an event.
fn logged(
    event: &UsedEvent,
    senses: Senses,
    file: &UsedFile,
    frames: Option<Frames>,
) -> Vec<(ElementKey, Use)> {
    let mut out = Vec::new();
    for line in &file.log {
        let Some(element) = &line.element else {
            continue;
        };
        let Some((presence, face)) = present(line, senses) else {
            continue;
        };
        let record = match (line.range, frames) {
            (Some(range), Some(frames)) => match part_of_record(event, range, frames) {
                Some(record) => record,
                None => continue,
            },
            _ => event.record,
        };
        let one = Use {
            event: event.position,
            record_in: unsigned(record.0),
            record_out: unsigned(record.1),
            presence,
            face,
            name_on_screen: line.name_on_screen && senses.seen,
            // Not heard at all: nobody can tell the voice.
            voice_changed: line.voice_changed || !senses.heard,
            filmed_on: file.filmed_on,
        };
        out.push((element.clone(), one));
    }
    out
}

/// How what was logged is present where only picture, or only sound, of the file is used.
fn present(line: &LogLine, senses: Senses) -> Option<(Presence, Face)> {
    let Senses { seen, heard } = senses;
    match line.presence {
        Presence::OnCamera if !seen && heard => Some((Presence::Voice, Face::NotApplicable)),
        Presence::OnCamera | Presence::Background | Presence::InShot => {
            seen.then_some((line.presence, line.face))
        }
        Presence::Voice => heard.then_some((Presence::Voice, Face::NotApplicable)),
        Presence::Heard => heard.then_some((Presence::Heard, line.face)),
        Presence::None => Some((Presence::None, line.face)),
    }
}

/// The part of the cut in which a logged range of the file is used; none where it is not.
///
/// Worked frame by frame at normal speed; at any other, the whole event counts.
fn part_of_record(event: &UsedEvent, range: Frames, frames: Frames) -> Option<Frames> {
    let used = (frames.0, frames.1.max(frames.0.saturating_add(1)));
    let (from, to) = overlap(range, used)?;
    let (record_in, record_out) = event.record;
    if !event.plain_speed || frames.1 - frames.0 != record_out - record_in {
        return Some(event.record);
    }
    Some((record_in + (from - frames.0), record_in + (to - frames.0)))
}

fn overlap(a: Frames, b: Frames) -> Option<Frames> {
    let both = (a.0.max(b.0), a.1.min(b.1));
    (both.0 < both.1).then_some(both)
}

/// Record frames are never below nought in a list; a structured file may say so by mistake.
fn unsigned(frame: i64) -> u64 {
    u64::try_from(frame).unwrap_or(0)
}

#[cfg(test)]
mod tests;
