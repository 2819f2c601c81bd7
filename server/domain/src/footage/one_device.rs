//! Drives that are one copy: folders of one device under several labels, and drives that may be one. What hits the
//! device hits all of them.

use std::collections::BTreeMap;

use uuid::Uuid;

/// For each drive that is together with another one, the smallest id among all that it is together with, itself
/// included. `named` are drives with what names a device that they lie on; `alike` are pairs that may be one drive.
/// Being together passes on: A with B and B with C make one of three.
pub fn together<'n>(
    named: impl IntoIterator<Item = (Uuid, &'n str)>,
    alike: impl IntoIterator<Item = (Uuid, Uuid)>,
) -> BTreeMap<Uuid, Uuid> {
    let mut above: BTreeMap<Uuid, Uuid> = BTreeMap::new();
    let mut first: BTreeMap<&str, Uuid> = BTreeMap::new();
    for (drive, name) in named {
        join(&mut above, drive, *first.entry(name).or_insert(drive));
    }
    for (one, other) in alike {
        join(&mut above, one, other);
    }
    let drives: Vec<Uuid> = above.keys().copied().collect();
    let tops = drives.iter().map(|drive| (*drive, top(&above, *drive)));
    // the smallest has nothing above it, and stands for the others
    let mut all: BTreeMap<Uuid, Uuid> = tops.collect();
    let smallest: Vec<Uuid> = all.values().copied().collect();
    all.extend(smallest.into_iter().map(|drive| (drive, drive)));
    all
}

fn join(above: &mut BTreeMap<Uuid, Uuid>, one: Uuid, other: Uuid) {
    let (one, other) = (top(above, one), top(above, other));
    if one != other {
        above.insert(one.max(other), one.min(other));
    }
}

fn top(above: &BTreeMap<Uuid, Uuid>, mut drive: Uuid) -> Uuid {
    while let Some(next) = above.get(&drive) {
        drive = *next;
    }
    drive
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use proptest::collection::vec;
    use proptest::proptest;

    use super::*;

    /// Groups of two and more by looking again until nothing changes.
    fn brute(named: &[(Uuid, &str)], alike: &[(Uuid, Uuid)]) -> BTreeMap<Uuid, Uuid> {
        let drives: BTreeSet<Uuid> = (named.iter().map(|(drive, _)| *drive))
            .chain(alike.iter().flat_map(|(one, other)| [*one, *other]))
            .collect();
        let meet = |a: Uuid, b: Uuid| {
            let names = |drive| named.iter().filter(move |(id, _)| *id == drive);
            names(a).any(|(_, name)| names(b).any(|(_, other)| name == other))
                || alike.contains(&(a, b))
                || alike.contains(&(b, a))
        };
        let mut groups = BTreeMap::new();
        for drive in &drives {
            let mut with = BTreeSet::from([*drive]);
            loop {
                let more = drives
                    .iter()
                    .filter(|one| with.iter().any(|in_it| meet(*in_it, **one)));
                let more: BTreeSet<Uuid> = more.copied().chain(with.iter().copied()).collect();
                if more == with {
                    break;
                }
                with = more;
            }
            if let (true, Some(least)) = (with.len() > 1, with.first()) {
                groups.insert(*drive, *least);
            }
        }
        groups
    }

    proptest! {
        #[test]
        fn groups_are_those_found_by_looking_at_every_pair(
            named in vec((0_u128..9, 0_usize..6), 0..12),
            alike in vec((0_u128..9, 0_u128..9), 0..4),
        ) {
            let names = ["a", "b", "c", "d", "e", "f"];
            let id = Uuid::from_u128;
            let named: Vec<_> = named.into_iter().map(|(drive, at)| (id(drive), names[at])).collect();
            let alike: Vec<_> = alike.into_iter().map(|(one, other)| (id(one), id(other))).collect();
            let found = together(named.iter().copied(), alike.iter().copied());
            proptest::prop_assert_eq!(&found, &brute(&named, &alike));
            // whichever was told first
            let (mut named, mut alike) = (named, alike);
            named.reverse();
            alike.reverse();
            proptest::prop_assert_eq!(found, together(named, alike));
        }
    }
}
