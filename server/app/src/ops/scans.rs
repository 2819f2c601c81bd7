//! Scans of drives: opened, received chunk by chunk, completed. Every step may be repeated.

mod chunk;
mod columns;
mod complete;
mod devices;
mod rolls;
mod twins;

use diesel_async::AsyncConnection;
use uuid::Uuid;
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::{DEVICES_SENT, SKIPPED_SENT, ScanStart, ScanStarted};
use waybill_domain::perms::Action;
use waybill_domain::verification::CheckKind;

pub use chunk::receive;
pub use complete::{complete, lost_safety, move_cards};

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::check;
use crate::app::App;
use crate::db::card_states::{self, Arrival, DriveContents, Touched};
use crate::db::checks::{self, DriveCheck};
use crate::db::drive_seen;
use crate::db::scans::{self, Scan, ScanState, ScannedDrive};
use crate::db::{Conn, card_rates, one_device};
use crate::error::{FieldError, OpError};

/// The most warnings that are kept of one scan; the last then says that there were more.
const WARNINGS: usize = 200;

/// Opens a scan, or finds it again.
///
/// # Errors
/// Access; `Invalid`; `Conflict` when the id belongs to another scan, or the drive is known under another label.
pub async fn begin(
    app: &App,
    actor: &Actor,
    series: Uuid,
    mut start: ScanStart,
) -> Result<ScanStarted, OpError> {
    checked(&start)?;
    start.devices = devices_of(app, &start);
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::SendScan).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        one_device::take_turns(conn, series).await?;
        if let Some(known) = scans::any(conn, start.id).await? {
            let started = again(conn, series, &start, &known).await?;
            if one_device::add(conn, known.id, &start.devices).await? {
                devices::regroup(conn, actor, &access.series, now).await?;
            }
            if let Some(seen) = &start.seen {
                drive_seen::keep(conn, known.drive_id, seen, now).await?;
            }
            return Ok(started);
        }
        let drive = drive(conn, actor, series, &start, now).await?;
        let mut warnings = Vec::new();
        for skipped in start.skipped.iter().filter(|skipped| skipped.reason.is_failure()) {
            warn(&mut warnings, format!("Not read: {}: {}", skipped.path, skipped.detail));
        }
        let volume = start.volume.as_deref().unwrap_or_default();
        if !volume.is_empty() && !drive.volume.is_empty() && drive.volume != volume {
            warn(&mut warnings, format!(
                "The drive {} was another volume when it was last scanned. Was it formatted, or is this another drive \
                 with the same label? Two drives with one label count as one copy.",
                drive.label
            ));
        }
        if !scans::insert(conn, series, drive.id, actor.user_id, &start, warnings.clone(), now).await? {
            return Err(OpError::Conflict("The scan was just opened by another run; send it again.".into()));
        }
        // before a file of it counts, and whether it is ever completed or not
        let unsafe_now = devices::regroup(conn, actor, &access.series, now).await?;
        let beside = devices::beside(conn, series, (drive.id, &drive.label)).await?;
        if beside.is_some() || !unsafe_now.is_empty() {
            let said = beside.into_iter().chain(unsafe_now);
            said.for_each(|text| warn(&mut warnings, text));
            scans::warn(conn, start.id, warnings).await?;
        }
        if let Some(seen) = &start.seen {
            drive_seen::keep(conn, drive.id, seen, now).await?;
        }
        checks::insert(conn, &reading(actor, series, drive.id, &start, now)).await?;
        Ok(ScanStarted { id: start.id, next_chunk: 0, complete: false })
    })
    .await
}

/// What names the device of a scan. An older command tells of the volume only.
fn devices_of(app: &App, start: &ScanStart) -> Vec<String> {
    if app.drives_by_label {
        return vec![format!("label:{}", start.drive.to_lowercase())];
    }
    let mut devices = start.devices.clone();
    devices.extend(start.volume.clone().filter(|volume| !volume.is_empty()));
    devices.sort_unstable();
    devices.dedup();
    devices
}

/// The scan as a reading of its drive.
fn reading(
    actor: &Actor,
    series: Uuid,
    drive: Uuid,
    start: &ScanStart,
    now: chrono::DateTime<chrono::Utc>,
) -> DriveCheck {
    DriveCheck {
        id: start.id,
        series_id: series,
        drive_id: drive,
        how: start.how.word().into(),
        root: start.root.clone(),
        tool: start.tool.clone(),
        machine: start.machine.clone().unwrap_or_default(),
        checked_by: Some(actor.user_id),
        checked_by_name: actor.name.clone(),
        state: "receiving".into(),
        next_chunk: 0,
        lines: 0,
        summary: None,
        created_at: now,
        completed_at: None,
    }
}

fn checked(start: &ScanStart) -> Result<(), OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/drive", &start.drive, 100);
    if start.drive.trim() != start.drive {
        faults.push(FieldError::new(
            "/drive",
            "A label has no blanks at its ends.",
        ));
    }
    check::required(&mut faults, "/root", &start.root, 1000);
    check::required(&mut faults, "/tool", &start.tool, 200);
    check::text(
        &mut faults,
        "/volume",
        start.volume.as_deref().unwrap_or_default(),
        200,
    );
    if start.devices.len() > DEVICES_SENT {
        let words = format!("At most {DEVICES_SENT} names of a device are taken.");
        faults.push(FieldError::new("/devices", words));
    }
    for (at, name) in start.devices.iter().enumerate() {
        check::required(&mut faults, &format!("/devices/{at}"), name, 200);
    }
    if let Some(seen) = &start.seen {
        let serial = seen.serial.as_deref().unwrap_or_default();
        check::text(&mut faults, "/seen/serial", serial, 200);
        if seen.free_bytes > seen.capacity_bytes {
            let words = "More is free than fits on the drive.";
            faults.push(FieldError::new("/seen/free_bytes", words));
        }
    }
    check::text(
        &mut faults,
        "/machine",
        start.machine.as_deref().unwrap_or_default(),
        200,
    );
    if start.how == CheckKind::Verify {
        faults.push(FieldError::new(
            "/how",
            "A verification is sent to its drive's own address; a scan is scan or copy.",
        ));
    }
    if start.file_count == Some(0) {
        faults.push(FieldError::new(
            "/file_count",
            "This folder holds no file. Check that the drive is mounted and that the folder is the right one; \
             nothing was saved.",
        ));
    }
    if !start.hashes.contains(&HashKind::Xxh128) {
        faults.push(FieldError::new(
            "/hashes",
            "Files are told apart by their xxh128; scan again with a program that makes it beside the others.",
        ));
    }
    if start.skipped.len() > SKIPPED_SENT {
        faults.push(FieldError::new(
            "/skipped",
            format!("At most {SKIPPED_SENT} entries are taken."),
        ));
    }
    for (at, skipped) in start.skipped.iter().enumerate() {
        for (field, value) in [("path", &skipped.path), ("detail", &skipped.detail)] {
            if value.len() > 8192 || value.contains('\0') {
                faults.push(FieldError::new(
                    format!("/skipped/{at}/{field}"),
                    "At most 8,192 bytes without NUL are taken.",
                ));
            }
        }
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(OpError::Invalid(faults))
    }
}

/// The same id a second time.
async fn again(
    conn: &mut Conn,
    series: Uuid,
    start: &ScanStart,
    known: &Scan,
) -> Result<ScanStarted, OpError> {
    let drive = scans::lock_drive(conn, known.drive_id).await?;
    if known.series_id != series
        || known.root != start.root
        || drive.label.to_lowercase() != start.drive.to_lowercase()
    {
        return Err(OpError::Conflict(
            "This scan was begun before with another series, drive or folder. Scan again from the start; \
             nothing was saved."
                .into(),
        ));
    }
    Ok(ScanStarted {
        id: known.id,
        next_chunk: u32::try_from(known.next_chunk).unwrap_or_default(),
        complete: known.state == ScanState::Complete,
    })
}

/// The drive that a label means: a known one, or a new record.
async fn drive(
    conn: &mut Conn,
    actor: &Actor,
    series: Uuid,
    start: &ScanStart,
    now: chrono::DateTime<chrono::Utc>,
) -> Result<ScannedDrive, OpError> {
    let volume = start.volume.as_deref().unwrap_or_default();
    let same = match volume {
        "" => None,
        volume => scans::drive_by_volume(conn, series, volume).await?,
    };
    if let Some(same) = &same
        && same.label.to_lowercase() != start.drive.to_lowercase()
    {
        return Err(OpError::Conflict(format!(
            "This drive is known as \"{}\". Scan it again with --drive \"{}\", or change its label under Drives first. \
             Counted twice, one drive would look like two copies; nothing was saved.",
            same.label, same.label
        )));
    }
    if let Some(known) = scans::drive_by_label(conn, series, &start.drive).await? {
        let mut known = scans::lock_drive(conn, known.id).await?;
        if known.volume.is_empty() && !volume.is_empty() {
            volume.clone_into(&mut known.volume);
            scans::identify_drive(conn, &known).await?;
        }
        return Ok(known);
    }
    let made = scans::insert_drive(conn, series, &start.drive, volume, now).await?;
    let subject = Subject::of(series, "drive", made.id);
    audit::record(conn, actor, now, "created", subject, NOTHING, Some(&made)).await?;
    Ok(made)
}

/// The newest scans.
///
/// # Errors
/// Access; the database's.
pub async fn list(app: &App, actor: &Actor, series: Uuid) -> Result<Vec<Scan>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    Ok(scans::newest(conn, series, 200).await?)
}

/// What a drive holds.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn contents(
    app: &App,
    actor: &Actor,
    series: Uuid,
    drive: Uuid,
) -> Result<DriveContents, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    scans::find_drive(conn, series, drive)
        .await?
        .ok_or(OpError::NotFound("the drive"))?;
    Ok(card_states::contents(conn, series, drive).await?)
}

/// Notes that a drive is another one than the drive it looks like, and works out its cards anew.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn separate(
    app: &App,
    actor: &Actor,
    series: Uuid,
    drive: Uuid,
) -> Result<DriveContents, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::EditFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        one_device::take_turns(conn, series).await?;
        let before = scans::find_drive(conn, series, drive)
            .await?
            .ok_or(OpError::NotFound("the drive"))?;
        let mut after = before.clone();
        (after.twin_of, after.known_separate) = (None, true);
        scans::identify_drive(conn, &after).await?;
        let subject = Subject::of(series, "drive", drive);
        audit::record(
            conn,
            actor,
            now,
            "known_separate",
            subject,
            Some(&before),
            Some(&after),
        )
        .await?;
        devices::regroup(conn, actor, &access.series, now).await?;
        move_cards(conn, actor, &access.series, Touched::Drive(drive), now).await?;
        Ok(card_states::contents(conn, series, drive).await?)
    })
    .await
}

/// Cards expected and cards arrived, for each shoot day until today.
///
/// # Errors
/// Access; the database's.
pub async fn arrivals(app: &App, actor: &Actor, series: Uuid) -> Result<Vec<Arrival>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    let zone: chrono_tz::Tz = access.series.fields.zone.parse().unwrap_or(chrono_tz::UTC);
    let today = app.now().with_timezone(&zone).date_naive();
    let rate = card_rates::of_series(&access.series.fields.frame_rate);
    Ok(card_states::arrivals(conn, series, today, rate).await?)
}

/// Adds a sentence for the person who scans, up to a limit.
fn warn(warnings: &mut Vec<String>, text: String) {
    match warnings.len() {
        WARNINGS => warnings.push("There are more warnings of these kinds.".into()),
        len if len > WARNINGS => {}
        _ if warnings.contains(&text) => {}
        _ => warnings.push(text),
    }
}

/// As [`warn`], for the few things that a whole scan has to say, whatever came before; once, however often it is closed.
fn say(warnings: &mut Vec<String>, text: String) {
    if !warnings.contains(&text) {
        warnings.push(text);
    }
}
