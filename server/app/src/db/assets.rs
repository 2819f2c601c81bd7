//! Imported assets: anything in a cut that the team did not film or record, and on what ground it may be shown.

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::record::Fields;
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
    /// Music, artworks and people inside it, whose rights are separate.
    #[serde(default)]
    pub embedded: String,
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
}

record_table! {
    /// An imported asset.
    pub struct Asset { fields: AssetFields }
    table: assets, kind: "asset", name: "The imported asset",
    search: [title, description, owner, source],
    used_by: &[
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
