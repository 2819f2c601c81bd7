//! Cuts: import, lock, bin. An import stores everything the file says in one transaction, or nothing.

mod matches;
mod upload;

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde::Serialize;
use serde_json::json;
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::cut_name;
use waybill_domain::perms::Action;
use waybill_domain::timecode::Rate;
use waybill_domain::timeline::Format;

pub use matches::{match_again, match_by_hand};
pub use upload::Upload;

use super::access::{Access, Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::{blocking, check, matching};
use crate::app::App;
use crate::auth::tokens::hex;
use crate::db::cuts::{self, CutCounts, CutFormat, CutHead, EpisodeHead, NewCut};
use crate::db::{Conn, Json};
use crate::error::OpError;

/// A cut with what is worked out from it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Cut {
    #[serde(flatten)]
    pub head: CutHead,
    pub counts: CutCounts,
    /// Whether it is the latest cut of its episode: the one that clearance looks at.
    pub current: bool,
    /// Record timecode of the first frame.
    pub start: String,
    /// Record timecode of the first frame after the last.
    pub end: String,
    #[schema(required)]
    pub imported_by_name: Option<String>,
}

/// Imports a cut.
///
/// # Errors
/// Access; `UnsupportedType` for what is no edit list; `Invalid` for a damaged one or a wrong rate, with the line;
/// `Conflict` when the episode already has this very file; the database's.
pub async fn import(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
    upload: Upload,
) -> Result<Cut, OpError> {
    let (access, episode) = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, Action::ImportCut).await?;
        (access, find_episode(conn, series, episode, false).await?)
    };
    let name = upload::name_of(&upload)?;
    let usual = access.series.fields.frame_rate.clone();
    let body = upload.body.clone();
    let read = move || upload::parse(&upload, &usual).map(|cut| (upload, cut));
    let (upload, mut cut) = blocking(read).await??;
    upload::warn_about_name(&mut cut, &name, &episode);
    let sha256 = hex(&Sha256::digest(&body));
    let now = app.now();
    let conn = &mut *app.pool.get().await?;
    conn.transaction::<_, OpError, _>(async |conn| {
        find_episode(conn, series, episode.id, true).await?;
        let rate = cut.rate.to_string();
        if let Some(same) = cuts::same(conn, episode.id, &sha256, &rate).await? {
            return Err(already_here(&same, &access));
        }
        let said = cut_name::read(&name);
        let new = NewCut {
            id: Uuid::now_v7(),
            series_id: series,
            episode_id: episode.id,
            source_name: upload.file.clone().unwrap_or_else(|| name.clone()),
            name,
            cut_date: said.date,
            cut_number: said.version,
            format: match cut.format {
                Format::Edl => CutFormat::Edl,
                Format::Otio => CutFormat::Otio,
            },
            title: matching::clean(&cut.title),
            rate,
            start_frame: cut.start,
            duration_frames: cut.duration,
            locked: false,
            source_sha256: sha256,
            source: body.to_vec(),
            warnings: Json(cut.warnings.iter().map(upload::clean_warning).collect()),
            imported_by: actor.user_id,
            version: 1,
            created_at: now,
            updated_at: now,
        };
        let head = cuts::insert(conn, new).await?;
        matching::store_events(conn, &head, &cut.events).await?;
        let made = described(conn, head).await?;
        let subject = Subject::of(series, "cut", made.head.id);
        audit::record(conn, actor, now, "created", subject, NOTHING, Some(&made)).await?;
        Ok(made)
    })
    .await
}

/// Cuts of an episode, the latest first.
///
/// # Errors
/// Access; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
) -> Result<Vec<Cut>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewCuts).await?;
    find_episode(conn, series, episode, false).await?;
    let heads = cuts::of_episode(conn, episode).await?;
    all_described(conn, heads).await
}

/// One cut, from the bin too.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn read(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<Cut, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewCuts).await?;
    let head = find(conn, series, id).await?;
    described(conn, head).await
}

/// Locks a cut, or unlocks it for a reason that the audit trail keeps.
///
/// # Errors
/// Access; `Invalid` for an unlock without a reason; `NotFound`; `Stale`; the database's.
pub async fn set_locked(
    app: &App,
    actor: &Actor,
    (series, id): (Uuid, Uuid),
    version: i32,
    locked: bool,
    reason: &str,
) -> Result<Cut, OpError> {
    let mut faults = Vec::new();
    if locked {
        check::text(&mut faults, "/reason", reason, 1000);
    } else {
        check::required(&mut faults, "/reason", reason, 1000);
    }
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::LockCut).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let before = find(conn, series, id).await?;
        let Some(head) = cuts::set_locked(conn, id, version, locked, now).await? else {
            return Err(stale(conn, series, id).await?);
        };
        let action = if locked { "locked" } else { "unlocked" };
        let (was, is) = (
            json!({ "locked": before.locked }),
            json!({ "locked": locked, "reason": reason.trim() }),
        );
        let subject = Subject::of(series, "cut", id);
        audit::record(conn, actor, now, action, subject, Some(&was), Some(&is)).await?;
        described(conn, head).await
    })
    .await
}

/// Moves a cut to the bin (`version` given) or back.
///
/// # Errors
/// Access; `NotFound`; `UnsafeState` for a locked cut; `Stale`; the database's.
pub async fn set_deleted(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    version: Option<i32>,
) -> Result<Cut, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ImportCut).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let before = find(conn, series, id).await?;
        let (at, deleted_at, action) = match version {
            Some(version) => (version, Some(now), "deleted"),
            None => (before.version, None, "restored"),
        };
        if before.deleted_at.is_some() == deleted_at.is_some() {
            return described(conn, before).await;
        }
        if before.locked && deleted_at.is_some() {
            return Err(OpError::UnsafeState(format!(
                "“{}” is locked. Unlock it first, with the reason; nothing was deleted.",
                before.name
            )));
        }
        let Some(head) = cuts::set_deleted(conn, id, at, deleted_at, now).await? else {
            return Err(stale(conn, series, id).await?);
        };
        if deleted_at.is_none() {
            // What was catalogued while it lay in the bin.
            matching::rematch(conn, series, id).await?;
        }
        let subject = Subject::of(series, "cut", id);
        audit::record(
            conn,
            actor,
            now,
            action,
            subject,
            Some(&before),
            Some(&head),
        )
        .await?;
        described(conn, head).await
    })
    .await
}

/// A cut of the series.
///
/// # Errors
/// `NotFound`; the database's.
pub async fn find(conn: &mut Conn, series: Uuid, id: Uuid) -> Result<CutHead, OpError> {
    let found = cuts::load(conn, series, id).await?;
    found.ok_or(OpError::NotFound("the cut"))
}

/// A live episode of the series.
///
/// # Errors
/// `NotFound`; the database's.
pub async fn find_episode(
    conn: &mut Conn,
    series: Uuid,
    id: Uuid,
    locked: bool,
) -> Result<EpisodeHead, OpError> {
    let found = cuts::episode(conn, series, id, locked).await?;
    found.ok_or(OpError::NotFound("the episode"))
}

/// A cut with what is worked out from it.
///
/// # Errors
/// The database's.
pub async fn described(conn: &mut Conn, head: CutHead) -> Result<Cut, OpError> {
    all_described(conn, vec![head])
        .await?
        .pop()
        .ok_or(OpError::NotFound("the cut"))
}

/// Cuts of one episode with what is worked out from them.
async fn all_described(conn: &mut Conn, heads: Vec<CutHead>) -> Result<Vec<Cut>, OpError> {
    let ids: Vec<Uuid> = heads.iter().map(|head| head.id).collect();
    let users: Vec<Uuid> = heads.iter().filter_map(|head| head.imported_by).collect();
    let counts = cuts::counts(conn, &ids).await?;
    let names = cuts::names_of_users(conn, &users).await?;
    let current = match heads.first() {
        Some(head) => cuts::of_episode(conn, head.episode_id).await?,
        None => vec![],
    };
    let current = current.first().map(|head| head.id);
    Ok(heads
        .into_iter()
        .map(|head| {
            let label = |frame: i64| {
                let rate: Result<Rate, _> = head.rate.parse();
                rate.map_or_else(|_| frame.to_string(), |rate| rate.label(frame))
            };
            Cut {
                counts: counts.get(&head.id).copied().unwrap_or_default(),
                current: current == Some(head.id),
                start: label(head.start_frame),
                end: label(head.start_frame.saturating_add(head.duration_frames)),
                imported_by_name: head.imported_by.and_then(|id| names.get(&id).cloned()),
                head,
            }
        })
        .collect())
}

async fn stale(conn: &mut Conn, series: Uuid, id: Uuid) -> Result<OpError, OpError> {
    let head = find(conn, series, id).await?;
    let current = described(conn, head).await?;
    audit::stale(conn, id, current.head.version, &current).await
}

fn already_here(same: &CutHead, access: &Access) -> OpError {
    let zone = &access.series.fields.zone;
    OpError::Conflict(format!(
        "This very file is already here as “{}”, imported on {}. Nothing was added; delete that cut first to import \
         it again.",
        same.name,
        local_day(same.created_at, zone)
    ))
}

/// The day of an instant in a series' zone, as it is shown everywhere.
pub fn local_day(at: DateTime<Utc>, zone: &str) -> String {
    check::date(waybill_domain::wording::local(at, zone).date())
}
