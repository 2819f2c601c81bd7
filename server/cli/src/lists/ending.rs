//! The end of a history's folder: what was not found, what was found under another name, and the list of the
//! new generation, whole under a temporary name.

use waybill_domain::hash_list::HISTORY_FOLDER;
use waybill_domain::hash_list::compare::{Judgement, next_values};
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::folder::FolderHashes;
use waybill_domain::hash_list::model::{Creator, Head, Reference};
use waybill_domain::hash_list::names::{is_below, list_name};
use waybill_domain::hash_list::renames::{Candidate, Lost, Rename, find_renames};
use waybill_domain::hash_list::report::{HistoryLine, PairText, Verdict, texts};

use super::history_run::{Finished, Options, add, file_record, pair};
use super::scope::{Held, Open, Scope};
use super::telling::Teller;
use crate::exit::Failure;
use crate::walk::shown;

/// A lost file and where it is now.
struct Moved {
    from: String,
    to: String,
    normal_form_only: bool,
}

/// Judges what was not found and what is not recorded.
pub fn settle(options: &Options, teller: &mut Teller<'_>, open: &mut Open) -> Result<(), Failure> {
    let scope = std::rc::Rc::clone(&open.scope);
    let moved = moved(&scope, &open.held);
    let recorded = options.accept_renames && open.draft.is_some();
    for Moved {
        from,
        to,
        normal_form_only,
    } in &moved
    {
        let verdict = Verdict::Renamed {
            from: shown(scope.seen(from).as_ref()),
            recorded,
            normal_form_only: *normal_form_only,
        };
        teller.file(shown(scope.seen(to).as_ref()), verdict)?;
    }
    lost(&scope, teller, open, &moved)?;
    for held in std::mem::take(&mut open.held) {
        let moved = moved.iter().find(|moved| moved.to == held.path);
        let judgement = match (held.since, moved.filter(|_| recorded)) {
            (None, None) => Judgement::New,
            _ => Judgement::Verified,
        };
        if held.since.is_none() && moved.is_none() {
            let verdict = Verdict::New {
                size: held.size,
                hashes: texts(&held.digests),
            };
            teller.file(shown(scope.seen(&held.path).as_ref()), verdict)?;
        }
        let values = next_values(&judgement, &held.digests, held.at);
        let previous = moved.filter(|_| recorded).map(|moved| moved.from.clone());
        let record = file_record(held.path, held.size, held.modified, values, previous);
        add(open, record)?;
    }
    Ok(())
}

/// Tells of every recorded file and folder that was not found.
fn lost(
    scope: &Scope,
    teller: &mut Teller<'_>,
    open: &Open,
    moved: &[Moved],
) -> Result<(), Failure> {
    let history = scope.loaded.history.borrow();
    let from: std::collections::HashSet<&str> =
        moved.iter().map(|moved| moved.from.as_str()).collect();
    let missing = history.missing(&scope.ignore, scope.part());
    for path in missing.iter().filter(|path| !from.contains(**path)) {
        let below = |(folder, _): &&(String, String)| folder.is_empty() || is_below(path, folder);
        let verdict = match open.unlistable.iter().find(below) {
            Some((_, reason)) => Verdict::Unreadable {
                reason: reason.clone(),
            },
            None => Verdict::Missing {
                instead: open.instead.get(*path).cloned(),
            },
        };
        teller.file(shown(scope.seen(path).as_ref()), verdict)?;
    }
    let is_told = |folder: &str| missing.iter().any(|path| is_below(path, folder));
    let is_unknown = |folder: &str| {
        let mut unlistable = open.unlistable.iter();
        unlistable.any(|(above, _)| above.is_empty() || above == folder || is_below(folder, above))
    };
    let in_part = |folder: &str| scope.part().is_none_or(|part| is_below(folder, part));
    let mut folders: Vec<&str> = history.folders.keys().map(|path| &**path).collect();
    folders.retain(|folder| in_part(folder) && !scope.ignore.leaves_out_below(folder, true));
    folders.sort_unstable();
    for folder in folders {
        if !is_told(folder) && !is_unknown(folder) {
            teller.file(shown(scope.seen(folder).as_ref()), Verdict::MissingFolder)?;
        }
    }
    Ok(())
}

/// Lost files that stand under another name: new, or recorded there later than the lost one last was.
fn moved(scope: &Scope, held: &[Held]) -> Vec<Moved> {
    let history = scope.loaded.history.borrow();
    let missing = history.missing(&scope.ignore, scope.part());
    let lost: Vec<Lost<'_>> = missing
        .iter()
        .filter_map(|path| history.files.get(*path).map(|known| Lost { path, known }))
        .collect();
    let Some(oldest) = lost.iter().map(|lost| lost.known.last).min() else {
        return Vec::new();
    };
    let later = history
        .files
        .iter()
        .filter(|(_, known)| known.found && known.first > oldest);
    let later: Vec<(&str, u64, u32, Vec<Digest>)> = later
        .map(|(path, known)| {
            let trusted = known.values.iter().filter(|value| value.trusted);
            let digests = trusted.map(|value| value.digest.clone()).collect();
            (
                &**path,
                known.size.unwrap_or_default(),
                known.first,
                digests,
            )
        })
        .collect();
    let new = held
        .iter()
        .filter(|held| held.since.is_none())
        .map(|held| Candidate {
            path: &held.path,
            size: held.size,
            digests: &held.digests,
            since: None,
        });
    let later = later.iter().map(|(path, size, first, digests)| Candidate {
        path,
        size: *size,
        digests,
        since: Some(*first),
    });
    let candidates: Vec<Candidate<'_>> = new.chain(later).collect();
    let renames = find_renames(&lost, &candidates).into_iter();
    renames
        .map(
            |Rename {
                 lost: from,
                 candidate,
                 normal_form_only,
             }| Moved {
                from: lost[from].path.to_owned(),
                to: candidates[candidate].path.to_owned(),
                normal_form_only,
            },
        )
        .collect()
}

/// Writes the list under a temporary name, and refers to it in the history around.
pub fn finish(
    options: &Options,
    mut open: Open,
    root: Option<&FolderHashes>,
    outer: Option<&mut Open>,
) -> Finished {
    let scope = std::rc::Rc::clone(&open.scope);
    let root = root.filter(|hashes| !hashes.content.is_empty());
    let mut line = HistoryLine {
        scope: scope.name(),
        generations: scope.loaded.chain.len() as u32,
        added: None,
        not_added: open.not_added.take(),
        root_recorded: scope.loaded.history.borrow().root().map(PairText::from),
        root_now: root.map(PairText::from),
    };
    let Some(draft) = open.draft.take() else {
        return Finished { line, ready: None };
    };
    if draft.records == 0 && open.references.is_empty() {
        line.not_added = Some("there is nothing to record".to_owned());
        return Finished { line, ready: None };
    }
    let head = Head {
        creator: creator(options),
        process: options.process,
        root: root.map(|hashes| pair(hashes, super::history_run::seconds(crate::scan::now()))),
        ignore: scope.patterns.clone(),
    };
    let sequence = scope
        .loaded
        .chain
        .last()
        .map_or(1, |last| last.sequence + 1);
    let folder = Scope::folder_name(&scope.loaded.scope);
    let name = list_name(sequence, &folder, options.started);
    let chain = (scope.loaded.chain.clone(), scope.loaded.chain_bytes.clone());
    match draft.finish(name, &head, &open.references, Some(chain)) {
        Ok(ready) => {
            if let Some(outer) = outer {
                let seen = scope.seen(&format!("{HISTORY_FOLDER}/{}", ready.name));
                outer.references.push(Reference {
                    path: outer.scope.relative(&seen),
                    c4: ready.c4.clone(),
                });
            }
            Finished {
                line,
                ready: Some(ready),
            }
        }
        Err(error) => {
            line.not_added = Some(error.to_string());
            Finished { line, ready: None }
        }
    }
}

/// Who made the list, with what.
pub fn creator(options: &Options) -> Creator {
    Creator {
        date: options.started,
        host: crate::commands::computer(),
        tool: "waybill".to_owned(),
        tool_version: Some(env!("CARGO_PKG_VERSION").to_owned()),
        authors: options.people.authors.clone(),
        location: options.people.location.clone(),
        comment: options.people.comment.clone(),
    }
}
