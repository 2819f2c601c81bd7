//! Hash lists beside the footage: `waybill verify` and `waybill list`. What lists say and how they are compared
//! is `waybill_domain::hash_list`; here files are read and written.

mod catalogue;
mod ending;
mod expected;
mod flat;
mod gather;
mod generation;
mod going_on;
mod history_run;
mod load;
mod ordered;
mod plain;
mod reading;
mod scope;
mod sending;
mod show;
mod telling;
mod transfer;
mod tree;
mod walking;

use std::cell::RefCell;
use std::path::{Path, PathBuf};

use waybill_domain::hash_list::LIST_KINDS;
use waybill_domain::hash_list::model::{Author, Process};
use waybill_domain::hash_list::report::{Against, Begin};
use waybill_domain::manifest::Totals;

use crate::args::{GoingOn, List, ListMake, Maker, Reading, Verify};
use crate::exit::{Exit, Failure};
use crate::folders;
use crate::output::{Output, Progress};
use crate::read::Signals;
use crate::scan::{Root, journal_name, now};
use expected::FlatList;
use flat::FlatOptions;
use going_on::Readings;
use history_run::{Finished, Options, People, history_above, seconds};
use reading::Already;
use telling::Teller;
pub use transfer::{Read, Recorded, Transfer, record_transfer};
pub use tree::{Step, Tree};

/// `waybill list`.
pub fn list(args: &List, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    match args {
        List::Make(args) => make(args, signals, output),
        List::Plain(args) => plain::write(args, signals, output),
        List::Gather(args) => gather::gather(args, output),
        List::Show(args) => show::show(args, output),
    }
}

/// `waybill verify`.
pub fn verify(args: &Verify, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    let root = Root::open(&args.folder)?;
    if let Some(label) = &args.drive {
        return catalogue::verify(args, label, &root, signals, output);
    }
    let (list, own, against) = match &args.list {
        Some(path) => {
            let own = std::fs::canonicalize(path).ok();
            (
                Some(FlatList::read(path, args.list_hash)?),
                own,
                Against::List,
            )
        }
        None => (None, None, Against::History),
    };
    let expected = look(&root.path);
    if against == Against::History && expected.histories == 0 && history_above(&root.path).is_none()
    {
        let message = format!(
            "There is no ASC MHL history in {} or above it. `waybill list make` makes the first generation; \
             --list FILE compares with a plain list.",
            args.folder.display()
        );
        return Err(Failure::new(Exit::NoInput, message));
    }
    let against_what = args
        .list
        .as_ref()
        .map_or_else(String::new, |list| list.display().to_string());
    let (state, name) = place_of_state(&args.going_on, &against_what, &root)?;
    let readings = RefCell::new(Readings::open(&state, &name, args.going_on.afresh, output)?);
    let teller = teller(&root, against, args, expected.totals, output)?;
    let jobs = jobs(&args.reading);
    if let Some(list) = list {
        let options = FlatOptions {
            ignore: &args.reading.ignore,
            jobs,
            own: own.as_deref(),
        };
        let teller = flat::run(list, &options, &root, signals, teller, &readings)?;
        readings.into_inner().end()?;
        return teller.end(&args.folder.display().to_string());
    }
    let options = options(
        &args.reading,
        &args.maker,
        !args.no_record,
        args.accept_renames,
        false,
    )?;
    let judge = history_run::run(&options, &root, signals, teller, Some(&readings))?;
    let (mut teller, finished) = (judge.teller, judge.finished);
    commit(finished, &mut teller)?;
    readings.into_inner().end()?;
    teller.end(&args.folder.display().to_string())
}

/// `waybill list make`.
fn make(args: &ListMake, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    let root = Root::open(&args.folder)?;
    if load::has_history(&root.path) {
        let message = format!(
            "{} has a history already; `waybill verify` adds a generation to it.",
            args.folder.display()
        );
        return Err(Failure::new(Exit::BadData, message));
    }
    let expected = look(&root.path);
    if expected.totals.files == 0 {
        let message = format!("There is no file in {}.", args.folder.display());
        return Err(Failure::new(Exit::NoInput, message));
    }
    let begin = begin(&root, Against::History, None);
    let progress = Progress::new(output, Some(expected.totals));
    let mut teller = Teller::new(output, progress, args.report.as_deref(), begin)?;
    teller.new_is_normal = true;
    let options = options(&args.reading, &args.maker, true, false, true)?;
    let (state, name) = place_of_state(&args.going_on, "", &root)?;
    let readings = RefCell::new(Readings::open(&state, &name, args.going_on.afresh, output)?);
    let judge = history_run::run(&options, &root, signals, teller, Some(&readings))?;
    let (mut teller, finished) = (judge.teller, judge.finished);
    let all_added = commit(finished, &mut teller)?;
    readings.into_inner().end()?;
    let exit = teller.end(&args.folder.display().to_string())?;
    match all_added {
        true => Ok(exit),
        false => Err(Failure::new(
            Exit::CannotWrite,
            "The list was not written: see above.",
        )),
    }
}

/// Where a verification keeps what it has read: by the folder and what it is compared with.
fn place_of_state(
    args: &GoingOn,
    against: &str,
    root: &Root,
) -> Result<(PathBuf, String), Failure> {
    let state = args.state.clone().map_or_else(folders::scans, Ok)?;
    let name = journal_name(&format!("verify {against}"), &root.path);
    Ok((state, name))
}

/// Makes the new generations part of their histories, the innermost first. Tells whether all were.
fn commit(finished: Vec<Finished>, teller: &mut Teller<'_>) -> Result<bool, Failure> {
    let mut all_added = true;
    for Finished { mut line, ready } in finished {
        match ready.map(generation::Ready::commit) {
            Some(Ok(name)) => line.added = Some(name),
            Some(Err(error)) => line.not_added = Some(error.to_string()),
            None => {}
        }
        all_added &= line.added.is_some();
        teller.history(line)?;
    }
    Ok(all_added)
}

fn teller<'a>(
    root: &Root,
    against: Against,
    args: &Verify,
    totals: Totals,
    output: &'a Output,
) -> Result<Teller<'a>, Failure> {
    let begin = begin(root, against, None);
    let progress = Progress::new(output, Some(totals));
    Teller::new(output, progress, args.report.as_deref(), begin)
}

fn begin(root: &Root, against: Against, drive: Option<String>) -> Begin {
    Begin {
        tool: concat!("waybill ", env!("CARGO_PKG_VERSION")).to_owned(),
        root: root.name(),
        drive,
        against,
        started: seconds(now()),
    }
}

fn options(
    reading: &Reading,
    maker: &Maker,
    record: bool,
    accept_renames: bool,
    create: bool,
) -> Result<Options, Failure> {
    if let Some(kind) = reading.hash.iter().find(|kind| !LIST_KINDS.contains(kind)) {
        let message = format!(
            "ASC MHL has no {kind}; it has c4, md5, sha1, xxh128, xxh3 and xxh64. `waybill list plain` writes \
             a list of the others."
        );
        return Err(Failure::new(Exit::Usage, message));
    }
    Ok(Options {
        kinds: reading.hash.clone(),
        ignore: reading.ignore.clone(),
        jobs: jobs(reading),
        record,
        accept_renames,
        create,
        people: people(maker),
        started: seconds(now()),
        process: Process::InPlace,
        already: Already::default(),
    })
}

fn people(maker: &Maker) -> People {
    let author = maker.author.as_ref().map(|name| Author {
        name: name.clone(),
        ..Author::default()
    });
    People {
        authors: author.into_iter().collect(),
        location: maker.location.clone(),
        comment: maker.comment.clone(),
    }
}

/// One thread for each core, unless it was said.
fn jobs(reading: &Reading) -> usize {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    reading.jobs.map_or(cores.min(8), usize::from)
}

/// What will come.
struct Expectation {
    totals: Totals,
    histories: u64,
}

/// Counts what will come, so that the time left can be told.
fn look(root: &Path) -> Expectation {
    let mut expectation = Expectation {
        totals: Totals::default(),
        histories: 0,
    };
    let mut tree = Tree::new(root);
    while let Some(step) = tree.next() {
        match step {
            Step::Enter(place) if place.full.file_name() == Some("ascmhl".as_ref()) => {
                tree.pass_over();
            }
            Step::Enter(place) => {
                expectation.histories += u64::from(load::has_history(&place.full));
            }
            Step::File(place) => {
                expectation.totals.files += 1;
                expectation.totals.bytes += place.metadata.map_or(0, |metadata| metadata.len());
            }
            Step::Leave | Step::Odd(..) => {}
        }
    }
    expectation
}

/// The folder and the histories in it and below, outermost first, with their places below the folder.
fn histories_below(root: &Path) -> Vec<(String, PathBuf)> {
    let mut found = Vec::new();
    let mut tree = Tree::new(root);
    while let Some(step) = tree.next() {
        if let Step::Enter(place) = step {
            if place.full.file_name() == Some("ascmhl".as_ref()) {
                tree.pass_over();
            } else if let Some(path) = place.text().filter(|_| load::has_history(&place.full)) {
                found.push((path.to_owned(), place.full.clone()));
            }
        }
    }
    found
}
