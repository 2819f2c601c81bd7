//! The board of a series, with what the caller may not see left out.

use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;

use super::access::{Access, Actor, enter};
use crate::app::App;
use crate::db::board::{self, BoardRow};
use crate::error::OpError;

/// The newest cut of an episode.
#[derive(Debug, Serialize, ToSchema)]
pub struct BoardCut {
    pub id: Uuid,
    pub name: String,
    /// Date in its name, where there is one.
    #[schema(required)]
    pub cut_date: Option<NaiveDate>,
    pub imported_at: DateTime<Utc>,
    pub locked: bool,
    pub events: i64,
    /// Events whose source is not known.
    pub unknown_sources: i64,
}

/// The deliverable that is due next.
#[derive(Debug, Serialize, ToSchema)]
pub struct BoardDue {
    pub id: Uuid,
    pub item: String,
    pub due_on: NaiveDate,
}

/// How an episode stands.
#[derive(Debug, Serialize, ToSchema)]
pub struct BoardEpisode {
    pub id: Uuid,
    pub number: i32,
    pub title: String,
    pub status: String,
    pub scenes: i64,
    /// None without a cut, or for who may not see cuts.
    #[schema(required)]
    pub newest_cut: Option<BoardCut>,
    /// None when nothing is owed by a date, or for who may not see deliverables.
    #[schema(required)]
    pub next_due: Option<BoardDue>,
    /// Deliverables that are not sent, accepted or waived.
    #[schema(required)]
    pub owed: Option<i64>,
    /// Those of them whose day is past.
    #[schema(required)]
    pub overdue: Option<i64>,
}

/// How each episode of a series stands.
///
/// # Errors
/// Access; the database's.
pub async fn of_series(
    app: &App,
    actor: &Actor,
    series: Uuid,
) -> Result<Vec<BoardEpisode>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewSeries).await?;
    let zone: chrono_tz::Tz = access
        .series
        .fields
        .zone
        .parse()
        .unwrap_or(chrono_tz::Tz::UTC);
    let today = app.now().with_timezone(&zone).date_naive();
    let rows = board::of_series(conn, series, today).await?;
    Ok(rows.into_iter().map(|row| view(row, &access)).collect())
}

fn view(row: BoardRow, access: &Access) -> BoardEpisode {
    let cuts = access.may(Action::ViewCuts);
    let deliveries = access.may(Action::ViewDeliveries);
    let newest_cut = match (row.cut_id, row.cut_name, row.cut_imported_at) {
        (Some(id), Some(name), Some(imported_at)) if cuts => Some(BoardCut {
            id,
            name,
            cut_date: row.cut_date,
            imported_at,
            locked: row.cut_locked.unwrap_or_default(),
            events: row.cut_events,
            unknown_sources: row.cut_unknown,
        }),
        _ => None,
    };
    let next_due = match (row.due_id, row.due_item, row.due_on) {
        (Some(id), Some(item), Some(due_on)) if deliveries => Some(BoardDue { id, item, due_on }),
        _ => None,
    };
    BoardEpisode {
        id: row.id,
        number: row.number,
        title: row.title,
        status: row.status,
        scenes: row.scenes,
        newest_cut,
        next_due,
        owed: deliveries.then_some(row.owed),
        overdue: deliveries.then_some(row.overdue),
    }
}
