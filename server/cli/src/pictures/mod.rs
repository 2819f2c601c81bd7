//! A poster and a contact sheet of each clip that a server has none of. Made after a scan was sent or a card copied, by
//! `ffmpeg` where it is installed. No fault here is a fault of the scan or of the copy: what is not made now, is made
//! another time.

mod clips;
mod ffmpeg;
mod places;

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Sender, channel};
use std::thread;

use serde_json::json;

use crate::api::Api;
use crate::copy::Receipt;
use crate::exit::{Exit, Failure};
use crate::output::{Output, Progress, count_text, grouped};
use crate::scan::Scanned;
use clips::Clip;
use ffmpeg::Ffmpeg;
use places::{Kept, Lacking, Place};

/// Clips that a server is asked about at once.
const BATCH: usize = 1_000;
/// Clips that are pictured at the same time, at most.
const WORKERS: usize = 4;
/// Clips of one encoding that are tried in a run while none of them gives a picture: raw pictures of many cameras are
/// beyond `ffmpeg`, and a drive holds thousands of such clips.
const TRIED: u64 = 20;
/// What goes on after a scan or `waybill copy send`.
const SAME_COMMAND: &str = "the same command";

/// How a clip ended.
enum Outcome {
    Made,
    /// None could be made of it, and why.
    Broken(String),
    /// So many of its encoding gave none that it was not tried.
    LeftOut,
    /// It is not on this machine.
    Away,
    /// Nothing here can make them.
    NoMaker,
    /// They were not taken where they go.
    NotSent(Failure),
}

/// Makes and sends the pictures that the server lacks of a scan's clips.
pub fn send(
    scanned: &Scanned,
    series: &str,
    api: &Api<'_>,
    stop: &AtomicBool,
    output: &Output,
) -> Result<(), Failure> {
    let clips = clips::of_scan(scanned).map_err(Failure::reading("The journal of this scan"))?;
    let place = Place::Server {
        series,
        api,
        kept: None,
    };
    Run::new(&place, "The scan is sent", SAME_COMMAND, stop, output).end(clips)
}

/// Sends the pictures that the server lacks of a copy's clips: those that were kept, and the others made from a verified
/// copy. `later`: the command that goes on with what is missing, where it is not the same.
pub fn send_of_copy(
    receipt: &Receipt,
    state: &Path,
    later: Option<&str>,
    (api, series): &(Api<'_>, String),
    stop: &AtomicBool,
    output: &Output,
) -> Result<(), Failure> {
    let kept = Kept::new(state);
    let place = Place::Server {
        series,
        api,
        kept: Some(&kept),
    };
    let again = later.unwrap_or(SAME_COMMAND);
    let done = "The server knows of the copies";
    Run::new(&place, done, again, stop, output).end(clips::of_copy(receipt))
}

/// Makes pictures of a copy's clips and keeps them until `later`, a command, tells a server.
pub fn keep_of_copy(
    receipt: &Receipt,
    state: &Path,
    later: &str,
    stop: &AtomicBool,
    output: &Output,
) -> Result<(), Failure> {
    let kept = Kept::new(state);
    let place = Place::Folder(&kept);
    let run = Run::new(&place, "The copies are made", later, stop, output);
    run.end(clips::of_copy(receipt))
}

struct Run<'a> {
    place: &'a Place<'a>,
    /// What is done already, should this be stopped.
    done: &'a str,
    /// The command that goes on with what is missing.
    again: &'a str,
    stop: &'a AtomicBool,
    output: &'a Output,
    progress: Progress<'a>,
    ffmpeg: Option<Ffmpeg>,
    /// Files seen to already: the same content may lie at several places.
    seen: BTreeSet<String>,
    made: u64,
    /// Clips that lack pictures where nothing can make them.
    without: u64,
    /// Clips that lack pictures and are elsewhere.
    away: u64,
    /// Clips of which none could be made, and why.
    broken: Vec<(String, String)>,
    /// Clips that were not tried, because none of their encoding gave a picture.
    left_out: u64,
    tried: Mutex<Tried>,
}

/// Of how many clips of each encoding pictures were made, and of how many none.
type Tried = BTreeMap<String, (u64, u64)>;

impl<'a> Run<'a> {
    fn new(
        place: &'a Place<'a>,
        done: &'a str,
        again: &'a str,
        stop: &'a AtomicBool,
        output: &'a Output,
    ) -> Self {
        Self {
            place,
            done,
            again,
            stop,
            output,
            progress: Progress::new(output, None),
            ffmpeg: Ffmpeg::find(),
            seen: BTreeSet::new(),
            made: 0,
            without: 0,
            away: 0,
            broken: Vec::new(),
            left_out: 0,
            tried: Mutex::default(),
        }
    }

    /// Sees to all clips and tells what came of it.
    fn end(mut self, clips: impl Iterator<Item = io::Result<Clip>>) -> Result<(), Failure> {
        let ended = self.all(clips);
        self.progress.clear();
        match (ended, self.place) {
            (Err(failure), _) if failure.exit == Exit::Stopped => return Err(failure),
            (Err(failure), Place::Server { .. }) => self.output.say(&format!(
                "Not all pictures of clips were sent; {} goes on with them. {failure}",
                self.again
            )),
            (Err(failure), Place::Folder(_)) => self.output.say(&format!(
                "Not all pictures of clips were made; {} goes on with them. {failure}",
                self.again
            )),
            (Ok(()), _) => {}
        }
        self.tell()
    }

    fn all(&mut self, mut clips: impl Iterator<Item = io::Result<Clip>>) -> Result<(), Failure> {
        loop {
            let batch: io::Result<Vec<Clip>> = clips.by_ref().take(BATCH).collect();
            let batch = batch.map_err(Failure::reading("The journal of this scan"))?;
            if batch.is_empty() {
                return Ok(());
            }
            let mut lacking = self.place.lacking(&batch)?;
            lacking.retain(|(_, lacking)| self.seen.insert(lacking.file_id.clone()));
            self.batch(lacking)?;
            self.place.forget(&batch);
        }
    }

    fn batch(&mut self, lacking: Vec<(&Clip, Lacking)>) -> Result<(), Failure> {
        let cores = thread::available_parallelism().map_or(1, usize::from);
        let workers = cores.div_ceil(2).clamp(1, WORKERS).min(lacking.len());
        let (mut done, of) = (0_usize, lacking.len());
        let queue = Mutex::new(lacking.into_iter());
        let enough = AtomicBool::new(false);
        let ffmpeg = self.ffmpeg.take();
        let tried = std::mem::take(&mut self.tried);
        let work = Work {
            ffmpeg: ffmpeg.as_ref(),
            place: self.place,
            stop: self.stop,
            tried: &tried,
        };
        let (outcomes, results) = channel();
        let mut failed = None;
        thread::scope(|scope| {
            for _ in 0..workers {
                let outcomes = outcomes.clone();
                let (work, queue, enough) = (&work, &queue, &enough);
                scope.spawn(move || work.until_empty(queue, enough, &outcomes));
            }
            drop(outcomes);
            for (shown, outcome) in results {
                done += 1;
                if let Some(failure) = self.take_in(shown, outcome) {
                    enough.store(true, Ordering::Relaxed);
                    failed.get_or_insert(failure);
                }
                if self.progress.is_due() {
                    let event = json!({ "event": "progress", "pictured": done, "of_clips": of });
                    let line = format!(
                        "Pictures of {} of {}",
                        grouped(done as u64),
                        count_text(of as u64, "clip", "clips")
                    );
                    self.progress.show(&line, &event);
                }
            }
        });
        self.ffmpeg = ffmpeg;
        self.tried = tried;
        if self.stop.load(Ordering::Relaxed) {
            let (done, again) = (self.done, self.again);
            let message = format!("Stopped. {done}; {again} goes on with the pictures.");
            return Err(Failure::new(Exit::Stopped, message));
        }
        failed.map_or(Ok(()), Err)
    }

    fn take_in(&mut self, shown: String, outcome: Outcome) -> Option<Failure> {
        match outcome {
            Outcome::Made => self.made += 1,
            Outcome::Broken(why) => self.broken.push((shown, why)),
            Outcome::LeftOut => self.left_out += 1,
            Outcome::Away => self.away += 1,
            Outcome::NoMaker => self.without += 1,
            Outcome::NotSent(failure) => return Some(failure),
        }
        None
    }

    /// What was done, where anything was to do.
    fn tell(&self) -> Result<(), Failure> {
        let (again, clips) = (self.again, |count| {
            count_text(count, "clip has", "clips have")
        });
        // who tells no server needs no pictures
        if self.without > 0 && matches!(self.place, Place::Server { .. }) {
            self.output.say(&format!(
                "{} no picture yet: ffmpeg is not on this machine. With it, {again} makes them.",
                clips(self.without)
            ));
        }
        if self.away > 0 {
            self.output.say(&format!(
                "{} no picture yet: no copy is where it was made. With one of the drives connected there, {again} makes \
                 them; so does a scan of the drive.",
                clips(self.away)
            ));
        }
        if self.made == 0 && self.broken.is_empty() {
            return Ok(());
        }
        let made = count_text(self.made, "clip", "clips");
        let mut text = match (self.made, self.place) {
            (0, _) => String::new(),
            (_, Place::Server { .. }) => format!("Pictures made of {made}."),
            (_, Place::Folder(kept)) => format!(
                "Pictures made of {made}. They wait in {} until they are sent.",
                kept.folder().display()
            ),
        };
        if let Some((shown, why)) = self.broken.first() {
            let clips = count_text(self.broken.len() as u64, "clip", "clips");
            text.push_str(&format!(
                " Of {clips} no pictures could be made; the first: {shown} ({why})."
            ));
        }
        if self.left_out > 0 {
            let more = count_text(self.left_out, "clip", "clips");
            text.push_str(&format!(
                " {more} more of the same encoding were not tried, since none of the first {TRIED} gave a picture."
            ));
        }
        let broken = self.broken.iter();
        let broken = broken.map(|(path, why)| json!({ "path": path, "reason": why }));
        let value = json!({
            "event": "pictures",
            "made": self.made,
            "broken": broken.collect::<Vec<_>>(),
            "not_tried": self.left_out,
        });
        self.output.result(text.trim_start(), &value)
    }
}

/// What each worker needs.
struct Work<'a> {
    ffmpeg: Option<&'a Ffmpeg>,
    place: &'a Place<'a>,
    stop: &'a AtomicBool,
    tried: &'a Mutex<Tried>,
}

impl Work<'_> {
    fn until_empty<'b>(
        &self,
        queue: &Mutex<impl Iterator<Item = (&'b Clip, Lacking)>>,
        enough: &AtomicBool,
        outcomes: &Sender<(String, Outcome)>,
    ) {
        while !enough.load(Ordering::Relaxed) && !self.stop.load(Ordering::Relaxed) {
            // a worker that panicked has ended the program already
            let next = queue.lock().ok().and_then(|mut queue| queue.next());
            let Some((clip, lacking)) = next else { return };
            let outcome = self.one(clip, &lacking).unwrap_or_else(|outcome| outcome);
            if outcomes.send((clip.shown.clone(), outcome)).is_err() {
                return;
            }
        }
    }

    fn one(&self, clip: &Clip, lacking: &Lacking) -> Result<Outcome, Outcome> {
        let mut opened = None;
        for kind in lacking.kinds() {
            let picture = match self.place.kept(clip, kind) {
                Some(picture) => picture,
                None => {
                    let opened = match &opened {
                        Some(opened) => opened,
                        None => opened.insert(self.open(clip)?),
                    };
                    let picture = opened.picture(kind);
                    self.note(clip, picture.is_ok());
                    picture.map_err(Outcome::Broken)?
                }
            };
            self.place
                .put(clip, &lacking.file_id, kind, &picture)
                .map_err(Outcome::NotSent)?;
        }
        Ok(Outcome::Made)
    }

    fn open<'b>(&'b self, clip: &Clip) -> Result<ffmpeg::Clip<'b>, Outcome> {
        let path = clip.path.as_ref().ok_or(Outcome::Away)?;
        let ffmpeg = self.ffmpeg.ok_or(Outcome::NoMaker)?;
        if self.is_hopeless(clip) {
            return Err(Outcome::LeftOut);
        }
        let opened = ffmpeg.open(path, clip.seconds, self.stop);
        if opened.is_err() {
            self.note(clip, false);
        }
        opened.map_err(Outcome::Broken)
    }

    fn note(&self, clip: &Clip, made: bool) {
        if let Ok(mut tried) = self.tried.lock() {
            let (well, ill) = tried.entry(clip.made_as.clone()).or_default();
            *(if made { well } else { ill }) += 1;
        }
    }

    fn is_hopeless(&self, clip: &Clip) -> bool {
        let tried = self.tried.lock();
        tried.is_ok_and(|tried| {
            tried
                .get(&clip.made_as)
                .is_some_and(|(well, ill)| *well == 0 && *ill >= TRIED)
        })
    }
}
