//! Names for what is counted elsewhere: cards, the newest cut of each episode, the days of cards.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Date, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;

#[derive(QueryableByName)]
struct CardName {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
}

/// Names of live cards.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn card_names(conn: &mut Conn, series: Uuid) -> QueryResult<BTreeMap<Uuid, String>> {
    let rows: Vec<CardName> =
        diesel::sql_query("select id, name from cards where series_id = $1 and deleted_at is null")
            .bind::<SqlUuid, _>(series)
            .load(conn)
            .await?;
    Ok(rows.into_iter().map(|row| (row.id, row.name)).collect())
}

/// Live cards by name, as the database orders names.
pub async fn cards_by_name(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<Uuid>> {
    use super::schema::cards;
    cards::table
        .filter(cards::series_id.eq(series))
        .filter(cards::deleted_at.is_null())
        .order((cards::name, cards::id))
        .select(cards::id)
        .load(conn)
        .await
}

/// Another card, and how many of some files are its content.
#[derive(Clone, Debug, PartialEq, Eq, QueryableByName, Serialize, ToSchema)]
pub struct OtherCard {
    #[diesel(sql_type = SqlUuid)]
    pub card_id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = BigInt)]
    pub files: i64,
}

/// The cards whose content lies in folders that have this card's name, where no file is its own: a card copied twice
/// under two names. Reads all copies of the series, which is for a card without files only.
pub async fn content_elsewhere(
    conn: &mut Conn,
    series: Uuid,
    card: Uuid,
) -> QueryResult<Vec<OtherCard>> {
    diesel::sql_query(
        "with named as materialized (select '/' || name || '/' as folder from cards k where k.id = $2 \
             and not exists (select from files f where f.card_id = k.id)) \
         select k.id as card_id, k.name, count(distinct f.id) as files \
         from named join copies c on c.series_id = $1 and strpos('/' || c.path, named.folder) > 0 \
         join files f on f.id = c.file_id join cards k on k.id = f.card_id and k.deleted_at is null \
         group by k.id order by files desc, k.name, k.id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<SqlUuid, _>(card)
    .load(conn)
    .await
}

/// A card and the day that it is tied to.
#[derive(Clone, Debug, QueryableByName)]
pub struct CardDay {
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = Nullable<Date>)]
    pub day: Option<NaiveDate>,
    /// As a scan made it, and no file is its.
    #[diesel(sql_type = Bool)]
    pub is_bare: bool,
}

/// All live cards by name, with the shoot days that they are tied to.
pub async fn cards_with_days(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<CardDay>> {
    // one file of each such card is looked for; by "not exists" the planner reads all files there are
    diesel::sql_query(
        "select k.name, d.day, k.version = 1 and k.state = 'offloading' \
             and (select f.id from files f where f.card_id = k.id limit 1) is null as is_bare \
         from cards k left join shoot_days d on d.id = k.shoot_day_id and d.deleted_at is null \
         where k.series_id = $1 and k.deleted_at is null order by k.name, k.id",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await
}

/// The newest cut of an episode.
#[derive(Clone, Debug, QueryableByName)]
pub struct NewestCut {
    #[diesel(sql_type = SqlUuid)]
    pub episode_id: Uuid,
    #[diesel(sql_type = Integer)]
    pub number: i32,
    #[diesel(sql_type = Text)]
    pub title: String,
    #[diesel(sql_type = SqlUuid)]
    pub cut_id: Uuid,
}

/// The newest cut of each episode that has one.
pub async fn newest_cuts(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<NewestCut>> {
    diesel::sql_query(
        "select e.id as episode_id, e.number, e.title, t.id as cut_id from episodes e \
         join lateral (select c.id from cuts c where c.episode_id = e.id and c.deleted_at is null \
             order by c.created_at desc, c.id desc limit 1) t on true \
         where e.series_id = $1 and e.deleted_at is null order by e.number",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await
}
