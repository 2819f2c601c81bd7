//! Shots and selects: files or parts of them marked with a kind, a rank and words, many files at once.

use diesel_async::AsyncConnection;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::files::usual;
use super::log::{FILES, LogPoint, RIGHTS, ends};
use super::records;
use crate::app::App;
use crate::db::clocks;
use crate::db::record::Record;
use crate::db::shots::{self, Shot, ShotFields, ShotKind};
use crate::error::{FieldError, OpError};

/// One mark for many files.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShotInput {
    /// 1 to 500 files.
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
            let (from, to) = (input.from.as_ref(), input.to.as_ref());
            let (frame_in, frame_out) = ends(clock, usual(&access.series), from, to)
                .map_err(|fault| OpError::Invalid(vec![fault]))?;
            let fields = ShotFields {
                file_id: clock.id,
                frame_in,
                frame_out,
                kind: input.kind,
                rank: input.rank,
                words: input.words.clone(),
            };
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
