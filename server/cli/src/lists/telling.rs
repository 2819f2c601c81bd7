//! Telling what a verification finds: a line for each file that is not as recorded, at once; the account with
//! every file, where one is wanted; and the answer.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use waybill_domain::hash_list::chain::ChainFault;
use waybill_domain::hash_list::report::{
    Against, Answer, Begin, Counts, End, FaultLine, FileLine, HistoryLine, ReportLine, Verdict,
};

use super::sending::Keeping;
use crate::exit::{Exit, Failure};
use crate::output::{Output, Progress, bytes_text, count_text, grouped};
use crate::scan::now;
use crate::walk::shown;

/// Where findings go.
pub struct Teller<'a> {
    output: &'a Output,
    pub progress: Progress<'a>,
    account: Option<Account>,
    pub counts: Counts,
    /// The result for the server, where one is to know it.
    pub keeping: Option<Keeping>,
    /// What is not recorded yet is what a first list is made of.
    pub new_is_normal: bool,
    against: Against,
}

struct Account {
    out: BufWriter<File>,
    part: PathBuf,
    path: PathBuf,
}

impl Drop for Account {
    fn drop(&mut self) {
        // gone already when it was given its name; otherwise it is not whole and of no use
        let _ = fs::remove_file(&self.part);
    }
}

impl<'a> Teller<'a> {
    pub fn new(
        output: &'a Output,
        progress: Progress<'a>,
        account: Option<&Path>,
        begin: Begin,
    ) -> Result<Self, Failure> {
        let account = match account {
            None => None,
            Some(path) => {
                let name = path.file_name().unwrap_or_default();
                let part = path.with_file_name(crate::scan::temporary_name(name));
                let file = File::create(&part).map_err(Failure::writing(path.display()))?;
                Some(Account {
                    out: BufWriter::with_capacity(1 << 18, file),
                    part,
                    path: path.to_owned(),
                })
            }
        };
        let mut teller = Self {
            against: begin.against,
            output,
            progress,
            account,
            counts: Counts::default(),
            keeping: None,
            new_is_normal: false,
        };
        teller.keep(&ReportLine::Begin(begin))?;
        Ok(teller)
    }

    fn keep(&mut self, line: &ReportLine) -> Result<(), Failure> {
        let Some(account) = &mut self.account else {
            return Ok(());
        };
        let written = serde_json::to_writer(&mut account.out, line).map_err(std::io::Error::from);
        written
            .and_then(|()| account.out.write_all(b"\n"))
            .map_err(Failure::writing(account.path.display()))
    }

    /// One file and the answer about it.
    pub fn file(&mut self, path: String, verdict: Verdict) -> Result<(), Failure> {
        self.counts.add(&verdict);
        let is_quiet = match &verdict {
            Verdict::Verified { recorded_size, .. } => recorded_size.is_none(),
            Verdict::New { .. } => self.new_is_normal,
            _ => false,
        };
        let line = FileLine { path, verdict };
        if !is_quiet {
            self.progress.clear();
            let mut value = json!(line);
            value["event"] = json!("finding");
            self.output.result(
                &format!("{}: {}", line.path, words(&line.verdict, self.against)),
                &value,
            )?;
        }
        self.keep(&ReportLine::File(line))
    }

    /// Something wrong with a history.
    pub fn chain_fault(&mut self, scope: &str, fault: ChainFault) -> Result<(), Failure> {
        let place = match scope {
            "" => "The history".to_owned(),
            scope => format!("The history of {scope}"),
        };
        let words = format!("{place}: {}.", fault.words());
        self.fault(scope, words, fault.is_serious(), Some(fault))
    }

    /// Something wrong with a list.
    pub fn fault(
        &mut self,
        list: &str,
        words: String,
        is_serious: bool,
        fault: Option<ChainFault>,
    ) -> Result<(), Failure> {
        self.counts.faults += u64::from(is_serious);
        self.progress.clear();
        let line = FaultLine {
            list: list.to_owned(),
            words,
            fault,
        };
        let mut value = json!(line);
        value["event"] = json!("list_fault");
        self.output.result(&line.words, &value)?;
        self.keep(&ReportLine::Fault(line))
    }

    /// A history, at the end.
    pub fn history(&mut self, line: HistoryLine) -> Result<(), Failure> {
        self.progress.clear();
        let scope = match line.scope.as_str() {
            "" => "this folder".to_owned(),
            ".." => "the folder above".to_owned(),
            scope => scope.to_owned(),
        };
        let text = match (&line.added, &line.not_added) {
            (Some(name), _) => format!(
                "The history of {scope} has a new generation, {}: {name}.",
                line.generations + 1
            ),
            (None, Some(reason)) => {
                format!("Nothing was added to the history of {scope}: {reason}.")
            }
            (None, None) => String::new(),
        };
        let mut value = json!(line);
        value["event"] = json!("history");
        if !text.is_empty() {
            self.output.result(&text, &value)?;
        }
        self.keep(&ReportLine::History(line))
    }

    /// Writes the end of the account and tells the answer.
    pub fn end(mut self, what: &str) -> Result<Exit, Failure> {
        self.progress.clear();
        let mut answer = self.counts.answer();
        if self.new_is_normal && answer != Answer::AllWell {
            let is_whole = self.counts.unreadable + self.counts.unproven + self.counts.faults == 0;
            if is_whole && self.counts.new > 0 {
                answer = Answer::AllWell;
            }
        }
        let end = End {
            answer,
            counts: self.counts,
            ended: now(),
        };
        let mut value = json!(end);
        value["event"] = json!("verified");
        self.keep(&ReportLine::End(end))?;
        if let Some(account) = &mut self.account {
            let written = account
                .out
                .flush()
                .and_then(|()| account.out.get_ref().sync_all())
                .and_then(|()| fs::rename(&account.part, &account.path));
            written.map_err(Failure::writing(account.path.display()))?;
        }
        self.output.result(&self.summary(what, answer), &value)?;
        Ok(match answer {
            Answer::AllWell => Exit::Fine,
            Answer::Differences => Exit::Differences,
            Answer::CouldNotTell => Exit::CouldNotTell,
        })
    }

    fn summary(&self, what: &str, answer: Answer) -> String {
        let counts = &self.counts;
        let (new, new_is_normal) = (counts.new, self.new_is_normal);
        let verified = match counts.verified {
            0 if new_is_normal => format!("{} recorded", count_text(new, "file", "files")),
            0 => "no file verified".to_owned(),
            count => format!(
                "{} verified, {}",
                count_text(count, "file", "files"),
                bytes_text(counts.verified_bytes)
            ),
        };
        let parts = [
            (counts.changed, "changed", "changed"),
            (counts.missing, "missing", "missing"),
            (counts.missing_folders, "folder missing", "folders missing"),
            (counts.renamed, "renamed", "renamed"),
            (if new_is_normal { 0 } else { new }, "new", "new"),
            (counts.unreadable, "not readable", "not readable"),
            (counts.unproven, "not provable", "not provable"),
            (
                counts.left_out,
                "left out by patterns",
                "left out by patterns",
            ),
            (
                counts.passed_over,
                "link or special file passed over",
                "links and special files passed over",
            ),
            (counts.faults, "fault of the lists", "faults of the lists"),
        ];
        let parts = parts.iter().filter(|(count, ..)| *count > 0);
        let parts: String = parts
            .map(|(count, one, many)| format!("; {}", count_text(*count, one, many)))
            .collect();
        let closing = match answer {
            Answer::AllWell => "All is well.",
            Answer::Differences => "There are differences: see above.",
            Answer::CouldNotTell => "This is not a whole answer: see above.",
        };
        format!("{what}: {verified}{parts}. {closing}")
    }
}

fn words(verdict: &Verdict, against: Against) -> String {
    match verdict {
        Verdict::Verified {
            size,
            recorded_size,
            ..
        } => format!(
            "its content is as recorded, and its size ({}) is not the recorded one ({})",
            grouped(*size),
            grouped(recorded_size.unwrap_or_default())
        ),
        Verdict::Changed {
            size,
            recorded_size,
            mismatches,
            agreeing,
            ..
        } => {
            let mismatches = mismatches.iter().map(|mismatch| {
                let generation = match mismatch.generation {
                    0 => String::new(),
                    number => format!(" in generation {number}"),
                };
                format!(
                    "; {} was {}{generation} and is {}",
                    mismatch.hash, mismatch.recorded, mismatch.found
                )
            });
            let mut text = format!("changed{}", mismatches.collect::<String>());
            if let Some(recorded) = recorded_size.filter(|recorded| recorded != size) {
                text.push_str(&format!(
                    "; its size was {} and is {} bytes",
                    grouped(recorded),
                    grouped(*size)
                ));
            }
            for kind in agreeing {
                text.push_str(&format!("; {kind} agrees all the same"));
            }
            text
        }
        Verdict::Missing { instead: None } => "missing".to_owned(),
        Verdict::Missing {
            instead: Some(what),
        } => format!("missing; in its place is {what}"),
        Verdict::New { .. } => "new, not recorded".to_owned(),
        Verdict::Renamed {
            from,
            recorded,
            normal_form_only,
        } => {
            let form = match normal_form_only {
                true => "; the names differ only in how accents are written",
                false => "",
            };
            let recorded = match (recorded, against) {
                (true, _) => ", now recorded under the new name",
                (false, Against::History) => "; --accept-renames records it",
                (false, Against::List | Against::Catalogue) => "",
            };
            format!("renamed from {from}{recorded}{form}")
        }
        Verdict::Unreadable { reason } => format!("not readable: {reason}"),
        Verdict::Unproven { reason } => format!("cannot be proved: {}", reason.words()),
        Verdict::MissingFolder => "the folder is missing".to_owned(),
    }
}

/// The event of a list that was written.
pub fn written(kind: &str, path: &str, files: u64) -> Value {
    json!({ "event": "list", "kind": kind, "file": path, "files": files })
}

/// Bytes of a name as a person reads them.
pub fn shown_bytes(path: &[u8]) -> String {
    match path {
        b"" => ".".to_owned(),
        path => match std::str::from_utf8(path) {
            Ok(text) => shown(text.as_ref()),
            Err(_) => path
                .utf8_chunks()
                .map(|chunk| {
                    let bad = chunk.invalid().iter().map(|byte| format!("\\x{byte:02x}"));
                    format!("{}{}", chunk.valid(), bad.collect::<String>())
                })
                .collect(),
        },
    }
}
