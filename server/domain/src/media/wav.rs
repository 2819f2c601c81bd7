//! Broadcast Wave (EBU Tech 3285), plain RIFF WAVE, and RF64/BW64 for files above 4 GiB. Chunks into
//! plain data, and what follows from them. Samples are never read.

use std::io::{Read, Seek};

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};

use super::bytes::{Source, four_cc, le_u16, le_u32, le_u64, some_text, text};
use super::ixml::Ixml;
use super::{Audio, Container, MediaError, MediaFacts, Ratio, StartTimecode};

/// Chunks of one file, and bytes of a descriptive one, beyond which it is refused.
const CHUNKS_LIMIT: usize = 4_096;
const CHUNK_BYTES: u64 = 4 << 20;
/// What a 32-bit size says when the true one is in `ds64`, or was never filled in.
const UNSET: u64 = 0xffff_ffff;

/// A wave file's header.
#[derive(Debug, Default)]
pub(super) struct Wave {
    /// `RIFF`, `RF64` or `BW64`.
    pub form: [u8; 4],
    pub channels: u16,
    pub sample_rate: u32,
    pub bits: u16,
    block: u16,
    data_bytes: Option<u64>,
    pub bext: Option<Bext>,
    pub ixml: Option<String>,
    warnings: Vec<String>,
}

/// The broadcast extension chunk.
#[derive(Debug)]
pub(super) struct Bext {
    pub description: String,
    pub originator: String,
    pub originator_reference: String,
    pub date: String,
    pub time: String,
    pub time_reference_low: u32,
    pub time_reference_high: u32,
    pub version: u16,
    pub coding_history: String,
}

/// Reads all chunks of a wave file.
pub(super) fn read<R: Read + Seek>(source: &mut Source<R>) -> Result<Wave, MediaError> {
    let head = source.read("the RIFF header", 0, 12)?;
    let mut wave = Wave {
        form: four_cc(&head, 0).unwrap_or_default(),
        ..Wave::default()
    };
    let mut long_sizes = Vec::new();
    let mut at = 12_u64;
    for _ in 0..CHUNKS_LIMIT {
        let head = source.read_up_to(at, 8)?;
        let (Some(name), Some(short)) = (four_cc(&head, 0), le_u32(&head, 4)) else {
            return wave.finish();
        };
        let body = at.saturating_add(8);
        let mut size = u64::from(short);
        if &name == b"ds64" {
            long_sizes = source.read("the ds64 chunk", body, size.min(CHUNK_BYTES))?;
        } else if size == UNSET
            && let Some(long) = long_size(&long_sizes, name)
        {
            size = long;
        }
        let there = source.len().saturating_sub(body);
        if &name == b"data" {
            wave.set_data(size, there);
            size = size.min(there);
        } else if size > there {
            wave.warnings.push(format!(
                "The {} chunk is longer than the file; the file is cut short or damaged.",
                super::bytes::four_cc_text(name)
            ));
            return wave.finish();
        } else if matches!(&name, b"fmt " | b"bext" | b"iXML") {
            wave.read_chunk(name, &source.read("a chunk", body, size.min(CHUNK_BYTES))?);
        }
        // Chunks begin at even bytes.
        at = body.saturating_add(size).saturating_add(size & 1);
    }
    Err(MediaError::Limit("the number of chunks"))
}

/// A chunk's size in `ds64`: the data chunk's stands at 8, others in a table from 28.
fn long_size(ds64: &[u8], name: [u8; 4]) -> Option<u64> {
    if &name == b"data" {
        return le_u64(ds64, 8);
    }
    let rows = ds64.get(28..)?.chunks_exact(12);
    rows.filter(|row| row.starts_with(&name))
        .find_map(|row| le_u64(row, 4))
}

impl Wave {
    fn read_chunk(&mut self, name: [u8; 4], bytes: &[u8]) {
        match &name {
            b"fmt " => {
                self.channels = le_u16(bytes, 2).unwrap_or(0);
                self.sample_rate = le_u32(bytes, 4).unwrap_or(0);
                self.block = le_u16(bytes, 12).unwrap_or(0);
                self.bits = le_u16(bytes, 14).unwrap_or(0);
            }
            b"bext" => {
                self.bext = bext(bytes);
                if self.bext.is_none() {
                    self.warnings
                        .push("The bext chunk is too short; it was left out.".to_owned());
                }
            }
            _ => self.ixml = some_text(text(bytes)),
        }
    }

    fn set_data(&mut self, stated: u64, there: u64) {
        if self.data_bytes.is_some() {
            return;
        }
        if stated > there || (stated == 0 && there > 0) {
            self.warnings.push(
                "The recording was not finished or is cut short: its length is taken from the file's."
                    .to_owned(),
            );
        }
        let bytes = if stated == 0 {
            there
        } else {
            stated.min(there)
        };
        self.data_bytes = Some(bytes);
    }

    fn finish(self) -> Result<Self, MediaError> {
        match (self.sample_rate, self.data_bytes) {
            (0, _) => Err(MediaError::Missing("the format (fmt chunk)")),
            (_, None) => Err(MediaError::Missing("the sound (data chunk)")),
            _ => Ok(self),
        }
    }

    /// Samples of one channel.
    pub fn sample_frames(&self) -> Option<u64> {
        self.data_bytes?.checked_div(self.block.into())
    }

    /// Exact length in seconds.
    pub fn duration(&self) -> Option<Ratio> {
        Ratio::new(
            i64::try_from(self.sample_frames()?).ok()?,
            self.sample_rate.into(),
        )
    }

    /// Seconds from midnight to the first sample.
    pub fn since_midnight(&self) -> Option<Ratio> {
        let samples = self.bext.as_ref()?.time_reference();
        Ratio::new(i64::try_from(samples).ok()?, self.sample_rate.into())
    }

    /// The facts; a contradiction is a warning.
    pub fn facts(&self) -> MediaFacts {
        let mut facts = MediaFacts {
            container: Container::Wave,
            duration: self.duration(),
            recorded: self.bext.as_ref().and_then(Bext::recorded),
            warnings: self.warnings.clone(),
            ..MediaFacts::default()
        };
        let ixml = match self.ixml.as_deref().map(Ixml::read).transpose() {
            Ok(ixml) => ixml.unwrap_or_default(),
            Err(error) => {
                facts
                    .warnings
                    .push(format!("The iXML chunk was left out: {error}."));
                Ixml::default()
            }
        };
        let reference = self.bext.as_ref().map(Bext::time_reference);
        self.compare(&ixml, reference, &mut facts.warnings);
        // bext has no frame rate: a label needs the one that the recorder wrote beside it.
        let samples = reference.or(ixml.samples_since_midnight);
        if let (Some(rate), Some(samples)) = (ixml.rate(), samples)
            && let Some(at) = i64::try_from(samples)
                .ok()
                .and_then(|n| Ratio::new(n, self.sample_rate.into()))
        {
            facts.start = Some(StartTimecode::new(rate, rate.frame_at(at)));
        }
        facts.reel = ixml.tape;
        facts.audio = Some(Audio {
            channels: self.channels.into(),
            sample_rate: self.sample_rate,
            bits: Some(self.bits).filter(|bits| *bits > 0).map(u32::from),
            samples_since_midnight: samples,
            scene: ixml.scene,
            take: ixml.take,
        });
        facts
    }

    fn compare(&self, ixml: &Ixml, reference: Option<u64>, warnings: &mut Vec<String>) {
        if let (Some(bext), Some(ixml)) = (reference, ixml.samples_since_midnight)
            && bext != ixml
        {
            warnings.push(format!(
                "bext and iXML disagree on the start: {bext} and {ixml} samples since midnight; \
                 bext was taken."
            ));
        }
        if let Some(rate) = ixml.timestamp_rate.filter(|rate| *rate != self.sample_rate) {
            warnings.push(format!(
                "iXML counts time at {rate} samples a second, the file has {}.",
                self.sample_rate
            ));
        }
    }
}

/// The chunk without its coding history.
const BEXT_FIXED: usize = 602;

fn bext(bytes: &[u8]) -> Option<Bext> {
    let field = |at: usize, length: usize| {
        bytes
            .get(at..)
            .and_then(|rest| rest.get(..length))
            .map(text)
    };
    Some(Bext {
        description: field(0, 256)?,
        originator: field(256, 32)?,
        originator_reference: field(288, 32)?,
        date: field(320, 10)?,
        time: field(330, 8)?,
        time_reference_low: le_u32(bytes, 338)?,
        time_reference_high: le_u32(bytes, 342)?,
        version: le_u16(bytes, 346)?,
        coding_history: text(bytes.get(BEXT_FIXED..).unwrap_or_default()),
    })
}

impl Bext {
    /// Samples since midnight, both halves.
    pub fn time_reference(&self) -> u64 {
        u64::from(self.time_reference_high) << 32 | u64::from(self.time_reference_low)
    }

    /// Date and time of the recording. The standard allows several separators.
    fn recorded(&self) -> Option<NaiveDateTime> {
        let plain = |text: &str| -> String { text.chars().filter(char::is_ascii_digit).collect() };
        let date = NaiveDate::parse_from_str(&plain(&self.date), "%Y%m%d").ok()?;
        let time = NaiveTime::parse_from_str(&plain(&self.time), "%H%M%S").ok()?;
        Some(date.and_time(time))
    }
}
