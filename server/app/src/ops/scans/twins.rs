//! The end of a scan, for which drive it is of: another one that it looks like is one with it from before its cards are
//! worked out, and what has moved to a device of its own is let go after that. Both wait for the turn of the series, so
//! each is a short step of its own; what takes long at the end of a scan keeps nobody from beginning one.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{devices, say};
use crate::db::scans::{self, Scan, ScannedDrive};
use crate::db::{Conn, one_device, scan_end};
use crate::error::OpError;
use crate::ops::access::Access;
use crate::ops::audit::{self, Subject};

/// Notes when everything lies at the same places with the same times as on another drive: it may be that drive. Answers
/// the drive that it was taken for and is unlike now.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn link(
    conn: &mut Conn,
    access: &Access,
    scan: &Scan,
    now: DateTime<Utc>,
) -> Result<Option<Uuid>, OpError> {
    let mostly = i64::from(scan.files).saturating_mul(9);
    let like = scan_end::twin(conn, scan.id, scan.drive_id).await?;
    if like.is_none() && !scans::has_twin(conn, scan.drive_id).await? {
        return Ok(None);
    }
    one_device::take_turns(conn, scan.series_id).await?;
    let near = like.iter().map(|like| like.id).chain([scan.drive_id]);
    let drives = scans::lock_alike(conn, &near.collect::<Vec<_>>()).await?;
    let find = |id: Uuid| drives.iter().find(|drive| drive.id == id);
    let Some(before) = find(scan.drive_id).filter(|drive| !drive.known_separate) else {
        return Ok(None);
    };
    let like = like.filter(|twin| {
        let differ =
            !twin.volume.is_empty() && !before.volume.is_empty() && twin.volume != before.volume;
        twin.same.saturating_mul(10) >= mostly && !differ
    });
    let mut warnings = scan.warnings.0.clone();
    let mut twin_of = None;
    if let Some(like) = like
        && let Some(other) = find(like.id)
        && !other.known_separate
        && other.twin_of != Some(before.id)
    {
        twin_of = Some(other.twin_of.unwrap_or(other.id)).filter(|id| *id != before.id);
        say(
            &mut warnings,
            format!(
                "All that is on {} lies at the same places, with the same times, on {}. If that is one drive with two \
                 labels, delete {} under Drives and scan with --drive \"{}\". If they are two, say so at {} under \
                 Drives; until then the two count as one copy.",
                before.label, like.label, before.label, like.label, before.label
            ),
        );
    }
    if twin_of.is_none() {
        return Ok(before.twin_of);
    }
    if twin_of != before.twin_of {
        // What was taken for this drive is taken for the same one as it.
        let followers = drives
            .iter()
            .filter(|drive| drive.twin_of == Some(before.id));
        for before in std::iter::once(before).chain(followers) {
            alike(conn, access, before, twin_of, now).await?;
        }
        let unsafe_now = devices::regroup(conn, &access.actor, &access.series, now).await?;
        unsafe_now
            .into_iter()
            .for_each(|text| say(&mut warnings, text));
    }
    // kept, since this step is not done again as it was where the next one fails
    scans::warn(conn, scan.id, warnings).await?;
    Ok(None)
}

/// Notes that a drive may be another one, or none.
async fn alike(
    conn: &mut Conn,
    access: &Access,
    before: &ScannedDrive,
    twin_of: Option<Uuid>,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let mut after = before.clone();
    after.twin_of = twin_of.filter(|id| *id != after.id);
    scans::identify_drive(conn, &after).await?;
    let subject = Subject::of(access.series.id, "drive", before.id);
    let (before, after) = (Some(before), Some(&after));
    audit::record(conn, &access.actor, now, "compared", subject, before, after).await
}

/// Lets a drive go from those that it does not lie with any more, and from the one that it is unlike now; its cards
/// follow. Where the server stops before this, it stays with them until drives are grouped again or scanned whole.
pub async fn part(
    conn: &mut Conn,
    access: &Access,
    drive: Uuid,
    unlike: Option<Uuid>,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    one_device::take_turns(conn, access.series.id).await?;
    if unlike.is_some() {
        let drives = scans::lock_alike(conn, &[drive]).await?;
        // unless another scan has found meanwhile what it is like
        let before = drives
            .iter()
            .find(|one| one.id == drive && one.twin_of == unlike);
        if let Some(before) = before {
            alike(conn, access, before, None, now).await?;
        }
    }
    // drives that part make no card less safe
    devices::regroup(conn, &access.actor, &access.series, now)
        .await
        .map(drop)
}
