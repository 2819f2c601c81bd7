//! Verifications of drives: what is expected on one, and what a program found there, taken in chunk by chunk. Every
//! step may be repeated. What the program calls verified is compared with the catalogue once more (R41).

mod findings;

use diesel_async::AsyncConnection;
use uuid::Uuid;
use waybill_domain::hashes::Hashes;
use waybill_domain::manifest::{ScanComplete, ScanStarted, scan_digest};
use waybill_domain::perms::Action;
use waybill_domain::verification::{
    ExpectedFile, VerificationStart, VerificationSummary, read_chunk,
};
use waybill_domain::wording::{counted, grouped};

use super::access::{Access, Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::chunks::{self, Progress};
use super::{care, check};
use crate::app::App;
use crate::db::checks::{self, CheckFault, DriveCheck};
use crate::db::{Conn, Json, scans};
use crate::error::OpError;

/// The most expected files in one answer.
const PAGE: i64 = 5_000;

/// A page of what is known on a drive, and the path to ask the next one with.
#[derive(Debug)]
pub struct ExpectedPage {
    pub items: Vec<ExpectedFile>,
    pub next: Option<String>,
}

/// What the catalogue knows on a drive below `root` (a scanned folder, or one inside it), by path.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn expected(
    app: &App,
    actor: &Actor,
    (series, drive): (Uuid, Uuid),
    root: Option<&str>,
    after: &str,
    limit: Option<i64>,
) -> Result<ExpectedPage, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    live(conn, series, drive).await?;
    let limit = limit.unwrap_or(PAGE).clamp(1, PAGE);
    let after = match root {
        Some(root) => format!("{root}/{after}"),
        None => after.to_owned(),
    };
    let mut rows = checks::expected(conn, drive, root, &after, limit + 1).await?;
    let more = rows.len() as i64 > limit;
    rows.truncate(usize::try_from(limit).unwrap_or(usize::MAX));
    let skip = root.map_or(0, |root| root.split('/').count());
    let items: Vec<ExpectedFile> = rows
        .into_iter()
        .map(|row| ExpectedFile {
            path: row.path.split('/').skip(skip).map(str::to_owned).collect(),
            size: u64::try_from(row.size).unwrap_or_default(),
            hashes: hashes(row.hashes),
            state: row.state,
            checked_at: row.checked_at,
        })
        .collect();
    let next = items
        .last()
        .filter(|_| more)
        .map(|file| file.path.join("/"));
    Ok(ExpectedPage { items, next })
}

/// Digests as the catalogue keeps them; a type that this version does not know is left out.
fn hashes(value: serde_json::Value) -> Hashes {
    let known = value.as_object().into_iter().flatten();
    known
        .filter_map(|(kind, digest)| Some((kind.parse().ok()?, digest.as_str()?.to_owned())))
        .collect()
}

async fn live(conn: &mut Conn, series: Uuid, drive: Uuid) -> Result<(), OpError> {
    scans::find_drive(conn, series, drive)
        .await?
        .map(drop)
        .ok_or(OpError::NotFound("the drive"))
}

/// Opens a verification, or finds it again.
///
/// # Errors
/// Access; `NotFound`; `Invalid`; `Conflict` when the id belongs to another reading.
pub async fn begin(
    app: &App,
    actor: &Actor,
    (series, drive): (Uuid, Uuid),
    start: VerificationStart,
) -> Result<ScanStarted, OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/root", &start.root, 1000);
    check::required(&mut faults, "/tool", &start.tool, 200);
    let machine = start.machine.unwrap_or_default();
    check::text(&mut faults, "/machine", &machine, 200);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::SendScan).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        live(conn, series, drive).await?;
        let check = DriveCheck {
            id: start.id,
            series_id: series,
            drive_id: drive,
            how: "verify".into(),
            root: start.root,
            tool: start.tool,
            machine,
            checked_by: Some(actor.user_id),
            checked_by_name: actor.name.clone(),
            state: "receiving".into(),
            next_chunk: 0,
            lines: 0,
            summary: Some(Json(VerificationSummary::default())),
            created_at: now,
            completed_at: None,
        };
        checks::insert(conn, &check).await?;
        let known = checks::any(conn, check.id)
            .await?
            .ok_or_else(|| OpError::Internal("a verification is not there".into()))?;
        let same = (known.series_id, known.drive_id, known.how.as_str(), known.root.as_str())
            == (series, drive, "verify", check.root.as_str());
        if !same {
            return Err(OpError::Conflict(
                "This id was used before for another drive or folder. Verify again under a new id; nothing was saved."
                    .into(),
            ));
        }
        Ok(ScanStarted {
            id: known.id,
            next_chunk: u32::try_from(known.next_chunk).unwrap_or_default(),
            complete: known.state == "complete",
        })
    })
    .await
}

/// Takes in chunk `number`; answers the number of the next one. The same chunk again changes nothing.
///
/// # Errors
/// Access; `NotFound`; `BadRequest` naming the line; `Conflict` for another content under the number, a chunk out of
/// order, a verification that is complete.
pub async fn receive(
    app: &App,
    actor: &Actor,
    (series, drive, id): (Uuid, Uuid, Uuid),
    number: u32,
    digest: Option<&str>,
    body: &[u8],
) -> Result<u32, OpError> {
    let (chunk, files) = chunks::open(number, digest, body, read_chunk)?;
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::SendScan).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        live(conn, series, drive).await?;
        let mut check = checks::lock(conn, series, drive, id)
            .await?
            .ok_or(OpError::NotFound("the verification"))?;
        let progress = Progress {
            what: "verification",
            next: check.next_chunk,
            complete: check.state == "complete",
            received: checks::digest(conn, id, chunk.number).await?,
        };
        if !chunks::is_known(&chunk, &progress)? {
            findings::take_in(conn, &mut check, &files, now).await?;
            let lines = i32::try_from(files.len()).unwrap_or(i32::MAX);
            checks::insert_chunk(conn, id, chunk.number, &chunk.digest, lines).await?;
            check.next_chunk = chunk.number.saturating_add(1);
            check.lines = check.lines.saturating_add(lines);
            checks::update(conn, &check).await?;
        }
        Ok(u32::try_from(check.next_chunk).unwrap_or_default())
    })
    .await
}

/// Closes a verification: the drive's state, its next check and its cards follow. Asked again, it answers the same.
///
/// # Errors
/// Access; `NotFound`; `Conflict` when chunks are missing or different; `UnsafeState` for one without a line.
pub async fn complete(
    app: &App,
    actor: &Actor,
    (series, drive, id): (Uuid, Uuid, Uuid),
    whole: ScanComplete,
) -> Result<VerificationSummary, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::SendScan).await?;
    let now = app.now();
    let summary = conn
        .transaction::<_, OpError, _>(async |conn| {
            live(conn, series, drive).await?;
            let mut check = checks::lock(conn, series, drive, id)
                .await?
                .ok_or(OpError::NotFound("the verification"))?;
            if let ("complete", Some(Json(summary))) = (check.state.as_str(), &check.summary) {
                return Ok(Some(summary.clone()));
            }
            if check.next_chunk == 0 && whole.files == 0 {
                checks::delete(conn, id).await?;
                return Ok(None);
            }
            let lines = u64::try_from(check.lines).unwrap_or_default();
            let digest = scan_digest(checks::digests(conn, id).await?);
            if lines != whole.files || !digest.eq_ignore_ascii_case(&whole.digest) {
                return Err(OpError::Conflict(format!(
                    "{} announced, {} came in {}, or the chunks are not those that were sent. Send what is missing \
                     (the next chunk is {}), then complete again.",
                    counted(whole.files, "place was", "places were"),
                    grouped(lines),
                    counted(check.next_chunk.unsigned_abs().into(), "chunk", "chunks"),
                    check.next_chunk
                )));
            }
            close(conn, &access, &mut check, now).await.map(Some)
        })
        .await?;
    summary.ok_or_else(|| {
        OpError::UnsafeState(
            "This verification looked at no file, so it says nothing about the drive and was not kept. Check that the \
             drive is mounted and that the folder is the right one."
                .into(),
        )
    })
}

async fn close(
    conn: &mut Conn,
    access: &Access,
    check: &mut DriveCheck,
    now: chrono::DateTime<chrono::Utc>,
) -> Result<VerificationSummary, OpError> {
    let (series, actor) = (&access.series, &access.actor);
    let cared = care::after_check(conn, actor, series, check.drive_id, now).await?;
    let mut summary = check.summary.take().unwrap_or_default().0;
    summary.next_check_on = cared.next.map(|next| next.on);
    for card in &cared.moved {
        summary.warnings.extend(super::scans::lost_safety(card));
    }
    if summary.new > 0 {
        summary.warnings.push(
            "Some files here are not in the catalogue. Scan the drive to take them in.".to_owned(),
        );
    }
    check.summary = Some(Json(summary.clone()));
    check.state = "complete".into();
    check.completed_at = Some(now);
    checks::update(conn, check).await?;
    let subject = Subject::of(series.id, "drive", check.drive_id);
    audit::record(
        conn,
        actor,
        now,
        "verified",
        subject,
        NOTHING,
        Some(&*check),
    )
    .await?;
    Ok(summary)
}

/// The newest readings of a drive: scans, copies, verifications.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    drive: Uuid,
) -> Result<Vec<DriveCheck>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    live(conn, series, drive).await?;
    Ok(checks::of_drive(conn, series, drive, 100).await?)
}

/// What a verification found that is not as it was, by path; with the path to ask the next page with.
///
/// # Errors
/// Access; the database's.
pub async fn faults(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    after: &str,
) -> Result<(Vec<CheckFault>, Option<String>), OpError> {
    const FAULTS: i64 = 500;
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let mut items = checks::faults(conn, series, id, after, FAULTS + 1).await?;
    let more = items.len() as i64 > FAULTS;
    items.truncate(500);
    let next = items
        .last()
        .filter(|_| more)
        .map(|fault| fault.path.clone());
    Ok((items, next))
}
