//! The report's small words: spans, rates, states, and the standing cautions (rulebook 7).
//! Everything printed passes through here, so that page, paper and spreadsheet say the same.

use super::{ReportRate, ReportRow, ReportState};

/// The cautions of rulebook 7 that concern every clearance report, the first of them always printed
/// on the first page. Whoever fills the report adds those that only some reports need.
pub const STANDARD_CAUTIONS: [&str; 6] = [
    "This report is not legal advice. Its results follow from what was typed in and from the rules \
     shown; counsel and local law decide.",
    "A scanned release does not show that the person understood what they agreed to.",
    "Fair use and fair dealing need a lawyer, do not hold abroad, and do not hold in promotion.",
    "Public-domain dates are estimates.",
    "Dates that were assumed (how a term is counted, what starts it, holidays) are listed under \
     the assumptions. Where a paper does not say, the earlier date, the smaller grant or \
     “unknown” was taken.",
    "Broadcasters change their specifications. Check that the version named on the first page is \
     the one in force.",
];

impl ReportRate {
    /// `25 frames a second`, `29.97 frames a second, drop-frame`.
    #[must_use]
    pub fn words(self) -> String {
        let rate = f64::from(self.numerator) / f64::from(self.denominator.max(1));
        let figure = format!("{rate:.3}");
        let figure = figure.trim_end_matches('0').trim_end_matches('.');
        let kind = if self.drop_frame {
            ", drop-frame timecode"
        } else {
            ""
        };
        format!("{figure} frames a second{kind}")
    }

    /// A length in seconds.
    #[must_use]
    pub fn seconds(self, frames: u64) -> f64 {
        #[expect(
            clippy::cast_precision_loss,
            reason = "lengths stay far below 2^53 frames"
        )]
        let frames = frames as f64;
        frames * f64::from(self.denominator) / f64::from(self.numerator.max(1))
    }

    /// A length as `h:mm:ss` of real time, rounded half up to the second, once, at the end (R14).
    /// A use shorter than half a second still prints as frames, so that it is never `0:00`.
    #[must_use]
    pub fn length_words(self, frames: u64) -> String {
        let numerator = u128::from(self.numerator.max(1));
        let scaled = u128::from(frames) * u128::from(self.denominator);
        let seconds = (2 * scaled + numerator) / (2 * numerator);
        if seconds == 0 && frames > 0 {
            return if frames == 1 {
                "1 frame".into()
            } else {
                format!("{frames} frames")
            };
        }
        let (h, m, s) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
        if h > 0 {
            format!("{h}:{m:02}:{s:02}")
        } else {
            format!("{m}:{s:02}")
        }
    }
}

impl ReportState {
    /// What the state says, in a sentence for the key beside the counts.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Gap => "Known not to be cleared for a needed place, medium or day.",
            Self::UnknownSource => "Nobody has said what this piece of the cut is.",
            Self::Unknown => "Something that decides is missing. It is not counted as a yes.",
            Self::NotLogged => "Nobody has written down who and what is in the shot.",
            Self::EvidenceOnly => "Only a crowd notice stands behind it: evidence, not consent.",
            Self::Restricted => "Cleared under a condition that this delivery must keep.",
            Self::EndsSoon => "Cleared for the needed days; the right ends soon afterwards.",
            Self::Covered => "Cleared for every needed place, medium and day.",
        }
    }
}

impl ReportRow {
    /// The failing cells in words, one line each: `Not cleared: Ireland × free television × …`.
    #[must_use]
    pub fn failing_words(&self) -> Vec<String> {
        self.failing
            .iter()
            .map(super::FailingCells::words)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAL: ReportRate = ReportRate {
        numerator: 25,
        denominator: 1,
        drop_frame: false,
    };
    const NTSC: ReportRate = ReportRate {
        numerator: 30_000,
        denominator: 1001,
        drop_frame: true,
    };

    // Source: rulebook R14: 795 f = 31.8 s → 32; 887 f → 35; 3,112 f → 124; sum 4,794 f → 192.
    #[test]
    fn lengths_round_half_up_once() {
        assert_eq!(PAL.length_words(795), "0:32");
        assert_eq!(PAL.length_words(887), "0:35");
        assert_eq!(PAL.length_words(3112), "2:04");
        assert_eq!(PAL.length_words(4794), "3:12");
        assert_eq!(PAL.length_words(3), "3 frames");
        assert_eq!(PAL.length_words(0), "0:00");
    }

    // Source: rulebook R46: 104,294 frames at 29.97 are 3,479.94 s, which is 58:00.
    #[test]
    fn lengths_at_drop_frame_are_real_time() {
        assert_eq!(NTSC.length_words(104_294), "58:00");
        assert!((NTSC.seconds(104_294) - 3_479.943).abs() < 0.001);
        assert_eq!(NTSC.words(), "29.97 frames a second, drop-frame timecode");
        assert_eq!(PAL.words(), "25 frames a second");
    }
}
