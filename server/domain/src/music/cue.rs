//! How long a piece of music is heard in a cut (R13, R14).
//!
//! Frames are added first and rounded once: societies want whole seconds, and no published rule
//! says how; half up is taken and said so where it is printed.

use crate::timecode::Rate;
use crate::usage::{self, Frames};

/// Durations of the uses of one piece, in the order given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Durations {
    /// Frames of each use.
    pub frames_each: Vec<i64>,
    /// Whole seconds of each use, rounded half up.
    pub seconds_each: Vec<i64>,
    /// Frames in which it is heard, overlapping uses counted once.
    pub frames_heard_once: i64,
    /// Those frames in whole seconds, rounded half up once at the end.
    pub seconds_heard_once: i64,
}

/// Whole seconds of a number of frames, rounded half up.
pub fn whole_seconds(rate: Rate, frames: i64) -> i64 {
    rate.seconds(frames)
        .map_or(0, |seconds| seconds.round_half_up())
}

/// Durations of uses given as frame ranges of the cut, `out` excluded.
///
/// ```
/// use waybill_domain::music::cue::durations;
/// use waybill_domain::timecode::Rate;
/// let rate = Rate::new(25, 1, false).expect("a rate");
/// let heard = durations(rate, &[(0, 50), (25, 75)]);
/// assert_eq!((heard.frames_heard_once, heard.seconds_heard_once), (75, 3));
/// ```
pub fn durations(rate: Rate, uses: &[Frames]) -> Durations {
    let frames_each: Vec<i64> = uses.iter().map(|(from, to)| to - from).collect();
    let frames_heard_once = usage::total(&usage::union(uses.iter().copied()));
    Durations {
        seconds_each: frames_each
            .iter()
            .map(|frames| whole_seconds(rate, *frames))
            .collect(),
        frames_each,
        frames_heard_once,
        seconds_heard_once: whole_seconds(rate, frames_heard_once),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: rulebook R14: three cues at 25 fps, 795, 887 and 3,112 frames; 4,794 in all.
    #[test]
    fn r14_rounds_half_up_once() {
        let rate = Rate::new(25, 1, false).expect("a rate");
        let uses = [
            ("10:00:41:10", "10:01:13:05"),
            ("10:12:02:00", "10:12:37:12"),
            ("10:40:00:20", "10:42:05:07"),
        ]
        .map(|(from, to)| {
            (
                rate.frame(from).expect("a label"),
                rate.frame(to).expect("a label"),
            )
        });
        let heard = durations(rate, &uses);
        assert_eq!(heard.frames_each, [795, 887, 3112]);
        assert_eq!(heard.seconds_each, [32, 35, 124]);
        assert_eq!(
            (heard.frames_heard_once, heard.seconds_heard_once),
            (4794, 192)
        );
    }

    /// Source: rulebook R13 [RFTV] ★: 0:32 + 0:35 = 1:07.
    #[test]
    fn r13_total_music_is_the_sum() {
        let rate = Rate::new(25, 1, false).expect("a rate");
        let uses = [(0, 800), (1000, 1875)];
        assert_eq!(durations(rate, &uses).seconds_heard_once, 67);
    }
}
