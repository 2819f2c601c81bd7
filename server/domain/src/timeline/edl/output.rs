//! A list turned outwards: the common model, and the field-by-field view of `waybill try`.

use serde_json::{Map, Value, json};

use super::used::{Part, shown};
use super::{Edit, List, Transition};
use crate::timeline::{Event, EventKind, Format, SourceRange, Timeline, Warning};
use crate::usage;

impl List {
    /// The list in the common model.
    pub fn timeline(&self) -> Timeline {
        let edits = self.edits.iter().zip(self.parts());
        let mut events: Vec<Event> = edits.map(|(edit, part)| self.event(edit, part)).collect();
        // record labels decide how the cut is counted, and one list has one way
        let drop = self.edits.first().is_some_and(|edit| edit.drop);
        let rate = self.rate.with_drop(drop);
        unwrap_midnight(&mut events, rate.frames_per_day());
        let title = self.title.clone().unwrap_or_default();
        Timeline::assemble(Format::Edl, title, rate, events, self.warnings.clone())
    }

    fn event(&self, edit: &Edit, part: Part) -> Event {
        let used = self.used_by(edit, part);
        let source = used.map(|used| SourceRange {
            start: used.start,
            end: used.end,
            rate: self.rate.with_drop(edit.drop),
        });
        let file = edit.source_file.as_ref().or(edit.from_file.as_ref());
        let channels = Channels::of(&edit.fields.channels);
        Event {
            position: 0,
            origin: format!("line {}", edit.line),
            event: edit.fields.event.clone(),
            track: track(edit),
            picture: channels.picture,
            sound: channels.sound || !edit.sound_channels.is_empty(),
            kind: self.kind(edit, part),
            reel: edit.fields.reel.clone(),
            clip: self.clip(edit, part).unwrap_or_default().to_owned(),
            source_name: file.cloned().unwrap_or_default(),
            record_in: edit.frames.record_in,
            record_out: edit.frames.record_in + shown(edit, part),
            source,
            speed: self.speed(edit),
            comments: edit.comments.iter().chain(&edit.markers).cloned().collect(),
            enabled: true,
        }
    }

    fn kind(&self, edit: &Edit, part: Part) -> EventKind {
        if edit.is_black() {
            return EventKind::Black;
        }
        // the empty line before a transition exists for its sake only
        let kind = match part {
            Part::Outgoing { incoming, .. } if edit.frames.record_len() == 0 => self
                .edits
                .get(incoming)
                .map_or(edit.kind, |other| other.kind),
            _ => edit.kind,
        };
        match kind {
            Transition::Cut => EventKind::Cut,
            Transition::Dissolve => EventKind::Dissolve,
            Transition::Wipe => EventKind::Wipe,
            Transition::KeyBackground | Transition::Key => EventKind::Key,
            Transition::Other => EventKind::Other,
        }
    }

    fn speed(&self, edit: &Edit) -> Option<String> {
        if edit.is_freeze() {
            return Some("freeze".to_owned());
        }
        let millionths = edit.speed.as_ref()?.millionths;
        // tenths of a percent, rounded
        let den = 1000 * self.rate.num();
        let tenths = (millionths * self.rate.den() + den / 2).div_euclid(den);
        let (whole, tenth) = (tenths.abs() / 10, tenths.abs() % 10);
        let sign = if tenths < 0 { "-" } else { "" };
        Some(match tenth {
            0 => format!("{sign}{whole} %"),
            _ => format!("{sign}{whole}.{tenth} %"),
        })
    }

    /// What a person should look at, by line.
    pub fn warnings(&self) -> Vec<Warning> {
        self.warnings.clone()
    }

    /// The list field by field, without its warnings.
    pub fn model(&self) -> Value {
        let used = self.used();
        let mode =
            |(line, drop): &(u32, bool)| json!([line, if *drop { "drop" } else { "non-drop" }]);
        json!({
            "rate": self.rate.name(),
            "title": self.title,
            "fcm": self.modes.iter().map(mode).collect::<Vec<_>>(),
            "edits": self.edits.iter().map(edit_model).collect::<Vec<_>>(),
            "used_source": used,
            "union_by_reel_and_clip": usage::union_by_reel_and_clip(&used),
        })
    }
}

/// Moves what follows midnight behind what precedes it.
///
/// Labels begin again after 24 hours. No cut is half a day long, so events further apart than that
/// stand on the two sides of a midnight.
fn unwrap_midnight(events: &mut [Event], day: i64) {
    let starts = || events.iter().map(|event| event.record_in);
    let (Some(first), Some(last)) = (starts().min(), starts().max()) else {
        return;
    };
    let first_late = starts().filter(|start| *start >= day / 2).min();
    let last_early = starts().filter(|start| *start < day / 2).max();
    let (Some(first_late), Some(last_early)) = (first_late, last_early) else {
        return;
    };
    if last - first > day / 2 && last_early + day - first_late < day / 2 {
        for event in events.iter_mut().filter(|event| event.record_in < day / 2) {
            event.record_in += day;
            event.record_out += day;
        }
    }
}

fn edit_model(edit: &Edit) -> Value {
    let (fields, labels) = (&edit.fields, &edit.fields.labels);
    let mut model = Map::new();
    let mut put = |key: &str, value: Value| model.insert(key.to_owned(), value);
    put("line", edit.line.into());
    put("event", fields.event.as_str().into());
    put("reel", fields.reel.as_str().into());
    put("channels", fields.channels.as_str().into());
    put("type", fields.transition.as_str().into());
    put("duration", fields.duration.into());
    put("source_in", labels.source_in.to_string().into());
    put("source_out", labels.source_out.to_string().into());
    put("record_in", labels.record_in.to_string().into());
    put("record_out", labels.record_out.to_string().into());
    put("drop", edit.drop.into());
    let frames = edit.frames;
    put(
        "frames",
        json!({
            "source_in": frames.source_in,
            "source_out": frames.source_out,
            "record_in": frames.record_in,
            "record_out": frames.record_out,
        }),
    );
    let names = [
        ("from_clip_name", &edit.from_clip_name),
        ("to_clip_name", &edit.to_clip_name),
        ("source_file", &edit.source_file),
        ("from_file", &edit.from_file),
    ];
    for (key, name) in names {
        if let Some(name) = name {
            put(key, name.as_str().into());
        }
    }
    let lists = [
        ("comments", &edit.comments),
        ("loc", &edit.markers),
        ("aud", &edit.sound_channels),
    ];
    for (key, list) in lists {
        if !list.is_empty() {
            put(key, json!(list));
        }
    }
    if let Some(speed) = &edit.speed {
        put(
            "m2",
            json!({"reel": speed.reel, "fps": speed.fps, "at": speed.at}),
        );
    }
    Value::Object(model)
}

fn track(edit: &Edit) -> String {
    let more = edit.sound_channels.iter().map(|channel| {
        let letter = if channel.starts_with(|c: char| c.is_ascii_digit()) {
            "A"
        } else {
            ""
        };
        format!(" {letter}{channel}")
    });
    more.fold(edit.fields.channels.clone(), |track, channel| {
        track + &channel
    })
}

/// Whether an edit is seen, heard, or both.
struct Channels {
    picture: bool,
    sound: bool,
}

impl Channels {
    /// `V`, `A`, `A2`, `AA`, `AA/V`, `B` (both), `NONE`; what is not known may be both.
    fn of(written: &str) -> Self {
        let written = written.to_ascii_uppercase();
        let (picture, sound) = match written.as_str() {
            "NONE" => (false, false),
            "B" => (true, true),
            other => (other.contains('V'), other.contains('A')),
        };
        let unknown = !picture && !sound && written != "NONE";
        Self {
            picture: picture || unknown,
            sound: sound || unknown,
        }
    }
}
