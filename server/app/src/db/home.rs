//! Read models for Today: what is open, with its date. One query per kind of thing, never one per record.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Date, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::Conn;
use super::releases::{Release, ReleaseKind};

/// A deliverable that is not accepted or waived yet.
#[derive(QueryableByName)]
pub struct OpenDeliverable {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub episode_id: Uuid,
    #[diesel(sql_type = Integer)]
    pub number: i32,
    #[diesel(sql_type = Text)]
    pub item: String,
    #[diesel(sql_type = Text)]
    pub status: String,
    #[diesel(sql_type = Nullable<Date>)]
    pub due_on: Option<NaiveDate>,
}

/// Open deliverables due up to a day.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn deliverables(
    conn: &mut Conn,
    series: Uuid,
    until: NaiveDate,
) -> QueryResult<Vec<OpenDeliverable>> {
    diesel::sql_query(
        "select d.id, d.episode_id, e.number, d.item, d.status, d.due_on
         from deliverables d join episodes e on e.id = d.episode_id and e.deleted_at is null
         where d.series_id = $1 and d.deleted_at is null and d.status not in ('accepted', 'waived')
             and (d.due_on <= $2 or d.status = 'rejected')
         order by d.due_on, d.id limit 200",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Date, _>(until)
    .load(conn)
    .await
}

/// A release that needs a person.
#[derive(QueryableByName)]
pub struct OpenRelease {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = Text)]
    pub status: String,
    /// Somebody under 18, and the form is not signed by a guardian.
    #[diesel(sql_type = Bool)]
    pub no_guardian: bool,
    /// A place, and whoever signed had no authority to.
    #[diesel(sql_type = Bool)]
    pub no_authority: bool,
    /// Who signed, as the form says; empty where nobody wrote it down.
    #[diesel(sql_type = Text)]
    pub signed_by_name: String,
    /// How a wish to withdraw stands.
    #[diesel(sql_type = Nullable<Text>)]
    pub withdrawal: Option<String>,
}

/// Releases with a problem, withdrawn or waiting to be checked.
pub async fn releases(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<OpenRelease>> {
    diesel::sql_query(
        "select r.id, coalesce(p.credited_name, l.name, a.title, 'no subject') as name, r.status,
             r.kind = 'minor' and r.signed_by is distinct from 'guardian' as no_guardian,
             r.kind = 'location' and r.signed_by is not distinct from 'other' as no_authority,
             r.signed_by_name, r.withdrawal #>> '{}' as withdrawal
         from releases r
         left join people p on p.id = r.person_id
         left join places l on l.id = r.place_id
         left join assets a on a.id = r.asset_id
         where r.series_id = $1 and r.deleted_at is null
             and r.status in ('problem', 'withdrawn_being_decided', 'signed_not_checked')
         order by array_position(array['withdrawn_being_decided', 'problem', 'signed_not_checked'], r.status), r.id
         limit 200",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await
}

/// Live releases of minors who are filmed on that day or later, with the credited name.
pub async fn minors_from(
    conn: &mut Conn,
    series: Uuid,
    today: NaiveDate,
) -> QueryResult<Vec<(Release, String)>> {
    use super::schema::{people, releases};
    releases::table
        .inner_join(people::table.on(people::id.nullable().eq(releases::person_id)))
        .filter(releases::series_id.eq(series))
        .filter(releases::deleted_at.is_null())
        .filter(releases::kind.eq(ReleaseKind::Minor))
        .filter(
            releases::filmed_from
                .ge(today)
                .or(releases::filmed_to.ge(today)),
        )
        .order(releases::id)
        .limit(200)
        .select((Release::as_select(), people::credited_name))
        .load(conn)
        .await
}

/// A shoot day whose cards have not all come.
#[derive(QueryableByName)]
pub struct ShortDay {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Date)]
    pub day: NaiveDate,
    #[diesel(sql_type = Integer)]
    pub expected: i32,
    #[diesel(sql_type = BigInt)]
    pub came: i64,
}

/// Past shoot days with fewer cards than were expected; which cards came is told as in `card_states::arrivals`.
pub async fn short_days(
    conn: &mut Conn,
    series: Uuid,
    today: NaiveDate,
) -> QueryResult<Vec<ShortDay>> {
    diesel::sql_query(
        "select d.id, d.day, d.cards_expected as expected, count(c.id) as came
         from shoot_days d left join cards c on c.series_id = d.series_id and c.deleted_at is null
             and (c.shoot_day_id = d.id or (c.shoot_day_id is null and c.shot_on = d.day))
             and exists (select 1 from files f join copies o on o.file_id = f.id
                 where f.card_id = c.id and o.state in ('verified', 'unreadable', 'missing'))
         where d.series_id = $1 and d.deleted_at is null and d.day < $2
         group by d.id having count(c.id) < d.cards_expected
         order by d.day limit 200",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Date, _>(today)
    .load(conn)
    .await
}

/// A drive that needs a hand.
#[derive(QueryableByName)]
pub struct OpenDrive {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub label: String,
    #[diesel(sql_type = Text)]
    pub status: String,
    #[diesel(sql_type = Nullable<Date>)]
    pub next_check_on: Option<NaiveDate>,
}

/// Drives whose check is due, or that are missing or did not match.
pub async fn drives(
    conn: &mut Conn,
    series: Uuid,
    until: NaiveDate,
) -> QueryResult<Vec<OpenDrive>> {
    diesel::sql_query(
        "select id, label, status, next_check_on from drives
         where series_id = $1 and deleted_at is null and status <> 'retired'
             and (next_check_on <= $2 or status in ('mismatch', 'missing', 'check_due'))
         order by next_check_on, id limit 100",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Date, _>(until)
    .load(conn)
    .await
}

/// An episode whose cut is to be measured.
#[derive(QueryableByName)]
pub struct CutEpisode {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Integer)]
    pub number: i32,
    #[diesel(sql_type = Text)]
    pub title: String,
    #[diesel(sql_type = Bool)]
    pub has_specification: bool,
}

/// Episodes that have a cut: those that are not delivered yet, or the others.
pub async fn episodes_with_cuts(
    conn: &mut Conn,
    series: Uuid,
    delivered: bool,
) -> QueryResult<Vec<CutEpisode>> {
    diesel::sql_query(
        "select e.id, e.number, e.title,
             exists (select 1 from specifications s where s.series_id = e.series_id and s.deleted_at is null)
                 as has_specification
         from episodes e
         where e.series_id = $1 and e.deleted_at is null and (e.status = any ($2)) = $3
             and exists (select 1 from cuts c where c.episode_id = e.id and c.deleted_at is null)
         order by e.number",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(vec!["delivered", "on_air", "window_closing"])
    .bind::<Bool, _>(delivered)
    .load(conn)
    .await
}
