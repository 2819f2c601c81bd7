//! Episodes: their number and state, and the dates that start terms (R2).

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::record::Fields;
use crate::error::FieldError;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// How far an episode has come.
    pub enum EpisodeState {
        Shooting = "shooting", Cutting = "cutting", Locked = "locked", Delivering = "delivering",
        Delivered = "delivered", OnAir = "on_air", WindowClosing = "window_closing",
    }
}

/// Longest slot that is believed: a day.
const DAY_SECONDS: i32 = 86_400;

/// An episode of the series.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::episodes, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct EpisodeFields {
    /// 0 to 9999, once in a series.
    pub number: i32,
    pub title: String,
    pub status: EpisodeState,
    /// Running time asked for, seconds.
    #[schema(required)]
    pub slot_seconds: Option<i32>,
    /// Happened, or fixed.
    #[schema(required)]
    pub first_transmission: Option<NaiveDate>,
    /// Gives provisional ends of terms until the fixed date is known.
    #[schema(required)]
    pub first_transmission_planned: Option<NaiveDate>,
    #[schema(required)]
    pub delivered: Option<NaiveDate>,
    #[schema(required)]
    pub delivery_planned: Option<NaiveDate>,
    /// First use anywhere outside the team.
    #[schema(required)]
    pub first_use: Option<NaiveDate>,
    #[serde(default)]
    pub notes: String,
}

impl Fields for EpisodeFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::within(&mut faults, "/number", self.number.into(), 0, 9999);
        check::required(&mut faults, "/title", &self.title, 200);
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        if let Some(seconds) = self.slot_seconds {
            check::within(
                &mut faults,
                "/slot_seconds",
                seconds.into(),
                1,
                DAY_SECONDS.into(),
            );
        }
        for (pointer, date) in [
            ("/first_transmission", self.first_transmission),
            (
                "/first_transmission_planned",
                self.first_transmission_planned,
            ),
            ("/delivered", self.delivered),
            ("/delivery_planned", self.delivery_planned),
            ("/first_use", self.first_use),
        ] {
            check::day(&mut faults, pointer, date);
        }
        check::order(
            &mut faults,
            "/first_transmission",
            "the first use anywhere",
            self.first_use,
            self.first_transmission,
        );
        faults
    }
}

record_table! {
    /// An episode.
    pub struct Episode { fields: EpisodeFields }
    table: episodes, kind: "episode", name: "The episode",
    search: [title, notes],
    used_by: &[
        ("scenes", "episode_id", "scenes"),
        ("cuts", "episode_id", "cuts"),
        ("deliverables", "episode_id", "deliverables"),
        ("costs", "episode_id", "costs"),
        ("budgets", "episode_id", "budgets"),
    ],
}
