//! Places: where filming happens, who owns them and who may sign for them.

use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::record::Fields;
use crate::error::FieldError;
use crate::ops::check;
use crate::record_table;

/// A place where the series films.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::places, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct PlaceFields {
    pub name: String,
    #[serde(default)]
    pub address: String,
    #[serde(default)]
    pub owner: String,
    /// Who may sign for the owner, and in what capacity. A tenant or employee may not without authority.
    #[serde(default)]
    pub signatory: String,
    #[serde(default)]
    pub notes: String,
}

impl Fields for PlaceFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/name", &self.name, 200);
        check::text(&mut faults, "/address", &self.address, 2000);
        check::text(&mut faults, "/owner", &self.owner, 500);
        check::text(&mut faults, "/signatory", &self.signatory, 500);
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        faults
    }
}

record_table! {
    /// A place.
    pub struct Place { fields: PlaceFields }
    table: places, kind: "place", name: "The place",
    search: [name, address, owner, notes],
    used_by: &[
        ("releases", "place_id", "releases"),
        ("shoot_days", "any(place_ids)", "shoot days"),
        ("log_entries", "place_id", "entries of the in-shot log"),
    ],
}
