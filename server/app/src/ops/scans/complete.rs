//! The end of a scan: its counts are checked, what was not found is marked, and the cards' states follow.

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde_json::json;
use uuid::Uuid;
use waybill_domain::footage::roll::collisions;
use waybill_domain::manifest::{SKIPPED_SENT, ScanComplete, ScanSummary, Skipped, scan_digest};
use waybill_domain::perms::Action;
use waybill_domain::wording::{counted, grouped};

use crate::app::App;
use crate::db::card_states::Touched;
use crate::db::scans::{self, Scan, ScanState};
use crate::db::series::Series;
use crate::db::{Conn, Json, card_rates, card_states, checks, one_device, scan_end};
use crate::error::OpError;
use crate::ops::access::{Access, Actor, enter};
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::{care, check, holdings, matching};

use super::{devices, say, twins};

/// Closes a scan. Asked again, it answers the same and does nothing.
///
/// # Errors
/// Access; `NotFound`; `Conflict` when chunks are missing or different; `UnsafeState` for a scan without files.
pub async fn complete(
    app: &App,
    actor: &Actor,
    series: Uuid,
    scan: Uuid,
    whole: ScanComplete,
) -> Result<ScanSummary, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::SendScan).await?;
    let now = app.now();
    let begun = conn
        .transaction::<_, OpError, _>(async |conn| begin(conn, &access, scan, &whole, now).await)
        .await?;
    let unlike = match begun {
        Begun::Whole { unlike } => unlike,
        Begun::Closed(summary) => return Ok(summary),
        Begun::Empty => {
            return Err(OpError::UnsafeState(
                "This scan holds no file, so it says nothing about the drive and was not kept. Check that the drive is \
                 mounted and that the folder is the right one."
                    .into(),
            ));
        }
    };
    let (summary, apart) = conn
        .transaction::<_, OpError, _>(async |conn| {
            let mut scan = lock(conn, series, scan).await?;
            if let Some(summary) = closed(&scan) {
                return Ok((summary, None));
            }
            received(conn, &scan, &whole).await?;
            let (summary, moved) = close(conn, &access, &mut scan, now).await?;
            Ok((
                summary,
                (moved || unlike.is_some()).then_some(scan.drive_id),
            ))
        })
        .await?;
    if let Some(drive) = apart {
        conn.transaction::<_, OpError, _>(async |conn| {
            twins::part(conn, &access, drive, unlike, now).await
        })
        .await?;
    }
    Ok(summary)
}

/// What the first step of closing a scan found.
enum Begun {
    /// It was closed before.
    Closed(ScanSummary),
    /// It held no file, and is no more.
    Empty,
    /// All came; with the drive that its own was taken for and is unlike now.
    Whole { unlike: Option<Uuid> },
}

async fn begin(
    conn: &mut Conn,
    access: &Access,
    scan: Uuid,
    whole: &ScanComplete,
    now: DateTime<Utc>,
) -> Result<Begun, OpError> {
    let scan = lock(conn, access.series.id, scan).await?;
    if let Some(summary) = closed(&scan) {
        return Ok(Begun::Closed(summary));
    }
    if scan.next_chunk == 0 && whole.files == 0 {
        forget(conn, access, &scan, now).await?;
        return Ok(Begun::Empty);
    }
    received(conn, &scan, whole).await?;
    let unlike = twins::link(conn, access, &scan, now).await?;
    Ok(Begun::Whole { unlike })
}

async fn lock(conn: &mut Conn, series: Uuid, scan: Uuid) -> Result<Scan, OpError> {
    let scan = scans::lock(conn, series, scan).await?;
    scan.ok_or(OpError::NotFound("the scan"))
}

/// What was said when the scan was closed before.
fn closed(scan: &Scan) -> Option<ScanSummary> {
    let summary = scan.summary.as_ref().map(|Json(summary)| summary.clone());
    summary.filter(|_| scan.state == ScanState::Complete)
}

/// A scan that brought nothing leaves nothing: neither itself nor the drive that it made.
async fn forget(
    conn: &mut Conn,
    access: &Access,
    scan: &Scan,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let actor = &access.actor;
    one_device::take_turns(conn, scan.series_id).await?;
    scans::delete(conn, scan.id).await?;
    checks::delete(conn, scan.id).await?;
    if scans::delete_untouched_drive(conn, scan.drive_id, scan.created_at).await? {
        let subject = Subject::of(scan.series_id, "drive", scan.drive_id);
        audit::record(conn, actor, now, "not_kept", subject, NOTHING, NOTHING).await?;
    }
    devices::regroup(conn, actor, &access.series, now).await?;
    Ok(())
}

/// Whether everything came.
async fn received(conn: &mut Conn, scan: &Scan, whole: &ScanComplete) -> Result<(), OpError> {
    let files = u64::try_from(scan.files).unwrap_or_default();
    if files != whole.files {
        return Err(OpError::Conflict(format!(
            "{} announced, {} came in {}. Send the missing chunks (the next is {}), then complete again.",
            counted(whole.files, "file was", "files were"),
            grouped(files),
            counted(scan.next_chunk.unsigned_abs().into(), "chunk", "chunks"),
            scan.next_chunk
        )));
    }
    if !scan_digest(scans::digests(conn, scan.id).await?).eq_ignore_ascii_case(&whole.digest) {
        return Err(OpError::Conflict(
            "The chunks that came are not those that were sent: their digest differs. Scan again under a new id.".into(),
        ));
    }
    Ok(())
}

/// Closes a scan of which everything came; answers whether earlier ones found its folder on another device, too.
async fn close(
    conn: &mut Conn,
    access: &Access,
    scan: &mut Scan,
    now: DateTime<Utc>,
) -> Result<(ScanSummary, bool), OpError> {
    let (series, actor) = (access.series.id, &access.actor);
    let mut warnings = std::mem::take(&mut scan.warnings.0);
    let all_was_read = rest_is_missing(scan);
    lost(conn, scan, all_was_read, &mut warnings).await?;
    let brought = scan_end::brought(conn, scan.id).await?;
    for wanted in card_states::days_wanted(conn, series, &brought.cards).await? {
        say(
            &mut warnings,
            format!(
                "{} of {}: no shoot day is entered for that date. Enter it under Shoot days, and they are counted there.",
                counted(wanted.cards.unsigned_abs(), "card", "cards"),
                check::date(wanted.day)
            ),
        );
    }
    let names = scan_end::card_names(conn, series).await?;
    for collision in collisions(names.iter().map(String::as_str)) {
        say(&mut warnings, format!("{collision}, letters big or small."));
    }
    if scan.new_files > 0 || scan.extended > 0 {
        card_rates::count(conn, &brought.cards).await?;
    }
    let rate = &access.series.fields.frame_rate;
    let made_now = Some(scan.created_at);
    for other in
        card_rates::others(conn, series, card_rates::of_series(rate), None, made_now).await?
    {
        say(
            &mut warnings,
            format!("{}: {}.", other.name, other.words(rate)),
        );
    }
    // Cuts may name what was only now catalogued.
    if scan.new_files > 0 || scan.extended > 0 {
        let since = (scan.extended == 0).then_some(scan.created_at);
        matching::rematch_scanned(conn, series, scan.id, since).await?;
    }
    let mut moved = false;
    if all_was_read {
        let told = devices::told(conn, scan.id).await?;
        moved = !told.elsewhere.is_empty();
        one_device::forget(conn, &told.elsewhere).await?;
        if told.unsure {
            let text = devices::unsure(conn, series, scan.drive_id).await?;
            text.into_iter().for_each(|text| say(&mut warnings, text));
        }
    }
    let cared = care::after_check(conn, actor, &access.series, scan.drive_id, now).await?;
    warnings.extend(cared.moved.iter().filter_map(lost_safety));
    if !moved {
        let held_back = one_device::held_back(conn, scan.series_id, &[scan.drive_id]).await?;
        held_back
            .iter()
            .for_each(|why| say(&mut warnings, why.to_string()));
    }
    checks::close_scan(conn, scan.id, scan.files, now).await?;
    let contents = u64::try_from(brought.contents).unwrap_or_default();
    let new_files = u64::try_from(scan.new_files).unwrap_or_default();
    let mut summary = scan.summary.take().unwrap_or_default().0;
    summary.new_files = new_files;
    summary.known_files = contents.saturating_sub(new_files);
    summary.new_copies = u64::try_from(scan.new_copies).unwrap_or_default();
    summary.warnings = warnings.clone();
    scan.warnings.0 = warnings;
    scan.summary = Some(Json(summary.clone()));
    scan.state = ScanState::Complete;
    scan.completed_at = Some(now);
    scans::update(conn, scan).await?;
    scan_end::forget_seen(conn, scan.id).await?;
    holdings::tidy_later(conn, series, scan.files, now).await?;
    let line = json!({
        "drive_id": scan.drive_id, "root": scan.root, "files": scan.files, "bytes": scan.bytes,
        "new_files": scan.new_files, "new_copies": scan.new_copies, "warnings": scan.warnings.0.len(),
    });
    let subject = Subject::of(series, "scan", scan.id);
    audit::record(conn, actor, now, "completed", subject, NOTHING, Some(&line)).await?;
    Ok((summary, moved))
}

/// What could not be read.
fn failed(scan: &Scan) -> impl Iterator<Item = &Skipped> {
    (scan.skipped.0.iter()).filter(|skipped| skipped.reason.is_failure())
}

/// Whether enough was read to say of what was not found that it is not there.
fn rest_is_missing(scan: &Scan) -> bool {
    let top = failed(scan).any(|skipped| matches!(skipped.path.as_str(), "" | "." | "/"));
    !top && failed(scan).count() < SKIPPED_SENT
}

/// Marks what is known on the drive and was not found. Where part of the folder could not be read, nothing is called
/// missing: it may be there.
async fn lost(
    conn: &mut Conn,
    scan: &Scan,
    rest_is_missing: bool,
    warnings: &mut Vec<String>,
) -> Result<(), OpError> {
    let unreadable: Vec<String> = failed(scan)
        .map(|skipped| format!("{}/{}", scan.root, skipped.path))
        .collect();
    let lost = scan_end::mark_lost(
        conn,
        scan.id,
        scan.drive_id,
        &scan.root,
        &unreadable,
        rest_is_missing,
    )
    .await?;
    let missing: Vec<_> = lost.iter().filter(|lost| lost.state == "missing").collect();
    if let Some(first) = missing.first() {
        say(
            warnings,
            format!(
                "{} known in this folder of the drive and not there now; the first: {}.",
                counted(missing.len() as u64, "file is", "files are"),
                first.path
            ),
        );
    }
    if !rest_is_missing {
        say(
            warnings,
            "Too much of this folder could not be read to say what is missing from it.".to_owned(),
        );
    }
    Ok(())
}

/// What to say of a card that was safe to wipe and is not any more.
pub fn lost_safety(card: &card_states::CardMoved) -> Option<String> {
    (card.before == "safe_to_wipe").then(|| {
        format!(
            "{} was safe to wipe, but what that rested on is no longer so. Do not wipe it; its page says why.",
            card.name
        )
    })
}

/// Works out cards anew, with a line of the audit trail for each that moved.
pub async fn move_cards(
    conn: &mut Conn,
    actor: &Actor,
    series: &Series,
    touched: Touched,
    now: DateTime<Utc>,
) -> Result<Vec<card_states::CardMoved>, OpError> {
    let apart = series.fields.copies_apart;
    let moved = card_states::work_out(conn, series.id, touched, apart, now).await?;
    for card in &moved {
        let subject = Subject::of(series.id, "card", card.id);
        let (before, after) = (
            json!({ "state": card.before }),
            json!({ "state": card.after }),
        );
        audit::record(
            conn,
            actor,
            now,
            "changed",
            subject,
            Some(&before),
            Some(&after),
        )
        .await?;
    }
    Ok(moved)
}
