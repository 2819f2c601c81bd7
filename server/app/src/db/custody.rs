//! Who held a drive, and when. Rows are only ever added; one that was wrong is corrected by a further one.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::Conn;
use super::schema::custody_events;
use crate::text_enum;

text_enum! {
    /// What happened to a drive.
    pub enum CustodyEventKind {
        HandedOver = "handed_over", Moved = "moved", Dropped = "dropped", Repaired = "repaired",
    }
}

/// An event as it is entered.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCustodyEvent {
    /// Chosen by the client, so that sending it twice from a train is harmless.
    pub id: Uuid,
    pub kind: CustodyEventKind,
    /// When it happened.
    pub at: DateTime<Utc>,
    /// Who gave it away.
    #[serde(default)]
    pub from_name: String,
    /// Who has it now; needed for a hand-over.
    #[serde(default)]
    pub to_name: String,
    /// Where it is now, where that is another place.
    #[serde(default)]
    pub to_place: String,
    /// How it looked.
    #[serde(default)]
    pub condition: String,
    /// Number of the seal.
    #[serde(default)]
    pub seal: String,
    /// The name with which the receiver signs; needed for a hand-over.
    #[serde(default)]
    pub signature: String,
    /// The event that this one replaces.
    #[schema(required)]
    pub corrects: Option<Uuid>,
}

/// An event of a drive.
#[derive(Clone, Debug, PartialEq, Eq, Queryable, Selectable, Insertable, Serialize, ToSchema)]
#[diesel(table_name = custody_events)]
pub struct CustodyEvent {
    pub id: Uuid,
    #[serde(skip)]
    pub series_id: Uuid,
    pub drive_id: Uuid,
    pub kind: CustodyEventKind,
    pub at: DateTime<Utc>,
    pub from_name: String,
    pub to_name: String,
    pub to_place: String,
    pub condition: String,
    pub seal: String,
    pub signature: String,
    #[schema(required)]
    pub corrects: Option<Uuid>,
    #[serde(skip)]
    pub recorded_by: Option<Uuid>,
    pub recorded_by_name: String,
    pub created_at: DateTime<Utc>,
}

/// Adds an event; false when one of this id is there.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn insert(conn: &mut Conn, event: &CustodyEvent) -> QueryResult<bool> {
    let made = diesel::insert_into(custody_events::table)
        .values(event)
        .on_conflict(custody_events::id)
        .do_nothing()
        .execute(conn)
        .await?;
    Ok(made == 1)
}

/// The event of this id, of whatever drive.
pub async fn any(conn: &mut Conn, id: Uuid) -> QueryResult<Option<CustodyEvent>> {
    custody_events::table
        .find(id)
        .select(CustodyEvent::as_select())
        .first(conn)
        .await
        .optional()
}

/// All events of a drive, in the order of their happening.
pub async fn of_drive(
    conn: &mut Conn,
    series: Uuid,
    drive: Uuid,
) -> QueryResult<Vec<CustodyEvent>> {
    custody_events::table
        .filter(custody_events::series_id.eq(series))
        .filter(custody_events::drive_id.eq(drive))
        .order((custody_events::at, custody_events::id))
        .select(CustodyEvent::as_select())
        .load(conn)
        .await
}
