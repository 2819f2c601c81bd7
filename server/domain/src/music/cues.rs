//! Cues from what is heard in a cut: contiguous or touching pieces of the same music on any track are one cue, a gap
//! starts a new one (R13, R14). Lengths are frames; seconds are made once, at the end, by a stated rule.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::timecode::Rate;
use crate::usage::{Frames, total, union};

/// How whole seconds are made of frames. No published rule says (R14).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Rounding {
    /// To the nearest second, half up.
    #[default]
    Nearest,
    /// Every second that is begun counts.
    Up,
}

/// What is counted where two pieces are heard at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Overlaps {
    /// The second begins where the first ends (R14).
    #[default]
    SecondBeginsAfter,
    /// Each as long as it is heard; the total counts every moment once.
    AsHeard,
}

/// Which total is printed; the two may differ by some seconds (R14).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PrintedTotal {
    /// All frames, made into seconds once.
    #[default]
    OfFrames,
    /// The sum of the cues' whole seconds.
    OfCues,
}

/// How cues are made; each part is printed on the sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CueRule {
    /// A gap of up to so many frames between two pieces of the same music does not start a new cue; it is counted.
    pub gap_frames: i64,
    pub rounding: Rounding,
    pub overlaps: Overlaps,
    pub total: PrintedTotal,
}

/// A piece of music in one event of a cut.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Heard {
    pub music: Uuid,
    /// Frames of the cut.
    pub frames: Frames,
    /// Number of the event.
    pub event: u32,
    /// Heard in the footage itself, not laid under it.
    pub in_scene: bool,
}

/// One continuous use of one piece of music.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cue {
    pub music: Uuid,
    /// From where to where it is heard, `out` excluded.
    pub frames: Frames,
    /// What of it is counted; empty (both the same) where another piece is heard all the time.
    pub counted: Frames,
    /// Whole seconds of what is counted.
    pub seconds: i64,
    /// Numbers of its events, in order.
    pub events: Vec<u32>,
    /// All of it is heard in the footage itself.
    pub in_scene: bool,
}

/// The cues of a cut in their order, and their sums.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CueList {
    pub cues: Vec<Cue>,
    /// Frames with music in them, each counted once.
    pub frames: i64,
    /// Those frames in seconds, rounded once.
    pub seconds_of_frames: i64,
    /// The sum of the cues' whole seconds.
    pub seconds_of_cues: i64,
}

impl CueList {
    /// The total that the rule prints.
    pub fn printed(&self, total: PrintedTotal) -> i64 {
        match total {
            PrintedTotal::OfFrames => self.seconds_of_frames,
            PrintedTotal::OfCues => self.seconds_of_cues,
        }
    }
}

/// Whole seconds of a number of frames.
///
/// ```
/// use waybill_domain::music::cues::{seconds, Rounding};
/// use waybill_domain::timecode::Rate;
/// let rate = Rate::new(25, 1, false).expect("a rate");
/// assert_eq!((seconds(rate, 887, Rounding::Nearest), seconds(rate, 887, Rounding::Up)), (35, 36));
/// ```
pub fn seconds(rate: Rate, frames: i64, rounding: Rounding) -> i64 {
    match rounding {
        Rounding::Nearest => super::cue::whole_seconds(rate, frames),
        Rounding::Up => {
            let (num, den) = (i128::from(rate.num()), i128::from(rate.den()));
            let up = (i128::from(frames) * den + num - 1).div_euclid(num);
            i64::try_from(up).unwrap_or(i64::MAX)
        }
    }
}

/// Puts what is heard together. Pieces without a length are left out.
pub fn cues(rate: Rate, heard: &[Heard], rule: CueRule) -> CueList {
    let mut pieces: BTreeMap<Uuid, Vec<&Heard>> = BTreeMap::new();
    for one in heard.iter().filter(|one| one.frames.0 < one.frames.1) {
        pieces.entry(one.music).or_default().push(one);
    }
    let mut all: Vec<Cue> = pieces
        .into_values()
        .flat_map(|piece| of_one(piece, rule.gap_frames.max(0)))
        .collect();
    all.sort_by_key(|cue| (cue.frames.0, cue.frames.1, cue.music));
    if rule.overlaps == Overlaps::SecondBeginsAfter {
        let mut heard_until = i64::MIN;
        for cue in &mut all {
            let (from, to) = cue.frames;
            cue.counted = (from.max(heard_until).min(to), to);
            heard_until = heard_until.max(to);
        }
    }
    for cue in &mut all {
        cue.seconds = seconds(rate, cue.counted.1 - cue.counted.0, rule.rounding);
    }
    let frames = total(&union(all.iter().map(|cue| cue.frames)));
    CueList {
        frames,
        seconds_of_frames: seconds(rate, frames, rule.rounding),
        seconds_of_cues: all.iter().map(|cue| cue.seconds).sum(),
        cues: all,
    }
}

/// The cues of one piece of music.
fn of_one(mut heard: Vec<&Heard>, gap: i64) -> Vec<Cue> {
    heard.sort_by_key(|one| (one.frames, one.event));
    let mut cues: Vec<Cue> = Vec::new();
    for one in heard {
        match cues.last_mut() {
            Some(cue) if one.frames.0 - cue.frames.1 <= gap => {
                cue.frames.1 = cue.frames.1.max(one.frames.1);
                cue.in_scene &= one.in_scene;
                if !cue.events.contains(&one.event) {
                    cue.events.push(one.event);
                }
            }
            _ => cues.push(Cue {
                music: one.music,
                frames: one.frames,
                counted: one.frames,
                seconds: 0,
                events: vec![one.event],
                in_scene: one.in_scene,
            }),
        }
    }
    for cue in &mut cues {
        cue.counted = cue.frames;
        cue.events.sort_unstable();
    }
    cues
}

/// Minutes and seconds as cue sheets write them: `1:07`, `62:30`.
pub fn minutes(seconds: i64) -> String {
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// The part of a programme that music takes, in tenths of a percent, half up; none for no programme.
///
/// ```
/// use waybill_domain::music::cues::tenths_of_percent;
/// assert_eq!(tenths_of_percent(67, 900), Some(74));
/// ```
pub fn tenths_of_percent(music: i64, programme: i64) -> Option<i64> {
    (programme > 0).then(|| (music * 2000 + programme).div_euclid(programme * 2))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate() -> Rate {
        Rate::new(25, 1, false).expect("a rate")
    }

    fn heard(music: u128, frames: Frames, event: u32) -> Heard {
        Heard {
            music: Uuid::from_u128(music),
            frames,
            event,
            in_scene: false,
        }
    }

    /// Source: rulebook R14: 795, 887 and 3,112 frames are 32, 35 and 124 seconds; 4,794 frames are 192 seconds, the
    /// rounded cues 191.
    #[test]
    fn r14_two_totals_that_differ() {
        let all = [
            heard(1, (1_000, 1_795), 1),
            heard(2, (20_000, 20_887), 2),
            heard(3, (60_000, 63_112), 3),
        ];
        let list = cues(rate(), &all, CueRule::default());
        let each: Vec<i64> = list.cues.iter().map(|cue| cue.seconds).collect();
        assert_eq!(each, [32, 35, 124]);
        assert_eq!(
            (list.frames, list.seconds_of_frames, list.seconds_of_cues),
            (4_794, 192, 191)
        );
        assert_eq!(list.printed(PrintedTotal::OfCues), 191);
        let up = CueRule {
            rounding: Rounding::Up,
            ..CueRule::default()
        };
        let list = cues(rate(), &all, up);
        let each: Vec<i64> = list.cues.iter().map(|cue| cue.seconds).collect();
        assert_eq!((each, list.seconds_of_frames), (vec![32, 36, 125], 192));
    }

    /// Source: rulebook R13 [RFTV] ★: 0:32 + 0:35 = 1:07; of a programme of 15:00 that is 7.4 %.
    #[test]
    fn r13_sum_and_part_of_the_programme() {
        let all = [heard(1, (0, 800), 1), heard(2, (1_000, 1_875), 2)];
        let list = cues(rate(), &all, CueRule::default());
        assert_eq!(minutes(list.seconds_of_frames), "1:07");
        assert_eq!(tenths_of_percent(67, 15 * 60), Some(74));
    }

    // By hand: touching and overlapping pieces on any track are one cue, a gap starts a new one.
    #[test]
    fn pieces_that_touch_are_one_cue() {
        let all = [
            heard(1, (100, 200), 4),
            heard(1, (0, 100), 2),
            heard(1, (150, 160), 3),
            heard(1, (205, 300), 7),
            heard(1, (400, 400), 9),
        ];
        let list = cues(rate(), &all, CueRule::default());
        let ranges: Vec<Frames> = list.cues.iter().map(|cue| cue.frames).collect();
        assert_eq!(ranges, [(0, 200), (205, 300)]);
        assert_eq!(list.cues[0].events, [2, 3, 4]);
        let bridged = CueRule {
            gap_frames: 5,
            ..CueRule::default()
        };
        let list = cues(rate(), &all, bridged);
        assert_eq!(list.cues.len(), 1);
        assert_eq!(list.frames, 300);
    }

    // By hand: where two pieces are heard at once the second begins where the first ends; one that is under another
    // all the time stays on the list with no length.
    #[test]
    fn overlaps_count_once() {
        let all = [
            heard(1, (0, 100), 1),
            heard(2, (50, 250), 2),
            heard(3, (60, 90), 3),
        ];
        let list = cues(rate(), &all, CueRule::default());
        let counted: Vec<Frames> = list.cues.iter().map(|cue| cue.counted).collect();
        assert_eq!(counted, [(0, 100), (100, 250), (90, 90)]);
        assert_eq!(list.frames, 250);
        let as_heard = CueRule {
            overlaps: Overlaps::AsHeard,
            ..CueRule::default()
        };
        let list = cues(rate(), &all, as_heard);
        let counted: Vec<Frames> = list.cues.iter().map(|cue| cue.counted).collect();
        assert_eq!(counted, [(0, 100), (50, 250), (60, 90)]);
        assert_eq!(list.frames, 250);
    }

    /// Against a count frame by frame: 500 made-up cuts; what is counted of all cues is every frame with music once.
    #[test]
    fn counted_frames_are_the_frames_with_music() {
        let mut seed = 0x2545_f491_4f6c_dd1d_u64;
        let mut next = move |below: u64| {
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            i64::try_from(seed % below).unwrap_or(0)
        };
        for _ in 0..500 {
            let all: Vec<Heard> = (0..next(9))
                .map(|event| {
                    let from = next(200);
                    let music = u128::try_from(next(3)).unwrap_or(0);
                    heard(
                        music,
                        (from, from + next(60)),
                        u32::try_from(event).unwrap_or(0),
                    )
                })
                .collect();
            let list = cues(rate(), &all, CueRule::default());
            let with_music = (0..300)
                .filter(|frame| {
                    all.iter()
                        .any(|one| (one.frames.0..one.frames.1).contains(frame))
                })
                .count();
            let counted: i64 = (list.cues.iter())
                .map(|cue| cue.counted.1 - cue.counted.0)
                .sum();
            assert_eq!(counted, list.frames);
            assert_eq!(usize::try_from(list.frames).ok(), Some(with_music));
        }
    }
}
