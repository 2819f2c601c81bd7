//! Finding the source of each event of a cut: at the import, and again when the catalogue has grown.
//!
//! [`rematch_series`] is called in the transaction of whatever changes the catalogue: a change of an import or a piece of
//! music; [`rematch_scanned`] at the end of a scan.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use uuid::Uuid;
use waybill_domain::matching::{self as domain, Catalogue, Item, Match, Sought, Uses};
use waybill_domain::timecode::Rate;
use waybill_domain::timeline::{Event, EventKind, SourceRange};

use crate::db::cuts::{self, CutHead, EventRow, MatchKind};
use crate::db::matching::{Wanted, catalogue, named_in_scan};
use crate::db::{Conn, Json};
use crate::error::OpError;

/// Stores the events of a cut with their sources.
///
/// # Errors
/// The database's.
pub async fn store_events(conn: &mut Conn, cut: &CutHead, events: &[Event]) -> Result<(), OpError> {
    let mut rows: Vec<EventRow> = events.iter().map(|event| row(cut, event)).collect();
    let catalogue = catalogue(conn, cut.series_id, &wanted(&rows)).await?;
    for row in &mut rows {
        let found = find_source(&catalogue, row);
        set(row, found);
    }
    Ok(cuts::insert_events(conn, &rows).await?)
}

/// Looks for the sources of a cut's events again; returns how many changed.
///
/// # Errors
/// The database's.
pub async fn rematch(conn: &mut Conn, series: Uuid, cut: Uuid) -> Result<usize, OpError> {
    let mut rows = cuts::events(conn, cut).await?;
    let catalogue = catalogue(conn, series, &wanted(&rows)).await?;
    rows.retain_mut(|row| {
        let found = find_source(&catalogue, row);
        set(row, found)
    });
    cuts::set_matches(conn, cut, &rows).await?;
    Ok(rows.len())
}

/// Looks again in the latest cut of each episode.
///
/// # Errors
/// The database's.
pub async fn rematch_series(conn: &mut Conn, series: Uuid) -> Result<usize, OpError> {
    let mut changed = 0;
    for cut in cuts::current_of_series(conn, series).await? {
        changed += rematch(conn, series, cut).await?;
    }
    Ok(changed)
}

/// Looks again in the latest cut of each episode that names what a scan saw: all of it, or only the contents that came
/// `since` this instant.
///
/// # Errors
/// The database's.
pub async fn rematch_scanned(
    conn: &mut Conn,
    series: Uuid,
    scan: Uuid,
    since: Option<DateTime<Utc>>,
) -> Result<usize, OpError> {
    let mut named = Vec::new();
    for cut in cuts::current_of_series(conn, series).await? {
        named.push((cut, wanted(&cuts::events(conn, cut).await?).names()));
    }
    let all: BTreeSet<&String> = named.iter().flat_map(|(_, names)| names).collect();
    if all.is_empty() {
        return Ok(0);
    }
    let found = named_in_scan(conn, scan, since, &all).await?;
    let mut changed = 0;
    for (cut, names) in &named {
        if names.iter().any(|name| found.contains(name)) {
            changed += rematch(conn, series, *cut).await?;
        }
    }
    Ok(changed)
}

/// What an event is remembered under; one that names nothing can only be met in its own cut.
pub fn key_of(row: &EventRow) -> String {
    domain::key(&sought(row))
        .unwrap_or_else(|| format!("cut {} event {}", row.cut_id, row.position))
}

fn find_source(catalogue: &Catalogue, row: &EventRow) -> Match {
    let sought = sought(row);
    match catalogue.remembered(&key_of(row)) {
        Some(chosen) if domain::key(&sought).is_none() => catalogue.chosen(chosen, &sought),
        _ => catalogue.find(&sought),
    }
}

fn wanted(rows: &[EventRow]) -> Wanted {
    let mut wanted = Wanted::default();
    for row in rows {
        wanted.add(&row.reel, [&row.clip, &row.source_name], Some(key_of(row)));
    }
    wanted
}

/// What a stored event says of its source.
pub fn sought(row: &EventRow) -> Sought {
    let source = row.source_in.zip(row.source_out).zip(row.rate.parse().ok());
    Sought {
        kind: kind_of(&row.kind),
        enabled: row.enabled,
        picture: row.picture,
        reel: row.reel.clone(),
        clip: row.clip.clone(),
        source_name: row.source_name.clone(),
        source: source.map(|((start, end), rate): (_, Rate)| SourceRange { start, end, rate }),
    }
}

/// A word that nobody knows any more is a source that somebody must look at, never black.
fn kind_of(word: &str) -> EventKind {
    serde_json::from_value(word.into()).unwrap_or(EventKind::Other)
}

fn row(cut: &CutHead, event: &Event) -> EventRow {
    let kind = serde_json::to_value(event.kind).ok();
    EventRow {
        cut_id: cut.id,
        series_id: cut.series_id,
        position: i32::try_from(event.position).unwrap_or(i32::MAX),
        origin: clean(&event.origin),
        event: clean(&event.event),
        track: clean(&event.track),
        picture: event.picture,
        sound: event.sound,
        enabled: event.enabled,
        kind: kind
            .and_then(|kind| kind.as_str().map(str::to_owned))
            .unwrap_or_default(),
        reel: clean(&event.reel),
        clip: clean(&event.clip),
        source_name: clean(&event.source_name),
        rate: event
            .source
            .map_or_else(|| cut.rate.clone(), |source| source.rate.to_string()),
        record_in: event.record_in,
        record_out: event.record_out,
        source_in: event.source.map(|source| source.start),
        source_out: event.source.map(|source| source.end),
        speed: event.speed.clone(),
        comments: Json(
            event
                .comments
                .iter()
                .map(|comment| clean(comment))
                .collect(),
        ),
        match_kind: MatchKind::Unknown,
        match_how: String::new(),
        file_id: None,
        asset_id: None,
        music_id: None,
        file_in: None,
        file_out: None,
    }
}

/// Writes a match into a row; whether that changed it.
fn set(row: &mut EventRow, found: Match) -> bool {
    let was = (
        row.match_kind,
        row.match_how.clone(),
        row.file_id,
        row.asset_id,
        row.music_id,
    );
    let were = (row.file_in, row.file_out);
    (row.file_id, row.asset_id, row.music_id) = (None, None, None);
    row.match_kind = match found.uses {
        Uses::Nothing => MatchKind::Black,
        Uses::Unknown => MatchKind::Unknown,
        Uses::File(id) => {
            row.file_id = Some(id);
            MatchKind::File
        }
        Uses::Item(item, file) => {
            row.file_id = file;
            match item {
                Item::Asset(id) => {
                    row.asset_id = Some(id);
                    MatchKind::Asset
                }
                Item::Music(id) => {
                    row.music_id = Some(id);
                    MatchKind::Music
                }
            }
        }
    };
    row.match_how = clean(&found.how);
    (row.file_in, row.file_out) = found.frames.unzip();
    let is = (
        row.match_kind,
        row.match_how.clone(),
        row.file_id,
        row.asset_id,
        row.music_id,
    );
    was != is || were != (row.file_in, row.file_out)
}

/// Text of a file as the database takes it: without the one character that it can't keep.
pub fn clean(text: &str) -> String {
    text.replace('\0', "\u{fffd}")
}
