//! Where: sets of ISO 3166-1 territories, written as codes, M.49 regions, `WORLD`, or the names of
//! groups that a team keeps. A set is 256 bits, so that algebra on it costs nothing.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use super::territory_table::{REGIONS, TERRITORIES};
use crate::wording::and_list;

/// Number of territories in ISO 3166-1.
pub const COUNT: usize = TERRITORIES.len();

/// Groups of territories that a team keeps under a name, such as "Benelux" → BE, NL, LU. A group
/// holds codes and regions, not other groups.
pub type Groups = BTreeMap<String, Vec<String>>;

/// A code that is neither a territory, a region, `WORLD`, nor a group of this series.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{0}\" is not a territory: give an ISO 3166-1 code of two letters such as GB, a UN M.49 \
     region of three digits such as 150, WORLD, or a group this series keeps"
)]
pub struct UnknownTerritory(pub String);

/// A set of territories.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TerritorySet([u64; 4]);

impl TerritorySet {
    /// No territory.
    pub const EMPTY: TerritorySet = TerritorySet([0; 4]);

    /// All 249.
    pub fn world() -> Self {
        (0..COUNT).collect()
    }

    /// The territories a list of codes names together (R3).
    ///
    /// ```
    /// use waybill_domain::rights::territory::{Groups, TerritorySet};
    /// let set = TerritorySet::parse(["154", "FR"], &Groups::new()).expect("known codes");
    /// assert!(set.codes().contains(&"NO".to_owned())); // Northern Europe holds Norway
    /// ```
    pub fn parse<'a>(
        codes: impl IntoIterator<Item = &'a str>,
        groups: &Groups,
    ) -> Result<Self, UnknownTerritory> {
        let mut set = TerritorySet::EMPTY;
        for code in codes {
            set = set.or(match groups.get(code) {
                Some(members) => {
                    TerritorySet::parse(members.iter().map(String::as_str), &Groups::new())?
                }
                None => one(code).ok_or_else(|| UnknownTerritory(code.to_owned()))?,
            });
        }
        Ok(set)
    }

    /// Territories in either.
    pub fn or(self, other: Self) -> Self {
        self.zip(other, |a, b| a | b)
    }

    /// Territories in both.
    pub fn and(self, other: Self) -> Self {
        self.zip(other, |a, b| a & b)
    }

    /// Territories in it that are not in `other`.
    pub fn minus(self, other: Self) -> Self {
        self.zip(other, |a, b| a & !b)
    }

    /// Whether it holds nothing.
    pub fn is_empty(self) -> bool {
        self.0 == [0; 4]
    }

    /// Number of territories.
    pub fn len(self) -> u32 {
        self.0.iter().map(|word| word.count_ones()).sum()
    }

    /// Alpha-2 codes, in order.
    pub fn codes(self) -> Vec<String> {
        self.places()
            .map(|at| TERRITORIES[at].0.to_owned())
            .collect()
    }

    /// In words, for a sentence after "in": "the UK", "Ireland and France", "the world except
    /// Germany", "Northern Europe", "12 territories (Austria, Belgium, Denmark …)".
    pub fn words(self) -> String {
        const NAMED: u32 = 6;
        let missing = TerritorySet::world().minus(self);
        let names = |set: TerritorySet| -> Vec<String> {
            set.places()
                .map(|at| TERRITORIES[at].1.to_owned())
                .collect()
        };
        if missing.is_empty() {
            return "the world".into();
        }
        if self.len() <= NAMED {
            return and_list(&names(self));
        }
        if let Some((_, name, _)) = REGION_SETS.iter().find(|(_, _, set)| *set == self) {
            return (*name).into();
        }
        if missing.len() <= NAMED {
            return format!("the world except {}", and_list(&names(missing)));
        }
        let first: Vec<&str> = self.places().take(3).map(|at| TERRITORIES[at].1).collect();
        format!("{} territories ({} …)", self.len(), first.join(", "))
    }

    fn zip(self, other: Self, with: fn(u64, u64) -> u64) -> Self {
        let ([a, b, c, d], [e, f, g, h]) = (self.0, other.0);
        TerritorySet([with(a, e), with(b, f), with(c, g), with(d, h)])
    }

    fn places(self) -> impl Iterator<Item = usize> {
        (0..COUNT).filter(move |at| self.0[at / 64] & (1 << (at % 64)) != 0)
    }
}

impl FromIterator<usize> for TerritorySet {
    /// From places in the table.
    fn from_iter<I: IntoIterator<Item = usize>>(places: I) -> Self {
        let mut bits = [0_u64; 4];
        for at in places {
            bits[at / 64] |= 1 << (at % 64);
        }
        TerritorySet(bits)
    }
}

/// Name of a territory or region within a sentence ("the UK", "Western Europe"), if known.
pub fn name(code: &str) -> Option<&'static str> {
    if code == "WORLD" || code == "001" {
        return Some("the world");
    }
    if let Some(at) = place(code) {
        return Some(TERRITORIES[at].1);
    }
    let region: u16 = region_number(code)?;
    REGIONS
        .iter()
        .find(|(number, _)| *number == region)
        .map(|(_, name)| *name)
}

/// Every territory: code and name, in order of code.
pub fn all() -> impl Iterator<Item = (&'static str, &'static str)> {
    TERRITORIES.iter().map(|(code, name, _)| (*code, *name))
}

fn place(code: &str) -> Option<usize> {
    TERRITORIES
        .binary_search_by(|(known, _, _)| (*known).cmp(code))
        .ok()
}

fn region_number(code: &str) -> Option<u16> {
    (code.len() == 3 && code.bytes().all(|b| b.is_ascii_digit())).then(|| code.parse().ok())?
}

/// Every region with its name and territories, opened once.
static REGION_SETS: LazyLock<Vec<(u16, &str, TerritorySet)>> = LazyLock::new(|| {
    let open = |region: u16| -> TerritorySet {
        (0..COUNT)
            .filter(|at| TERRITORIES[*at].2.contains(&region))
            .collect()
    };
    REGIONS
        .iter()
        .map(|(region, name)| (*region, *name, open(*region)))
        .collect()
});

fn one(code: &str) -> Option<TerritorySet> {
    if code == "WORLD" || code == "001" {
        return Some(TerritorySet::world());
    }
    if let Some(at) = place(code) {
        return Some([at].into_iter().collect());
    }
    let region = region_number(code)?;
    REGION_SETS
        .iter()
        .find(|(known, _, _)| *known == region)
        .map(|(_, _, set)| *set)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(codes: &[&str]) -> TerritorySet {
        TerritorySet::parse(codes.iter().copied(), &Groups::new()).expect("known codes")
    }

    #[test]
    fn sets_are_said_as_people_say_them() {
        let world = set(&["WORLD"]);
        assert_eq!(world.words(), "the world");
        assert_eq!(set(&["GB", "IE"]).words(), "the UK and Ireland");
        assert_eq!(set(&["154"]).words(), "Northern Europe");
        assert_eq!(
            world.minus(set(&["US", "CA"])).words(),
            "the world except Canada and the US"
        );
        let ten = set(&["AT", "BE", "CH", "DE", "DK", "ES", "FI", "FR", "GR", "IT"]);
        assert_eq!(
            ten.words(),
            "10 territories (Austria, Belgium, Switzerland …)"
        );
    }

    #[test]
    fn a_team_keeps_groups_and_an_unknown_code_is_named() {
        let groups = Groups::from([(
            "Benelux".into(),
            ["BE", "NL", "LU"].map(String::from).into(),
        )]);
        let kept = TerritorySet::parse(["Benelux"], &groups).expect("a group");
        assert_eq!(kept, set(&["BE", "LU", "NL"]));
        let error = TerritorySet::parse(["GB", "UK"], &groups).expect_err("not a code");
        assert!(error.to_string().starts_with("\"UK\" is not a territory"));
    }
}
