//! Shoot days: when and where, who is expected, and how many cards should come back.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::record::{Fields, Reference};
use crate::error::FieldError;
use crate::ops::check;
use crate::record_table;

/// A day of shooting.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::shoot_days, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct ShootDayFields {
    pub day: NaiveDate,
    #[serde(default)]
    pub title: String,
    /// At most 50 places.
    #[serde(default)]
    pub place_ids: Vec<Uuid>,
    /// Number of cards that should come back, 0 to 500.
    #[serde(default)]
    pub cards_expected: i32,
    #[serde(default)]
    pub crew: String,
    #[serde(default)]
    pub cast_expected: String,
    /// Crowd notices: which text, at which entrances, when photographed.
    #[serde(default)]
    pub notices_posted: String,
    /// Safety on location comes before paperwork.
    #[serde(default)]
    pub risk_note: String,
}

impl Fields for ShootDayFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::day(&mut faults, "/day", Some(self.day));
        check::text(&mut faults, "/title", &self.title, 200);
        check::within(
            &mut faults,
            "/cards_expected",
            self.cards_expected.into(),
            0,
            500,
        );
        for (pointer, value) in [
            ("/crew", &self.crew),
            ("/cast_expected", &self.cast_expected),
            ("/notices_posted", &self.notices_posted),
            ("/risk_note", &self.risk_note),
        ] {
            check::text(&mut faults, pointer, value, 20_000);
        }
        if self.place_ids.len() > 50 {
            faults.push(FieldError::new(
                "/place_ids",
                format!("{} places; at most 50 fit here.", self.place_ids.len()),
            ));
        }
        if self.place_ids.iter().collect::<BTreeSet<_>>().len() < self.place_ids.len() {
            faults.push(FieldError::new("/place_ids", "A place stands here twice."));
        }
        faults
    }

    fn references(&self) -> Vec<Reference> {
        self.place_ids
            .iter()
            .take(50)
            .enumerate()
            .filter_map(|(at, id)| {
                Reference::maybe(&format!("/place_ids/{at}"), "places", Some(*id))
            })
            .collect()
    }
}

record_table! {
    /// A shoot day.
    pub struct ShootDay { fields: ShootDayFields }
    table: shoot_days, kind: "shoot_day", name: "The shoot day",
    search: [title, crew, cast_expected],
    used_by: &[("cards", "shoot_day_id", "cards")],
}
