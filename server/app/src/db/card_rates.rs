//! Frame rates of the pictures on cards, and which of them are not the series'. Counted at the end of a scan, so that
//! nobody has to look through all files for it.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::timecode::Rate;
use waybill_domain::wording::counted;

use super::Conn;

/// Pictures of a card at another rate than the series'.
#[derive(Debug, QueryableByName)]
pub struct OtherRate {
    #[diesel(sql_type = SqlUuid)]
    pub card_id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = Integer)]
    pub rate_num: i32,
    #[diesel(sql_type = Integer)]
    pub rate_den: i32,
    #[diesel(sql_type = BigInt)]
    pub files: i64,
}

/// Counts the rates on these cards; in their order, for two scans may count the same.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn count(conn: &mut Conn, cards: &[Uuid]) -> QueryResult<()> {
    diesel::sql_query(
        "insert into card_rates (card_id, rate_num, rate_den, files) \
         select f.card_id, f.rate_num, f.rate_den, count(*) from files f \
         where f.rate_num > 0 and f.rate_den > 0 and f.card_id = any($1) \
         group by f.card_id, f.rate_num, f.rate_den order by 1, 2, 3 \
         on conflict (card_id, rate_num, rate_den) do update set files = excluded.files",
    )
    .bind::<Array<SqlUuid>, _>(cards)
    .execute(conn)
    .await
    .map(drop)
}

/// A rate as two numbers to compare with; a series whose rate is no rate has none, and nothing differs from it.
pub fn of_series(frame_rate: &str) -> (i64, i64) {
    let rate = frame_rate.parse::<Rate>();
    rate.map_or((0, 0), |rate| (rate.num(), rate.den()))
}

/// Which cards hold pictures at another rate, and how many: of one card, or of those made since a time.
pub async fn others(
    conn: &mut Conn,
    series: Uuid,
    (num, den): (i64, i64),
    card: Option<Uuid>,
    since: Option<DateTime<Utc>>,
) -> QueryResult<Vec<OtherRate>> {
    diesel::sql_query(
        "select r.card_id, k.name, r.rate_num, r.rate_den, r.files \
         from card_rates r join cards k on k.id = r.card_id \
         where k.series_id = $1 and k.deleted_at is null and r.rate_num * $3 <> r.rate_den * $2 \
             and ($4 is null or k.id = $4) and ($5 is null or k.created_at >= $5) \
         order by k.name, r.files desc, r.rate_num limit 500",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<BigInt, _>(num)
    .bind::<BigInt, _>(den)
    .bind::<Nullable<SqlUuid>, _>(card)
    .bind::<Nullable<Timestamptz>, _>(since)
    .load(conn)
    .await
}

impl OtherRate {
    /// `12 clips at 50 pictures a second; the series is 25`.
    pub fn words(&self, series_rate: &str) -> String {
        let (num, den) = (i64::from(self.rate_num), i64::from(self.rate_den));
        let rate = Rate::new(num, den, false)
            .map_or_else(|_not_named| format!("{num}/{den}"), |rate| rate.name());
        let clips = counted(self.files.unsigned_abs(), "clip", "clips");
        format!("{clips} at {rate} pictures a second; the series is {series_rate}")
    }
}
