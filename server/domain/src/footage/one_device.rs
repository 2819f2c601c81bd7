//! Drives that are one copy: folders of one device under several labels, and drives that may be one. What hits the
//! device hits all of them.

use std::collections::{BTreeMap, BTreeSet};

use uuid::Uuid;

use crate::manifest::RUN_DEVICE;

/// Where a folder lies, by what a whole scan told of its device, against what an earlier scan of it told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whereabouts {
    /// The two have a name in common.
    Same,
    /// Each thing that the earlier scan knew is known now, and is another one.
    Elsewhere,
    /// Something that the earlier scan knew can't be compared with anything that is told now.
    Unsure,
}

/// Whether a folder lies on another device than before.
///
/// Names tell of a file system (its id, without a prefix; or `ext:`, what ext2 to ext4 make of theirs) or of a disk
/// (`disk:`); any other prefix is a kind of its own. Only names of one prefix can be compared, and those of one run
/// ([`RUN_DEVICE`]) with none. One name in common: it is where it was, since a disk is called otherwise in another case,
/// and a file system when it was made anew. Else it has moved only if the file system, the disk and whatever else was
/// known before are all known now, by other names. Another file system alone may be a second one on the same disk,
/// another disk alone the same in another case; and what is known of the one says nothing of the other.
pub fn whereabouts(earlier: &[String], now: &[String]) -> Whereabouts {
    let lasting = |names: &[String]| -> BTreeSet<(String, String)> {
        let names = names.iter().filter(|name| !name.starts_with(RUN_DEVICE));
        let parts = names.map(|name| name.split_once(':').unwrap_or(("", name)));
        parts
            .map(|(prefix, rest)| (prefix.to_owned(), rest.to_owned()))
            .collect()
    };
    let (earlier, now) = (lasting(earlier), lasting(now));
    if !earlier.is_disjoint(&now) {
        return Whereabouts::Same;
    }
    let known: BTreeSet<&str> = now.iter().map(|(prefix, _)| prefix.as_str()).collect();
    let mut comparable: BTreeMap<&str, bool> = BTreeMap::new();
    for (prefix, _) in &earlier {
        let thing = if prefix == "ext" { "" } else { prefix.as_str() };
        *comparable.entry(thing).or_default() |= known.contains(prefix.as_str());
    }
    match !comparable.is_empty() && comparable.into_values().all(|known| known) {
        true => Whereabouts::Elsewhere,
        false => Whereabouts::Unsure,
    }
}

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
    use proptest::collection::vec;
    use proptest::proptest;

    use super::*;

    // by reasoning from what the command tells (server/cli, `volume`); no source
    #[test]
    fn a_folder_has_moved_only_when_all_that_was_known_is_another() {
        use Whereabouts::{Elsewhere, Same, Unsure};
        for (earlier, now, wanted) in [
            ("U", "V", Elsewhere),
            ("disk:D", "disk:E", Elsewhere),
            ("U ext:X disk:D", "V ext:Y disk:E", Elsewhere),
            // a file system's id and what ext makes of it are one thing
            ("U ext:X", "ext:Y", Elsewhere),
            ("ext:X", "V", Unsure),
            ("U", "V disk:E", Elsewhere),
            // names of different kinds
            ("disk:D", "V", Unsure),
            ("U", "disk:E", Unsure),
            // a second file system on the same disk, for all that is known; the same disk in another case
            ("U disk:D", "V", Unsure),
            ("U disk:D", "disk:E", Unsure),
            ("U disk:D", "U disk:E", Same),
            ("U disk:D", "V disk:D", Same),
            ("U", "", Unsure),
            ("", "V", Unsure),
            // what one run saw together; a run's own name is never compared
            ("run:1/0", "V", Unsure),
            ("run:1/0", "run:2/0", Unsure),
            ("U run:1/0", "V run:1/0", Elsewhere),
            ("label:one", "label:two", Elsewhere),
        ] {
            let names = |text: &str| -> Vec<String> {
                text.split_whitespace().map(str::to_owned).collect()
            };
            let found = whereabouts(&names(earlier), &names(now));
            assert_eq!(found, wanted, "{earlier} → {now}");
        }
    }

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
