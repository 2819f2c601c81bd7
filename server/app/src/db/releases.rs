//! Releases: the signed, or not yet signed, form about a person, a place or a thing. What it grants and what was
//! promised in return are documents of the record in the domain's shapes.

mod withdrawal;

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::rights::coverage::Grant;
use waybill_domain::rights::release::{Restriction, Withdrawal, note_withdrawal_steps};
use waybill_domain::rights::release_details::ReleaseDetails;

use super::record::{Fields, Reference};
use super::{Conn, Json, documents, territory_groups};
use crate::error::{FieldError, OpError};
use crate::ops::access::Access;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// What the form is about.
    pub enum ReleaseKind {
        Appearance = "appearance", Minor = "minor", Location = "location", Materials = "materials",
        Artwork = "artwork", CrowdNotice = "crowd_notice", Crew = "crew", School = "school",
        Team = "team", League = "league",
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
    /// With `appearance`, `minor`, `crew`, `school`, `team` and `league`.
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
    /// What it says besides, by its kind (rulebook 3.1).
    #[serde(default)]
    #[schema(value_type = ReleaseDetails)]
    pub details: Json<ReleaseDetails>,
    /// Scan of the form; of a crowd notice, the photograph of it where it hung.
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

    fn further(&self, faults: &mut Vec<FieldError>) {
        let details = &self.details.0;
        for (name, value) in [
            ("name_on_form", &details.name_on_form),
            ("capacity", &details.capacity),
            ("witness", &details.witness),
            ("place_filmed", &details.place_filmed),
            ("language", &details.language),
            ("dispute", &details.dispute),
            ("chaperone", &details.chaperone),
            ("child_licence", &details.child_licence),
            ("areas", &details.areas),
            ("marks", &details.marks),
            ("insurance", &details.insurance),
            ("items", &details.items),
            ("people_shown", &details.people_shown),
            ("how_shown", &details.how_shown),
            ("posted_at", &details.posted_at),
            ("announcements", &details.announcements),
            ("floor_plan", &details.floor_plan),
            ("role", &details.role),
            ("crew_terms", &details.crew_terms),
            ("event_terms", &details.event_terms),
        ] {
            check::text(faults, &format!("/details/{name}"), value, 5000);
        }
        let returned = details.originals_returned_on;
        check::day(faults, "/details/originals_returned_on", returned);
        check::day(faults, "/details/work_began_on", details.work_began_on);
        let disguise = &details.disguise;
        check::text(faults, "/details/disguise/how", &disguise.how, 2000);
        let with = &disguise.agreed_with;
        check::text(faults, "/details/disguise/agreed_with", with, 500);
        check::day(faults, "/details/disguise/agreed_on", disguise.agreed_on);
        let child = &details.child;
        check::day(faults, "/details/child/asked_on", child.asked_on);
        check::day(faults, "/details/child/granted_on", child.granted_on);
        if child.performed_on.len() > 200 {
            let pointer = "/details/child/performed_on";
            faults.push(FieldError::new(pointer, "At most 200 days fit here."));
        }
        for (at, on) in child.performed_on.iter().take(200).enumerate() {
            let pointer = format!("/details/child/performed_on/{at}");
            check::day(faults, &pointer, Some(*on));
        }
        withdrawal::check_steps(self, faults);
    }

    /// The kind says whose form it is.
    fn whose(&self, faults: &mut Vec<FieldError>) {
        use ReleaseKind::{
            Appearance, Artwork, Crew, CrowdNotice, League, Location, Materials, Minor, School,
            Team,
        };
        let (person, place, asset) = match self.kind {
            Appearance | Minor | Crew => (true, false, false),
            Team | League => (true, false, true),
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
                Team | League => ("/person_id", "the person, or the marks that it allows"),
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
        let withdrawal = withdrawal::stands(self);
        let deciding = matches!(
            withdrawal,
            Some(Withdrawal::Requested | Withdrawal::Holding)
        );
        if self.status == WithdrawnBeingDecided && !deciding {
            fault(
                "/withdrawal",
                "The state says that a withdrawal is being decided; enter it as requested, or as held.",
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
        self.further(&mut faults);
        check::restrictions(&mut faults, "/restrictions", &self.restrictions.0);
        check::hash(&mut faults, "/document_id", self.document_id.as_deref());
        faults
    }

    fn references(&self) -> Vec<Reference> {
        let beside = self.restrictions.0.iter().enumerate();
        let beside = beside.map(|(at, restriction)| match restriction {
            Restriction::NotBeside { person } => {
                let pointer = format!("/restrictions/{at}/person");
                Reference::maybe(&pointer, "people", person.parse().ok())
            }
            _ => None,
        });
        [
            Reference::maybe("/person_id", "people", self.person_id),
            Reference::maybe("/place_id", "places", self.place_id),
            Reference::maybe("/asset_id", "assets", self.asset_id),
        ]
        .into_iter()
        .chain(beside)
        .flatten()
        .collect()
    }

    fn hide(&mut self, access: &Access) {
        if !access.may(Action::ViewSensitiveNotes) {
            self.status_note.clear();
            self.notes.clear();
            let details = &mut self.details.0;
            details.dispute.clear();
            for step in &mut details.withdrawal_steps {
                step.words.clear();
            }
        }
    }

    fn keep_hidden(&mut self, old: &Self, access: &Access) {
        if !access.may(Action::ViewSensitiveNotes) {
            // A note that they typed adds what they know; a blank is only what they could not see.
            for (new, old) in [
                (&mut self.status_note, &old.status_note),
                (&mut self.notes, &old.notes),
                (&mut self.details.0.dispute, &old.details.0.dispute),
            ] {
                if new.trim().is_empty() {
                    new.clone_from(old);
                }
            }
            let kept = &old.details.0.withdrawal_steps;
            for (new, old) in self.details.0.withdrawal_steps.iter_mut().zip(kept) {
                if new.words.trim().is_empty() && (new.on, new.step) == (old.on, old.step) {
                    new.words.clone_from(&old.words);
                }
            }
        }
    }

    fn note_entering(&mut self, old: Option<&Self>, access: &Access, today: NaiveDate) {
        let kept = old.map_or(&[][..], |old| &old.details.0.withdrawal_steps);
        let steps = &mut self.details.0.withdrawal_steps;
        note_withdrawal_steps(steps, kept, &access.actor.name, today);
    }

    fn allowed(&self, old: Option<&Self>, access: &Access) -> Result<(), OpError> {
        withdrawal::allowed(self, old, access)
    }

    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        _: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        let mut lists = territory_groups::of_grants("/grants", &new.grants.0);
        for (at, restriction) in new.restrictions.0.iter().enumerate() {
            if let Restriction::NotIn { territories } = restriction {
                let pointer = format!("/restrictions/{at}/territories");
                lists.push((pointer, territories.as_slice()));
            }
        }
        territory_groups::must_exist(conn, series, lists).await?;
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
