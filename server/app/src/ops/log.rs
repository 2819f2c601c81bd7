//! The in-shot log: the same entry for many files at once; ranges given as frames or as timecode.

use diesel_async::AsyncConnection;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::timecode::Rate;

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::files::usual;
use super::records::{self, Rights};
use crate::app::App;
use crate::db::clocks::{self, Clock};
use crate::db::log::{self, LogEntry, LogFace, LogFields, LogKind, LogPresence};
use crate::db::log_lines::{self, LogFilter, LogLine};
use crate::db::record::Record;
use crate::error::{FieldError, OpError};

/// Who may see and who may write the log.
pub const RIGHTS: Rights = Rights {
    view: Action::ViewFootage,
    edit: Action::LogFootage,
};

/// The most files in one call.
pub(super) const FILES: usize = 500;

/// An end of a range.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(untagged)]
pub enum LogPoint {
    /// Frames after the file's first.
    Frame(i64),
    /// A timecode of the file, `HH:MM:SS:FF`.
    Label(String),
}

/// One entry for many files.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LogInput {
    /// The files that it is about; left out when an entry is replaced.
    #[serde(default)]
    pub file_ids: Vec<Uuid>,
    /// First frame of the range. Without a range the entry is about the whole file.
    pub from: Option<LogPoint>,
    /// First frame after the range.
    pub to: Option<LogPoint>,
    pub kind: LogKind,
    pub person_id: Option<Uuid>,
    pub place_id: Option<Uuid>,
    pub asset_id: Option<Uuid>,
    pub music_id: Option<Uuid>,
    /// Left out: a person is on camera, a place or asset in shot, music heard.
    pub presence: Option<LogPresence>,
    /// Left out: a person's face is shown.
    pub face: Option<LogFace>,
    #[serde(default)]
    pub named_on_screen: bool,
    /// Whether the voice was made unrecognisable.
    #[serde(default)]
    pub voice_changed: bool,
    #[serde(default)]
    pub note: String,
}

impl LogInput {
    /// The entry for one file; its range in the file's own frames.
    fn fields(&self, clock: &Clock, usual: Rate) -> Result<LogFields, FieldError> {
        let presence = self.presence.unwrap_or(match self.kind {
            LogKind::Person => LogPresence::OnCamera,
            LogKind::Place | LogKind::Asset => LogPresence::InShot,
            LogKind::Music => LogPresence::Heard,
            LogKind::Nothing => LogPresence::None,
        });
        let face = self.face.unwrap_or(match (self.kind, presence) {
            (LogKind::Person, LogPresence::OnCamera | LogPresence::Background) => LogFace::Shown,
            _ => LogFace::NotApplicable,
        });
        let (frame_in, frame_out) = ends(clock, usual, self.from.as_ref(), self.to.as_ref())?;
        Ok(LogFields {
            file_id: clock.id,
            frame_in,
            frame_out,
            kind: self.kind,
            person_id: self.person_id,
            place_id: self.place_id,
            asset_id: self.asset_id,
            music_id: self.music_id,
            presence,
            face,
            named_on_screen: self.named_on_screen,
            voice_changed: self.voice_changed,
            note: self.note.clone(),
        })
    }
}

/// The ends of a range as frames of the file.
///
/// # Errors
/// What can't be a label of this file.
pub(super) fn ends(
    clock: &Clock,
    usual: Rate,
    from: Option<&LogPoint>,
    to: Option<&LogPoint>,
) -> Result<(Option<i64>, Option<i64>), FieldError> {
    let frame = |pointer: &str, point: Option<&LogPoint>| match point {
        None => Ok(None),
        Some(LogPoint::Frame(frame)) => Ok(Some(*frame)),
        Some(LogPoint::Label(label)) => at(clock, usual, label)
            .map(Some)
            .map_err(|detail| FieldError::new(pointer, detail)),
    };
    Ok((frame("/from", from)?, frame("/to", to)?))
}

/// The frame of a file that has this label. A file may run past midnight.
fn at(clock: &Clock, usual: Rate, label: &str) -> Result<i64, String> {
    let rate = clock.rate(usual);
    let frame = rate
        .frame(label)
        .map_err(|error| format!("{}: {error}.", clock.name))?;
    let start = clock.start_frame.unwrap_or(0);
    let after = rate.frames_between(start, frame);
    match clock.frame_count {
        Some(count) if after > count => Err(format!(
            "{} runs from {} to {}; {label} is not in it.",
            clock.name,
            clock.label(0, usual),
            clock.label(count, usual)
        )),
        _ => Ok(after),
    }
}

/// Makes an entry for each of the files, or none at all.
///
/// # Errors
/// Access; `Invalid` naming the files and fields; the database's.
pub async fn create(
    app: &App,
    actor: &Actor,
    series: Uuid,
    input: LogInput,
) -> Result<Vec<LogEntry>, OpError> {
    if input.file_ids.is_empty() || input.file_ids.len() > FILES {
        return Err(OpError::field(
            "/file_ids",
            format!("Name 1 to {FILES} files."),
        ));
    }
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, RIGHTS.edit).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let known = clocks::clocks(conn, series, &input.file_ids).await?;
        let mut all = Vec::with_capacity(input.file_ids.len());
        let mut faults = Vec::new();
        let mut seen = std::collections::BTreeSet::new();
        for (place, id) in input
            .file_ids
            .iter()
            .enumerate()
            .filter(|(_, id)| seen.insert(**id))
        {
            let pointer = format!("/file_ids/{place}");
            let Some(clock) = known.iter().find(|clock| clock.id == *id) else {
                faults.push(FieldError::new(
                    pointer,
                    "There is no such file in this series.",
                ));
                continue;
            };
            match input.fields(clock, usual(&access.series)) {
                Ok(fields) => {
                    faults.extend(clock.holds(fields.range()).err().into_iter().flatten());
                    all.push(fields);
                }
                Err(fault) => faults.push(fault),
            }
        }
        if !faults.is_empty() {
            return Err(OpError::Invalid(faults));
        }
        if let Some(first) = all.first() {
            records::check(conn, series, None, first).await?;
        }
        let made = log::insert_all(conn, series, &all, now).await?;
        for entry in &made {
            let subject = Subject::of(series, LogEntry::KIND, entry.id);
            audit::record(conn, actor, now, "created", subject, NOTHING, Some(entry)).await?;
            super::after::changed(conn, &access, now, LogEntry::KIND, entry.id).await?;
        }
        Ok(made)
    })
    .await
}

/// Replaces an entry; the file stays.
///
/// # Errors
/// As [`records::replace`].
pub async fn replace(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    version: i32,
    input: LogInput,
) -> Result<LogEntry, OpError> {
    let entry = records::read::<LogEntry>(app, actor, series, RIGHTS, id).await?;
    let file = entry.fields.file_id;
    if input.file_ids.iter().any(|other| *other != file) {
        return Err(OpError::field(
            "/file_ids",
            "An entry stays with its file. Delete it and make another one.",
        ));
    }
    let fields = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, RIGHTS.edit).await?;
        let clock = clocks::clocks(conn, series, &[file])
            .await?
            .pop()
            .ok_or(OpError::NotFound("the file"))?;
        input
            .fields(&clock, usual(&access.series))
            .map_err(|fault| OpError::Invalid(vec![fault]))?
    };
    records::replace::<LogEntry>(app, actor, series, RIGHTS, id, version, fields).await
}

/// Entries in the order of their making.
///
/// # Errors
/// Access; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    filter: LogFilter,
    after: Option<Uuid>,
    limit: Option<i64>,
) -> Result<(Vec<LogLine>, Option<Uuid>), OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, RIGHTS.view).await?;
    let limit = limit.unwrap_or(200).clamp(1, 500);
    let mut items = log_lines::lines(
        conn,
        series,
        usual(&access.series),
        filter,
        after,
        limit + 1,
    )
    .await?;
    let page = usize::try_from(limit).unwrap_or(usize::MAX);
    let more = items.len() > page;
    items.truncate(page);
    let next = items.last().filter(|_| more).map(|line| line.entry.id);
    Ok((items, next))
}
