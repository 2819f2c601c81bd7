//! What is sought and what fits, for sentences.

use std::collections::BTreeSet;

use super::Sought;
use crate::wording::and_list;

/// What the event says of its source, for a sentence.
pub(super) fn described(sought: &Sought) -> String {
    let mut parts = Vec::new();
    if !sought.reel.trim().is_empty() {
        parts.push(format!("reel {}", sought.reel.trim()));
    }
    let mut names = vec![&sought.source_name];
    if sought.clip != sought.source_name {
        names.push(&sought.clip);
    }
    for name in names {
        if !name.trim().is_empty() {
            parts.push(format!("“{}”", name.trim()));
        }
    }
    if let Some(source) = sought.source {
        parts.push(format!("timecode {}", source.rate.label(source.start)));
    }
    match parts.as_slice() {
        [] => "an event that names no source".into(),
        _ => and_list(&parts),
    }
}

/// A few of what fits, and how many more.
pub(super) fn listed(labels: impl Iterator<Item = String>) -> String {
    const MOST: usize = 5;
    let labels: Vec<String> = labels.collect::<BTreeSet<_>>().into_iter().collect();
    match labels.len().checked_sub(MOST) {
        Some(more) if more > 0 => format!("{} and {more} more", labels[..MOST].join(", ")),
        _ => and_list(&labels),
    }
}
