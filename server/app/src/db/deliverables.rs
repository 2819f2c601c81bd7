//! Deliverables: what is owed for an episode, by when, and who sees to it.

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::record::{Fields, Reference};
use super::{Conn, series};
use crate::error::{FieldError, OpError};
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// How far a deliverable has come.
    pub enum DeliverableState {
        NotStarted = "not_started", InWork = "in_work", Ready = "ready", Sent = "sent",
        Accepted = "accepted", Rejected = "rejected", Waived = "waived",
    }
}

/// Something that is owed.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::deliverables, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct DeliverableFields {
    pub episode_id: Uuid,
    #[schema(required)]
    pub specification_id: Option<Uuid>,
    pub item: String,
    #[schema(required)]
    pub due_on: Option<NaiveDate>,
    /// A member of the series.
    #[schema(required)]
    pub owner_id: Option<Uuid>,
    pub status: DeliverableState,
    /// Needed with `rejected` and `waived`.
    #[serde(default)]
    pub status_note: String,
    #[serde(default)]
    pub notes: String,
}

impl Fields for DeliverableFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/item", &self.item, 200);
        check::text(&mut faults, "/status_note", &self.status_note, 5000);
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        check::day(&mut faults, "/due_on", self.due_on);
        let told = !self.status_note.trim().is_empty();
        match self.status {
            DeliverableState::Rejected if !told => {
                faults.push(FieldError::new("/status_note", "Say why it was rejected."));
            }
            DeliverableState::Waived if !told => {
                faults.push(FieldError::new("/status_note", "Say who waived it."));
            }
            _ => {}
        }
        faults
    }

    fn references(&self) -> Vec<Reference> {
        [
            Reference::maybe("/episode_id", "episodes", Some(self.episode_id)),
            Reference::maybe("/specification_id", "specifications", self.specification_id),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// Somebody who left the team keeps what they had, but gets nothing new.
    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        old: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        let Some(owner) = new.owner_id else {
            return Ok(());
        };
        let same = old.is_some_and(|(_, old)| old.owner_id == Some(owner));
        if same || !series::roles(conn, series, owner).await?.is_empty() {
            return Ok(());
        }
        Err(OpError::field(
            "/owner_id",
            "This person is not a member of the series. Give them a role there first.",
        ))
    }
}

record_table! {
    /// A deliverable.
    pub struct Deliverable { fields: DeliverableFields }
    table: deliverables, kind: "deliverable", name: "The deliverable",
    search: [item, status_note, notes],
    used_by: &[],
}
