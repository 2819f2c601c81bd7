//! Who held a drive, and when: the chain of hand-overs (rulebook 3.7: from, to, time, seal or condition, signature).
//! Events are only ever added; one that was wrong is replaced by a further one that corrects it.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What happened to a drive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CustodyKind {
    /// From one person to another.
    HandedOver,
    /// To another place, in the same hands.
    Moved,
    /// It fell or was knocked.
    Dropped,
    /// It was opened or repaired.
    Repaired,
}

/// An event as far as the chain cares. `K` names events.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link<K> {
    /// The event.
    pub id: K,
    /// What happened.
    pub kind: CustodyKind,
    /// When.
    pub at: DateTime<Utc>,
    /// Who gave it away; empty where it was not said.
    pub from: String,
    /// Who has it afterwards; empty: as before.
    pub to: String,
    /// Where it is afterwards; empty: as before.
    pub place: String,
    /// The event that this one replaces.
    pub corrects: Option<K>,
}

/// A place where the chain does not hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema, thiserror::Error)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum ChainFault {
    /// The giver is not who had it.
    #[error("{giver} gave it away, but {holder} had it: a hand-over is missing between them")]
    AnotherHolder {
        /// Who gave it.
        giver: String,
        /// Who had it by the event before.
        holder: String,
    },
}

/// Where the chain stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chain<K> {
    /// Events that stand, oldest first: those that no other corrects.
    pub standing: Vec<K>,
    /// Who has it now; empty when no event says.
    pub holder: String,
    /// Where it is now; empty when no event says.
    pub place: String,
    /// Events that moved it to another place, with when.
    pub moves: Vec<(K, DateTime<Utc>)>,
    /// Faults, each with the event at which it shows.
    pub faults: Vec<(K, ChainFault)>,
}

fn same(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

/// Reads the events of one drive, in any order; events of one instant in the order given.
pub fn chain<K: Copy + Ord>(events: &[Link<K>]) -> Chain<K> {
    let replaced: BTreeSet<K> = events.iter().filter_map(|event| event.corrects).collect();
    let mut standing: Vec<&Link<K>> = events
        .iter()
        .filter(|event| !replaced.contains(&event.id))
        .collect();
    standing.sort_by_key(|event| event.at);
    let mut chain = Chain {
        standing: standing.iter().map(|event| event.id).collect(),
        holder: String::new(),
        place: String::new(),
        moves: Vec::new(),
        faults: Vec::new(),
    };
    for event in standing {
        let (giver, holder) = (event.from.trim(), chain.holder.as_str());
        if !giver.is_empty() && !holder.is_empty() && !same(giver, holder) {
            let fault = ChainFault::AnotherHolder {
                giver: giver.to_owned(),
                holder: holder.to_owned(),
            };
            chain.faults.push((event.id, fault));
        }
        let to = event.to.trim();
        if !to.is_empty() {
            to.clone_into(&mut chain.holder);
        }
        let place = event.place.trim();
        // Where it was before the first event is not known: it may have come from anywhere.
        let elsewhere = !place.is_empty() && !same(place, &chain.place);
        if elsewhere || event.kind == CustodyKind::Moved {
            chain.moves.push((event.id, event.at));
        }
        if !place.is_empty() {
            place.clone_into(&mut chain.place);
        }
    }
    chain
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link(id: u32, from: &str, to: &str, place: &str) -> Link<u32> {
        Link {
            id,
            kind: CustodyKind::HandedOver,
            at: DateTime::from_timestamp(i64::from(id) * 3600, 0).expect("an instant"),
            from: from.into(),
            to: to.into(),
            place: place.into(),
            corrects: None,
        }
    }

    #[test]
    fn a_gap_between_two_hands_is_named() {
        let chain = chain(&[
            link(2, "Tamsin", "Jem", ""),
            link(1, "", "tamsin ", "Quay"),
            link(3, "Dilys", "Kofi", "Edit suite"),
        ]);
        assert_eq!(chain.standing, [1, 2, 3]);
        assert_eq!(
            (chain.holder.as_str(), chain.place.as_str()),
            ("Kofi", "Edit suite")
        );
        let moved: Vec<u32> = chain.moves.iter().map(|(id, _)| *id).collect();
        assert_eq!(moved, [1, 3], "the second stayed at the quay");
        assert_eq!(
            chain.faults,
            [(
                3,
                ChainFault::AnotherHolder {
                    giver: "Dilys".into(),
                    holder: "Jem".into()
                }
            )]
        );
    }

    #[test]
    fn a_correction_takes_the_place_of_what_it_corrects() {
        let mut right = link(9, "Jem", "Dilys", "");
        (right.at, right.corrects) = (link(2, "", "", "").at, Some(2));
        let chain = chain(&[
            link(1, "", "Jem", ""),
            link(2, "Jem", "Kofi", ""),
            link(3, "Dilys", "Tamsin", ""),
            right,
        ]);
        assert_eq!(chain.standing, [1, 9, 3]);
        assert_eq!((chain.holder.as_str(), chain.faults.len()), ("Tamsin", 0));
    }
}
