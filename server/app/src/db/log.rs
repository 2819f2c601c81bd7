//! The in-shot log: who and what is in a file, or in a range of its frames. Entries with the names of what they are
//! about are read in `log_lines.rs`.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::logged;
use waybill_domain::usage::Frames;

use super::Conn;
use super::clocks::clocks;
use super::record::{Fields, Reference};
use super::schema::{files, log_entries};
use crate::error::{FieldError, OpError};
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// What an entry is about; `nothing` says that somebody looked and found nothing to clear.
    pub enum LogKind {
        Person = "person", Place = "place", Asset = "asset", Music = "music", Nothing = "nothing",
    }
}

impl LogKind {
    /// For sentences.
    fn about(self) -> &'static str {
        match self {
            Self::Person => "a person",
            Self::Place => "a place",
            Self::Asset => "an asset",
            Self::Music => "music",
            Self::Nothing => "nothing",
        }
    }
}

text_enum! {
    /// How it is present.
    pub enum LogPresence {
        OnCamera = "on_camera", Voice = "voice", Background = "background", InShot = "in_shot", Heard = "heard",
        None = "none",
    }
}

text_enum! {
    /// What is seen of a face.
    pub enum LogFace {
        Shown = "shown", Hidden = "hidden", Blurred = "blurred", NotApplicable = "not_applicable",
    }
}

/// What an entry says.
#[derive(
    Clone,
    Debug,
    PartialEq,
    Serialize,
    Deserialize,
    ToSchema,
    Queryable,
    Selectable,
    Insertable,
    AsChangeset,
)]
#[diesel(table_name = log_entries, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct LogFields {
    pub file_id: Uuid,
    /// Frames from the file's first, the end exclusive; both null: the whole file.
    #[schema(required)]
    pub frame_in: Option<i64>,
    #[schema(required)]
    pub frame_out: Option<i64>,
    pub kind: LogKind,
    #[schema(required)]
    pub person_id: Option<Uuid>,
    #[schema(required)]
    pub place_id: Option<Uuid>,
    #[schema(required)]
    pub asset_id: Option<Uuid>,
    #[schema(required)]
    pub music_id: Option<Uuid>,
    pub presence: LogPresence,
    pub face: LogFace,
    pub named_on_screen: bool,
    /// Whether the voice was made unrecognisable.
    #[serde(default)]
    pub voice_changed: bool,
    #[serde(default)]
    pub note: String,
}

impl LogFields {
    /// The range; none for the whole file.
    pub fn range(&self) -> Option<Frames> {
        self.frame_in.zip(self.frame_out)
    }

    /// The one record that an entry of this kind names.
    fn subject(&self) -> [(&'static str, &'static str, LogKind, Option<Uuid>); 4] {
        [
            ("/person_id", "people", LogKind::Person, self.person_id),
            ("/place_id", "places", LogKind::Place, self.place_id),
            ("/asset_id", "assets", LogKind::Asset, self.asset_id),
            ("/music_id", "music", LogKind::Music, self.music_id),
        ]
    }
}

impl Fields for LogFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        for (pointer, _, kind, id) in self.subject() {
            let fault = match (kind == self.kind, id) {
                (true, None) => format!("An entry about {} says which.", kind.about()),
                (false, Some(_)) => {
                    format!("An entry about {} does not name this.", self.kind.about())
                }
                _ => continue,
            };
            faults.push(FieldError::new(pointer, fault));
        }
        let fits = match self.kind {
            LogKind::Person => matches!(
                self.presence,
                LogPresence::OnCamera | LogPresence::Voice | LogPresence::Background
            ),
            LogKind::Place => {
                matches!(self.presence, LogPresence::InShot | LogPresence::Background)
            }
            LogKind::Asset => matches!(
                self.presence,
                LogPresence::InShot | LogPresence::Background | LogPresence::Heard
            ),
            LogKind::Music => self.presence == LogPresence::Heard,
            LogKind::Nothing => self.presence == LogPresence::None,
        };
        if !fits {
            faults.push(FieldError::new(
                "/presence",
                format!(
                    "{} can't be \"{}\".",
                    self.kind.about(),
                    self.presence.word().replace('_', " ")
                ),
            ));
        }
        if (self.kind != LogKind::Person) != (self.face == LogFace::NotApplicable)
            && !(self.kind == LogKind::Person && self.presence == LogPresence::Voice)
        {
            faults.push(FieldError::new(
                "/face",
                "Say of a person whether the face is shown, hidden or blurred; of anything else not_applicable.",
            ));
        }
        match (self.frame_in, self.frame_out) {
            (Some(from), Some(to)) if from < 0 || to <= from => faults.push(FieldError::new(
                "/to",
                format!(
                    "The range from frame {from} to {to} holds no frame; the end is not part of it."
                ),
            )),
            (Some(_), None) | (None, Some(_)) => faults.push(FieldError::new(
                "/to",
                "Give both ends of the range, or neither for the whole file.",
            )),
            _ => {}
        }
        check::text(&mut faults, "/note", &self.note, 2000);
        faults
    }

    fn references(&self) -> Vec<Reference> {
        self.subject()
            .into_iter()
            .filter_map(|(pointer, table, _, id)| Reference::maybe(pointer, table, id))
            .collect()
    }

    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        _: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        match clocks(conn, series, &[new.file_id]).await?.pop() {
            None => Err(OpError::field(
                "/file_id",
                "There is no such file in this series.",
            )),
            Some(clock) => clock.holds(new.range()).map_err(OpError::Invalid),
        }
    }
}

record_table! {
    /// An entry of the in-shot log.
    pub struct LogEntry { fields: LogFields }
    table: log_entries, kind: "log_entry", name: "the log entry",
    search: [note],
    used_by: &[],
}

/// What is known of the content of one file.
#[derive(Clone, Debug, Default)]
pub struct FileLog {
    /// Live entries, whole-file ones first, then by first frame.
    pub entries: Vec<LogEntry>,
    /// Frames in the file, where its header tells.
    pub frame_count: Option<i64>,
}

impl FileLog {
    /// The frames of `range` that nobody logged, in order. A file of unknown length is logged only where an entry
    /// says so.
    pub fn unlogged(&self, range: Frames) -> Vec<Frames> {
        logged::gaps(range, &self.ranges())
    }

    /// How far the whole file is logged.
    pub fn state(&self) -> logged::Logged {
        logged::of_file(self.frame_count, &self.ranges())
    }

    fn ranges(&self) -> Vec<Option<Frames>> {
        self.entries
            .iter()
            .map(|entry| entry.fields.range())
            .collect()
    }
}

/// Live entries of each of `ids`; a file without any is there too, with an empty list. A file of another series is
/// left out.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn of_files(
    conn: &mut Conn,
    series: Uuid,
    ids: &[Uuid],
) -> QueryResult<HashMap<Uuid, FileLog>> {
    let lengths: Vec<(Uuid, Option<i64>)> = files::table
        .filter(files::series_id.eq(series))
        .filter(files::id.eq_any(ids))
        .select((files::id, files::frame_count))
        .load(conn)
        .await?;
    let mut found: HashMap<Uuid, FileLog> = lengths
        .into_iter()
        .map(|(id, frame_count)| {
            let entries = Vec::new();
            (
                id,
                FileLog {
                    entries,
                    frame_count,
                },
            )
        })
        .collect();
    for (id, entries) in entries(conn, series, ids).await? {
        if let Some(log) = found.get_mut(&id) {
            log.entries = entries;
        }
    }
    Ok(found)
}

/// Live entries of each of `ids` that has any, whole-file ones first, then by first frame.
pub async fn entries(
    conn: &Conn,
    series: Uuid,
    ids: &[Uuid],
) -> QueryResult<HashMap<Uuid, Vec<LogEntry>>> {
    let query = log_entries::table
        .filter(log_entries::series_id.eq(series))
        .filter(log_entries::file_id.eq_any(ids))
        .filter(log_entries::deleted_at.is_null())
        .order((log_entries::frame_in.asc().nulls_first(), log_entries::id))
        .select(LogEntry::as_select());
    let entries: Vec<LogEntry> = query.load(&mut &*conn).await?;
    let mut found: HashMap<Uuid, Vec<LogEntry>> = HashMap::new();
    for entry in entries {
        found.entry(entry.fields.file_id).or_default().push(entry);
    }
    Ok(found)
}

/// Adds entries, in one statement.
pub async fn insert_all(
    conn: &mut Conn,
    series: Uuid,
    all: &[LogFields],
    now: DateTime<Utc>,
) -> QueryResult<Vec<LogEntry>> {
    let rows: Vec<_> = all
        .iter()
        .map(|fields| {
            (
                log_entries::id.eq(Uuid::now_v7()),
                log_entries::series_id.eq(series),
                log_entries::version.eq(1),
                log_entries::created_at.eq(now),
                log_entries::updated_at.eq(now),
                fields.clone(),
            )
        })
        .collect();
    diesel::insert_into(log_entries::table)
        .values(rows)
        .returning(LogEntry::as_returning())
        .get_results(conn)
        .await
}
