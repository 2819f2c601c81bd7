//! Who held the drives of the demonstration: hand-overs in the past, entered as people enter them.

use anyhow::{Context, Result};
use chrono::{TimeDelta, TimeZone, Utc};
use serde::Deserialize;
use uuid::Uuid;

use super::book::Book;
use super::days::day;
use crate::db::custody::{CustodyEventKind, NewCustodyEvent};
use crate::ops::custody;

const EVENTS: &str = include_str!("../../demo/custody.json");

#[derive(Deserialize)]
struct Event {
    drive: String,
    day: String,
    hour: i64,
    from: String,
    to: String,
    place: String,
    condition: String,
    seal: String,
    signature: String,
}

/// Enters the hand-overs of the drives that have none.
pub async fn fill(book: &Book<'_>) -> Result<()> {
    let events: Vec<Event> = serde_json::from_str(EVENTS).context("custody.json")?;
    let mut known = Vec::new();
    for one in &events {
        let drive = book.id(&format!("drive/{}", one.drive))?;
        if !known.contains(&drive) {
            let there = custody::list(book.app, &book.actor, book.series, drive).await?;
            if !there.items.is_empty() {
                continue;
            }
            known.push(drive);
        }
        let on = day(book.today, &one.day).with_context(|| format!("the day {}", one.day))?;
        let at = Utc.from_utc_datetime(&on.and_time(chrono::NaiveTime::MIN));
        let new = NewCustodyEvent {
            id: Uuid::now_v7(),
            kind: CustodyEventKind::HandedOver,
            at: at + TimeDelta::hours(one.hour),
            from_name: one.from.clone(),
            to_name: one.to.clone(),
            to_place: one.place.clone(),
            condition: one.condition.clone(),
            seal: one.seal.clone(),
            signature: one.signature.clone(),
            corrects: None,
        };
        custody::add(book.app, &book.actor, book.series, drive, new).await?;
    }
    Ok(())
}
