//! What hits have in common, counted; and records that are called as somebody typed.

use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::db::Conn;
use crate::db::record::like;

/// A value that files have, and how many.
#[derive(Clone, Debug, Serialize, ToSchema, QueryableByName)]
pub struct Facet {
    /// The filter that it is a value of: drive, kind, camera, on, card, person, place, rank, shot.
    #[diesel(sql_type = Text)]
    pub filter: String,
    /// As the filter takes it.
    #[diesel(sql_type = Text)]
    pub value: String,
    /// For people.
    #[diesel(sql_type = Text)]
    pub words: String,
    #[diesel(sql_type = BigInt)]
    pub files: i64,
}

/// A record whose name has the words that were typed.
#[derive(Clone, Debug, Serialize, ToSchema, QueryableByName)]
pub struct Meant {
    /// The filter that takes it: drive, person, place, card.
    #[diesel(sql_type = Text)]
    pub filter: String,
    #[diesel(sql_type = Text)]
    pub value: String,
    #[diesel(sql_type = Text)]
    pub words: String,
}

/// The commonest values of each filter among these files.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn count(conn: &mut Conn, series: Uuid, files: &[Uuid]) -> QueryResult<Vec<Facet>> {
    diesel::sql_query(
        "with hit as materialized (select id from unnest($2::uuid[]) u (id)), \
         here as materialized (select f.id, f.kind, f.card_id from files f join hit on hit.id = f.id), \
         logged as materialized (select distinct l.file_id, l.person_id, l.place_id from log_entries l \
             join hit on hit.id = l.file_id where l.series_id = $1 and l.deleted_at is null), \
         marked as materialized (select distinct s.file_id, s.rank, s.kind from shots s join hit on hit.id = s.file_id \
             where s.series_id = $1 and s.deleted_at is null), \
         carded as materialized (select k.id, k.name, k.camera, coalesce(d.day, k.shot_on) as day, count(*) as files \
             from here join cards k on k.id = here.card_id and k.deleted_at is null \
             left join shoot_days d on d.id = k.shoot_day_id group by k.id, d.day), \
         counted (filter, value, words, files) as ( \
             select 'kind', kind, kind, count(*) from here group by kind \
             union all select 'card', id::text, name, files from carded \
             union all select 'camera', camera, camera, sum(files) from carded where camera <> '' group by camera \
             union all select 'on', day::text, day::text, sum(files) from carded where day is not null group by day \
             union all select 'drive', d.id::text, d.label, count(distinct c.file_id) from hit \
                 join copies c on c.file_id = hit.id and c.state <> 'changed' \
                 join drives d on d.id = c.drive_id and d.deleted_at is null group by d.id \
             union all select 'person', p.id::text, p.credited_name, count(distinct l.file_id) from logged l \
                 join people p on p.id = l.person_id and p.deleted_at is null group by p.id \
             union all select 'place', p.id::text, p.name, count(distinct l.file_id) from logged l \
                 join places p on p.id = l.place_id and p.deleted_at is null group by p.id \
             union all select 'rank', rank::text, rank::text, count(distinct file_id) from marked \
                 where rank is not null group by rank \
             union all select 'shot', kind, kind, count(distinct file_id) from marked \
                 where kind is not null group by kind) \
         select filter, value, words, files::int8 from (select *, row_number() over (partition by filter \
             order by files desc, words) as place from counted) c where place <= 30 order by filter, files desc, words",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<SqlUuid>, _>(files)
    .load(conn)
    .await
}

/// Records that are called by one of these folded words.
pub async fn meant(conn: &mut Conn, series: Uuid, words: &[String]) -> QueryResult<Vec<Meant>> {
    let patterns: Vec<String> = words
        .iter()
        .filter(|word| word.chars().count() > 1)
        .map(|word| like(word))
        .collect();
    if patterns.is_empty() {
        return Ok(Vec::new());
    }
    diesel::sql_query(
        "select filter, value, words from ( \
             select 1 as at, 'person' as filter, id::text as value, credited_name as words from people \
                 where series_id = $1 and deleted_at is null and lower(credited_name) like any($2) \
             union all select 2, 'place', id::text, name from places \
                 where series_id = $1 and deleted_at is null and lower(name) like any($2) \
             union all select 3, 'drive', id::text, label from drives \
                 where series_id = $1 and deleted_at is null and lower(label) like any($2) \
             union all select 4, 'card', id::text, name from cards \
                 where series_id = $1 and deleted_at is null and lower(name) like any($2)) m \
         order by at, words, value limit 12",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(patterns)
    .load(conn)
    .await
}
