//! What a media file says about itself in its header: own small readers of ISO BMFF/QuickTime, MXF and
//! Broadcast Wave over `Read + Seek`. The bytes are not trusted: every length is checked against the
//! file's, and depth, count and size have limits. A broken header is an error or a warning, never a panic.
#![deny(
    clippy::as_conversions,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects
)]

mod bmff;
mod bytes;
mod describe;
mod ixml;
mod mxf;
mod wav;

use std::io::{Read, Seek};

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::timecode::{Rate, Ratio};
use bytes::Source;

pub use describe::try_facts;

/// What a header says. A field is absent when the file does not tell.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct MediaFacts {
    /// The family of the file.
    pub container: Container,
    /// Exact length of the picture, or of the sound where there is no picture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub duration: Option<Ratio>,
    /// Pictures in the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frame_count: Option<u64>,
    /// Pictures per second; absent for a variable rate (then there is a warning).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Ratio>,
    /// Timecode of the first picture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<StartTimecode>,
    /// Reel (tape, card) name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reel: Option<String>,
    /// Width in pixels as stored for display.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width: Option<u32>,
    /// Height in pixels as stored for display.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<u32>,
    /// Code of the picture coding, as written in the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub codec: Option<String>,
    /// The sound.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub audio: Option<Audio>,
    /// When the recording was made, as the file says; the zone is rarely known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recorded: Option<NaiveDateTime>,
    /// What in the header is missing, contradictory or beyond what we read, as sentences.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<String>,
}

/// Family of a media file.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Container {
    /// QuickTime (brand `qt`, or none).
    #[default]
    QuickTime,
    /// ISO/IEC 14496-12 with any other brand.
    Mp4,
    /// SMPTE ST 377-1.
    Mxf,
    /// RIFF WAVE, RF64 or BW64.
    Wave,
}

/// Timecode of the first picture (SMPTE ST 12-1).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct StartTimecode {
    /// `HH:MM:SS:FF`, the last separator `;` for drop-frame.
    pub label: String,
    /// Frames since label 00:00:00:00.
    pub frame: i64,
    /// Exact frames a second that the labels count: the picture's rate in almost every file.
    pub rate: Ratio,
    /// Drop-frame counting.
    pub drop: bool,
}

/// The sound of a file.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Audio {
    /// Channels over all sound tracks.
    pub channels: u32,
    /// Samples per second.
    pub sample_rate: u32,
    /// Bits per sample, where told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bits: Option<u32>,
    /// Broadcast Wave's time reference: samples since midnight of the first sample.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub samples_since_midnight: Option<u64>,
    /// Scene, from iXML.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scene: Option<String>,
    /// Take, from iXML.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub take: Option<String>,
}

/// Why a file's header gives no facts.
#[derive(Debug, thiserror::Error)]
pub enum MediaError {
    /// The file could not be read; says nothing about its content.
    #[error("the file could not be read: {0}")]
    Io(#[from] std::io::Error),
    /// A length in the header goes past the end of the file or of the part that holds it.
    #[error("{what} at byte {at} is longer than what holds it; the file is cut short or damaged")]
    Overrun {
        /// The part of the format.
        what: &'static str,
        /// Where it begins.
        at: u64,
    },
    /// Something every file of this family has is not there.
    #[error("{0} is missing; the file is unfinished or damaged")]
    Missing(&'static str),
    /// More of something than any camera or recorder writes.
    #[error("{0} is beyond what is read of a header; the file is damaged or made to do harm")]
    Limit(&'static str),
    /// The first bytes are of no family that we read.
    #[error("this is no MOV, MP4, MXF or WAV file")]
    UnknownFormat,
}

impl Container {
    /// The family by the first 16 bytes.
    pub fn by_content(start: &[u8]) -> Option<Self> {
        let word = |at: usize| start.get(at..)?.first_chunk::<4>();
        match (word(0)?, word(4)?, word(8)) {
            (b"RIFF" | b"RF64" | b"BW64", _, Some(b"WAVE")) => Some(Self::Wave),
            (_, b"ftyp", Some(b"qt  ")) => Some(Self::QuickTime),
            (_, b"ftyp", _) => Some(Self::Mp4),
            (_, b"moov" | b"mdat" | b"wide" | b"free" | b"skip" | b"pnot", _) => {
                Some(Self::QuickTime)
            }
            _ => start.starts_with(&mxf::PARTITION).then_some(Self::Mxf),
        }
    }

    /// The family that a file's name promises.
    pub fn by_name(name: &str) -> Option<Self> {
        let (_, extension) = name.rsplit_once('.')?;
        match extension.to_ascii_lowercase().as_str() {
            "mov" => Some(Self::QuickTime),
            "mp4" | "m4v" => Some(Self::Mp4),
            "mxf" => Some(Self::Mxf),
            "wav" | "bwf" => Some(Self::Wave),
            _ => None,
        }
    }
}

/// Reads the header of a file of `len` bytes, of whatever family its content shows.
///
/// # Errors
/// [`MediaError`]; a file of another kind is [`MediaError::UnknownFormat`].
pub fn read_facts(reader: impl Read + Seek, len: u64) -> Result<MediaFacts, MediaError> {
    let mut source = Source::new(reader, len);
    match identify(&mut source)? {
        Container::Wave => Ok(wav::read(&mut source)?.facts()),
        Container::Mxf => Ok(mxf::read(&mut source)?.facts()),
        Container::QuickTime | Container::Mp4 => Ok(bmff::read(&mut source)?.facts()),
    }
}

fn identify<R: Read + Seek>(source: &mut Source<R>) -> Result<Container, MediaError> {
    let start = source.read_up_to(0, 16)?;
    match Container::by_content(&start) {
        Some(container) => Ok(container),
        None if mxf::start(source)?.is_some() => Ok(Container::Mxf),
        None => Err(MediaError::UnknownFormat),
    }
}

/// The rate that a header means: cameras also write 2997/100 for 30000/1001.
fn known_rate(num: i64, den: i64, drop: bool) -> Option<Rate> {
    let written = Ratio::new(num, den).filter(|ratio| ratio.num > 0)?;
    if let Ok(rate) = Rate::new(written.num, written.den, false) {
        return Some(rate.with_drop(drop));
    }
    let nominal = written.round_half_up();
    let meant = Rate::new(nominal.checked_mul(1000)?, 1001, false).ok()?;
    // equal to one part in 100,000
    let (a, b) = (i128::from(written.num), i128::from(written.den));
    let (c, d) = (i128::from(meant.num()), i128::from(meant.den()));
    let (left, right) = (a.checked_mul(d)?, c.checked_mul(b)?);
    let near = left
        .checked_sub(right)?
        .checked_abs()?
        .checked_mul(100_000)?
        <= right;
    near.then(|| meant.with_drop(drop))
}

impl StartTimecode {
    fn new(rate: Rate, frame: i64) -> Self {
        let frame = frame.rem_euclid(rate.frames_per_day());
        Self {
            label: rate.label(frame),
            frame,
            rate: ratio_of(rate),
            drop: rate.drop(),
        }
    }
}

fn ratio_of(rate: Rate) -> Ratio {
    Ratio {
        num: rate.num(),
        den: rate.den(),
    }
}

#[cfg(test)]
mod tests;
