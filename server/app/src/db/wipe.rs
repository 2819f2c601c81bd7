//! May a card be wiped (R38)? What the catalogue and post say of it, for the rule in `domain::footage::wipe`. Which
//! copies count is decided by the views `card_manifest` and `drives_at_hand`.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::wipe::{self, Card, CardFile, Copy, NotSafe};

use super::schema::{card_reports, cards, series};
use super::{Conn, holdings};

/// Post's word on a card.
#[derive(Clone, Debug, Queryable, Selectable, Insertable, Serialize, ToSchema)]
#[diesel(table_name = card_reports)]
pub struct CardReport {
    pub id: Uuid,
    #[serde(skip)]
    pub series_id: Uuid,
    #[serde(skip)]
    pub card_id: Uuid,
    /// Whether all of it is good.
    pub positive: bool,
    pub words: String,
    #[serde(skip)]
    pub given_by: Option<Uuid>,
    /// Who gave it.
    pub given_by_name: String,
    pub given_at: DateTime<Utc>,
}

/// Reports on a card, the newest first.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn reports(conn: &mut Conn, series: Uuid, card: Uuid) -> QueryResult<Vec<CardReport>> {
    card_reports::table
        .filter(card_reports::series_id.eq(series))
        .filter(card_reports::card_id.eq(card))
        .order((card_reports::given_at.desc(), card_reports::id.desc()))
        .select(CardReport::as_select())
        .load(conn)
        .await
}

/// Adds a report.
pub async fn insert_report(conn: &mut Conn, report: &CardReport) -> QueryResult<()> {
    diesel::insert_into(card_reports::table)
        .values(report)
        .execute(conn)
        .await
        .map(drop)
}

/// What is worked out of a live card.
#[derive(Clone, Debug, PartialEq, Eq, Queryable, Serialize, ToSchema)]
pub struct CardCopies {
    /// The card.
    pub id: Uuid,
    /// Its files in the catalogue.
    pub files: i32,
    pub bytes: i64,
    /// On how many devices the worst of them is verified.
    pub copies: i32,
}

/// How many copies each live card has, as last worked out.
pub async fn copies(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<CardCopies>> {
    cards::table
        .filter(cards::series_id.eq(series))
        .filter(cards::deleted_at.is_null())
        .order(cards::id)
        .select((cards::id, cards::files, cards::bytes, cards::least_copies))
        .load(conn)
        .await
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

/// Where the devices at hand are. A device that several drives lie on is in one place, whatever is noted of them.
async fn places(conn: &mut Conn, series: Uuid) -> QueryResult<BTreeMap<String, String>> {
    let mut places = BTreeMap::new();
    for drive in holdings::drives(conn, series).await? {
        let place = drive.place.trim().to_lowercase();
        if drive.at_hand && !place.is_empty() {
            let known: &mut String = places
                .entry(drive.device.to_string())
                .or_insert(place.clone());
            *known = place.min(std::mem::take(known));
        }
    }
    Ok(places)
}

/// Everything that stands against wiping a card (R38), in the order of its files, post's report last.
pub async fn faults(conn: &mut Conn, series: Uuid, card: Uuid) -> QueryResult<Vec<NotSafe>> {
    let files = manifest(conn, card).await?;
    let apart: bool = series::table
        .find(series)
        .select(series::copies_apart)
        .first(conn)
        .await?;
    let named = places(conn, series).await?;
    let places = named
        .iter()
        .map(|(id, place)| (id.as_str(), place.as_str()));
    let places: BTreeMap<&str, &str> = places.collect();
    let positive = reports(conn, series, card)
        .await?
        .into_iter()
        .next()
        .is_some_and(|report| report.positive);
    Ok(wipe::faults(&Card {
        files: &files,
        places,
        post_report_positive: positive,
        copies_must_be_in_different_places: apart,
    }))
}
