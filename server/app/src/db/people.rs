//! People of a series: who was filmed, how they are credited, and how old they are.

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use waybill_domain::perms::Action;
use waybill_domain::wording::date_words;

use super::record::Fields;
use crate::error::FieldError;
use crate::ops::access::Access;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// Where no date of birth is kept.
    pub enum KeptAge { Adult = "adult", Minor = "minor" }
}

/// What is kept of a person. Enter only what is needed.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::people, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct PersonFields {
    /// Shown only to those who may see contacts, as are guardians.
    #[serde(default)]
    pub legal_name: String,
    /// The name on screen, as the person confirmed it.
    pub credited_name: String,
    #[serde(default)]
    pub credited_name_confirmed_by: String,
    #[schema(required)]
    pub credited_name_confirmed_on: Option<NaiveDate>,
    #[serde(default)]
    pub pronunciation: String,
    /// Shown only to those who may see contacts.
    #[serde(default)]
    pub contact: String,
    /// Shown only to those who may see dates of birth.
    #[schema(required)]
    pub born: Option<NaiveDate>,
    #[schema(required)]
    pub age_band: Option<KeptAge>,
    #[serde(default)]
    pub guardian_name: String,
    #[serde(default)]
    pub guardian_relationship: String,
    #[serde(default)]
    pub guardian_contact: String,
    /// BCP 47 tag.
    #[serde(default)]
    pub language: String,
    #[schema(required)]
    pub died: Option<NaiveDate>,
    /// Handle with special care; details belong with the people who need them, not here.
    #[serde(default)]
    pub sensitive: bool,
    /// How the person can be told from others in the picture.
    #[serde(default)]
    pub recognised_by: String,
    /// Permissions that must stand beside the person's own: `school`, `team`, `league`.
    #[serde(default)]
    pub also_needed: Vec<String>,
    /// Shown only to those who may see sensitive notes.
    #[serde(default)]
    pub notes: String,
}

impl Fields for PersonFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/credited_name", &self.credited_name, 200);
        check::text(&mut faults, "/legal_name", &self.legal_name, 200);
        check::text(&mut faults, "/contact", &self.contact, 2000);
        check::text(
            &mut faults,
            "/guardian_contact",
            &self.guardian_contact,
            2000,
        );
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        for (pointer, value) in [
            (
                "/credited_name_confirmed_by",
                &self.credited_name_confirmed_by,
            ),
            ("/pronunciation", &self.pronunciation),
            ("/guardian_name", &self.guardian_name),
            ("/guardian_relationship", &self.guardian_relationship),
            ("/language", &self.language),
            ("/recognised_by", &self.recognised_by),
        ] {
            check::text(&mut faults, pointer, value, 500);
        }
        for (at, word) in self.also_needed.iter().enumerate() {
            if !["school", "team", "league"].contains(&word.as_str()) {
                faults.push(FieldError::new(
                    format!("/also_needed/{at}"),
                    "Choose school, team or league.",
                ));
            }
        }
        for (pointer, day) in [
            (
                "/credited_name_confirmed_on",
                self.credited_name_confirmed_on,
            ),
            ("/born", self.born),
            ("/died", self.died),
        ] {
            check::day(&mut faults, pointer, day);
        }
        check::order(
            &mut faults,
            "/died",
            "the date of birth",
            self.born,
            self.died,
        );
        faults
    }

    fn faults_today(&self, old: Option<&Self>, today: NaiveDate) -> Vec<FieldError> {
        let kept = old.is_some_and(|old| old.born == self.born);
        let ahead = self.born.filter(|born| *born > today && !kept);
        let fault = |born| {
            FieldError::new(
                "/born",
                format!(
                    "The date of birth, {}, is ahead of today, {}. Correct it, or leave it empty.",
                    date_words(born),
                    date_words(today)
                ),
            )
        };
        ahead.map(fault).into_iter().collect()
    }

    fn hide(&mut self, access: &Access) {
        if !access.may(Action::ViewContacts) {
            self.legal_name.clear();
            self.contact.clear();
            self.guardian_name.clear();
            self.guardian_relationship.clear();
            self.guardian_contact.clear();
        }
        if !access.may(Action::ViewBirthDate) {
            self.born = None;
        }
        if !access.may(Action::ViewSensitiveNotes) {
            self.notes.clear();
        }
    }

    fn keep_hidden(&mut self, old: &Self, access: &Access) {
        if !access.may(Action::ViewContacts) {
            self.legal_name.clone_from(&old.legal_name);
            self.contact.clone_from(&old.contact);
            self.guardian_name.clone_from(&old.guardian_name);
            self.guardian_relationship
                .clone_from(&old.guardian_relationship);
            self.guardian_contact.clone_from(&old.guardian_contact);
        }
        if !access.may(Action::ViewBirthDate) {
            self.born = old.born;
        }
        // A note that they typed adds what they know; a blank is only what they could not see.
        if !access.may(Action::ViewSensitiveNotes) && self.notes.trim().is_empty() {
            self.notes.clone_from(&old.notes);
        }
    }
}

record_table! {
    /// A person of the series.
    pub struct Person { fields: PersonFields }
    table: people, kind: "person", name: "The person",
    // Only what everybody sees who sees people: a search must not tell what is hidden.
    search: [credited_name, recognised_by],
    used_by: &[
        (
            "(select (c.value->>'person_id')::uuid as person_id, a.deleted_at from assets a, \
              jsonb_array_elements(a.contents) c) as inside",
            "person_id",
            "imports that they are seen in",
        ),
        ("releases", "person_id", "releases"),
        ("log_entries", "person_id", "entries of the in-shot log"),
    ],
}
