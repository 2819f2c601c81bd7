//! Hits taken out: as a table with every copy, and as selects in a row for an editing system.

use std::collections::HashSet;

use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::timecode::Rate;
use waybill_domain::timeline::selects::{self, Select};
use waybill_domain::wording::grouped;

use super::{Question, ids};
use crate::app::App;
use crate::db::Conn;
use crate::db::files::FileRow;
use crate::error::OpError;
use crate::ops::access::{Actor, enter};
use crate::ops::csv::cell;
use crate::ops::files::{FileItem, items, usual};

/// The most files of one table.
const ROWS: usize = 10_000;
/// The most events of one list of selects: event numbers have three digits.
const EVENTS: usize = 999;

/// The form of a list of selects.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    Edl,
    Otio,
}

/// The files that are taken out: the chosen ones, or all that fit.
async fn taken(
    conn: &mut Conn,
    series: Uuid,
    question: Question,
    chosen: Vec<Uuid>,
    most: usize,
) -> Result<Vec<Uuid>, OpError> {
    let found = if chosen.is_empty() {
        ids(conn, series, question, most.saturating_add(1)).await?
    } else {
        let mut seen = HashSet::new();
        chosen.into_iter().filter(|id| seen.insert(*id)).collect()
    };
    if found.len() > most {
        return Err(OpError::BadRequest(format!(
            "more than {} files fit; narrow the search down, or choose files, and take those out",
            grouped(most as u64)
        )));
    }
    Ok(found)
}

/// One line a copy; a file that no drive holds has one line without a drive.
///
/// # Errors
/// Access; `BadRequest` for too many; the database's.
pub async fn table(
    app: &App,
    actor: &Actor,
    series: Uuid,
    question: Question,
    chosen: Vec<Uuid>,
) -> Result<String, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    let found = taken(conn, series, question, chosen, ROWS).await?;
    let mut text = String::from(
        "name,card,shot on,kind,reel,starts at,frames,rate,bytes,rank,shots,drive,place,holder,path,copy,last read,xxh128\r\n",
    );
    for some in found.chunks(500) {
        for (item, row) in items(conn, &access.series, some).await? {
            lines(&mut text, &item, &row);
        }
    }
    Ok(text)
}

fn lines(text: &mut String, item: &FileItem, row: &FileRow) {
    let kinds: Vec<&str> = item
        .shots
        .iter()
        .filter_map(|shot| shot.kind.map(|kind| kind.word()))
        .collect();
    let rank = item.shots.iter().filter_map(|shot| shot.rank).min();
    let number = |number: Option<i64>| number.map(|n| n.to_string()).unwrap_or_default();
    let file = [
        item.name.clone(),
        item.card.clone().unwrap_or_default(),
        item.shot_on.map(|day| day.to_string()).unwrap_or_default(),
        item.kind.word().to_owned(),
        item.reel.clone(),
        item.start.clone().unwrap_or_default(),
        number(item.frame_count),
        item.rate.clone().unwrap_or_default(),
        item.size.to_string(),
        number(rank.map(i64::from)),
        kinds.join(" "),
    ];
    let hash = row.hashes.get("xxh128").and_then(|hash| hash.as_str());
    let hash = hash.unwrap_or_default().to_owned();
    let mut line = |place: [String; 6]| {
        let cells = file.iter().chain(&place).chain(std::iter::once(&hash));
        let cells: Vec<String> = cells.map(|text| cell(text)).collect();
        text.push_str(&cells.join(","));
        text.push_str("\r\n");
    };
    for copy in &item.copies {
        line([
            copy.drive.clone(),
            copy.place.clone(),
            copy.holder.clone(),
            copy.path.clone(),
            copy.state.clone(),
            copy.checked_at
                .to_rfc3339_opts(chrono::SecondsFormat::Secs, true),
        ]);
    }
    if item.copies.is_empty() {
        line(Default::default());
    }
}

/// The selects of the files one after the other: of a ranked file its ranked parts, of any other all of it.
///
/// # Errors
/// Access; `BadRequest` for too many, or when no file has frames; the database's.
pub async fn edit_list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    question: Question,
    chosen: Vec<Uuid>,
    form: Form,
) -> Result<String, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    let found = taken(conn, series, question, chosen, EVENTS).await?;
    let usual = usual(&access.series);
    let mut all = Vec::new();
    for some in found.chunks(500) {
        for (item, row) in items(conn, &access.series, some).await? {
            all.extend(of_file(&item, &row, usual));
        }
    }
    if all.is_empty() {
        return Err(OpError::BadRequest(
            "none of these files has a length in frames, so there is nothing to put in a row"
                .into(),
        ));
    }
    if all.len() > EVENTS {
        return Err(OpError::BadRequest(format!(
            "that would be {} events, and a list has at most {}; choose fewer files",
            grouped(all.len() as u64),
            grouped(EVENTS as u64)
        )));
    }
    let title = format!("{} selects", access.series.fields.title);
    Ok(match form {
        Form::Edl => selects::edl(&title, usual, &all),
        Form::Otio => format!("{:#}\n", selects::otio(&title, usual, &all)),
    })
}

fn of_file(item: &FileItem, row: &FileRow, usual: Rate) -> Vec<Select> {
    let Some(frames) = row.frame_count.filter(|frames| *frames > 0) else {
        return Vec::new();
    };
    let rate = row.clock().rate(usual);
    let first = row.start_frame.unwrap_or_default();
    let path = item.copies.first().map(|copy| copy.path.clone());
    let part = |from: i64, to: i64, words: &str| Select {
        reel: item.reel.clone(),
        clip: item.name.clone(),
        path: path.clone().unwrap_or_default(),
        picture: item.kind == crate::db::files::FileKind::Picture,
        rate,
        start: first.saturating_add(from),
        end: first.saturating_add(to),
        available: (first, frames),
        words: words.to_owned(),
    };
    let ranked: Vec<Select> = item
        .shots
        .iter()
        .filter(|shot| shot.rank.is_some())
        .map(|shot| {
            let (from, to) = shot.frames.unwrap_or((0, frames));
            part(from, to, &shot.words)
        })
        .collect();
    if ranked.is_empty() {
        vec![part(0, frames, "")]
    } else {
        ranked
    }
}
