//! Hand-overs of drives: added, never changed; with each, who holds the drive, where it is and when it is to be
//! checked follow.

use chrono::{DateTime, TimeDelta, Utc};
use diesel_async::AsyncConnection;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::{care, check};
use crate::app::App;
use crate::db::Conn;
use crate::db::checks;
use crate::db::custody::{self, CustodyEvent, CustodyEventKind, NewCustodyEvent};
use crate::error::{FieldError, OpError};

/// A clock of a phone may be so much ahead.
const AHEAD: TimeDelta = TimeDelta::minutes(15);

/// Who held a drive.
#[derive(Debug, Serialize, ToSchema)]
pub struct Custody {
    /// Every event, those that were corrected too, oldest first.
    pub items: Vec<CustodyEvent>,
    /// Events that no other corrects.
    pub standing: Vec<Uuid>,
    /// Sentences about places where the chain does not hold.
    pub faults: Vec<String>,
    pub holder: String,
    pub place: String,
    /// When the drive is to be checked next, by what happened and when it was last read.
    #[schema(required)]
    pub next_check: Option<waybill_domain::footage::checks::NextCheck>,
    /// The reason of that day, for a sentence.
    pub next_check_words: String,
}

/// The events of a drive.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn list(app: &App, actor: &Actor, series: Uuid, drive: Uuid) -> Result<Custody, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    whole(conn, &access.series, drive).await
}

async fn whole(
    conn: &mut Conn,
    series: &crate::db::series::Series,
    drive: Uuid,
) -> Result<Custody, OpError> {
    let facts = checks::care(conn, series.id, drive)
        .await?
        .ok_or(OpError::NotFound("the drive"))?;
    let items = custody::of_drive(conn, series.id, drive).await?;
    let chain = care::read(&items);
    let next = care::due(conn, series, drive, &facts).await?;
    Ok(Custody {
        standing: chain.standing,
        faults: chain
            .faults
            .iter()
            .map(|(_, fault)| format!("{fault}."))
            .collect(),
        holder: facts.holder,
        place: facts.place,
        next_check: next,
        next_check_words: next.map_or("", |next| next.reason.words()).to_owned(),
        items,
    })
}

/// Adds an event. The same one again changes nothing.
///
/// # Errors
/// Access; `NotFound`; `Invalid`; `Conflict` when the id belongs to another event, or the one to be corrected is
/// corrected already.
pub async fn add(
    app: &App,
    actor: &Actor,
    series: Uuid,
    drive: Uuid,
    new: NewCustodyEvent,
) -> Result<Custody, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::EditFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        crate::db::scans::find_drive(conn, series, drive)
            .await?
            .ok_or(OpError::NotFound("the drive"))?;
        let known = custody::of_drive(conn, series, drive).await?;
        let event = event(actor, series, drive, new, now);
        if let Some(there) = custody::any(conn, event.id).await? {
            return again(conn, &access.series, &there, &event).await;
        }
        checked(&event, &known, now)?;
        if !custody::insert(conn, &event).await? {
            return Err(OpError::Conflict(
                "This event was just entered by another request; open the drive again.".into(),
            ));
        }
        let subject = Subject::of(series, "drive", drive);
        audit::record(conn, actor, now, "custody", subject, NOTHING, Some(&event)).await?;
        care::after_event(conn, actor, &access.series, drive, now).await?;
        whole(conn, &access.series, drive).await
    })
    .await
}

async fn again(
    conn: &mut Conn,
    series: &crate::db::series::Series,
    there: &CustodyEvent,
    event: &CustodyEvent,
) -> Result<Custody, OpError> {
    let mut same = event.clone();
    (same.created_at, same.recorded_by) = (there.created_at, there.recorded_by);
    same.recorded_by_name.clone_from(&there.recorded_by_name);
    if same != *there {
        return Err(OpError::Conflict(
            "An event with this id was entered before, with other words. Enter it under a new id, as a correction; \
             nothing was saved."
                .into(),
        ));
    }
    whole(conn, series, there.drive_id).await
}

fn event(
    actor: &Actor,
    series: Uuid,
    drive: Uuid,
    new: NewCustodyEvent,
    now: DateTime<Utc>,
) -> CustodyEvent {
    // The database keeps microseconds; a repeated call must find the same instant.
    let micros = new.at.timestamp_micros();
    CustodyEvent {
        id: new.id,
        series_id: series,
        drive_id: drive,
        kind: new.kind,
        at: DateTime::from_timestamp_micros(micros).unwrap_or(new.at),
        from_name: new.from_name.trim().to_owned(),
        to_name: new.to_name.trim().to_owned(),
        to_place: new.to_place.trim().to_owned(),
        condition: new.condition,
        seal: new.seal,
        signature: new.signature.trim().to_owned(),
        corrects: new.corrects,
        recorded_by: Some(actor.user_id),
        recorded_by_name: actor.name.clone(),
        created_at: now,
    }
}

fn checked(
    event: &CustodyEvent,
    known: &[CustodyEvent],
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let mut faults = Vec::new();
    for (pointer, value, most) in [
        ("/from_name", &event.from_name, 200),
        ("/to_name", &event.to_name, 200),
        ("/to_place", &event.to_place, 500),
        ("/condition", &event.condition, 1000),
        ("/seal", &event.seal, 200),
        ("/signature", &event.signature, 200),
    ] {
        check::text(&mut faults, pointer, value, most);
    }
    check::day(&mut faults, "/at", Some(event.at.date_naive()));
    if event.at > now + AHEAD {
        faults.push(FieldError::new(
            "/at",
            "This is in the future; enter it once it has happened.",
        ));
    }
    match event.kind {
        CustodyEventKind::HandedOver => {
            if event.to_name.is_empty() {
                faults.push(FieldError::new("/to_name", "Say who has it now."));
            }
            if event.signature.is_empty() {
                faults.push(FieldError::new(
                    "/signature",
                    "The receiver signs with their name.",
                ));
            }
        }
        CustodyEventKind::Moved if event.to_place.is_empty() => {
            faults.push(FieldError::new("/to_place", "Say where it is now."));
        }
        CustodyEventKind::Dropped | CustodyEventKind::Repaired
            if event.condition.trim().is_empty() =>
        {
            faults.push(FieldError::new("/condition", "Say what happened to it."));
        }
        _ => {}
    }
    if let Some(corrected) = event.corrects
        && !known.iter().any(|other| other.id == corrected)
    {
        faults.push(FieldError::new(
            "/corrects",
            "There is no such event of this drive.",
        ));
    }
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    if event.corrects.is_some() && known.iter().any(|other| other.corrects == event.corrects) {
        return Err(OpError::Conflict(
            "That event is corrected already. Correct the correction instead; nothing was saved."
                .into(),
        ));
    }
    Ok(())
}
