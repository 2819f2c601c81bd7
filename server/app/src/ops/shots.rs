//! Shots and selects: files or parts of them marked with a kind, a rank and words, many files at once.

use diesel_async::AsyncConnection;
use serde::Deserialize;
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::timecode::Rate;

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::files::usual;
use super::log::{FILES, LogPoint, RIGHTS, ends};
use super::records;
use crate::app::App;
use crate::db::clocks::{self, Clock};
use crate::db::record::Record;
use crate::db::shots::{self, Shot, ShotFields, ShotKind};
use crate::error::{FieldError, OpError};

/// One mark for many files.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShotInput {
    /// 1 to 500 files; left out when a mark is replaced.
    #[serde(default)]
    pub file_ids: Vec<Uuid>,
    /// First frame of the range. Without a range the whole file is meant.
    pub from: Option<LogPoint>,
    /// First frame after the range.
    pub to: Option<LogPoint>,
    pub kind: Option<ShotKind>,
    /// Among the selects: 1 must be in, 2 strong, 3 usable.
    #[schema(minimum = 1, maximum = 3)]
    pub rank: Option<i16>,
    /// What is seen or said.
    #[serde(default)]
    pub words: String,
}

impl ShotInput {
    /// The mark for one file; its range in the file's own frames.
    fn fields(&self, clock: &Clock, usual: Rate) -> Result<ShotFields, OpError> {
        let (from, to) = (self.from.as_ref(), self.to.as_ref());
        let (frame_in, frame_out) =
            ends(clock, usual, from, to).map_err(|fault| OpError::Invalid(vec![fault]))?;
        Ok(ShotFields {
            file_id: clock.id,
            frame_in,
            frame_out,
            kind: self.kind,
            rank: self.rank,
            words: self.words.clone(),
        })
    }
}

/// Marks each of the files, or none.
///
/// # Errors
/// Access; `Invalid` naming the files and fields; the database's.
pub async fn create(
    app: &App,
    actor: &Actor,
    series: Uuid,
    mut input: ShotInput,
) -> Result<Vec<Shot>, OpError> {
    input.file_ids.sort_unstable();
    input.file_ids.dedup();
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
        if known.len() != input.file_ids.len() {
            return Err(OpError::field(
                "/file_ids",
                "Not all of these are files of this series; nothing was saved.",
            ));
        }
        let mut made = Vec::with_capacity(known.len());
        for clock in &known {
            let fields = input.fields(clock, usual(&access.series))?;
            records::check(conn, series, None, &fields).await?;
            let shot = Shot::insert(conn, series, Uuid::now_v7(), fields, now).await?;
            let subject = Subject::of(series, Shot::KIND, shot.id);
            audit::record(conn, actor, now, "created", subject, NOTHING, Some(&shot)).await?;
            made.push(shot);
        }
        Ok(made)
    })
    .await
}

/// Replaces a mark; the file stays.
///
/// # Errors
/// As [`records::replace`]; the version that is there says its range in timecode too.
pub async fn replace(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    version: i32,
    input: ShotInput,
) -> Result<Shot, OpError> {
    let file = records::read::<Shot>(app, actor, series, RIGHTS, id)
        .await?
        .fields
        .file_id;
    if input.file_ids.iter().any(|other| *other != file) {
        return Err(OpError::field(
            "/file_ids",
            "A mark stays with its file. Remove it and make another one.",
        ));
    }
    let (clock, usual) = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, RIGHTS.edit).await?;
        let clock = clocks::clocks(conn, series, &[file]).await?.pop();
        let clock = clock.ok_or(OpError::NotFound("the file"))?;
        (clock, usual(&access.series))
    };
    let fields = input.fields(&clock, usual)?;
    records::replace::<Shot>(app, actor, series, RIGHTS, id, version, fields)
        .await
        .map_err(|error| match error {
            OpError::Stale(mut stale) => {
                for (end, frame) in [("from", "frame_in"), ("to", "frame_out")] {
                    let frame = stale.current[frame].as_i64();
                    stale.current[end] = json!(frame.map(|frame| clock.label(frame, usual)));
                }
                OpError::Stale(stale)
            }
            other => other,
        })
}

/// Marks of these files, in the order of their frames.
///
/// # Errors
/// Access; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    files: &[Uuid],
) -> Result<Vec<Shot>, OpError> {
    if files.len() > FILES {
        return Err(OpError::Invalid(vec![FieldError::new(
            "/files",
            format!("Name 1 to {FILES} files."),
        )]));
    }
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, RIGHTS.view).await?;
    Ok(shots::of_files(conn, series, files).await?)
}
