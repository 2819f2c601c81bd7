//! What a cut uses of its sources, for how long it is seen or heard, and how two cuts differ.
//!
//! Ranges are frames, the end exclusive. Several uses of one range count once: the union is what
//! has to be cleared and delivered, the sum is not.
#![deny(clippy::as_conversions)]

mod difference;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use difference::{Change, Difference, difference};

use crate::timecode::Rate;
use crate::timeline::edl::Used;
use crate::timeline::{Event, EventKind, Timeline};

/// From this frame, up to but not including that one.
pub type Frames = (i64, i64);

/// Joins ranges that overlap or meet; empty ones vanish. The result is in order.
///
/// ```
/// use waybill_domain::usage::union;
/// assert_eq!(union([(12, 36), (0, 24), (40, 40)]), [(0, 36)]);
/// ```
pub fn union(ranges: impl IntoIterator<Item = Frames>) -> Vec<Frames> {
    let mut ranges: Vec<_> = ranges
        .into_iter()
        .filter(|(start, end)| start < end)
        .collect();
    ranges.sort_unstable();
    let mut joined: Vec<Frames> = Vec::new();
    for (start, end) in ranges {
        match joined.last_mut() {
            Some(last) if start <= last.1 => last.1 = last.1.max(end),
            _ => joined.push((start, end)),
        }
    }
    joined
}

/// Frames in ranges that neither overlap nor meet, as [`union`] gives them.
pub fn total(ranges: &[Frames]) -> i64 {
    ranges.iter().map(|(start, end)| end - start).sum()
}

/// Where an element is seen or heard in a cut.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct OnScreen {
    /// Record frame of the first use.
    pub first: i64,
    /// Frames in all, those where it appears twice at once counted once.
    pub frames: i64,
    /// Record ranges in order, joined.
    #[schema(value_type = Vec<(i64, i64)>)]
    pub ranges: Vec<Frames>,
}

/// Puts the record ranges of one element together; none when it never appears.
pub fn on_screen(ranges: impl IntoIterator<Item = Frames>) -> Option<OnScreen> {
    let ranges = union(ranges);
    let first = ranges.first()?.0;
    let frames = total(&ranges);
    Some(OnScreen {
        first,
        frames,
        ranges,
    })
}

/// What is used of one reel and clip of a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ReelUse {
    pub reel: String,
    pub clip: Option<String>,
    pub ranges: Vec<Frames>,
    pub frames: i64,
}

/// The used ranges of a list, joined per reel and clip name, in the order of these.
///
/// The reel alone is not the key: names cut to eight characters make one reel of many clips.
pub fn union_by_reel_and_clip(used: &[Used]) -> Vec<ReelUse> {
    let mut sources = BTreeMap::<_, Vec<Frames>>::new();
    for one in used {
        let key = (one.reel.as_str(), one.clip.as_deref());
        sources.entry(key).or_default().push((one.start, one.end));
    }
    let sources = sources.into_iter().map(|((reel, clip), ranges)| {
        let ranges = union(ranges);
        ReelUse {
            reel: reel.to_owned(),
            clip: clip.map(str::to_owned),
            frames: total(&ranges),
            ranges,
        }
    });
    sources.collect()
}

/// What tells one source of a cut from another.
///
/// Reel and file, or clip name where there is no file: the reel alone may be shared by many clips.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
pub struct SourceKey {
    pub reel: String,
    pub name: String,
}

impl SourceKey {
    /// The source of an event; none for black and for pictures that a machine makes.
    pub fn of(event: &Event) -> Option<Self> {
        if matches!(event.kind, EventKind::Black | EventKind::Generated) {
            return None;
        }
        let name = match event.source_name.as_str() {
            "" => &event.clip,
            name => name,
        };
        Some(Self {
            reel: event.reel.clone(),
            name: name.to_owned(),
        })
    }
}

/// What a cut uses of one source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct SourceUse {
    pub source: SourceKey,
    /// The rate of `used`.
    pub rate: Rate,
    /// Frames of the source, joined; empty when the cut does not say which.
    #[schema(value_type = Vec<(i64, i64)>)]
    pub used: Vec<Frames>,
    /// Frames of the source in all.
    pub frames: i64,
    /// None when its events have no length.
    pub on_screen: Option<OnScreen>,
    /// Positions of its events.
    pub events: Vec<u32>,
}

/// What a cut uses, source by source, in the order of first use. What is switched off is not used.
pub fn sources(cut: &Timeline) -> Vec<SourceUse> {
    let mut groups: BTreeMap<_, Vec<&Event>> = BTreeMap::new();
    for event in cut.events.iter().filter(|event| event.enabled) {
        let rate = event.source.map_or(cut.rate, |source| source.rate);
        if let Some(key) = SourceKey::of(event) {
            groups
                .entry((key, rate.to_string()))
                .or_default()
                .push(event);
        }
    }
    let uses = groups.into_iter().map(|((source, _), events)| {
        let ranges = events.iter().filter_map(|event| event.source);
        let used = union(ranges.map(|range| (range.start, range.end)));
        let first = events.iter().find_map(|event| event.source);
        SourceUse {
            source,
            rate: first.map_or(cut.rate, |range| range.rate),
            frames: total(&used),
            used,
            on_screen: on_screen(
                events
                    .iter()
                    .map(|event| (event.record_in, event.record_out)),
            ),
            events: events.iter().map(|event| event.position).collect(),
        }
    });
    let mut uses: Vec<SourceUse> = uses.collect();
    uses.sort_by_key(|one| one.events.first().copied());
    uses
}

#[cfg(test)]
mod tests;
