//! Plain-text edit decision lists (the family of SMPTE ST 258), read leniently: by words, with
//! every line that was not understood kept and reported, and no event dropped.
//!
//! `line` reads one line, `reader` puts lines together, `count` turns labels into frames, `used`
//! works out what the edits touch of their sources, and `output` turns that into the common model.

mod count;
mod line;
mod output;
mod reader;
#[cfg(test)]
mod tests;
mod used;

use super::{TimelineError, Warning};
use crate::timecode::Rate;
use line::{EventLine, Speed};
use reader::Reader;
pub use used::Used;

/// A list as written, with frames counted at the rate that its sender gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct List {
    rate: Rate,
    title: Option<String>,
    /// Lines that set the way labels are counted from there on: line, drop-frame.
    modes: Vec<(u32, bool)>,
    edits: Vec<Edit>,
    /// Lines that stand for nothing known here.
    not_understood: Vec<(u32, String)>,
    warnings: Vec<Warning>,
}

/// One event line and what was said about it below.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Edit {
    line: u32,
    fields: EventLine,
    kind: Transition,
    /// Labels of this edit count drop-frame.
    drop: bool,
    frames: Frames,
    comments: Vec<String>,
    from_clip_name: Option<String>,
    to_clip_name: Option<String>,
    source_file: Option<String>,
    from_file: Option<String>,
    markers: Vec<String>,
    speed: Option<Speed>,
    sound_channels: Vec<String>,
}

/// The four labels as frame numbers; an out below its in is on the next day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Frames {
    source_in: i64,
    source_out: i64,
    record_in: i64,
    record_out: i64,
}

impl Frames {
    fn source_len(self) -> i64 {
        self.source_out - self.source_in
    }

    fn record_len(self) -> i64 {
        self.record_out - self.record_in
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Transition {
    Cut,
    Dissolve,
    Wipe,
    KeyBackground,
    Key,
    Other,
}

impl Transition {
    fn of(written: &str) -> Self {
        let written = written.to_ascii_uppercase();
        match written.as_str() {
            "C" => Self::Cut,
            "D" => Self::Dissolve,
            "K B" | "KB" => Self::KeyBackground,
            "K" | "KO" => Self::Key,
            wipe if wipe.starts_with('W') => Self::Wipe,
            _ => Self::Other,
        }
    }
}

impl Edit {
    fn is_black(&self) -> bool {
        self.fields.reel.eq_ignore_ascii_case("BL")
    }

    fn is_freeze(&self) -> bool {
        match &self.speed {
            Some(speed) => speed.millionths == 0,
            None => {
                let says_so = |c: &String| c.to_ascii_uppercase().contains("FREEZE FRAME");
                self.frames.source_len() == 1 && self.comments.iter().any(says_so)
            }
        }
    }
}

/// Reads a whole list, its labels counted at `rate`.
///
/// Fails when the text is no list, when it breaks off in an event, when an event has an impossible
/// timecode, and when a frame number disproves the rate. Everything else is kept and reported.
pub fn read(text: &str, rate: Rate) -> Result<List, TimelineError> {
    let mut reader = Reader::new(rate);
    // every kind of line end counts as one, and old systems end a text with a control character
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let text = text.trim_end_matches('\u{1a}');
    let filled: Vec<(u32, &str)> = filled_lines(text).collect();
    for (index, (number, line)) in filled.iter().enumerate() {
        let unfinished = index + 1 == filled.len() && !text.ends_with('\n');
        reader.line(*number, line, unfinished)?;
    }
    if reader.list.edits.is_empty() {
        return Err(no_events(text, &reader.list));
    }
    reader.list.count_frames()?;
    reader.list.check();
    Ok(reader.list)
}

/// The lines that are not blank, with their numbers.
fn filled_lines(text: &str) -> impl Iterator<Item = (u32, &str)> {
    let lines = (1..).zip(text.lines().map(str::trim));
    lines.filter(|(_, line)| !line.is_empty())
}

fn no_events(text: &str, list: &List) -> TimelineError {
    if list.title.is_some() || !list.modes.is_empty() {
        return TimelineError::NoEvents;
    }
    let first = filled_lines(text).next();
    first.map_or(TimelineError::Blank, |(line, text)| {
        let text = text.chars().take(60).collect();
        TimelineError::NotAList { line, text }
    })
}
