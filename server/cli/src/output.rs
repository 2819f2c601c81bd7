//! What a person (or, with `--json`, a program) sees: progress, notes and results. Results go to standard
//! output; everything on the way goes to standard error. A moving line only on a terminal.

use std::cell::Cell;
use std::collections::{HashMap, HashSet};
use std::io::{IsTerminal, Write, stderr, stdout};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use waybill_domain::manifest::Totals;
use waybill_domain::wording::and_list;
pub use waybill_domain::wording::{counted as count_text, grouped};

use crate::exit::{Exit, Failure};
use crate::read::Signals;

/// Notes that are remembered at most, so as not to be said again.
const REMEMBERED: usize = 10_000;
/// Things that are named where many have the same remark.
const NAMED: usize = 3;

/// How to speak.
pub struct Output {
    /// JSON lines on standard output instead of sentences.
    pub json: bool,
    terminal: bool,
    noted: Mutex<HashSet<String>>,
}

impl Output {
    pub fn new(json: bool) -> Self {
        Self {
            json,
            terminal: !json && stderr().is_terminal(),
            noted: Mutex::default(),
        }
    }

    /// A result: as a sentence, or as JSON.
    pub fn result(&self, text: &str, value: &Value) -> Result<(), Failure> {
        let line = if self.json {
            value.to_string()
        } else {
            text.to_owned()
        };
        print(format!("{line}\n").as_bytes())
    }

    /// Remarks of the server, but for those that a person has read in this run: what a scan says of a file comes back
    /// from there, and what holds for a card comes once for each of its drives. What is said of several things
    /// (`A: …`, `B: …`) is said once.
    pub fn warn(&self, texts: &[String]) {
        if self.json {
            return texts.iter().for_each(|text| self.say(text));
        }
        let mut remarks = Remarks::default();
        for text in texts.iter().filter(|text| self.is_first(text)) {
            let (name, remark) = text.split_once(": ").unwrap_or(("", text));
            remarks.add(name, remark);
        }
        remarks.lines().for_each(|line| self.say(&line));
    }

    /// Remarks on files, after a run in which [`Progress::note`] did not say them at once.
    pub fn remarks(&self, remarks: &Remarks) {
        remarks.lines().for_each(|line| self.say(&line));
    }

    /// Whether this is noted for the first time.
    fn is_first(&self, text: &str) -> bool {
        // a thread that panicked while it held them has left them whole
        let mut noted = self
            .noted
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        !noted.contains(text) && (noted.len() >= REMEMBERED || noted.insert(text.to_owned()))
    }

    /// Something to know on the way.
    pub fn say(&self, text: &str) {
        // nothing can be said about an error stream that is closed
        let _ = match self.json {
            true => writeln!(stdout(), "{}", json!({ "event": "note", "text": text })),
            // a moving line may stand there
            false if self.terminal => writeln!(stderr(), "\r\x1b[K{text}"),
            false => writeln!(stderr(), "{text}"),
        };
    }
}

/// Remarks by their words, so that what holds for many files is said once.
#[derive(Debug, Default)]
pub struct Remarks {
    /// Each with the names of those that it holds for, in the order in which they came.
    all: Vec<(String, Vec<String>)>,
    places: HashMap<String, usize>,
}

impl Remarks {
    pub fn add(&mut self, name: &str, remark: &str) {
        let next = self.all.len();
        let at = *self.places.entry(remark.to_owned()).or_insert(next);
        if at == next {
            self.all.push((remark.to_owned(), Vec::new()));
        }
        self.all[at].1.push(name.to_owned());
    }

    /// `A001C001.mov, A001C002.mov, A001C003.mov and 41 more: The file is empty.`
    fn lines(&self) -> impl Iterator<Item = String> {
        self.all.iter().map(|(remark, names)| {
            let more = names.len().saturating_sub(NAMED) as u64;
            let mut named = names[..names.len().min(NAMED)].to_vec();
            if more > 0 {
                named.push(format!("{} more", grouped(more)));
            }
            match and_list(&named).as_str() {
                "" => remark.clone(),
                named => format!("{named}: {remark}"),
            }
        })
    }
}

/// Writes to standard output. A reader that has gone away is a quiet end, as for any filter.
pub fn print(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => {
            Err(Failure::new(Exit::CannotWrite, ""))
        }
        result => result.map_err(Failure::writing("Standard output")),
    }
}

/// The progress of a scan.
pub struct Progress<'a> {
    output: &'a Output,
    /// What will come, once it has been counted.
    expected: Cell<Option<Totals>>,
    began: Instant,
    shown: Cell<Instant>,
    /// A moving line stands on the terminal.
    standing: Cell<bool>,
}

impl<'a> Progress<'a> {
    pub fn new(output: &'a Output, expected: Option<Totals>) -> Self {
        let now = Instant::now();
        Self {
            output,
            expected: Cell::new(expected),
            began: now,
            shown: Cell::new(now),
            standing: Cell::new(false),
        }
    }

    fn every(&self) -> Duration {
        match (self.output.json, self.output.terminal) {
            (false, true) => Duration::from_millis(200),
            (true, _) => Duration::from_secs(1),
            _ => Duration::from_secs(10),
        }
    }

    /// What will come has been counted.
    pub fn expect(&self, totals: Totals) {
        self.expected.set(Some(totals));
    }

    /// Whether it is time to show where the run is.
    pub fn is_due(&self) -> bool {
        self.shown.get().elapsed() >= self.every()
    }

    /// Shows where the run is.
    pub fn show(&self, line: &str, event: &Value) {
        let mut err = stderr();
        self.shown.set(Instant::now());
        self.standing.set(self.output.terminal);
        // nothing can be said about an error stream that is closed
        let _ = match (self.output.json, self.output.terminal) {
            (true, _) => writeln!(stdout(), "{event}"),
            (false, true) => write!(err, "\r\x1b[K{line}"),
            (false, false) => writeln!(err, "{line}"),
        };
    }

    /// Shows where a run is that reads, when it is time to.
    pub fn tick(&self, recorded: Totals, signals: &Signals) {
        if !self.is_due() {
            return;
        }
        let read = signals.bytes.load(std::sync::atomic::Ordering::Relaxed);
        let seconds = self.began.elapsed().as_secs_f64().max(0.001);
        let rate = read as f64 / seconds;
        let files = recorded.files;
        let expected = self.expected.get();
        let left = expected.and_then(|expected| {
            // what was untouched is recorded and not read; a file under way is read and not recorded
            let missing = expected.bytes.saturating_sub(read.max(recorded.bytes));
            Duration::try_from_secs_f64(missing as f64 / rate)
                .ok()
                .filter(|_| seconds > 1.0)
        });
        let event = json!({
            "event": "progress",
            "files": files,
            "of_files": expected.map(|expected| expected.files),
            "bytes_read": read,
            "of_bytes": expected.map(|expected| expected.bytes),
            "bytes_per_second": rate.round(),
            "seconds_left": left.map(|left| left.as_secs()),
        });
        let (of_files, of_bytes) = match expected {
            Some(expected) => (
                format!(
                    "{} of {}",
                    grouped(files),
                    count_text(expected.files, "file", "files")
                ),
                format!("{} of {}", bytes_text(read), bytes_text(expected.bytes)),
            ),
            None => (count_text(files, "file", "files"), bytes_text(read)),
        };
        let line = format!(
            "{of_files}, {of_bytes} read, {}/s{}",
            bytes_text(rate as u64),
            left.map_or_else(String::new, |left| format!(
                ", {} left",
                duration_text(left)
            )),
        );
        self.show(&line, &event);
    }

    /// Takes the moving line away.
    pub fn clear(&self) {
        if self.standing.replace(false) {
            // nothing can be said about an error stream that is closed
            let _ = write!(stderr(), "\r\x1b[K");
        }
    }

    /// Something odd about one file: to a program at once, to a person at the end, with the others of which it holds.
    pub fn remark(&self, remarks: &mut Remarks, path: &str, text: &str) {
        if self.output.json {
            return self.note(path, text);
        }
        if self.output.is_first(&format!("{path}: {text}")) {
            remarks.add(path, text);
        }
    }

    /// Something a person should know about one file.
    pub fn note(&self, path: &str, text: &str) {
        self.clear();
        // nothing can be said about an error stream that is closed
        let _ = match self.output.json {
            true => {
                writeln!(
                    stdout(),
                    "{}",
                    json!({ "event": "note", "path": path, "text": text })
                )
            }
            false => {
                let line = format!("{path}: {text}");
                self.output.is_first(&line);
                writeln!(stderr(), "{line}")
            }
        };
    }
}

/// Decimal units, as drives are sold.
pub fn bytes_text(bytes: u64) -> String {
    const UNITS: [&str; 5] = ["kB", "MB", "GB", "TB", "PB"];
    if bytes < 1000 {
        return format!("{bytes} B");
    }
    let mut value = bytes as f64 / 1000.0;
    let mut unit = 0;
    while value >= 999.5 && unit + 1 < UNITS.len() {
        value /= 1000.0;
        unit += 1;
    }
    let decimals = if value < 9.95 { 1 } else { 0 };
    format!("{value:.decimals$} {}", UNITS[unit])
}

/// "45 s", "3 min", "2 h 05 min".
pub fn duration_text(duration: Duration) -> String {
    match duration.as_secs() {
        seconds @ 0..=89 => format!("{seconds} s"),
        seconds @ 90..=5_399 => format!("{} min", seconds.div_ceil(60)),
        seconds => format!("{} h {:02} min", seconds / 3600, seconds % 3600 / 60),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_remark_is_made_once() {
        let output = Output::new(false);
        let progress = Progress::new(&output, None);
        progress.note("A/C1.mov", "not whole");
        assert!(!output.is_first("A/C1.mov: not whole"));
        assert!(output.is_first("A/C2.mov: not whole"));
        assert!(!output.is_first("A/C2.mov: not whole"));
    }

    #[test]
    fn what_holds_for_many_is_said_once() {
        let output = Output::new(false);
        let progress = Progress::new(&output, None);
        let mut remarks = Remarks::default();
        for name in ["a", "b", "c", "d", "e", "e"] {
            progress.remark(&mut remarks, name, "The file is empty.");
        }
        progress.remark(&mut remarks, "f: g", "not whole");
        remarks.add("", "More files have such remarks.");
        let lines: Vec<String> = remarks.lines().collect();
        assert_eq!(
            lines,
            [
                "a, b, c and 2 more: The file is empty.",
                "f: g: not whole",
                "More files have such remarks.",
            ]
        );
    }
}
