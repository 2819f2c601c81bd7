//! Telling a server of copies, at once or later from the receipt: what stands on each drive and that it was verified
//! now. It goes the way a scan goes, so that every step may be repeated.

use std::fs;

use waybill_domain::manifest::{
    FileEntry, RUN_DEVICE, SKIPPED_SENT, ScanStart, SkipReason, Skipped,
};
use waybill_domain::verification::CheckKind;

use super::names::is_chain;
use super::receipt::{RECEIPT_VERSION, Receipt};
use crate::api::Api;
use crate::args::CopySend;
use crate::exit::{Exit, Failure};
use crate::output::Output;
use crate::read::Signals;
use crate::{folders, pictures, run as command, send as sent};

/// `waybill copy send`.
pub fn run(args: &CopySend, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    let shown = args.receipt.display();
    let text = fs::read(&args.receipt).map_err(Failure::reading(shown.to_string()))?;
    let receipt: Receipt = serde_json::from_slice(&text).map_err(|error| {
        let message =
            format!("{shown} is no receipt of a copy, the file that ends with .json: {error}.");
        Failure::new(Exit::BadData, message)
    })?;
    if receipt.schema_version > RECEIPT_VERSION {
        let message = format!("{shown} was written by a newer waybill; send it with that.");
        return Err(Failure::new(Exit::BadData, message));
    }
    let labels = match args.drive.is_empty() {
        true => receipt.labels()?,
        false => args.drive.clone(),
    };
    if labels.len() != receipt.destinations.len() {
        let message = receipt.one_label_for_each();
        return Err(Failure::new(Exit::Usage, message));
    }
    check_labels(&labels)?;
    let place = command::place(
        Some(&args.place.to),
        Some(&args.place.series),
        signals,
        output,
    )?;
    if let Some(place @ (api, series)) = &place {
        send(&receipt, &labels, series, api, output)?;
        if !args.no_pictures {
            let state = args.state.clone().map_or_else(folders::copies, Ok)?;
            pictures::send_of_copy(&receipt, &state, None, place, &signals.stop, output)?;
        }
    }
    Ok(Exit::Fine)
}

/// Refuses labels that the server would refuse, or two of them for one drive.
pub fn check_labels(labels: &[String]) -> Result<(), Failure> {
    for (number, label) in labels.iter().enumerate() {
        sent::check_label(label)?;
        let same = |other: &String| other.to_lowercase() == label.to_lowercase();
        if labels[..number].iter().any(same) {
            let message =
                format!("Two drives are called \"{label}\"; each has a label of its own.");
            return Err(Failure::new(Exit::Usage, message));
        }
    }
    Ok(())
}

/// What to give where labels are not one for each drive, whose folders these are.
pub fn one_label_for_each(folders: impl Iterator<Item = String>) -> String {
    let lines: String = folders.map(|folder| format!("\n  {folder}")).collect();
    format!("Give --drive LABEL once for each drive, in this order:{lines}")
}

/// Sends what stands verified on each drive. One drive's refusal does not keep the others from being sent.
pub fn send(
    receipt: &Receipt,
    labels: &[String],
    series: &str,
    api: &Api<'_>,
    output: &Output,
) -> Result<(), Failure> {
    let mut failed = None;
    for (number, label) in labels.iter().enumerate() {
        let entries: Vec<FileEntry> = entries(receipt, number);
        if entries.is_empty() {
            output.say(&format!(
                "{label}: nothing stands verified there, so nothing is sent of it."
            ));
            continue;
        }
        output.say(&format!("{label}:"));
        let start = start(receipt, number, label, entries.len() as u64);
        let lines = entries
            .iter()
            .map(|entry| Ok(serde_json::to_string(entry).expect("own types are always JSON")));
        if let Err(failure) = sent::send_files(&start, lines, series, api, output) {
            if failure.exit == Exit::Stopped {
                return Err(failure);
            }
            output.say(&format!("{label}: {failure}"));
            failed.get_or_insert(failure);
        }
    }
    failed.map_or(Ok(()), Err)
}

fn start(receipt: &Receipt, number: usize, label: &str, files: u64) -> ScanStart {
    let destination = &receipt.destinations[number];
    let folder = destination.folder.rsplit('/').find(|part| !part.is_empty());
    ScanStart {
        id: destination.scan,
        drive: label.to_owned(),
        // as a scan of the folder that was given to --to names what is in it, and nothing beside the roll is meant
        root: format!("{}/{}", folder.unwrap_or("root"), receipt.roll.name),
        tool: receipt.tool.clone(),
        hashes: receipt.hashes.clone(),
        file_count: Some(files),
        volume: destination.device.volume.clone(),
        devices: devices(receipt, number),
        // the receipt may be sent later, from elsewhere
        seen: None,
        how: CheckKind::Copy,
        machine: receipt.machine.clone(),
        started: receipt.started,
        skipped: skipped(receipt, number),
    }
}

/// What names the device of a destination, and that this run saw others on it.
fn devices(receipt: &Receipt, number: usize) -> Vec<String> {
    let groups = receipt.same_device.iter().enumerate();
    let shared = groups
        .filter(|(_, group)| group.contains(&number))
        .map(|(group, _)| format!("{RUN_DEVICE}{}/{group}", receipt.id));
    let known = &receipt.destinations[number].device.names;
    known.iter().cloned().chain(shared).collect()
}

/// What stands verified on a drive. The chain of a history is changed with every generation and is no footage.
fn entries(receipt: &Receipt, number: usize) -> Vec<FileEntry> {
    let files = receipt.files.iter().filter(|file| !is_chain(&file.path));
    let verified = files.filter_map(|file| Some((file, file.verified.get(number).copied()??)));
    verified
        .filter(|(file, _)| !file.hashes.is_empty())
        .map(|(file, at)| FileEntry {
            path: file.path.split('/').map(str::to_owned).collect(),
            size: file.size,
            modified: file.modified,
            read: at,
            hashes: file.hashes.clone(),
            media: file.media.clone(),
            roll: Some(receipt.roll.clone()),
            warnings: file.warnings.clone(),
        })
        .collect()
}

/// What is on the card and does not stand verified on a drive: nothing there may be called missing or whole.
fn skipped(receipt: &Receipt, number: usize) -> Vec<Skipped> {
    let files = receipt.files.iter();
    let missing = files.filter(|file| file.verified.get(number).copied().flatten().is_none());
    let missing = missing.map(|file| Skipped {
        path: file.path.clone(),
        reason: SkipReason::Unreadable,
        detail: "on the card, and not verified on this drive".to_owned(),
    });
    let passed_over = receipt.passed_over.iter();
    let passed_over = passed_over.filter(|one| one.reason.is_failure()).cloned();
    missing.chain(passed_over).take(SKIPPED_SENT).collect()
}
