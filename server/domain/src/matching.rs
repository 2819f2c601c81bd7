//! Which catalogued file, import or piece of music an event of a cut uses.
//!
//! The evidence in the order of its weight: a choice that a person made before, reel with source
//! timecode, the names that the team keeps with an import or a piece of music, file and clip names.
//! Where evidence fits several, or speaks against itself, the answer is *unknown* with what fits:
//! never a guess. Reading the catalogue belongs to the server; this is the decision.

mod names;
mod place;
mod words;

use std::collections::{BTreeSet, HashMap};

use uuid::Uuid;

pub use names::{forms, name_of, stem_of};
pub use place::FileTimecode;

use self::words::{described, listed};
use crate::timeline::{EventKind, SourceRange};
use crate::usage::Frames;

/// What an event says of its source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sought {
    pub kind: EventKind,
    /// False when switched off in the cut.
    pub enabled: bool,
    /// Whether the event shows a picture; then a sound file is not its source.
    pub picture: bool,
    /// Empty when not given, as are `clip` and `source_name`.
    pub reel: String,
    pub clip: String,
    pub source_name: String,
    pub source: Option<SourceRange>,
}

/// A file of the catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CataloguedFile {
    pub id: Uuid,
    /// With its extension.
    pub name: String,
    /// The card it came from; empty when not known.
    pub card: String,
    /// What a cut may call its reel: the reel in its header, the card's name, the card's number.
    pub reels: Vec<String>,
    /// Whether it holds a picture.
    pub picture: bool,
    /// None when the file carries none.
    pub timecode: Option<FileTimecode>,
}

/// An import or a piece of music.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Item {
    Asset(Uuid),
    Music(Uuid),
}

/// An import or a piece of music of the catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CataloguedItem {
    pub item: Item,
    pub title: String,
    /// Names under which it stands in a cut, and its ISRC.
    pub names: Vec<String>,
}

/// What a person chose for a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    File(Uuid),
    Item(Item),
}

/// What an event uses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Match {
    pub uses: Uses,
    /// Frames of the file, counted from its first; none: which is not known, so all of it counts.
    pub frames: Option<Frames>,
    /// How it was found, or why not, in words.
    pub how: String,
}

/// The source of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Uses {
    /// Black, a picture that a machine makes, or an event that is switched off.
    Nothing,
    File(Uuid),
    /// An import or a piece of music, with its file where that is catalogued too.
    Item(Item, Option<Uuid>),
    /// Nothing fits, or more than one.
    Unknown,
}

/// Everything that events may be matched with, ready to be asked.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    files: Vec<CataloguedFile>,
    items: Vec<CataloguedItem>,
    remembered: HashMap<String, Target>,
    by_id: HashMap<Uuid, usize>,
    by_reel: HashMap<String, Vec<usize>>,
    by_name: HashMap<String, Vec<usize>>,
    by_stem: HashMap<String, Vec<usize>>,
    items_by_name: HashMap<String, Vec<usize>>,
}

/// What one kind of evidence comes to.
enum Found {
    Nothing,
    /// The place in the catalogue, and how.
    One(usize, String),
    /// Places of all that fit.
    Several(Vec<usize>),
    /// By its name it would be this file, by the timecode it can't be.
    Against(usize),
}

/// The name under which a choice made by hand is remembered for the series: reel and file, or clip
/// where there is no file.
///
/// A reel alone may be shared by many clips, so the first source frame joins it. None when the
/// event says nothing that could be met again.
pub fn key(sought: &Sought) -> Option<String> {
    let reel = sought.reel.trim().to_lowercase();
    let name = [&sought.source_name, &sought.clip]
        .into_iter()
        .map(|name| name_of(name))
        .find(|name| !name.is_empty());
    match (name, sought.source) {
        (Some(name), _) => Some(format!("{reel}|{name}")),
        (None, Some(source)) if !reel.is_empty() => Some(format!("{reel}|@{}", source.start)),
        _ => None,
    }
}

impl Catalogue {
    /// Puts the catalogue together. `remembered` has the keys that [`key`] gives.
    pub fn new(
        files: Vec<CataloguedFile>,
        items: Vec<CataloguedItem>,
        remembered: HashMap<String, Target>,
    ) -> Self {
        let mut all = Self {
            remembered,
            ..Self::default()
        };
        for (at, file) in files.iter().enumerate() {
            all.by_id.insert(file.id, at);
            let name = name_of(&file.name);
            all.by_stem.entry(stem_of(&name)).or_default().push(at);
            all.by_name.entry(name).or_default().push(at);
            let reels: BTreeSet<String> = (file.reels.iter())
                .map(|reel| reel.trim().to_lowercase())
                .filter(|reel| !reel.is_empty())
                .collect();
            for reel in reels {
                all.by_reel.entry(reel).or_default().push(at);
            }
        }
        for (at, item) in items.iter().enumerate() {
            let title = item.title.trim().to_lowercase();
            let names: BTreeSet<String> = (item.names.iter())
                .map(|name| name_of(name))
                .flat_map(|name| [stem_of(&name), name])
                .chain([title])
                .filter(|name| !name.is_empty())
                .collect();
            for name in names {
                all.items_by_name.entry(name).or_default().push(at);
            }
        }
        Self {
            files,
            items,
            ..all
        }
    }

    /// What the event uses.
    pub fn find(&self, sought: &Sought) -> Match {
        if let Some(how) = nothing_used(sought) {
            return Match {
                uses: Uses::Nothing,
                frames: None,
                how: how.into(),
            };
        }
        if let Some(chosen) = key(sought).and_then(|key| self.remembered.get(&key)) {
            return self.chosen(*chosen, sought);
        }
        let (item, file) = (self.item(sought), self.file(sought));
        match (item, file) {
            (Found::One(item, how), Found::One(file, _)) => {
                let found = self.used(file, sought, how);
                let item = self.items[item].item;
                Match {
                    uses: Uses::Item(item, Some(self.files[file].id)),
                    ..found
                }
            }
            (Found::One(item, how), _) => Match {
                uses: Uses::Item(self.items[item].item, None),
                frames: None,
                how,
            },
            (Found::Several(items), _) => unknown(format!(
                "The name fits {}; choose one.",
                listed(items.iter().map(|at| self.items[*at].title.clone()))
            )),
            (_, Found::One(file, how)) => self.used(file, sought, how),
            (_, Found::Several(files)) => unknown(format!(
                "Several files fit: {}; choose one.",
                listed(files.iter().map(|at| self.files[*at].label()))
            )),
            (_, Found::Against(file)) => unknown(format!(
                "{} has the name but not this timecode; choose it if it is the source.",
                self.files[file].label()
            )),
            (_, Found::Nothing) => unknown(format!(
                "Nothing in the catalogue fits {}.",
                described(sought)
            )),
        }
    }

    /// What a person chose for a key before.
    pub fn remembered(&self, key: &str) -> Option<Target> {
        self.remembered.get(key).copied()
    }

    /// The match with what a person chose.
    pub fn chosen(&self, chosen: Target, sought: &Sought) -> Match {
        let how = "chosen by hand".to_owned();
        match chosen {
            Target::Item(item) if self.items.iter().any(|known| known.item == item) => Match {
                uses: Uses::Item(item, None),
                frames: None,
                how,
            },
            Target::Item(_) => unknown("What was chosen by hand was deleted.".into()),
            Target::File(id) => match self.by_id.get(&id) {
                Some(at) => self.used(*at, sought, how),
                None => unknown("The file chosen by hand is not in the catalogue any more.".into()),
            },
        }
    }

    /// A file with the frames of it that the event touches.
    fn used(&self, at: usize, sought: &Sought, mut how: String) -> Match {
        let file = &self.files[at];
        let frames = sought.source.zip(file.timecode).and_then(|(source, tc)| {
            tc.place_of(source).or_else(|| {
                let frames = tc.from_first_frame(source)?;
                how.push_str("; timecode counted from the file's first frame");
                Some(frames)
            })
        });
        if frames.is_none() {
            how.push_str("; which part is not known, so all of it counts");
        }
        Match {
            uses: Uses::File(file.id),
            frames,
            how,
        }
    }

    /// The import or piece of music that has one of the event's names.
    fn item(&self, sought: &Sought) -> Found {
        for (what, name) in sought.names() {
            let of = |name: &str| self.items_by_name.get(name).cloned().unwrap_or_default();
            let mut found = of(&name);
            if found.is_empty() {
                found = of(&stem_of(&name));
            }
            match found.as_slice() {
                [] => {}
                [one] => return Found::One(*one, format!("{what} “{name}”")),
                _ => return Found::Several(found),
            }
        }
        Found::Nothing
    }

    /// The file that fits by reel and timecode, or by name.
    fn file(&self, sought: &Sought) -> Found {
        let timed = self.by_timecode(sought);
        let (what, named) = self.by_names(sought);
        let holds = |at: &usize| {
            let file = &self.files[*at];
            (sought.source.zip(file.timecode))
                .is_some_and(|(source, tc)| tc.place_of(source).is_some())
        };
        if !timed.is_empty() {
            let both: Vec<usize> = timed
                .iter()
                .copied()
                .filter(|at| named.contains(at))
                .collect();
            let how = || format!("reel {} and source timecode", sought.reel.trim());
            return match (timed.as_slice(), named.is_empty(), both.as_slice()) {
                ([one], true, _) | (_, false, [one]) => Found::One(*one, how()),
                (_, false, []) => Found::Several(timed.into_iter().chain(named).collect()),
                (_, false, _) => Found::Several(both),
                (_, true, _) => Found::Several(timed),
            };
        }
        match named.as_slice() {
            [] => Found::Nothing,
            [one] if self.speaks_against(*one, sought) => Found::Against(*one),
            [one] => Found::One(*one, what.into()),
            _ => match named.iter().filter(|at| holds(at)).collect::<Vec<_>>()[..] {
                [one] => Found::One(*one, format!("{what} and source timecode")),
                _ => Found::Several(named),
            },
        }
    }

    /// Files of the event's reel whose timecode holds the used range.
    fn by_timecode(&self, sought: &Sought) -> Vec<usize> {
        let reel = sought.reel.trim().to_lowercase();
        let (Some(source), Some(places)) = (sought.source, self.by_reel.get(&reel)) else {
            return vec![];
        };
        let fits = |at: &usize| {
            let file = &self.files[*at];
            let holds = |tc: FileTimecode| tc.place_of(source).is_some();
            (file.picture || !sought.picture) && file.timecode.is_some_and(holds)
        };
        places.iter().copied().filter(fits).collect()
    }

    /// Files that have the first of the event's names that any file has: with its extension, else
    /// without.
    fn by_names(&self, sought: &Sought) -> (&'static str, Vec<usize>) {
        for (what, name) in sought.names() {
            let of = |index: &HashMap<String, Vec<usize>>, name: &str| -> Vec<usize> {
                let places = index.get(name).map_or(&[][..], Vec::as_slice);
                let fits = |at: &usize| self.files[*at].picture || !sought.picture;
                places.iter().copied().filter(fits).collect()
            };
            let mut found = of(&self.by_name, &name);
            if found.is_empty() {
                found = of(&self.by_stem, &stem_of(&name));
            }
            if found.is_empty() {
                // A clip name with a dot in it: what follows is no extension.
                found = of(&self.by_stem, &name);
            }
            if !found.is_empty() {
                return (what, found);
            }
        }
        ("", vec![])
    }

    /// Whether the file's timecode says that it is another file of the same name: cameras count
    /// their clips from one on each card.
    fn speaks_against(&self, at: usize, sought: &Sought) -> bool {
        let (Some(source), Some(tc)) = (sought.source, self.files[at].timecode) else {
            return false;
        };
        tc.place_of(source).is_none() && tc.from_first_frame(source).is_none()
    }
}

impl CataloguedFile {
    fn label(&self) -> String {
        if self.card.is_empty() {
            self.name.clone()
        } else {
            format!("{} on card {}", self.name, self.card)
        }
    }
}

impl Sought {
    /// The event's names, the best first, with the words for what each is. A reel that is too long
    /// for the classic form is a name too.
    fn names(&self) -> Vec<(&'static str, String)> {
        const CLASSIC_REEL: usize = 8;
        let long = self.reel.trim().chars().count() > CLASSIC_REEL;
        let reel = if long { self.reel.as_str() } else { "" };
        [
            ("file name", self.source_name.as_str()),
            ("clip name", &self.clip),
            ("reel name", reel),
        ]
        .into_iter()
        .map(|(what, name)| (what, name_of(name)))
        .filter(|(_, name)| !name.is_empty())
        .collect()
    }
}

fn nothing_used(sought: &Sought) -> Option<&'static str> {
    match sought.kind {
        _ if !sought.enabled => Some("switched off in the cut"),
        EventKind::Black => Some("black"),
        EventKind::Generated => Some("made by the editing system"),
        _ if sought.reel.trim().eq_ignore_ascii_case("BL") => Some("black"),
        _ => None,
    }
}

fn unknown(how: String) -> Match {
    Match {
        uses: Uses::Unknown,
        frames: None,
        how,
    }
}

#[cfg(test)]
mod tests;
