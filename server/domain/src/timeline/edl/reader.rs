//! Puts the lines of a list together: what stands below an event line belongs to it.

use super::line::{self, EventLine, Line, Note, Speed};
use super::{Edit, Frames, List, Transition};
use crate::timecode::Rate;
use crate::timeline::{TimelineError, Warning};

pub(super) struct Reader {
    pub list: List,
    /// What the last FCM line said.
    mode: Option<bool>,
}

impl Reader {
    pub fn new(rate: Rate) -> Self {
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

    /// Takes one line. `unfinished` says that the text ends in it without a line end.
    pub fn line(&mut self, number: u32, text: &str, unfinished: bool) -> Result<(), TimelineError> {
        match line::parse(text) {
            Line::Blank => {}
            Line::Title(title) if self.list.title.is_none() => self.list.title = Some(title),
            Line::Title(_) => self.not_understood(number, text),
            Line::Fcm { drop } => {
                self.list.modes.push((number, drop));
                self.mode = Some(drop);
            }
            Line::Event(fields) => self.event(number, *fields),
            Line::DamagedEvent { event, .. } if unfinished => {
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
        let marked = fields.labels.are_marked_drop();
        if marked && rate.may_drop() && self.mode == Some(false) {
            self.list.warnings.push(Warning::at_line(
                line,
                "The list says non-drop, but this event is written as drop-frame; it was counted \
                 as drop-frame.",
            ));
        }
        let drop = rate.may_drop() && (marked || self.mode.unwrap_or(rate.drop()));
        if !fields.rest.is_empty() {
            self.not_understood(line, &fields.rest);
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
