//! Drives: what footage is kept on, where each is and who holds it.

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::record::Fields;
use crate::error::FieldError;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// What a drive is made of.
    pub enum DriveKind {
        Hdd = "hdd", Ssd = "ssd", Lto = "lto", Raid = "raid", Cloud = "cloud", Other = "other",
    }
}

text_enum! {
    /// How a drive is.
    pub enum DriveState {
        Fine = "fine", CheckDue = "check_due", Mismatch = "mismatch", Missing = "missing", Retired = "retired",
    }
}

/// A drive.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::drives, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct DriveFields {
    /// What stands on it, once in a series whatever the case.
    pub label: String,
    #[serde(default)]
    pub serial: String,
    pub kind: DriveKind,
    #[schema(required)]
    pub capacity_bytes: Option<i64>,
    #[schema(required)]
    pub free_bytes: Option<i64>,
    #[schema(required)]
    pub bought_on: Option<NaiveDate>,
    #[serde(default)]
    pub encrypted: bool,
    /// Where it is kept; two copies in one building do not help against fire.
    #[serde(default)]
    pub place: String,
    #[serde(default)]
    pub holder: String,
    pub status: DriveState,
    #[schema(required)]
    pub next_check_on: Option<NaiveDate>,
    #[serde(default)]
    pub notes: String,
}

impl Fields for DriveFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/label", &self.label, 100);
        check::text(&mut faults, "/serial", &self.serial, 200);
        check::text(&mut faults, "/place", &self.place, 500);
        check::text(&mut faults, "/holder", &self.holder, 500);
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        check::day(&mut faults, "/bought_on", self.bought_on);
        check::day(&mut faults, "/next_check_on", self.next_check_on);
        for (pointer, bytes) in [
            ("/capacity_bytes", self.capacity_bytes),
            ("/free_bytes", self.free_bytes),
        ] {
            if bytes.is_some_and(|bytes| bytes < 0) {
                faults.push(FieldError::new(pointer, "Not below zero."));
            }
        }
        if let (Some(capacity), Some(free)) = (self.capacity_bytes, self.free_bytes)
            && free > capacity
        {
            faults.push(FieldError::new(
                "/free_bytes",
                "More is free than fits on the drive.",
            ));
        }
        faults
    }
}

record_table! {
    /// A drive.
    pub struct Drive { fields: DriveFields }
    table: drives, kind: "drive", name: "The drive",
    search: [label, serial, place, holder, notes],
    used_by: &[(
        "(select drive_id, null::timestamptz as deleted_at from copies) as copied",
        "drive_id",
        "copies of files",
    )],
}
