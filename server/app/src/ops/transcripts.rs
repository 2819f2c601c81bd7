//! Transcripts: brought in as WebVTT or SubRip, so that files are found by what is said in them.

use diesel_async::AsyncConnection;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::spoken;
use waybill_domain::timecode::{Rate, Ratio};

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::log::RIGHTS;
use super::records;
use crate::app::App;
use crate::db::clocks::{Clock, clocks};
use crate::db::record::Record;
use crate::db::transcripts::{self as db, SaidLine, Transcript, TranscriptFields};
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
    let lines = spoken::read(body)
        .map_err(|error| OpError::BadRequest(format!("{name}: {error}; nothing was saved")))?;
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, RIGHTS.edit).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        if clocks(conn, series, &[file]).await?.is_empty() {
            return Err(OpError::NotFound("the file"));
        }
        let fields = TranscriptFields {
            file_id: file,
            name: name.to_owned(),
            language: language.to_owned(),
            lines: i32::try_from(lines.len()).unwrap_or(i32::MAX),
            brought_by: Some(actor.user_id),
            brought_by_name: actor.name.clone(),
        };
        records::check(conn, series, None, &fields).await?;
        let made = Transcript::insert(conn, series, Uuid::now_v7(), fields, now).await?;
        db::insert_lines(conn, &made, &lines).await?;
        let subject = Subject::of(series, Transcript::KIND, made.id);
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
    enter(conn, actor, series, RIGHTS.view).await?;
    Ok(db::of_file(conn, series, file).await?)
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
