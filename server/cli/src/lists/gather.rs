//! One list out of all generations of a folder's histories [S 5.6.7]: of each file and hash type the
//! earliest hash that did not fail. It belongs to no history and can be handed over with a copy.

use std::collections::BTreeMap;

use waybill_domain::hash_list::model::{Action, Creator, FileRecord, Head, Process, Record, Value};
use waybill_domain::hashes::HashKind;

use super::generation::write_alone;
use super::histories_below;
use super::history_run::seconds;
use super::load::Loaded;
use super::telling::written;
use crate::args::ListGather;
use crate::exit::{Exit, Failure};
use crate::output::{Output, count_text};
use crate::scan::{Root, now};

/// `waybill list gather`.
pub fn gather(args: &ListGather, output: &Output) -> Result<Exit, Failure> {
    let root = Root::open(&args.folder)?;
    let mut records = BTreeMap::new();
    let mut patterns: Vec<String> = Vec::new();
    let mut faults = 0;
    let found = histories_below(&root.path);
    if found.is_empty() {
        let message = format!("There is no ASC MHL history in {}.", args.folder.display());
        return Err(Failure::new(Exit::NoInput, message));
    }
    for (place, folder) in found {
        let loaded = Loaded::read(&folder, false);
        for fault in loaded.faults.iter().filter(|fault| fault.is_serious()) {
            output.say(&format!(
                "The history of {}: {}.",
                folder.display(),
                fault.words()
            ));
            faults += 1;
        }
        for pattern in &loaded.history.borrow().patterns {
            if place.is_empty() && !patterns.contains(pattern) {
                patterns.push(pattern.clone());
            }
        }
        add(&loaded, &place, &mut records);
    }
    if faults > 0 {
        let message = "The lists are at fault: see above. Nothing was gathered from them.";
        return Err(Failure::new(Exit::CouldNotTell, message));
    }
    let records: Vec<Record> = records.into_values().map(Record::File).collect();
    if records.is_empty() {
        let message = "The histories record no file with a hash that could be used.";
        return Err(Failure::new(Exit::CouldNotTell, message));
    }
    let head = Head {
        creator: Creator {
            date: seconds(now()),
            host: crate::commands::computer(),
            tool: "waybill".to_owned(),
            tool_version: Some(env!("CARGO_PKG_VERSION").to_owned()),
            authors: Vec::new(),
            location: None,
            comment: None,
        },
        process: Process::Flatten,
        root: None,
        ignore: patterns,
    };
    write_alone(&args.out, &head, &records).map_err(Failure::writing(args.out.display()))?;
    let files = records.len() as u64;
    let text = format!(
        "{} holds {}.",
        args.out.display(),
        count_text(files, "file", "files")
    );
    output.result(
        &text,
        &written("gathered", &args.out.display().to_string(), files),
    )?;
    Ok(Exit::Fine)
}

fn add(loaded: &Loaded, place: &str, records: &mut BTreeMap<String, FileRecord>) {
    let history = loaded.history.borrow();
    let below = |path: &str| match place {
        "" => path.to_owned(),
        place => format!("{place}/{path}"),
    };
    for (path, known) in &history.files {
        let mut kinds: Vec<HashKind> = Vec::new();
        let mut values = Vec::new();
        for value in known.values.iter().filter(|value| value.trusted) {
            if kinds.contains(&value.digest.kind()) {
                continue;
            }
            kinds.push(value.digest.kind());
            let mut generations = history.generations.iter();
            let generation = generations.find(|generation| generation.sequence == value.generation);
            values.push(Value {
                digest: value.digest.clone(),
                action: Some(match value.generation == known.first {
                    true => Action::Original,
                    false => Action::Verified,
                }),
                date: generation.map(|generation| generation.head.creator.date),
            });
        }
        if values.is_empty() {
            continue;
        }
        let record = FileRecord {
            path: below(path),
            size: known.size,
            created: None,
            modified: known.modified,
            values,
            previous: known.previous.as_deref().map(below),
        };
        // the innermost history is read last, and is the one that a file belongs to
        records.insert(record.path.clone(), record);
    }
}
