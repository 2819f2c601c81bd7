//! Verifying a drive's folder against what the server's catalogue knows of it, and sending what was found.

use std::cell::RefCell;

use serde::Deserialize;
use uuid::Uuid;
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::report::Against;
use waybill_domain::hashes::HashKind;
use waybill_domain::verification::{ExpectedFile, VerificationStart};

use super::expected::{Expected, FlatList};
use super::flat::{self, FlatOptions};
use super::going_on::Readings;
use super::sending::{self, Shelf};
use super::telling::Teller;
use super::{begin, jobs, look, place_of_state};
use crate::api::{Api, find_id};
use crate::args::Verify;
use crate::commands;
use crate::exit::{Exit, Failure};
use crate::output::{Output, Progress};
use crate::read::Signals;
use crate::scan::Root;

/// The most folders tried or named when looking for the scanned one.
const FOLDERS: usize = 8;

/// A page of what the catalogue knows.
#[derive(Deserialize)]
struct Page {
    items: Vec<ExpectedFile>,
    next: Option<String>,
}

/// A folder of a drive as the server knows it.
struct Place<'a> {
    api: Api<'a>,
    series: String,
    drive: String,
    label: &'a str,
    /// The scanned folder's name, and the names below it down to the verified folder.
    root: String,
}

/// `waybill verify` of a drive.
pub fn verify(
    args: &Verify,
    label: &str,
    root: &Root,
    signals: &Signals,
    output: &Output,
) -> Result<Exit, Failure> {
    let place = Place::find(args, label, root, signals, output)?;
    let (state, name) = place_of_state(&args.going_on, &format!("{label} {}", place.drive), root)?;
    let readings = RefCell::new(Readings::open(&state, &name, args.going_on.afresh, output)?);
    let shelf = Shelf::new(&state, &name);
    let keeping_failed = || Failure::writing("The result of this verification");
    if let Some(kept) = shelf.kept().map_err(Failure::reading("A kept result"))? {
        output.say(&format!(
            "The result of {} was not sent yet and is sent now. Give the command again to verify anew.",
            kept.start.started.format("%-d %b %Y, %H:%M (UTC)")
        ));
        sending::send(&kept, place.at(), &place.api, output)?;
        readings.into_inner().end()?;
        return Ok(kept.exit);
    }
    let list = place.expected(&args.reading.hash)?;
    let totals = look(&root.path).totals;
    if totals.files == 0 {
        let message = format!(
            "There is no file in {}. Is it the right folder, and is the drive mounted?",
            args.folder.display()
        );
        return Err(Failure::new(Exit::NoInput, message));
    }
    let begun = begin(root, Against::Catalogue, Some(label.to_owned()));
    let start = VerificationStart {
        id: Uuid::now_v7(),
        root: place.root.clone(),
        tool: begun.tool.clone(),
        machine: crate::machine::name(),
        started: begun.started,
    };
    let progress = Progress::new(output, Some(totals));
    let mut teller = Teller::new(output, progress, args.report.as_deref(), begun)?;
    if !args.no_record {
        teller.keeping = Some(shelf.begin(start).map_err(keeping_failed())?);
    }
    let options = FlatOptions {
        ignore: &args.reading.ignore,
        jobs: jobs(&args.reading),
        own: None,
    };
    let mut teller = flat::run(list, &options, root, signals, teller, &readings)?;
    let keeping = teller.keeping.take();
    let counts = teller.counts;
    let exit = teller.end(&args.folder.display().to_string())?;
    let readings = readings.into_inner();
    let Some(keeping) = keeping else {
        readings.end()?;
        return Ok(exit);
    };
    if counts.verified + counts.changed + counts.renamed == 0 {
        output.say(
            "Not one recorded file is here, so nothing was sent. Is it the right drive, and the right folder?",
        );
        readings.end()?;
        return Ok(Exit::CouldNotTell);
    }
    shelf.finish(keeping, exit).map_err(keeping_failed())?;
    readings.end()?;
    let kept = shelf.kept().map_err(keeping_failed())?;
    let kept = kept.ok_or_else(|| keeping_failed()(std::io::ErrorKind::NotFound.into()))?;
    match sending::send(&kept, place.at(), &place.api, output) {
        Ok(()) => Ok(exit),
        Err(mut failure) => {
            failure.message += " The result is kept; the same command sends it.";
            Err(failure)
        }
    }
}

impl<'a> Place<'a> {
    fn find(
        args: &Verify,
        label: &'a str,
        root: &Root,
        signals: &'a Signals,
        output: &'a Output,
    ) -> Result<Self, Failure> {
        let (Some(server), Some(series)) = (&args.server()?, &args.series) else {
            let message = "Which server and series? Give --to URL and --series, or set WAYBILL_SERVER and WAYBILL_SERIES.";
            return Err(Failure::new(Exit::Usage, message));
        };
        let api = commands::signed_in(server, &signals.stop, output)?;
        let series = commands::series_id(&api, series)?;
        let drives = api.get(
            &["series", &series, "drives"],
            &[("q", label), ("limit", "500")],
        )?;
        let drive = find_id(&drives, label, "drive", &["label"])?;
        let mut place = Self {
            api,
            series,
            drive,
            label,
            root: String::new(),
        };
        place.root = place.scanned_folder(args, root)?;
        Ok(place)
    }

    fn at(&self) -> (&str, &str) {
        (&self.series, &self.drive)
    }

    fn page(&self, root: Option<&str>, after: &str, limit: &str) -> Result<Page, Failure> {
        let path = ["series", &self.series, "drives", &self.drive, "expected"];
        let mut query = vec![("after", after), ("limit", limit)];
        query.extend(root.map(|root| ("root", root)));
        self.api.get(&path, &query)?.json()
    }

    /// The folder's name in the catalogue: its own, or that of a folder above and the way down from there.
    fn scanned_folder(&self, args: &Verify, root: &Root) -> Result<String, Failure> {
        let given = args.scanned_as.as_ref().map(|name| name.trim_matches('/'));
        let names: Vec<&str> = match given {
            Some(name) => vec![name],
            None => {
                let parts = root.path.components().rev();
                parts.map_while(|part| part.as_os_str().to_str()).collect()
            }
        };
        let mut name = String::new();
        for part in names.into_iter().take(FOLDERS).filter(|part| *part != "/") {
            name = match name.as_str() {
                "" => part.to_owned(),
                below => format!("{part}/{below}"),
            };
            if !self.page(Some(&name), "", "1")?.items.is_empty() {
                return Ok(name);
            }
        }
        let known = self.known_folders()?;
        let known = match known.as_slice() {
            [] => "no file at all. `waybill scan` tells it what is there".to_owned(),
            known => format!(
                "these folders: {}. --scanned-as NAME says which of them this is",
                known.join(", ")
            ),
        };
        let message = format!(
            "The server knows nothing below {} on the drive \"{}\"; it knows {known}.",
            given.map_or_else(|| root.name(), str::to_owned),
            self.label
        );
        Err(Failure::new(Exit::NoInput, message))
    }

    /// Names of scanned folders.
    fn known_folders(&self) -> Result<Vec<String>, Failure> {
        let (mut known, mut after) = (Vec::new(), String::new());
        while known.len() < FOLDERS {
            let page = self.page(None, &after, "1")?;
            let first = page.items.into_iter().next();
            let Some(name) = first.and_then(|file| file.path.into_iter().next()) else {
                break;
            };
            // the character after the slash: beyond all that lies in the folder
            after = format!("{name}0");
            known.push(name);
        }
        Ok(known)
    }

    /// All that should be there, to be proved by the types asked for and the one that every file has.
    fn expected(&self, asked: &[HashKind]) -> Result<FlatList, Failure> {
        let mut list = FlatList {
            name: format!("The catalogue's list of \"{}\"", self.label),
            kinds: HashKind::ALL
                .into_iter()
                .filter(|kind| *kind == HashKind::Xxh128 || asked.contains(kind))
                .collect(),
            ..FlatList::default()
        };
        let mut after = String::new();
        loop {
            let page = self.page(Some(&self.root), &after, "5000")?;
            for file in page.items {
                let path = file.path.join("/");
                let recorded = Digest::all(&file.hashes).map_err(|error| {
                    let message =
                        format!("What the server knows of {path} makes no sense: {error}.");
                    Failure::new(Exit::BadData, message)
                })?;
                let is_wanted = |digest: &Digest| list.kinds.contains(&digest.kind());
                let (mut wanted, others): (Vec<_>, Vec<_>) =
                    recorded.into_iter().partition(is_wanted);
                if wanted.is_empty() {
                    wanted = others;
                }
                let expected = Expected::new(file.size, wanted);
                list.files.insert(path.into_bytes(), expected);
            }
            match page.next {
                Some(next) => after = next,
                None => return Ok(list),
            }
        }
    }
}
