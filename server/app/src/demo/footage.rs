//! The drives of the demonstration as folders: rolls named by the series' pattern, the same rolls on two drives, one
//! roll on one drive only, and what the edit brought in.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use anyhow::{Context, Result};
use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use serde::Deserialize;

use super::days::day;
use super::media::{self, Clip, FPS};

const PLAN: &str = include_str!("../../demo/footage.json");

#[derive(Deserialize)]
struct Plan {
    cards: Vec<CardPlan>,
    loose: Vec<Loose>,
}

#[derive(Deserialize)]
struct CardPlan {
    card: String,
    day: String,
    camera: String,
    words: String,
    clips: u32,
    /// Timecode of the first clip; one begins every two minutes.
    begins: NaiveTime,
    drives: Vec<String>,
}

/// A file outside of the rolls.
#[derive(Deserialize)]
struct Loose {
    drive: String,
    path: String,
    /// Of a movie or a wave.
    #[serde(default)]
    seconds: u32,
    /// Of a text.
    #[serde(default)]
    text: String,
}

/// Seconds from the beginning of a clip to that of the next.
const SPACING: u32 = 120;

/// Length of the clip with this number (from 0), in frames: 20 to 60 s, sound 6 to 12 s.
fn frames(sound: bool, number: u32) -> u32 {
    if sound {
        (6 + number * 5 % 7) * FPS
    } else {
        (20 + number * 7 % 41) * FPS
    }
}

/// Writes the drives that are not there, each into a folder with its label; returns those folders.
pub fn write(folder: &Path, today: NaiveDate) -> Result<BTreeMap<String, PathBuf>> {
    let plan: Plan = serde_json::from_str(PLAN).context("footage.json")?;
    let mut drives = BTreeMap::new();
    let mut seed = 0;
    for card in &plan.cards {
        let shot = day(today, &card.day).with_context(|| format!("the day of {}", card.card))?;
        let roll = format!(
            "{}_{}_{}_{}",
            shot.format("%Y%m%d"),
            card.card,
            card.camera,
            card.words
        );
        for number in 0..card.clips {
            seed += 1;
            let (name, bytes, at) = clip(card, shot, number, seed);
            for drive in &card.drives {
                let home = folder.join(drive);
                put(&home.join(&roll).join(&name), &bytes, at)?;
                drives.insert(drive.clone(), home);
            }
        }
    }
    for one in &plan.loose {
        seed += 1;
        let at = today.and_time(NaiveTime::MIN);
        let home = folder.join(&one.drive);
        put(&home.join(&one.path), &loose(one, today, seed), at)?;
        drives.insert(one.drive.clone(), home);
    }
    Ok(drives)
}

/// Name, content and time of a clip.
fn clip(
    card: &CardPlan,
    shot: NaiveDate,
    number: u32,
    seed: u32,
) -> (String, Vec<u8>, NaiveDateTime) {
    let sound = card.card.starts_with('S');
    let stem = format!(
        "{}_{}{:03}",
        card.card,
        if sound { 'T' } else { 'C' },
        number + 1
    );
    let begins = card
        .begins
        .signed_duration_since(NaiveTime::MIN)
        .num_seconds();
    let start = u32::try_from(begins).unwrap_or(0) + number * SPACING;
    let at = shot.and_time(NaiveTime::MIN) + chrono::TimeDelta::seconds(start.into());
    let said = Clip {
        reel: &card.card,
        name: &stem,
        start: start * FPS,
        frames: frames(sound, number),
        recorded: since_1904(at),
        day: &shot.to_string(),
        seed,
    };
    if sound {
        (format!("{stem}.WAV"), media::wave(&said), at)
    } else {
        (format!("{stem}.MOV"), media::movie(&said), at)
    }
}

fn loose(one: &Loose, today: NaiveDate, seed: u32) -> Vec<u8> {
    let name = one.path.rsplit('/').next().unwrap_or_default();
    let said = Clip {
        reel: "",
        name,
        start: 0,
        frames: one.seconds * FPS,
        recorded: since_1904(today.and_time(NaiveTime::MIN)),
        day: &today.to_string(),
        seed,
    };
    match name.rsplit('.').next() {
        Some("mov") => media::movie(&said),
        Some("wav") => media::wave(&said),
        _ => one.text.clone().into_bytes(),
    }
}

/// Seconds from the beginning of 1904, as movies count; they are unsigned 32 bits until 2040.
fn since_1904(at: NaiveDateTime) -> u32 {
    const TO_1970: i64 = 2_082_844_800;
    u32::try_from(at.and_utc().timestamp() + TO_1970).unwrap_or(u32::MAX)
}

/// Writes a file unless it is there with this content, dated as a camera would.
fn put(path: &Path, bytes: &[u8], at: NaiveDateTime) -> Result<()> {
    let failed = || format!("writing {}", path.display());
    if fs::read(path).is_ok_and(|there| there == bytes) {
        return Ok(());
    }
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).with_context(failed)?;
    }
    fs::write(path, bytes).with_context(failed)?;
    let seconds = u64::try_from(at.and_utc().timestamp()).unwrap_or(0);
    let file = fs::File::options()
        .write(true)
        .open(path)
        .with_context(failed)?;
    file.set_modified(SystemTime::UNIX_EPOCH + Duration::from_secs(seconds))
        .with_context(failed)
}
