//! Releases: the signed, or not yet signed, form about a person, a place or a thing. What it grants and what was
//! promised in return are documents of the record in the domain's shapes.

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::rights::coverage::Grant;
use waybill_domain::rights::release::{Restriction, Withdrawal};

use super::record::{Fields, Reference};
use super::{Conn, Json, documents};
use crate::error::{FieldError, OpError};
use crate::ops::access::Access;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// What the form is about.
    pub enum ReleaseKind {
        Appearance = "appearance", Minor = "minor", Location = "location", Materials = "materials",
        Artwork = "artwork", CrowdNotice = "crowd_notice", Crew = "crew", School = "school",
    }
}

text_enum! {
    /// How far a release has come.
    pub enum ReleaseState {
        NotAsked = "not_asked", Asked = "asked", SignedNotChecked = "signed_not_checked", Ok = "ok",
        Problem = "problem", RestrictedOk = "restricted_ok",
        WithdrawnBeingDecided = "withdrawn_being_decided", NotNeeded = "not_needed",
    }
}

text_enum! {
    /// Who signed. An aunt, a teacher or a tenant without authority is `other`.
    pub enum ReleaseSigner { Person = "self", Guardian = "guardian", Owner = "owner", Other = "other" }
}

/// A form and what is known of its signature.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::releases, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct ReleaseFields {
    pub kind: ReleaseKind,
    /// With `appearance`, `minor`, `crew` and `school`.
    #[schema(required)]
    pub person_id: Option<Uuid>,
    /// With `location`, `crowd_notice` and `school`.
    #[schema(required)]
    pub place_id: Option<Uuid>,
    /// With `materials` and `artwork`.
    #[schema(required)]
    pub asset_id: Option<Uuid>,
    pub status: ReleaseState,
    /// Why it is a problem, or who decides. Shown only to those who may see sensitive notes.
    #[serde(default)]
    pub status_note: String,
    #[schema(required)]
    pub signed_by: Option<ReleaseSigner>,
    #[serde(default)]
    pub signed_by_name: String,
    #[schema(required)]
    pub signed_on: Option<NaiveDate>,
    #[schema(required)]
    pub filmed_from: Option<NaiveDate>,
    #[schema(required)]
    pub filmed_to: Option<NaiveDate>,
    /// Production entity that the form names.
    #[serde(default)]
    pub entity: String,
    #[serde(default)]
    pub law: String,
    /// What was given in return; empty: none stated.
    #[serde(default)]
    pub consideration: String,
    #[serde(default)]
    pub allows_editing: bool,
    #[serde(default)]
    pub allows_promotion: bool,
    #[serde(default)]
    pub form_version: String,
    #[serde(default)]
    #[schema(value_type = Vec<Grant>)]
    pub grants: Json<Vec<Grant>>,
    #[serde(default)]
    #[schema(value_type = Vec<Restriction>)]
    pub restrictions: Json<Vec<Restriction>>,
    #[schema(required, value_type = Option<Withdrawal>)]
    pub withdrawal: Option<Json<Withdrawal>>,
    /// Scan of the form.
    #[schema(required)]
    pub document_id: Option<String>,
    #[serde(default)]
    pub original_held: String,
    /// Shown only to those who may see sensitive notes.
    #[serde(default)]
    pub notes: String,
}

impl ReleaseFields {
    fn texts(&self, faults: &mut Vec<FieldError>) {
        check::text(faults, "/status_note", &self.status_note, 5000);
        check::text(faults, "/consideration", &self.consideration, 2000);
        check::text(faults, "/notes", &self.notes, 20_000);
        for (pointer, value) in [
            ("/signed_by_name", &self.signed_by_name),
            ("/entity", &self.entity),
            ("/law", &self.law),
            ("/form_version", &self.form_version),
            ("/original_held", &self.original_held),
        ] {
            check::text(faults, pointer, value, 500);
        }
    }

    /// The kind says whose form it is.
    fn whose(&self, faults: &mut Vec<FieldError>) {
        use ReleaseKind::{
            Appearance, Artwork, Crew, CrowdNotice, Location, Materials, Minor, School,
        };
        let (person, place, asset) = match self.kind {
            Appearance | Minor | Crew => (true, false, false),
            Location | CrowdNotice => (false, true, false),
            Materials | Artwork => (false, false, true),
            School => (true, true, false),
        };
        let mut named = false;
        for (pointer, fits, id, what) in [
            ("/person_id", person, self.person_id, "person"),
            ("/place_id", place, self.place_id, "place"),
            ("/asset_id", asset, self.asset_id, "material or artwork"),
        ] {
            named |= fits && id.is_some();
            if !fits && id.is_some() {
                faults.push(FieldError::new(
                    pointer,
                    format!("A release of this kind is not about a {what}; choose another kind, or leave it empty."),
                ));
            }
        }
        if !named {
            let (pointer, what) = match self.kind {
                Appearance | Minor | Crew => ("/person_id", "the person"),
                Location | CrowdNotice => ("/place_id", "the place"),
                Materials | Artwork => ("/asset_id", "the material or artwork"),
                School => ("/person_id", "the person or the place"),
            };
            faults.push(FieldError::new(
                pointer,
                format!("Say whose form it is: name {what}."),
            ));
        }
    }

    /// A blank is never taken as signed, and a state says no more than the form does.
    fn state(&self, faults: &mut Vec<FieldError>) {
        use ReleaseState::{
            Asked, NotAsked, NotNeeded, Ok, Problem, RestrictedOk, SignedNotChecked,
            WithdrawnBeingDecided,
        };
        let mut fault = |pointer: &str, words: &str| faults.push(FieldError::new(pointer, words));
        let accepted = matches!(self.status, Ok | RestrictedOk);
        let notice = self.kind == ReleaseKind::CrowdNotice;
        if (accepted || self.status == SignedNotChecked) && !notice {
            if self.signed_on.is_none() {
                fault(
                    "/signed_on",
                    "A signed form has a date of signature; a blank is not taken as signed.",
                );
            }
            if self.signed_by.is_none() {
                fault("/signed_by", "Say who signed the form.");
            }
        }
        if accepted && self.kind == ReleaseKind::Minor {
            if self
                .signed_by
                .is_some_and(|by| by != ReleaseSigner::Guardian)
            {
                fault(
                    "/signed_by",
                    "Under age, only a parent or legal guardian can sign. Until then the state is “signed, not checked” or “problem”.",
                );
            }
            if self.signed_by_name.trim().is_empty() {
                fault("/signed_by_name", "Name the guardian who signed.");
            }
        }
        if matches!(self.status, NotAsked | Asked) && self.signed_on.is_some() {
            fault(
                "/status",
                "The form has a date of signature, so it was asked for and signed. Choose the state that fits, or clear the date.",
            );
        }
        if self.status == Problem && self.status_note.trim().is_empty() {
            fault("/status_note", "Say what the problem is.");
        }
        if self.status == NotNeeded && self.status_note.trim().is_empty() {
            fault(
                "/status_note",
                "Say why none is needed, and who decided it.",
            );
        }
        if self.status == RestrictedOk && self.restrictions.0.is_empty() {
            fault(
                "/restrictions",
                "The state says that there are restrictions; enter them, or choose “OK”.",
            );
        }
        let withdrawal = self.withdrawal.as_ref().map(|withdrawal| withdrawal.0);
        if self.status == WithdrawnBeingDecided && withdrawal != Some(Withdrawal::Requested) {
            fault(
                "/withdrawal",
                "The state says that a withdrawal is being decided; enter it as requested.",
            );
        }
        if accepted && withdrawal == Some(Withdrawal::Accepted) {
            fault(
                "/status",
                "A withdrawal was accepted, so the release no longer holds.",
            );
        }
    }
}

impl Fields for ReleaseFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        self.texts(&mut faults);
        self.whose(&mut faults);
        self.state(&mut faults);
        check::day(&mut faults, "/signed_on", self.signed_on);
        check::day(&mut faults, "/filmed_from", self.filmed_from);
        check::day(&mut faults, "/filmed_to", self.filmed_to);
        check::order(
            &mut faults,
            "/filmed_to",
            "the first day of filming",
            self.filmed_from,
            self.filmed_to,
        );
        check::grants(&mut faults, "/grants", &self.grants.0);
        check::restrictions(&mut faults, "/restrictions", &self.restrictions.0);
        check::hash(&mut faults, "/document_id", self.document_id.as_deref());
        faults
    }

    fn references(&self) -> Vec<Reference> {
        [
            Reference::maybe("/person_id", "people", self.person_id),
            Reference::maybe("/place_id", "places", self.place_id),
            Reference::maybe("/asset_id", "assets", self.asset_id),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn hide(&mut self, access: &Access) {
        if !access.may(Action::ViewSensitiveNotes) {
            self.status_note.clear();
            self.notes.clear();
        }
    }

    fn keep_hidden(&mut self, old: &Self, access: &Access) {
        if !access.may(Action::ViewSensitiveNotes) {
            // A note that they typed adds what they know; a blank is only what they could not see.
            for (new, old) in [
                (&mut self.status_note, &old.status_note),
                (&mut self.notes, &old.notes),
            ] {
                if new.trim().is_empty() {
                    new.clone_from(old);
                }
            }
        }
    }

    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        _: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        documents::must_exist(conn, series, "/document_id", new.document_id.as_deref()).await
    }
}

record_table! {
    /// A release.
    pub struct Release { fields: ReleaseFields }
    table: releases, kind: "release", name: "The release",
    search: [signed_by_name, entity, form_version],
    used_by: &[],
}
