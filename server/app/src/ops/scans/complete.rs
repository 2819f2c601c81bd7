//! The end of a scan: its counts are checked, what was not found is marked, and the cards' states follow.

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde_json::json;
use uuid::Uuid;
use waybill_domain::footage::roll::collisions;
use waybill_domain::manifest::{SKIPPED_SENT, ScanComplete, ScanSummary, Skipped, scan_digest};
use waybill_domain::perms::Action;

use crate::app::App;
use crate::db::card_states::Touched;
use crate::db::scans::{self, Scan, ScanState};
use crate::db::series::Series;
use crate::db::{Conn, Json, card_rates, card_states, checks, one_device, scan_end};
use crate::error::OpError;
use crate::ops::access::{Access, Actor, enter};
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::{care, check, holdings, matching};

use super::devices;

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
    let summary = conn
        .transaction::<_, OpError, _>(async |conn| {
            let mut scan = scans::lock(conn, series, scan)
                .await?
                .ok_or(OpError::NotFound("the scan"))?;
            if let (ScanState::Complete, Some(Json(summary))) = (scan.state, &scan.summary) {
                return Ok(Some(summary.clone()));
            }
            if scan.next_chunk == 0 && whole.files == 0 {
                forget(conn, &access, &scan, now).await?;
                return Ok(None);
            }
            received(conn, &scan, &whole).await?;
            close(conn, &access, &mut scan, now).await.map(Some)
        })
        .await?;
    summary.ok_or_else(|| {
        OpError::UnsafeState(
            "This scan holds no file, so it says nothing about the drive and was not kept. Check that the drive is \
             mounted and that the folder is the right one."
                .into(),
        )
    })
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
            "{} files were announced, {files} came in {} chunks. Send the missing chunks (the next is {}), then complete \
             again.",
            whole.files, scan.next_chunk, scan.next_chunk
        )));
    }
    if !scan_digest(scans::digests(conn, scan.id).await?).eq_ignore_ascii_case(&whole.digest) {
        return Err(OpError::Conflict(
            "The chunks that came are not those that were sent: their digest differs. Scan again under a new id.".into(),
        ));
    }
    Ok(())
}

async fn close(
    conn: &mut Conn,
    access: &Access,
    scan: &mut Scan,
    now: DateTime<Utc>,
) -> Result<ScanSummary, OpError> {
    let (series, actor) = (access.series.id, &access.actor);
    let mut warnings = std::mem::take(&mut scan.warnings.0);
    let all_was_read = rest_is_missing(scan);
    let moved = all_was_read && one_device::has_moved(conn, scan.id).await?;
    if moved {
        one_device::take_turns(conn, series).await?;
        one_device::forget_moved(conn, scan.id).await?;
    }
    // Before any file is locked: who sends the other drive locks that first.
    let paired = twin(conn, actor, scan, now, &mut warnings).await?;
    lost(conn, scan, all_was_read, &mut warnings).await?;
    let brought = scan_end::brought(conn, scan.id).await?;
    for wanted in card_states::days_wanted(conn, series, &brought.cards).await? {
        warnings.push(format!(
                "{} of {}: no shoot day is entered for that date. Enter it under Shoot days, and they are counted there.",
                counted(wanted.cards, "card", "cards"),
                check::date(wanted.day)
            ),
        );
    }
    let names = scan_end::card_names(conn, series).await?;
    for collision in collisions(names.iter().map(String::as_str)) {
        warnings.push(format!("{collision}, letters big or small."));
    }
    if scan.new_files > 0 || scan.extended > 0 {
        card_rates::count(conn, &brought.cards).await?;
    }
    let rate = &access.series.fields.frame_rate;
    let made_now = Some(scan.created_at);
    for other in
        card_rates::others(conn, series, card_rates::of_series(rate), None, made_now).await?
    {
        warnings.push(format!("{}: {}.", other.name, other.words(rate)));
    }
    // Cuts may name what was only now catalogued.
    if scan.new_files > 0 || scan.extended > 0 {
        let since = (scan.extended == 0).then_some(scan.created_at);
        matching::rematch_scanned(conn, series, scan.id, since).await?;
    }
    if moved || paired {
        warnings.extend(devices::regroup(conn, actor, &access.series, now).await?);
    }
    let cared = care::after_check(conn, actor, &access.series, scan.drive_id, now).await?;
    warnings.extend(cared.moved.iter().filter_map(lost_safety));
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
    Ok(summary)
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
        warnings.push(format!(
            "{} known in this folder of the drive and not there now; the first: {}.",
            counted(missing.len() as i64, "file is", "files are"),
            first.path
        ));
    }
    if !rest_is_missing {
        warnings.push(
            "Too much of this folder could not be read to say what is missing from it.".to_owned(),
        );
    }
    Ok(())
}

/// Notes when everything lies at the same places with the same times as on another drive: it may be that drive. Whether
/// that is another answer than before.
async fn twin(
    conn: &mut Conn,
    actor: &Actor,
    scan: &Scan,
    now: DateTime<Utc>,
    warnings: &mut Vec<String>,
) -> Result<bool, OpError> {
    let mostly = i64::from(scan.files).saturating_mul(9);
    let like = scan_end::twin(conn, scan.id, scan.drive_id).await?;
    if like.is_none() && !scans::has_twin(conn, scan.drive_id).await? {
        return Ok(false);
    }
    one_device::take_turns(conn, scan.series_id).await?;
    let near = like.iter().map(|like| like.id).chain([scan.drive_id]);
    let drives = scans::lock_alike(conn, &near.collect::<Vec<_>>()).await?;
    let find = |id: Uuid| drives.iter().find(|drive| drive.id == id);
    let Some(before) = find(scan.drive_id).filter(|drive| !drive.known_separate) else {
        return Ok(false);
    };
    let like = like.filter(|twin| {
        let differ =
            !twin.volume.is_empty() && !before.volume.is_empty() && twin.volume != before.volume;
        twin.same.saturating_mul(10) >= mostly && !differ
    });
    let mut twin_of = None;
    if let Some(like) = like
        && let Some(other) = find(like.id)
        && !other.known_separate
        && other.twin_of != Some(before.id)
    {
        twin_of = Some(other.twin_of.unwrap_or(other.id)).filter(|id| *id != before.id);
        warnings.push(format!(
                "All that is on {} lies at the same places, with the same times, on {}. If that is one drive with two \
                 labels, delete {} under Drives and scan with --drive \"{}\". If they are two, say so at {} under \
                 Drives; until then the two count as one copy.",
                before.label, like.label, before.label, like.label, before.label
            ),
        );
    }
    if twin_of == before.twin_of {
        return Ok(false);
    }
    // What was taken for this drive is taken for the same one as it.
    let followers = drives
        .iter()
        .filter(|drive| twin_of.is_some() && drive.twin_of == Some(before.id));
    for before in std::iter::once(before).chain(followers) {
        let mut after = before.clone();
        after.twin_of = twin_of.filter(|id| *id != after.id);
        scans::identify_drive(conn, &after).await?;
        let subject = Subject::of(scan.series_id, "drive", before.id);
        audit::record(
            conn,
            actor,
            now,
            "compared",
            subject,
            Some(before),
            Some(&after),
        )
        .await?;
    }
    Ok(true)
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

fn counted(count: i64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
