//! The sources of a cut's events, looked for again or said by hand.

use diesel_async::AsyncConnection;
use serde_json::json;
use uuid::Uuid;
use waybill_domain::matching::{Item, Target};
use waybill_domain::perms::Action;

use super::{Cut, described, find};
use crate::app::App;
use crate::db::cuts::{self, EventRow};
use crate::db::{Conn, matching};
use crate::error::OpError;
use crate::ops::access::{Actor, enter};
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::matching::{key_of, rematch, rematch_series};

/// Looks again in one cut because somebody asks for it.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn match_again(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<Cut, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ImportCut).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let cut = find(conn, series, id).await?;
        let changed = rematch(conn, series, id).await?;
        if changed > 0 {
            let subject = Subject::of(series, "cut", id);
            let after = json!({ "events_changed": changed });
            audit::record(conn, actor, now, "matched", subject, NOTHING, Some(&after)).await?;
        }
        described(conn, cut).await
    })
    .await
}

/// Says what an event uses, here and wherever the same source stands; none takes an earlier choice back.
///
/// # Errors
/// Access; `NotFound`; `Invalid` when the choice is not in the series; the database's.
pub async fn match_by_hand(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    position: i32,
    chosen: Option<Target>,
) -> Result<Cut, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ImportCut).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let cut = find(conn, series, id).await?;
        let rows = cuts::events(conn, id).await?;
        let Some(row) = rows.iter().find(|row| row.position == position) else {
            return Err(OpError::NotFound("the event"));
        };
        let key = key_of(row);
        match chosen {
            Some(target) => {
                check_target(conn, series, target).await?;
                matching::remember(conn, series, &key, target, actor.user_id, now).await?;
            }
            None => matching::forget(conn, series, &key).await?,
        }
        rematch(conn, series, id).await?;
        // The same source may stand in other episodes.
        rematch_series(conn, series).await?;
        let (before, after) = (matched(row), chosen.map(target_words));
        let before = json!({ "event": position, "source": key, "match": before });
        let after = json!({ "event": position, "source": key, "chosen": after });
        let subject = Subject::of(series, "cut", id);
        audit::record(
            conn,
            actor,
            now,
            "matched",
            subject,
            Some(&before),
            Some(&after),
        )
        .await?;
        described(conn, cut).await
    })
    .await
}

async fn check_target(conn: &mut Conn, series: Uuid, target: Target) -> Result<(), OpError> {
    let (pointer, found) = match target {
        Target::File(id) => ("/file_id", matching::has_file(conn, series, id).await?),
        Target::Item(item) => {
            let pointer = match item {
                Item::Asset(_) => "/asset_id",
                Item::Music(_) => "/music_id",
            };
            (pointer, matching::has_item(conn, series, item).await?)
        }
    };
    if found {
        Ok(())
    } else {
        Err(OpError::field(
            pointer,
            "There is no such record in this series (it may have been deleted).",
        ))
    }
}

fn target_words(target: Target) -> serde_json::Value {
    match target {
        Target::File(id) => json!({ "file_id": id }),
        Target::Item(Item::Asset(id)) => json!({ "asset_id": id }),
        Target::Item(Item::Music(id)) => json!({ "music_id": id }),
    }
}

fn matched(row: &EventRow) -> serde_json::Value {
    json!({
        "kind": row.match_kind, "how": row.match_how,
        "file_id": row.file_id, "asset_id": row.asset_id, "music_id": row.music_id,
    })
}
