//! What is gone when devices die: worked over compact groups, "so many files, so many bytes, on these devices", which
//! the caller counts together from its catalogue. A copy counts when it was verified and its device is at hand.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A device, by its number in the caller's list.
pub type Device = u16;

/// Files that are verified on the same devices and belong to the same card.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Holding {
    /// On which devices, each once.
    pub devices: Vec<Device>,
    /// The card, by its number in the caller's list; none: files outside of cards.
    pub card: Option<u32>,
    /// How many files.
    pub amount: Amount,
}

/// So many files, so many bytes.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema,
)]
pub struct Amount {
    /// Files.
    pub files: u64,
    /// Their bytes.
    pub bytes: u64,
}

impl Amount {
    fn add(&mut self, more: Self) {
        self.files = self.files.saturating_add(more.files);
        self.bytes = self.bytes.saturating_add(more.bytes);
    }
}

/// What a loss does to some files.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Harm {
    /// All copies are on what is lost.
    pub gone: Amount,
    /// One copy is left, and there were more.
    pub single: Amount,
}

/// What a loss does.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Loss {
    /// To all files.
    pub all: Harm,
    /// To each card that is touched; files outside of cards under none.
    pub cards: BTreeMap<Option<u32>, Harm>,
}

/// What would be gone, and what down to one copy, if these devices died.
///
/// ```
/// use waybill_domain::footage::risk::{Amount, Holding, what_if};
/// let files = |devices: &[u16], files, bytes| Holding {
///     devices: devices.to_vec(), card: None, amount: Amount { files, bytes },
/// };
/// let loss = what_if(&[files(&[0], 2, 20), files(&[0, 1], 3, 30), files(&[1], 1, 10)], &[0].into());
/// assert_eq!((loss.all.gone.files, loss.all.single.files), (2, 3));
/// ```
pub fn what_if(holdings: &[Holding], dead: &BTreeSet<Device>) -> Loss {
    let mut loss = Loss::default();
    for holding in holdings {
        let devices: BTreeSet<Device> = holding.devices.iter().copied().collect();
        let left = devices.difference(dead).count();
        if left == devices.len() || left > 1 {
            continue;
        }
        for harm in [&mut loss.all, loss.cards.entry(holding.card).or_default()] {
            match left {
                0 => harm.gone.add(holding.amount),
                _ => harm.single.add(holding.amount),
            }
        }
    }
    loss
}

/// Files that stand on one device now, for each device.
pub fn on_one_copy(holdings: &[Holding]) -> BTreeMap<Device, Amount> {
    let mut singles = BTreeMap::<Device, Amount>::new();
    for holding in holdings {
        let devices: BTreeSet<Device> = holding.devices.iter().copied().collect();
        if let (Some(only), 1) = (devices.first(), devices.len()) {
            singles.entry(*only).or_default().add(holding.amount);
        }
    }
    singles
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::collection::{btree_set, vec};
    use proptest::prelude::*;

    /// A file by itself: its size, its card, its devices.
    type File = (u64, Option<u32>, BTreeSet<Device>);

    fn files() -> impl Strategy<Value = Vec<File>> {
        let card = proptest::option::of(0_u32..4);
        vec((1_u64..1000, card, btree_set(0_u16..6, 0..5)), 0..60)
    }

    /// The same files, counted together.
    fn grouped(files: &[File]) -> Vec<Holding> {
        let mut groups = BTreeMap::<(Vec<Device>, Option<u32>), Amount>::new();
        for (bytes, card, devices) in files {
            let group = (devices.iter().copied().collect(), *card);
            groups.entry(group).or_default().add(Amount {
                files: 1,
                bytes: *bytes,
            });
        }
        let holding = |((devices, card), amount)| Holding {
            devices,
            card,
            amount,
        };
        groups.into_iter().map(holding).collect()
    }

    /// File by file, without groups.
    fn counted<'a>(files: impl Iterator<Item = &'a File>, dead: &BTreeSet<Device>) -> Harm {
        let mut harm = Harm::default();
        for (bytes, _, devices) in files {
            let amount = Amount {
                files: 1,
                bytes: *bytes,
            };
            let left = devices
                .iter()
                .filter(|device| !dead.contains(device))
                .count();
            let hit = devices.iter().any(|device| dead.contains(device));
            match (hit, left) {
                (true, 0) => harm.gone.add(amount),
                (true, 1) => harm.single.add(amount),
                _ => {}
            }
        }
        harm
    }

    proptest! {
        // against a brute-force count, file by file
        #[test]
        fn groups_lose_what_their_files_lose(files in files(), dead in btree_set(0_u16..6, 0..4)) {
            let loss = what_if(&grouped(&files), &dead);
            prop_assert_eq!(loss.all, counted(files.iter(), &dead));
            for card in [None, Some(0), Some(1), Some(2), Some(3)] {
                let of_card = files.iter().filter(|(_, own, _)| *own == card);
                prop_assert_eq!(
                    loss.cards.get(&card).copied().unwrap_or_default(),
                    counted(of_card, &dead)
                );
            }
            let singles: u64 = on_one_copy(&grouped(&files)).values().map(|one| one.files).sum();
            let alone = files.iter().filter(|(.., devices)| devices.len() == 1).count();
            prop_assert_eq!(Ok(singles), u64::try_from(alone));
        }
    }
}
