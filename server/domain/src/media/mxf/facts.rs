//! What follows from MXF metadata. The material package leads: it is what a player shows. Packages
//! further down (the file, the tape) give the reel and are compared.

use std::fmt::Write as _;

use chrono::{NaiveDate, NaiveDateTime};

use super::super::bytes::be_u16;
use super::super::{Audio, Container, MediaFacts, Ratio, StartTimecode, known_rate, ratio_of};
use super::{Metadata, Set};

/// Classes of metadata sets (byte 14 of the key, ST 377-1).
mod class {
    pub const TIMECODE: u8 = 0x14;
    pub const SOURCE_CLIP: u8 = 0x11;
    pub const SEQUENCE: u8 = 0x0f;
    pub const TAPE: u8 = 0x2e;
    pub const MATERIAL: u8 = 0x36;
    pub const SOURCE: u8 = 0x37;
    pub const MULTIPLE: u8 = 0x44;
}

/// Packages from the file to the tape are few; more is a loop.
const CHAIN_LIMIT: usize = 8;

/// A track of a package: its rate and the pieces of its sequence.
struct Line<'a> {
    rate: (i64, i64),
    /// Length in units of `rate`.
    duration: Option<i64>,
    pieces: Vec<&'a Set>,
    /// 2.1 of the data definition's label: 1 picture, 2 sound; 0 anything else.
    essence: u8,
}

impl Metadata {
    pub(super) fn material(&self) -> Option<&Set> {
        self.of_class(class::MATERIAL).next()
    }

    /// Whether the picture's length is known from this metadata alone.
    pub(super) fn has_duration(&self) -> bool {
        let Some(material) = self.material() else {
            return false;
        };
        self.lines(material)
            .iter()
            .any(|line| line.essence != 0 && line.duration.is_some())
    }

    fn lines<'a>(&'a self, package: &'a Set) -> Vec<Line<'a>> {
        let line = |track: &'a Set| {
            let sequence = *self.linked(track, 0x4803).first()?;
            let pieces = match sequence.class {
                class::SEQUENCE => self.linked(sequence, 0x1001),
                _ => vec![sequence],
            };
            Some(Line {
                rate: track.rational(0x4b01)?,
                duration: sequence.length(0x0202),
                pieces,
                essence: essence(sequence),
            })
        };
        self.linked(package, 0x4403)
            .into_iter()
            .filter_map(line)
            .collect()
    }

    /// The descriptors of the file package, a multiple one taken apart.
    fn descriptors(&self) -> Vec<&Set> {
        let direct = self
            .of_class(class::SOURCE)
            .flat_map(|source| self.linked(source, 0x4701));
        direct
            .flat_map(|set| match set.class {
                class::MULTIPLE => self.linked(set, 0x3f01),
                _ => vec![set],
            })
            .collect()
    }

    /// The facts; a contradiction is a warning.
    pub fn facts(&self) -> MediaFacts {
        let mut facts = MediaFacts {
            container: Container::Mxf,
            ..MediaFacts::default()
        };
        let Some(material) = self.material() else {
            facts
                .warnings
                .push("The file has no material package; nothing else is known.".into());
            return facts;
        };
        let lines = self.lines(material);
        let descriptors = self.descriptors();
        let picture = descriptors
            .iter()
            .find(|set| set.value(0x3203).is_some())
            .copied();
        self.length_facts(&lines, picture, &mut facts);
        if let Some(picture) = picture {
            picture_facts(picture, &mut facts);
        }
        facts.audio = audio(&descriptors);
        facts.recorded = material.value(0x4405).and_then(timestamp);
        facts.reel = self.reel(material, &lines);
        self.timecode_facts(&lines, &mut facts);
        if self.unfinished {
            facts
                .warnings
                .push("The file was not finished: its header is still open.".to_owned());
        }
        facts
    }

    fn length_facts(&self, lines: &[Line<'_>], picture: Option<&Set>, facts: &mut MediaFacts) {
        let line = |essence: u8| lines.iter().find(|line| line.essence == essence);
        let described = picture.and_then(|set| set.length(0x3002));
        let (units, rate) = match (line(1), line(2)) {
            (Some(pictures), _) => (pictures.duration.or(described), pictures.rate),
            (None, Some(sound)) => (sound.duration, sound.rate),
            (None, None) => return,
        };
        facts.duration = units.and_then(|units| {
            let seconds = i128::from(units).checked_mul(rate.1.into())?;
            Ratio::new(i64::try_from(seconds).ok()?, rate.0)
        });
        if line(1).is_some() {
            facts.frame_count = units.and_then(|units| u64::try_from(units).ok());
            facts.rate = match known_rate(rate.0, rate.1, false) {
                Some(rate) => Some(ratio_of(rate)),
                None => Ratio::new(rate.0, rate.1).filter(|rate| rate.num > 0),
            };
        }
        if units.is_none() {
            facts
                .warnings
                .push("The file does not tell its length.".to_owned());
        }
    }

    fn timecode_facts(&self, lines: &[Line<'_>], facts: &mut MediaFacts) {
        let Some((line, component)) = timecode(lines) else {
            return;
        };
        let (Some(frame), Some(base)) = (component.length(0x1501), component.u16(0x1502)) else {
            facts
                .warnings
                .push("The timecode has no start; it was left out.".to_owned());
            return;
        };
        let drop = component
            .value(0x1503)
            .and_then(<[u8]>::first)
            .is_some_and(|flag| *flag != 0);
        let Some(rate) = known_rate(line.rate.0, line.rate.1, drop) else {
            facts
                .warnings
                .push("The timecode counts at a rate that has no labels.".to_owned());
            return;
        };
        // A track may run at a multiple of what its labels count (50 pictures, labels of 25).
        let counted = match i64::from(base) {
            base if base == rate.nominal() => rate,
            base => {
                facts.warnings.push(format!(
                    "The timecode counts {base} frames a second, its track {}.",
                    rate.nominal()
                ));
                let (num, den) = if rate.den() == 1 {
                    (base, 1)
                } else {
                    (base.saturating_mul(1000), 1001)
                };
                known_rate(num, den, drop).unwrap_or(rate)
            }
        };
        if drop && !counted.drop() {
            facts.warnings.push(format!(
                "The timecode is marked drop-frame, which does not exist at {counted}."
            ));
        }
        let start = StartTimecode::new(counted, frame);
        self.compare_sources(&start, facts);
        facts.start = Some(start);
    }

    /// Another start in the file's own package is told, not chosen.
    fn compare_sources(&self, start: &StartTimecode, facts: &mut MediaFacts) {
        for source in self.of_class(class::SOURCE) {
            let is_tape = self
                .linked(source, 0x4701)
                .iter()
                .any(|set| set.class == class::TAPE);
            let lines = self.lines(source);
            let other = timecode(&lines).and_then(|(_, component)| component.length(0x1501));
            if let Some(other) = other.filter(|other| *other != start.frame && !is_tape) {
                facts.warnings.push(format!(
                    "The file's source package starts at frame {other}, the material package at {}; \
                     the latter was taken.",
                    start.frame
                ));
                return;
            }
        }
    }

    /// The tape's name at the end of the chain of packages, or else the material package's name.
    fn reel(&self, material: &Set, lines: &[Line<'_>]) -> Option<String> {
        let mut piece = source_clip(lines);
        for _ in 0..CHAIN_LIMIT {
            let Some(id) = piece.and_then(|clip| clip.value(0x1101)) else {
                break;
            };
            let package = self
                .of_class(class::SOURCE)
                .find(|set| set.value(0x4401) == Some(id));
            let Some(package) = package else { break };
            if self
                .linked(package, 0x4701)
                .iter()
                .any(|set| set.class == class::TAPE)
            {
                return package.text(0x4402).or_else(|| material.text(0x4402));
            }
            piece = source_clip(&self.lines(package));
        }
        material.text(0x4402)
    }
}

/// 1 for picture, 2 for sound, by the label of the data definition; 0 for all else.
fn essence(sequence: &Set) -> u8 {
    match sequence.value(0x0201) {
        Some([_, _, _, _, _, _, _, _, 1, 3, 2, 2, kind @ (1 | 2), ..]) => *kind,
        _ => 0,
    }
}

fn timecode<'a, 'b>(lines: &'b [Line<'a>]) -> Option<(&'b Line<'a>, &'a Set)> {
    lines.iter().find_map(|line| {
        let component = line
            .pieces
            .iter()
            .find(|piece| piece.class == class::TIMECODE)?;
        Some((line, *component))
    })
}

/// The picture's (or else the sound's) first link to a package below.
fn source_clip<'a>(lines: &[Line<'a>]) -> Option<&'a Set> {
    let clip = |essence| {
        let line = lines.iter().find(|line| line.essence == essence)?;
        line.pieces
            .iter()
            .find(|piece| piece.class == class::SOURCE_CLIP)
            .copied()
    };
    clip(1).or_else(|| clip(2))
}

fn picture_facts(picture: &Set, facts: &mut MediaFacts) {
    // Display size, else sampled, else stored: stored has lines that are never shown.
    let first = |tags: [u16; 3]| tags.into_iter().find_map(|tag| picture.u32(tag));
    // Layouts with separate fields (1) and segmented frames (4) give the height of one field.
    let fields = match picture.value(0x320c) {
        Some([1 | 4]) => 2,
        _ => 1,
    };
    facts.width = first([0x3209, 0x3205, 0x3203]);
    facts.height = first([0x3208, 0x3204, 0x3202]).and_then(|height| height.checked_mul(fields));
    facts.codec = picture.uid(0x3201).map(|label| {
        let digits = label.iter().fold(String::new(), |mut text, byte| {
            // writing to a String cannot fail
            let _ = write!(text, "{byte:02x}");
            text
        });
        format!("urn:smpte:ul:{digits}")
    });
}

fn audio(descriptors: &[&Set]) -> Option<Audio> {
    let mut all: Option<Audio> = None;
    for set in descriptors {
        let Some((num, den)) = set.rational(0x3d03) else {
            continue;
        };
        let channels = set.u32(0x3d07).unwrap_or(0);
        let rate = num
            .checked_div(den)
            .and_then(|rate| u32::try_from(rate).ok());
        let sound = all.get_or_insert_with(|| Audio {
            sample_rate: rate.unwrap_or(0),
            bits: set.u32(0x3d01).filter(|bits| *bits > 0),
            ..Audio::default()
        });
        sound.channels = sound.channels.saturating_add(channels);
    }
    all
}

/// Year, month, day, hour, minute, second, quarter milliseconds; all zero when not set.
fn timestamp(bytes: &[u8]) -> Option<NaiveDateTime> {
    let [month, day, hour, minute, second] = *bytes.get(2..)?.first_chunk::<5>()?;
    NaiveDate::from_ymd_opt(be_u16(bytes, 0)?.into(), month.into(), day.into())?.and_hms_opt(
        hour.into(),
        minute.into(),
        second.into(),
    )
}
