//! The description of a track's samples (`stsd`): picture size, sound format, or how timecode counts.

use super::super::Audio;
use super::super::bytes::{FourCc, be_f64, be_u16, be_u32, four_cc, some_text, text};

/// The first description of a track.
#[derive(Debug, Default)]
pub(in super::super) struct SampleEntry {
    pub kind: FourCc,
    /// Width and height, of a picture track.
    pub size: Option<(u32, u32)>,
    /// Of a sound track.
    pub audio: Option<Audio>,
    /// Of a timecode track.
    pub timecode: Option<TimecodeEntry>,
}

/// How a timecode track counts (QuickTime File Format).
#[derive(Debug)]
pub(in super::super) struct TimecodeEntry {
    pub flags: u32,
    pub timescale: u32,
    pub frame_duration: u32,
    pub frames_per_second: u8,
    pub reel: Option<String>,
}

impl TimecodeEntry {
    pub fn is_drop(&self) -> bool {
        self.flags & 1 != 0
    }

    pub fn is_counter(&self) -> bool {
        self.flags & 8 != 0
    }
}

/// Reads an entry that begins at its own size field.
pub(super) fn read(entry: &[u8], handler: FourCc) -> SampleEntry {
    let mut read = SampleEntry {
        kind: four_cc(entry, 4).unwrap_or_default(),
        ..Default::default()
    };
    match &handler {
        b"vide" => {
            let size = be_u16(entry, 32).zip(be_u16(entry, 34));
            read.size = size.map(|(width, height)| (width.into(), height.into()));
        }
        b"soun" => read.audio = audio(entry),
        b"tmcd" => read.timecode = timecode(entry),
        _ => {}
    }
    read
}

fn audio(entry: &[u8]) -> Option<Audio> {
    if be_u16(entry, 16) == Some(2) {
        // QuickTime's second version: the old fields hold fixed values, the true ones follow.
        let rate = be_f64(entry, 40).filter(|rate| (1.0..=10_000_000.0).contains(rate))?;
        return Some(Audio {
            channels: be_u32(entry, 48)?,
            sample_rate: format!("{rate:.0}").parse().ok()?,
            bits: be_u32(entry, 56).filter(|bits| *bits > 0),
            ..Audio::default()
        });
    }
    Some(Audio {
        channels: be_u16(entry, 24)?.into(),
        sample_rate: be_u32(entry, 32)? >> 16,
        bits: be_u16(entry, 26).filter(|bits| *bits > 0).map(u32::from),
        ..Audio::default()
    })
}

fn timecode(entry: &[u8]) -> Option<TimecodeEntry> {
    Some(TimecodeEntry {
        flags: be_u32(entry, 20)?,
        timescale: be_u32(entry, 24)?,
        frame_duration: be_u32(entry, 28)?,
        frames_per_second: entry.get(32).copied()?,
        reel: reel(entry),
    })
}

/// The `name` box behind the fixed part: length, language, text.
fn reel(entry: &[u8]) -> Option<String> {
    let mut rest = entry.get(34..)?;
    while let (Some(size), Some(kind)) = (be_u32(rest, 0), four_cc(rest, 4)) {
        let size = usize::try_from(size).ok().filter(|size| *size >= 8)?;
        let (part, after) = rest.split_at_checked(size)?;
        if &kind == b"name" {
            let length = usize::from(be_u16(part, 8)?);
            let bytes = part.get(12..)?;
            return some_text(text(bytes.get(..length).unwrap_or(bytes)));
        }
        rest = after;
    }
    None
}
