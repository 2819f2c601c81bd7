//! Verifying a folder against a list without a history: a plain one, or the server's catalogue.

use std::collections::HashMap;
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use chrono::{DateTime, Utc};
use waybill_domain::hash_list::compare::{Judgement, Mismatch, Unproven};
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::history::{Known, KnownValue};
use waybill_domain::hash_list::ignore::{DEFAULTS, Ignore};
use waybill_domain::hash_list::plain::{kind_of_name, read_plain};
use waybill_domain::hash_list::renames::{Candidate, Lost, find_renames};
use waybill_domain::hash_list::report::{Verdict, texts};
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::{SkipReason, Totals};

use super::history_run::shown_bytes;
use super::ordered::{self, Next};
use super::reading::{KindSets, Outcome, Readers, ToRead};
use super::telling::Teller;
use super::tree::{Place, Step, Tree};
use crate::exit::{Exit, Failure};
use crate::read::Signals;
use crate::scan::Root;
use crate::walk::SYSTEM_NAMES;

/// What a file should be.
#[derive(Debug, Default)]
pub struct Expected {
    pub size: Option<u64>,
    /// Every one of these must hold; each by one of its digests.
    pub all_of: Vec<Vec<Digest>>,
    found: bool,
}

/// What a folder should hold.
#[derive(Debug, Default)]
pub struct FlatList {
    pub files: HashMap<Vec<u8>, Expected>,
    /// What it is called in the account.
    pub name: String,
    /// What is wrong with it, in sentences.
    pub faults: Vec<String>,
}

impl FlatList {
    /// Reads a plain list.
    pub fn read(path: &Path, kind: Option<HashKind>) -> Result<Self, Failure> {
        let shown = path.display().to_string();
        let file = File::open(path).map_err(Failure::reading(&shown))?;
        let metadata = file.metadata().map_err(Failure::reading(&shown))?;
        if !metadata.is_file() {
            return Err(Failure::new(
                Exit::NoInput,
                format!("{shown} is not a file."),
            ));
        }
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let kind = kind.or_else(|| kind_of_name(&name));
        let list = read_plain(BufReader::with_capacity(1 << 17, file), kind);
        let list = list.map_err(|error| {
            // a list that cannot be read says nothing about the files
            Failure::new(
                Exit::CouldNotTell,
                format!("{shown} could not be read: {error}."),
            )
        })?;
        let mut flat = Self {
            name: shown,
            ..Self::default()
        };
        for fault in list.faults {
            flat.faults.push(format!(
                "{}, line {}: {}.",
                flat.name, fault.line, fault.reason
            ));
        }
        for entry in list.entries {
            flat.files
                .entry(entry.name)
                .or_default()
                .all_of
                .push(entry.one_of);
        }
        Ok(flat)
    }

    fn kinds(&self) -> Vec<HashKind> {
        let digests = self
            .files
            .values()
            .flat_map(|expected| expected.all_of.iter().flatten());
        let mut kinds = [false; HashKind::ALL.len()];
        for digest in digests {
            kinds[HashKind::ALL
                .iter()
                .position(|kind| *kind == digest.kind())
                .unwrap_or(0)] = true;
        }
        let used = HashKind::ALL.into_iter().zip(kinds);
        used.filter_map(|(kind, used)| used.then_some(kind))
            .collect()
    }
}

/// What a flat run is asked to do.
pub struct FlatOptions<'a> {
    pub ignore: &'a [String],
    pub jobs: usize,
    /// The list's own file, should it lie in the folder.
    pub own: Option<&'a Path>,
}

/// A file that is not in the list.
struct Unlisted {
    path: Vec<u8>,
    size: u64,
    digests: Vec<Digest>,
}

/// Verifies, and tells everything but the end.
pub fn run<'t>(
    mut list: FlatList,
    options: &FlatOptions<'_>,
    root: &Root,
    signals: &Signals,
    mut teller: Teller<'t>,
) -> Result<Teller<'t>, Failure> {
    for words in std::mem::take(&mut list.faults) {
        teller.fault(&list.name, words, true, None)?;
    }
    if list.files.is_empty() {
        let words = format!("{} lists no file that could be compared.", list.name);
        teller.fault(&list.name, words, true, None)?;
    }
    let systems = DEFAULTS.iter().chain(SYSTEM_NAMES.iter()).copied();
    let ignore = Ignore::new(systems.chain(options.ignore.iter().map(String::as_str)));
    let all_kinds = list.kinds();
    let mut sets = KindSets::default();
    let list = std::cell::RefCell::new(list);
    let mut tree = Tree::new(&root.path);
    let state = std::cell::RefCell::new((teller, Vec::<Unlisted>::new(), Totals::default(), 0_u64));
    let next = || {
        loop {
            match tree.next()? {
                Step::Enter(_) | Step::Leave => {}
                Step::Odd(place, reason, detail) => {
                    return Some(Next::Ready((place, Some((reason, detail)))));
                }
                Step::File(place) => {
                    let list = list.borrow();
                    let expected = list.files.get(&place.path);
                    let is_left_out = place
                        .text()
                        .is_some_and(|path| ignore.leaves_out_below(path, false))
                        || options.own.is_some_and(|own| own == place.full);
                    if expected.is_none() && is_left_out {
                        state.borrow_mut().3 += 1;
                        continue;
                    }
                    let digests = expected
                        .into_iter()
                        .flat_map(|expected| expected.all_of.iter().flatten());
                    let kinds: Vec<HashKind> = digests.map(Digest::kind).collect();
                    let kinds = if expected.is_none() {
                        &all_kinds
                    } else {
                        &kinds
                    };
                    let to_read = ToRead {
                        full: place.full.clone(),
                        kinds: sets.get(kinds.iter().copied()),
                    };
                    return Some(Next::Work((place, None), to_read));
                }
            }
        }
    };
    let take = |(place, odd): (Place, Option<(SkipReason, String)>), outcome: Option<Outcome>| {
        let mut state = state.borrow_mut();
        let (teller, unlisted, totals, left_out) = &mut *state;
        let mut list = list.borrow_mut();
        if let Some((reason, detail)) = odd {
            let is_left_out = place
                .text()
                .is_some_and(|path| ignore.leaves_out_below(path, true));
            if is_left_out && !list.files.contains_key(&place.path) {
                *left_out += 1;
                return Ok(());
            }
            return odd_one(&mut list, teller, root, &place, reason, detail);
        }
        match outcome {
            Some(Outcome::Read {
                size, digests, at, ..
            }) => {
                totals.files += 1;
                totals.bytes += size;
                match list.files.get_mut(&place.path) {
                    Some(expected) => {
                        expected.found = true;
                        let verdict = verdict(expected, size, &digests, at);
                        teller.file(shown_bytes(&place.path), verdict)
                    }
                    None => {
                        unlisted.push(Unlisted {
                            path: place.path,
                            size,
                            digests,
                        });
                        Ok(())
                    }
                }
            }
            Some(Outcome::Failed(reason)) => odd_one(
                &mut list,
                teller,
                root,
                &place,
                SkipReason::Unreadable,
                reason,
            ),
            Some(Outcome::Stopped) | None => Ok(()),
        }
    };
    let tick = || {
        let state = state.borrow();
        state.0.progress.tick(state.2, signals);
    };
    ordered::run(
        options.jobs,
        signals,
        next,
        || Readers::new(signals),
        |readers, file: ToRead| readers.read(&file),
        take,
        tick,
    )?;
    if signals.stopped() {
        let message = "Stopped. Give the same command again.";
        return Err(Failure::new(Exit::Stopped, message));
    }
    let (mut teller, unlisted, _, left_out) = state.into_inner();
    teller.counts.left_out = left_out;
    let list = list.into_inner();
    lost(&list, &unlisted, root, &mut teller)?;
    Ok(teller)
}

fn odd_one(
    list: &mut FlatList,
    teller: &mut Teller<'_>,
    root: &Root,
    place: &Place,
    reason: SkipReason,
    detail: String,
) -> Result<(), Failure> {
    if !reason.is_failure() {
        teller.counts.passed_over += 1;
        if let Some(expected) = list.files.get_mut(&place.path) {
            expected.found = true;
            let verdict = Verdict::Missing {
                instead: Some(detail),
            };
            return teller.file(shown_bytes(&place.path), verdict);
        }
        return Ok(());
    }
    if !root.is_there() {
        let message = format!(
            "The drive at {} is not there any more; connect it again and give the same command.",
            root.path.display()
        );
        return Err(Failure::new(Exit::Io, message));
    }
    let verdict = |reason: &str| Verdict::Unreadable {
        reason: reason.to_owned(),
    };
    match list.files.get_mut(&place.path) {
        Some(expected) => expected.found = true,
        None => {
            // what is listed below a folder that cannot be looked into is not missing, it is not known
            let mut folder = place.path.clone();
            folder.push(b'/');
            let all = place.path.is_empty();
            let below = list.files.iter_mut();
            let below =
                below.filter(|(path, file)| !file.found && (all || path.starts_with(&folder)));
            let mut names: Vec<String> = below
                .map(|(path, file)| {
                    file.found = true;
                    shown_bytes(path)
                })
                .collect();
            names.sort_unstable();
            for name in names {
                teller.file(name, verdict(&detail))?;
            }
        }
    }
    teller.file(shown_bytes(&place.path), verdict(&detail))
}

fn verdict(expected: &Expected, size: u64, digests: &[Digest], at: DateTime<Utc>) -> Verdict {
    let recorded_size = expected.size;
    match judge(expected, size, digests) {
        Judgement::Changed {
            mismatches,
            agreeing,
        } => Verdict::Changed {
            size,
            recorded_size,
            mismatches,
            agreeing,
            at,
        },
        Judgement::Unproven(reason) => Verdict::Unproven { reason },
        Judgement::Verified | Judgement::New => Verdict::Verified {
            size,
            hashes: texts(digests),
            at,
            recorded_size: recorded_size.filter(|recorded| *recorded != size),
        },
    }
}

fn judge(expected: &Expected, size: u64, digests: &[Digest]) -> Judgement {
    let (mut mismatches, mut agreeing) = (Vec::new(), Vec::new());
    for one_of in &expected.all_of {
        if let Some(same) = one_of.iter().find(|digest| digests.contains(digest)) {
            agreeing.push(same.kind());
            continue;
        }
        for recorded in one_of {
            let found = digests
                .iter()
                .find(|digest| digest.kind() == recorded.kind());
            mismatches.extend(found.map(|found| Mismatch {
                hash: recorded.kind(),
                recorded: recorded.clone(),
                found: found.clone(),
                generation: 0,
            }));
        }
    }
    let other_size = expected.size.is_some_and(|recorded| recorded != size);
    if !mismatches.is_empty() || (agreeing.is_empty() && other_size) {
        return Judgement::Changed {
            mismatches,
            agreeing,
        };
    }
    match (agreeing.is_empty(), expected.all_of.is_empty()) {
        (false, _) => Judgement::Verified,
        (true, true) => Judgement::Unproven(Unproven::NoHash),
        (true, false) => Judgement::Unproven(Unproven::NothingInCommon),
    }
}

/// Tells what is listed and was not found, what was found under another name, and what is not listed.
fn lost(
    list: &FlatList,
    unlisted: &[Unlisted],
    root: &Root,
    teller: &mut Teller<'_>,
) -> Result<(), Failure> {
    let mut missing: Vec<&[u8]> = list
        .files
        .iter()
        .filter(|(_, expected)| !expected.found)
        .map(|(path, _)| path.as_slice())
        .collect();
    missing.sort_unstable();
    let known: Vec<(&str, Known)> = missing
        .iter()
        .filter_map(|path| Some((std::str::from_utf8(path).ok()?, known(&list.files[*path]))))
        .collect();
    let lost: Vec<Lost<'_>> = known
        .iter()
        .map(|(path, known)| Lost { path, known })
        .collect();
    let candidates: Vec<Candidate<'_>> = unlisted
        .iter()
        .filter_map(|file| {
            Some(Candidate {
                path: std::str::from_utf8(&file.path).ok()?,
                size: file.size,
                digests: &file.digests,
                since: None,
            })
        })
        .collect();
    let renames = find_renames(&lost, &candidates);
    let (mut from, mut to) = (Vec::new(), Vec::new());
    for rename in &renames {
        let (old, new) = (lost[rename.lost].path, candidates[rename.candidate].path);
        from.push(old.as_bytes());
        to.push(new.as_bytes());
        let verdict = Verdict::Renamed {
            from: shown_bytes(old.as_bytes()),
            recorded: false,
            normal_form_only: rename.normal_form_only,
        };
        teller.file(shown_bytes(new.as_bytes()), verdict)?;
    }
    let from: std::collections::HashSet<&[u8]> = from.into_iter().collect();
    let to: std::collections::HashSet<&[u8]> = to.into_iter().collect();
    if teller.counts.verified == 0 {
        hint_at_another_root(&missing, root, teller)?;
    }
    for path in missing.iter().filter(|path| !from.contains(*path)) {
        teller.file(shown_bytes(path), Verdict::Missing { instead: None })?;
    }
    for file in unlisted
        .iter()
        .filter(|file| !to.contains(file.path.as_slice()))
    {
        let verdict = Verdict::New {
            size: file.size,
            hashes: texts(&file.digests),
        };
        teller.file(shown_bytes(&file.path), verdict)?;
    }
    Ok(())
}

fn known(expected: &Expected) -> Known {
    let sure = expected
        .all_of
        .iter()
        .filter(|one_of| one_of.len() == 1)
        .flatten();
    Known {
        first: 1,
        last: 1,
        values: sure
            .map(|digest| KnownValue {
                digest: digest.clone(),
                generation: 1,
                trusted: true,
            })
            .collect(),
        ..Known::default()
    }
}

/// When nothing fits, the list may be one of the folder above.
fn hint_at_another_root(
    missing: &[&[u8]],
    root: &Root,
    teller: &mut Teller<'_>,
) -> Result<(), Failure> {
    let inside = format!("{}/", root.name());
    let is_above = missing.iter().take(20).any(|path| {
        let rest = path.strip_prefix(inside.as_bytes());
        rest.and_then(|rest| std::str::from_utf8(rest).ok())
            .is_some_and(|rest| root.path.join(rest).is_file())
    });
    if !is_above {
        return Ok(());
    }
    let words = format!(
        "The names in the list begin with {inside}: it is a list of the folder above {}.",
        root.path.display()
    );
    teller.fault("", words, false, None)
}
