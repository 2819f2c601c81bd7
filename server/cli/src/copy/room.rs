//! Whether the destinations are fit for the copy: not on the card, each given once, with room for what will come.

use std::collections::BTreeMap;
use std::fs::File;

use super::card::Card;
use super::destination::Destination;
use super::device::{Kind, free_space, kind};
use super::names::There;
use crate::exit::{Exit, Failure};
use crate::output::bytes_text;

/// Bytes left over for a hash list and the file system's own records, beside a thousandth of what is written.
const SPARE: u64 = 4 << 20;
/// FAT has no file of this size.
const FAT_LIMIT: u64 = 1 << 32;

/// Refuses destinations that are on the card or given twice.
pub fn check_places(card: &Card, roll: &str, destinations: &[Destination]) -> Result<(), Failure> {
    let refused = |message: String| Err(Failure::new(Exit::Usage, message));
    for (number, destination) in destinations.iter().enumerate() {
        let path = &destination.root.path;
        let on_card = path.starts_with(&card.root.path);
        if on_card || card.root.path.starts_with(destination.roll_path(roll)) {
            return refused(format!(
                "{} and the card are one inside the other; the card is never written to. Nothing was copied.",
                destination.shown
            ));
        }
        if destinations[..number]
            .iter()
            .any(|other| other.root.path == *path)
        {
            return refused(format!(
                "{} is given twice; two copies in one folder are none. Nothing was copied.",
                destination.shown
            ));
        }
    }
    Ok(())
}

/// Destinations that lie on one device or disk, by number; only groups of two and more.
pub fn same_device(destinations: &[Destination]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (number, destination) in destinations.iter().enumerate() {
        let is_in =
            |group: &&mut Vec<usize>| destinations[group[0]].device.is_same(&destination.device);
        match groups.iter_mut().find(is_in) {
            Some(group) => group.push(number),
            None => groups.push(vec![number]),
        }
    }
    groups.retain(|group| group.len() > 1);
    groups
}

/// Refuses the copy where a destination has no room for what it does not hold yet.
pub fn check(card: &Card, destinations: &[Destination], there: &[There]) -> Result<(), Failure> {
    #[derive(Default)]
    struct OnDevice<'a> {
        needed: u64,
        /// What a killed run left half written goes before anything is written.
        given_back: u64,
        destinations: Vec<&'a Destination>,
    }
    let mut by_device: BTreeMap<u64, OnDevice<'_>> = BTreeMap::new();
    for (destination, there) in destinations.iter().zip(there) {
        let path = &destination.root.path;
        let reading = || Failure::reading(destination.shown.clone());
        let (_, block) = free_space(path).map_err(reading())?;
        let mut is_there = vec![false; card.files.len()];
        for file in &there.files {
            is_there[*file] = true;
        }
        let missing = card.files.iter().zip(is_there);
        let missing: Vec<_> = missing
            .filter(|(_, there)| !there)
            .map(|(file, _)| file)
            .collect();
        let bytes: u64 = missing
            .iter()
            .map(|file| file.size.next_multiple_of(block))
            .sum();
        let needed = match missing.is_empty() {
            true => 0,
            false => bytes + bytes / 1000 + card.folders.len() as u64 * block + SPARE,
        };
        let folder = File::open(path).map_err(reading())?;
        let too_large = missing.iter().find(|file| file.size >= FAT_LIMIT);
        if let (Kind::Fat, Some(file)) = (kind(&folder), too_large) {
            let message = format!(
                "{} has a FAT file system, which holds no file of 4 GiB or more; {} has {}. Nothing was copied.",
                destination.shown,
                file.path,
                bytes_text(file.size)
            );
            return Err(Failure::new(Exit::CannotWrite, message));
        }
        let on_device = by_device.entry(destination.device.raw).or_default();
        on_device.needed += needed;
        on_device.given_back += there.parts_take;
        on_device.destinations.push(destination);
    }
    for on_device in by_device.into_values() {
        let (needed, first) = (on_device.needed, on_device.destinations[0]);
        let (free, _) = free_space(&first.root.path).map_err(Failure::reading(&first.shown))?;
        let free = free.saturating_add(on_device.given_back);
        if free < needed {
            let names = on_device.destinations.iter();
            let names: Vec<&str> = names.map(|one| one.shown.as_str()).collect();
            let message = format!(
                "There is not enough room on {}: {} are needed, {} are free. Nothing was copied.",
                names.join(" and "),
                bytes_text(needed),
                bytes_text(free)
            );
            return Err(Failure::new(Exit::CannotWrite, message));
        }
    }
    Ok(())
}
