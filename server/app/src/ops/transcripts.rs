//! Transcripts: brought in as WebVTT or SubRip, so that files are found by what is said in them.

use diesel_async::AsyncConnection;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::spoken;
use waybill_domain::timecode::{Rate, Ratio};

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::check;
use crate::app::App;
use crate::db::clocks::{Clock, clocks};
use crate::db::transcripts::{self as db, Brought, SaidLine, Transcript};
use crate::error::OpError;

/// A line that was said, with the timecode of its file.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SaidAt {
    /// Label of the frame that shows when it begins; counted from 0 where the file has no timecode.
    pub at: String,
    pub speaker: String,
    pub text: String,
}

/// Brings a transcript in.
///
/// # Errors
/// Access; `NotFound`; `Invalid`; `BadRequest` naming the line that can't be read.
pub async fn bring(
    app: &App,
    actor: &Actor,
    series: Uuid,
    file: Uuid,
    (name, language): (&str, &str),
    body: &[u8],
) -> Result<Transcript, OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/name", name, 200);
    check::text(&mut faults, "/language", language, 35);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let lines = spoken::read(body)
        .map_err(|error| OpError::BadRequest(format!("{name}: {error}; nothing was saved")))?;
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::LogFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        if clocks(conn, series, &[file]).await?.is_empty() {
            return Err(OpError::NotFound("the file"));
        }
        let brought = Brought {
            series,
            file,
            name,
            language,
            by: (actor.user_id, &actor.name),
            at: now,
        };
        let made = db::insert(conn, &brought, &lines).await?;
        let subject = Subject::of(series, "transcript", made.id);
        audit::record(conn, actor, now, "created", subject, NOTHING, Some(&made)).await?;
        Ok(made)
    })
    .await
}

/// Transcripts of a file.
///
/// # Errors
/// Access; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    file: Uuid,
) -> Result<Vec<Transcript>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    Ok(db::of_file(conn, series, file).await?)
}

/// Takes a transcript away. The file that it came from is not kept here; it can be brought in again.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn remove(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::LogFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let gone = db::delete(conn, series, id)
            .await?
            .ok_or(OpError::NotFound("the transcript"))?;
        let subject = Subject::of(series, "transcript", id);
        audit::record(conn, actor, now, "deleted", subject, Some(&gone), NOTHING).await
    })
    .await
}

/// The line in its file's timecode.
pub(super) fn shown(line: &SaidLine, clock: &Clock, usual: Rate) -> SaidAt {
    let seconds = Ratio::new(line.start_ms, 1000);
    let frame = seconds.map_or(0, |seconds| clock.rate(usual).frame_at(seconds));
    SaidAt {
        at: clock.label(frame, usual),
        speaker: line.speaker.clone(),
        text: line.text.clone(),
    }
}
