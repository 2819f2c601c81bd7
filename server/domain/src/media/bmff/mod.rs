//! MOV and MP4: reads the boxes of a movie (ISO/IEC 14496-12, QuickTime File Format) into plain data.
//! What follows from them is in `facts`. Media data is never read, but for the one timecode sample.

mod facts;
mod sample_entry;

use std::io::{Read, Seek};

use super::MediaError;
use super::bytes::{FourCc, Source, be_i32, be_i64, be_u32, be_u64, four_cc};
pub(super) use sample_entry::{SampleEntry, TimecodeEntry};

/// Boxes in one box, and tracks in one movie, beyond which a file is refused.
const BOXES_LIMIT: usize = 4_096;
/// Bytes of a box that holds one small record.
const RECORD_LIMIT: u64 = 1 << 20;

/// A movie's header.
#[derive(Debug, Default)]
pub(super) struct Movie {
    pub brand: Option<FourCc>,
    pub header: MovieHeader,
    pub tracks: Vec<Track>,
    /// Samples stand in fragments (`moof`), whose tables are not read.
    pub fragmented: bool,
    /// Duration of all fragments in the movie's timescale, where `mehd` tells.
    pub fragments_duration: Option<u64>,
}

/// `mvhd`.
#[derive(Debug, Default)]
pub(super) struct MovieHeader {
    pub version: u8,
    pub timescale: u32,
    pub duration: Option<u64>,
    /// Seconds since 1904; 0 when not set.
    pub created: u64,
}

/// A track; a part that is missing stays at its default.
#[derive(Debug, Default)]
pub(super) struct Track {
    pub id: u32,
    /// In the movie's timescale.
    pub duration: Option<u64>,
    pub width: u32,
    pub height: u32,
    pub edits: Vec<Edit>,
    pub references: Vec<(FourCc, Vec<u32>)>,
    pub timescale: u32,
    pub media_duration: Option<u64>,
    pub handler: FourCc,
    pub entry: SampleEntry,
    /// Pairs of count and duration of samples.
    pub times: Vec<(u32, u32)>,
    /// Composition offset of the first sample, in the media's timescale.
    pub first_offset: i64,
    /// Where in the file the first sample stands.
    pub first_chunk: Option<u64>,
    /// The first frame number, of a timecode track.
    pub first_frame: Option<i32>,
}

/// One line of an edit list.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edit {
    /// In the movie's timescale.
    pub duration: u64,
    /// In the media's timescale; -1 is an empty edit.
    pub media_time: i64,
    /// 16.16.
    pub rate: i32,
}

#[derive(Clone, Copy)]
struct Span {
    kind: FourCc,
    /// First byte after the box's head.
    start: u64,
    end: u64,
}

/// Reads the header of a MOV or MP4 file.
pub(super) fn read<R: Read + Seek>(source: &mut Source<R>) -> Result<Movie, MediaError> {
    let mut movie = Movie::default();
    let mut found = false;
    let end = source.len();
    for span in boxes(source, 0, end)? {
        match &span.kind {
            b"ftyp" => movie.brand = four_cc(&record(source, span)?, 0),
            b"moov" if !found => {
                found = true;
                read_movie(source, span, &mut movie)?;
            }
            b"moof" => movie.fragmented = true,
            _ => {}
        }
    }
    if found {
        Ok(movie)
    } else {
        Err(MediaError::Missing("the movie header (moov)"))
    }
}

/// The boxes between two bytes. The last one may say that it reaches to the end of the file.
fn boxes<R: Read + Seek>(
    source: &mut Source<R>,
    start: u64,
    end: u64,
) -> Result<Vec<Span>, MediaError> {
    let mut spans = Vec::new();
    let mut at = start;
    // A QuickTime list may end with four zero bytes instead of a box.
    while end.saturating_sub(at) >= 8 {
        let overrun = MediaError::Overrun { what: "a box", at };
        let head = source.read_up_to(at, 16)?;
        let (Some(size), Some(kind)) = (be_u32(&head, 0), four_cc(&head, 4)) else {
            return Err(overrun);
        };
        let (head_size, size) = match size {
            0 => (8, end.saturating_sub(at)),
            1 => (16, be_u64(&head, 8).unwrap_or(0)),
            _ => (8, u64::from(size)),
        };
        let box_end = at
            .checked_add(size)
            .filter(|box_end| size >= head_size && *box_end <= end);
        match (box_end, at.checked_add(head_size)) {
            (Some(end), Some(start)) => {
                spans.push(Span { kind, start, end });
                at = end;
            }
            // Media data that is cut short behind a whole movie header: the header is still good.
            _ if &kind == b"mdat" && end == source.len() => break,
            _ => return Err(overrun),
        }
        if spans.len() > BOXES_LIMIT {
            // A long fragmented file: two boxes a fragment. What matters stands before them.
            match spans.iter().any(|span| &span.kind == b"moof") {
                true => break,
                false => return Err(MediaError::Limit("the number of boxes")),
            }
        }
    }
    Ok(spans)
}

fn record<R: Read + Seek>(source: &mut Source<R>, span: Span) -> Result<Vec<u8>, MediaError> {
    let size = span.end.saturating_sub(span.start);
    source.read("a box", span.start, size.min(RECORD_LIMIT))
}

fn table<R: Read + Seek>(source: &mut Source<R>, span: Span) -> Result<Vec<u8>, MediaError> {
    source.read("a table", span.start, span.end.saturating_sub(span.start))
}

fn read_movie<R: Read + Seek>(
    source: &mut Source<R>,
    moov: Span,
    movie: &mut Movie,
) -> Result<(), MediaError> {
    for span in boxes(source, moov.start, moov.end)? {
        match &span.kind {
            b"mvhd" => movie.header = movie_header(&record(source, span)?),
            b"trak" => {
                let track = read_track(source, span)?;
                movie.tracks.push(track);
            }
            b"mvex" => {
                movie.fragmented = true;
                for inner in boxes(source, span.start, span.end)? {
                    if &inner.kind == b"mehd" {
                        let bytes = record(source, inner)?;
                        movie.fragments_duration = if bytes.first() == Some(&1) {
                            be_u64(&bytes, 4)
                        } else {
                            be_u32(&bytes, 4).map(u64::from)
                        };
                    }
                }
            }
            _ => {}
        }
    }
    Ok(())
}

/// A time or duration, 64 bits in version 1; all ones means "not known".
fn long(bytes: &[u8], version: u8, at: (usize, usize)) -> Option<u64> {
    match version {
        1 => be_u64(bytes, at.1).filter(|value| *value != u64::MAX),
        _ => be_u32(bytes, at.0)
            .filter(|value| *value != u32::MAX)
            .map(u64::from),
    }
}

fn movie_header(bytes: &[u8]) -> MovieHeader {
    let version = bytes.first().copied().unwrap_or(0);
    let timescale_at = if version == 1 { 20 } else { 12 };
    MovieHeader {
        version,
        timescale: be_u32(bytes, timescale_at).unwrap_or(0),
        duration: long(bytes, version, (16, 24)),
        created: long(bytes, version, (4, 4)).unwrap_or(0),
    }
}

fn read_track<R: Read + Seek>(source: &mut Source<R>, trak: Span) -> Result<Track, MediaError> {
    let mut track = Track::default();
    for span in boxes(source, trak.start, trak.end)? {
        match &span.kind {
            b"tkhd" => {
                let bytes = record(source, span)?;
                let version = bytes.first().copied().unwrap_or(0);
                let wide = version == 1;
                track.id = be_u32(&bytes, if wide { 20 } else { 12 }).unwrap_or(0);
                track.duration = long(&bytes, version, (20, 28));
                let size_at = if wide { 88 } else { 76 };
                track.width = be_u32(&bytes, size_at).unwrap_or(0) >> 16;
                track.height = be_u32(&bytes, if wide { 92 } else { 80 }).unwrap_or(0) >> 16;
            }
            b"edts" => {
                for inner in boxes(source, span.start, span.end)? {
                    if &inner.kind == b"elst" {
                        track.edits = edits(&table(source, inner)?);
                    }
                }
            }
            b"tref" => {
                for inner in boxes(source, span.start, span.end)? {
                    let bytes = record(source, inner)?;
                    let ids = bytes
                        .chunks_exact(4)
                        .filter_map(|id| be_u32(id, 0))
                        .collect();
                    track.references.push((inner.kind, ids));
                }
            }
            b"mdia" => read_media(source, span, &mut track)?,
            _ => {}
        }
    }
    if &track.handler == b"tmcd"
        && let Some(at) = track.first_chunk
    {
        track.first_frame = be_i32(&source.read("the timecode sample", at, 4)?, 0);
    }
    Ok(track)
}

fn edits(bytes: &[u8]) -> Vec<Edit> {
    let wide = bytes.first() == Some(&1);
    let rows = bytes
        .get(8..)
        .unwrap_or_default()
        .chunks_exact(if wide { 20 } else { 12 });
    let edit = |row: &[u8]| {
        Some(match wide {
            true => Edit {
                duration: be_u64(row, 0)?,
                media_time: be_i64(row, 8)?,
                rate: be_i32(row, 16)?,
            },
            false => Edit {
                duration: be_u32(row, 0)?.into(),
                media_time: be_i32(row, 4)?.into(),
                rate: be_i32(row, 8)?,
            },
        })
    };
    rows.take(stated_count(bytes)).filter_map(edit).collect()
}

/// The number of rows that a table with version and flags says it has.
fn stated_count(bytes: &[u8]) -> usize {
    be_u32(bytes, 4)
        .and_then(|count| usize::try_from(count).ok())
        .unwrap_or(0)
}

fn read_media<R: Read + Seek>(
    source: &mut Source<R>,
    mdia: Span,
    track: &mut Track,
) -> Result<(), MediaError> {
    for span in boxes(source, mdia.start, mdia.end)? {
        match &span.kind {
            b"mdhd" => {
                let bytes = record(source, span)?;
                let version = bytes.first().copied().unwrap_or(0);
                let timescale_at = if version == 1 { 20 } else { 12 };
                track.timescale = be_u32(&bytes, timescale_at).unwrap_or(0);
                track.media_duration = long(&bytes, version, (16, 24));
            }
            b"hdlr" => track.handler = four_cc(&record(source, span)?, 8).unwrap_or_default(),
            b"minf" => {
                for inner in boxes(source, span.start, span.end)? {
                    if &inner.kind == b"stbl" {
                        read_samples(source, inner, track)?;
                    }
                }
            }
            _ => {}
        }
    }
    Ok(())
}

fn read_samples<R: Read + Seek>(
    source: &mut Source<R>,
    stbl: Span,
    track: &mut Track,
) -> Result<(), MediaError> {
    for span in boxes(source, stbl.start, stbl.end)? {
        match &span.kind {
            b"stsd" => {
                let bytes = record(source, span)?;
                let entry = bytes.get(8..).unwrap_or_default();
                track.entry = sample_entry::read(entry, track.handler);
            }
            b"stts" => {
                let bytes = table(source, span)?;
                let rows = bytes.get(8..).unwrap_or_default().chunks_exact(8);
                let pair = |row: &[u8]| Some((be_u32(row, 0)?, be_u32(row, 4)?));
                track.times = rows.take(stated_count(&bytes)).filter_map(pair).collect();
            }
            b"ctts" => {
                let head = source.read(
                    "a table",
                    span.start,
                    span.end.saturating_sub(span.start).min(16),
                )?;
                track.first_offset = be_i32(&head, 12).map_or(0, i64::from);
            }
            b"stco" | b"co64" => {
                let size = span.end.saturating_sub(span.start).min(16);
                let head = source.read("a table", span.start, size)?;
                let first = match &span.kind {
                    b"co64" => be_u64(&head, 8),
                    _ => be_u32(&head, 8).map(u64::from),
                };
                track.first_chunk = first.filter(|_| stated_count(&head) > 0);
            }
            _ => {}
        }
    }
    Ok(())
}
