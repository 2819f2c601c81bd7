//! What the roll's folder is called, and whether that name can be taken: rule R45, and nothing of that name with other
//! content on any destination.

use std::collections::HashMap;
use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

use waybill_domain::footage::roll::{DEFAULT_PATTERN, RollName, RollPattern, ShootDates};
use waybill_domain::hash_list::chain::{ChainEntry, read_chain};
use waybill_domain::hash_list::{CHAIN_FILE, HISTORY_FOLDER};

use super::card::{Card, CardFile};
use super::destination::{Destination, is_part};
use crate::exit::{Exit, Failure};
use crate::lists::{Step, Tree};
use crate::output::grouped;
use crate::walk::{SYSTEM_NAMES, shown};

/// The roll's name, read by the pattern.
///
/// # Errors
/// It does not follow the pattern, or breaks R45.
pub fn roll_name(
    name: &str,
    pattern: &RollPattern,
    written: &str,
    is_own: bool,
) -> Result<RollName, Failure> {
    let give = match is_own {
        true => "Give the roll's name with --roll NAME",
        false => "Give another one",
    };
    let refused = |reason: String| {
        let example = match written == DEFAULT_PATTERN {
            true => ", as in 20260314_A003_CAMB_SLIPWAY",
            false => "",
        };
        let message =
            format!("{reason} {give}; the pattern is {written}{example}. Nothing was copied.");
        Failure::new(Exit::Usage, message)
    };
    let roll = pattern.read(name).map_err(|error| {
        let called = match is_own {
            true => "The card's folder is called",
            false => "The roll is called",
        };
        refused(format!("{called} \"{name}\", and {error}."))
    })?;
    let problems = roll.problems(ShootDates::default());
    if problems.is_empty() {
        return Ok(roll);
    }
    let problems: Vec<String> = problems.iter().map(ToString::to_string).collect();
    Err(refused(format!("{}.", problems.join("; "))))
}

/// What is on a destination under the roll's name already.
#[derive(Debug, Default)]
pub struct There {
    /// Files of the card's names and sizes, by place in its list. What they hold has to be read.
    pub files: Vec<usize>,
    /// Files that a killed run was writing.
    pub parts: Vec<String>,
    /// Bytes on the drive that they take, and give back when they go.
    pub parts_take: u64,
}

/// Looks what a destination has under the roll's name.
///
/// # Errors
/// The name is taken by something else.
pub fn look(destination: &Destination, roll: &str, card: &Card) -> Result<There, Failure> {
    let path = destination.roll_path(roll);
    match fs::symlink_metadata(&path) {
        Ok(metadata) if metadata.is_dir() => {}
        Ok(_) => return Err(taken(&path, "it is not a folder")),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            check_case(destination, roll)?;
            return Ok(There::default());
        }
        Err(error) => return Err(Failure::reading(path.display())(error)),
    }
    let mut there = There::default();
    let index: HashMap<&str, usize> = card
        .files
        .iter()
        .enumerate()
        .map(|(place, file)| (file.path.as_str(), place))
        .collect();
    let mut tree = Tree::new(&path);
    while let Some(step) = tree.next() {
        let (place, is_folder) = match &step {
            Step::Leave => continue,
            Step::Enter(place) => (place, true),
            Step::File(place) => (place, false),
            Step::Odd(place, _, detail) => {
                let what = format!("{} in it is {detail}", shown_path(&place.path));
                return Err(taken(&path, &what));
            }
        };
        let text = place.text().unwrap_or_default();
        let name = text.rsplit('/').next().unwrap_or_default();
        if is_folder {
            if index.contains_key(text) {
                let what = format!("{text} in it is a folder and on the card a file");
                return Err(taken(&path, &what));
            }
            if SYSTEM_NAMES.contains(&name) {
                tree.pass_over();
            }
            continue;
        }
        let size = place.metadata.as_ref().map_or(0, fs::Metadata::len);
        match index.get(text) {
            Some(file) if card.files[*file].size == size || is_chain(text) => {
                there.files.push(*file);
            }
            Some(file) => {
                let what = format!(
                    "{text} in it has {} bytes, and {} on the card",
                    grouped(size),
                    grouped(card.files[*file].size)
                );
                return Err(taken(&path, &what));
            }
            None if is_part(text) => {
                there.parts.push(text.to_owned());
                // in blocks of 512 bytes on every system (POSIX `st_blocks`, as Linux and macOS have it)
                let blocks = place.metadata.as_ref().map_or(0, MetadataExt::blocks);
                there.parts_take = there.parts_take.saturating_add(blocks.saturating_mul(512));
            }
            None if is_history(text) || SYSTEM_NAMES.contains(&name) => {}
            None => {
                let what = format!("{} in it is not on the card", shown_path(&place.path));
                return Err(taken(&path, &what));
            }
        }
    }
    Ok(there)
}

fn shown_path(path: &[u8]) -> String {
    shown(String::from_utf8_lossy(path).as_ref().as_ref())
}

/// Refuses a name that differs from one that is there in big and small letters alone: drives of some systems cannot
/// tell them apart (R45).
fn check_case(destination: &Destination, roll: &str) -> Result<(), Failure> {
    let folder = &destination.root.path;
    let entries = fs::read_dir(folder).map_err(Failure::reading(folder.display()))?;
    for entry in entries.filter_map(Result::ok) {
        let name = entry.file_name();
        if name.to_string_lossy().to_uppercase() == roll.to_uppercase() {
            let what = "it differs from the roll's name in big and small letters alone";
            return Err(taken(&entry.path(), what));
        }
    }
    Ok(())
}

pub fn taken(path: &Path, what: &str) -> Failure {
    let message = format!(
        "The name is taken by other content: {} is there, and {what}. Give the roll another name, or see what is in \
         that folder first. Nothing was written.",
        path.display()
    );
    Failure::new(Exit::BadData, message)
}

/// Part of an ASC MHL history, which goes on at each destination for itself.
pub fn is_history(path: &str) -> bool {
    let mut folders = path.rsplit('/').skip(1);
    folders.next() == Some(HISTORY_FOLDER)
}

/// The one file of a history that is changed when a generation is added.
pub fn is_chain(path: &str) -> bool {
    is_history(path) && path.rsplit('/').next() == Some(CHAIN_FILE)
}

/// Whether a chain holds what the card's holds, and then at most more.
pub fn chain_went_on(card: &Path, file: &CardFile, copy: &Path) -> bool {
    let read = |path: &Path| -> Option<Vec<ChainEntry>> {
        let (entries, doubts) = read_chain(fs::read(path).ok()?.as_slice()).ok()?;
        doubts.is_empty().then_some(entries)
    };
    match (read(&file.full(card)), read(copy)) {
        (Some(before), Some(now)) => now.starts_with(&before),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_breaks_r45_is_refused_with_the_reason() {
        let pattern = RollPattern::default();
        let read = |name: &str| roll_name(name, &pattern, "P", false);
        // R45's own example
        assert!(read("20260314_A003_CAMB_SLIPWAY").is_ok());
        for (name, says) in [
            ("CLIPS", "\"CLIPS\""),
            ("20261403_A003_CAMB_X", "not a date"),
            ("20260314_a003_CAMB_X", "only A to Z"),
            ("20260314_A003_CAMB_SLIPWAY_EAST", "31 characters"),
        ] {
            let refused = read(name).expect_err(name);
            assert_eq!(refused.exit, Exit::Usage);
            assert!(refused.message.contains(says), "{}", refused.message);
        }
    }
}
