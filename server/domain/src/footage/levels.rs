//! How well footage is kept: three copies on two media with one off site (R39), and the level on the ladder of digital
//! preservation (R40). Both answer with each limb, so that what fails is named.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What a device is made of, as far as two media differ.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Medium {
    /// Spinning disks; an array of them too.
    Disk,
    /// Flash.
    Flash,
    /// Tape.
    Tape,
    /// Somebody else's machines.
    Cloud,
    /// Nobody said. Never a second medium.
    Unknown,
}

impl Medium {
    /// From the kind of a drive. An array is taken for spinning disks: as a second medium it would have to be known
    /// that it is not.
    pub fn of_drive(kind: &str) -> Self {
        match kind {
            "hdd" | "raid" => Self::Disk,
            "ssd" => Self::Flash,
            "lto" => Self::Tape,
            "cloud" => Self::Cloud,
            _ => Self::Unknown,
        }
    }
}

/// A device that holds a verified copy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Keeper<'a> {
    /// Its medium.
    pub medium: Medium,
    /// Where it is; empty where nobody said, which is never another place.
    pub place: &'a str,
    /// Whether its next check is not overdue.
    pub checked_in_time: bool,
}

/// R39 for one content or for the worst of several.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ThreeTwoOne {
    /// Verified copies on different devices; three are wanted.
    pub copies: u32,
    /// Different known media; two are wanted.
    pub media: u32,
    /// Copies in a known place other than the main one; one is wanted.
    pub off_site: u32,
}

impl ThreeTwoOne {
    /// Whether all three limbs hold.
    pub const fn holds(self) -> bool {
        self.copies >= 3 && self.media >= 2 && self.off_site >= 1
    }

    /// The limbs that fail, in words.
    pub fn failing(self) -> Vec<&'static str> {
        let limbs = [
            (self.copies >= 3, "three copies"),
            (self.media >= 2, "two media"),
            (self.off_site >= 1, "one off site"),
        ];
        limbs
            .into_iter()
            .filter(|(holds, _)| !holds)
            .map(|(_, words)| words)
            .collect()
    }

    /// Limb by limb the worse of two: what can be said of both contents.
    #[must_use]
    pub fn worse(self, other: Self) -> Self {
        Self {
            copies: self.copies.min(other.copies),
            media: self.media.min(other.media),
            off_site: self.off_site.min(other.off_site),
        }
    }
}

fn fold(place: &str) -> String {
    place.trim().to_lowercase()
}

/// R39 for a content on these devices. `main_place`: where the team works; empty: the place with the most copies.
///
/// ```
/// use waybill_domain::footage::levels::{Keeper, Medium, three_two_one};
/// // R39: two hard disks in the office and one at home are 3-1-1, which fails "two media"
/// let disk = |place| Keeper { medium: Medium::Disk, place, checked_in_time: true };
/// let answer = three_two_one(&[disk("office"), disk("office"), disk("home")], "");
/// assert_eq!((answer.copies, answer.media, answer.off_site), (3, 1, 1));
/// assert_eq!(answer.failing(), ["two media"]);
/// ```
pub fn three_two_one(keepers: &[Keeper<'_>], main_place: &str) -> ThreeTwoOne {
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    let known: BTreeSet<Medium> = keepers
        .iter()
        .map(|keeper| keeper.medium)
        .filter(|medium| *medium != Medium::Unknown)
        .collect();
    let media = known.len().max(usize::from(!keepers.is_empty()));
    let places: Vec<String> = keepers
        .iter()
        .map(|keeper| fold(keeper.place))
        .filter(|place| !place.is_empty())
        .collect();
    let main = match fold(main_place) {
        main if main.is_empty() => most(&places),
        main => main,
    };
    ThreeTwoOne {
        copies: count(keepers.len()),
        media: count(media),
        off_site: count(places.iter().filter(|place| **place != main).count()),
    }
}

/// The commonest; of equals the first by name.
fn most(places: &[String]) -> String {
    let mut counts = BTreeMap::<&String, usize>::new();
    for place in places {
        let count = counts.entry(place).or_default();
        *count = count.saturating_add(1);
    }
    let best = counts.values().max().copied();
    let found = counts.into_iter().find(|(_, count)| Some(*count) == best);
    found.map_or_else(String::new, |(place, _)| place.clone())
}

/// The tests of the ladder that Waybill can make (R40; NDSA levels of digital preservation, storage and fixity).
/// Whether arrivals were write-blocked and who can write to all copies is not known here, so level 4 is never claimed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Ladder {
    /// The highest level all of whose tests hold, 0 to 3.
    pub level: u8,
    /// Level 1: two copies in different places.
    pub two_copies_apart: bool,
    /// Level 1: a hash was made when it arrived.
    pub hashed_on_arrival: bool,
    /// Level 2: a third copy.
    pub third_copy: bool,
    /// Level 2: a copy away from the main place.
    pub one_elsewhere: bool,
    /// Level 3: every device is read again at fixed intervals, and none is overdue; the readings are kept.
    pub checked_in_time: bool,
}

impl Ladder {
    fn with_level(mut self) -> Self {
        let one = self.two_copies_apart && self.hashed_on_arrival;
        let two = one && self.third_copy && self.one_elsewhere;
        let three = two && self.checked_in_time;
        self.level = u8::from(one) + u8::from(two) + u8::from(three);
        self
    }

    /// What keeps it from the next level, in words.
    pub fn next_needs(self) -> Vec<&'static str> {
        let limbs = [
            (1, self.two_copies_apart, "two copies in different places"),
            (1, self.hashed_on_arrival, "a hash made on arrival"),
            (2, self.third_copy, "a third copy"),
            (2, self.one_elsewhere, "a copy away from the main place"),
            (3, self.checked_in_time, "every drive checked in time"),
        ];
        let next = self.level.saturating_add(1);
        limbs
            .into_iter()
            .filter(|(level, holds, _)| *level <= next && !holds)
            .map(|(.., words)| words)
            .collect()
    }

    /// Test by test the worse of two.
    #[must_use]
    pub fn worse(self, other: Self) -> Self {
        Self {
            level: 0,
            two_copies_apart: self.two_copies_apart && other.two_copies_apart,
            hashed_on_arrival: self.hashed_on_arrival && other.hashed_on_arrival,
            third_copy: self.third_copy && other.third_copy,
            one_elsewhere: self.one_elsewhere && other.one_elsewhere,
            checked_in_time: self.checked_in_time && other.checked_in_time,
        }
        .with_level()
    }
}

/// The ladder for a content on these devices; `hashed_on_arrival` holds for all that a scan took in.
pub fn ladder(keepers: &[Keeper<'_>], main_place: &str, hashed_on_arrival: bool) -> Ladder {
    let places: BTreeSet<String> = keepers
        .iter()
        .map(|keeper| fold(keeper.place))
        .filter(|place| !place.is_empty())
        .collect();
    Ladder {
        level: 0,
        two_copies_apart: keepers.len() >= 2 && places.len() >= 2,
        hashed_on_arrival,
        third_copy: keepers.len() >= 3,
        one_elsewhere: three_two_one(keepers, main_place).off_site >= 1,
        checked_in_time: !keepers.is_empty() && keepers.iter().all(|keeper| keeper.checked_in_time),
    }
    .with_level()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn keeper(medium: Medium, place: &str) -> Keeper<'_> {
        Keeper {
            medium,
            place,
            checked_in_time: true,
        }
    }

    #[test]
    fn each_limb_can_fail_alone() {
        let (disk, tape) = (Medium::Disk, Medium::Tape);
        let all = [
            keeper(disk, "office"),
            keeper(disk, "office"),
            keeper(tape, "vault"),
        ];
        assert!(three_two_one(&all, "").holds());
        assert_eq!(three_two_one(&all[1..], "").failing(), ["three copies"]);
        let here = [
            keeper(disk, "office"),
            keeper(disk, "Office "),
            keeper(tape, "office"),
        ];
        assert_eq!(three_two_one(&here, "").failing(), ["one off site"]);
        let none = three_two_one(&[], "");
        assert_eq!(
            none.failing(),
            ["three copies", "two media", "one off site"]
        );
        assert_eq!((none.copies, none.media), (0, 0));
    }

    #[test]
    fn what_nobody_said_is_neither_a_second_medium_nor_another_place() {
        let odd = Medium::of_drive("other");
        let answer = three_two_one(
            &[
                keeper(Medium::Disk, "office"),
                keeper(odd, ""),
                keeper(odd, ""),
            ],
            "office",
        );
        assert_eq!((answer.copies, answer.media, answer.off_site), (3, 1, 0));
        assert_eq!(Medium::of_drive("raid"), Medium::of_drive("hdd"));
        // all copies away from the office: each is off site
        let away = three_two_one(&[keeper(Medium::Disk, "home")], "office");
        assert_eq!(away.off_site, 1);
    }

    // R40: two copies apart and a hash at ingest = 1; a third copy, one elsewhere = 2; interval checks and log = 3
    #[test]
    fn the_published_ladder() {
        let disk = Medium::Disk;
        let level = |keepers: &[Keeper<'_>], hashed| ladder(keepers, "", hashed).level;
        let two = [keeper(disk, "office"), keeper(disk, "home")];
        assert_eq!(level(&two[..1], true), 0);
        assert_eq!(
            level(&[two[0].clone(), two[0].clone()], true),
            0,
            "not apart"
        );
        assert_eq!(level(&two, false), 0);
        assert_eq!(level(&two, true), 1);
        let mut three = vec![two[0].clone(), two[0].clone(), two[1].clone()];
        assert_eq!(level(&three, true), 3);
        three[2].checked_in_time = false;
        assert_eq!(level(&three, true), 2);
        assert_eq!(
            ladder(&three, "", true).next_needs(),
            ["every drive checked in time"]
        );
        assert_eq!(ladder(&two, "", true).next_needs(), ["a third copy"]);
    }

    #[test]
    fn the_worse_of_two_is_worse_in_every_limb() {
        let one = ladder(
            &[keeper(Medium::Disk, "a"), keeper(Medium::Disk, "b")],
            "",
            true,
        );
        let none = ladder(&[], "", true);
        assert_eq!(one.worse(none).level, 0);
        assert_eq!(one.worse(one), one);
    }
}
