//! Cards (rolls): what came out of a camera, and whether it may be wiped.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::wipe::{self, CardFile, Copy, NotSafe};

use super::record::{Fields, Reference};
use super::{Conn, schema};
use crate::error::{FieldError, OpError};
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// How far a card has come. From `two_copies_checked` on it claims what the copies must bear out.
    pub enum CardState {
        InCamera = "in_camera", Offloading = "offloading", TwoCopiesChecked = "two_copies_checked",
        SafeToWipe = "safe_to_wipe", Wiped = "wiped",
    }
}

/// A card.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = schema::cards, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct CardFields {
    #[schema(required)]
    pub shoot_day_id: Option<Uuid>,
    /// Name of its folder, once in a series.
    pub name: String,
    #[serde(default)]
    pub camera: String,
    #[serde(default)]
    pub number: String,
    #[schema(required)]
    pub shot_on: Option<NaiveDate>,
    pub state: CardState,
    /// Needed when the card is wiped.
    #[serde(default)]
    pub wiped_by: String,
    /// Needed when the card is wiped.
    #[schema(required)]
    pub wiped_on: Option<NaiveDate>,
    #[serde(default)]
    pub notes: String,
}

impl Fields for CardFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/name", &self.name, 100);
        check::text(&mut faults, "/camera", &self.camera, 100);
        check::text(&mut faults, "/number", &self.number, 100);
        check::text(&mut faults, "/wiped_by", &self.wiped_by, 200);
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        check::day(&mut faults, "/shot_on", self.shot_on);
        check::day(&mut faults, "/wiped_on", self.wiped_on);
        check::order(
            &mut faults,
            "/wiped_on",
            "the day of shooting",
            self.shot_on,
            self.wiped_on,
        );
        let by = !self.wiped_by.trim().is_empty();
        if self.state == CardState::Wiped {
            if !by {
                faults.push(FieldError::new("/wiped_by", "Say who wiped the card."));
            }
            if self.wiped_on.is_none() {
                faults.push(FieldError::new("/wiped_on", "Say when it was wiped."));
            }
        } else if by || self.wiped_on.is_some() {
            faults.push(FieldError::new(
                "/state",
                "Somebody is named as having wiped the card, but its state does not say so.",
            ));
        }
        faults
    }

    fn references(&self) -> Vec<Reference> {
        Reference::maybe("/shoot_day_id", "shoot_days", self.shoot_day_id)
            .into_iter()
            .collect()
    }

    /// A state that claims two checked copies is taken only when the catalogue bears it out (R38).
    async fn gate(
        conn: &mut Conn,
        _: Uuid,
        old: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        let claims = matches!(
            new.state,
            CardState::TwoCopiesChecked | CardState::SafeToWipe | CardState::Wiped
        );
        if !claims || old.is_some_and(|(_, old)| old.state == new.state) {
            return Ok(());
        }
        let manifest = match old {
            Some((card, _)) => manifest(conn, card).await?,
            None => Vec::new(),
        };
        let faults = wipe::faults(&wipe::Card {
            files: &manifest,
            places: BTreeMap::new(),
            // Whether post reported is the word of whoever sets the state.
            post_report_positive: true,
            copies_must_be_in_different_places: false,
        });
        if faults.is_empty() {
            return Ok(());
        }
        Err(OpError::UnsafeState(refusal(&faults)))
    }
}

/// Why a card stays as it is: the first files by name, and how many more.
fn refusal(faults: &[NotSafe]) -> String {
    const NAMED: usize = 5;
    if faults.contains(&NotSafe::EmptyManifest) {
        return "No file of this card is in the catalogue, so nothing shows that it was copied. Scan two drives \
                that hold it first; the card was left as it is."
            .into();
    }
    let mut words: Vec<String> = faults.iter().take(NAMED).map(ToString::to_string).collect();
    if faults.len() > NAMED {
        words.push(format!("and {} more", faults.len() - NAMED));
    }
    format!(
        "Each file of the card must be verified on two different drives. Not so: {}. The card was left as it is.",
        words.join("; ")
    )
}

#[derive(QueryableByName)]
struct OnDevices {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = BigInt)]
    size: i64,
    #[diesel(sql_type = Array<SqlUuid>)]
    devices: Vec<Uuid>,
}

/// The card's files with the copies that count, by name.
async fn manifest(conn: &mut Conn, card: Uuid) -> QueryResult<Vec<CardFile>> {
    let rows: Vec<OnDevices> = diesel::sql_query(
        "select name, size, devices from card_manifest where card_id = $1 order by name, file_id",
    )
    .bind::<SqlUuid, _>(card)
    .load(conn)
    .await?;
    let file = |row: OnDevices| {
        let size = u64::try_from(row.size).unwrap_or_default();
        // A verified copy was read and hashed to this very content, so its size and hash are the file's.
        let copy = |device: Uuid| Copy {
            drive: device.to_string(),
            size,
            verified: true,
            hash_matches: true,
        };
        CardFile {
            name: row.name,
            size,
            copies: row.devices.into_iter().map(copy).collect(),
        }
    };
    Ok(rows.into_iter().map(file).collect())
}

record_table! {
    /// A card.
    pub struct Card { fields: CardFields }
    table: cards, kind: "card", name: "The card",
    search: [name, camera, number, notes],
    used_by: &[(
        "(select card_id, null::timestamptz as deleted_at from files) as held",
        "card_id",
        "files",
    )],
}
