//! Selects and transcripts of the demonstration.

use anyhow::{Context, Result};
use serde::Deserialize;
use serde_json::json;

use super::book::{Book, said};
use super::log::{clips, names};
use crate::db::shots::ShotKind;
use crate::ops::shots::{self, ShotInput};
use crate::ops::transcripts;

const SELECTS: &str = include_str!("../../demo/selects.json");
const SPOKEN: &str = include_str!("../../demo/spoken.json");

#[derive(Deserialize)]
struct Line {
    /// `A004/3-7 A004/9`.
    clips: String,
    kind: ShotKind,
    rank: Option<i16>,
    #[serde(default)]
    words: String,
}

#[derive(Deserialize)]
struct Spoken {
    clip: String,
    name: String,
    language: String,
    text: String,
}

/// Marks what is not marked, and brings in the transcripts that are not there.
pub async fn fill(book: &Book<'_>) -> Result<()> {
    let (app, actor, series) = (book.app, &book.actor, book.series);
    let by_name = names(book).await?;
    let lines: Vec<Line> = serde_json::from_str(SELECTS).context("selects.json")?;
    for line in lines {
        let ids = clips(&line.clips, &by_name)?;
        let there = shots::list(app, actor, series, &ids)
            .await
            .map_err(|error| said(error, &json!(line.clips)))?;
        let is_there = |id| {
            there.iter().any(|shot| {
                shot.fields.file_id == id
                    && shot.fields.kind == Some(line.kind)
                    && shot.fields.words == line.words
            })
        };
        let new: Vec<_> = ids.into_iter().filter(|id| !is_there(*id)).collect();
        if new.is_empty() {
            continue;
        }
        let input = ShotInput {
            file_ids: new,
            from: None,
            to: None,
            kind: Some(line.kind),
            rank: line.rank,
            words: line.words.clone(),
        };
        shots::create(app, actor, series, input)
            .await
            .map_err(|error| said(error, &json!(line.clips)))?;
    }
    let all: Vec<Spoken> = serde_json::from_str(SPOKEN).context("spoken.json")?;
    for one in all {
        for file in clips(&one.clip, &by_name)? {
            let there = transcripts::list(app, actor, series, file)
                .await
                .map_err(|error| said(error, &json!(one.name)))?;
            if there.iter().any(|known| known.fields.name == one.name) {
                continue;
            }
            let told = (one.name.as_str(), one.language.as_str());
            transcripts::bring(app, actor, series, file, told, one.text.as_bytes())
                .await
                .map_err(|error| said(error, &json!(one.name)))?;
        }
    }
    Ok(())
}
