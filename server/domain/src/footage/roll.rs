//! Names of roll folders: what one says, and what is wrong with it. Reading is by the series' pattern.
//! Rule R45; published schemes conflict (3.7), so the pattern is a setting of the series (`pattern`).

mod pattern;

use std::collections::BTreeSet;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wording::date_words;
use pattern::date_by_form;
pub use pattern::{DEFAULT_PATTERN, NotARoll, PatternError, RollPattern};

/// Longest roll name, in characters (R45).
pub const NAME_LIMIT: usize = 30;

/// A roll (card) as its folder's name tells it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct RollName {
    /// The folder's whole name.
    pub name: String,
    /// Shooting day; absent when the name has none or an impossible one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<NaiveDate>,
    /// The date as written.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub date_text: String,
    /// Card, `A003`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub card: String,
    /// Camera, `CAMB`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub camera: String,
    /// Words at the end, `SLIPWAY`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub words: String,
}

/// What is wrong with a roll's name (R45). Shown, never a reason to leave footage out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema, thiserror::Error)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum RollProblem {
    /// Longer than [`NAME_LIMIT`].
    #[error("{name}: {length} characters, the limit is 30")]
    TooLong {
        /// The roll.
        name: String,
        /// Its characters.
        length: u64,
    },
    /// Anything but A–Z, 0–9 and `_`.
    #[error("{name}: {found:?} is not allowed, only A to Z, 0 to 9 and _")]
    Character {
        /// The roll.
        name: String,
        /// The first such character.
        found: char,
    },
    /// No such day.
    #[error("{name}: {text} is not a date")]
    NoSuchDate {
        /// The roll.
        name: String,
        /// The digits.
        text: String,
    },
    /// A day on which nothing was shot.
    #[error("{name}: {} is outside the shoot dates", date_words(*.date))]
    OutsideShoot {
        /// The roll.
        name: String,
        /// The day as read.
        date: NaiveDate,
    },
    /// The digits in another order give a likely day.
    #[error("{name}: are day and month (or year) swapped? Read in another order it is {}", date_words(*.likely))]
    Swapped {
        /// The roll.
        name: String,
        /// The day in the other order.
        likely: NaiveDate,
    },
    /// Two rolls of one name.
    #[error("{name}: another roll of this series has the same name")]
    Collision {
        /// The roll.
        name: String,
    },
}

/// First and last day of the shoot, where known; both inclusive.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ShootDates {
    /// First day.
    pub from: Option<NaiveDate>,
    /// Last day.
    pub to: Option<NaiveDate>,
}

impl ShootDates {
    fn contain(self, date: NaiveDate) -> bool {
        self.from.is_none_or(|from| from <= date) && self.to.is_none_or(|to| date <= to)
    }
}

impl RollName {
    /// Everything that R45 finds in this name alone; [`collisions`] needs the others.
    pub fn problems(&self, shoot: ShootDates) -> Vec<RollProblem> {
        let name = || self.name.clone();
        let mut problems = Vec::new();
        let length = self.name.chars().count();
        if length > NAME_LIMIT {
            let length = u64::try_from(length).unwrap_or(u64::MAX);
            problems.push(RollProblem::TooLong {
                name: name(),
                length,
            });
        }
        let allowed = |c: &char| c.is_ascii_uppercase() || c.is_ascii_digit() || *c == '_';
        if let Some(found) = self.name.chars().find(|c| !allowed(c)) {
            problems.push(RollProblem::Character {
                name: name(),
                found,
            });
        }
        if self.date_text.is_empty() {
            return problems;
        }
        match self.date {
            Some(date) if shoot.contain(date) => return problems,
            Some(date) => problems.push(RollProblem::OutsideShoot { name: name(), date }),
            None => problems.push(RollProblem::NoSuchDate {
                name: name(),
                text: self.date_text.clone(),
            }),
        }
        let likely = other_readings(&self.date_text)
            .find(|date| Some(*date) != self.date && shoot.contain(*date));
        if let Some(likely) = likely {
            problems.push(RollProblem::Swapped {
                name: name(),
                likely,
            });
        }
        problems
    }
}

/// The digits of a date in the orders that people confuse.
fn other_readings(text: &str) -> impl Iterator<Item = NaiveDate> {
    let digits: String = text.chars().filter(char::is_ascii_digit).collect();
    let forms: &[&str] = match digits.len() {
        6 => &["YYMMDD", "DDMMYY", "YYDDMM", "MMDDYY"],
        8 => &["YYYYMMDD", "YYYYDDMM", "DDMMYYYY", "MMDDYYYY"],
        _ => &[],
    };
    forms
        .iter()
        .filter_map(move |form| date_by_form(&digits, form))
}

/// Names that occur more than once, ignoring case: drives of some systems cannot tell them apart.
pub fn collisions<'a>(names: impl IntoIterator<Item = &'a str>) -> Vec<RollProblem> {
    let mut seen = BTreeSet::new();
    let mut reported = BTreeSet::new();
    let mut problems = Vec::new();
    for name in names {
        let key = name.to_uppercase();
        if !seen.insert(key.clone()) && reported.insert(key) {
            problems.push(RollProblem::Collision {
                name: name.to_owned(),
            });
        }
    }
    problems
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a date")
    }

    fn read(pattern: &str, name: &str) -> Result<RollName, NotARoll> {
        pattern
            .parse::<RollPattern>()
            .expect("a pattern")
            .read(name)
    }

    #[test]
    fn the_rulebook_example_is_read_and_has_no_problem() {
        assert_eq!(DEFAULT_PATTERN.parse(), Ok(RollPattern::default()));
        let roll = read(DEFAULT_PATTERN, "20260314_A003_CAMB_SLIPWAY").expect("R45's example");
        assert_eq!(roll.words, "SLIPWAY");
        assert_eq!(roll.problems(ShootDates::default()), []);
        assert!(RollPattern::default().sorts_by_date());
    }

    // R45: `280218_…` raises the suspicion of a swap.
    #[test]
    fn a_date_in_another_order_is_suspected() {
        let shoot = ShootDates {
            from: Some(day("2018-02-01")),
            to: Some(day("2018-03-31")),
        };
        let roll = read("{date:YYMMDD}_{card}", "280218_A001").expect("follows the pattern");
        let problems = roll.problems(shoot);
        assert!(problems.contains(&RollProblem::Swapped {
            name: "280218_A001".to_owned(),
            likely: day("2018-02-28"),
        }));
        let roll = read("{date:YYYYMMDD}_{card}", "20261403_A001").expect("follows the pattern");
        let problems = roll.problems(ShootDates::default());
        assert!(matches!(problems[0], RollProblem::NoSuchDate { .. }));
        assert!(
            matches!(&problems[1], RollProblem::Swapped { likely, .. } if *likely == day("2026-03-14"))
        );
    }

    #[test]
    fn length_letters_and_collisions_are_found() {
        let long = read(DEFAULT_PATTERN, "20260314_A003_CAMB_SLIPWAY_EAST").expect("a roll");
        assert!(matches!(
            long.problems(ShootDates::default())[..],
            [RollProblem::TooLong { length: 31, .. }]
        ));
        let lower = read(DEFAULT_PATTERN, "20260314_a003_CAMB_X").expect("a roll");
        assert!(matches!(
            lower.problems(ShootDates::default())[..],
            [RollProblem::Character { found: 'a', .. }]
        ));
        assert_eq!(collisions(["A_1", "B_1", "a_1", "A_1"]).len(), 1);
    }
}
