//! A poster and a contact sheet of each clip that a server has none of. Made after a scan was sent, by `ffmpeg` where it
//! is installed. No fault here is a fault of the scan: what is not made now, the same command makes another time.

mod ffmpeg;

use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Sender, channel};
use std::thread;

use serde::Deserialize;
use serde_json::json;
use ureq::http::Method;
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::FileEntry;
use waybill_domain::media::{Container, MediaFacts};

use crate::api::{Api, Ask};
use crate::exit::{Exit, Failure};
use crate::output::{Output, Progress, count_text};
use crate::scan::{Scanned, Told};
use ffmpeg::Ffmpeg;

/// Clips that a server is asked about at once.
const BATCH: usize = 1_000;
/// Clips that are pictured at the same time, at most.
const WORKERS: usize = 4;
/// Endings of clips whose headers we do not read, or could not.
const ENDINGS: [&str; 22] = [
    "3gp", "asf", "avi", "dv", "flv", "gxf", "m2t", "m2ts", "m2v", "m4v", "mkv", "mov", "mp4",
    "mpeg", "mpg", "mts", "mxf", "ogv", "ts", "vob", "webm", "wmv",
];

/// A clip that may lack pictures.
struct Clip {
    path: PathBuf,
    /// Below the scanned folder.
    shown: String,
    xxh128: String,
    size: u64,
    seconds: Option<f64>,
}

/// What the server says of one.
#[derive(Deserialize)]
struct Lacking {
    at: usize,
    file_id: String,
    lacks_poster: bool,
    lacks_contact_sheet: bool,
}

#[derive(Deserialize)]
struct LackingList {
    items: Vec<Lacking>,
}

/// How a clip ended.
enum Outcome {
    Made,
    /// None could be made of it, and why.
    Broken(String),
    /// The server did not take them.
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
    let reading = || Failure::reading("The journal of this scan");
    let told = scanned.journals.told().map_err(reading())?;
    let clips = told.filter_map(|told| match told {
        Ok(Told::File(entry)) => clip(&scanned.root, &entry).transpose(),
        Ok(Told::Skipped(_)) => None,
        Err(error) => Some(Err(error)),
    });
    let mut run = Run {
        series,
        api,
        stop,
        progress: Progress::new(output, None),
        ffmpeg: Ffmpeg::find(),
        seen: BTreeSet::new(),
        made: 0,
        without: 0,
        broken: Vec::new(),
    };
    let ended = run.all(clips);
    run.progress.clear();
    match ended {
        Err(failure) if failure.exit == Exit::Stopped => return Err(failure),
        Err(failure) => output.say(&format!(
            "Not all pictures of clips were sent; the same command goes on with them. {failure}"
        )),
        Ok(()) => {}
    }
    run.tell(output)
}

/// The clip that an entry of a journal is, if it is one.
fn clip(root: &Path, entry: &str) -> io::Result<Option<Clip>> {
    let entry: FileEntry = serde_json::from_str(entry)?;
    if !is_clip(&entry) {
        return Ok(None);
    }
    let Some(xxh128) = entry.hashes.get(&HashKind::Xxh128) else {
        return Ok(None);
    };
    let duration = entry.media.as_ref().and_then(|media| media.duration);
    Ok(Some(Clip {
        path: root.join(entry.path.iter().collect::<PathBuf>()),
        shown: entry.path.join("/"),
        xxh128: xxh128.clone(),
        size: entry.size,
        seconds: duration
            .map(|one| one.num as f64 / one.den as f64)
            .filter(|seconds| seconds.is_finite() && *seconds > 0.0),
    }))
}

fn is_clip(entry: &FileEntry) -> bool {
    let has_picture = |media: &MediaFacts| {
        media.container != Container::Wave && (media.codec.is_some() || media.width.is_some())
    };
    match &entry.media {
        Some(media) => has_picture(media),
        None => entry
            .path
            .last()
            .and_then(|name| name.rsplit_once('.'))
            .is_some_and(|(_, ending)| ENDINGS.contains(&ending.to_ascii_lowercase().as_str())),
    }
}

struct Run<'a> {
    series: &'a str,
    api: &'a Api<'a>,
    stop: &'a AtomicBool,
    progress: Progress<'a>,
    ffmpeg: Option<Ffmpeg>,
    /// Files seen to already: the same content may lie at several places.
    seen: BTreeSet<String>,
    made: u64,
    /// Clips that lack pictures where nothing can make them.
    without: u64,
    /// Clips of which none could be made, and why.
    broken: Vec<(String, String)>,
}

impl Run<'_> {
    fn all(&mut self, mut clips: impl Iterator<Item = io::Result<Clip>>) -> Result<(), Failure> {
        loop {
            let batch: io::Result<Vec<Clip>> = clips.by_ref().take(BATCH).collect();
            let batch = batch.map_err(Failure::reading("The journal of this scan"))?;
            if batch.is_empty() {
                return Ok(());
            }
            let mut lacking = self.lacking(&batch)?;
            lacking.retain(|(_, lacking)| self.seen.insert(lacking.file_id.clone()));
            match self.ffmpeg.take() {
                None => self.without += lacking.len() as u64,
                Some(ffmpeg) => {
                    let ended = self.batch(&ffmpeg, lacking);
                    self.ffmpeg = Some(ffmpeg);
                    ended?;
                }
            }
        }
    }

    /// Those clips of a batch that the server has not every picture of.
    fn lacking<'b>(&self, batch: &'b [Clip]) -> Result<Vec<(&'b Clip, Lacking)>, Failure> {
        let contents = batch
            .iter()
            .map(|clip| json!({ "xxh128": clip.xxh128, "size": clip.size }));
        let asked = json!({ "contents": contents.collect::<Vec<_>>() });
        let place = ["series", self.series, "pictures", "lacking"];
        let list: LackingList = self.api.post_json(&place, &asked)?.json()?;
        let pairs = list.items.into_iter();
        Ok(pairs
            .filter_map(|lacking| Some((batch.get(lacking.at)?, lacking)))
            .collect())
    }

    fn batch(&mut self, ffmpeg: &Ffmpeg, lacking: Vec<(&Clip, Lacking)>) -> Result<(), Failure> {
        let cores = thread::available_parallelism().map_or(1, usize::from);
        let workers = cores.div_ceil(2).clamp(1, WORKERS).min(lacking.len());
        let (mut done, of) = (0_usize, lacking.len());
        let queue = Mutex::new(lacking.into_iter());
        let enough = AtomicBool::new(false);
        let work = Work {
            ffmpeg,
            series: self.series,
            api: self.api,
            stop: self.stop,
        };
        let (outcomes, results) = channel();
        thread::scope(|scope| {
            for _ in 0..workers {
                let outcomes = outcomes.clone();
                let (work, queue, enough) = (&work, &queue, &enough);
                scope.spawn(move || work.until_empty(queue, enough, &outcomes));
            }
            drop(outcomes);
            let mut failed = None;
            for (shown, outcome) in results {
                done += 1;
                match outcome {
                    Outcome::Made => self.made += 1,
                    Outcome::Broken(why) => self.broken.push((shown, why)),
                    Outcome::NotSent(failure) => {
                        enough.store(true, Ordering::Relaxed);
                        failed.get_or_insert(failure);
                    }
                }
                if self.progress.is_due() {
                    let event = json!({ "event": "progress", "pictured": done, "of_clips": of });
                    let line = format!("Pictures of {done} of {of} clips");
                    self.progress.show(&line, &event);
                }
            }
            if self.stop.load(Ordering::Relaxed) {
                let message =
                    "Stopped. The scan is sent; the same command goes on with the pictures.";
                return Err(Failure::new(Exit::Stopped, message));
            }
            failed.map_or(Ok(()), Err)
        })
    }

    /// What was done, where anything was to do.
    fn tell(&self, output: &Output) -> Result<(), Failure> {
        if self.without > 0 {
            let clips = count_text(self.without, "clip has", "clips have");
            output.say(&format!(
                "{clips} no picture yet: ffmpeg is not on this machine. With it, the same command makes them."
            ));
        }
        if self.made == 0 && self.broken.is_empty() {
            return Ok(());
        }
        let mut text = match self.made {
            0 => String::new(),
            made => format!("Pictures made of {}.", count_text(made, "clip", "clips")),
        };
        if let Some((shown, why)) = self.broken.first() {
            let clips = count_text(self.broken.len() as u64, "clip", "clips");
            text.push_str(&format!(
                " Of {clips} none could be made; the first: {shown} ({why})."
            ));
        }
        let broken = self.broken.iter();
        let broken = broken.map(|(path, why)| json!({ "path": path, "reason": why }));
        let value = json!({
            "event": "pictures",
            "made": self.made,
            "broken": broken.collect::<Vec<_>>(),
        });
        output.result(text.trim_start(), &value)
    }
}

/// What each worker needs.
struct Work<'a> {
    ffmpeg: &'a Ffmpeg,
    series: &'a str,
    api: &'a Api<'a>,
    stop: &'a AtomicBool,
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
            let outcome = self.one(clip, &lacking);
            if outcomes.send((clip.shown.clone(), outcome)).is_err() {
                return;
            }
        }
    }

    fn one(&self, clip: &Clip, lacking: &Lacking) -> Outcome {
        let mut pictures = Vec::new();
        let made = self
            .ffmpeg
            .open(&clip.path, clip.seconds, self.stop)
            .and_then(|opened| {
                if lacking.lacks_poster {
                    pictures.push(("poster", opened.poster()?));
                }
                if lacking.lacks_contact_sheet {
                    pictures.push(("contact_sheet", opened.contact_sheet()?));
                }
                Ok(())
            });
        for (kind, picture) in &pictures {
            if let Err(failure) = self.put(&lacking.file_id, kind, picture) {
                return Outcome::NotSent(failure);
            }
        }
        made.map_or_else(Outcome::Broken, |()| Outcome::Made)
    }

    fn put(&self, file: &str, kind: &str, picture: &[u8]) -> Result<(), Failure> {
        let place = ["series", self.series, "files", file, "pictures", kind];
        let ask = Ask {
            content_type: Some("image/jpeg"),
            body: picture,
            ..Ask::default()
        };
        self.api.ask(Method::PUT, &place, ask).map(drop)
    }
}
