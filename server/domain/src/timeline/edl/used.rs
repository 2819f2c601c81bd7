//! What the edits of a list touch of their sources: transitions, keys, speed, freeze and reverse.
//!
//! The rules are the common readings of such lists; where writers differ, the longer range is
//! taken, because a frame that was used and is not counted is the worse mistake.

use serde::Serialize;

use super::{Edit, List, Transition};

/// The source range that one line of a list touches; `out` is exclusive.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Used {
    pub line: u32,
    pub event: String,
    pub reel: String,
    pub clip: Option<String>,
    pub channels: String,
    #[serde(rename = "in")]
    pub start: i64,
    #[serde(rename = "out")]
    pub end: i64,
    pub frames: i64,
    /// The rule that gave the range.
    pub why: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The part of an edit in its event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    Alone,
    /// Goes on for so many record frames while the edit at that index comes in.
    Outgoing {
        frames: i64,
        incoming: usize,
    },
    Incoming {
        outgoing: Option<usize>,
    },
    /// Shows under the key at that index, for so many record frames in all.
    Background {
        frames: i64,
        key: usize,
    },
    Key {
        background: Option<usize>,
    },
}

impl List {
    /// The part of every edit, by index.
    pub(super) fn parts(&self) -> Vec<Part> {
        let mut parts = vec![Part::Alone; self.edits.len()];
        for (index, edit) in self.edits.iter().enumerate() {
            match edit.kind {
                Transition::Dissolve | Transition::Wipe => {
                    let outgoing = self.outgoing(index, edit);
                    let frames = edit.fields.duration.unwrap_or(edit.frames.record_len());
                    if let Some(part) = outgoing.and_then(|at| parts.get_mut(at))
                        && *part == Part::Alone
                    {
                        let incoming = index;
                        *part = Part::Outgoing { frames, incoming };
                    }
                    set(&mut parts, index, Part::Incoming { outgoing });
                }
                Transition::Key => {
                    let before = index.checked_sub(1);
                    let background = before.filter(|&at| {
                        self.edits.get(at).is_some_and(|other| {
                            other.kind == Transition::KeyBackground
                                && other.fields.event == edit.fields.event
                        })
                    });
                    if let Some(at) = background {
                        let frames = edit.frames.record_len();
                        set(&mut parts, at, Part::Background { frames, key: index });
                    }
                    set(&mut parts, index, Part::Key { background });
                }
                _ => {}
            }
        }
        parts
    }

    /// The edit that a dissolve or wipe comes from: the line above when it is of the same event, or
    /// is empty and ends where the transition begins; else the last edit that ends there.
    fn outgoing(&self, index: usize, incoming: &Edit) -> Option<usize> {
        let meets = |edit: &Edit| {
            edit.frames.record_out == incoming.frames.record_in
                && edit.fields.channels == incoming.fields.channels
        };
        let before = self.edits.get(..index)?;
        let (above, _) = before.split_last()?;
        let same_event = above.fields.event == incoming.fields.event
            && above.fields.channels == incoming.fields.channels;
        if same_event || (above.frames.record_len() == 0 && meets(above)) {
            return Some(index - 1);
        }
        before.iter().rposition(meets)
    }

    /// The source clip of an edit, by the names below it and below the other line of its event.
    pub(super) fn clip<'a>(&'a self, edit: &'a Edit, part: Part) -> Option<&'a str> {
        let other = |index: usize| self.edits.get(index);
        let own = edit.from_clip_name.as_deref();
        match part {
            Part::Alone => own,
            Part::Outgoing { incoming: at, .. } | Part::Background { key: at, .. } => {
                own.or_else(|| other(at)?.from_clip_name.as_deref())
            }
            Part::Incoming { outgoing: at } | Part::Key { background: at } => {
                let other = at.and_then(other);
                // the other side needs no name, or has its own: then this one is ours
                let free = other.is_none_or(|o| o.is_black() || o.from_clip_name.is_some());
                edit.to_clip_name.as_deref().or(own.filter(|_| free))
            }
        }
    }

    /// What every edit touches, in the order of the list. Black touches nothing.
    pub fn used(&self) -> Vec<Used> {
        let edits = self.edits.iter().zip(self.parts());
        edits
            .filter_map(|(edit, part)| self.used_by(edit, part))
            .collect()
    }

    pub(super) fn used_by(&self, edit: &Edit, part: Part) -> Option<Used> {
        if edit.is_black() {
            return None;
        }
        let (start, end, why) = self.range(edit, part);
        let note = edit.speed.as_ref().filter(|_| !edit.is_freeze()).map(|_| {
            let frames = edit.frames.source_len();
            format!("the event line itself says {frames} source frames")
        });
        (start < end).then(|| Used {
            line: edit.line,
            event: edit.fields.event.clone(),
            reel: edit.fields.reel.clone(),
            clip: self.clip(edit, part).map(str::to_owned),
            channels: edit.fields.channels.clone(),
            start,
            end,
            frames: end - start,
            why,
            note,
        })
    }

    fn range(&self, edit: &Edit, part: Part) -> (i64, i64, String) {
        let frames = edit.frames;
        let shown = shown(edit, part);
        if edit.is_freeze() {
            let start = frames.source_in;
            return (start, start + 1, "freeze frame".to_owned());
        }
        if let Some(speed) = &edit.speed {
            let touched = self
                .touched(shown, speed.millionths)
                .max(frames.source_len());
            let (rule, start) = if speed.millionths < 0 {
                // writers differ on whether the in is the first or the last frame shown
                let start = (frames.source_in + 1 - touched).max(0);
                ("ceil(record length x speed / rate), both directions", start)
            } else {
                ("ceil(record length x speed / rate)", frames.source_in)
            };
            let why = format!("speed {} frames/s: {rule}", speed.fps);
            return (start, frames.source_in + touched, why);
        }
        let why = match part {
            Part::Alone => "cut",
            Part::Outgoing { .. } => {
                "outgoing side of transition, continues past the out of its line"
            }
            Part::Incoming { .. } => "incoming side of transition",
            Part::Background { .. } => "key background",
            Part::Key { .. } => "key foreground",
        };
        let end = match part {
            Part::Outgoing { frames: more, .. } => frames.source_out + more,
            Part::Background { .. } => frames.source_out.max(frames.source_in + shown),
            _ => frames.source_out,
        };
        (frames.source_in, end, why.to_owned())
    }

    /// Source frames touched in so many record frames at a speed in millionths of a frame a second.
    fn touched(&self, shown: i64, millionths: i64) -> i64 {
        let num = i128::from(shown) * i128::from(millionths.abs()) * i128::from(self.rate.den());
        let den = 1_000_000 * i128::from(self.rate.num());
        i64::try_from((num + den - 1) / den).unwrap_or(i64::MAX / 4)
    }
}

/// Record frames that an edit is on screen or heard for, its part in a transition included.
pub(super) fn shown(edit: &Edit, part: Part) -> i64 {
    let own = edit.frames.record_len();
    match part {
        Part::Outgoing { frames, .. } => own + frames,
        Part::Background { frames, .. } => own.max(frames),
        _ => own,
    }
}

fn set(parts: &mut [Part], index: usize, part: Part) {
    if let Some(place) = parts.get_mut(index) {
        *place = part;
    }
}
