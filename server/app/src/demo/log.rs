//! The in-shot log of the demonstration, from lines such as "clips 3 to 7 of A004 show Wren at the clubhouse".

use std::collections::{BTreeMap, BTreeSet};

use anyhow::{Context, Result, bail};
use serde::Deserialize;
use serde_json::{Value, json};
use uuid::Uuid;

use super::book::{Book, said};
use crate::db::log::LogFields;
use crate::db::log_lines::LogFilter;
use crate::ops::finding::{self, Question};
use crate::ops::log;

const LOG: &str = include_str!("../../demo/log.json");

/// A line of the log.
#[derive(Deserialize)]
struct Line {
    /// `A004/3-7 A004/9`.
    clips: String,
    /// `@person/wren`, `@place/hall`, `@asset/mural`, `@music/reel`, or nothing to clear.
    what: String,
    /// The rest of the entry, as the API takes it.
    #[serde(flatten)]
    rest: serde_json::Map<String, Value>,
}

/// Makes the entries that are not there; returns how many there are.
pub async fn fill(book: &Book<'_>) -> Result<usize> {
    let by_name = names(book).await?;
    let mut there = entries(book).await?;
    let lines: Vec<Line> = serde_json::from_str(LOG).context("log.json")?;
    for line in lines {
        let ids = clips(&line.clips, &by_name)?;
        let mut entry = Value::Object(line.rest);
        let kind = line
            .what
            .trim_start_matches('@')
            .split('/')
            .next()
            .unwrap_or_default();
        entry["kind"] = json!(kind);
        if line.what.starts_with('@') {
            entry[format!("{kind}_id")] = json!(book.id(&line.what)?);
        }
        let subject = line
            .what
            .starts_with('@')
            .then(|| book.id(&line.what))
            .transpose()?;
        let told = |id: Uuid| (id, kind.to_owned(), subject, entry["from"].as_i64());
        let new: Vec<Uuid> = ids
            .into_iter()
            .filter(|id| !there.contains(&told(*id)))
            .collect();
        if new.is_empty() {
            continue;
        }
        there.extend(new.iter().map(|id| told(*id)));
        entry["file_ids"] = json!(new);
        let input = serde_json::from_value(entry.clone()).with_context(|| entry.to_string())?;
        log::create(book.app, &book.actor, book.series, input)
            .await
            .map_err(|error| said(error, &entry))?;
    }
    Ok(there.len())
}

/// What tells entries apart: file, kind, subject, first frame.
type Told = (Uuid, String, Option<Uuid>, Option<i64>);

async fn entries(book: &Book<'_>) -> Result<BTreeSet<Told>> {
    let mut all = BTreeSet::new();
    let mut after = None;
    loop {
        let filter = LogFilter::default();
        let (lines, next) =
            log::list(book.app, &book.actor, book.series, filter, after, Some(500)).await?;
        all.extend(lines.iter().map(|line| told(&line.entry.fields)));
        after = next;
        if after.is_none() {
            return Ok(all);
        }
    }
}

fn told(fields: &LogFields) -> Told {
    let subject = fields
        .person_id
        .or(fields.place_id)
        .or(fields.asset_id)
        .or(fields.music_id);
    (
        fields.file_id,
        fields.kind.word().to_owned(),
        subject,
        fields.frame_in,
    )
}

/// Ids of all files by name without extension.
pub(super) async fn names(book: &Book<'_>) -> Result<BTreeMap<String, Uuid>> {
    let mut all = BTreeMap::new();
    let mut after = None;
    loop {
        let all_of_them = Question::default();
        let page = finding::list(
            book.app,
            &book.actor,
            book.series,
            all_of_them,
            after,
            Some(500),
        )
        .await?;
        for file in page.items {
            let stem = file.name.split('.').next().unwrap_or_default().to_owned();
            all.insert(stem, file.id);
        }
        after = page.next;
        if after.is_none() {
            return Ok(all);
        }
    }
}

/// The files that `A004/3-7 A004/9` names.
pub(super) fn clips(text: &str, by_name: &BTreeMap<String, Uuid>) -> Result<Vec<Uuid>> {
    let mut ids = Vec::new();
    for part in text.split_whitespace() {
        let (card, numbers) = part
            .split_once('/')
            .with_context(|| format!("{part}: no card"))?;
        let (first, last) = numbers.split_once('-').unwrap_or((numbers, numbers));
        let (first, last): (u32, u32) = (first.parse()?, last.parse()?);
        let letter = if card.starts_with('S') { 'T' } else { 'C' };
        for number in first..=last {
            let stem = format!("{card}_{letter}{number:03}");
            match by_name.get(&stem) {
                Some(id) => ids.push(*id),
                None => bail!("{stem} is not in the catalogue"),
            }
        }
    }
    Ok(ids)
}
