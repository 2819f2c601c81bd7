//! Which card a file is from: the outermost folder above it whose name follows the series' pattern (R45).

use std::collections::BTreeMap;

use waybill_domain::footage::roll::{RollName, RollPattern, ShootDates};
use waybill_domain::manifest::FileEntry;

use crate::db::ingest::CardSeen;
use crate::db::series::Series;

/// The rolls of a chunk by name, each with the places in the chunk of its files.
#[derive(Debug, Default)]
pub struct Rolls {
    pub by_name: BTreeMap<String, (RollName, Vec<usize>)>,
    /// Files in no such folder.
    pub outside: Vec<usize>,
}

/// Sorts the files of a chunk by roll.
pub fn sort(series: &Series, root: &str, entries: &[FileEntry]) -> Rolls {
    // the pattern was checked when it was saved; an older server's may be read differently today
    let pattern: RollPattern = series.fields.roll_pattern.parse().unwrap_or_default();
    let mut rolls = Rolls::default();
    for (at, entry) in entries.iter().enumerate() {
        let folders = entry
            .path
            .split_last()
            .map_or(&[][..], |(_, folders)| folders);
        // a copy names the folders above the roll as well
        let names = root.split('/').chain(folders.iter().map(String::as_str));
        match names.filter_map(|name| pattern.read(name).ok()).next() {
            Some(roll) if roll.name.chars().count() <= 100 => {
                let seen = rolls.by_name.entry(roll.name.clone());
                seen.or_insert_with(|| (roll, Vec::new())).1.push(at);
            }
            _ => rolls.outside.push(at),
        }
    }
    rolls
}

/// What is wrong with a roll's name, as sentences.
pub fn problems(series: &Series, roll: &RollName) -> Vec<String> {
    let shoot = ShootDates {
        from: series.fields.shoot_from,
        to: series.fields.shoot_to,
    };
    let problems = roll.problems(shoot);
    problems
        .iter()
        .map(|problem| format!("{problem}."))
        .collect()
}

/// The card that a roll's name tells of.
pub fn card(roll: &RollName) -> CardSeen {
    CardSeen {
        name: roll.name.clone(),
        camera: roll.camera.clone(),
        number: roll.card.clone(),
        shot_on: roll.date,
    }
}
