//! What one chunk of a verification means for the copies: each place is compared with the catalogue, and everything
//! that is not as it was is noted by its path.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use uuid::Uuid;
use waybill_domain::hashes::{Comparison, HashKind, compare};
use waybill_domain::verification::{VerificationSummary, VerifiedFile, VerifyResult};

use super::hashes;
use crate::db::checks::{self, CheckFault, CopyAdditions, CopyChanges, DriveCheck, KnownCopy};
use crate::db::{Conn, Json, ingest};
use crate::error::OpError;

/// What a chunk brings.
struct Findings {
    summary: VerificationSummary,
    changes: BTreeMap<Uuid, Change>,
    additions: CopyAdditions,
    faults: Vec<CheckFault>,
}

/// What becomes of a copy: its state, when it was read, where it lies now.
type Change = (&'static str, DateTime<Utc>, Option<String>);

/// What the catalogue knows of one line.
#[derive(Default)]
struct Here<'a> {
    /// Contents at the place, the present one first.
    copies: Vec<&'a KnownCopy>,
    /// Contents at the place that it was renamed from.
    before: Vec<&'a KnownCopy>,
    /// The file with this content.
    file: Option<Uuid>,
}

/// Takes in the lines of a chunk.
///
/// # Errors
/// `BadRequest` for a place that is listed twice; the database's.
pub async fn take_in(
    conn: &mut Conn,
    check: &mut DriveCheck,
    files: &[VerifiedFile],
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let place = |parts: &[String]| format!("{}/{}", check.root, parts.join("/"));
    let paths: Vec<String> = files.iter().map(|file| place(&file.path)).collect();
    let mut seen = BTreeSet::new();
    if let Some(at) = paths.iter().position(|path| !seen.insert(path)) {
        return Err(OpError::BadRequest(format!(
            "line {} of the chunk: {} is listed twice; nothing of this chunk was saved",
            at.saturating_add(1),
            paths[at]
        )));
    }
    let before: Vec<String> = files
        .iter()
        .map(|file| {
            file.previous_path
                .as_deref()
                .map_or_else(String::new, &place)
        })
        .collect();
    let there = checks::copies_at(conn, check.drive_id, &paths).await?;
    let then = checks::copies_at(conn, check.drive_id, &before).await?;
    let (digests, sizes): (Vec<String>, Vec<i64>) = files.iter().map(content).unzip();
    let contents = checks::by_content(conn, check.series_id, &digests, &sizes).await?;

    let mut known: BTreeMap<usize, Here<'_>> = BTreeMap::new();
    let index = |at: i64| usize::try_from(at).unwrap_or(usize::MAX);
    for copy in &there {
        known.entry(index(copy.at)).or_default().copies.push(copy);
    }
    for copy in &then {
        known.entry(index(copy.at)).or_default().before.push(copy);
    }
    for content in &contents {
        known.entry(index(content.at)).or_default().file = Some(content.file_id);
    }
    let mut found = Findings {
        summary: check.summary.take().unwrap_or_default().0,
        changes: BTreeMap::new(),
        additions: CopyAdditions::default(),
        faults: Vec::new(),
    };
    let nothing = Here::default();
    for (at, (file, path)) in files.iter().zip(&paths).enumerate() {
        let read = file.read.map_or(now, |read| read.min(now));
        found.line(file, path, known.get(&at).unwrap_or(&nothing), read);
    }
    let mut changes = CopyChanges::default();
    for (id, (state, read, path)) in found.changes {
        changes.ids.push(id);
        changes.states.push(state);
        changes.read.push(read);
        changes.paths.push(path);
    }
    let touched: BTreeSet<Uuid> = there.iter().chain(&then).map(|copy| copy.file_id).collect();
    let touched = touched
        .into_iter()
        .chain(found.additions.files.iter().copied());
    ingest::lock_files(conn, &Vec::from_iter(touched)).await?;
    checks::change_copies(conn, check.id, &changes).await?;
    checks::add_copies(
        conn,
        check.series_id,
        check.drive_id,
        check.id,
        &found.additions,
    )
    .await?;
    checks::add_faults(conn, check.id, &found.faults).await?;
    check.summary = Some(Json(found.summary));
    Ok(())
}

fn content(file: &VerifiedFile) -> (String, i64) {
    let digest = file.hashes.get(&HashKind::Xxh128).cloned();
    let size = file.size.and_then(|size| i64::try_from(size).ok());
    (digest.unwrap_or_default(), size.unwrap_or(-1))
}

impl Findings {
    fn line(&mut self, file: &VerifiedFile, path: &str, here: &Here<'_>, read: DateTime<Utc>) {
        match file.size {
            Some(size) if !file.hashes.is_empty() => self.read(file, size, path, here, read),
            _ => self.unread(file, path, here, read),
        }
    }

    /// A place whose content was read: the digests decide, whatever the program calls it.
    fn read(
        &mut self,
        file: &VerifiedFile,
        size: u64,
        path: &str,
        here: &Here<'_>,
        read: DateTime<Utc>,
    ) {
        let judge = |copy: &KnownCopy| {
            if u64::try_from(copy.size) != Ok(size) {
                return Comparison::Different(HashKind::Xxh128);
            }
            compare(&file.hashes, &hashes(copy.hashes.clone()))
        };
        let same = here
            .copies
            .iter()
            .find(|copy| judge(copy) == Comparison::Same);
        let live = here.copies.iter().filter(|copy| copy.state != "changed");
        if let Some(same) = same {
            for other in live.filter(|copy| copy.id != same.id) {
                self.set(other.id, "changed", read, None);
            }
            self.set(same.id, "verified", read, None);
            self.summary.verified += 1;
            return;
        }
        let mut live = live.peekable();
        if let Some(copy) = live.peek() {
            if judge(copy) == Comparison::NothingInCommon {
                self.summary.unknown += 1;
                self.fault(
                    path,
                    "unknown",
                    file,
                    "it has no type of hash in common with the catalogue",
                );
                return;
            }
            for copy in live {
                self.set(copy.id, "changed", read, None);
            }
            if let Some(known) = here.file {
                self.add(known, path, read);
            }
            self.summary.changed += 1;
            self.fault(
                path,
                "changed",
                file,
                "it holds another content than the catalogue knows here",
            );
            return;
        }
        self.elsewhere(file, path, here, read);
    }

    /// A place that the catalogue does not know, with a content that it may know.
    fn elsewhere(&mut self, file: &VerifiedFile, path: &str, here: &Here<'_>, read: DateTime<Utc>) {
        let agrees = |copy: &&&KnownCopy| {
            copy.state != "changed"
                && u64::try_from(copy.size).ok() == file.size
                && compare(&file.hashes, &hashes(copy.hashes.clone())) == Comparison::Same
        };
        if let Some(before) = here.before.iter().find(agrees) {
            self.set(before.id, "verified", read, Some(path.to_owned()));
            let was = file.previous_path.as_deref().unwrap_or_default().join("/");
            self.summary.renamed += 1;
            self.fault(path, "renamed", file, &format!("it was at {was}"));
            return;
        }
        self.summary.new += 1;
        match here.file {
            Some(known) => {
                self.add(known, path, read);
                self.fault(
                    path,
                    "new",
                    file,
                    "a content that the catalogue knows; this copy of it is new",
                );
            }
            None => self.fault(
                path,
                "new",
                file,
                "the catalogue does not know this content",
            ),
        }
    }

    /// A place of which only the program's word is there.
    fn unread(&mut self, file: &VerifiedFile, path: &str, here: &Here<'_>, read: DateTime<Utc>) {
        let (state, words) = match file.result {
            VerifyResult::Missing => ("missing", "it is not there"),
            VerifyResult::Unreadable => ("unreadable", "it could not be read"),
            VerifyResult::Changed => ("changed", "it holds another content"),
            VerifyResult::Verified | VerifyResult::New | VerifyResult::Renamed => {
                self.summary.new += 1;
                return self.fault(path, "new", file, "the catalogue does not know this place");
            }
        };
        for copy in here.copies.iter().filter(|copy| copy.state != "changed") {
            self.set(copy.id, state, read, None);
        }
        match state {
            "missing" => self.summary.missing += 1,
            "unreadable" => self.summary.unreadable += 1,
            _ => self.summary.changed += 1,
        }
        self.fault(path, state, file, words);
    }

    /// A copy that was found is not lost by another line that misses it at its old place.
    fn set(&mut self, id: Uuid, state: &'static str, read: DateTime<Utc>, path: Option<String>) {
        let known = self.changes.get(&id);
        if state == "verified" || known.is_none_or(|(state, ..)| *state != "verified") {
            self.changes.insert(id, (state, read, path));
        }
    }

    fn add(&mut self, file: Uuid, path: &str, read: DateTime<Utc>) {
        self.additions.files.push(file);
        self.additions.paths.push(path.to_owned());
        self.additions.read.push(read);
    }

    fn fault(&mut self, path: &str, result: &str, file: &VerifiedFile, words: &str) {
        let said: String = file
            .detail
            .chars()
            .filter(|c| !c.is_control())
            .take(1000)
            .collect();
        let detail = match said.as_str() {
            "" => format!("{words}."),
            said => format!("{words}. {said}"),
        };
        self.faults.push(CheckFault {
            path: path.to_owned(),
            result: result.to_owned(),
            detail,
        });
    }
}
