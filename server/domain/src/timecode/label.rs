//! One timecode label as it is written, before anybody says at what rate it counts.

use std::fmt;
use std::str::FromStr;

use super::{Rate, TimecodeError};

/// A label, `HH:MM:SS:FF`. Its parts are in range except the frames, which only a rate can judge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    text: String,
    minutes: i64,
    seconds: i64,
    frames: i64,
    marked_drop: bool,
}

impl Label {
    /// The frames part: disproves every rate whose nominal value is not above it.
    pub fn frames(&self) -> i64 {
        self.frames
    }

    /// Whether it is written as drop-frame: `;` or `.` before the frames.
    ///
    /// A colon does not prove the opposite; old lists use it for both.
    pub fn is_marked_drop(&self) -> bool {
        self.marked_drop
    }

    /// The frame number of this label at a rate, counted from 00:00:00:00.
    ///
    /// Refuses frames not below the nominal rate, a label that drop-frame leaves out, and a label
    /// marked as drop-frame at 29.97 or 59.94 counted without it.
    pub fn frame(&self, rate: Rate) -> Result<i64, TimecodeError> {
        let label = || self.text.clone();
        if self.marked_drop && rate.may_drop() && !rate.drop() {
            return Err(TimecodeError::MarkedAsDrop {
                label: label(),
                rate,
            });
        }
        if self.frames >= rate.nominal() {
            return Err(TimecodeError::FrameNumber {
                label: label(),
                nominal: rate.nominal(),
                rate,
            });
        }
        if self.is_dropped(rate) {
            return Err(TimecodeError::DroppedLabel {
                label: label(),
                rate,
            });
        }
        Ok(self.count(rate, self.frames))
    }

    /// Like [`Label::frame`], but a label that drop-frame leaves out counts as the next one that
    /// exists. For readers that report such a label and go on.
    pub fn frame_or_next(&self, rate: Rate) -> Result<i64, TimecodeError> {
        if self.frames < rate.nominal() && self.is_dropped(rate) {
            return Ok(self.count(rate, rate.dropped()));
        }
        self.frame(rate)
    }

    fn is_dropped(&self, rate: Rate) -> bool {
        self.minutes % 10 != 0 && self.seconds == 0 && self.frames < rate.dropped()
    }

    fn count(&self, rate: Rate, frames: i64) -> i64 {
        let seconds = self.minutes * 60 + self.seconds;
        seconds * rate.nominal() + frames - rate.dropped() * (self.minutes - self.minutes / 10)
    }
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl FromStr for Label {
    type Err = TimecodeError;

    fn from_str(text: &str) -> Result<Self, TimecodeError> {
        let not_a_label = || TimecodeError::NotALabel(text.to_owned());
        let parts: Vec<&str> = text.split([':', ';', '.']).collect();
        let [hours, minutes, seconds, frames] = parts.as_slice() else {
            return Err(not_a_label());
        };
        let number = |part: &str, longest: usize| {
            let plain = (2..=longest).contains(&part.len());
            (plain && part.bytes().all(|b| b.is_ascii_digit()))
                .then(|| part.parse::<i64>().ok())
                .flatten()
                .ok_or_else(not_a_label)
        };
        let (hours, minutes) = (number(hours, 2)?, number(minutes, 2)?);
        let (seconds, frames) = (number(seconds, 2)?, number(frames, 3)?);
        let label = text.to_owned();
        if hours >= 24 {
            return Err(TimecodeError::Hours { label });
        }
        if minutes >= 60 {
            return Err(TimecodeError::Minutes { label });
        }
        if seconds >= 60 {
            return Err(TimecodeError::Seconds { label });
        }
        Ok(Self {
            text: label,
            minutes: hours * 60 + minutes,
            seconds,
            frames,
            marked_drop: text.rfind([';', '.']) > text.rfind(':'),
        })
    }
}
