//! Cuts as the server keeps them: one model for every format, and the one way in, [`read`].
//!
//! Each format has its own folder, which keeps what that format says and turns it into this model.
//! What a cut uses of its sources, and how two cuts differ, belongs in `usage`.
#![deny(clippy::as_conversions)]

pub mod edl;
mod error;
pub mod otio;
pub mod selects;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::ToSchema;

pub use error::TimelineError;

use crate::textio;
use crate::timecode::Rate;

/// The form of file that a cut came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Format {
    /// Plain-text edit decision list, the family of SMPTE ST 258.
    Edl,
    /// OpenTimelineIO JSON.
    Otio,
}

/// A cut: what is on screen and heard, when, and from which source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Timeline {
    pub format: Format,
    /// Empty when the file has none.
    pub title: String,
    /// The rate of all record frames.
    pub rate: Rate,
    /// Record frame of the first frame, counted from 00:00:00:00.
    pub start: i64,
    /// Frames from the first record frame to the last, gaps included.
    pub duration: i64,
    /// In record order.
    pub events: Vec<Event>,
    /// Everything a person should look at; nothing that was left out is left out silently.
    pub warnings: Vec<Warning>,
}

/// One source in one place of the cut.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = TimelineEvent)]
pub struct Event {
    /// Place in record order, from 1.
    pub position: u32,
    /// Where the file says so: `line 12`, or the path of a clip.
    pub origin: String,
    /// The event number as written; empty in formats that have none.
    pub event: String,
    /// Channels as written (`V`, `AA/V`) or the name of the track.
    pub track: String,
    pub picture: bool,
    pub sound: bool,
    pub kind: EventKind,
    /// Empty when not given, as are `clip` and `source_name`.
    pub reel: String,
    pub clip: String,
    /// Name, path or address of the source file.
    pub source_name: String,
    /// On screen or heard from this frame, transitions included…
    pub record_in: i64,
    /// …up to this one, exclusive.
    pub record_out: i64,
    /// What is used of the source; none for black, for what is switched off, or when not given.
    pub source: Option<SourceRange>,
    /// `50 %`, `-100 %` or `freeze`; none at normal speed.
    pub speed: Option<String>,
    pub comments: Vec<String>,
    /// False when switched off in the file: it keeps its place and is neither seen nor heard.
    pub enabled: bool,
}

/// Frames touched of a source, transitions and speed included, in timecode of the source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct SourceRange {
    #[serde(rename = "in")]
    pub start: i64,
    /// Exclusive.
    #[serde(rename = "out")]
    pub end: i64,
    /// The rate that these frames are counted at.
    pub rate: Rate,
}

/// What an event is, in the words of the strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum EventKind {
    Cut,
    /// Either side of a dissolve.
    Dissolve,
    /// Either side of a wipe.
    Wipe,
    /// Background or foreground of a key; both show.
    Key,
    /// Black filler; uses no source.
    Black,
    /// A picture that a machine makes (bars, a colour); uses no source.
    Generated,
    /// A transition that this reader has no name for.
    Other,
}

/// Something in a file that a person should look at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Warning {
    /// `line 12`, the path of an object, or empty for the whole file.
    pub at: String,
    pub text: String,
}

impl Warning {
    fn of_the_file(text: impl Into<String>) -> Self {
        let (at, text) = (String::new(), text.into());
        Self { at, text }
    }

    fn at_line(line: u32, text: impl Into<String>) -> Self {
        let at = format!("line {line}");
        let text = text.into();
        Self { at, text }
    }
}

impl Timeline {
    /// Puts events in record order, numbers them, and works out start and duration.
    fn assemble(
        format: Format,
        title: String,
        rate: Rate,
        mut events: Vec<Event>,
        warnings: Vec<Warning>,
    ) -> Self {
        events.sort_by_key(|event| event.record_in);
        for (position, event) in (1..).zip(&mut events) {
            event.position = position;
        }
        let start = events.first().map_or(0, |event| event.record_in);
        let end = events.iter().map(|event| event.record_out).max();
        let duration = end.map_or(0, |end| end.saturating_sub(start));
        Self {
            format,
            title,
            rate,
            start,
            duration,
            events,
            warnings,
        }
    }
}

/// Reads a cut.
///
/// `rate` is what the sender says. A list needs it, since none carries its rate; a structured file
/// carries its own, and a given rate decides only how record frames are counted. The content
/// decides the format, and `file_name` only where the content does not.
pub fn read(bytes: &[u8], file_name: &str, rate: Option<Rate>) -> Result<Timeline, TimelineError> {
    let decoded = textio::decode(bytes)?;
    let mut cut = match format_of(&decoded.text, file_name)? {
        Format::Edl => edl::read(&decoded.text, rate.ok_or(TimelineError::RateNeeded)?)?.timeline(),
        Format::Otio => otio::read(&decoded.text)?.timeline(rate)?,
    };
    let encoding = decoded.warning.map(Warning::of_the_file);
    cut.warnings.splice(0..0, encoding);
    Ok(cut)
}

/// What a file says, field by field, as `waybill try timeline` prints it.
///
/// A list gives `rate`, `title`, `fcm`, `edits`, `used_source` and `union_by_reel_and_clip`; a
/// structured file gives `global_start_time`, `duration_frames`, `tracks` and `clips`. Both add
/// `warnings` when there are any. Frames count from 00:00:00:00, out is exclusive.
pub fn try_model(
    bytes: &[u8],
    file_name: &str,
    rate: Option<Rate>,
) -> Result<Value, TimelineError> {
    let decoded = textio::decode(bytes)?;
    let (mut model, warnings) = match format_of(&decoded.text, file_name)? {
        Format::Edl => {
            let list = edl::read(&decoded.text, rate.ok_or(TimelineError::RateNeeded)?)?;
            (list.model(), list.warnings())
        }
        Format::Otio => {
            let composition = otio::read(&decoded.text)?;
            (composition.model(), composition.warnings())
        }
    };
    let encoding = decoded.warning.map(Warning::of_the_file);
    let warnings: Vec<Warning> = encoding.into_iter().chain(warnings).collect();
    if !warnings.is_empty() {
        model["warnings"] = json!(warnings);
    }
    Ok(model)
}

fn format_of(text: &str, file_name: &str) -> Result<Format, TimelineError> {
    let extension = file_name.rsplit_once('.').map_or("", |(_, end)| end);
    match text.trim_start().chars().next() {
        Some('{' | '[') => Ok(Format::Otio),
        Some('<') => Err(TimelineError::Markup),
        None => Err(TimelineError::Blank),
        _ if extension.eq_ignore_ascii_case("otio") => Ok(Format::Otio),
        _ => Ok(Format::Edl),
    }
}
