//! The care of a drive: after it was read, or something happened to it, its state, its next check (R42) and its cards
//! follow, in the transaction of the fact.

use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use chrono_tz::Tz;
use uuid::Uuid;
use waybill_domain::footage::checks::{CheckReason, NextCheck, next_check};
use waybill_domain::footage::custody::{Chain, CustodyKind, Link, chain};

use super::access::Actor;
use super::audit::{self, Subject};
use super::{reminders, scans};
use crate::db::card_states::CardMoved;
use crate::db::checks::{self, DriveCare};
use crate::db::custody::{self, CustodyEvent, CustodyEventKind};
use crate::db::series::Series;
use crate::db::{Conn, card_states};
use crate::error::OpError;

/// What followed.
#[derive(Debug)]
pub struct Cared {
    pub next: Option<NextCheck>,
    pub moved: Vec<CardMoved>,
}

/// After a drive was read: what is bad on it makes it a mismatch, a good reading ends that, and a drive that was read
/// is not missing.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn after_check(
    conn: &mut Conn,
    actor: &Actor,
    series: &Series,
    drive: Uuid,
    now: DateTime<Utc>,
) -> Result<Cared, OpError> {
    let Some(before) = checks::care(conn, series.id, drive).await? else {
        return Ok(Cared {
            next: None,
            moved: scans::move_cards(conn, actor, series, card_states::Touched::Drive(drive), now)
                .await?,
        });
    };
    let mut after = before.clone();
    if before.status != "retired" {
        after.status = if before.bad { "mismatch" } else { "fine" }.to_owned();
    }
    let next = due(conn, series, drive, &before).await?;
    after.next_check_on = next.map(|next| next.on);
    keep(conn, actor, series, drive, (&before, &after), now).await?;
    let moved =
        scans::move_cards(conn, actor, series, card_states::Touched::Drive(drive), now).await?;
    Ok(Cared { next, moved })
}

/// After something happened to a drive: who holds it, where it is and when it is checked follow from the chain.
pub async fn after_event(
    conn: &mut Conn,
    actor: &Actor,
    series: &Series,
    drive: Uuid,
    now: DateTime<Utc>,
) -> Result<Cared, OpError> {
    let before = checks::care(conn, series.id, drive)
        .await?
        .ok_or(OpError::NotFound("the drive"))?;
    let events = custody::of_drive(conn, series.id, drive).await?;
    let chain = read(&events);
    let mut after = before.clone();
    if !chain.holder.is_empty() {
        after.holder = chain.holder;
    }
    if !chain.place.is_empty() {
        after.place = chain.place;
    }
    let next = due(conn, series, drive, &before).await?;
    // What a person planned stays when it is sooner.
    after.next_check_on = match (before.next_check_on, next.map(|next| next.on)) {
        (Some(planned), Some(due)) => Some(planned.min(due)),
        (planned, due) => due.or(planned),
    };
    keep(conn, actor, series, drive, (&before, &after), now).await?;
    let moved =
        scans::move_cards(conn, actor, series, card_states::Touched::Drive(drive), now).await?;
    Ok(Cared { next, moved })
}

async fn keep(
    conn: &mut Conn,
    actor: &Actor,
    series: &Series,
    drive: Uuid,
    (before, after): (&DriveCare, &DriveCare),
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let facts = |care: &DriveCare| {
        serde_json::json!({
            "status": care.status, "next_check_on": care.next_check_on, "holder": care.holder, "place": care.place,
        })
    };
    let (old, new) = (facts(before), facts(after));
    if old != new {
        checks::set_care(conn, drive, after, now).await?;
        let subject = Subject::of(series.id, "drive", drive);
        audit::record(conn, actor, now, "changed", subject, Some(&old), Some(&new)).await?;
    }
    reminders::refresh(conn, series, "drive", &[drive], now).await
}

/// When the drive is to be read next, by R42.
pub async fn due(
    conn: &mut Conn,
    series: &Series,
    drive: Uuid,
    care: &DriveCare,
) -> Result<Option<NextCheck>, OpError> {
    let events = custody::of_drive(conn, series.id, drive).await?;
    let zone: Tz = series.fields.zone.parse().unwrap_or(Tz::UTC);
    let local = |at: DateTime<Utc>| at.with_timezone(&zone).naive_local();
    let happened: Vec<(NaiveDateTime, CheckReason)> = reasons(&events)
        .into_iter()
        .map(|(at, reason)| (local(at), reason))
        .collect();
    let months = u32::try_from(series.fields.check_months)
        .unwrap_or(waybill_domain::footage::checks::USUAL_MONTHS);
    let since: NaiveDate = local(care.created_at).date();
    Ok(next_check(care.oldest.map(local), since, &happened, months))
}

/// What makes a check due, with when.
fn reasons(events: &[CustodyEvent]) -> Vec<(DateTime<Utc>, CheckReason)> {
    let chain = read(events);
    let standing = events
        .iter()
        .filter(|event| chain.standing.contains(&event.id));
    let mut all: Vec<_> = standing
        .filter_map(|event| match event.kind {
            CustodyEventKind::Dropped => Some((event.at, CheckReason::Dropped)),
            CustodyEventKind::Repaired => Some((event.at, CheckReason::Repaired)),
            CustodyEventKind::HandedOver | CustodyEventKind::Moved => None,
        })
        .collect();
    all.extend(chain.moves.iter().map(|(_, at)| (*at, CheckReason::Moved)));
    all
}

/// The chain of a drive's events.
pub fn read(events: &[CustodyEvent]) -> Chain<Uuid> {
    let link = |event: &CustodyEvent| Link {
        id: event.id,
        kind: match event.kind {
            CustodyEventKind::HandedOver => CustodyKind::HandedOver,
            CustodyEventKind::Moved => CustodyKind::Moved,
            CustodyEventKind::Dropped => CustodyKind::Dropped,
            CustodyEventKind::Repaired => CustodyKind::Repaired,
        },
        at: event.at,
        from: event.from_name.clone(),
        to: event.to_name.clone(),
        place: event.to_place.clone(),
        corrects: event.corrects,
    };
    chain(&events.iter().map(link).collect::<Vec<_>>())
}
