//! Rows of reminders, and the dates of the subjects that they are about.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::rights::coverage::Grant;
use waybill_domain::rights::limits::option_steps;
use waybill_domain::rights::term::{Event, EventDate, Holds, Starts, days_of};

use super::schema::{deliverables, drives, episodes, licences, reminders, series};
use super::series::Series;
use super::{Conn, Json};

/// A date that a subject has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dated {
    /// `due`, `ends`, `payment`, `option`, `check`.
    pub aspect: &'static str,
    pub on: NaiveDate,
}

/// A reminder to be planned.
#[derive(Insertable)]
#[diesel(table_name = reminders)]
pub struct Planned {
    pub id: Uuid,
    pub series_id: Uuid,
    pub subject_kind: &'static str,
    pub subject_id: Uuid,
    pub aspect: &'static str,
    pub due_on: NaiveDate,
    pub days_before: i32,
    pub fire_at: DateTime<Utc>,
    pub dedupe_key: String,
    pub created_at: DateTime<Utc>,
}

/// A reminder.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = reminders)]
pub struct Reminder {
    pub id: Uuid,
    pub series_id: Uuid,
    pub subject_kind: String,
    pub subject_id: Uuid,
    pub aspect: String,
    pub due_on: NaiveDate,
    pub days_before: i32,
    pub fire_at: DateTime<Utc>,
    pub fired_at: Option<DateTime<Utc>>,
    pub resolved_at: Option<DateTime<Utc>>,
    pub acknowledged_at: Option<DateTime<Utc>>,
}

/// Dates of a subject that are still open; none for what is done, deleted or replaced.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn dates(conn: &mut Conn, series: Uuid, kind: &str, id: Uuid) -> QueryResult<Vec<Dated>> {
    let mut found = dates_of(conn, series, kind, &[id]).await?;
    Ok(found.remove(&id).unwrap_or_default())
}

/// As [`dates`], of many subjects of one kind at once. Those without a date are left out.
pub async fn dates_of(
    conn: &mut Conn,
    series: Uuid,
    kind: &str,
    ids: &[Uuid],
) -> QueryResult<HashMap<Uuid, Vec<Dated>>> {
    let one = |aspect| {
        move |(id, on): (Uuid, Option<NaiveDate>)| Some((id, vec![Dated { aspect, on: on? }]))
    };
    match kind {
        "deliverable" => {
            let due: Vec<(Uuid, Option<NaiveDate>)> = deliverables::table
                .filter(deliverables::id.eq_any(ids))
                .filter(deliverables::series_id.eq(series))
                .filter(deliverables::deleted_at.is_null())
                .filter(deliverables::status.ne_all(["accepted", "waived"]))
                .select((deliverables::id, deliverables::due_on))
                .load(conn)
                .await?;
            Ok(due.into_iter().filter_map(one("due")).collect())
        }
        "licence" => {
            let of_series = licences_of(conn, series, Some(ids)).await?;
            Ok(of_series.into_iter().collect())
        }
        "drive" => {
            let checks: Vec<(Uuid, Option<NaiveDate>)> = drives::table
                .filter(drives::id.eq_any(ids))
                .filter(drives::series_id.eq(series))
                .filter(drives::deleted_at.is_null())
                .filter(drives::status.ne("retired"))
                .select((drives::id, drives::next_check_on))
                .load(conn)
                .await?;
            Ok(checks.into_iter().filter_map(one("check")).collect())
        }
        _ => Ok(HashMap::new()),
    }
}

/// Open dates of each live licence of a series, or of some of them.
pub async fn licences_of(
    conn: &mut Conn,
    series: Uuid,
    some: Option<&[Uuid]>,
) -> QueryResult<Vec<(Uuid, Vec<Dated>)>> {
    let mut query = licences::table
        .filter(licences::series_id.eq(series))
        .filter(licences::deleted_at.is_null())
        .filter(licences::status.ne("replaced"))
        .select(Terms::as_select())
        .into_boxed();
    if let Some(some) = some {
        query = query.filter(licences::id.eq_any(some));
    }
    let rows: Vec<Terms> = query.load(conn).await?;
    let starts = Starting::load(conn, series).await?;
    Ok(rows
        .into_iter()
        .map(|row| (row.id, row.dates(&starts)))
        .collect())
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = licences)]
struct Terms {
    id: Uuid,
    grants: Json<Vec<Grant>>,
    signed_on: Option<NaiveDate>,
    payment_due: Option<NaiveDate>,
    status: String,
}

impl Terms {
    fn dates(&self, starting: &Starting) -> Vec<Dated> {
        let mut found: Vec<Dated> = Vec::new();
        for grant in &self.grants.0 {
            let start = match grant.starts {
                Starts::On(day) => Some(day),
                Starts::At(Event::Signature) => self.signed_on,
                Starts::At(event) => starting.earliest(event),
            };
            // No day to measure against: an option whose notice is dated counts as settled, whatever the day.
            if let Holds::On(days) = grant.holds(start, NaiveDate::MAX)
                && days.to < NaiveDate::MAX
                && !days.is_empty()
            {
                found.push(Dated {
                    aspect: "ends",
                    on: days.to,
                });
            }
            found.extend(open_options(grant, start));
        }
        if self.status != "paid" {
            found.extend(self.payment_due.map(|on| Dated {
                aspect: "payment",
                on,
            }));
        }
        found.sort_by_key(|dated| (dated.aspect, dated.on));
        found.dedup();
        found
    }
}

/// The last days for notice of a grant's options that were not taken up (R7).
fn open_options(grant: &Grant, start: Option<NaiveDate>) -> Vec<Dated> {
    let plain = days_of(start, grant.term, grant.counting, grant.long_stop);
    let Holds::On(days) = plain else {
        return vec![];
    };
    if days.is_empty() || days.to == NaiveDate::MAX {
        return vec![];
    }
    option_steps(&grant.options, days.to, NaiveDate::MAX)
        .into_iter()
        .filter(|step| step.option.taken_up_on.is_none())
        .map(|step| Dated {
            aspect: "option",
            on: step.notice_by,
        })
        .collect()
}

/// The dates of a series' episodes that start terms. A term that starts per episode ends first at the earliest.
#[derive(Queryable, Selectable)]
#[diesel(table_name = episodes)]
struct EpisodeDates {
    first_transmission: Option<NaiveDate>,
    first_transmission_planned: Option<NaiveDate>,
    delivered: Option<NaiveDate>,
    delivery_planned: Option<NaiveDate>,
    first_use: Option<NaiveDate>,
}

struct Starting(Vec<EpisodeDates>);

impl Starting {
    async fn load(conn: &mut Conn, series: Uuid) -> QueryResult<Self> {
        episodes::table
            .filter(episodes::series_id.eq(series))
            .filter(episodes::deleted_at.is_null())
            .select(EpisodeDates::as_select())
            .load(conn)
            .await
            .map(Self)
    }

    fn earliest(&self, event: Event) -> Option<NaiveDate> {
        let date = |one: &EpisodeDates| {
            let (known, planned) = match event {
                Event::FirstTransmission => {
                    (one.first_transmission, one.first_transmission_planned)
                }
                Event::Delivery => (one.delivered, one.delivery_planned),
                Event::FirstUse => (one.first_use, None),
                Event::Signature => (None, None),
            };
            EventDate { known, planned }.date()
        };
        self.0.iter().filter_map(date).min()
    }
}

/// Subjects of each kind that has dates.
pub type Subjects = [(&'static str, Vec<Uuid>); 3];

/// Live subjects of one series.
pub async fn subjects_of(conn: &mut Conn, series: Uuid) -> QueryResult<Subjects> {
    let owed = deliverables::table
        .filter(deliverables::series_id.eq(series))
        .filter(deliverables::deleted_at.is_null())
        .select(deliverables::id)
        .load(conn)
        .await?;
    let terms = licences::table
        .filter(licences::series_id.eq(series))
        .filter(licences::deleted_at.is_null())
        .select(licences::id)
        .load(conn)
        .await?;
    let checked = drives::table
        .filter(drives::series_id.eq(series))
        .filter(drives::deleted_at.is_null())
        .select(drives::id)
        .load(conn)
        .await?;
    Ok([
        ("deliverable", owed),
        ("licence", terms),
        ("drive", checked),
    ])
}

/// Live series.
pub async fn all_series(conn: &mut Conn) -> QueryResult<Vec<Series>> {
    series::table
        .filter(series::deleted_at.is_null())
        .select(Series::as_select())
        .load(conn)
        .await
}

/// Reminders of a series fired after `since` or still to come, soonest first.
pub async fn around(
    conn: &mut Conn,
    series: Uuid,
    since: DateTime<Utc>,
) -> QueryResult<Vec<Reminder>> {
    reminders::table
        .filter(reminders::series_id.eq(series))
        .filter(reminders::resolved_at.is_null())
        .filter(
            reminders::fired_at
                .is_null()
                .or(reminders::fired_at.gt(since)),
        )
        .order((reminders::fire_at, reminders::id))
        .limit(1000)
        .select(Reminder::as_select())
        .load(conn)
        .await
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
}

/// What each subject of a series is called in a sentence. No person's name: these words go into mails.
pub async fn names(conn: &mut Conn, series: Uuid) -> QueryResult<HashMap<Uuid, String>> {
    let rows: Vec<Named> = diesel::sql_query(
        "select d.id, format('“%s” of episode %s, “%s”', d.item, e.number, e.title) as name
         from deliverables d join episodes e on e.id = d.episode_id where d.series_id = $1
         union all
         select l.id, format('the licence of “%s” from %s%s', coalesce(a.title, m.title), l.licensor,
             case l.side when 'composition' then ' (composition)' when 'recording' then ' (recording)' else '' end)
         from licences l left join assets a on a.id = l.asset_id left join music m on m.id = l.music_id
         where l.series_id = $1
         union all
         select v.id, format('the drive “%s”', v.label) from drives v where v.series_id = $1",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.id, row.name)).collect())
}

/// The subject and which of its dates, as a phrase.
pub fn about(name: &str, aspect: &str) -> String {
    match aspect {
        "ends" => format!("End of {name}"),
        "payment" => format!("Payment for {name}"),
        "option" => format!("Last day for the option of {name}"),
        "check" => format!("Check of {name}"),
        _ => name.to_owned(),
    }
}

#[derive(QueryableByName)]
struct Owner {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    owner_id: Option<Uuid>,
}

/// Who owns a subject; only deliverables have owners.
pub async fn owner(conn: &mut Conn, kind: &str, id: Uuid) -> QueryResult<Option<Uuid>> {
    if kind != "deliverable" {
        return Ok(None);
    }
    let row: Option<Owner> = diesel::sql_query(
        "select d.owner_id from deliverables d
         join memberships m on m.series_id = d.series_id and m.user_id = d.owner_id
         join users u on u.id = d.owner_id and u.disabled_at is null
         where d.id = $1",
    )
    .bind::<SqlUuid, _>(id)
    .get_result(conn)
    .await
    .optional()?;
    Ok(row.and_then(|row| row.owner_id))
}
