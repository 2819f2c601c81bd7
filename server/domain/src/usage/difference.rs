//! How a cut differs from the one before it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::SourceKey;
use crate::timeline::{Event, Timeline};

/// What changed from one cut to the next. Black and generated pictures are left out.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Difference {
    /// Events of the later cut that the earlier one does not have.
    pub added: Vec<Event>,
    /// Events of the earlier cut that the later one does not have.
    pub removed: Vec<Event>,
    /// The same frames of the same source at another place.
    pub moved: Vec<Change>,
    /// The same source with other frames, another length, another speed, or switched on or off.
    pub changed: Vec<Change>,
    /// How many events stayed as they were.
    pub unchanged: u32,
}

/// One event before and after.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Change {
    pub before: Event,
    pub after: Event,
}

/// Compares two cuts. Each event is paired once at most, by the closest likeness first: as it was,
/// moved, then changed where the used frames overlap or the place is the same.
pub fn difference(before: &Timeline, after: &Timeline) -> Difference {
    let mut sources: BTreeMap<Key, (Vec<&Event>, Vec<&Event>)> = BTreeMap::new();
    for event in &before.events {
        if let Some(key) = key(event) {
            sources.entry(key).or_default().0.push(event);
        }
    }
    for event in &after.events {
        if let Some(key) = key(event) {
            sources.entry(key).or_default().1.push(event);
        }
    }
    let mut result = Difference::default();
    for (mut old, mut new) in sources.into_values() {
        for _ in take_pairs(&mut old, &mut new, |a, b| {
            same(a, b) && place(a) == place(b)
        }) {
            result.unchanged += 1;
        }
        result.moved.extend(take_pairs(&mut old, &mut new, same));
        result.changed.extend(take_pairs(&mut old, &mut new, akin));
        result.removed.extend(old.into_iter().cloned());
        result.added.extend(new.into_iter().cloned());
    }
    result.added.sort_by_key(|event| event.position);
    result.removed.sort_by_key(|event| event.position);
    result.moved.sort_by_key(|change| change.after.position);
    result.changed.sort_by_key(|change| change.after.position);
    result
}

/// Only events of one source and one sort of channel are compared.
type Key = (SourceKey, bool, bool);

fn key(event: &Event) -> Option<Key> {
    SourceKey::of(event).map(|source| (source, event.picture, event.sound))
}

/// Takes out of both lists, in order, every pair that is alike.
fn take_pairs(
    old: &mut Vec<&Event>,
    new: &mut Vec<&Event>,
    alike: impl Fn(&Event, &Event) -> bool,
) -> Vec<Change> {
    let mut pairs = Vec::new();
    old.retain(|before| {
        let Some(at) = new.iter().position(|after| alike(before, after)) else {
            return true;
        };
        pairs.push(Change {
            before: (*before).clone(),
            after: new.remove(at).clone(),
        });
        false
    });
    pairs
}

fn place(event: &Event) -> (i64, i64) {
    (event.record_in, event.record_out)
}

fn length(event: &Event) -> i64 {
    event.record_out - event.record_in
}

fn same(a: &Event, b: &Event) -> bool {
    a.source == b.source && length(a) == length(b) && a.speed == b.speed && a.enabled == b.enabled
}

fn akin(a: &Event, b: &Event) -> bool {
    let overlap = match (a.source, b.source) {
        (Some(a), Some(b)) => a.rate == b.rate && a.start < b.end && b.start < a.end,
        _ => false,
    };
    overlap || a.record_in == b.record_in
}
