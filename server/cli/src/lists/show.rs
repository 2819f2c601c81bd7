//! What the histories of a folder say, without reading any footage.

use std::fs::File;
use std::io::BufReader;

use serde_json::{Value, json};
use waybill_domain::hash_list::model::Record;
use waybill_domain::hash_list::{HISTORY_FOLDER, read_manifest};

use super::histories_below;
use super::load::Loaded;
use crate::args::ListShow;
use crate::exit::{Exit, Failure};
use crate::output::{Output, count_text};
use crate::scan::Root;

/// `waybill list show`.
pub fn show(args: &ListShow, output: &Output) -> Result<Exit, Failure> {
    let root = Root::open(&args.folder)?;
    let found = histories_below(&root.path);
    if found.is_empty() {
        let message = format!("There is no ASC MHL history in {}.", args.folder.display());
        return Err(Failure::new(Exit::NoInput, message));
    }
    let mut is_faulty = false;
    let mut records = 0;
    for (place, folder) in found {
        let loaded = Loaded::read(&folder, false);
        is_faulty |= loaded.is_faulty();
        let shown = match place.as_str() {
            "" => ".",
            place => place,
        };
        for fault in &loaded.faults {
            let value = json!({ "event": "list_fault", "list": place, "fault": fault });
            output.result(&format!("{shown}: {}.", fault.words()), &value)?;
        }
        let Some(file) = &args.file else {
            generations(&loaded, &place, shown, output)?;
            continue;
        };
        let own = match place.as_str() {
            "" => Some(file.as_str()),
            place => file
                .strip_prefix(place)
                .and_then(|rest| rest.strip_prefix('/')),
        };
        if let Some(own) = own {
            records += file_history(&loaded, &place, own, output)?;
        }
    }
    if let Some(file) = args.file.as_ref().filter(|_| records == 0) {
        let message = format!("No history in {} records {file}.", args.folder.display());
        return Err(Failure::new(Exit::NoInput, message));
    }
    Ok(match is_faulty {
        true => Exit::CouldNotTell,
        false => Exit::Fine,
    })
}

fn generations(loaded: &Loaded, place: &str, shown: &str, output: &Output) -> Result<(), Failure> {
    let history = loaded.history.borrow();
    for generation in &history.generations {
        let head = &generation.head;
        let text = format!(
            "{shown}: generation {}, {} UTC, {}, {} by {} on {}.",
            generation.sequence,
            head.creator.date.format("%-d %b %Y %H:%M"),
            count_text(generation.files, "file", "files"),
            head.process.name(),
            head.creator.tool,
            head.creator.host,
        );
        let mut value = json!(generation);
        value["event"] = json!("generation");
        value["scope"] = json!(place);
        output.result(&text, &value)?;
    }
    Ok(())
}

/// Every record of a file, followed back through its renames; how many there are.
fn file_history(
    loaded: &Loaded,
    place: &str,
    path: &str,
    output: &Output,
) -> Result<usize, Failure> {
    let mut name = path.to_owned();
    let mut lines: Vec<(String, Value)> = Vec::new();
    for entry in loaded.chain.iter().rev() {
        let list = loaded.scope.join(HISTORY_FOLDER).join(&entry.path);
        let Ok(file) = File::open(&list) else {
            continue;
        };
        let (mut found, mut moved) = (Vec::new(), None);
        // a list that cannot be read is told as a fault of its history
        let _ = read_manifest(BufReader::new(file), &mut |record| match record {
            Record::File(file) if file.path == name => found.push(file),
            Record::Folder(folder) => {
                let below = name.strip_prefix(folder.path.as_str());
                let below = below.filter(|rest| rest.starts_with('/'));
                if let (Some(rest), Some(previous)) = (below, folder.previous) {
                    moved = Some(format!("{previous}{rest}"));
                }
            }
            Record::File(_) => {}
        });
        for file in found {
            let hashes = file.values.iter().map(|value| {
                let action = value.action.map_or("recorded", |action| action.name());
                format!("{action} {} {}", value.digest.kind(), value.digest)
            });
            let hashes: Vec<String> = hashes.collect();
            let renamed = file
                .previous
                .as_ref()
                .map(|previous| format!("; before: {previous}"));
            let text = format!(
                "generation {}: {}: {}{}",
                entry.sequence,
                file.path,
                hashes.join(", "),
                renamed.unwrap_or_default()
            );
            let value = json!({
                "event": "record",
                "scope": place,
                "generation": entry.sequence,
                "path": file.path,
                "size": file.size,
                "values": file.values,
                "previous_path": file.previous,
            });
            lines.push((text, value));
            moved = file.previous.or(moved);
        }
        name = moved.unwrap_or(name);
    }
    for (text, value) in lines.iter().rev() {
        output.result(text, value)?;
    }
    Ok(lines.len())
}
