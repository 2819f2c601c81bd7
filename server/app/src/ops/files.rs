//! Files of the catalogue: as they stand in a list, and one with all that is known of it. They are found by `finding`.

use chrono::{DateTime, NaiveDate, Utc};
use futures_util::TryFutureExt;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::logged::Logged;
use waybill_domain::perms::Action;
use waybill_domain::timecode::Rate;

use super::access::{Actor, enter};
use super::file_pictures::{self, PictureLinks};
use super::transcripts::SaidAt;
use crate::app::App;
use crate::db::Conn;
use crate::db::clocks::Clock;
use crate::db::files::{self, FileCopy, FileKind, FileRow, FileUse};
use crate::db::log::{self, FileLog};
use crate::db::log_lines::{self, LogFilter, LogLine};
use crate::db::series::Series;
use crate::db::shots::{self, Shot, ShotKind};
use crate::error::OpError;

/// A file in a list.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct FileItem {
    pub id: Uuid,
    pub name: String,
    pub kind: FileKind,
    /// Bytes.
    pub size: i64,
    #[schema(required)]
    pub card_id: Option<Uuid>,
    /// Name of the card.
    #[schema(required)]
    pub card: Option<String>,
    #[schema(required)]
    pub shot_on: Option<NaiveDate>,
    pub reel: String,
    /// Frame rate as people say it; null when the header tells none.
    #[schema(required)]
    pub rate: Option<String>,
    /// Timecode of the first frame.
    #[schema(required)]
    pub start: Option<String>,
    #[schema(required)]
    pub frame_count: Option<i64>,
    pub logged: Logged,
    pub copies: Vec<FileCopy>,
    #[serde(flatten)]
    pub pictures: PictureLinks,
    pub shots: Vec<FileShot>,
    /// Lines in which the asked words were said; empty unless spoken words are asked for.
    pub said: Vec<SaidAt>,
}

/// A marked part of a file, as people read it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct FileShot {
    pub id: Uuid,
    pub version: i32,
    #[schema(required)]
    pub kind: Option<ShotKind>,
    /// 1 must be in, 2 strong, 3 usable.
    #[schema(required)]
    pub rank: Option<i16>,
    pub words: String,
    /// Timecode of the first frame, and of the first frame after; null for the whole file.
    #[schema(required)]
    pub from: Option<String>,
    #[schema(required)]
    pub to: Option<String>,
    /// The same as frames from the file's first.
    #[serde(skip)]
    pub frames: Option<(i64, i64)>,
}

/// All that is known of a file.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct FileDetail {
    #[serde(flatten)]
    pub item: FileItem,
    /// Digests by type.
    #[schema(value_type = std::collections::BTreeMap<String, String>)]
    pub hashes: Value,
    /// What the header says; null when it is none that we read.
    #[schema(required, value_type = Option<waybill_domain::media::MediaFacts>)]
    pub facts: Option<Value>,
    pub created_at: DateTime<Utc>,
    pub log: Vec<LogLine>,
    /// Frames that nobody logged; null when the length is unknown.
    #[schema(required, value_type = Option<Vec<(i64, i64)>>)]
    pub unlogged: Option<Vec<(i64, i64)>>,
    pub uses: Vec<FileUse>,
}

/// One file.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn read(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<FileDetail, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    let (item, row) = items(conn, &access.series, &[id])
        .await?
        .pop()
        .ok_or(OpError::NotFound("the file"))?;
    let filter = LogFilter {
        files: Some(vec![id]),
        ..LogFilter::default()
    };
    let lines = log_lines::lines(conn, series, usual(&access.series), filter, None, 1000).await?;
    let known = log::of_files(conn, series, &[id])
        .await?
        .remove(&id)
        .unwrap_or_default();
    Ok(FileDetail {
        item,
        hashes: row.hashes,
        facts: row.facts,
        created_at: row.created_at,
        log: lines,
        unlogged: known.frame_count.map(|count| known.unlogged((0, count))),
        uses: files::uses(conn, series, id).await?,
    })
}

/// The frame rate that files without one are counted at.
pub fn usual(series: &Series) -> Rate {
    let usual = series.fields.frame_rate.parse().ok();
    // a series' rate is checked when it is saved; 25 is what a damaged row falls back to
    usual
        .or_else(|| Rate::new(25, 1, false).ok())
        .unwrap_or_else(|| unreachable!("25 is a rate"))
}

/// These files, in this order.
pub(super) async fn items(
    conn: &Conn,
    series: &Series,
    ids: &[Uuid],
) -> Result<Vec<(FileItem, FileRow)>, OpError> {
    let id = series.id;
    // one after the other on the wire, without waiting for the answers between
    let (rows, mut copies, mut entries, shots, mut pictures) = tokio::try_join!(
        files::load(conn, id, ids).err_into::<OpError>(),
        files::copies(conn, id, ids).err_into(),
        log::entries(conn, id, ids).err_into(),
        shots::of_files(conn, id, ids).err_into(),
        file_pictures::links(conn, id, ids),
    )?;
    let usual = usual(series);
    let mut items = Vec::with_capacity(rows.len());
    for row in rows {
        let clock = row.clock();
        let log = FileLog {
            entries: entries.remove(&row.id).unwrap_or_default(),
            frame_count: row.frame_count,
        };
        let item = FileItem {
            id: row.id,
            name: row.name.clone(),
            kind: row.kind,
            size: row.size,
            card_id: row.card_id,
            card: row.card.clone(),
            shot_on: row.shot_on,
            reel: row.reel.clone(),
            rate: row.rate_num.map(|_| clock.rate(usual).to_string()),
            start: row.start_frame.map(|_| clock.label(0, usual)),
            frame_count: row.frame_count,
            logged: log.state(),
            copies: copies
                .extract_if(.., |copy| copy.file_id == row.id)
                .collect(),
            pictures: pictures.remove(&row.id).unwrap_or_default(),
            said: Vec::new(),
            shots: shots
                .iter()
                .filter(|shot| shot.fields.file_id == row.id)
                .map(|shot| shown(shot, &clock, usual))
                .collect(),
        };
        items.push((item, row));
    }
    Ok(items)
}

fn shown(shot: &Shot, clock: &Clock, usual: Rate) -> FileShot {
    let label = |frame: Option<i64>| frame.map(|frame| clock.label(frame, usual));
    FileShot {
        id: shot.id,
        version: shot.version,
        kind: shot.fields.kind,
        rank: shot.fields.rank,
        words: shot.fields.words.clone(),
        from: label(shot.fields.frame_in),
        to: label(shot.fields.frame_out),
        frames: shot.fields.frame_in.zip(shot.fields.frame_out),
    }
}
