//! From what was typed to checked options, and from a command's end to the exit code.

use std::ffi::OsString;
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use clap::Parser;
use signal_hook::consts::{SIGINT, SIGTERM};
use waybill_domain::footage::roll::{DEFAULT_PATTERN, RollPattern};
use waybill_domain::hashes::HashKind;

use crate::api::Api;
use crate::args::{Cli, Command, Cut, Scan};
use crate::exit::{Exit, Failure};
use crate::output::Output;
use crate::read::Signals;
use crate::scan::Options;
use crate::{commands, copy, find, folders, lists, pictures, scan, send};

/// Runs the command and gives its exit code.
pub fn run(args: impl IntoIterator<Item = OsString>) -> u8 {
    let cli = match Cli::try_parse_from(args) {
        Ok(cli) => cli,
        Err(error) => {
            // a closed stream cannot be told anything
            let _ = error.print();
            return if error.use_stderr() {
                Exit::Usage as u8
            } else {
                Exit::Fine as u8
            };
        }
    };
    let output = Output::new(cli.json);
    let result = watch_signals().and_then(|signals| dispatch(&cli.command, &signals, &output));
    match result {
        Ok(exit) => exit as u8,
        Err(failure) => {
            if !failure.message.is_empty() {
                // a closed stream cannot be told anything
                let _ = writeln!(std::io::stderr(), "waybill: {failure}");
            }
            failure.exit as u8
        }
    }
}

fn dispatch(command: &Command, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    match command {
        Command::Scan(args) => scan_and_send(args, signals, output),
        Command::Copy(args) => copy::run(args, signals, output),
        Command::Verify(args) => lists::verify(args, signals, output),
        Command::List(args) => lists::list(args, signals, output),
        Command::Find(args) => find::find(args, &signals.stop, output),
        Command::Cut(Cut::Send(args)) => commands::cut_send(args, &signals.stop, output),
        Command::Report(args) => commands::report(args, &signals.stop, output),
        Command::Try(args) => commands::try_one(args),
        Command::SignIn(args) => commands::sign_in(args, &signals.stop, output),
    }
}

/// The first Ctrl-C asks to stop, the second stops at once.
fn watch_signals() -> Result<Signals, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        let at_once = signal_hook::flag::register_conditional_shutdown(
            signal,
            i32::from(Exit::Stopped as u8),
            Arc::clone(&stop),
        );
        at_once
            .and_then(|_| signal_hook::flag::register(signal, Arc::clone(&stop)))
            .map_err(|error| {
                Failure::new(Exit::Io, format!("Signals cannot be watched: {error}."))
            })?;
    }
    Ok(Signals {
        stop,
        ..Signals::default()
    })
}

fn scan_and_send(args: &Scan, signals: &Signals, output: &Output) -> Result<Exit, Failure> {
    if args.to.is_none() && args.out.is_none() {
        let message = "Where to? Give --to URL with --series, or --out FILE, or both.";
        return Err(Failure::new(Exit::Usage, message));
    }
    send::check_label(&args.drive)?;
    // asked before hours of reading: is the server there, may we, and how are rolls named
    let place = place(args.to.as_ref(), args.series.as_deref(), signals, output)?;
    let pattern = pattern_text(args.roll_pattern.as_deref(), place.as_ref())?;
    let options = Options {
        folder: args.folder.clone(),
        drive: args.drive.clone(),
        out: args.out.clone(),
        kinds: kinds(&args.hash),
        jobs: args.jobs.map_or_else(|| jobs(&args.folder), usize::from),
        rehash: args.rehash,
        pattern: roll_pattern(&pattern)?,
        state: args.state.clone().map_or_else(folders::scans, Ok)?,
    };
    let scanned = scan::scan(&options, signals, output)?;
    output.result(
        &scanned.outcome.text(&options.drive),
        &scanned.outcome.json(),
    )?;
    if let Some((api, series)) = &place {
        send::send(&scanned, series, api, output).map_err(|mut failure| {
            if failure.exit == Exit::Unreachable {
                failure.message += " What was read is kept; the same command sends it.";
            }
            failure
        })?;
        if !args.no_pictures {
            pictures::send(&scanned, series, api, &signals.stop, output)?;
        }
    }
    Ok(scanned.outcome.exit())
}

/// Files read at the same time: a disk that turns only gets slower by it.
fn jobs(folder: &std::path::Path) -> usize {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    match crate::volume::is_solid_state(folder) {
        true => cores.min(4),
        false => 1,
    }
}

/// A server that we may ask, and the id of the series on it.
pub type Signed<'a> = (Api<'a>, String);

/// The server and series that were named, if both were.
pub fn place<'a>(
    server: Option<&url::Url>,
    series: Option<&str>,
    signals: &'a Signals,
    output: &'a Output,
) -> Result<Option<Signed<'a>>, Failure> {
    let (Some(server), Some(series)) = (server, series) else {
        return Ok(None);
    };
    let api = commands::signed_in(server, &signals.stop, output)?;
    let series = commands::series_id(&api, series)?;
    Ok(Some((api, series)))
}

/// How rolls are named: as was said, as the series has it, or as is usual.
pub fn pattern_text(given: Option<&str>, place: Option<&Signed<'_>>) -> Result<String, Failure> {
    if let Some(pattern) = given {
        return Ok(pattern.to_owned());
    }
    let Some((api, series)) = place else {
        return Ok(DEFAULT_PATTERN.to_owned());
    };
    let series: serde_json::Value = api.get(&["series", series], &[])?.json()?;
    let pattern = series["roll_pattern"].as_str().unwrap_or(DEFAULT_PATTERN);
    Ok(pattern.to_owned())
}

/// A pattern as it was typed, or as the series has it.
pub fn roll_pattern(pattern: &str) -> Result<RollPattern, Failure> {
    pattern.parse().map_err(|error| {
        let message = format!("The pattern of roll names \"{pattern}\": {error}.");
        Failure::new(Exit::Usage, message)
    })
}

/// The types asked for and the one by which the server knows a content, in listing order.
pub fn kinds(asked: &[HashKind]) -> Vec<HashKind> {
    let wanted = |kind: &HashKind| *kind == HashKind::Xxh128 || asked.contains(kind);
    HashKind::ALL.into_iter().filter(wanted).collect()
}
