//! What follows from a change, in the change's own transaction: reminders that are due differently now,
//! events of cuts that have another source now.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::access::Access;
use super::{matching, reminders, scans};
use crate::db::Conn;
use crate::db::card_states::Touched;
use crate::error::OpError;

/// Called after a change of many records of `kind` at once: what looks at the whole series does so once.
///
/// # Errors
/// The database's; then the changes are not kept either.
pub async fn changed_many(
    conn: &mut Conn,
    access: &Access,
    now: DateTime<Utc>,
    kind: &'static str,
    ids: &[Uuid],
) -> Result<(), OpError> {
    match (kind, ids) {
        (_, []) => Ok(()),
        ("asset" | "music" | "episode", [first, ..]) => {
            changed(conn, access, now, kind, *first).await
        }
        ("deliverable" | "licence", ids) => {
            reminders::refresh(conn, &access.series, kind, ids, now).await
        }
        ("drive", ids) => {
            scans::move_cards(conn, &access.actor, &access.series, Touched::All, now).await?;
            reminders::refresh(conn, &access.series, kind, ids, now).await
        }
        (_, ids) => {
            for id in ids {
                changed(conn, access, now, kind, *id).await?;
            }
            Ok(())
        }
    }
}

/// Called after each change of a record of `kind`.
///
/// # Errors
/// The database's; then the change is not kept either.
pub async fn changed(
    conn: &mut Conn,
    access: &Access,
    now: DateTime<Utc>,
    kind: &'static str,
    id: Uuid,
) -> Result<(), OpError> {
    match kind {
        "deliverable" | "licence" => {
            reminders::refresh(conn, &access.series, kind, &[id], now).await
        }
        // A drive that is missing, deleted or elsewhere takes the safety of its cards with it.
        "drive" => {
            scans::move_cards(conn, &access.actor, &access.series, Touched::Drive(id), now).await?;
            reminders::refresh(conn, &access.series, kind, &[id], now).await
        }
        // An episode's dates start terms; a series' zone moves every morning.
        "episode" => reminders::refresh_series(conn, &access.series, now).await,
        "series" => match crate::db::series::load(conn, id).await? {
            Some(series) => {
                // What makes a card safe is a setting.
                scans::move_cards(conn, &access.actor, &series, Touched::All, now).await?;
                reminders::refresh_series(conn, &series, now).await
            }
            None => Ok(()),
        },
        // What stands in a cut under its names.
        "asset" | "music" => matching::rematch_series(conn, access.series.id)
            .await
            .map(drop),
        _ => Ok(()),
    }
}
