//! How long the whole episode may be shown: the weakest element sets it (R5).

use chrono::NaiveDate;

use super::answer::{ElementAnswer, End, Window};
use crate::wording::{and_list, date_words};

impl End {
    /// The earlier of two ends. An unknown end may be earlier than any known one; only what is not
    /// cleared to begin with is surely no later.
    #[must_use]
    pub fn earlier(self, other: End) -> End {
        use End::{NotCleared, On, Open, Unknown};
        match (self, other) {
            (NotCleared, _) | (_, NotCleared) => NotCleared,
            (Unknown, _) | (_, Unknown) => Unknown,
            (On(one), On(two)) => On(one.min(two)),
            (On(one), Open) | (Open, On(one)) => On(one),
            (Open, Open) => Open,
        }
    }
}

/// The window of an episode from its elements (R5).
pub(super) fn of(elements: &[ElementAnswer]) -> Window {
    let end = elements
        .iter()
        .map(|element| element.end)
        .fold(End::Open, End::earlier);
    let earliest_known = elements
        .iter()
        .filter_map(|element| known(element.end))
        .min();
    let with = |wanted: End| -> Vec<&ElementAnswer> {
        elements
            .iter()
            .filter(|element| element.end == wanted)
            .collect()
    };
    let setters = if end == End::Open { vec![] } else { with(end) };
    let earliest = earliest_known.map_or(vec![], |day| with(End::On(day)));
    let ids = |list: &[&ElementAnswer]| list.iter().map(|element| element.id.clone()).collect();
    Window {
        end,
        set_by: ids(&setters),
        earliest_known,
        earliest_known_by: ids(&earliest),
        sentence: sentence(end, &setters, earliest_known, &earliest),
    }
}

fn known(end: End) -> Option<NaiveDate> {
    match end {
        End::On(day) => Some(day),
        _ => None,
    }
}

/// Up to three labels, and how many more.
fn named(elements: &[&ElementAnswer]) -> String {
    const NAMED: usize = 3;
    let mut names: Vec<String> = elements
        .iter()
        .take(NAMED)
        .map(|element| element.label.clone())
        .collect();
    match elements.len().saturating_sub(NAMED) {
        0 => {}
        1 => names.push("one other".into()),
        more => names.push(format!("{more} others")),
    }
    and_list(&names)
}

fn sentence(
    end: End,
    setters: &[&ElementAnswer],
    earliest_known: Option<NaiveDate>,
    earliest: &[&ElementAnswer],
) -> String {
    let known = earliest_known.map_or(String::new(), |day| {
        format!(
            " The earliest known end is {}, set by {}.",
            date_words(day),
            named(earliest)
        )
    });
    match end {
        End::NotCleared => format!(
            "The episode is not cleared for the whole delivery from its first day, because of {}.\
             {known}",
            named(setters)
        ),
        End::Unknown => format!(
            "Until when the episode may be shown is unknown, because of {}.{known}",
            named(setters)
        ),
        End::On(day) => format!(
            "The episode may be shown as the delivery needs it until {}, set by {}.",
            date_words(day),
            named(setters)
        ),
        End::Open => "No right in this cut ends.".into(),
    }
}
