//! The end of a copy: the hash list at each destination, the receipt, and the answer.

use std::fs;
use std::path::PathBuf;

use serde_json::json;
use uuid::Uuid;
use waybill_domain::manifest::Totals;

use super::Plan;
use super::account::Account;
use super::medium::Way;
use super::names::is_history;
use super::receipt::{CAUTION, CardPart, DestinationPart, RECEIPT_VERSION, Receipt, write_whole};
use super::room::same_device;
use crate::exit::{Exit, Failure};
use crate::lists::{Read, Recorded, Transfer, record_transfer};
use crate::output::{Output, bytes_text, count_text, grouped};
use crate::read::Signals;
use crate::scan::{Root, now};

impl Plan<'_> {
    /// Lists, receipt and answer.
    pub fn end(
        &self,
        mut account: Account<'_>,
        signals: &Signals,
        output: &Output,
    ) -> Result<(Receipt, PathBuf), Failure> {
        for file in 0..account.files.len() {
            // nothing wanted it, and nobody has read it: what an earlier run knew is still what is known
            if account.files[file].hashes.is_empty() {
                account.recall(file);
            }
        }
        let mut lists = Vec::new();
        for number in 0..self.destinations.len() {
            lists.push(self.list(number, &mut account, signals, output));
        }
        if let Some(error) = account.journal_error.take() {
            output.say(&format!(
                "What was read could not be kept in {}: {error}. Going on with this copy would read the card again.",
                self.state.display()
            ));
        }
        let receipt = self.receipt(&account, lists);
        let path = receipt.write(&self.receipt_folder()?)?;
        write_pdf(&receipt, &path.with_extension("pdf"))?;
        self.tell(&receipt, &path, output)?;
        Ok((receipt, path))
    }

    fn receipt_folder(&self) -> Result<PathBuf, Failure> {
        let folder = match &self.args.receipt {
            Some(folder) => folder.clone(),
            None => self.state.join("receipts"),
        };
        fs::create_dir_all(&folder).map_err(Failure::writing(folder.display()))?;
        Ok(folder)
    }

    /// Adds a generation to the history at one destination.
    fn list(
        &self,
        number: usize,
        account: &mut Account<'_>,
        signals: &Signals,
        output: &Output,
    ) -> Vec<String> {
        let destination = &self.destinations[number];
        let (files, bytes) = account.verified(number);
        if account.failed[number] || files == 0 {
            return Vec::new();
        }
        let path = destination.roll_path(&self.roll.name);
        if !destination.root.is_there() {
            let reason = "it is not there any more; no hash list was added".to_owned();
            account.failed[number] = true;
            account.fault(Some(number), None, reason);
            return Vec::new();
        }
        let recorded = Root::open(&path).and_then(|root| {
            let transfer = Transfer {
                root: &root,
                kinds: &self.kinds,
                maker: &self.args.maker,
                started: self.started,
                totals: Totals {
                    files,
                    bytes,
                    skipped: 0,
                },
            };
            let known = account.card.files.iter().zip(&account.files);
            let read = known.filter_map(|(listed, known)| {
                let copied = known.copies[number]?;
                (!known.hashes.is_empty()).then(|| Read {
                    path: &listed.path,
                    size: listed.size,
                    hashes: &known.hashes,
                    at: copied.at,
                })
            });
            record_transfer(&transfer, read, signals, output)
        });
        note(account, number, recorded)
    }

    fn receipt(&self, account: &Account<'_>, lists: Vec<Vec<String>>) -> Receipt {
        let destinations: Vec<DestinationPart> = lists
            .into_iter()
            .enumerate()
            .map(|(number, lists)| self.destination(number, account, lists))
            .collect();
        let failing = self.card.skipped.iter().any(|one| one.reason.is_failure());
        let all_whole = destinations.iter().all(|one| one.is_whole);
        let maker = &self.args.maker;
        Receipt {
            schema_version: RECEIPT_VERSION,
            id: self.id,
            tool: concat!("waybill ", env!("CARGO_PKG_VERSION")).to_owned(),
            machine: crate::machine::name(),
            author: maker.author.clone(),
            location: maker.location.clone(),
            comment: maker.comment.clone(),
            roll: self.roll.clone(),
            card: CardPart {
                folder: self.card.root.path.display().to_string(),
                device: self.card.device.clone(),
                totals: self.totals(),
            },
            started: self.started,
            ended: now(),
            hashes: self.kinds.clone(),
            same_device: same_device(&self.destinations),
            is_whole: all_whole && !failing && account.faults.is_empty(),
            destinations,
            faults: account.faults.clone(),
            passed_over: self.card.skipped.clone(),
            caution: CAUTION.to_owned(),
            files: Receipt::files(account),
        }
    }

    fn destination(
        &self,
        number: usize,
        account: &Account<'_>,
        lists: Vec<String>,
    ) -> DestinationPart {
        let destination = &self.destinations[number];
        let (files, bytes) = account.verified(number);
        let copies = account.files.iter().zip(&account.card.files);
        let copies = copies.filter(|(_, listed)| !is_history(&listed.path));
        let mut ways: Vec<Way> = copies
            .filter_map(|(file, _)| Some(file.copies[number]?.way))
            .collect();
        ways.sort_unstable();
        ways.dedup();
        let words: Vec<&str> = ways.iter().map(|way| way.words()).collect();
        DestinationPart {
            folder: destination.root.path.display().to_string(),
            drive: destination.label.clone(),
            device: destination.device.clone(),
            files,
            bytes,
            is_whole: account.is_whole(number) && !account.failed[number],
            verified_by: match words.is_empty() {
                true => "nothing was verified".to_owned(),
                false => words.join("; some files: "),
            },
            ways,
            lists,
            scan: Uuid::now_v7(),
        }
    }

    /// The answer, as sentences and as JSON.
    fn tell(
        &self,
        receipt: &Receipt,
        path: &std::path::Path,
        output: &Output,
    ) -> Result<(), Failure> {
        let mut text = format!("{}: ", receipt.roll.name);
        text.push_str(match (receipt.is_whole, receipt.faults.len()) {
            (true, _) => "copied and verified.",
            (false, _) => "NOT whole; what is amiss is listed above and in the receipt.",
        });
        for (number, part) in receipt.destinations.iter().enumerate() {
            text.push_str(&format!(
                "\n{}: {} of {}, {}, {}.",
                self.destinations[number].shown,
                grouped(part.files),
                count_text(receipt.card.totals.files, "file verified", "files verified"),
                bytes_text(part.bytes),
                part.verified_by
            ));
        }
        text.push_str(&format!(
            "\nReceipt: {} (and .json beside it)\n{}",
            path.with_extension("pdf").display(),
            receipt.caution
        ));
        let value = json!({
            "event": "copied",
            "roll": receipt.roll.name,
            "whole": receipt.is_whole,
            "files": receipt.card.totals.files,
            "bytes": receipt.card.totals.bytes,
            "destinations": receipt.destinations,
            "faults": receipt.faults,
            "same_device": receipt.same_device,
            "receipt": path,
            "caution": receipt.caution,
        });
        output.result(&text, &value)
    }
}

/// The lists that were added; what kept one from being added, or contradicts it, is a fault.
fn note(
    account: &mut Account<'_>,
    number: usize,
    recorded: Result<Recorded, Failure>,
) -> Vec<String> {
    match recorded {
        Ok(recorded) => {
            if let Some(reason) = recorded.not_added {
                let reason = format!("no hash list was added: {reason}");
                account.fault(Some(number), None, reason);
            }
            if recorded.differences > 0 {
                let reason = format!(
                    "{} not as the card's own hash list says; see above",
                    count_text(recorded.differences, "file is", "files are")
                );
                account.fault(Some(number), None, reason);
            }
            recorded.added
        }
        Err(failure) => {
            let reason = format!("no hash list was added: {failure}");
            account.fault(Some(number), None, reason);
            Vec::new()
        }
    }
}

fn write_pdf(receipt: &Receipt, path: &std::path::Path) -> Result<(), Failure> {
    let write = |out: &mut dyn std::io::Write| {
        let pdf = super::receipt_pdf::pdf(receipt).map_err(std::io::Error::other)?;
        out.write_all(&pdf)
    };
    write_whole(path, write).map_err(Failure::writing(path.display()))
}

/// 0 when all is whole; 74 when no destination has a whole copy because all of them were given up; else 2.
pub fn exit(receipt: &Receipt) -> Exit {
    let given_up = |number: usize| {
        let of_it = |fault: &&super::account::Fault| fault.destination == Some(number);
        receipt
            .faults
            .iter()
            .filter(of_it)
            .any(|fault| fault.path.is_none())
    };
    let whole = receipt.destinations.iter().any(|one| one.is_whole);
    match receipt.is_whole {
        true => Exit::Fine,
        false if !whole && (0..receipt.destinations.len()).all(given_up) => Exit::Io,
        false => Exit::CouldNotTell,
    }
}
