//! Shots: a file or a part of it that somebody marked, with its kind, its rank among the selects, and words.

use diesel::prelude::*;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::clocks::clocks;
use super::record::Fields;
use super::{Conn, schema};
use crate::error::{FieldError, OpError};
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// What kind of shot it is.
    pub enum ShotKind {
        Interview = "interview", PieceToCamera = "piece_to_camera", Actuality = "actuality",
        GeneralView = "general_view", Establishing = "establishing", Wide = "wide", Medium = "medium",
        CloseUp = "close_up", Cutaway = "cutaway", Insert = "insert", Aerial = "aerial", Archive = "archive",
        WildTrack = "wild_track",
    }
}

/// A shot.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = schema::shots, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct ShotFields {
    pub file_id: Uuid,
    /// Frames from the file's first, the end exclusive; both null: the whole file.
    #[schema(required)]
    pub frame_in: Option<i64>,
    #[schema(required)]
    pub frame_out: Option<i64>,
    #[schema(required)]
    pub kind: Option<ShotKind>,
    /// Among the selects: 1 must be in, 2 strong, 3 usable.
    #[schema(required, minimum = 1, maximum = 3)]
    pub rank: Option<i16>,
    /// What is seen or said.
    #[serde(default)]
    pub words: String,
}

impl Fields for ShotFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::text(&mut faults, "/words", &self.words, 2000);
        if self.rank.is_some_and(|rank| !(1..=3).contains(&rank)) {
            faults.push(FieldError::new(
                "/rank",
                "A rank is 1 (must be in), 2 (strong) or 3 (usable).",
            ));
        }
        if self.rank.is_none() && self.kind.is_none() && self.words.trim().is_empty() {
            faults.push(FieldError::new(
                "/kind",
                "Say at least one of these: what kind of shot it is, its rank, what is seen.",
            ));
        }
        match (self.frame_in, self.frame_out) {
            (Some(from), Some(to)) if from < 0 || to <= from => faults.push(FieldError::new(
                "/frame_out",
                format!(
                    "The range from frame {from} to {to} holds no frame; the end is not part of it."
                ),
            )),
            (Some(_), None) | (None, Some(_)) => faults.push(FieldError::new(
                "/frame_out",
                "Give both ends of the range, or neither for the whole file.",
            )),
            _ => {}
        }
        faults
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
            Some(clock) => clock
                .holds(new.frame_in.zip(new.frame_out))
                .map_err(OpError::Invalid),
        }
    }
}

record_table! {
    /// A shot.
    pub struct Shot { fields: ShotFields }
    table: shots, kind: "shot", name: "The shot",
    search: [words],
    used_by: &[],
}

/// Live shots of these files, in the order of their frames.
///
/// # Errors
/// The database's.
pub async fn of_files(conn: &Conn, series: Uuid, files: &[Uuid]) -> QueryResult<Vec<Shot>> {
    use schema::shots;
    let query = shots::table
        .filter(shots::series_id.eq(series))
        .filter(shots::file_id.eq_any(files))
        .filter(shots::deleted_at.is_null())
        .order((
            shots::file_id,
            shots::frame_in.asc().nulls_first(),
            shots::id,
        ))
        .select(Shot::as_select());
    diesel_async::RunQueryDsl::load(query, &mut &*conn).await
}
