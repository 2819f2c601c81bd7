//! Plain-text edit decision lists (the family of SMPTE ST 258), read leniently: by words, with
//! every line that was not understood kept and reported, and no event dropped.
//!
//! `line` reads one line, this file a whole list, `used` works out what the edits touch of their
//! sources, and `output` turns that into the common model.
#![deny(clippy::as_conversions)]

mod line;
mod output;
#[cfg(test)]
mod tests;
mod used;

use super::{TimelineError, Warning};
use crate::timecode::{Label, Rate};
use line::{EventLine, Labels, Line, Note, Speed};
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
        reader.line(*number, line, index + 1 == filled.len())?;
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

struct Reader {
    list: List,
    /// What the last FCM line said.
    mode: Option<bool>,
}

impl Reader {
    fn new(rate: Rate) -> Self {
        let list = List {
            rate,
            title: None,
            modes: Vec::new(),
            edits: Vec::new(),
            not_understood: Vec::new(),
            warnings: Vec::new(),
        };
        Self { list, mode: None }
    }

    fn line(&mut self, number: u32, text: &str, last: bool) -> Result<(), TimelineError> {
        match line::parse(text) {
            Line::Blank => {}
            Line::Title(title) if self.list.title.is_none() => self.list.title = Some(title),
            Line::Title(_) => self.not_understood(number, text),
            Line::Fcm { drop } => {
                self.list.modes.push((number, drop));
                self.mode = Some(drop);
            }
            Line::Event(fields) => self.event(number, *fields),
            Line::DamagedEvent { event, .. } if last => {
                return Err(TimelineError::CutShort {
                    line: number,
                    event,
                });
            }
            Line::DamagedEvent { timecodes: 0, .. } => {
                self.note(number, text, Note::Unmarked(text.to_owned()));
            }
            Line::DamagedEvent { event, .. } => {
                let text = text.to_owned();
                return Err(TimelineError::DamagedEvent {
                    line: number,
                    event,
                    text,
                });
            }
            Line::BadTimecode(problem) => {
                return Err(TimelineError::Timecode {
                    line: number,
                    problem,
                });
            }
            Line::Speed(speed) => self.speed(number, text, speed),
            Line::Channels(channels) => match self.list.edits.last_mut() {
                Some(edit) => edit.sound_channels.extend(channels),
                None => self.not_understood(number, text),
            },
            Line::Note(note) => self.note(number, text, note),
        }
        Ok(())
    }

    fn not_understood(&mut self, number: u32, text: &str) {
        self.list.not_understood.push((number, text.to_owned()));
    }

    fn event(&mut self, line: u32, fields: EventLine) {
        let rate = self.list.rate;
        let labels = &fields.labels;
        let marked = [
            &labels.source_in,
            &labels.source_out,
            &labels.record_in,
            &labels.record_out,
        ]
        .into_iter()
        .any(Label::is_marked_drop);
        if marked && rate.may_drop() && self.mode == Some(false) {
            self.list.warnings.push(Warning::at_line(
                line,
                "The list says non-drop, but this event is written as drop-frame; it was counted \
                 as drop-frame.",
            ));
        }
        let drop = rate.may_drop() && (marked || self.mode.unwrap_or(rate.drop()));
        if !fields.rest.is_empty() {
            self.not_understood(line, &fields.rest.clone());
        }
        self.list.edits.push(Edit {
            line,
            kind: Transition::of(&fields.transition),
            fields,
            drop,
            frames: Frames::default(),
            comments: Vec::new(),
            from_clip_name: None,
            to_clip_name: None,
            source_file: None,
            from_file: None,
            markers: Vec::new(),
            speed: None,
            sound_channels: Vec::new(),
        });
    }

    /// A speed line belongs to the edit above, or to the other line of the same event when its
    /// reel says so or the edit above has one already.
    fn speed(&mut self, number: u32, text: &str, speed: Speed) {
        let mut edits = self.list.edits.iter_mut().rev();
        let edit = edits.next();
        let outgoing = edits.next().filter(|other| {
            let event = edit.as_ref().map(|edit| &edit.fields.event);
            event == Some(&other.fields.event) && other.speed.is_none()
        });
        let fits = |edit: &&mut Edit| edit.fields.reel == speed.reel;
        let target = match (edit, outgoing) {
            (Some(edit), Some(outgoing)) if !fits(&edit) && fits(&outgoing) => Some(outgoing),
            (Some(edit), outgoing) if edit.speed.is_some() => outgoing,
            (edit, _) => edit,
        };
        match target {
            Some(edit) => edit.speed = Some(speed),
            None => self.not_understood(number, text),
        }
    }

    fn note(&mut self, number: u32, text: &str, note: Note) {
        let unmarked = matches!(note, Note::Unmarked(_));
        let Some(edit) = self.list.edits.last_mut() else {
            // a comment above all events says nothing about any of them
            if unmarked {
                self.not_understood(number, text);
            }
            return;
        };
        let place = match note {
            Note::FromClip(name) => (&mut edit.from_clip_name, name),
            Note::ToClip(name) => (&mut edit.to_clip_name, name),
            Note::SourceFile(name) => (&mut edit.source_file, name),
            Note::FromFile(path) => (&mut edit.from_file, path),
            Note::Marker(text) => return edit.markers.push(text),
            Note::Text(body) | Note::Unmarked(body) => {
                if !body.is_empty() {
                    edit.comments.push(body);
                }
                if unmarked {
                    self.not_understood(number, text);
                }
                return;
            }
        };
        if !place.1.is_empty() {
            *place.0 = Some(place.1);
        }
    }
}

impl List {
    /// Turns labels into frames, once the whole list has shown whether the rate can be right.
    fn count_frames(&mut self) -> Result<(), TimelineError> {
        let highest = |labels: &Labels| labels.each().map(Label::frames).into_iter().max();
        let top = self
            .edits
            .iter()
            .filter_map(|e| highest(&e.fields.labels))
            .max();
        for edit in &mut self.edits {
            let rate = self.rate.with_drop(edit.drop);
            for label in edit.fields.labels.each() {
                if label.frames() >= rate.nominal() {
                    return Err(TimelineError::WrongRate {
                        line: edit.line,
                        label: label.to_string(),
                        rate: self.rate,
                        last: rate.nominal() - 1,
                        fits: fitting(top.unwrap_or(0)),
                    });
                }
            }
            let labels = &edit.fields.labels;
            let missing = labels
                .each()
                .into_iter()
                .find(|label| label.frame(rate).is_err());
            if let Some(label) = missing {
                let text = format!(
                    "\"{label}\" does not exist in drop-frame counting; it was read as the next \
                     label that does."
                );
                self.warnings.push(Warning::at_line(edit.line, text));
            }
            edit.frames = edit.fields.labels.frames(rate).map_err(|problem| {
                let line = edit.line;
                TimelineError::Timecode { line, problem }
            })?;
        }
        Ok(())
    }

    /// Reports what a person should look at before the list is trusted.
    fn check(&mut self) {
        let mut reports = Vec::new();
        let mut latest = i64::MIN;
        let mut unsorted = None;
        for edit in &self.edits {
            if edit.frames.record_in < latest {
                unsorted = unsorted.or(Some(edit.line));
            }
            latest = latest.max(edit.frames.record_in);
            if edit.kind == Transition::Other {
                let written = &edit.fields.transition;
                let text = format!("The transition \"{written}\" is not known; read as a cut.");
                reports.push(Warning::at_line(edit.line, text));
            }
            let (source, record) = (edit.frames.source_len(), edit.frames.record_len());
            if source != record && edit.speed.is_none() && !edit.is_freeze() && !edit.is_black() {
                let text = format!(
                    "Source and record length differ ({source} and {record} frames) without a \
                     speed line; the source length was used."
                );
                reports.push(Warning::at_line(edit.line, text));
            }
        }
        if let Some(line) = unsorted {
            let text = "Events are not in record order from here; they were put in order.";
            reports.push(Warning::at_line(line, text));
        }
        for (line, text) in &self.not_understood {
            let text = format!("Not understood, and kept as text: \"{text}\"");
            reports.push(Warning::at_line(*line, text));
        }
        self.warnings.extend(reports);
    }
}

impl Labels {
    fn each(&self) -> [&Label; 4] {
        [
            &self.source_in,
            &self.source_out,
            &self.record_in,
            &self.record_out,
        ]
    }

    fn frames(&self, rate: Rate) -> Result<Frames, crate::timecode::TimecodeError> {
        let source_in = self.source_in.frame_or_next(rate)?;
        let record_in = self.record_in.frame_or_next(rate)?;
        let source_out = self.source_out.frame_or_next(rate)?;
        let record_out = self.record_out.frame_or_next(rate)?;
        Ok(Frames {
            source_in,
            source_out: source_in + rate.frames_between(source_in, source_out),
            record_in,
            record_out: record_in + rate.frames_between(record_in, record_out),
        })
    }
}

/// Usual rates whose frame numbers go up to `highest`, in words.
fn fitting(highest: i64) -> String {
    match highest {
        ..24 => "23.976, 24 or more",
        24 => "25, 29.97 or 30",
        25..30 => "29.97 or 30",
        30..50 => "50, 59.94 or 60",
        50..60 => "59.94 or 60",
        _ => "no usual rate; the timecodes are damaged, or two rates are mixed",
    }
    .to_owned()
}
