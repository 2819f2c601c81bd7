//! Approvals of an episode's clearance, with what each covered.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::clearance::State;

use super::schema::approvals;
use super::{Conn, Json};

/// What an approval covered of one element.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, ToSchema)]
pub struct CoveredElement {
    pub id: String,
    pub label: String,
    pub state: State,
    /// Changes when anything changes that the approval was about.
    pub fingerprint: String,
}

/// An approval.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = approvals)]
pub struct Approval {
    pub id: Uuid,
    pub series_id: Uuid,
    pub episode_id: Uuid,
    pub cut_id: Uuid,
    pub specification_id: Uuid,
    pub approved_by: Option<Uuid>,
    pub approved_by_name: String,
    pub approved_at: DateTime<Utc>,
    pub self_approved: bool,
    pub note: String,
    pub covered: Json<Vec<CoveredElement>>,
    pub withdrawn_at: Option<DateTime<Utc>>,
    pub withdrawn_by_name: String,
}

/// Keeps an approval.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn add(conn: &mut Conn, approval: &Approval) -> QueryResult<()> {
    diesel::insert_into(approvals::table)
        .values(approval)
        .execute(conn)
        .await
        .map(drop)
}

/// Approvals of an episode, the latest first, withdrawn ones too.
pub async fn of_episode(
    conn: &mut Conn,
    episode: Uuid,
    specification: Option<Uuid>,
) -> QueryResult<Vec<Approval>> {
    let mut query = approvals::table
        .filter(approvals::episode_id.eq(episode))
        .order((approvals::approved_at.desc(), approvals::id.desc()))
        .select(Approval::as_select())
        .into_boxed();
    if let Some(specification) = specification {
        query = query.filter(approvals::specification_id.eq(specification));
    }
    query.load(conn).await
}

/// Marks an approval as withdrawn; none where there is none, or it was withdrawn before.
pub async fn withdraw(
    conn: &mut Conn,
    series: Uuid,
    id: Uuid,
    by: &str,
    now: DateTime<Utc>,
) -> QueryResult<Option<Approval>> {
    diesel::update(
        approvals::table
            .filter(approvals::id.eq(id))
            .filter(approvals::series_id.eq(series))
            .filter(approvals::withdrawn_at.is_null()),
    )
    .set((
        approvals::withdrawn_at.eq(now),
        approvals::withdrawn_by_name.eq(by),
    ))
    .returning(Approval::as_returning())
    .get_result(conn)
    .await
    .optional()
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    n: i64,
}

/// Whether this person made or changed any of these records.
pub async fn entered(conn: &mut Conn, user: Uuid, records: &[Uuid]) -> QueryResult<bool> {
    let found: Count = diesel::sql_query(
        "select count(*) as n from audit where subject_id = any($1) and actor_id = $2 \
         and action in ('created', 'changed')",
    )
    .bind::<Array<SqlUuid>, _>(records)
    .bind::<SqlUuid, _>(user)
    .get_result(conn)
    .await?;
    Ok(found.n > 0)
}
