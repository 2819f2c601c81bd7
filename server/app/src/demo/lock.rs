//! Lock week of the first episode: its cut is locked, its cue sheet issued, what is cleared approved; then the
//! broadcaster's notes bring a later cut, which is locked too.

use std::collections::BTreeMap;

use anyhow::{Context, Result};
use chrono::Datelike;
use serde::Deserialize;
use serde_json::Value;
use uuid::Uuid;

use super::book::{Book, said};
use crate::db::cue_sheets::{CueSheetFields, UsageWord, VocalsWord};
use crate::ops::access::Actor;
use crate::ops::clearance::{Asked, approvals};
use crate::ops::cue_sheets::{self, CueWords};
use crate::ops::cuts::{self, Cut};

const SHEET: &str = include_str!("../../demo/cue_sheet.json");

/// Number of the cut that the sheet and the approval are made from.
const SENT: i32 = 4;
/// Number of the cut after the broadcaster's notes.
const AFTER_NOTES: i32 = 5;

/// What people say of the sheet and the clearance.
#[derive(Deserialize)]
struct Told {
    head: Value,
    /// By the key of the piece of music.
    cues: BTreeMap<String, CueSaid>,
    /// Note of the approval.
    approval: String,
}

#[derive(Deserialize)]
struct CueSaid {
    usage: UsageWord,
    vocals: VocalsWord,
    performer_visible: bool,
    #[serde(default)]
    note: String,
}

/// Who does what in lock week.
pub struct Team<'a> {
    pub post: &'a Actor,
    pub music: &'a Actor,
    pub counsel: &'a Actor,
}

/// Does what is not done yet.
pub async fn fill(book: &Book<'_>, team: &Team<'_>) -> Result<()> {
    let told: Told = serde_json::from_str(SHEET).context("cue_sheet.json")?;
    let sent = locked(book, team.post, SENT).await?;
    sheet(book, team.music, sent, &told).await?;
    approval(book, team.counsel, sent, told.approval).await?;
    locked(book, team.post, AFTER_NOTES).await?;
    Ok(())
}

/// Locks the cut of the first episode with this number; its id.
async fn locked(book: &Book<'_>, post: &Actor, number: i32) -> Result<Uuid> {
    let episode = book.id("episode/1")?;
    let all = cuts::list(book.app, post, book.series, episode).await?;
    let fits = |cut: &Cut| cut.head.cut_number == Some(number);
    let cut = all.into_iter().find(fits);
    let cut = cut.with_context(|| format!("episode 1 has no cut {number}"))?;
    if !cut.head.locked {
        let at = (book.series, cut.head.id);
        cuts::set_locked(book.app, post, at, cut.head.version, true, "").await?;
    }
    Ok(cut.head.id)
}

/// Completes the cue sheet of a cut as far as anybody knows, and issues it with what is open.
async fn sheet(book: &Book<'_>, music: &Actor, cut: Uuid, told: &Told) -> Result<()> {
    let at = (book.series, book.id("episode/1")?);
    let issued = cue_sheets::issued(book.app, music, at.0, at.1).await?;
    if !issued.is_empty() {
        return Ok(());
    }
    let mut sheet = cue_sheets::read(book.app, music, at.0, at.1, Some(cut)).await?;
    if sheet.settings.version == 0 {
        let mut head: CueSheetFields =
            serde_json::from_value(told.head.clone()).context("head of cue_sheet.json")?;
        head.year = book.today.year().to_string();
        cue_sheets::set_fields(book.app, music, at, 0, head).await?;
        sheet = cue_sheets::read(book.app, music, at.0, at.1, Some(cut)).await?;
    }
    let mut pieces = BTreeMap::new();
    for (key, words) in &told.cues {
        pieces.insert(book.id(&format!("music/{key}"))?, words);
    }
    for (line, entry) in sheet.sheet.lines.iter().zip(&sheet.entries) {
        let Some(words) = pieces.get(&line.music_id).filter(|_| entry.version == 0) else {
            continue;
        };
        let words = CueWords {
            cut_id: cut,
            music_id: line.music_id,
            record_in: line.from_frame,
            record_out: line.to_frame,
            usage: Some(words.usage),
            vocals: Some(words.vocals),
            performer_visible: Some(words.performer_visible),
            note: words.note.clone(),
        };
        cue_sheets::set_cue(book.app, music, at, 0, words)
            .await
            .map_err(|error| said(error, &told.head))?;
    }
    cue_sheets::issue(book.app, music, at, cut, true).await?;
    Ok(())
}

/// Approves what is cleared of a cut for the broadcaster.
async fn approval(book: &Book<'_>, counsel: &Actor, cut: Uuid, note: String) -> Result<()> {
    let at = (book.series, book.id("episode/1")?);
    if !(approvals::list(book.app, counsel, at, None).await?).is_empty() {
        return Ok(());
    }
    let asked = Asked {
        specification: Some(book.id("specification/lantern")?),
        cut: Some(cut),
        to_leave: false,
    };
    let input = approvals::ApprovalInput {
        note,
        seen: String::new(),
    };
    approvals::approve(book.app, counsel, at, asked, input).await?;
    Ok(())
}
