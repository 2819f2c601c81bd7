//! How far a file is logged: which of its frames somebody has looked at and described. What nobody logged is a gap,
//! never an empty shot (rulebook 3.8: "unlogged is not empty").
//!
//! Ranges are frames from the file's first, the end exclusive; an entry without a range is about the whole file.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::usage::{Frames, union};

/// How far a file is logged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Logged {
    /// No entry at all.
    No,
    /// Some of it; or there are only ranges and the file's length is unknown.
    Partly,
    /// An entry is about the whole file, or ranges cover every frame.
    Yes,
}

/// The frames of `range` that no entry is about, in order, joined.
///
/// ```
/// use waybill_domain::footage::logged::gaps;
/// assert_eq!(gaps((0, 100), &[Some((10, 20)), Some((15, 40))]), [(0, 10), (40, 100)]);
/// assert_eq!(gaps((0, 100), &[None]), []);
/// ```
pub fn gaps(range: Frames, entries: &[Option<Frames>]) -> Vec<Frames> {
    let (mut from, end) = range;
    if entries.iter().any(Option::is_none) {
        return Vec::new();
    }
    let mut gaps = Vec::new();
    for (start, stop) in union(entries.iter().flatten().copied()) {
        if start >= end {
            break;
        }
        if start > from {
            gaps.push((from, start));
        }
        from = from.max(stop);
    }
    if from < end {
        gaps.push((from, end));
    }
    gaps
}

/// How far a file of `frame_count` frames (none: unknown) is logged.
pub fn of_file(frame_count: Option<i64>, entries: &[Option<Frames>]) -> Logged {
    if entries.is_empty() {
        return Logged::No;
    }
    let whole = entries.iter().any(Option::is_none)
        || frame_count.is_some_and(|count| gaps((0, count), entries).is_empty());
    if whole { Logged::Yes } else { Logged::Partly }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_is_what_is_left_of_the_range() {
        let entries = [
            Some((50, 60)),
            Some((0, 10)),
            Some((10, 20)),
            Some((90, 200)),
        ];
        assert_eq!(gaps((5, 100), &entries), [(20, 50), (60, 90)]);
        assert_eq!(gaps((12, 18), &entries), []);
        assert_eq!(gaps((20, 50), &entries), [(20, 50)]);
        assert_eq!(gaps((0, 10), &[]), [(0, 10)]);
        assert_eq!(gaps((7, 7), &[]), [], "an empty range has no gap");
    }

    #[test]
    fn ranges_that_meet_cover_and_an_unknown_length_is_never_whole() {
        let halves = [Some((0, 50)), Some((50, 100))];
        assert_eq!(of_file(Some(100), &halves), Logged::Yes);
        assert_eq!(of_file(Some(101), &halves), Logged::Partly);
        assert_eq!(of_file(None, &halves), Logged::Partly);
        assert_eq!(of_file(None, &[None]), Logged::Yes);
        assert_eq!(of_file(Some(0), &[]), Logged::No, "nobody looked");
    }
}
