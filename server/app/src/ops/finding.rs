//! Finding files: what was typed is read, looked for, forgiven a slip where nothing fits, and answered in pages.

pub mod lists;

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::logged::Logged;
use waybill_domain::footage::words;
use waybill_domain::hashes::any_canonical;
use waybill_domain::perms::Action;
use waybill_domain::timecode::Rate;

use super::access::{Actor, enter};
use super::files::{FileItem, items, usual};
use super::transcripts::shown;
use crate::app::App;
use crate::db::Conn;
use crate::db::files::{FileKind, FileRow};
use crate::db::finding::ask::{self, Ask, Clocked, Hit};
use crate::db::finding::facets::{self, Facet, Meant};
use crate::db::finding::sets;
use crate::db::series::Series;
use crate::db::shots::ShotKind;
use crate::db::transcripts;
use crate::error::OpError;

/// Counts stop here: "more than 1,000" says enough.
const COUNTED: usize = 1001;
/// Facets are counted over so many hits; then they are said to be of the first ones.
const FACETED: usize = 20_000;
/// So many typed words are looked for; the bits of a number tell them apart.
const WORDS: usize = 20;
/// So many readings of a mistyped word are taken.
const READINGS: usize = 8;
/// Lines of a file that are shown when spoken words are asked for.
const LINES: i64 = 5;
/// People who can be asked for together.
const PEOPLE: usize = 12;
/// Rates at which a label is looked for: numerator, denominator, drop-frame.
const RATES: [(i32, i32, bool); 16] = [
    (24_000, 1001, false),
    (24, 1, false),
    (25, 1, false),
    (30_000, 1001, false),
    (30_000, 1001, true),
    (30, 1, false),
    (48_000, 1001, false),
    (48, 1, false),
    (50, 1, false),
    (60_000, 1001, false),
    (60_000, 1001, true),
    (60, 1, false),
    (100, 1, false),
    (120_000, 1001, false),
    (120, 1, false),
    (240, 1, false),
];

/// What somebody asks for, as typed and chosen.
#[derive(Clone, Debug, Default)]
pub struct Question {
    pub q: Option<String>,
    pub card: Option<Uuid>,
    pub drive: Option<Uuid>,
    pub day: Option<Uuid>,
    pub on: Option<NaiveDate>,
    pub camera: Option<String>,
    pub roll: Option<String>,
    pub logged: Option<Logged>,
    /// Ids, parted by commas.
    pub person: Option<String>,
    pub place: Option<Uuid>,
    pub asset: Option<Uuid>,
    pub music: Option<Uuid>,
    pub kind: Option<FileKind>,
    pub rank: Option<i16>,
    pub shot: Option<ShotKind>,
    pub timecode: Option<String>,
    pub hash: Option<String>,
    pub spoken: Option<String>,
}

/// A typed word that stands nowhere, and the words that it was taken for.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ReadAs {
    pub typed: String,
    pub words: Vec<String>,
}

/// A page of files.
#[derive(Debug, Serialize, ToSchema)]
pub struct FilePage {
    pub items: Vec<FileItem>,
    #[schema(required)]
    pub next: Option<Uuid>,
    /// Files that fit; 1,001 means more than 1,000. On the first page only.
    #[schema(required)]
    pub total: Option<i64>,
    /// Typed words that stand nowhere, and what was looked for instead.
    pub read_as: Vec<ReadAs>,
}

/// How many of the files that fit have what in common.
#[derive(Debug, Serialize, ToSchema)]
pub struct FileFacets {
    pub facets: Vec<Facet>,
    /// Files counted.
    pub counted: i64,
    /// Whether those are all that fit.
    pub complete: bool,
    /// Records whose names have the words that were typed.
    pub meant: Vec<Meant>,
}

/// Files that fit: the newest day of shooting first, then as they came.
///
/// # Errors
/// Access; `Invalid` naming what can't be read; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    question: Question,
    after: Option<Uuid>,
    limit: Option<i64>,
) -> Result<FilePage, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    let asked = read(question)?;
    let said = asked.spoken.clone();
    let limit = usize::try_from(limit.unwrap_or(50).clamp(1, 500)).unwrap_or(50);
    let behind = match after {
        None => None,
        Some(id) => Some(ask::position(conn, series, id).await?.ok_or_else(|| {
            OpError::BadRequest("`after` is no file of this series; begin again without it".into())
        })?),
    };
    let more = limit.saturating_add(1);
    let most = if after.is_none() {
        COUNTED.max(more)
    } else {
        more
    };
    let (mut hits, read_as) = forgiving(conn, series, asked, behind, most).await?;
    let total = after
        .is_none()
        .then(|| i64::try_from(hits.len().min(COUNTED)).unwrap_or_default());
    let follows = hits.len() > limit;
    hits.truncate(limit);
    let ids: Vec<Uuid> = hits.iter().map(|hit| hit.id).collect();
    let items = items(conn, &access.series, &ids).await?;
    let items = with_words(conn, &access.series, items, &said).await?;
    Ok(FilePage {
        items,
        next: ids.last().copied().filter(|_| follows),
        total,
        read_as,
    })
}

/// The files with the lines in which the asked words were said.
async fn with_words(
    conn: &mut Conn,
    series: &Series,
    files: Vec<(FileItem, FileRow)>,
    words: &[String],
) -> Result<Vec<FileItem>, OpError> {
    if words.is_empty() {
        return Ok(files.into_iter().map(|(item, _)| item).collect());
    }
    let ids: Vec<Uuid> = files.iter().map(|(item, _)| item.id).collect();
    let lines = transcripts::said(conn, series.id, &ids, words, LINES).await?;
    let usual = usual(series);
    Ok(files
        .into_iter()
        .map(|(mut item, row)| {
            let clock = row.clock();
            item.said = lines
                .iter()
                .filter(|line| line.file_id == item.id)
                .map(|line| shown(line, &clock, usual))
                .collect();
            item
        })
        .collect())
}

/// What the files that fit have in common, counted.
///
/// # Errors
/// As [`list`].
pub async fn facets(
    app: &App,
    actor: &Actor,
    series: Uuid,
    question: Question,
) -> Result<FileFacets, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let asked = read(question)?;
    let typed: Vec<String> = asked.words.iter().flatten().cloned().collect();
    let (mut hits, _) = forgiving(conn, series, asked, None, FACETED.saturating_add(1)).await?;
    let complete = hits.len() <= FACETED;
    hits.truncate(FACETED);
    let ids: Vec<Uuid> = hits.iter().map(|hit| hit.id).collect();
    Ok(FileFacets {
        facets: facets::count(conn, series, &ids).await?,
        counted: i64::try_from(ids.len()).unwrap_or_default(),
        complete,
        meant: facets::meant(conn, series, &typed).await?,
    })
}

/// Ids of the first files that fit, for lists that are taken out.
async fn ids(
    conn: &mut Conn,
    series: Uuid,
    question: Question,
    most: usize,
) -> Result<Vec<Uuid>, OpError> {
    let (hits, _) = forgiving(conn, series, read(question)?, None, most).await?;
    Ok(hits.into_iter().map(|hit| hit.id).collect())
}

/// The hits; where there are none, of the words that were probably meant.
async fn forgiving(
    conn: &mut Conn,
    series: Uuid,
    mut asked: Ask,
    after: Option<Hit>,
    most: usize,
) -> Result<(Vec<Hit>, Vec<ReadAs>), OpError> {
    let hits = ask::hits(conn, series, &asked, after, most).await?;
    if !hits.is_empty() || asked.words.is_empty() {
        return Ok((hits, Vec::new()));
    }
    let mut read_as = Vec::new();
    for readings in &mut asked.words {
        let Some(typed) = readings.first().cloned() else {
            continue;
        };
        let known = !sets::saying(conn, series, &typed).await?.is_empty()
            || !sets::named(conn, series, &typed).await?.is_empty();
        if known {
            continue;
        }
        let words = corrected(conn, series, &typed).await?;
        if words.is_empty() {
            return Ok((hits, Vec::new()));
        }
        readings.clone_from(&words);
        read_as.push(ReadAs { typed, words });
    }
    if read_as.is_empty() {
        return Ok((hits, read_as));
    }
    let hits = ask::hits(conn, series, &asked, after, most).await?;
    Ok((hits, read_as))
}

/// What a mistyped text may have been meant for: each of its words that is not known, put right.
async fn corrected(conn: &mut Conn, series: Uuid, typed: &str) -> Result<Vec<String>, OpError> {
    let mut readings = vec![typed.to_owned()];
    for word in words::words(typed) {
        let length = i32::try_from(word.chars().count()).unwrap_or(i32::MAX);
        let slips = i32::try_from(words::forgiven(word)).unwrap_or_default();
        let range = (length.saturating_sub(slips), length.saturating_add(slips));
        let near = sets::words_like(conn, series, &words::digits(word), range).await?;
        if near.iter().any(|known| known == word) {
            continue;
        }
        let meant = words::meant(word, near.iter().map(String::as_str));
        if meant.is_empty() {
            continue;
        }
        readings = readings
            .iter()
            .flat_map(|text| meant.iter().map(|meant| text.replacen(word, meant, 1)))
            .take(READINGS)
            .collect();
    }
    readings.retain(|text| text != typed);
    Ok(readings)
}

/// What was typed and chosen, as it is asked for.
fn read(question: Question) -> Result<Ask, OpError> {
    let typed = parts(question.q.as_deref().unwrap_or_default());
    let lower = |text: Option<String>| {
        text.map(|text| text.trim().to_lowercase().replace('\0', ""))
            .filter(|text| !text.is_empty())
    };
    Ok(Ask {
        words: typed.into_iter().map(|word| vec![word]).collect(),
        card: question.card,
        drive: question.drive,
        day: question.day,
        on: question.on,
        camera: lower(question.camera),
        roll: lower(question.roll),
        logged: question.logged,
        people: people(question.person.as_deref().unwrap_or_default())?,
        place: question.place,
        asset: question.asset,
        music: question.music,
        kind: question.kind,
        rank: question.rank,
        shot: question.shot,
        timecode: question.timecode.as_deref().map(clocked).transpose()?,
        digest: question.hash.as_deref().map(digest).transpose()?,
        spoken: parts(question.spoken.as_deref().unwrap_or_default()),
    })
}

/// The typed words, folded.
fn parts(text: &str) -> Vec<String> {
    let folded = words::fold(&text.replace('\0', ""));
    let mut typed: Vec<String> = Vec::new();
    for word in folded.split(' ').filter(|word| !word.is_empty()) {
        if !typed.iter().any(|known| known == word) && typed.len() < WORDS {
            typed.push(word.to_owned());
        }
    }
    typed
}

fn people(list: &str) -> Result<Vec<Uuid>, OpError> {
    let mut people = list
        .split(',')
        .map(str::trim)
        .filter(|id| !id.is_empty())
        .map(|id| {
            id.parse().map_err(|_not_an_id| {
                OpError::BadRequest(format!("`person` holds “{id}”, which is not an id"))
            })
        })
        .collect::<Result<Vec<Uuid>, _>>()?;
    people.sort_unstable();
    people.dedup();
    if people.len() > PEOPLE {
        return Err(OpError::BadRequest(format!(
            "at most {PEOPLE} people can be asked for together"
        )));
    }
    Ok(people)
}

/// A label as frames at every rate at which it exists.
fn clocked(label: &str) -> Result<Clocked, OpError> {
    let mut at = Clocked::default();
    for (num, den, drop) in RATES {
        let rate = Rate::new(num.into(), den.into(), drop);
        if let Some(frame) = rate.ok().and_then(|rate| rate.frame(label.trim()).ok()) {
            at.nums.push(num);
            at.dens.push(den);
            at.drops.push(drop);
            at.frames.push(frame);
        }
    }
    if at.frames.is_empty() {
        return Err(OpError::BadRequest(format!(
            "“{label}” is not a timecode; write it HH:MM:SS:FF"
        )));
    }
    Ok(at)
}

fn digest(typed: &str) -> Result<String, OpError> {
    any_canonical(typed).map_err(|error| OpError::BadRequest(format!("“{typed}”: {error}")))
}
