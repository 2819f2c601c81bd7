//! What to copy where, so that nothing stands on one copy. The bytes are the fewest by nature: each content that has
//! one copy is copied once. Which drive takes what is chosen here: exactly where there are few parcels, greedily where
//! there are many.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::risk::{Amount, Device};

/// Files that are copied together: a card, or single files of one that fits nowhere whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parcel {
    /// The device that holds the only copy.
    pub from: Device,
    /// How much it is.
    pub amount: Amount,
}

/// A device that may take copies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shelf {
    /// The device.
    pub device: Device,
    /// Bytes that may be written to it; none where its free space is not known.
    pub room: Option<u64>,
    /// Where it is; empty where nobody said, which is never another place.
    pub place: String,
}

/// Why a parcel found no place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema, thiserror::Error)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Unplaced {
    /// No other device with known room.
    #[error("no other drive at hand has a known free space")]
    NoDrive,
    /// Other devices, all in the same or an unknown place.
    #[error("no other drive with known free space is known to be in another place")]
    NoOtherPlace,
    /// The most room that any allowed device had before the plan.
    #[error("the emptiest drive allowed has room for {} bytes", crate::wording::grouped(*.largest))]
    NoRoom {
        /// Bytes.
        largest: u64,
    },
    /// It would fit, but what goes there before it leaves no room.
    #[error("the drives that could take it are filled by the rest of the plan")]
    Taken,
}

/// A plan: for each parcel, in the order given, the device or the reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// Where each parcel goes.
    pub places: Vec<Result<Device, Unplaced>>,
}

/// Up to so many parcels are placed exactly.
const EXACT: usize = 14;
/// Steps after which the exact search keeps the best it has.
const STEPS: u32 = 200_000;

fn same_place(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

struct Job<'a> {
    parcels: &'a [Parcel],
    shelves: &'a [Shelf],
    /// For each device that holds a parcel the shelves that may take it, best first.
    allowed: BTreeMap<Device, Vec<usize>>,
    /// Parcels, the largest first.
    order: Vec<usize>,
}

/// Plans. `apart`: a copy counts only in another place than the first. Where both are possible, another place is
/// preferred anyway.
pub fn plan(parcels: &[Parcel], shelves: &[Shelf], apart: bool) -> Plan {
    let place_of = |device: Device| {
        let found = shelves.iter().find(|shelf| shelf.device == device);
        found.map_or("", |shelf| shelf.place.trim())
    };
    let elsewhere = |from: Device, shelf: &Shelf| {
        let (from, to) = (place_of(from), shelf.place.trim());
        !from.is_empty() && !to.is_empty() && !same_place(from, to)
    };
    let sources: BTreeSet<Device> = parcels.iter().map(|parcel| parcel.from).collect();
    let allowed = sources.into_iter().map(|from| {
        let mut found: Vec<usize> = (0..shelves.len())
            .filter(|at| {
                shelves.get(*at).is_some_and(|shelf| {
                    shelf.device != from
                        && shelf.room.is_some()
                        && (!apart || elsewhere(from, shelf))
                })
            })
            .collect();
        // another place first, then the tightest room, so that large rooms stay for large parcels
        found.sort_by_cached_key(|at| {
            shelves
                .get(*at)
                .map(|shelf| (!elsewhere(from, shelf), shelf.room, shelf.device))
        });
        (from, found)
    });
    let allowed: BTreeMap<Device, Vec<usize>> = allowed.collect();
    let mut order: Vec<usize> = (0..parcels.len()).collect();
    order.sort_by_key(|at| {
        let bytes = parcels.get(*at).map_or(0, |parcel| parcel.amount.bytes);
        (std::cmp::Reverse(bytes), *at)
    });
    let job = Job {
        parcels,
        shelves,
        allowed,
        order,
    };
    let mut chosen = job.greedy();
    if chosen.contains(&None) && parcels.len() <= EXACT {
        chosen = job.exact(chosen);
    }
    Plan {
        places: chosen
            .iter()
            .enumerate()
            .map(|(at, shelf)| job.outcome(at, *shelf, apart))
            .collect(),
    }
}

impl Job<'_> {
    fn bytes(&self, at: usize) -> u64 {
        self.parcels.get(at).map_or(0, |parcel| parcel.amount.bytes)
    }

    /// The shelves that may take a parcel, best first.
    fn allowed(&self, at: usize) -> impl Iterator<Item = usize> {
        let from = self.parcels.get(at).map(|parcel| parcel.from);
        let found = from.and_then(|from| self.allowed.get(&from));
        found.into_iter().flatten().copied()
    }

    fn rooms(&self) -> Vec<u64> {
        let room = |shelf: &Shelf| shelf.room.unwrap_or_default();
        self.shelves.iter().map(room).collect()
    }

    /// The largest parcel first, each onto the first allowed shelf that has room for it.
    fn greedy(&self) -> Vec<Option<usize>> {
        let mut rooms = self.rooms();
        let mut chosen = vec![None; self.parcels.len()];
        for at in &self.order {
            let bytes = self.bytes(*at);
            let mut shelves = self.allowed(*at);
            let fits = |shelf: &usize| rooms.get(*shelf).is_some_and(|room| *room >= bytes);
            if let Some(shelf) = shelves.find(fits)
                && let (Some(room), Some(place)) = (rooms.get_mut(shelf), chosen.get_mut(*at))
            {
                *room = room.saturating_sub(bytes);
                *place = Some(shelf);
            }
        }
        chosen
    }

    fn placed(&self, chosen: &[Option<usize>]) -> u64 {
        let placed = chosen
            .iter()
            .enumerate()
            .filter(|(_, shelf)| shelf.is_some());
        placed.fold(0, |sum, (at, _)| sum.saturating_add(self.bytes(at)))
    }

    /// The placing with the most bytes, found by trying, starting from a good one.
    fn exact(&self, first: Vec<Option<usize>>) -> Vec<Option<usize>> {
        let mut search = Search {
            job: self,
            rooms: self.rooms(),
            now: vec![None; self.parcels.len()],
            best_bytes: self.placed(&first),
            best: first,
            steps: 0,
        };
        let all = (0..self.parcels.len()).fold(0_u64, |sum, at| sum.saturating_add(self.bytes(at)));
        search.go(0, 0, all);
        search.best
    }

    fn outcome(&self, at: usize, shelf: Option<usize>, apart: bool) -> Result<Device, Unplaced> {
        if let Some(shelf) = shelf.and_then(|shelf| self.shelves.get(shelf)) {
            return Ok(shelf.device);
        }
        let largest = self
            .allowed(at)
            .filter_map(|shelf| self.shelves.get(shelf))
            .filter_map(|shelf| shelf.room)
            .max();
        let from = self.parcels.get(at).map(|parcel| parcel.from);
        let any = |shelf: &Shelf| Some(shelf.device) != from && shelf.room.is_some();
        Err(match largest {
            None if apart && self.shelves.iter().any(any) => Unplaced::NoOtherPlace,
            None => Unplaced::NoDrive,
            Some(largest) if largest < self.bytes(at) => Unplaced::NoRoom { largest },
            Some(_) => Unplaced::Taken,
        })
    }
}

struct Search<'a> {
    job: &'a Job<'a>,
    rooms: Vec<u64>,
    now: Vec<Option<usize>>,
    best: Vec<Option<usize>>,
    best_bytes: u64,
    steps: u32,
}

impl Search<'_> {
    /// Places the parcel at `depth` of the order; `placed` bytes are placed, `left` are still to come.
    fn go(&mut self, depth: usize, placed: u64, left: u64) {
        self.steps = self.steps.saturating_add(1);
        if self.steps > STEPS || placed.saturating_add(left) <= self.best_bytes {
            return;
        }
        let Some(at) = self.job.order.get(depth).copied() else {
            self.best_bytes = placed;
            self.best.clone_from(&self.now);
            return;
        };
        let job = self.job;
        let bytes = job.bytes(at);
        let rest = left.saturating_sub(bytes);
        for shelf in job.allowed(at) {
            let Some(room) = self.rooms.get(shelf).copied().filter(|room| *room >= bytes) else {
                continue;
            };
            self.set(at, shelf, Some(shelf), room.saturating_sub(bytes));
            self.go(depth.saturating_add(1), placed.saturating_add(bytes), rest);
            self.set(at, shelf, None, room);
        }
        self.go(depth.saturating_add(1), placed, rest);
    }

    fn set(&mut self, at: usize, shelf: usize, choice: Option<usize>, room: u64) {
        if let Some(place) = self.now.get_mut(at) {
            *place = choice;
        }
        if let Some(there) = self.rooms.get_mut(shelf) {
            *there = room;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::collection::vec;
    use proptest::prelude::*;

    fn parcel(from: Device, bytes: u64) -> Parcel {
        Parcel {
            from,
            amount: Amount { files: 1, bytes },
        }
    }

    fn shelf(device: Device, room: Option<u64>, place: &str) -> Shelf {
        Shelf {
            device,
            room,
            place: place.into(),
        }
    }

    #[test]
    fn another_place_is_preferred_and_the_reason_is_said_where_there_is_none() {
        let shelves = [
            shelf(0, Some(0), "office"),
            shelf(1, Some(100), "Office"),
            shelf(2, Some(100), "home"),
            shelf(3, None, "vault"),
        ];
        let places =
            |parcels: &[Parcel], shelves: &[Shelf], apart| plan(parcels, shelves, apart).places;
        assert_eq!(places(&[parcel(0, 60)], &shelves, false), [Ok(2)]);
        assert_eq!(
            places(&[parcel(0, 60), parcel(0, 60)], &shelves, false),
            [Ok(2), Ok(1)]
        );
        assert_eq!(
            places(&[parcel(0, 60), parcel(0, 60)], &shelves, true),
            [Ok(2), Err(Unplaced::Taken)]
        );
        assert_eq!(
            places(&[parcel(0, 101)], &shelves, false),
            [Err(Unplaced::NoRoom { largest: 100 })]
        );
        assert_eq!(
            places(&[parcel(0, 1)], &shelves[..2], true),
            [Err(Unplaced::NoOtherPlace)]
        );
        assert_eq!(
            places(&[parcel(0, 1)], &shelves[3..], false),
            [Err(Unplaced::NoDrive)]
        );
    }

    // greedily 6 goes first and leaves room for neither pair; exactly, all of 5 + 5 and 6 + 4 fit
    #[test]
    fn what_greed_leaves_over_is_found_by_trying() {
        let shelves = [shelf(1, Some(10), ""), shelf(2, Some(10), "")];
        let parcels = [6, 5, 5, 4].map(|bytes| parcel(0, bytes));
        assert!(
            plan(&parcels, &shelves, false)
                .places
                .iter()
                .all(Result::is_ok)
        );
    }

    /// The most bytes that can be placed, by trying everything.
    fn brute(parcels: &[Parcel], shelves: &[Shelf], apart: bool) -> u64 {
        let Some((first, rest)) = parcels.split_first() else {
            return 0;
        };
        let mut best = brute(rest, shelves, apart);
        let place = |device| {
            let found = shelves.iter().find(|shelf| shelf.device == device);
            found.map_or(String::new(), |shelf| shelf.place.clone())
        };
        for (at, one) in shelves.iter().enumerate() {
            let from = place(first.from);
            let elsewhere = !from.is_empty() && !one.place.is_empty() && from != one.place;
            let bytes = first.amount.bytes;
            if one.device == first.from || (apart && !elsewhere) {
                continue;
            }
            if let Some(room) = one.room.and_then(|room| room.checked_sub(bytes)) {
                let mut less = shelves.to_vec();
                less[at].room = Some(room);
                best = best.max(bytes + brute(rest, &less, apart));
            }
        }
        best
    }

    proptest! {
        #[test]
        fn nothing_is_overfilled_and_nothing_fits_better(
            parcels in vec((0_u16..4, 1_u64..12), 0..6),
            rooms in vec((proptest::option::of(0_u64..25), 0_usize..3), 1..4),
            apart in any::<bool>(),
        ) {
            let parcels: Vec<Parcel> = parcels.into_iter().map(|(from, bytes)| parcel(from, bytes)).collect();
            let shelves: Vec<Shelf> = (0_u16..)
                .zip(rooms)
                .map(|(device, (room, place))| shelf(device, room, ["", "office", "home"][place]))
                .collect();
            let places = plan(&parcels, &shelves, apart).places;
            prop_assert_eq!(places.len(), parcels.len());
            let mut placed = 0;
            for one in &shelves {
                let there = parcels.iter().zip(&places).filter(|(_, to)| **to == Ok(one.device));
                let bytes: u64 = there.clone().map(|(parcel, _)| parcel.amount.bytes).sum();
                prop_assert!(bytes == 0 || bytes <= one.room.unwrap_or(0));
                prop_assert!(there.clone().all(|(parcel, _)| parcel.from != one.device));
                placed += bytes;
            }
            prop_assert_eq!(placed, brute(&parcels, &shelves, apart));
        }
    }
}
