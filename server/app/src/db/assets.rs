//! Imported assets: anything in a cut that the team did not film or record, and on what ground it may be shown.

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use waybill_domain::cut_uses::Content;
use waybill_domain::rights::basis_details::BasisDetails;

use super::Json;
use super::record::{Fields, Reference};
use crate::error::FieldError;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// What it is.
    pub enum AssetClass {
        Still = "still", Archive = "archive", Web = "web", PhoneVideo = "phone_video",
        SoundEffect = "sound_effect", Font = "font", Graphic = "graphic", Artwork = "artwork",
        Brand = "brand", Newspaper = "newspaper", MadeByMachine = "made_by_machine", Other = "other",
    }
}

text_enum! {
    /// The ground on which it may be shown.
    pub enum AssetBasis {
        Licensed = "licensed", Released = "released", PublicDomain = "public_domain",
        FairUse = "fair_use", FairDealing = "fair_dealing", Incidental = "incidental", Own = "own",
        CreativeCommons = "creative_commons", NotNeeded = "not_needed", Unknown = "unknown",
    }
}

/// Something that was brought in.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::assets, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct AssetFields {
    pub class: AssetClass,
    pub title: String,
    #[serde(default)]
    pub description: String,
    #[serde(default)]
    pub owner: String,
    /// Where it came from: a library, a person, an address on the web (http or https).
    #[serde(default)]
    pub source: String,
    pub basis: AssetBasis,
    /// Why the ground holds; for fair use and dealing, where the lawyer's note is.
    #[serde(default)]
    pub basis_note: String,
    #[serde(default)]
    pub basis_decided_by: String,
    #[schema(required)]
    pub basis_decided_on: Option<NaiveDate>,
    #[serde(default)]
    pub credit_line: String,
    /// Names under which it stands in a cut: file or clip names.
    #[serde(default)]
    pub match_names: Vec<String>,
    /// Public domain: where it is free of rights. Empty: nobody has said where, so it is unknown everywhere.
    #[serde(default)]
    pub basis_territories: Vec<String>,
    /// Facts about the ground (R9, R51, R54, R55).
    #[serde(default)]
    #[schema(value_type = BasisDetails)]
    pub basis_details: Json<BasisDetails>,
    /// People, imports and music inside it; they come into the cut with it and are cleared by themselves.
    #[serde(default)]
    #[schema(value_type = Vec<Content>)]
    pub contents: Json<Vec<Content>>,
    /// What else is inside it, in words; a note that clears nothing.
    #[serde(default)]
    pub embedded: String,
}

impl AssetFields {
    fn ground(&self, faults: &mut Vec<FieldError>) {
        check::codes(faults, "/basis_territories", &self.basis_territories);
        let details = &self.basis_details.0;
        check::codes(faults, "/basis_details/extends_to", &details.extends_to);
        let by = &details.lawyers_note_by;
        check::text(faults, "/basis_details/lawyers_note_by", by, 500);
        check::text(
            faults,
            "/basis_details/cc_licence",
            &details.cc_licence,
            200,
        );
        for (name, day) in [
            ("lawyers_note_on", details.lawyers_note_on),
            ("disclosed_on", details.disclosed_on),
            ("approved_on", details.approved_on),
            ("opinion_letter_on", details.opinion_letter_on),
            ("endorsed_on", details.endorsed_on),
        ] {
            check::day(faults, &format!("/basis_details/{name}"), day);
        }
        for (name, year) in [
            ("published_in", details.published_in),
            ("author_died", details.author_died),
        ] {
            if let Some(year) = year {
                let pointer = format!("/basis_details/{name}");
                check::within(faults, &pointer, year.into(), 1000, 2200);
            }
        }
    }

    fn inside(&self, faults: &mut Vec<FieldError>) {
        if self.contents.0.len() > 200 {
            faults.push(FieldError::new("/contents", "At most 200 fit here."));
        }
        for (at, content) in self.contents.0.iter().take(200).enumerate() {
            let ids = [content.person_id, content.asset_id, content.music_id];
            if ids.iter().flatten().count() != 1 {
                faults.push(FieldError::new(
                    format!("/contents/{at}"),
                    "Name one person, one import or one piece of music.",
                ));
            }
            check::text(faults, &format!("/contents/{at}/note"), &content.note, 2000);
            let (from, to) = (content.from_seconds, content.to_seconds);
            for (name, seconds) in [("from_seconds", from), ("to_seconds", to)] {
                let pointer = format!("/contents/{at}/{name}");
                check::within(faults, &pointer, seconds.unwrap_or(0).into(), 0, 86_400);
            }
            if to.is_some_and(|to| to <= from.unwrap_or(0)) {
                faults.push(FieldError::new(
                    format!("/contents/{at}/to_seconds"),
                    format!(
                        "Item {}: its out must be later than its in; leave the out empty where it lasts to the end.",
                        at + 1
                    ),
                ));
            }
        }
    }
}

impl Fields for AssetFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/title", &self.title, 200);
        for (pointer, value, most) in [
            ("/description", &self.description, 20_000),
            ("/owner", &self.owner, 500),
            ("/source", &self.source, 2000),
            ("/basis_note", &self.basis_note, 5000),
            ("/basis_decided_by", &self.basis_decided_by, 500),
            ("/credit_line", &self.credit_line, 500),
            ("/embedded", &self.embedded, 5000),
        ] {
            check::text(&mut faults, pointer, value, most);
        }
        check::link(&mut faults, "/source", &self.source);
        self.ground(&mut faults);
        self.inside(&mut faults);
        check::texts(&mut faults, "/match_names", &self.match_names, 255, 100);
        check::day(&mut faults, "/basis_decided_on", self.basis_decided_on);
        if self.basis == AssetBasis::NotNeeded {
            for (pointer, missing, words) in [
                (
                    "/basis_note",
                    self.basis_note.trim().is_empty(),
                    "Say why nothing is needed.",
                ),
                (
                    "/basis_decided_by",
                    self.basis_decided_by.trim().is_empty(),
                    "Say who decided that nothing is needed.",
                ),
                (
                    "/basis_decided_on",
                    self.basis_decided_on.is_none(),
                    "Say when it was decided.",
                ),
            ] {
                if missing {
                    faults.push(FieldError::new(pointer, words));
                }
            }
        }
        faults
    }

    fn references(&self) -> Vec<Reference> {
        let contents = self.contents.0.iter().enumerate();
        contents
            .flat_map(|(at, content)| {
                let pointer = |name: &str| format!("/contents/{at}/{name}");
                [
                    Reference::maybe(&pointer("person_id"), "people", content.person_id),
                    Reference::maybe(&pointer("asset_id"), "assets", content.asset_id),
                    Reference::maybe(&pointer("music_id"), "music", content.music_id),
                ]
            })
            .flatten()
            .collect()
    }
}

record_table! {
    /// An imported asset.
    pub struct Asset { fields: AssetFields }
    table: assets, kind: "asset", name: "The imported asset",
    search: [title, description, owner, source],
    used_by: &[
        (
            "(select (c.value->>'asset_id')::uuid as asset_id, a.deleted_at from assets a, \
              jsonb_array_elements(a.contents) c) as inside",
            "asset_id",
            "imports that it is inside of",
        ),
        ("releases", "asset_id", "releases"),
        ("licences", "asset_id", "licences"),
        ("log_entries", "asset_id", "entries of the in-shot log"),
        (
            "(select e.asset_id, c.deleted_at from cut_events e join cuts c on c.id = e.cut_id) as uses",
            "asset_id",
            "events of cuts",
        ),
    ],
}
