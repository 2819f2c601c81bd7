//! Still pictures out of a clip, by the programs `ffmpeg` and `ffprobe` where they are on this machine. What they make
//! comes through a pipe: no temporary file is left behind, however a run ends.

use std::ffi::{OsStr, OsString};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use super::places::Kind;

/// Longest time for all pictures of one clip.
const PATIENCE: Duration = Duration::from_secs(30);
/// How often a running program is looked at.
const TICK: Duration = Duration::from_millis(10);
/// Largest picture that is taken from it; the server takes no larger one.
const LARGEST: u64 = 1 << 20;
/// As much of its complaints as is told.
const COMPLAINT: u64 = 4096;
/// A poster fits into a square of this many pixels, a picture of the sheet into a box of `CELL`.
const POSTER: u32 = 480;
const CELL: (u32, u32) = (192, 108);
/// Pictures on the sheet, in `ROW` columns.
const ON_SHEET: u32 = 9;
const ROW: u32 = 3;
/// Clips of up to so many seconds are sought exactly; in longer ones the nearest picture that stands alone will do,
/// so that no long group of pictures is decoded for one of them.
const SHORT: f64 = 30.0;
/// Families of files that are opened. Others name further files, on this machine or elsewhere, which a clip from a
/// card has no business to do.
const FAMILIES: &str = "asf,avi,dv,flv,gxf,h264,hevc,ivf,matroska,mjpeg,mov,mpeg,mpegts,mpegvideo,mxf,mxf_opatom,nut,ogg,\
                        rm,webm,wtv";

/// The programs, where they are.
pub struct Ffmpeg {
    maker: PathBuf,
    prober: PathBuf,
}

/// One clip while pictures of it are made.
pub struct Clip<'a> {
    ffmpeg: &'a Ffmpeg,
    input: OsString,
    seconds: f64,
    until: Instant,
    stop: &'a AtomicBool,
}

impl Ffmpeg {
    /// The programs on the search path; both come with the same package.
    pub fn find() -> Option<Self> {
        let path = std::env::var_os("PATH")?;
        let named = |name: &str| {
            let name = format!("{name}{}", std::env::consts::EXE_SUFFIX);
            let mut places = std::env::split_paths(&path).map(|folder| folder.join(&name));
            places.find(|place| place.is_absolute() && place.is_file())
        };
        Some(Self {
            maker: named("ffmpeg")?,
            prober: named("ffprobe")?,
        })
    }

    /// Opens a clip. `seconds`: its length, where the header says it.
    pub fn open<'a>(
        &'a self,
        path: &Path,
        seconds: Option<f64>,
        stop: &'a AtomicBool,
    ) -> Result<Clip<'a>, String> {
        // with its protocol, so that no name is taken for an address or an option
        let mut input = OsString::from("file:");
        input.push(path);
        let mut clip = Clip {
            ffmpeg: self,
            input,
            seconds: 0.0,
            until: Instant::now() + PATIENCE,
            stop,
        };
        clip.seconds = match seconds {
            Some(seconds) => seconds,
            None => clip.probed()?,
        };
        Ok(clip)
    }
}

impl Clip<'_> {
    pub fn picture(&self, kind: Kind) -> Result<Vec<u8>, String> {
        match kind {
            Kind::Poster => self.poster(),
            Kind::ContactSheet => self.contact_sheet(),
        }
    }

    /// A JPEG from a tenth of the length.
    fn poster(&self) -> Result<Vec<u8>, String> {
        let mut command = Command::new(&self.ffmpeg.maker);
        self.input(&mut command, self.seconds / 10.0);
        let fitted = fitted(POSTER, POSTER);
        command.args(["-map", "0:v:0", "-vf", &fitted]);
        self.jpeg(command)
    }

    /// A JPEG of nine pictures, from the middle of each ninth of the length, row by row.
    fn contact_sheet(&self) -> Result<Vec<u8>, String> {
        let mut command = Command::new(&self.ffmpeg.maker);
        let (width, height) = CELL;
        let fitted = fitted(width, height);
        let (mut cells, mut all) = (String::new(), String::new());
        for number in 0..ON_SHEET {
            let at = self.seconds * (f64::from(number) + 0.5) / f64::from(ON_SHEET);
            self.input(&mut command, at);
            cells.push_str(&format!(
                "[{number}:v:0]trim=end_frame=1,{fitted},pad={width}:{height}:-1:-1[c{number}];"
            ));
            all.push_str(&format!("[c{number}]"));
        }
        let rows = ON_SHEET.div_ceil(ROW);
        let graph = format!("{cells}{all}concat=n={ON_SHEET}:v=1:a=0,tile={ROW}x{rows}[sheet]");
        command.args(["-filter_complex", &graph, "-map", "[sheet]"]);
        self.jpeg(command)
    }

    fn probed(&self) -> Result<f64, String> {
        let mut command = Command::new(&self.ffmpeg.prober);
        command
            .args(["-v", "error", "-protocol_whitelist", "file,pipe"])
            .args(["-format_whitelist", FAMILIES])
            .args(["-show_entries", "format=duration", "-of", "csv=p=0"])
            .arg(&self.input);
        let told = self.run(command)?;
        // a stream without a length is pictured at its beginning
        let seconds = String::from_utf8_lossy(&told).trim().parse().unwrap_or(0.0);
        Ok(if f64::is_finite(seconds) {
            seconds
        } else {
            0.0
        })
    }

    fn input(&self, command: &mut Command, at: f64) {
        command
            .args(["-protocol_whitelist", "file,pipe"])
            .args(["-format_whitelist", FAMILIES])
            .args(["-threads", "2"]);
        if self.seconds > SHORT {
            command.arg("-noaccurate_seek");
        }
        command
            .args(["-ss", &format!("{at:.3}"), "-i"])
            .arg(&self.input);
    }

    fn jpeg(&self, mut command: Command) -> Result<Vec<u8>, String> {
        command
            .args(["-frames:v", "1", "-q:v", "4", "-map_metadata", "-1"])
            .args(["-flags", "+bitexact", "-fflags", "+bitexact"])
            .args([
                "-nostdin",
                "-v",
                "error",
                "-c:v",
                "mjpeg",
                "-f",
                "image2pipe",
                "pipe:1",
            ]);
        let picture = self.run(command)?;
        match picture.starts_with(&[0xff, 0xd8]) && picture.ends_with(&[0xff, 0xd9]) {
            true => Ok(picture),
            false => Err("no picture was found in it".to_owned()),
        }
    }

    /// What a program writes, or why not in a few words.
    fn run(&self, mut command: Command) -> Result<Vec<u8>, String> {
        command
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let mut child = command
            .spawn()
            .map_err(|error| format!("ffmpeg could not be started: {error}"))?;
        let (out, err) = (child.stdout.take(), child.stderr.take());
        let (ended, out, err) = thread::scope(|scope| {
            let out = scope.spawn(|| taken(out, LARGEST));
            let err = scope.spawn(|| taken(err, COMPLAINT));
            let ended = self.wait(&mut child);
            let taken = |bytes: thread::Result<io::Result<Vec<u8>>>| {
                bytes.ok().and_then(Result::ok).unwrap_or_default()
            };
            (ended, taken(out.join()), taken(err.join()))
        });
        match ended? {
            true => Ok(out),
            false => Err(complaint(&err, &self.input)),
        }
    }

    /// Waits for the end, or makes it when there was time enough. Gives whether it ended well.
    fn wait(&self, child: &mut Child) -> Result<bool, String> {
        let why = loop {
            match child.try_wait() {
                Ok(Some(status)) => return Ok(status.success()),
                Ok(None) if self.stop.load(Ordering::Relaxed) => break "stopped".to_owned(),
                Ok(None) if Instant::now() >= self.until => {
                    break format!("it took longer than {} seconds", PATIENCE.as_secs());
                }
                Ok(None) => thread::sleep(TICK),
                Err(error) => break format!("ffmpeg was lost: {error}"),
            }
        };
        // it may have ended meanwhile
        let _ = child.kill();
        let _ = child.wait();
        Err(why)
    }
}

/// Scaled into a box as it is to be seen (pixels need not be square), in colours that every browser knows.
fn fitted(width: u32, height: u32) -> String {
    format!(
        "scale=w='max(2,2*trunc(min({width},{height}*dar)/2))':h='max(2,2*trunc(min({height},{width}/dar)/2))',setsar=1,\
         format=yuvj420p"
    )
}

/// The beginning of what comes; the rest is read and forgotten, so that the writer does not wait for ever.
fn taken(from: Option<impl Read>, limit: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    if let Some(mut from) = from {
        from.by_ref().take(limit).read_to_end(&mut bytes)?;
        io::copy(&mut from, &mut io::sink())?;
    }
    Ok(bytes)
}

/// The last line of a complaint, without the clip's whole path.
fn complaint(words: &[u8], input: &OsStr) -> String {
    let words = String::from_utf8_lossy(words);
    let last = words.lines().rfind(|line| !line.trim().is_empty());
    let last = last.unwrap_or("it gives no reason").trim();
    let path = input.to_string_lossy();
    let plain = last
        .replace(&*path, "the clip")
        .replace(path.trim_start_matches("file:"), "the clip");
    format!("ffmpeg says: {}", plain.trim_end_matches('.'))
}
