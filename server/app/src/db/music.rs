//! Music: a composition and its particular recording, each with rights of its own.

use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::record::Fields;
use crate::error::FieldError;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// Where the music comes from.
    pub enum MusicOrigin {
        Commercial = "commercial", Production = "production", Commissioned = "commissioned", Live = "live",
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
    /// Where, and by whose finding.
    #[serde(default)]
    pub composition_note: String,
    /// Names under which it stands in a cut: file or clip names.
    #[serde(default)]
    pub match_names: Vec<String>,
    #[serde(default)]
    pub notes: String,
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
        if !self.iswc.is_empty() && !is_iswc(&self.iswc) {
            faults.push(FieldError::new(
                "/iswc",
                "Not a number of a work: T and ten digits, as in T-034.524.680-1. Leave it empty if unknown.",
            ));
        }
        if !self.isrc.is_empty() && !is_isrc(&self.isrc) {
            faults.push(FieldError::new(
                "/isrc",
                "Not a number of a recording: two letters, three letters or digits, seven digits. Leave it empty if \
                 unknown.",
            ));
        }
        faults
    }
}

/// The form of ISO 15707, with or without its points and hyphens; the check digit is left to whoever issued it.
fn is_iswc(text: &str) -> bool {
    let bare = text.replace(['-', '.', ' '], "");
    bare.strip_prefix('T')
        .is_some_and(|digits| digits.len() == 10 && digits.bytes().all(|b| b.is_ascii_digit()))
}

/// The form of ISO 3901, with or without hyphens.
fn is_isrc(text: &str) -> bool {
    let bare = text.replace('-', "");
    bare.len() == 12
        && bare.bytes().enumerate().all(|(at, b)| match at {
            0 | 1 => b.is_ascii_uppercase(),
            2..=4 => b.is_ascii_uppercase() || b.is_ascii_digit(),
            _ => b.is_ascii_digit(),
        })
}

record_table! {
    /// A piece of music.
    pub struct Music { fields: MusicFields }
    table: music, kind: "music", name: "The piece of music",
    search: [title, composers, performers, label, catalogue_number],
    used_by: &[
        ("licences", "music_id", "licences"),
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

    /// Source of the ISWC: the standard's own example, from memory; the ISRC's form: ISO 3901, from memory.
    #[test]
    fn numbers_of_works_and_recordings() {
        assert!(is_iswc("T-034.524.680-1") && is_iswc("T0345246801"));
        assert!(!is_iswc("034.524.680-1") && !is_iswc("T-034.524.680"));
        assert!(is_isrc("GB-A1B-29-00001") && is_isrc("GBA1B2900001"));
        assert!(!is_isrc("gba1b2900001") && !is_isrc("GBA1B290000") && !is_isrc("1BA1B2900001"));
    }
}
