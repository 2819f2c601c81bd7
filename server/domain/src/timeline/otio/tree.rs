//! The objects of a file as a tree of items. Unknown schemas and unusable times are left out with a
//! warning that names their place (a JSON pointer); nothing here computes with time.

use serde_json::Value;

use super::time::{Range, Time};
use crate::timeline::{TimelineError, Warning};

/// Anything that can stand in a composition.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Item {
    /// JSON pointer.
    pub path: String,
    pub name: String,
    pub enabled: bool,
    pub source_range: Option<Range>,
    pub effects: Vec<Effect>,
    pub kind: Kind,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kind {
    Clip(Box<Media>),
    Gap,
    /// `in_offset` into the item before it, `out_offset` into the item after it.
    Transition {
        in_offset: Time,
        out_offset: Time,
        wipe: bool,
    },
    Stack(Vec<Item>),
    /// `Video`, `Audio`, or what the file says.
    Track {
        kind: String,
        children: Vec<Item>,
    },
}

impl Item {
    pub fn schema(&self) -> &'static str {
        match self.kind {
            Kind::Clip(_) => "Clip",
            Kind::Gap => "Gap",
            Kind::Transition { .. } => "Transition",
            Kind::Stack(_) => "Stack",
            Kind::Track { .. } => "Track",
        }
    }

    pub fn children(&self) -> &[Item] {
        match &self.kind {
            Kind::Stack(children) | Kind::Track { children, .. } => children,
            _ => &[],
        }
    }
}

/// What a clip shows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Media {
    pub schema: String,
    pub name: String,
    /// Address of one file.
    pub url: Option<String>,
    /// Address of numbered pictures.
    pub sequence: Option<String>,
    pub available: Option<Range>,
    pub reel: String,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Effect {
    pub schema: String,
    /// For effects on time.
    pub time_scalar: Option<f64>,
    pub enabled: bool,
}

/// A whole file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Document {
    pub name: String,
    pub global_start: Option<Time>,
    /// Always a stack.
    pub root: Item,
    pub warnings: Vec<Warning>,
}

pub(super) fn read(value: &Value) -> Result<Document, TimelineError> {
    let mut reader = Reader::default();
    let (top, path) = reader.timeline(value)?;
    let (root_value, root_path) = match schema(top) {
        "Timeline" => (&top["tracks"], format!("{path}/tracks")),
        _ => (top, path),
    };
    let root = reader.item(root_value, root_path.clone());
    let root = match root {
        Some(item) if matches!(item.kind, Kind::Stack(_)) => item,
        // a lone track or clip, or a timeline without tracks
        other => Item {
            path: root_path,
            name: String::new(),
            enabled: true,
            source_range: None,
            effects: Vec::new(),
            kind: Kind::Stack(other.into_iter().collect()),
        },
    };
    Ok(Document {
        name: text(&top["name"]),
        global_start: time(&top["global_start_time"]),
        root,
        warnings: reader.warnings,
    })
}

/// The name of an object's schema, old names put into the present ones.
fn schema(value: &Value) -> &str {
    let full = value["OTIO_SCHEMA"].as_str().unwrap_or_default();
    match full.rsplit_once('.').map_or(full, |(name, _version)| name) {
        "Sequence" => "Track",
        "Filler" => "Gap",
        name => name,
    }
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

fn time(value: &Value) -> Option<Time> {
    Time::new(value["value"].as_f64()?, value["rate"].as_f64()?)
}

fn range(value: &Value) -> Option<Range> {
    let start = time(&value["start_time"])?;
    let duration = time(&value["duration"]).filter(|duration| duration.ticks >= 0)?;
    Some(Range { start, duration })
}

/// A reel named in the metadata of a clip or its media, one level down, whoever wrote it.
fn reel(metadata: &Value) -> Option<&str> {
    let groups = metadata.as_object()?.values();
    let mut named = groups.filter_map(|group| group.get("reel")?.as_str());
    metadata["reel"].as_str().or_else(|| named.next())
}

#[derive(Default)]
struct Reader {
    warnings: Vec<Warning>,
}

impl Reader {
    fn warn(&mut self, at: &str, text: impl Into<String>) {
        let (at, text) = (at.to_owned(), text.into());
        self.warnings.push(Warning { at, text });
    }

    /// The timeline to read: the top object, or the first one in a collection.
    fn timeline<'a>(&mut self, value: &'a Value) -> Result<(&'a Value, String), TimelineError> {
        match schema(value) {
            "Timeline" | "Stack" | "Track" | "Clip" => Ok((value, String::new())),
            "SerializableCollection" => {
                let children = value["children"].as_array().map_or(&[][..], Vec::as_slice);
                let mut timelines = (0..).zip(children).filter(|(_, c)| schema(c) == "Timeline");
                let found = "a collection without a timeline".to_owned();
                let (index, first) = timelines
                    .next()
                    .ok_or(TimelineError::NotATimeline { found })?;
                if timelines.next().is_some() {
                    self.warn(
                        "",
                        "The file holds several timelines; the first one was read.",
                    );
                }
                Ok((first, format!("/children/{index}")))
            }
            "" => Err(TimelineError::NotATimeline {
                found: "it has no OTIO_SCHEMA".to_owned(),
            }),
            other => Err(TimelineError::NotATimeline {
                found: format!("its schema is {other}"),
            }),
        }
    }

    fn item(&mut self, value: &Value, path: String) -> Option<Item> {
        let kind = match schema(value) {
            "Clip" => Kind::Clip(Box::new(self.media(value, &path))),
            "Gap" => Kind::Gap,
            "Transition" => self.transition(value, &path),
            "Stack" => Kind::Stack(self.children(value, &path)),
            "Track" => Kind::Track {
                kind: value["kind"].as_str().unwrap_or("Video").to_owned(),
                children: self.children(value, &path),
            },
            "" if value.is_null() => return None,
            other => {
                let text = format!("Left out: an object of the unknown schema \"{other}\".");
                self.warn(&path, text);
                return None;
            }
        };
        Some(Item {
            source_range: self.optional_range(value, "source_range", &path),
            effects: effects(&value["effects"]),
            enabled: value["enabled"].as_bool().unwrap_or(true),
            name: text(&value["name"]),
            path,
            kind,
        })
    }

    fn children(&mut self, value: &Value, path: &str) -> Vec<Item> {
        let children = value["children"].as_array().map_or(&[][..], Vec::as_slice);
        let children = (0..).zip(children);
        children
            .filter_map(|(index, child)| self.item(child, format!("{path}/children/{index}")))
            .collect()
    }

    fn transition(&mut self, value: &Value, path: &str) -> Kind {
        let mut offset = |key: &str| {
            let offset = time(&value[key]).filter(|offset| offset.ticks >= 0);
            if offset.is_none() && !value[key].is_null() {
                self.warn(path, format!("The {key} is no usable time; read as 0."));
            }
            offset.unwrap_or(Time::zero(1.0))
        };
        Kind::Transition {
            in_offset: offset("in_offset"),
            out_offset: offset("out_offset"),
            wipe: text(&value["transition_type"])
                .to_ascii_lowercase()
                .contains("wipe"),
        }
    }

    fn media(&mut self, clip: &Value, path: &str) -> Media {
        let active = clip["active_media_reference_key"].as_str();
        let media = match &clip["media_references"] {
            Value::Object(references) => references
                .get(active.unwrap_or("DEFAULT_MEDIA"))
                .unwrap_or(&Value::Null),
            _ => &clip["media_reference"],
        };
        let schema = match schema(media) {
            "" => "MissingReference",
            name => name,
        };
        let part = |key: &str| media[key].as_str().unwrap_or_default();
        let sequence = format!(
            "{}{}#{}",
            part("target_url_base"),
            part("name_prefix"),
            part("name_suffix")
        );
        let reel = reel(&clip["metadata"]).or_else(|| reel(&media["metadata"]));
        Media {
            schema: schema.to_owned(),
            name: text(&media["name"]),
            url: media["target_url"].as_str().map(str::to_owned),
            sequence: (schema == "ImageSequenceReference").then_some(sequence),
            available: self.optional_range(media, "available_range", path),
            reel: reel.unwrap_or_default().to_owned(),
        }
    }

    fn optional_range(&mut self, value: &Value, key: &str, path: &str) -> Option<Range> {
        let given = value.get(key).filter(|given| !given.is_null())?;
        let range = range(given);
        if range.is_none() {
            self.warn(
                path,
                format!("The {key} is no usable range; read as not given."),
            );
        }
        range
    }
}

fn effects(value: &Value) -> Vec<Effect> {
    let effects = value.as_array().map_or(&[][..], Vec::as_slice);
    let effects = effects.iter().filter(|effect| effect.is_object());
    effects
        .map(|effect| Effect {
            schema: schema(effect).to_owned(),
            time_scalar: effect["time_scalar"].as_f64(),
            enabled: effect["enabled"].as_bool().unwrap_or(true),
        })
        .collect()
}
