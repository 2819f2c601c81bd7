//! Music: a composition and its particular recording, each with rights of its own.

use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::identifiers::Scheme;
use waybill_domain::music::shares::Party;

use super::record::{Fields, Reference};
use super::{Conn, Json};
use crate::error::{FieldError, OpError};
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// Where the music comes from.
    pub enum MusicOrigin {
        Commercial = "commercial", Production = "production", Commissioned = "commissioned", Live = "live",
    }
}

text_enum! {
    /// What the shares are parts of: each side is 100 %, or writers and publishers together are.
    pub enum MusicShares { EachSide = "each_side", Together = "together" }
}

#[expect(
    clippy::derivable_impls,
    reason = "the macro that makes words of a column derives no default"
)]
impl Default for MusicShares {
    fn default() -> Self {
        Self::EachSide
    }
}

/// A piece of music.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::music, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct MusicFields {
    pub title: String,
    pub origin: MusicOrigin,
    #[serde(default)]
    pub composers: String,
    #[serde(default)]
    pub publishers: String,
    #[serde(default)]
    pub performers: String,
    #[serde(default)]
    pub label: String,
    #[serde(default)]
    pub catalogue_number: String,
    /// Number of the work (ISO 15707), for instance `T-034.524.680-1`.
    #[serde(default)]
    pub iswc: String,
    /// Number of the recording (ISO 3901): two letters, three letters or digits, seven digits.
    #[serde(default)]
    pub isrc: String,
    /// The composition may be free of rights while the recording is not.
    #[serde(default)]
    pub composition_public_domain: bool,
    /// Where it is free of rights. Empty: nobody has said where, so it is unknown everywhere.
    #[serde(default)]
    pub composition_territories: Vec<String>,
    /// By whose finding.
    #[serde(default)]
    pub composition_note: String,
    /// Names under which it stands in a cut: file or clip names.
    #[serde(default)]
    pub match_names: Vec<String>,
    #[serde(default)]
    pub notes: String,
    /// Who has which part in the work and in this recording.
    #[serde(default)]
    #[schema(value_type = Vec<Party>)]
    pub parties: Json<Vec<Party>>,
    #[serde(default)]
    pub share_convention: MusicShares,
    /// Why there is no publisher, for instance that the work is unpublished.
    #[serde(default)]
    pub publisher_note: String,
    /// Another recording of the same work: its writers, publishers, shares and ISWC hold for this one too.
    #[serde(default)]
    pub same_work_id: Option<Uuid>,
}

impl Fields for MusicFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/title", &self.title, 200);
        for (pointer, value, most) in [
            ("/composers", &self.composers, 2000),
            ("/publishers", &self.publishers, 2000),
            ("/performers", &self.performers, 2000),
            ("/label", &self.label, 500),
            ("/catalogue_number", &self.catalogue_number, 500),
            ("/composition_note", &self.composition_note, 5000),
            ("/notes", &self.notes, 20_000),
        ] {
            check::text(&mut faults, pointer, value, most);
        }
        check::texts(&mut faults, "/match_names", &self.match_names, 255, 100);
        check::text(&mut faults, "/publisher_note", &self.publisher_note, 500);
        let free_in = &self.composition_territories;
        check::codes(&mut faults, "/composition_territories", free_in);
        numbered(&mut faults, "/iswc", Scheme::Iswc, &self.iswc);
        numbered(&mut faults, "/isrc", Scheme::Isrc, &self.isrc);
        parties(&mut faults, &self.parties.0);
        faults
    }

    /// ISO 15707 and 3901, and the societies' 11 digits.
    fn settle(&mut self) {
        self.iswc = Scheme::Iswc.shown(&self.iswc);
        self.isrc = Scheme::Isrc.shown(&self.isrc);
        for party in &mut self.parties.0 {
            party.ipi = Scheme::IpiName.shown(&party.ipi);
        }
    }

    fn references(&self) -> Vec<Reference> {
        Reference::maybe("/same_work_id", "music", self.same_work_id)
            .into_iter()
            .collect()
    }

    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        old: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        let Some(work) = new.same_work_id else {
            return Ok(());
        };
        let own = old.is_some_and(|(id, _)| id == work);
        let other = <Music as super::record::Record>::load(conn, series, work).await?;
        if own || other.is_some_and(|other| other.fields.same_work_id.is_some()) {
            return Err(OpError::field(
                "/same_work_id",
                "Name the recording that holds the work itself, not this one and not one that points on.",
            ));
        }
        Ok(())
    }
}

/// A number that may be empty, in the form of its scheme and with its check digit.
fn numbered(faults: &mut Vec<FieldError>, pointer: &str, scheme: Scheme, value: &str) {
    if !value.is_empty()
        && let Err(error) = scheme.canonical(value)
    {
        let words = error.to_string();
        let mut letters = words.chars();
        let first = letters.next().into_iter().flat_map(char::to_uppercase);
        let sentence: String = first.chain(letters).collect();
        faults.push(FieldError::new(
            pointer,
            format!("{sentence}. Leave it empty if unknown."),
        ));
    }
}

/// Each party on its own; whether shares add up is said on the cue sheet, since it is known late.
fn parties(faults: &mut Vec<FieldError>, parties: &[Party]) {
    const MOST: usize = 100;
    if parties.len() > MOST {
        faults.push(FieldError::new(
            "/parties",
            format!("{} parties; at most {MOST} fit here.", parties.len()),
        ));
    }
    for (at, party) in parties.iter().take(MOST).enumerate() {
        let base = format!("/parties/{at}");
        check::required(faults, &format!("{base}/name"), &party.name, 200);
        check::text(faults, &format!("{base}/society"), &party.society, 100);
        numbered(faults, &format!("{base}/ipi"), Scheme::IpiName, &party.ipi);
        if party.share.is_some_and(|share| share > 10_000) {
            faults.push(FieldError::new(
                format!("{base}/share"),
                "A share is at most 100 %.",
            ));
        }
    }
}

record_table! {
    /// A piece of music.
    pub struct Music { fields: MusicFields }
    table: music, kind: "music", name: "The piece of music",
    search: [title, composers, performers, label, catalogue_number],
    used_by: &[
        (
            "(select (c.value->>'music_id')::uuid as music_id, a.deleted_at from assets a, \
              jsonb_array_elements(a.contents) c) as inside",
            "music_id",
            "imports that it is heard in",
        ),
        ("licences", "music_id", "licences"),
        ("music", "same_work_id", "other recordings of the work"),
        ("log_entries", "music_id", "entries of the in-shot log"),
        (
            "(select e.music_id, c.deleted_at from cut_events e join cuts c on c.id = e.cut_id) as uses",
            "music_id",
            "events of cuts",
        ),
    ],
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the standards' own examples, as in tests/outside/data/identifiers.json.
    #[test]
    fn numbers_of_works_and_recordings_are_checked() {
        let faults = |scheme, value| {
            let mut faults = Vec::new();
            numbered(&mut faults, "/number", scheme, value);
            faults.len()
        };
        assert_eq!(faults(Scheme::Iswc, "T-034.524.680-1"), 0);
        assert_eq!(faults(Scheme::Iswc, "T-034.524.680-2"), 1);
        assert_eq!(faults(Scheme::Isrc, "GB-A1B-29-00001"), 0);
        assert_eq!(faults(Scheme::Isrc, "GBA1B290000"), 1);
        assert_eq!(faults(Scheme::Iswc, ""), 0);
    }
}
