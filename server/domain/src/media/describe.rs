//! A header's facts and the parts they stand in, as the JSON that `waybill try media` prints. Meant for a
//! surprised user and for comparison with published samples; the product itself uses the facts.

use std::io::{Read, Seek};

use serde_json::{Map, Value, json};

use super::bmff::{Movie, Track};
use super::bytes::{Source, four_cc_text};
use super::wav::Wave;
use super::{Container, MediaError, MediaFacts, bmff, identify, mxf, wav};
use crate::timecode::{Rate, Ratio};

/// Reads a file of `len` bytes and tells its facts, and of which boxes or chunks they come.
///
/// # Errors
/// [`MediaError`] when the header gives no facts.
pub fn try_facts(reader: impl Read + Seek, len: u64) -> Result<Value, MediaError> {
    let mut source = Source::new(reader, len);
    let (facts, name, parts) = match identify(&mut source)? {
        Container::Wave => {
            let wave = wav::read(&mut source)?;
            (wave.facts(), wave_name(&wave), wave_parts(&wave))
        }
        Container::Mxf => {
            let facts = mxf::read(&mut source)?.facts();
            (facts, "MXF (SMPTE ST 377-1)".to_owned(), Map::new())
        }
        Container::QuickTime | Container::Mp4 => {
            let movie = bmff::read(&mut source)?;
            let brand = movie.brand.map_or_else(|| "none".to_owned(), four_cc_text);
            let name = format!("QuickTime / ISO BMFF (major brand {brand})");
            (movie.facts(), name, movie_parts(&movie))
        }
    };
    let mut value = common(&facts);
    value.insert("container".to_owned(), json!(name));
    value.insert("bytes".to_owned(), json!(len));
    value.extend(parts);
    Ok(Value::Object(value))
}

fn common(facts: &MediaFacts) -> Map<String, Value> {
    let mut value = Map::new();
    let mut set = |name: &str, part: Value| {
        value.insert(name.to_owned(), part);
    };
    set("duration_seconds", json!(facts.duration));
    set("reel", json!(facts.reel));
    set("timecode", timecode(facts));
    set("recorded", json!(facts.recorded));
    set("warnings", json!(facts.warnings));
    if facts.container != Container::Wave {
        set("width", json!(facts.width));
        set("height", json!(facts.height));
        set("frame_rate", json!(facts.rate));
        set("frame_count", json!(facts.frame_count));
        set("codec", json!(facts.codec));
        set("audio", json!(facts.audio));
    }
    value
}

fn timecode(facts: &MediaFacts) -> Value {
    let Some(start) = &facts.start else {
        return Value::Null;
    };
    let rate = Rate::new(start.rate.num, start.rate.den, start.drop).ok();
    // Without a picture the length is in samples; the end is the label on show when the sound ends.
    let frames = match (facts.frame_count, facts.duration, rate) {
        (Some(count), _, _) => i64::try_from(count).ok(),
        (None, Some(duration), Some(rate)) => Some(rate.frame_at(duration)),
        _ => None,
    };
    let end = rate
        .zip(frames)
        .map(|(rate, frames)| rate.label(rate.add(start.frame, frames).0));
    json!({
        "start_label": start.label,
        "start_frame": start.frame,
        "drop_frame": start.drop,
        "nominal": rate.map(Rate::nominal),
        "end_label_exclusive": end,
    })
}

fn object(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

fn movie_parts(movie: &Movie) -> Map<String, Value> {
    let names = |track: &Track| {
        json!({
            "handler": four_cc_text(track.handler),
            "sample_entry": four_cc_text(track.entry.kind),
        })
    };
    object(json!({
        "tracks": movie.tracks.iter().map(names).collect::<Vec<_>>(),
        "boxes": {
            "tracks": movie.tracks.iter().map(track_parts).collect::<Vec<_>>(),
            "mvhd": {
                "version": movie.header.version,
                "timescale": movie.header.timescale,
                "duration": movie.header.duration,
            },
        },
    }))
}

fn track_parts(track: &Track) -> Value {
    let mut value = object(json!({
        "track_id": track.id,
        "tkhd_duration": track.duration,
        "width": track.width,
        "height": track.height,
        "mdhd": { "timescale": track.timescale, "duration": track.media_duration },
        "handler": four_cc_text(track.handler),
        "sample_entry": four_cc_text(track.entry.kind),
        "stts": track.times,
    }));
    if !track.edits.is_empty() {
        let edit = |edit: &bmff::Edit| {
            json!({
                "segment_duration": edit.duration,
                "media_time": edit.media_time,
                "rate": edit.rate,
            })
        };
        value.insert("elst".to_owned(), track.edits.iter().map(edit).collect());
    }
    if !track.references.is_empty() {
        let references = track.references.iter();
        let references = references.map(|(kind, ids)| (four_cc_text(*kind), json!(ids)));
        value.insert("tref".to_owned(), Value::Object(references.collect()));
    }
    if let Some(entry) = &track.entry.timecode {
        let timecode = json!({
            "flags": entry.flags,
            "drop_frame": entry.is_drop(),
            "24h_max": entry.flags & 2 != 0,
            "negative_ok": entry.flags & 4 != 0,
            "counter": entry.is_counter(),
            "timescale": entry.timescale,
            "frame_duration": entry.frame_duration,
            "frames_per_second": entry.frames_per_second,
            "reel_name": entry.reel,
            "first_frame": track.first_frame,
        });
        value.insert("tmcd".to_owned(), timecode);
    }
    Value::Object(value)
}

fn wave_name(wave: &Wave) -> String {
    let chunks = match (wave.bext.is_some(), wave.ixml.is_some()) {
        (true, true) => " with bext and iXML",
        (true, false) => " with bext",
        (false, true) => " with iXML",
        (false, false) => "",
    };
    format!("{} WAVE{chunks}", four_cc_text(wave.form))
}

/// The rates at which a start is commonly wanted; bext itself has none.
const LABEL_RATES: [&str; 5] = ["23.976", "24", "25", "29.97 NDF", "29.97 DF"];

fn wave_parts(wave: &Wave) -> Map<String, Value> {
    let mut value = object(json!({
        "channels": wave.channels,
        "sample_rate": wave.sample_rate,
        "bits": wave.bits,
        "sample_frames": wave.sample_frames(),
    }));
    if let Some(bext) = &wave.bext {
        let chunk = json!({
            "description": bext.description,
            "originator": bext.originator,
            "originator_reference": bext.originator_reference,
            "origination_date": bext.date,
            "origination_time": bext.time,
            "time_reference": bext.time_reference(),
            "time_reference_low": bext.time_reference_low,
            "time_reference_high": bext.time_reference_high,
            "version": bext.version,
            "coding_history": bext.coding_history,
        });
        value.insert("bext".to_owned(), chunk);
    }
    if let Some(ixml) = &wave.ixml {
        value.insert("ixml".to_owned(), json!(ixml));
    }
    if let Some(start) = wave.since_midnight() {
        value.insert("start_seconds_since_midnight".to_owned(), json!(start));
        let labels = LABEL_RATES
            .into_iter()
            .filter_map(|name| Some((name, name.parse().ok()?)));
        let labels = labels.map(|(name, rate)| (name.to_owned(), label_at(start, rate)));
        value.insert("start_label_at".to_owned(), Value::Object(labels.collect()));
    }
    value
}

/// The label on show at an instant, and whether the frame begins exactly there.
fn label_at(start: Ratio, rate: Rate) -> Value {
    let frame = rate.frame_at(start);
    json!({
        "frame": frame,
        "label": rate.label(frame),
        "exact": rate.seconds(frame) == Some(start),
    })
}
