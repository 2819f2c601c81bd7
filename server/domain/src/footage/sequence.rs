//! Roll names against each other and against their days (R45): a number used twice, a gap, an order that is not that of
//! shooting, a date that is not the day's. And what a name should be, where only one answer is possible: offered,
//! never done. What a name says by itself is checked in `roll`.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::roll::{RollName, RollPattern, RollProblem, ShootDates};
use crate::wording::date_words;

/// When numbers begin again. Published schemes conflict (rulebook 3.7), so it is a setting.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Restart {
    /// Never.
    #[default]
    Never,
    /// Each shooting day.
    EachDay,
}

/// A card as the catalogue has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Card {
    /// The folder's name.
    pub name: String,
    /// The shoot day that it is tied to.
    pub day: Option<NaiveDate>,
    /// No file is its, and nobody has touched it since a scan made it: it may give way to a card that takes its name.
    pub is_bare: bool,
}

/// What is wrong with names among each other.
#[derive(
    Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema, thiserror::Error,
)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum SequenceProblem {
    /// The name does not follow the pattern.
    #[error("{name} does not follow the series' pattern")]
    NotByPattern {
        /// The card.
        name: String,
    },
    /// Its date is not that of its shoot day.
    #[error("{name} says {}, but it is tied to the shoot day of {}", date_words(*.says), date_words(*.day))]
    OtherDay {
        /// The card.
        name: String,
        /// By its name.
        says: NaiveDate,
        /// By its shoot day.
        day: NaiveDate,
    },
    /// Two cards with one number.
    #[error("{first} and {second} have the same number")]
    NumberTwice {
        /// One card.
        first: String,
        /// The other.
        second: String,
    },
    /// Numbers that no card has.
    #[error("{missing} {} missing between {before} and {after}", if *.missing == 1 { "number is" } else { "numbers are" })]
    Gap {
        /// The card before.
        before: String,
        /// The card after.
        after: String,
        /// How many are missing.
        missing: u32,
    },
    /// The later number has the earlier date.
    #[error("{later} has the higher number, but was shot before {earlier}")]
    Unsorted {
        /// Lower number, later date.
        earlier: String,
        /// Higher number, earlier date.
        later: String,
    },
}

/// The letters and the number of a card: `A003` is `A` and 3.
fn number(card: &str) -> Option<(&str, u32)> {
    let letters = card.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = card.get(letters.len()..)?;
    Some((letters, digits.parse().ok()?))
}

/// Everything that is wrong with these names among each other and against their days, in the order of the names.
pub fn problems(cards: &[Card], pattern: &RollPattern, restart: Restart) -> Vec<SequenceProblem> {
    let mut found = Vec::new();
    let mut rows = BTreeMap::<(String, String, Option<NaiveDate>), Vec<(u32, RollName)>>::new();
    for card in cards {
        let Ok(roll) = pattern.read(&card.name) else {
            found.push(SequenceProblem::NotByPattern {
                name: card.name.clone(),
            });
            continue;
        };
        if let (Some(says), Some(day)) = (roll.date, card.day)
            && says != day
        {
            found.push(SequenceProblem::OtherDay {
                name: card.name.clone(),
                says,
                day,
            });
        }
        if let Some((letters, number)) = number(&roll.card) {
            let day = match restart {
                Restart::Never => None,
                Restart::EachDay => roll.date,
            };
            let row = (roll.camera.to_uppercase(), letters.to_uppercase(), day);
            rows.entry(row).or_default().push((number, roll));
        }
    }
    for row in rows.values_mut() {
        row.sort_by(|one, other| (one.0, &one.1.name).cmp(&(other.0, &other.1.name)));
        for pair in row.windows(2) {
            if let [one, other] = pair {
                found.extend(between(one, other));
            }
        }
    }
    found.sort();
    found.dedup();
    found
}

/// What is wrong between neighbours in the order of their numbers.
fn between(one: &(u32, RollName), other: &(u32, RollName)) -> Vec<SequenceProblem> {
    let (first, second) = (one.1.name.clone(), other.1.name.clone());
    let mut found = Vec::new();
    let missing = other.0.saturating_sub(one.0);
    match missing.checked_sub(1) {
        None => {
            return vec![SequenceProblem::NumberTwice { first, second }];
        }
        Some(0) => {}
        Some(missing) => found.push(SequenceProblem::Gap {
            before: first.clone(),
            after: second.clone(),
            missing,
        }),
    }
    if let (Some(then), Some(later)) = (one.1.date, other.1.date)
        && later < then
    {
        found.push(SequenceProblem::Unsorted {
            earlier: first,
            later: second,
        });
    }
    found
}

/// A name that should be another.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Renaming {
    /// As it is.
    pub old: String,
    /// As it should be.
    pub new: String,
    /// Why, as a sentence.
    pub why: String,
}

/// New names where only one answer is possible: capitals, characters that are not allowed, a date whose parts are
/// swapped. A name that would then be another's, be too long or not follow the pattern is left to people.
pub fn renamings(cards: &[Card], pattern: &RollPattern, shoot: ShootDates) -> Vec<Renaming> {
    let taken = |new: &str, own: &str| {
        let mut others = cards
            .iter()
            .filter(|card| !card.is_bare && card.name != own);
        others.any(|other| other.name.eq_ignore_ascii_case(new))
    };
    let mut given = BTreeSet::new();
    let mut all = Vec::new();
    for card in cards {
        let mut why = Vec::new();
        let mut new: String = card
            .name
            .chars()
            .map(|c| match c.to_ascii_uppercase() {
                c if c.is_ascii_uppercase() || c.is_ascii_digit() => c,
                _ => '_',
            })
            .collect();
        if new != card.name {
            why.push("only A to Z, 0 to 9 and _ are allowed".to_owned());
        }
        let Ok(roll) = pattern.read(&new) else {
            continue;
        };
        let swapped = roll
            .problems(shoot)
            .into_iter()
            .find_map(|problem| match problem {
                RollProblem::Swapped { likely, .. } => Some(likely),
                _ => None,
            });
        // Without the shoot's dates any order may be meant; the shoot day decides where there is one.
        let sure = shoot.from.is_some() || shoot.to.is_some() || card.day.is_some();
        if let Some(likely) = swapped
            && sure
            && card.day.is_none_or(|day| day == likely)
            && let Some(text) = pattern.write_date(likely)
        {
            new = new.replacen(&roll.date_text, &text, 1);
            why.push(format!(
                "day and month are swapped: it is {}",
                date_words(likely)
            ));
        }
        let sound = pattern
            .read(&new)
            .is_ok_and(|roll| roll.problems(shoot).is_empty());
        let is_other = new != card.name && sound && !taken(&new, &card.name);
        if is_other && given.insert(new.clone()) {
            all.push(Renaming {
                old: card.name.clone(),
                new,
                why: why.join("; "),
            });
        }
    }
    all
}

/// What the script does with each pair of names, and what there is to know before it is run.
const SCRIPT: &str = r#"#!/bin/sh
# Renames roll folders. Read it first. Run it on each drive, in the folder that holds the rolls:
#   sh rename-rolls.sh         gives them their new names
#   sh rename-rolls.sh back    gives them their old names again
# Nothing is overwritten, and it stops at the first fault. Then, on each drive: `waybill verify FOLDER --accept-renames`
# where a hash list lies above the rolls (it still has the old names), and `waybill scan` as before.
set -eu
way=${1-}
# by its exact letters, also where the file system does not tell big ones from small ones
there() { ls -A | grep -Fxqe "$1"; }
rename() {
  [ "$way" != back ] || set -- "$2" "$1"
  there "$1" || return 0
  if there "$2" || { [ -e "./$2" ] && ! [ "./$1" -ef "./$2" ]; }; then
    echo "There already, so nothing more was renamed: $2" >&2
    exit 1
  fi
  if [ -e "./$2" ]; then
    mv -n -- "./$1" "./$2.renaming"
    mv -n -- "./$2.renaming" "./$2"
  else
    mv -n -- "./$1" "./$2"
  fi
  there "$2" || { echo "It could not be renamed: $1" >&2; exit 1; }
  echo "$1 is now $2"
}
"#;

/// A shell script that renames roll folders in the folder in which it is run, for whoever has read it, and back. It
/// overwrites nothing (`mv -n`, and each new name is checked first), stops at the first fault, and quotes names so that no
/// character of one is run. Names with a line break or a slash are left out.
pub fn script(renamings: &[Renaming]) -> String {
    let mut out = SCRIPT.to_owned();
    for one in renamings {
        if !one.old.contains(['\n', '\r', '/']) {
            let (old, new) = (quoted(&one.old), quoted(&one.new));
            out.push_str(&format!("rename {old} {new}\n"));
        }
    }
    out
}

/// In single quotes, within which a shell reads nothing but the closing quote.
fn quoted(name: &str) -> String {
    format!("'{}'", name.replace('\'', "'\\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn card(name: &str) -> Card {
        Card {
            name: name.into(),
            day: None,
            is_bare: false,
        }
    }

    fn words(names: &[&str], restart: Restart) -> Vec<String> {
        let cards: Vec<Card> = names.iter().map(|name| card(name)).collect();
        problems(&cards, &RollPattern::default(), restart)
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    // R45: same number twice, a gap, an order that is not that of shooting
    #[test]
    fn numbers_are_compared_within_a_camera() {
        let sound = [
            "20260314_A001_CAMA_QUAY",
            "20260314_B001_CAMB_QUAY",
            "20260315_A002_CAMA_QUAY",
        ];
        assert_eq!(words(&sound, Restart::Never), [""; 0]);
        let found = words(
            &[
                "20260314_A001_CAMA_QUAY",
                "20260315_A001_CAMA_SHED",
                "20260316_A004_CAMA_SHED",
                "20260315_A005_CAMA_SHED",
                "holiday",
            ],
            Restart::Never,
        );
        assert_eq!(found.len(), 4, "{found:?}");
        assert!(found.contains(&"holiday does not follow the series' pattern".to_owned()));
        assert!(
            found
                .iter()
                .any(|text| text.ends_with("have the same number"))
        );
        assert!(
            found
                .iter()
                .any(|text| text.starts_with("2 numbers are missing"))
        );
        assert!(
            found
                .iter()
                .any(|text| text.contains("was shot before 20260316_A004"))
        );
    }

    // ROLL2: the number restarts each day; ROLL1: it never does
    #[test]
    fn a_restart_each_day_is_a_setting() {
        let days = [
            "20260314_A001_CAMA_X",
            "20260314_A002_CAMA_X",
            "20260315_A001_CAMA_X",
        ];
        assert_eq!(words(&days, Restart::EachDay), [""; 0]);
        // A001 twice, and A002 was shot before the second of them
        assert_eq!(words(&days, Restart::Never).len(), 2);
    }

    #[test]
    fn a_date_that_is_not_the_days_is_named() {
        let mut one = card("20260314_A001_CAMA_X");
        one.day = "2026-03-15".parse().ok();
        let found = problems(&[one], &RollPattern::default(), Restart::Never);
        assert!(matches!(found[..], [SequenceProblem::OtherDay { .. }]));
    }

    #[test]
    fn only_what_is_sure_is_renamed() {
        let shoot = ShootDates {
            from: "2026-03-01".parse().ok(),
            to: "2026-03-31".parse().ok(),
        };
        let cards = [
            card("20261403_a003_CamB_slip-way"),
            card("20260314_A004_CAMB_X"),
            card("20260314_a004_CAMB_X"),
            card("notes"),
        ];
        let all = renamings(&cards, &RollPattern::default(), shoot);
        assert_eq!(all.len(), 1, "{all:?}");
        assert_eq!(all[0].new, "20260314_A003_CAMB_SLIP_WAY");
        assert!(all[0].why.contains("swapped"));
    }

    // a scan after the folders were renamed makes bare cards of the new names; letters decide nothing
    #[test]
    fn a_bare_card_gives_its_name_and_a_full_one_keeps_it() {
        let mut made = card("20260314_A004_CAMB_X");
        let old = card("20260314_a004_CAMB_X");
        let offered = |made: &Card| {
            let cards = [old.clone(), made.clone()];
            renamings(&cards, &RollPattern::default(), ShootDates::default()).len()
        };
        assert_eq!(offered(&made), 0);
        made.is_bare = true;
        assert_eq!(offered(&made), 1);
    }

    #[test]
    fn a_name_is_never_run() {
        let evil = Renaming {
            old: "-rf '$(touch x)'`y`".into(),
            new: "OK".into(),
            why: String::new(),
        };
        let text = script(&[evil]);
        assert!(
            text.ends_with("\nrename '-rf '\\''$(touch x)'\\''`y`' 'OK'\n"),
            "{text}"
        );
    }
}
