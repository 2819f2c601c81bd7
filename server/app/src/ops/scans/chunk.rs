//! One chunk of a scan: all its files in one transaction, or none.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde_json::Value;
use uuid::Uuid;
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::{FileEntry, read_chunk};
use waybill_domain::perms::Action;
use waybill_domain::wording::grouped;

use super::columns::{columns, no_nul};
use super::rolls::{self, Rolls};
use super::warn;
use crate::app::App;
use crate::db::Conn;
use crate::db::card_states::Touched;
use crate::db::finding::keep;
use crate::db::ingest::{self, Additions, CardRow, Columns, Known, Seen, There};
use crate::db::scans::{self, Scan, ScanState, ScannedDrive};
use crate::error::OpError;
use crate::ops::access::{Access, Actor, enter};
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::blocking;
use crate::ops::chunks::{self, Progress};

/// Takes in chunk `number`; answers the number of the next one. The same chunk again changes nothing.
///
/// Two chunks of a scan may be under way at once: the later one adds its contents while the copies of the earlier are
/// written down, and waits for it then. What both may name, cards and folders, is made before either, in a step of its
/// own; else the later would wait for the earlier from its first such card.
///
/// # Errors
/// Access; `NotFound`; `Invalid` naming the line; `Conflict` for another content under the number, a chunk out of
/// order, a scan that is complete.
pub async fn receive(
    app: &App,
    actor: &Actor,
    series: Uuid,
    scan: Uuid,
    number: u32,
    digest: Option<String>,
    body: impl AsRef<[u8]> + Send + 'static,
) -> Result<u32, OpError> {
    let (access, (root, label)) = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, Action::SendScan).await?;
        let place = scans::place(conn, series, scan).await?;
        (access, place.ok_or(OpError::NotFound("the scan"))?)
    };
    let now = app.now();
    // as long as a search takes: not where searches wait for it
    let (chunk, entries, columns, root) = blocking(move || {
        let (chunk, entries) = chunks::open(number, digest.as_deref(), body.as_ref(), read_chunk)?;
        let columns = columns(&root, &label, &entries, now)?;
        Ok::<_, OpError>((chunk, entries, columns, root))
    })
    .await??;
    let conn = &mut *app.pool.get().await?;
    let known = scans::find(conn, series, scan).await?;
    let known = known.ok_or(OpError::NotFound("the scan"))?;
    let ahead = chunk.number == known.next_chunk.saturating_add(1);
    if !ahead && is_known(conn, &known, &chunk).await? {
        return Ok(next(&known));
    }
    let mut files = Files {
        rolls: rolls::sort(&access.series, &root, &entries),
        entries,
        columns,
        cards: Vec::new(),
    };
    conn.transaction::<_, OpError, _>(async |conn| {
        alive(&scans::drive(conn, known.drive_id).await?)?;
        prepare(conn, series, &mut files, now).await
    })
    .await?;
    conn.transaction::<_, OpError, _>(async |conn| {
        let added = ingest::add_files(conn, series, &files.columns, now).await?;
        let mut scan = scans::lock(conn, series, scan)
            .await?
            .ok_or(OpError::NotFound("the scan"))?;
        if is_known(conn, &scan, &chunk).await? {
            return Ok(next(&scan));
        }
        let count = i32::try_from(files.entries.len()).unwrap_or(i32::MAX);
        let seen = take_in(conn, &access, &mut scan, &files, &added, now).await?;
        scans::insert_chunk(conn, scan.id, chunk.number, &chunk.digest, &seen).await?;
        scan.next_chunk = chunk.number.saturating_add(1);
        scan.files = scan.files.saturating_add(count);
        scans::update(conn, &scan).await?;
        Ok(next(&scan))
    })
    .await
}

async fn is_known(conn: &mut Conn, scan: &Scan, chunk: &chunks::Chunk) -> Result<bool, OpError> {
    let progress = Progress {
        what: "scan",
        next: scan.next_chunk,
        complete: scan.state == ScanState::Complete,
        received: scans::digest(conn, scan.id, chunk.number).await?,
    };
    chunks::is_known(chunk, &progress)
}

fn next(scan: &Scan) -> u32 {
    u32::try_from(scan.next_chunk).unwrap_or_default()
}

/// The files of a chunk, made ready for their drive.
struct Files {
    entries: Vec<FileEntry>,
    columns: Columns,
    rolls: Rolls,
    cards: Vec<CardRow>,
}

/// Finds or makes the cards, folders and names that the files are of.
async fn prepare(
    conn: &mut Conn,
    series: Uuid,
    files: &mut Files,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let by_name = &files.rolls.by_name;
    let seen: Vec<_> = by_name
        .values()
        .map(|(roll, _)| rolls::card(roll))
        .collect();
    files.cards = ingest::cards(conn, series, &seen, now).await?;
    for card in &files.cards {
        let of_card = by_name.get(&card.name).map(|(_, at)| at.as_slice());
        for at in of_card.unwrap_or_default() {
            if let Some(place) = files.columns.cards.get_mut(*at) {
                *place = Some(card.id);
            }
        }
    }
    Ok(keep::find_places(conn, series, &mut files.columns).await?)
}

fn alive(drive: &ScannedDrive) -> Result<(), OpError> {
    match drive.deleted_at {
        None => Ok(()),
        Some(_) => Err(OpError::Conflict(format!(
            "The drive {} was deleted while it was being scanned. Restore it under Drives, then send this again.",
            drive.label
        ))),
    }
}

/// Takes the files in, of which the contents `added` are new; answers the copies.
async fn take_in(
    conn: &mut Conn,
    access: &Access,
    scan: &mut Scan,
    files: &Files,
    added: &BTreeSet<Uuid>,
    now: DateTime<Utc>,
) -> Result<Vec<Uuid>, OpError> {
    let series = access.series.id;
    let Files {
        entries,
        columns,
        cards,
        ..
    } = files;
    let drive = scans::lock_drive(conn, scan.drive_id).await?;
    alive(&drive)?;
    let mut warnings = std::mem::take(&mut scan.warnings.0);
    tell_cards(conn, access, scan, files, &mut warnings, now).await?;
    let mut known = ingest::find_files(conn, series, columns, added).await?;
    if known.len() != entries.len() {
        return Err(OpError::Internal(
            "a file of a chunk is not there after it was added".into(),
        ));
    }
    let more = additions(&known, columns, entries, &mut warnings);
    elsewhere(&known, columns, cards, &mut warnings);
    let ids: Vec<Uuid> = known.iter().map(|known| known.file_id).collect();
    let there = ingest::there(conn, drive.id, columns).await?;
    let found = compare(&there, &ids, columns);
    // nobody else can touch what was added just now
    let touched: BTreeSet<Uuid> = there
        .iter()
        .map(|copy| copy.file_id)
        .chain(ids)
        .filter(|file| !added.contains(file))
        .collect();
    if !touched.is_empty() && (found.changes() || !more.ids.is_empty()) {
        ingest::lock_files(conn, &Vec::from_iter(touched)).await?;
    }
    ingest::extend_files(conn, columns, &more).await?;
    let moved: Vec<(usize, Uuid)> = more.moved(&known);
    keep::move_to_card(conn, series, columns, &moved).await?;
    for (at, file) in &moved {
        for known in known.iter_mut().filter(|known| known.file_id == *file) {
            known.folder = columns.folders.get(*at).copied().unwrap_or_default();
            known.name_id = columns.name_ids.get(*at).copied().unwrap_or_default();
        }
    }
    keep::place_known(conn, series, drive.id, columns, &known).await?;
    for path in &found.changed_paths {
        warn(
            &mut warnings,
            format!(
                "Changed: {path} holds another content than when it was last read. Both are kept: the file that was \
             there has lost this copy."
            ),
        );
    }
    store(conn, access, scan, columns, &found, now).await?;
    remarks(entries, &mut warnings);
    scan.warnings.0 = warnings;
    scan.bytes = columns
        .sizes
        .iter()
        .fold(scan.bytes, |sum, size| sum.saturating_add(*size));
    scan.new_files = scan
        .new_files
        .saturating_add(i32::try_from(added.len()).unwrap_or(i32::MAX));
    scan.new_copies = scan
        .new_copies
        .saturating_add(i32::try_from(found.new.len()).unwrap_or(i32::MAX));
    scan.extended = scan
        .extended
        .saturating_add(i32::try_from(more.ids.len()).unwrap_or(i32::MAX));
    Ok(found.seen)
}

/// What a chunk means for the copies of its drive.
#[derive(Default)]
struct Found {
    new: Vec<Seen>,
    /// Known, and different in something: their time, their state, when they were read.
    refreshed: Vec<Seen>,
    /// Whose place holds another content now, with when that was read.
    changed: Vec<(Uuid, DateTime<Utc>)>,
    changed_paths: Vec<String>,
    /// All copies of the chunk.
    seen: Vec<Uuid>,
}

impl Found {
    /// Whether it changes anything about any copy.
    fn changes(&self) -> bool {
        !(self.new.is_empty() && self.refreshed.is_empty() && self.changed.is_empty())
    }
}

fn compare(there: &[There], files: &[Uuid], columns: &Columns) -> Found {
    let mut found = Found::default();
    let mut same: Vec<Option<&There>> = vec![None; files.len()];
    for copy in there {
        let at = usize::try_from(copy.at).unwrap_or(usize::MAX);
        let (Some(file), Some(read)) = (files.get(at), columns.read.get(at)) else {
            continue;
        };
        if copy.file_id != *file {
            if copy.state != "changed" {
                found.changed.push((copy.id, *read));
                found.changed_paths.extend(columns.paths.get(at).cloned());
            }
        } else if let Some(place) = same.get_mut(at) {
            *place = Some(copy);
        }
    }
    for (at, (file, known)) in files.iter().zip(same).enumerate() {
        let (modified, read) = (columns.modified.get(at), columns.read.get(at));
        let id = known.map_or_else(Uuid::now_v7, |known| known.id);
        let seen = Seen {
            id,
            file: *file,
            at,
        };
        found.seen.push(id);
        match known {
            None => found.new.push(seen),
            Some(known)
                if known.state != "verified"
                    || modified != Some(&known.mtime)
                    || read.is_some_and(|read| known.checked_at < *read) =>
            {
                found.refreshed.push(seen);
            }
            Some(_) => {}
        }
    }
    found
}

/// Writes what was found, each kind by itself: the counts of holdings ask for it.
async fn store(
    conn: &mut Conn,
    access: &Access,
    scan: &Scan,
    columns: &Columns,
    found: &Found,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let (series, drive) = (&access.series, scan.drive_id);
    if !found.changed.is_empty() {
        ingest::mark_changed(conn, scan.id, &found.changed).await?;
    }
    if !found.refreshed.is_empty() {
        ingest::refresh_copies(conn, scan.id, columns, &found.refreshed).await?;
    }
    if !found.new.is_empty() {
        ingest::insert_copies(conn, series.id, (scan.id, drive), columns, &found.new).await?;
    }
    if !found.changed.is_empty() {
        // A scan may never be completed; what it found changed counts at once.
        super::move_cards(conn, &access.actor, series, Touched::Drive(drive), now).await?;
    }
    Ok(())
}

/// What the command found odd about single files; not so many that they hide the rest.
fn remarks(entries: &[FileEntry], warnings: &mut Vec<String>) {
    const MORE: &str = "More files have such remarks; the scan's own output lists them all.";
    for entry in entries {
        for warning in &entry.warnings {
            if warnings.len() < REMARKS {
                warn(
                    warnings,
                    format!("{}: {}", entry.path_text(), no_nul(warning)),
                );
            } else {
                warn(warnings, MORE.to_owned());
            }
        }
    }
}

/// Tells of the cards that were made for the chunk: those of which no line of the audit trail tells yet.
async fn tell_cards(
    conn: &mut Conn,
    access: &Access,
    scan: &mut Scan,
    files: &Files,
    warnings: &mut Vec<String>,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let series = &access.series;
    let first = files.rolls.outside.first();
    if let Some(first) = first.and_then(|at| files.columns.paths.get(*at))
        && !warnings.iter().any(|text| text.starts_with(OUTSIDE))
    {
        warn(
            warnings,
            format!(
                "{OUTSIDE} {} (the first: {first}). They are kept, but belong to no card.",
                series.fields.roll_pattern
            ),
        );
    }
    let ids: Vec<Uuid> = files.cards.iter().map(|card| card.id).collect();
    let made = audit::untold(conn, &ids).await?;
    let summary = scan.summary.get_or_insert_default();
    for card in files.cards.iter().filter(|card| made.contains(&card.id)) {
        let Some((roll, _)) = files.rolls.by_name.get(&card.name) else {
            continue;
        };
        summary.0.cards_made = summary.0.cards_made.saturating_add(1);
        let subject = Subject::of(series.id, "card", card.id);
        audit::record(
            conn,
            &access.actor,
            now,
            "created",
            subject,
            NOTHING,
            Some(roll),
        )
        .await?;
        for problem in rolls::problems(series, roll) {
            warn(warnings, problem);
        }
    }
    Ok(())
}

/// From so many warnings on, remarks on single files are only counted in.
const REMARKS: usize = 50;

/// How the warning about files outside of roll folders begins.
const OUTSIDE: &str = "Some files lie in no folder named by the pattern";

/// What this scan knows more than the series did, and where the two contradict each other.
fn additions(
    known: &[Known],
    columns: &Columns,
    entries: &[FileEntry],
    warnings: &mut Vec<String>,
) -> Additions {
    let mut more = Additions::default();
    let mut done = BTreeSet::new();
    for (at, known) in known.iter().enumerate() {
        let (Some(entry), Some(hashes)) = (entries.get(at), columns.hashes.get(at)) else {
            continue;
        };
        let card = columns.cards.get(at).copied().flatten();
        let other = |kind: &HashKind| known.hashes.get(kind.name()).and_then(Value::as_str);
        let contradicts =
            |(kind, digest): (&HashKind, &String)| other(kind).is_some_and(|other| other != digest);
        if let Some((kind, _)) = entry.hashes.iter().find(|pair| contradicts(*pair)) {
            warn(
                warnings,
                format!(
                    "{}: its xxh128 is that of a known file, but its {} is another. One of the two readings is wrong: read \
                 both copies again.",
                    entry.path_text(),
                    kind.name()
                ),
            );
        }
        let adds_hash = entry.hashes.keys().any(|kind| other(kind).is_none());
        let adds_card = known.card_id.is_none() && card.is_some();
        let adds_facts = !known.has_facts && columns.facts.get(at).is_some_and(Option::is_some);
        if (adds_hash || adds_card || adds_facts) && done.insert(known.file_id) {
            more.ids.push(known.file_id);
            more.hashes.push(hashes.clone());
            more.cards.push(card);
            more.at.push(at);
        }
    }
    more
}

/// Content that belongs to another card already: a card copied twice under two names, or a file moved.
fn elsewhere(known: &[Known], columns: &Columns, cards: &[CardRow], warnings: &mut Vec<String>) {
    let mut counts = BTreeMap::<&str, u64>::new();
    for (known, card) in known.iter().zip(&columns.cards) {
        let size = columns
            .sizes
            .get(usize::try_from(known.at).unwrap_or_default());
        if let (Some(theirs), Some(ours)) = (known.card_id, card)
            && theirs != *ours
            && size.is_some_and(|size| *size > 0)
            && let Some(card) = cards.iter().find(|card| card.id == *ours)
        {
            let count = counts.entry(card.name.as_str()).or_default();
            *count = count.saturating_add(1);
        }
    }
    for (name, count) in counts {
        let stay = match count {
            1 => "1 of its files has the same content as a file of another card and stays with that one".to_owned(),
            many => format!(
                "{} of its files have the same content as files of another card and stay with that one",
                grouped(many)
            ),
        };
        let text = format!("{name}: {stay}. Was a card copied twice under two names?");
        warn(warnings, text);
    }
}
