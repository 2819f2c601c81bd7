//! How each episode of a series stands, in one statement.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryResult;
use diesel::prelude::QueryableByName;
use diesel::sql_types::{
    BigInt, Bool, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::Conn;

/// A line of the board, as the statement gives it.
#[derive(QueryableByName)]
pub struct BoardRow {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Integer)]
    pub number: i32,
    #[diesel(sql_type = Text)]
    pub title: String,
    #[diesel(sql_type = Text)]
    pub status: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub cut_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    pub cut_name: Option<String>,
    #[diesel(sql_type = Nullable<Date>)]
    pub cut_date: Option<NaiveDate>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub cut_imported_at: Option<DateTime<Utc>>,
    #[diesel(sql_type = Nullable<Bool>)]
    pub cut_locked: Option<bool>,
    #[diesel(sql_type = BigInt)]
    pub cut_events: i64,
    #[diesel(sql_type = BigInt)]
    pub cut_unknown: i64,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub due_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    pub due_item: Option<String>,
    #[diesel(sql_type = Nullable<Date>)]
    pub due_on: Option<NaiveDate>,
    #[diesel(sql_type = BigInt)]
    pub owed: i64,
    #[diesel(sql_type = BigInt)]
    pub overdue: i64,
    #[diesel(sql_type = BigInt)]
    pub scenes: i64,
}

/// Episodes by number. The newest cut is the one imported last; what was sent, accepted or waived is not owed.
const BOARD: &str = "
with owed as (
    select id, episode_id, item, due_on,
           row_number() over (partition by episode_id order by due_on nulls last, id) as place
    from deliverables
    where series_id = $1 and deleted_at is null and status not in ('sent', 'accepted', 'waived')
), owed_counts as (
    select episode_id, count(*) as owed, count(*) filter (where due_on < $2) as overdue from owed group by episode_id
), newest as (
    select distinct on (episode_id) id, episode_id, name, cut_date, created_at, locked
    from cuts where series_id = $1 and deleted_at is null order by episode_id, created_at desc, id desc
), events as (
    select cut_id, count(*) as events, count(*) filter (where match_kind = 'unknown') as unknown
    from cut_events where cut_id in (select id from newest) group by cut_id
), parts as (
    select episode_id, count(*) as scenes from scenes where series_id = $1 and deleted_at is null group by episode_id
)
select e.id, e.number, e.title, e.status,
       n.id as cut_id, n.name as cut_name, n.cut_date, n.created_at as cut_imported_at, n.locked as cut_locked,
       coalesce(v.events, 0) as cut_events, coalesce(v.unknown, 0) as cut_unknown,
       o.id as due_id, o.item as due_item, o.due_on,
       coalesce(c.owed, 0) as owed, coalesce(c.overdue, 0) as overdue, coalesce(p.scenes, 0) as scenes
from episodes e
left join newest n on n.episode_id = e.id
left join events v on v.cut_id = n.id
left join owed o on o.episode_id = e.id and o.place = 1 and o.due_on is not null
left join owed_counts c on c.episode_id = e.id
left join parts p on p.episode_id = e.id
where e.series_id = $1 and e.deleted_at is null
order by e.number, e.id
limit 500";

/// The board of a series on a day of its own time zone.
///
/// # Errors
/// The database's.
pub async fn of_series(
    conn: &mut Conn,
    series: Uuid,
    today: NaiveDate,
) -> QueryResult<Vec<BoardRow>> {
    diesel::sql_query(BOARD)
        .bind::<SqlUuid, _>(series)
        .bind::<Date, _>(today)
        .load(conn)
        .await
}
