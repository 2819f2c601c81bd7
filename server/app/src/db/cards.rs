//! Cards (rolls): what came out of a camera, and whether it may be wiped.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::wipe::NotSafe;

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
    /// Why it was wiped although R38 speaks against it; needed then.
    #[serde(default)]
    pub wiped_although: String,
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
        check::text(&mut faults, "/wiped_although", &self.wiped_although, 2000);
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

    /// A state that claims checked copies is taken only when the catalogue bears it out (R38). Wiped is taken against
    /// it from who says why; the audit trail keeps both.
    async fn gate(
        conn: &mut Conn,
        series: Uuid,
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
        let mut faults = match old {
            Some((card, _)) => super::wipe::faults(conn, series, card).await?,
            None => vec![NotSafe::EmptyManifest],
        };
        if new.state == CardState::TwoCopiesChecked {
            faults.retain(|fault| !matches!(fault, NotSafe::NoPostReport | NotSafe::OnePlace(_)));
        }
        let said = new.state == CardState::Wiped && !new.wiped_although.trim().is_empty();
        if faults.is_empty() || said {
            return Ok(());
        }
        Err(OpError::UnsafeState(refusal(&faults, new.state)))
    }
}

/// Why a card stays as it is: the first faults, and how many more.
fn refusal(faults: &[NotSafe], state: CardState) -> String {
    const NAMED: usize = 5;
    let although = match state {
        CardState::Wiped => " If it was wiped all the same, say why under “Wiped although”.",
        _ => "",
    };
    if faults.contains(&NotSafe::EmptyManifest) {
        return format!(
            "No file of this card is in the catalogue, so nothing shows that it was copied. Scan two drives that hold \
             it first; the card was left as it is.{although}"
        );
    }
    let mut words: Vec<String> = faults.iter().take(NAMED).map(ToString::to_string).collect();
    if faults.len() > NAMED {
        words.push(format!("and {} more", faults.len() - NAMED));
    }
    format!(
        "Each file of the card must be verified on two different drives, and post must have reported that the footage \
         is good. Not so: {}. The card was left as it is.{although}",
        words.join("; ")
    )
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

/// The live card of a name.
pub async fn of_name(conn: &mut Conn, series: Uuid, name: &str) -> QueryResult<Option<Card>> {
    use schema::cards::dsl;
    dsl::cards
        .filter(dsl::series_id.eq(series))
        .filter(dsl::name.eq(name))
        .filter(dsl::deleted_at.is_null())
        .select(Card::as_select())
        .first(conn)
        .await
        .optional()
}

/// The first live shoot day of a date.
pub async fn shoot_day(conn: &mut Conn, series: Uuid, day: NaiveDate) -> QueryResult<Option<Uuid>> {
    use schema::shoot_days::dsl;
    dsl::shoot_days
        .filter(dsl::series_id.eq(series))
        .filter(dsl::day.eq(day))
        .filter(dsl::deleted_at.is_null())
        .order(dsl::id)
        .select(dsl::id)
        .first(conn)
        .await
        .optional()
}
