//! Verifying a folder against a list without a history: a plain one, or the server's catalogue.

use std::cell::RefCell;
use std::collections::HashSet;
use std::path::Path;

use chrono::{DateTime, Utc};
use waybill_domain::hash_list::compare::{Judgement, Mismatch, Unproven};
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::history::{Known, KnownValue};
use waybill_domain::hash_list::ignore::{DEFAULTS, Ignore};
use waybill_domain::hash_list::renames::{Candidate, Lost, find_renames};
use waybill_domain::hash_list::report::{Verdict, texts};
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::{SkipReason, Totals};

use super::expected::{Expected, FlatList};
use super::going_on::Readings;
use super::ordered::{self, Next};
use super::reading::{KindSets, Outcome, Readers, ToRead};
use super::telling::{Teller, shown_bytes};
use super::tree::{Place, Step, Tree};
use crate::exit::{Exit, Failure};
use crate::read::Signals;
use crate::scan::Root;
use crate::walk::SYSTEM_NAMES;

/// What a flat run is asked to do.
pub struct FlatOptions<'a> {
    pub ignore: &'a [String],
    pub jobs: usize,
    /// The list's own file, should it lie in the folder.
    pub own: Option<&'a Path>,
}

/// What reading a file gave.
pub struct Found {
    pub size: u64,
    pub digests: Vec<Digest>,
    /// The end of the reading.
    pub at: DateTime<Utc>,
}

/// A file that is not in the list.
struct Unlisted {
    path: Vec<u8>,
    found: Found,
}

/// Tells the answer about a place, and notes it for the server where one is to know.
fn tell(
    teller: &mut Teller<'_>,
    path: &[u8],
    verdict: Verdict,
    found: Option<&Found>,
) -> Result<(), Failure> {
    if let Some(keeping) = &mut teller.keeping {
        let noted = keeping.note(path, &verdict, found);
        noted.map_err(Failure::writing("The result of this verification"))?;
    }
    teller.file(shown_bytes(path), verdict)
}

/// Verifies, and tells everything but the end.
pub fn run<'t>(
    mut list: FlatList,
    options: &FlatOptions<'_>,
    root: &Root,
    signals: &Signals,
    mut teller: Teller<'t>,
    readings: &RefCell<Readings>,
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
    let all_kinds = list.all_kinds();
    let mut sets = KindSets::default();
    let list = RefCell::new(list);
    let mut tree = Tree::new(&root.path);
    let state = RefCell::new((teller, Vec::<Unlisted>::new(), Totals::default(), 0_u64));
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
                    let kinds = digests.map(Digest::kind);
                    let kinds: Vec<HashKind> = kinds.chain(list.kinds.iter().copied()).collect();
                    let kinds = if expected.is_none() {
                        &all_kinds
                    } else {
                        &kinds
                    };
                    let to_read = ToRead {
                        full: place.full.clone(),
                        kinds: sets.get(kinds.iter().copied()),
                        known: readings.borrow_mut().known(&place.path),
                    };
                    return Some(Next::Work((place, None), to_read));
                }
            }
        }
    };
    let take = |(place, odd): (Place, Option<(SkipReason, String)>), outcome: Option<Outcome>| {
        readings.borrow_mut().note(&place.path, outcome.as_ref())?;
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
                let found = Found { size, digests, at };
                match list.files.get_mut(&place.path) {
                    Some(expected) => {
                        expected.found = true;
                        let verdict = verdict(expected, &found);
                        tell(teller, &place.path, verdict, Some(&found))
                    }
                    None => {
                        let path = place.path;
                        unlisted.push(Unlisted { path, found });
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
        readings.borrow_mut().tick();
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
        let message = "Stopped. The same command goes on from there.";
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
            return tell(teller, &place.path, verdict, None);
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
            let mut paths: Vec<&Vec<u8>> = below
                .map(|(path, file)| {
                    file.found = true;
                    path
                })
                .collect();
            paths.sort_unstable();
            for path in paths {
                tell(teller, path, verdict(&detail), None)?;
            }
        }
    }
    tell(teller, &place.path, verdict(&detail), None)
}

fn verdict(expected: &Expected, found: &Found) -> Verdict {
    let (size, at) = (found.size, found.at);
    let recorded_size = expected.size;
    match judge(expected, size, &found.digests) {
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
            hashes: texts(&found.digests),
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
    let named: Vec<(&str, &Found)> = unlisted
        .iter()
        .filter_map(|file| Some((std::str::from_utf8(&file.path).ok()?, &file.found)))
        .collect();
    let candidates: Vec<Candidate<'_>> = named
        .iter()
        .map(|(path, found)| Candidate {
            path,
            size: found.size,
            digests: &found.digests,
            since: None,
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
        let found = named[rename.candidate].1;
        tell(teller, new.as_bytes(), verdict, Some(found))?;
    }
    let from: HashSet<&[u8]> = from.into_iter().collect();
    let to: HashSet<&[u8]> = to.into_iter().collect();
    if teller.counts.verified == 0 {
        hint_at_another_root(&missing, root, teller)?;
    }
    for path in missing.iter().filter(|path| !from.contains(*path)) {
        tell(teller, path, Verdict::Missing { instead: None }, None)?;
    }
    for file in unlisted
        .iter()
        .filter(|file| !to.contains(file.path.as_slice()))
    {
        let verdict = Verdict::New {
            size: file.found.size,
            hashes: texts(&file.found.digests),
        };
        tell(teller, &file.path, verdict, Some(&file.found))?;
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
