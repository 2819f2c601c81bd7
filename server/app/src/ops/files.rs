//! Files of the catalogue: found by words and by what is known of them, and one with all that is known.

use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::logged::Logged;
use waybill_domain::perms::Action;
use waybill_domain::timecode::Rate;

use super::access::{Actor, enter};
use crate::app::App;
use crate::db::clocks::Clock;
use crate::db::files::{self, FileCopy, FileKind, FileRow, FileUse, Filter};
use crate::db::log;
use crate::db::log_lines::{self, LogFilter, LogLine};
use crate::db::series::Series;
use crate::error::OpError;

/// Counts stop here: "more than 1,000" says enough.
const COUNTED: i64 = 1001;

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
}

/// A page of files.
#[derive(Debug)]
pub struct FilePage {
    pub items: Vec<FileItem>,
    pub next: Option<Uuid>,
    /// Files that fit, up to 1,001; on the first page only.
    pub total: Option<i64>,
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

/// Files that fit, by name.
///
/// # Errors
/// Access; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    q: Option<String>,
    mut filter: Filter,
    after: Option<Uuid>,
    limit: Option<i64>,
) -> Result<FilePage, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    let limit = limit.unwrap_or(50).clamp(1, 500);
    let folded = files::fold(&q.unwrap_or_default().replace('\0', ""));
    filter.words = folded
        .split(' ')
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .take(20)
        .collect();
    let most = if after.is_none() {
        COUNTED.max(limit + 1)
    } else {
        limit + 1
    };
    let mut ids = files::search(conn, series, &filter, after, most).await?;
    let total = after
        .is_none()
        .then(|| i64::try_from(ids.len()).unwrap_or(COUNTED).min(COUNTED));
    let page = usize::try_from(limit).unwrap_or(usize::MAX);
    let more = ids.len() > page;
    ids.truncate(page);
    let items = items(conn, &access.series, &ids)
        .await?
        .into_iter()
        .map(|(item, _)| item)
        .collect();
    let next = ids.last().copied().filter(|_| more);
    Ok(FilePage { items, next, total })
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

async fn items(
    conn: &mut crate::db::Conn,
    series: &Series,
    ids: &[Uuid],
) -> Result<Vec<(FileItem, FileRow)>, OpError> {
    let rows = files::load(conn, series.id, ids).await?;
    let mut copies = files::copies(conn, series.id, ids).await?;
    let logs = log::of_files(conn, series.id, ids).await?;
    let usual = usual(series);
    let mut items = Vec::with_capacity(rows.len());
    for row in rows {
        let clock = Clock {
            id: row.id,
            name: row.name.clone(),
            rate_num: row.rate_num,
            rate_den: row.rate_den,
            drop_frame: row.drop_frame,
            start_frame: row.start_frame,
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
            logged: logs.get(&row.id).map_or(Logged::No, log::FileLog::state),
            copies: copies
                .extract_if(.., |copy| copy.file_id == row.id)
                .collect(),
        };
        items.push((item, row));
    }
    Ok(items)
}
