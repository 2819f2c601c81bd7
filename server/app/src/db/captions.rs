//! Captions of cuts, each cut's in one list; and what is known of the names of people.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use uuid::Uuid;
use waybill_domain::captions::{Caption, Nameable};
use waybill_domain::rights::release::Restriction;

use super::releases::ReleaseState;
use super::schema::{cut_captions, people, releases};
use super::{Conn, Json};

/// The captions of a cut.
#[derive(Clone, Debug, Queryable, Selectable, Insertable, Serialize)]
#[diesel(table_name = cut_captions)]
pub struct CaptionRow {
    pub cut_id: Uuid,
    pub series_id: Uuid,
    pub items: Json<Vec<Caption>>,
    pub version: i32,
    pub updated_by: String,
    pub updated_at: DateTime<Utc>,
}

/// The captions of a cut, if any were ever entered.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn load(conn: &mut Conn, cut: Uuid) -> QueryResult<Option<CaptionRow>> {
    cut_captions::table
        .find(cut)
        .select(CaptionRow::as_select())
        .first(conn)
        .await
        .optional()
}

/// Writes the captions where their version is still `row.version` (0: there are none yet); none when it is not.
pub async fn save(conn: &mut Conn, mut row: CaptionRow) -> QueryResult<Option<CaptionRow>> {
    let version = row.version;
    row.version = version.wrapping_add(1);
    if version == 0 {
        return diesel::insert_into(cut_captions::table)
            .values(row)
            .on_conflict_do_nothing()
            .returning(CaptionRow::as_returning())
            .get_result(conn)
            .await
            .optional();
    }
    diesel::update(cut_captions::table.find(row.cut_id))
        .filter(cut_captions::version.eq(version))
        .set((
            cut_captions::items.eq(row.items),
            cut_captions::version.eq(row.version),
            cut_captions::updated_by.eq(row.updated_by),
            cut_captions::updated_at.eq(row.updated_at),
        ))
        .returning(CaptionRow::as_returning())
        .get_result(conn)
        .await
        .optional()
}

/// Another cut of an episode that has captions.
#[derive(Clone, Debug, QueryableByName)]
pub struct Earlier {
    #[diesel(sql_type = SqlUuid)]
    pub cut_id: Uuid,
    #[diesel(sql_type = Text)]
    pub cut_name: String,
    #[diesel(sql_type = BigInt)]
    pub captions: i64,
}

/// The other live cut of the episode whose captions were changed last.
pub async fn earlier(conn: &mut Conn, episode: Uuid, cut: Uuid) -> QueryResult<Option<Earlier>> {
    diesel::sql_query(
        "select c.id as cut_id, c.name as cut_name, jsonb_array_length(k.items)::bigint as captions \
         from cut_captions k join cuts c on c.id = k.cut_id \
         where c.episode_id = $1 and c.id <> $2 and c.deleted_at is null and jsonb_array_length(k.items) > 0 \
         order by k.updated_at desc limit 1",
    )
    .bind::<SqlUuid, _>(episode)
    .bind::<SqlUuid, _>(cut)
    .get_result(conn)
    .await
    .optional()
}

/// What is known of a person's name: id, as credited, confirmed by whom and when, how they are recognised.
type Named = (Uuid, String, String, Option<NaiveDate>, String);

/// Everybody of a series as far as captions go, with how each is told from others; in the order of their names.
pub async fn nameables(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<(Nameable, String)>> {
    let found: Vec<Named> = people::table
        .filter(people::series_id.eq(series))
        .filter(people::deleted_at.is_null())
        .order((people::credited_name, people::id))
        .select((
            people::id,
            people::credited_name,
            people::credited_name_confirmed_by,
            people::credited_name_confirmed_on,
            people::recognised_by,
        ))
        .load(conn)
        .await?;
    let forms: Vec<(Option<Uuid>, Json<Vec<Restriction>>)> = releases::table
        .filter(releases::series_id.eq(series))
        .filter(releases::deleted_at.is_null())
        .filter(releases::person_id.is_not_null())
        .filter(releases::status.ne(ReleaseState::NotNeeded))
        .select((releases::person_id, releases::restrictions))
        .load(conn)
        .await?;
    let mut asked: HashMap<Uuid, (Vec<String>, bool)> = HashMap::new();
    for (person, restrictions) in forms {
        let Some(person) = person else { continue };
        for restriction in restrictions.0 {
            let (only_as, unnamed) = asked.entry(person).or_default();
            match restriction {
                Restriction::NamedAs { name } => only_as.push(name),
                Restriction::NoName => *unnamed = true,
                _ => {}
            }
        }
    }
    let nameable = |(id, name, by, on, recognised): Named| {
        let (only_as, unnamed) = asked.remove(&id).unwrap_or_default();
        let one = Nameable {
            id: id.to_string(),
            credited_name: name,
            confirmed_by: by,
            confirmed_on: on,
            told_apart: !recognised.trim().is_empty(),
            only_as,
            unnamed,
            uses: None,
        };
        (one, recognised)
    };
    Ok(found.into_iter().map(nameable).collect())
}
