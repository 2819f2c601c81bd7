//! Where in a file a used range lies, by timecode.

use crate::timecode::Rate;
use crate::timeline::SourceRange;
use crate::usage::Frames;

/// Frames by which lists round the ends of ranges under speed (notes on published samples: 0 to 3).
const SLACK: i64 = 3;

/// The timecode of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileTimecode {
    pub rate: Rate,
    /// Its first frame, counted from 00:00:00:00.
    pub start: i64,
    /// Number of its frames.
    pub frames: i64,
}

impl FileTimecode {
    /// The used range in frames of the file, counted from its first; none when it lies outside.
    ///
    /// Lists count source labels at their own rate: labels, not frame numbers, are compared where
    /// the rates differ. A file may run past midnight.
    pub fn place_of(self, source: SourceRange) -> Option<Frames> {
        let from = self.frame_of(source.rate, source.start, false) - self.start;
        let to = self.frame_of(source.rate, source.end, true) - self.start;
        let day = self.rate.frames_per_day();
        [0, day]
            .into_iter()
            .find_map(|later| self.inside(from + later, to + later))
    }

    /// The used range where the cut counts the file from nought.
    pub fn from_first_frame(self, source: SourceRange) -> Option<Frames> {
        let from = self.frame_of(source.rate, source.start, false);
        self.inside(from, self.frame_of(source.rate, source.end, true))
    }

    fn inside(self, from: i64, to: i64) -> Option<Frames> {
        let fits = 0 <= from && from < self.frames && from <= to && to <= self.frames + SLACK;
        fits.then(|| (from, to.min(self.frames)))
    }

    /// The frame of this file's counting that has the same label; a part of a frame is rounded
    /// outwards.
    fn frame_of(self, rate: Rate, frame: i64, up: bool) -> i64 {
        if rate == self.rate {
            return frame;
        }
        if rate.nominal() == self.rate.nominal() && !rate.drop() && !self.rate.drop() {
            return frame;
        }
        let days = frame.div_euclid(rate.frames_per_day());
        let label = rate.label(frame);
        let (second, part) = label.split_at(8);
        let part: i64 = part.get(1..).and_then(|n| n.parse().ok()).unwrap_or(0);
        let scaled = part * self.rate.nominal();
        let part = if up {
            (scaled + rate.nominal() - 1) / rate.nominal()
        } else {
            scaled / rate.nominal()
        };
        // The label of the full second exists at every rate but for those that drop-frame leaves
        // out, where the next one stands for it.
        let full = (format!("{second}:00").parse::<crate::timecode::Label>())
            .and_then(|label| label.frame_or_next(self.rate))
            .unwrap_or(0);
        full + part + days * self.rate.frames_per_day()
    }
}
