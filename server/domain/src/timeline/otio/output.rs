//! A composition turned outwards: the common model, and the field-by-field view of `waybill try`.

use serde_json::{Map, Value, json};

use super::Composition;
use super::time::{end_frame, first_frame, frames, timecode_rate};
use super::tree::{Effect, Item, Kind};
use super::walk::{Placed, Span, speed, trimmed_range};
use crate::timecode::Rate;
use crate::timeline::{Event, EventKind, Format, SourceRange, Timeline, TimelineError, Warning};

impl Composition {
    /// The composition in the common model, counted at `rate`, or else at its own.
    ///
    /// Fails when neither is known.
    pub fn timeline(&self, rate: Option<Rate>) -> Result<Timeline, TimelineError> {
        let rate = rate
            .or_else(|| self.rate())
            .ok_or(TimelineError::RateNeeded)?;
        let global = self.document.global_start.map_or(0, |start| start.ticks);
        let events = self.clips.iter();
        let events = events
            .filter_map(|clip| event(clip, global, rate))
            .collect();
        let title = self.document.name.clone();
        let warnings = self.warnings();
        let mut cut = Timeline::assemble(Format::Otio, title, rate, events, warnings);
        // black before the first clip and after the last is part of the cut
        let length = trimmed_range(&self.document.root).map_or(0, |range| range.duration.ticks);
        let end = end_frame(global + length, as_float(rate)).max(cut.start + cut.duration);
        cut.start = first_frame(global, as_float(rate));
        cut.duration = end - cut.start;
        Ok(cut)
    }

    /// The rate of the start time, else of the first clip that has a rate of pictures.
    fn rate(&self) -> Option<Rate> {
        let start = self.document.global_start.iter().map(|start| start.rate);
        let clips = self.clips.iter().filter_map(|clip| clip.source);
        let mut rates = start.chain(clips.map(|source| source.start.rate));
        rates.find_map(timecode_rate)
    }

    /// What a person should look at, by the path of the object.
    pub fn warnings(&self) -> Vec<Warning> {
        let mut warnings = self.document.warnings.clone();
        let mut warn = |clip: &Placed, text: &str| {
            let at = clip.item.path.clone();
            let text = format!("\"{}\": {text}", clip.item.name);
            warnings.push(Warning { at, text });
        };
        for clip in &self.clips {
            let available = clip.media.available.filter(|_| clip.enabled);
            if clip.source.is_none() {
                warn(
                    clip,
                    "no range is given, of the clip or its media; its length is not known.",
                );
            } else if clip.record.is_none() {
                warn(clip, "cut away wholly by what it stands in; not used.");
            } else if let (Some(used), Some(available)) = (clip.used, available)
                && (used.start < available.start.ticks || used.end > available.end())
            {
                warn(clip, "uses frames that its media does not have.");
            }
        }
        if self.clips.is_empty() {
            warnings.push(Warning::of_the_file("The timeline has no clips."));
        }
        warnings
    }

    /// The composition field by field, without its warnings.
    pub fn model(&self) -> Value {
        let document = &self.document;
        let start = document
            .global_start
            .map(|start| json!({"value": frames(start.ticks, start.rate), "rate": start.rate}));
        let duration = trimmed_range(&document.root).map(|range| range.duration);
        json!({
            "global_start_time": start,
            "duration_frames": duration.map_or(json!(0), |time| frames(time.ticks, time.rate)),
            "tracks": document.root.children().iter().map(track_model).collect::<Vec<_>>(),
            "clips": self.clips.iter().map(clip_model).collect::<Vec<_>>(),
        })
    }
}

/// A clip as an event; none when the cuts of its parents leave nothing of it.
fn event(clip: &Placed, global: i128, rate: Rate) -> Option<Event> {
    let unknown_length = Span {
        start: clip.begins,
        end: clip.begins,
    };
    let shown = match clip.source {
        Some(_) => clip.shown?,
        None => unknown_length,
    };
    let record_rate = as_float(rate);
    let kind = kind(clip);
    let uses = clip.enabled && kind != EventKind::Generated;
    let kind_of_track = clip.track_kind.as_deref().unwrap_or_default();
    let media = &clip.media;
    let named = [
        media.url.as_ref(),
        media.sequence.as_ref(),
        Some(&media.name),
    ];
    Some(Event {
        position: 0,
        origin: clip.item.path.clone(),
        event: String::new(),
        track: clip.track_name.clone(),
        picture: kind_of_track != "Audio",
        sound: kind_of_track != "Video",
        kind,
        reel: media.reel.clone(),
        clip: clip.item.name.clone(),
        source_name: named
            .into_iter()
            .flatten()
            .next()
            .cloned()
            .unwrap_or_default(),
        record_in: first_frame(global + shown.start, record_rate),
        record_out: end_frame(global + shown.end, record_rate),
        source: clip
            .used
            .filter(|_| uses)
            .and_then(|used| source(clip, used, rate)),
        speed: speed_in_words(&clip.item),
        comments: Vec::new(),
        enabled: clip.enabled,
    })
}

fn kind(clip: &Placed) -> EventKind {
    match () {
        () if clip.media.schema == "GeneratorReference" => EventKind::Generated,
        () if clip.wipes => EventKind::Wipe,
        () if clip.dissolves => EventKind::Dissolve,
        () => EventKind::Cut,
    }
}

/// In frames of the media; sound counted in samples is given in frames of the cut.
fn source(clip: &Placed, used: Span, rate: Rate) -> Option<SourceRange> {
    let own = clip.source?.start.rate;
    let rate = timecode_rate(own).unwrap_or(rate);
    let counted = as_float(rate);
    Some(SourceRange {
        start: first_frame(used.start, counted),
        end: end_frame(used.end, counted),
        rate,
    })
}

/// For the functions of `time`, which turn it back into the same fraction.
#[expect(clippy::as_conversions, reason = "both are far below 2^52")]
pub(in crate::timeline) fn as_float(rate: Rate) -> f64 {
    rate.num() as f64 / rate.den() as f64
}

fn speed_in_words(item: &Item) -> Option<String> {
    match speed(item)? {
        0.0 => Some("freeze".to_owned()),
        1.0 => None,
        scalar => Some(format!("{} %", (scalar * 1000.0).round() / 10.0)),
    }
}

fn track_model(track: &Item) -> Value {
    let children = track.children().iter().map(Item::schema);
    let kind = match &track.kind {
        Kind::Track { kind, .. } => Some(kind),
        _ => None,
    };
    json!({
        "name": track.name,
        "kind": kind,
        "enabled": track.enabled,
        "children": children.collect::<Vec<_>>(),
    })
}

fn clip_model(clip: &Placed) -> Value {
    let rate = clip.source.map(|source| source.start.rate);
    let span = |span: Option<Span>, rate: Option<f64>| match (span, rate) {
        (Some(span), Some(rate)) => json!([frames(span.start, rate), frames(span.end, rate)]),
        _ => Value::Null,
    };
    let whole = clip.source.map(|range| Span {
        start: range.start.ticks,
        end: range.end(),
    });
    let used = clip.used.filter(|_| clip.enabled);
    let mut model = Map::new();
    let mut put = |key: &str, value: Value| model.insert(key.to_owned(), value);
    put("track_index", clip.track_index.into());
    put("track_kind", clip.track_kind.clone().into());
    put("name", clip.item.name.as_str().into());
    put("media", clip.media.url.clone().into());
    put("media_kind", clip.media.schema.as_str().into());
    put("rate", rate.into());
    put("source", span(whole, rate));
    put("enabled", clip.enabled.into());
    if clip.with_transitions.is_some() {
        put("source_with_transitions", span(clip.with_transitions, rate));
    }
    put("used_after_parent_trims", span(clip.trimmed, rate));
    put("record", span(clip.record, Some(clip.record_rate)));
    put("record_rate", clip.record_rate.into());
    if let Some(available) = clip.media.available {
        let whole = Span {
            start: available.start.ticks,
            end: available.end(),
        };
        put("available", span(Some(whole), Some(available.start.rate)));
    }
    put("used_media_by_hand", span(used, rate));
    let effects: Vec<Value> = clip.item.effects.iter().map(effect_model).collect();
    if !effects.is_empty() {
        put("effects", effects.into());
    }
    Value::Object(model)
}

fn effect_model(effect: &Effect) -> Value {
    match effect.time_scalar {
        Some(scalar) => json!({"type": effect.schema, "time_scalar": scalar}),
        None => json!({"type": effect.schema}),
    }
}
