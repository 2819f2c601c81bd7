//! Clips that may lack pictures: of a scan, from its journal; of a copy, from its receipt.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use waybill_domain::hashes::{HashKind, Hashes};
use waybill_domain::manifest::FileEntry;
use waybill_domain::media::{Container, MediaFacts};

use crate::copy::{FilePart, Receipt};
use crate::scan::{Scanned, Told};

/// Endings of clips whose headers we do not read, or could not.
const ENDINGS: [&str; 22] = [
    "3gp", "asf", "avi", "dv", "flv", "gxf", "m2t", "m2ts", "m2v", "m4v", "mkv", "mov", "mp4",
    "mpeg", "mpg", "mts", "mxf", "ogv", "ts", "vob", "webm", "wmv",
];
/// How coarsely file systems keep the date of a file: FAT's two seconds are the coarsest.
const COARSEST: Duration = Duration::from_secs(2);

/// A clip that may lack pictures.
pub struct Clip {
    /// None where it is not on this machine now.
    pub path: Option<PathBuf>,
    /// Below the scanned folder, or the roll's.
    pub shown: String,
    pub xxh128: String,
    pub size: u64,
    pub seconds: Option<f64>,
    /// What it is encoded as; where that is not known, how its name ends.
    pub made_as: String,
}

/// The clips of a scan.
pub fn of_scan(scanned: &Scanned) -> io::Result<impl Iterator<Item = io::Result<Clip>>> {
    let told = scanned.journals.told()?;
    Ok(told.filter_map(|told| match told {
        Ok(Told::File(entry)) => scanned_clip(&scanned.root, &entry).transpose(),
        Ok(Told::Skipped(_)) => None,
        Err(error) => Some(Err(error)),
    }))
}

/// The clips of which a copy stands verified somewhere. The card itself is not read again.
pub fn of_copy(receipt: &Receipt) -> impl Iterator<Item = io::Result<Clip>> {
    receipt.files.iter().filter_map(|file| {
        let is_somewhere = file.verified.iter().any(Option::is_some);
        let mut clip = is_somewhere
            .then(|| clip(&file.path, file.size, &file.hashes, file.media.as_ref()))
            .flatten()?;
        clip.path = verified_copy(receipt, file);
        Some(Ok(clip))
    })
}

fn scanned_clip(root: &Path, entry: &str) -> io::Result<Option<Clip>> {
    let entry: FileEntry = serde_json::from_str(entry)?;
    let shown = entry.path.join("/");
    let clip = clip(&shown, entry.size, &entry.hashes, entry.media.as_ref());
    Ok(clip.map(|clip| Clip {
        path: Some(root.join(entry.path.iter().collect::<PathBuf>())),
        ..clip
    }))
}

fn clip(path: &str, size: u64, hashes: &Hashes, media: Option<&MediaFacts>) -> Option<Clip> {
    if !is_clip(path, media) {
        return None;
    }
    let duration = media.and_then(|media| media.duration);
    Some(Clip {
        path: None,
        shown: path.to_owned(),
        xxh128: hashes.get(&HashKind::Xxh128)?.clone(),
        size,
        seconds: duration
            .map(|one| one.num as f64 / one.den as f64)
            .filter(|seconds| seconds.is_finite() && *seconds > 0.0),
        made_as: media
            .and_then(|media| media.codec.clone())
            .unwrap_or_else(|| ending(path).unwrap_or_default()),
    })
}

/// What follows the last dot of the name, in lower case.
fn ending(path: &str) -> Option<String> {
    let name = path.rsplit('/').next().unwrap_or_default();
    Some(name.rsplit_once('.')?.1.to_ascii_lowercase())
}

fn is_clip(path: &str, media: Option<&MediaFacts>) -> bool {
    match media {
        Some(media) => {
            media.container != Container::Wave && (media.codec.is_some() || media.width.is_some())
        }
        None => ending(path).is_some_and(|ending| ENDINGS.contains(&ending.as_str())),
    }
}

/// The first verified copy that is here and looks as it did: a receipt may be sent when the drives are elsewhere, or
/// others stand in their place.
fn verified_copy(receipt: &Receipt, file: &FilePart) -> Option<PathBuf> {
    let destinations = receipt.destinations.iter().zip(&file.verified);
    let verified = destinations.filter(|(_, verified)| verified.is_some());
    let paths = verified.map(|(destination, _)| {
        let roll = Path::new(&destination.folder).join(&receipt.roll.name);
        roll.join(file.path.split('/').collect::<PathBuf>())
    });
    let looks_the_same = |path: &PathBuf| {
        fs::symlink_metadata(path).is_ok_and(|metadata| {
            let modified: SystemTime = file.modified.into();
            let apart = |found: SystemTime| {
                let apart = found.duration_since(modified);
                apart.unwrap_or_else(|earlier| earlier.duration())
            };
            metadata.is_file()
                && metadata.len() == file.size
                && metadata
                    .modified()
                    .is_ok_and(|found| apart(found) <= COARSEST)
        })
    };
    paths.into_iter().find(looks_the_same)
}
