//! The result of a verification on its way to the server: kept line by line in the state folder while files are read,
//! sent when the run is over, and kept until the server has it.

use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use serde_json::json;
use waybill_domain::hash_list::report::{Verdict, texts};
use waybill_domain::hashes::Hashes;
use waybill_domain::manifest::{ScanComplete, ScanStarted};
use waybill_domain::verification::{
    VerificationStart, VerificationSummary, VerifiedFile, VerifyResult,
};

use super::flat::Found;
use crate::api::Api;
use crate::exit::{Exit, Failure};
use crate::output::{Output, count_text, grouped};
use crate::send::{bodies, send_chunks};

/// First and last line of the file; those between are `VerifiedFile`s.
#[derive(Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Mark {
    Start(VerificationStart),
    End { files: u64, exit: u8 },
}

/// Where the result of one drive's folder is kept.
pub struct Shelf {
    whole: PathBuf,
    part: PathBuf,
}

/// A result while it is written.
pub struct Keeping {
    out: BufWriter<File>,
    files: u64,
    part: PathBuf,
}

/// A whole result that the server does not have yet.
pub struct Kept {
    pub start: VerificationStart,
    files: u64,
    /// How the run ended that found it.
    pub exit: Exit,
    path: PathBuf,
}

impl Shelf {
    /// In a folder that is there, under a name that nobody else uses meanwhile.
    pub fn new(folder: &Path, name: &str) -> Self {
        Self {
            whole: folder.join(format!("{name}.result.jsonl")),
            part: folder.join(format!(".{name}.result.part")),
        }
    }

    pub fn begin(&self, start: VerificationStart) -> io::Result<Keeping> {
        let mut out = BufWriter::with_capacity(1 << 18, File::create(&self.part)?);
        write_line(&mut out, &Mark::Start(start))?;
        Ok(Keeping {
            out,
            files: 0,
            part: self.part.clone(),
        })
    }

    /// Ends a result and puts it where the next run finds it.
    pub fn finish(&self, mut keeping: Keeping, exit: Exit) -> io::Result<()> {
        let end = Mark::End {
            files: keeping.files,
            exit: exit as u8,
        };
        write_line(&mut keeping.out, &end)?;
        keeping.out.flush()?;
        keeping.out.get_ref().sync_all()?;
        fs::rename(&self.part, &self.whole)
    }

    /// What a run has left that could not reach the server.
    pub fn kept(&self) -> io::Result<Option<Kept>> {
        let file = match File::open(&self.whole) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(error),
        };
        let (mut first, mut last) = (None, String::new());
        for line in BufReader::new(file).lines() {
            last = line?;
            first.get_or_insert_with(|| last.clone());
        }
        let first = serde_json::from_str(&first.unwrap_or_default())?;
        let (Mark::Start(start), Mark::End { files, exit }) = (first, serde_json::from_str(&last)?)
        else {
            return Err(io::ErrorKind::InvalidData.into());
        };
        let exit = [Exit::Fine, Exit::Differences]
            .into_iter()
            .find(|known| *known as u8 == exit);
        Ok(Some(Kept {
            start,
            files,
            exit: exit.unwrap_or(Exit::CouldNotTell),
            path: self.whole.clone(),
        }))
    }
}

impl Drop for Keeping {
    fn drop(&mut self) {
        // gone already when it was given its name; otherwise it is not whole and of no use
        let _ = fs::remove_file(&self.part);
    }
}

impl Keeping {
    /// Notes the answer about a place. What cannot be written as a path (a name that is no text, the folder itself)
    /// and what could not be judged is not sent: the catalogue keeps what it knew.
    pub fn note(
        &mut self,
        path: &[u8],
        verdict: &Verdict,
        found: Option<&Found>,
    ) -> io::Result<()> {
        let Some(file) = line(path, verdict, found) else {
            return Ok(());
        };
        self.files += 1;
        write_line(&mut self.out, &file)
    }
}

fn line(path: &[u8], verdict: &Verdict, found: Option<&Found>) -> Option<VerifiedFile> {
    let parts = |text: &str| text.split('/').map(str::to_owned).collect::<Vec<_>>();
    let (mut detail, mut previous_path) = (String::new(), None);
    let result = match verdict {
        Verdict::Verified { .. } => VerifyResult::Verified,
        Verdict::Changed { .. } => VerifyResult::Changed,
        Verdict::New { .. } => VerifyResult::New,
        Verdict::Missing { instead } => {
            detail = instead.clone().unwrap_or_default();
            VerifyResult::Missing
        }
        Verdict::Renamed { from, .. } => {
            previous_path = Some(parts(from));
            VerifyResult::Renamed
        }
        Verdict::Unreadable { reason } => {
            detail.clone_from(reason);
            VerifyResult::Unreadable
        }
        Verdict::Unproven { .. } | Verdict::MissingFolder => return None,
    };
    let text = std::str::from_utf8(path)
        .ok()
        .filter(|text| !text.is_empty())?;
    Some(VerifiedFile {
        path: parts(text),
        size: found.map(|found| found.size),
        hashes: found.map_or_else(Hashes::new, |found| texts(&found.digests)),
        result,
        read: found.map(|found| found.at),
        previous_path,
        detail,
    })
}

fn write_line(out: &mut impl Write, line: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    out.write_all(b"\n")
}

/// Sends a whole result; after the server's answer it is not kept any longer.
pub fn send(
    kept: &Kept,
    (series, drive): (&str, &str),
    api: &Api<'_>,
    output: &Output,
) -> Result<(), Failure> {
    let reading = || Failure::reading(kept.path.display());
    let id = kept.start.id.to_string();
    let all = ["series", series, "drives", drive, "verifications"];
    let started: ScanStarted = api.post_json(&all, &kept.start)?.json()?;
    let one = [&all[..], &[&id]].concat();
    let lines = BufReader::with_capacity(1 << 20, File::open(&kept.path).map_err(reading())?);
    let files = usize::try_from(kept.files).unwrap_or(usize::MAX);
    let lines = lines.lines().skip(1).take(files);
    let digest = send_chunks(
        api,
        &one,
        started.next_chunk,
        bodies(lines),
        reading(),
        |sent| {
            if sent < files {
                output.say(&format!(
                    "{} of {} sent",
                    grouped(sent as u64),
                    count_text(kept.files, "result", "results")
                ));
            }
        },
    )?;
    let complete = ScanComplete {
        files: kept.files,
        digest,
    };
    let path = [&one[..], &["complete"]].concat();
    let summary: VerificationSummary = api.post_json(&path, &complete)?.json()?;
    fs::remove_file(&kept.path).map_err(Failure::writing(kept.path.display()))?;
    tell(&summary, &id, output)
}

fn tell(summary: &VerificationSummary, id: &str, output: &Output) -> Result<(), Failure> {
    output.warn(&summary.warnings);
    let next = summary.next_check_on.map_or_else(String::new, |day| {
        format!(
            " The next check of the drive is due on {}.",
            day.format("%-d %b %Y")
        )
    });
    let text = format!(
        "Sent: the server has {} as verified now.{next}",
        count_text(summary.verified, "copy", "copies")
    );
    output.result(
        &text,
        &json!({ "event": "sent", "verification": id, "summary": summary }),
    )
}
