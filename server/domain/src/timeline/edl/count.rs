//! From the labels of a whole list to frames, and what in them a person should look at.

use super::line::Labels;
use super::used::Part;
use super::{Edit, Frames, List, Transition};
use crate::timecode::{Label, Rate, TimecodeError};
use crate::timeline::{TimelineError, Warning};

impl List {
    /// Turns labels into frames, once the whole list has shown whether the rate can be right.
    pub(super) fn count_frames(&mut self) -> Result<(), TimelineError> {
        let labels = self.edits.iter().flat_map(|edit| edit.fields.labels.each());
        let highest = labels.map(Label::frames).max().unwrap_or(0);
        for edit in &mut self.edits {
            let rate = self.rate.with_drop(edit.drop);
            for label in edit.fields.labels.each() {
                if label.frames() >= rate.nominal() {
                    return Err(TimelineError::WrongRate {
                        line: edit.line,
                        label: label.to_string(),
                        rate: self.rate,
                        last: rate.nominal() - 1,
                        fits: fitting(highest),
                    });
                }
            }
            let mut labels = edit.fields.labels.each().into_iter();
            let missing = labels.find(|label| label.frame(rate).is_err());
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
    pub(super) fn check(&mut self) {
        let mut reports = Vec::new();
        reports.extend(self.check_drop_frame());
        reports.extend(self.check_order());
        for (edit, part) in self.edits.iter().zip(self.parts()) {
            let texts = [check_lengths(edit), check_transition(edit, part)];
            let texts = texts.into_iter().flatten();
            reports.extend(texts.map(|text| Warning::at_line(edit.line, text)));
        }
        for (line, text) in &self.not_understood {
            let text = format!("Not understood, and kept as text: \"{text}\"");
            reports.push(Warning::at_line(*line, text));
        }
        self.warnings.extend(reports);
    }

    fn check_drop_frame(&self) -> Option<Warning> {
        if self.rate.may_drop() {
            return None;
        }
        let modes = self.modes.iter().filter(|(_, drop)| *drop);
        let edits = self.edits.iter();
        let marked = edits.filter(|edit| edit.fields.labels.are_marked_drop());
        let first = modes
            .map(|(line, _)| *line)
            .chain(marked.map(|edit| edit.line))
            .min()?;
        let text = format!(
            "Written as drop-frame, which exists at 29.97 and 59.94 only; is the rate really {}?",
            self.rate
        );
        Some(Warning::at_line(first, text))
    }

    fn check_order(&self) -> Option<Warning> {
        let mut pairs = self.edits.iter().zip(self.edits.iter().skip(1));
        let (_, first) = pairs.find(|(a, b)| b.frames.record_in < a.frames.record_in)?;
        let text = "Events are not in record order from here; they were put in order.";
        Some(Warning::at_line(first.line, text))
    }
}

fn check_lengths(edit: &Edit) -> Option<String> {
    let (source, record) = (edit.frames.source_len(), edit.frames.record_len());
    let explained = edit.speed.is_some() || edit.is_freeze() || edit.is_black();
    (source != record && !explained).then(|| {
        format!(
            "Source and record length differ ({source} and {record} frames) without a speed \
             line; the source length was used."
        )
    })
}

fn check_transition(edit: &Edit, part: Part) -> Option<String> {
    match part {
        Part::Incoming { outgoing: None } => Some(
            "No event is found that this transition comes from; what it used there is not known."
                .to_owned(),
        ),
        _ if edit.kind == Transition::Other => {
            let written = &edit.fields.transition;
            Some(format!(
                "The transition \"{written}\" is not known; read as a cut."
            ))
        }
        _ => None,
    }
}

impl Labels {
    pub(super) fn are_marked_drop(&self) -> bool {
        self.each().into_iter().any(Label::is_marked_drop)
    }

    fn each(&self) -> [&Label; 4] {
        [
            &self.source_in,
            &self.source_out,
            &self.record_in,
            &self.record_out,
        ]
    }

    fn frames(&self, rate: Rate) -> Result<Frames, TimecodeError> {
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
