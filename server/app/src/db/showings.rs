//! Showings of an episode, past and planned: they use up runs (R4), and a repeat has six questions to answer (R26).

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::repeat::{RepeatCheck, RepeatQuestion};

use super::record::{Fields, Reference};
use super::schema::showings;
use super::{Conn, Json, territory_groups};
use crate::error::{FieldError, OpError};
use crate::ops::check;
use crate::record_table;

/// A showing.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = showings, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct ShowingFields {
    pub episode_id: Uuid,
    pub day: NaiveDate,
    /// Hours and minutes on the clock of the place, such as `20:30`.
    pub at_time: String,
    /// ISO 3166-1 codes, M.49 regions, `WORLD`, groups of the series.
    pub territories: Vec<String>,
    /// Dotted names of media.
    pub media: Vec<String>,
    /// Whether it was shown there before.
    #[serde(default)]
    pub repeat: bool,
    /// The six questions before a repeat, due when it is scheduled.
    #[serde(default)]
    #[schema(value_type = RepeatCheck)]
    pub repeat_check: Json<RepeatCheck>,
    #[serde(default)]
    pub notes: String,
}

impl Fields for ShowingFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::day(&mut faults, "/day", Some(self.day));
        if chrono::NaiveTime::parse_from_str(&self.at_time, "%H:%M").is_err()
            || self.at_time.len() != 5
        {
            faults.push(FieldError::new("/at_time", "Write the time like 20:30."));
        }
        check::territories(&mut faults, "", &self.territories, &[]);
        check::media(&mut faults, "", &self.media, &[]);
        check::text(&mut faults, "/notes", &self.notes, 5000);
        let answers = &self.repeat_check.0;
        check::text(
            &mut faults,
            "/repeat_check/answered_by",
            &answers.answered_by,
            200,
        );
        check::day(
            &mut faults,
            "/repeat_check/answered_on",
            answers.answered_on,
        );
        if answers.answers.len() > RepeatQuestion::ALL.len() {
            faults.push(FieldError::new(
                "/repeat_check/answers",
                "There are six questions, each with one answer.",
            ));
        }
        for (at, answer) in answers.answers.iter().take(6).enumerate() {
            let base = format!("/repeat_check/answers/{at}");
            check::text(&mut faults, &format!("{base}/note"), &answer.note, 2000);
            if answer.yes && answer.note.trim().is_empty() {
                faults.push(FieldError::new(
                    format!("{base}/note"),
                    "Say what there is, and what is done about it.",
                ));
            }
        }
        faults
    }

    fn references(&self) -> Vec<Reference> {
        Reference::maybe("/episode_id", "episodes", Some(self.episode_id))
            .into_iter()
            .collect()
    }

    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        _: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        let lists = vec![("/territories".to_owned(), new.territories.as_slice())];
        territory_groups::must_exist(conn, series, lists).await
    }
}

record_table! {
    /// A showing of an episode.
    pub struct Showing { fields: ShowingFields }
    table: showings, kind: "showing", name: "The showing",
    search: [notes, at_time],
    used_by: &[],
}

/// Live showings of an episode, soonest first.
///
/// # Errors
/// The database's.
pub async fn of_episode(conn: &mut Conn, episode: Uuid) -> QueryResult<Vec<Showing>> {
    showings::table
        .filter(showings::episode_id.eq(episode))
        .filter(showings::deleted_at.is_null())
        .order((showings::day, showings::at_time, showings::id))
        .select(Showing::as_select())
        .load(conn)
        .await
}
