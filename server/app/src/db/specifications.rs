//! Delivery specifications: where, how and when a broadcaster needs an episode cleared.

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::record::Fields;
use super::{Conn, territory_groups};
use crate::error::{FieldError, OpError};
use crate::ops::check;
use crate::record_table;

/// What a delivery needs.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::specifications, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct SpecificationFields {
    pub name: String,
    #[serde(default)]
    pub broadcaster: String,
    /// Version and date of the broadcaster's specification; these change.
    #[serde(default)]
    pub edition: String,
    /// ISO 3166-1 codes, M.49 regions, `WORLD`.
    pub territories: Vec<String>,
    #[serde(default)]
    pub territories_except: Vec<String>,
    /// Dotted names of media; a name includes its children.
    pub media: Vec<String>,
    #[serde(default)]
    pub media_except: Vec<String>,
    pub needed_from: NaiveDate,
    pub needed_to: NaiveDate,
    /// Longest time that a sub-licence may run beyond the term, months.
    #[serde(default)]
    pub overhang_months: i32,
    /// How many runs it needs in each territory and medium (R4). Null: not stated.
    #[serde(default)]
    #[schema(required)]
    pub runs_needed: Option<i32>,
    /// Whether what is delivered is itself a trailer or other promotion.
    #[serde(default)]
    pub for_promotion: bool,
    /// Name of the version that is delivered, such as "broadcast"; for grants that are limited to some.
    #[serde(default)]
    pub version_name: String,
    #[serde(default)]
    pub notes: String,
}

impl Fields for SpecificationFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/name", &self.name, 200);
        check::text(&mut faults, "/broadcaster", &self.broadcaster, 500);
        check::text(&mut faults, "/edition", &self.edition, 500);
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        check::territories(&mut faults, "", &self.territories, &self.territories_except);
        check::media(&mut faults, "", &self.media, &self.media_except);
        check::day(&mut faults, "/needed_from", Some(self.needed_from));
        check::day(&mut faults, "/needed_to", Some(self.needed_to));
        check::order(
            &mut faults,
            "/needed_to",
            "the first needed day",
            Some(self.needed_from),
            Some(self.needed_to),
        );
        check::within(
            &mut faults,
            "/overhang_months",
            self.overhang_months.into(),
            0,
            600,
        );
        if let Some(runs) = self.runs_needed {
            check::within(&mut faults, "/runs_needed", runs.into(), 0, 10_000);
        }
        check::text(&mut faults, "/version_name", &self.version_name, 100);
        faults
    }

    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        _: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        let lists = vec![
            ("/territories".to_owned(), new.territories.as_slice()),
            (
                "/territories_except".to_owned(),
                new.territories_except.as_slice(),
            ),
        ];
        territory_groups::must_exist(conn, series, lists).await
    }
}

record_table! {
    /// A delivery specification.
    pub struct Specification { fields: SpecificationFields }
    table: specifications, kind: "specification", name: "The delivery specification",
    search: [name, broadcaster, edition, notes],
    used_by: &[("deliverables", "specification_id", "deliverables")],
}
