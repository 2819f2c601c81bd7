//! Writing a plain list of a folder.

use std::cell::RefCell;
use std::fs::{self, File};
use std::io::{BufWriter, Write};

use waybill_domain::hash_list::ignore::{DEFAULTS, Ignore};
use waybill_domain::hash_list::plain::plain_line;
use waybill_domain::manifest::Totals;

use super::ordered::{self, Next};
use super::reading::{KindSets, Outcome, Readers, ToRead};
use super::telling::{shown_bytes, written};
use super::tree::{Step, Tree};
use super::{jobs, look};
use crate::args::ListPlain;
use crate::exit::{Exit, Failure};
use crate::output::{Output, Progress, count_text};
use crate::read::Signals;
use crate::scan::Root;
use crate::walk::SYSTEM_NAMES;

/// `waybill list plain`.
pub fn write(args: &ListPlain, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    if args.reading.hash.is_empty() || (args.reading.hash.len() > 1 && !args.tagged) {
        let message = "Give one hash type with --hash, or several with --tagged, which writes the type on every line.";
        return Err(Failure::new(Exit::Usage, message));
    }
    let root = Root::open(&args.folder)?;
    let expected = look(&root.path).totals;
    let name = args.out.file_name().unwrap_or_default();
    let part = args.out.with_file_name(crate::scan::temporary_name(name));
    let failed = || Failure::writing(args.out.display());
    let file = File::create(&part).map_err(failed())?;
    let own = [
        fs::canonicalize(&part).ok(),
        fs::canonicalize(&args.out).ok(),
    ];
    let systems = DEFAULTS.iter().chain(SYSTEM_NAMES.iter()).copied();
    let ignore = Ignore::new(systems.chain(args.reading.ignore.iter().map(String::as_str)));
    let progress = Progress::new(output, Some(expected));
    let state = RefCell::new(Writing {
        out: BufWriter::with_capacity(1 << 18, file),
        totals: Totals::default(),
        failures: 0,
    });
    let result = walk(args, &root, signals, &ignore, &own, &progress, &state);
    let mut state = state.into_inner();
    let finish = || {
        result?;
        if signals.stopped() {
            let message = "Stopped. No list was written; give the same command again.";
            return Err(Failure::new(Exit::Stopped, message));
        }
        state.out.flush().map_err(failed())?;
        state.out.get_ref().sync_all().map_err(failed())?;
        fs::rename(&part, &args.out).map_err(failed())
    };
    if let Err(failure) = finish() {
        // what was begun is of no use; the first error is the one to tell
        let _ = fs::remove_file(&part);
        return Err(failure);
    }
    progress.clear();
    let files = count_text(state.totals.files, "file", "files");
    let text = format!("{} lists {files}.", args.out.display());
    let value = written("plain", &args.out.display().to_string(), state.totals.files);
    output.result(&text, &value)?;
    Ok(match state.failures {
        0 => Exit::Fine,
        _ => Exit::CouldNotTell,
    })
}

struct Writing {
    out: BufWriter<File>,
    totals: Totals,
    failures: u64,
}

fn walk(
    args: &ListPlain,
    root: &Root,
    signals: &Signals,
    ignore: &Ignore,
    own: &[Option<std::path::PathBuf>],
    progress: &Progress<'_>,
    state: &RefCell<Writing>,
) -> Result<(), Failure> {
    let mut sets = KindSets::default();
    let mut tree = Tree::new(&root.path);
    ordered::run(
        jobs(&args.reading),
        signals,
        || {
            loop {
                let is_left_out = |place: &super::tree::Place, is_folder| {
                    let path = place.text().filter(|path| !path.is_empty());
                    path.is_some_and(|path| ignore.leaves_out(path, is_folder))
                };
                match tree.next()? {
                    Step::Enter(place) if is_left_out(&place, true) => tree.pass_over(),
                    Step::File(place) if is_left_out(&place, false) => {}
                    Step::File(place) if own.iter().flatten().any(|own| *own == place.full) => {}
                    Step::File(place) => {
                        let to_read = ToRead {
                            full: place.full.clone(),
                            kinds: sets.get(args.reading.hash.iter().copied()),
                            known: None,
                        };
                        return Some(Next::Work((place, None), to_read));
                    }
                    Step::Odd(place, reason, detail) if reason.is_failure() => {
                        return Some(Next::Ready((place, Some(detail))));
                    }
                    Step::Enter(_) | Step::Leave | Step::Odd(..) => {}
                }
            }
        },
        || Readers::new(signals),
        |readers, file: ToRead| readers.read(&file),
        |(place, detail), outcome| {
            let mut state = state.borrow_mut();
            let failure = match (outcome, detail) {
                (Some(Outcome::Read { size, digests, .. }), _) => {
                    state.totals.files += 1;
                    state.totals.bytes += size;
                    for digest in &digests {
                        let line = plain_line(digest, &place.path, args.tagged);
                        state
                            .out
                            .write_all(&line)
                            .map_err(Failure::writing(args.out.display()))?;
                    }
                    return Ok(());
                }
                (Some(Outcome::Failed(reason)), _) | (None, Some(reason)) => reason,
                (Some(Outcome::Stopped) | None, _) => return Ok(()),
            };
            state.failures += 1;
            progress.note(
                &shown_bytes(&place.path),
                &format!("not readable: {failure}"),
            );
            Ok(())
        },
        || progress.tick(state.borrow().totals, signals),
    )
}
