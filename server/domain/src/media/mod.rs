//! What a media file says about itself in its header: own small readers of ISO BMFF/QuickTime, MXF and
//! Broadcast Wave over `Read + Seek`. The bytes are not trusted: every length is checked against the
//! file's, and depth, count and size have limits. A broken header is an error or a warning, never a panic.

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What a header says. A field is absent when the file does not tell.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct MediaFacts {
    /// The family of the file.
    pub container: Container,
    /// Exact length of the picture, or of the sound where there is no picture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub duration: Option<Fraction>,
    /// Pictures in the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frame_count: Option<u64>,
    /// Pictures per second; absent for a variable rate (then there is a warning).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Fraction>,
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

/// An exact non-negative number in lowest terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
pub struct Fraction {
    /// Above the line.
    pub num: u64,
    /// Below the line, never 0.
    pub den: u64,
}

/// Timecode of the first picture (SMPTE ST 12-1).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct StartTimecode {
    /// `HH:MM:SS:FF`, the last separator `;` for drop-frame.
    pub label: String,
    /// Frames since label 00:00:00:00.
    pub frame: u64,
    /// Frames counted in a second of labels: 24 for 23.976.
    pub nominal: u32,
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

impl Fraction {
    /// `num / den` in lowest terms; `None` when `den` is 0.
    ///
    /// ```
    /// use waybill_domain::media::Fraction;
    /// assert_eq!(Fraction::new(48_048, 24_000), Some(Fraction { num: 1001, den: 500 }));
    /// ```
    pub fn new(num: u64, den: u64) -> Option<Self> {
        let (mut a, mut b) = (num, den);
        while b != 0 {
            (a, b) = (b, a.checked_rem(b)?);
        }
        Some(Self {
            num: num.checked_div(a)?,
            den: den.checked_div(a)?,
        })
        .filter(|f| f.den != 0)
    }
}
