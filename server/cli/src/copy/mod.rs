//! `waybill copy`: reads a card once, writes it to every destination at the same time, reads each copy back from its
//! medium, and only then gives it its name. Stopped, killed or pulled out, the same command goes on where it was.

mod account;
mod buffers;
mod card;
mod checking;
mod destination;
mod device;
mod ending;
mod engine;
mod events;
mod journal;
mod medium;
mod names;
mod paper;
mod reading;
mod receipt;
mod receipt_pdf;
mod room;
mod sending;
mod times;
mod verifying;
mod writing;

use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use uuid::Uuid;
use waybill_domain::footage::roll::RollName;
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::Totals;

use crate::args::{Copy, CopyNow, CopyThen};
use crate::exit::{Exit, Failure};
use crate::output::{Output, bytes_text, count_text, grouped};
use crate::read::Signals;
use crate::scan::now;
use crate::{folders, pictures, run as command};
use account::{Account, Fault};
use card::Card;
use destination::{Destination, RollFolder};
use engine::Target;
use journal::Journal;
use names::There;
pub use receipt::{FilePart, Receipt, write_whole};
use times::{Pace, Rates};

/// A copy that was checked and may begin.
struct Plan<'a> {
    args: &'a CopyNow,
    card: Card,
    roll: RollName,
    kinds: Vec<HashKind>,
    destinations: Vec<Destination>,
    state: PathBuf,
    id: Uuid,
    started: DateTime<Utc>,
}

/// `waybill copy` and `waybill copy send`.
pub fn run(args: &Copy, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    match &args.then {
        Some(CopyThen::Send(args)) => sending::run(args, signals, output),
        None => copy_and_send(&args.copy, signals, output),
    }
}

fn copy_and_send(args: &CopyNow, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    if !args.drive.is_empty() && args.drive.len() != args.to.len() {
        let folders = args.to.iter().map(|folder| folder.display().to_string());
        let message = sending::one_label_for_each(folders);
        return Err(Failure::new(Exit::Usage, message));
    }
    sending::check_labels(&args.drive)?;
    // asked before hours of copying: is the server there, may we, and how are rolls named
    let place = command::place(
        args.to_server.as_ref(),
        args.series.as_deref(),
        signals,
        output,
    )?;
    let pattern = command::pattern_text(args.roll_pattern.as_deref(), place.as_ref())?;
    let (receipt, path) = copy(args, &pattern, signals, output)?;
    let later = format!("`waybill copy send {}`", path.display());
    let sent = match &place {
        Some((api, series)) => sending::send(&receipt, &receipt.labels()?, series, api, output),
        None => Ok(()),
    };
    let sent = sent.map_err(|failure| {
        let message = format!("{failure} The copies are made; {later} tells the server later.");
        Failure::new(failure.exit, message)
    });
    let pictured = match (args.no_pictures || signals.stopped(), &place, &sent) {
        (true, ..) => Ok(()),
        (_, Some(place), Ok(())) => {
            let (state, stop) = (state(args)?, &signals.stop);
            pictures::send_of_copy(&receipt, &state, Some(&later), place, stop, output)
        }
        _ => pictures::keep_of_copy(&receipt, &state(args)?, &later, &signals.stop, output),
    };
    sent?;
    pictured?;
    Ok(ending::exit(&receipt))
}

fn state(args: &CopyNow) -> Result<PathBuf, Failure> {
    args.state.clone().map_or_else(folders::copies, Ok)
}

fn copy(
    args: &CopyNow,
    pattern: &str,
    signals: &Signals,
    output: &Output,
) -> Result<(Receipt, PathBuf), Failure> {
    let plan = plan(args, pattern)?;
    let there = look(&plan)?;
    room::check(&plan.card, &plan.destinations, &there)?;
    let journal = Journal::open(&plan.state, &plan.card.root.path, &plan.roll.name)
        .map_err(Failure::writing(format!(
            "What is kept in {}",
            plan.state.display()
        )))?
        .ok_or_else(|| {
            let message =
                "This card is being copied under this name by another run; wait for it or stop it.";
            Failure::new(Exit::BadData, message)
        })?;
    plan.announce(&there, output);
    plan.copy(there, journal, signals, output)
}

fn plan<'a>(args: &'a CopyNow, pattern: &str) -> Result<Plan<'a>, Failure> {
    if let Some(drive) = args.without_to.first() {
        let drive = drive.display();
        let message = format!(
            "What is {drive} for? Each drive stands after a --to of its own: --to {drive}. Nothing was copied."
        );
        return Err(Failure::new(Exit::Usage, message));
    }
    let card = Card::list(args.card.as_deref().unwrap_or(Path::new(".")))?;
    let own = card.root.name();
    let name = args.roll.as_deref().unwrap_or(&own);
    let parsed = command::roll_pattern(pattern)?;
    let roll = names::roll_name(name, &parsed, pattern, args.roll.is_none())?;
    let destinations = args.to.iter().enumerate();
    let destinations = destinations
        .map(|(number, folder)| Destination::open(folder, args.drive.get(number).cloned()));
    let destinations = destinations.collect::<Result<Vec<_>, _>>()?;
    room::check_places(&card, &roll.name, &destinations)?;
    Ok(Plan {
        args,
        card,
        roll,
        kinds: command::kinds(&args.hash),
        destinations,
        state: state(args)?,
        id: Uuid::now_v7(),
        started: now(),
    })
}

/// What every destination has under the name; nothing is written before all of them were asked.
fn look(plan: &Plan<'_>) -> Result<Vec<There>, Failure> {
    let destinations = plan.destinations.iter();
    destinations
        .map(|destination| names::look(destination, &plan.roll.name, &plan.card))
        .collect()
}

impl Plan<'_> {
    fn totals(&self) -> Totals {
        Totals {
            files: self.card.files.len() as u64,
            bytes: self.card.bytes,
            skipped: self.card.skipped.len() as u64,
        }
    }

    /// Says what will be done, how long it takes, and what a person should know before.
    fn announce(&self, there: &[There], output: &Output) {
        output.say(&format!(
            "{}, {}, to {} as {}.",
            count_text(self.card.files.len() as u64, "file", "files"),
            bytes_text(self.card.bytes),
            count_text(self.destinations.len() as u64, "drive", "drives"),
            self.roll.name,
        ));
        for group in room::same_device(&self.destinations) {
            output.say(&format!(
                "{} are on one device. What hits it hits all of them: together they are one copy.",
                self.names_of(&group)
            ));
        }
        let destinations = self.destinations.iter();
        for destination in destinations.filter(|one| one.device.is_same(&self.card.device)) {
            output.say(&format!(
                "{} is on the card's own device: what hits the card hits this copy too.",
                destination.shown
            ));
        }
        for skipped in &self.card.skipped {
            output.say(&format!(
                "Not copied: {}: {}.",
                skipped.path, skipped.detail
            ));
        }
        let all = self.card.files.len();
        for (destination, there) in self.destinations.iter().zip(there) {
            if !there.files.is_empty() {
                output.say(&format!(
                    "{} has {} of {} already. They are read and compared, and not written again.",
                    destination.shown,
                    grouped(there.files.len() as u64),
                    count_text(all as u64, "file", "files"),
                ));
            }
        }
        if there.iter().any(|there| there.files.len() < all) {
            let estimate = Rates::read(&self.state).estimate(self.card.bytes, &self.destinations);
            output.say(&estimate);
        }
    }

    fn names_of(&self, group: &[usize]) -> String {
        let names = group
            .iter()
            .map(|one| self.destinations[*one].shown.as_str());
        names.collect::<Vec<_>>().join(" and ")
    }

    fn copy(
        &self,
        there: Vec<There>,
        journal: Journal,
        signals: &Signals,
        output: &Output,
    ) -> Result<(Receipt, PathBuf), Failure> {
        let mut pace = Pace::new(output, &self.destinations, self.totals());
        for (number, there) in there.iter().enumerate() {
            let bytes = there.files.iter().map(|file| self.card.files[*file].size);
            let bytes: u64 = bytes.sum();
            pace.expect(
                number,
                self.card.bytes.saturating_sub(bytes),
                self.card.bytes,
            );
        }
        let tell = |fault: &Fault| {
            let about = match (fault.destination, &fault.path) {
                (Some(one), Some(path)) => format!("{} on {}", path, self.destinations[one].shown),
                (Some(one), None) => self.destinations[one].shown.clone(),
                (None, path) => path.clone().unwrap_or_default(),
            };
            pace.note(&about, &fault.reason);
        };
        let count = self.destinations.len();
        let mut account = Account::new(&self.card, &self.kinds, count, journal, &tell);
        let folders = self.check_there(&mut account, &there, signals, &pace)?;
        pace.begin();
        let folders = self.enter(&mut account, folders, &there)?;
        let targets = self.targets(&account, &folders, &there);
        engine::copy(&mut account, &targets, &self.kinds, signals, &|| {
            pace.tick()
        });
        pace.clear();
        if signals.stopped() {
            return Err(self.stopped(&account));
        }
        if !self.card.root.is_there() {
            return Err(self.card_is_gone(&account));
        }
        for (path, reason) in self.card.changes() {
            account.fault(None, Some(&path), reason.to_owned());
        }
        self.keep_rates(&pace);
        self.end(account, signals, output)
    }

    /// Holds the folders that are there and reads what is in them.
    fn check_there(
        &self,
        account: &mut Account<'_>,
        there: &[There],
        signals: &Signals,
        pace: &Pace<'_>,
    ) -> Result<Vec<Option<RollFolder>>, Failure> {
        let enter = |(destination, there): (&Destination, &There)| {
            let has_files = !there.files.is_empty();
            has_files
                .then(|| destination.enter(&self.roll.name))
                .transpose()
        };
        let both = self.destinations.iter().zip(there);
        let folders = both.map(enter).collect::<Result<Vec<_>, _>>()?;
        let held: Vec<checking::Held<'_>> = folders
            .iter()
            .enumerate()
            .filter_map(|(number, folder)| {
                let folder = folder.as_ref()?;
                let files = there[number].files.as_slice();
                Some((number, &self.destinations[number], folder, files))
            })
            .collect();
        checking::check(account, &held, &self.kinds, signals, &|| pace.tick())?;
        if signals.stopped() {
            return Err(self.stopped(account));
        }
        Ok(folders)
    }

    /// Makes and holds the roll's folder everywhere. A destination that cannot have it is a fault of its own.
    fn enter(
        &self,
        account: &mut Account<'_>,
        folders: Vec<Option<RollFolder>>,
        there: &[There],
    ) -> Result<Vec<Option<RollFolder>>, Failure> {
        let mut entered = Vec::new();
        for (number, known) in folders.into_iter().enumerate() {
            let destination = &self.destinations[number];
            let folder = match known {
                Some(folder) => Ok(folder),
                None => destination.enter(&self.roll.name),
            };
            let prepared = folder.and_then(|folder| {
                let mut parts = there[number].parts.iter();
                let writing = Failure::writing(folder.path.display());
                parts
                    .try_for_each(|part| folder.remove(part))
                    .and_then(|()| folder.make_folders(&self.card.folders))
                    .map_err(writing)?;
                Ok(folder)
            });
            match prepared {
                Ok(folder) => entered.push(Some(folder)),
                // somebody else is at work there
                Err(failure) if failure.exit == Exit::BadData => return Err(failure),
                Err(failure) => {
                    let failed = &destination.progress.failed;
                    failed.store(true, std::sync::atomic::Ordering::Relaxed);
                    account.take(events::Event::Failed {
                        destination: number,
                        reason: failure.message,
                    });
                    entered.push(None);
                }
            }
        }
        Ok(entered)
    }

    /// What each destination is still to take: everything that is not there.
    fn targets<'f>(
        &'f self,
        account: &Account<'_>,
        folders: &'f [Option<RollFolder>],
        there: &[There],
    ) -> Vec<Target<'f>> {
        let folders = folders.iter().enumerate();
        let entered = folders.filter_map(|(number, folder)| Some((number, folder.as_ref()?)));
        entered
            .filter(|(number, _)| !account.failed[*number])
            .map(|(number, folder)| {
                let mut wanted = vec![true; self.card.files.len()];
                for file in &there[number].files {
                    wanted[*file] = false;
                }
                Target {
                    number,
                    destination: &self.destinations[number],
                    folder,
                    wanted,
                }
            })
            .collect()
    }

    fn verified_everywhere(&self, account: &Account<'_>) -> u64 {
        let files = account.files.iter();
        let everywhere = files.filter(|file| file.copies.iter().all(Option::is_some));
        everywhere.count() as u64
    }

    fn stopped(&self, account: &Account<'_>) -> Failure {
        let message = format!(
            "Stopped. {} of {} stand verified on every drive; the same command goes on from there.",
            grouped(self.verified_everywhere(account)),
            count_text(self.card.files.len() as u64, "file", "files"),
        );
        Failure::new(Exit::Stopped, message)
    }

    fn card_is_gone(&self, account: &Account<'_>) -> Failure {
        let message = format!(
            "The card at {} is not there any more. {} of {} stand verified on every drive; connect it again and give \
             the same command.",
            self.card.root.path.display(),
            grouped(self.verified_everywhere(account)),
            count_text(self.card.files.len() as u64, "file", "files"),
        );
        Failure::new(Exit::Io, message)
    }

    /// Remembers how quick the drives were: R47's rate, at which writing and reading back take twice the time.
    fn keep_rates(&self, pace: &Pace<'_>) {
        let written = |one: &Destination| {
            let written = &one.progress.written;
            written.load(std::sync::atomic::Ordering::Relaxed)
        };
        for destination in &self.destinations {
            let bytes = written(destination);
            // too little says more about starting than about the drive
            if bytes >= 1 << 30 {
                let rate = 2.0 * bytes as f64 / pace.seconds();
                Rates::read(&self.state).keep(&self.state, &destination.device, rate);
            }
        }
    }
}
