//! Keeping the counts of what lies where short. Who writes them is told in the migration of the table.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::json;
use uuid::Uuid;

use super::outbox;
use crate::app::App;
use crate::db::{Conn, holdings};
use crate::error::OpError;

/// A scan of so many files is large: the planner's numbers are out of date after it.
const LARGE: i32 = 5_000;

/// Has the catalogue tidied after a scan of so many files.
///
/// # Errors
/// The database's.
pub async fn tidy_later(
    conn: &mut Conn,
    series: Uuid,
    files: i32,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let large = files >= LARGE;
    let payload = json!({ "series_id": series, "large": large });
    let key = format!("tidy:{series}:{large}");
    outbox::enqueue(
        conn,
        now,
        "tidy_catalogue",
        payload,
        Some(key),
        TimeDelta::zero(),
    )
    .await
}

/// Folds the rows of each count of a series into one, and counts how common its names are.
///
/// # Errors
/// The database's.
pub async fn fold(app: &App, series: Uuid) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    holdings::fold(conn, series).await?;
    Ok(holdings::count_names(conn, series).await?)
}

/// Has the planner look at the tables that scans fill.
///
/// # Errors
/// The database's.
pub async fn learn(app: &App) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    Ok(holdings::analyse(conn).await?)
}
