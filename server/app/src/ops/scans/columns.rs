//! The entries of a chunk turned into columns, as the database takes them in: each checked, made plausible, folded.

use std::collections::BTreeSet;

use chrono::{DateTime, Datelike, SubsecRound, Utc};
use serde_json::Value;
use uuid::Uuid;
use waybill_domain::footage::words::fold;
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::FileEntry;
use waybill_domain::media::{Container, MediaFacts};

use crate::db::ingest::Columns;
use crate::error::OpError;

/// The columns of a chunk. A scanned folder named as its drive says nothing of its own about the files.
///
/// # Errors
/// `BadRequest` naming the line that can't be taken.
pub fn columns(
    root: &str,
    drive: &str,
    entries: &[FileEntry],
    now: DateTime<Utc>,
) -> Result<Columns, OpError> {
    let shown_root = if root.to_lowercase() == drive.to_lowercase() {
        ""
    } else {
        root
    };
    let mut all = Columns::default();
    let mut paths = BTreeSet::new();
    for (at, entry) in entries.iter().enumerate() {
        let line = at.saturating_add(1);
        let Some(xxh128) = entry.hashes.get(&HashKind::Xxh128) else {
            return Err(OpError::BadRequest(format!(
                "line {line} of the chunk has no xxh128, by which files are told apart. Scan again with it; nothing of \
                 this chunk was saved"
            )));
        };
        let size = i64::try_from(entry.size).map_err(|_too_large| {
            OpError::BadRequest(format!("line {line} of the chunk: no file is that large"))
        })?;
        let path = format!("{root}/{}", entry.path_text());
        if !paths.insert(path.clone()) {
            return Err(OpError::BadRequest(format!(
                "line {line} of the chunk: {path} is listed twice; nothing of this chunk was saved"
            )));
        }
        let name = entry.path.last().cloned().unwrap_or_default();
        let media = entry.media.as_ref();
        let reel = media
            .and_then(|media| media.reel.as_deref())
            .map(no_nul)
            .unwrap_or_default();
        all.ids.push(Uuid::now_v7());
        all.cards.push(None);
        all.stems.push(crate::db::files::stem(&name));
        let folders = entry.path.split_last().map_or(&[][..], |(_, all)| all);
        let mut place = fold(&format!("{shown_root} {}", folders.join(" ")));
        let (called, folded_reel) = (fold(&name), fold(&reel));
        if !place.contains(&folded_reel) && !called.contains(&folded_reel) {
            place = format!("{place} {folded_reel}").trim_start().to_owned();
        }
        all.places.push(place);
        all.called.push(called);
        all.kinds.push(kind(&name, media));
        all.names.push(name);
        all.sizes.push(size);
        all.xxh128.push(xxh128.clone());
        all.hashes.push(json(&entry.hashes)?);
        all.facts.push(media.map(json).transpose()?);
        all.reels.push(reel);
        let rate = media.and_then(|media| media.rate);
        let num = rate.and_then(|rate| i32::try_from(rate.num).ok());
        let den = rate.and_then(|rate| i32::try_from(rate.den).ok());
        all.rate_nums.push(num.filter(|_| den.is_some()));
        all.rate_dens.push(den.filter(|_| num.is_some()));
        let start = media.and_then(|media| media.start.as_ref());
        all.drops.push(start.map(|start| start.drop));
        all.starts.push(start.map(|start| start.frame));
        let frames = media.and_then(|media| media.frame_count);
        all.counts
            .push(frames.and_then(|frames| i64::try_from(frames).ok()));
        all.paths.push(path);
        all.modified.push(plausible(entry.modified));
        all.read
            .push(plausible(entry.read).map_or(now, |read| read.min(now)));
    }
    Ok(all)
}

/// An instant as the database keeps it, in microseconds; drives with a flat battery tell any year.
fn plausible(at: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let known = (1900..=9999).contains(&at.year());
    known.then(|| at.trunc_subsecs(6))
}

/// A file without a readable header is told by its name.
fn kind(name: &str, media: Option<&MediaFacts>) -> &'static str {
    let extension = name
        .rsplit_once('.')
        .map(|(_, end)| end.to_ascii_lowercase());
    match media {
        Some(media) if media.container == Container::Wave => "sound",
        Some(media)
            if media.width.is_none() && media.frame_count.is_none() && media.audio.is_some() =>
        {
            "sound"
        }
        Some(_) => "picture",
        None => match extension.as_deref() {
            Some("mov" | "mp4" | "m4v" | "mxf" | "mts" | "m2ts" | "avi" | "mkv") => "picture",
            Some("wav" | "bwf" | "aif" | "aiff" | "flac" | "mp3" | "m4a") => "sound",
            _ => "other",
        },
    }
}

/// A value as JSON that the database takes: without NUL, which headers may hold.
fn json<T: serde::Serialize>(value: &T) -> Result<Value, OpError> {
    let mut value = serde_json::to_value(value)
        .map_err(|error| OpError::Internal(format!("a file entry: {error}")))?;
    strip(&mut value);
    Ok(value)
}

fn strip(value: &mut Value) {
    match value {
        Value::String(text) if text.contains('\0') => *text = no_nul(text),
        Value::Array(items) => items.iter_mut().for_each(strip),
        Value::Object(fields) => fields.values_mut().for_each(strip),
        _ => {}
    }
}

/// Text without NUL, which the database can't hold.
pub fn no_nul(text: &str) -> String {
    text.replace('\0', "")
}
