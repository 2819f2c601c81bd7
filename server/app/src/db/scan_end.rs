//! What a complete scan tells: what is missing from the drive, and which other drive it may be.

use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::Conn;

/// Which copies a scan ($1) has seen.
macro_rules! seen {
    () => {
        "(select unnest(k.copies) as copy_id from scan_chunks k where k.scan_id = $1) s"
    };
}
pub(super) use seen;

/// What a scan has seen, counted.
#[derive(Clone, Debug, QueryableByName)]
pub struct Brought {
    /// Different contents.
    #[diesel(sql_type = BigInt)]
    pub contents: i64,
    /// The cards that they are from, in order.
    #[diesel(sql_type = Array<SqlUuid>)]
    pub cards: Vec<Uuid>,
}

/// Looks once through all that a scan has seen, for whatever asks about its cards: joined to more tables than these, the
/// planner, which knows nothing of tables that grew since it last looked, went through the copies for each card.
pub async fn brought(conn: &mut Conn, scan: Uuid) -> QueryResult<Brought> {
    diesel::sql_query(concat!(
        "with files_seen as materialized (select distinct c.file_id from ",
        seen!(),
        " join copies c on c.id = s.copy_id) \
         select count(*) as contents, \
             coalesce(array_agg(distinct f.card_id) filter (where f.card_id is not null), '{}') as cards \
         from files_seen b join files f on f.id = b.file_id",
    ))
    .bind::<SqlUuid, _>(scan)
    .get_result(conn)
    .await
}

/// A copy that a complete scan did not find.
#[derive(Clone, Debug, QueryableByName)]
pub struct Lost {
    #[diesel(sql_type = Text)]
    pub path: String,
    /// `missing` or `unreadable`.
    #[diesel(sql_type = Text)]
    pub state: String,
}

/// Copies under `root` (none: nowhere) that the scan did not see become `missing`; those at or below an unreadable
/// path become `unreadable`. Answers those whose state is different now.
///
/// `not in` is answered from a table of hashes whatever the planner believes of tables that grew since it last looked;
/// `not exists` became a loop over all that was seen, for each copy, on the first drive of a new catalogue.
pub async fn mark_lost(
    conn: &mut Conn,
    scan: Uuid,
    drive: Uuid,
    root: &str,
    unreadable: &[String],
    rest_is_missing: bool,
) -> QueryResult<Vec<Lost>> {
    diesel::sql_query(concat!(
        "update copies c set state = n.state, check_id = $1 from ( \
             select c.id, case when exists (select 1 from unnest($4::text[]) u (path) \
                 where c.path = u.path or starts_with(c.path, u.path || '/')) then 'unreadable' else 'missing' end \
                 as state \
             from copies c where c.drive_id = $2 and starts_with(c.path, $3 || '/') \
                 and c.state in ('verified', 'unreadable', 'missing') \
                 and c.id not in (select copy_id from ",
        seen!(),
        " where copy_id is not null)) n \
         where c.id = n.id and c.state <> n.state and (n.state = 'unreadable' or $5) \
         returning c.path, c.state",
    ))
    .bind::<SqlUuid, _>(scan)
    .bind::<SqlUuid, _>(drive)
    .bind::<Text, _>(root)
    .bind::<Array<Text>, _>(unreadable)
    .bind::<Bool, _>(rest_is_missing)
    .load(conn)
    .await
}

/// Empties the notes of a scan that is complete.
pub async fn forget_seen(conn: &mut Conn, scan: Uuid) -> QueryResult<()> {
    diesel::sql_query("update scan_chunks set copies = null where scan_id = $1")
        .bind::<SqlUuid, _>(scan)
        .execute(conn)
        .await
        .map(drop)
}

/// Another drive that holds what this scan saw, at the same places and with the same times.
#[derive(Clone, Debug, QueryableByName)]
pub struct Twin {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub label: String,
    #[diesel(sql_type = Text)]
    pub volume: String,
    /// Places that are equal.
    #[diesel(sql_type = BigInt)]
    pub same: i64,
}

/// The live drive that is most like the scanned one; none for a drive that is known to be another.
pub async fn twin(conn: &mut Conn, scan: Uuid, drive: Uuid) -> QueryResult<Option<Twin>> {
    diesel::sql_query(concat!(
        "select d.id, d.label, d.volume, count(*) as same from ",
        seen!(),
        " join copies c on c.id = s.copy_id \
         join copies o on o.file_id = c.file_id and o.path = c.path and o.mtime = c.mtime and o.drive_id <> $2 \
         join drives d on d.id = o.drive_id and d.deleted_at is null \
         where not (select known_separate from drives where id = $2) \
         group by d.id order by count(*) desc, d.id limit 1",
    ))
    .bind::<SqlUuid, _>(scan)
    .bind::<SqlUuid, _>(drive)
    .get_result(conn)
    .await
    .optional()
}

#[derive(QueryableByName)]
struct Name {
    #[diesel(sql_type = Text)]
    name: String,
}

/// Names of all live cards of the series.
pub async fn card_names(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<String>> {
    let names: Vec<Name> = diesel::sql_query(
        "select name from cards where series_id = $1 and deleted_at is null order by id",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await?;
    Ok(names.into_iter().map(|row| row.name).collect())
}
