//! The in-shot log as people read it: each entry with the name of what it is about, ranges in the file's timecode.

use std::collections::HashMap;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::timecode::Rate;

use super::Conn;
use super::clocks::{Clock, clocks};
use super::log::LogEntry;
use super::schema::{assets, log_entries, music, people, places};

/// An entry with the names of what it is about.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct LogLine {
    #[serde(flatten)]
    pub entry: LogEntry,
    pub file_name: String,
    /// Credited name, name or title of what it is about; empty for nothing.
    pub subject: String,
    /// Timecode of the first frame of the range, and of the first after it; null for the whole file.
    #[schema(required)]
    pub from: Option<String>,
    #[schema(required)]
    pub to: Option<String>,
}

/// Which entries.
#[derive(Clone, Debug, Default)]
pub struct LogFilter {
    /// Of these files; none: of all.
    pub files: Option<Vec<Uuid>>,
    pub person: Option<Uuid>,
    pub place: Option<Uuid>,
    pub asset: Option<Uuid>,
    pub music: Option<Uuid>,
}

/// Live entries in the order of their making, after the entry `after`.
///
/// # Errors
/// The database's.
pub async fn lines(
    conn: &mut Conn,
    series: Uuid,
    usual: Rate,
    filter: LogFilter,
    after: Option<Uuid>,
    limit: i64,
) -> QueryResult<Vec<LogLine>> {
    type Names = (
        Option<String>,
        Option<String>,
        Option<String>,
        Option<String>,
    );
    let mut query = log_entries::table
        .left_join(people::table.on(log_entries::person_id.eq(people::id.nullable())))
        .left_join(places::table.on(log_entries::place_id.eq(places::id.nullable())))
        .left_join(assets::table.on(log_entries::asset_id.eq(assets::id.nullable())))
        .left_join(music::table.on(log_entries::music_id.eq(music::id.nullable())))
        .filter(log_entries::series_id.eq(series))
        .filter(log_entries::deleted_at.is_null())
        .order(log_entries::id)
        .limit(limit)
        .select((
            LogEntry::as_select(),
            (
                people::credited_name.nullable(),
                places::name.nullable(),
                assets::title.nullable(),
                music::title.nullable(),
            ),
        ))
        .into_boxed();
    if let Some(files) = filter.files {
        query = query.filter(log_entries::file_id.eq_any(files));
    }
    if let Some(id) = filter.person {
        query = query.filter(log_entries::person_id.eq(id));
    }
    if let Some(id) = filter.place {
        query = query.filter(log_entries::place_id.eq(id));
    }
    if let Some(id) = filter.asset {
        query = query.filter(log_entries::asset_id.eq(id));
    }
    if let Some(id) = filter.music {
        query = query.filter(log_entries::music_id.eq(id));
    }
    if let Some(after) = after {
        query = query.filter(log_entries::id.gt(after));
    }
    let rows: Vec<(LogEntry, Names)> = query.load(conn).await?;
    let ids: Vec<Uuid> = rows.iter().map(|(entry, _)| entry.fields.file_id).collect();
    let clocks: HashMap<Uuid, Clock> = clocks(conn, series, &ids)
        .await?
        .into_iter()
        .map(|clock| (clock.id, clock))
        .collect();
    let line = |(entry, names): (LogEntry, Names)| {
        let clock = clocks.get(&entry.fields.file_id);
        let label = |frame: Option<i64>| Some(clock?.label(frame?, usual));
        LogLine {
            file_name: clock.map(|clock| clock.name.clone()).unwrap_or_default(),
            subject: names
                .0
                .or(names.1)
                .or(names.2)
                .or(names.3)
                .unwrap_or_default(),
            from: label(entry.fields.frame_in),
            to: label(entry.fields.frame_out),
            entry,
        }
    };
    Ok(rows.into_iter().map(line).collect())
}
