//! The readers against damaged bytes, and against small files built here for what the samples under
//! `tests/outside/data/media` do not show: 64-bit sizes, edits, variable rate, fragments, RF64, iXML.
#![expect(
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    clippy::as_conversions,
    clippy::unwrap_used,
    reason = "tests"
)]

use std::io::Cursor;

use proptest::prelude::*;

use super::*;

fn facts(bytes: &[u8]) -> Result<MediaFacts, MediaError> {
    let described = try_facts(Cursor::new(bytes), bytes.len() as u64);
    let facts = read_facts(Cursor::new(bytes), bytes.len() as u64);
    assert_eq!(described.is_ok(), facts.is_ok());
    facts
}

/// Samples of the outside tests, and a small MXF file made by Debian's ffmpeg 5.1.9 with
/// `-f lavfi -i testsrc2=size=32x36:rate=30000/1001 -frames:v 3 -c:v mpeg2video -timecode 10:11:12;14
/// -metadata reel_name=B007`.
const SAMPLES: [&[u8]; 8] = [
    include_bytes!("../../../../tests/outside/data/media/clip_23976_ndf.mov"),
    include_bytes!("../../../../tests/outside/data/media/clip_2997_df.mov"),
    include_bytes!("../../../../tests/outside/data/media/sound_48k_bext.wav"),
    include_bytes!("mxf/sample.mxf"),
    include_bytes!("../../../../tests/outside/data/media/sound_48k_rf64.wav"),
    include_bytes!("../../../../tests/outside/data/media/sound_96k_rf64.wav"),
    include_bytes!("../../../../tests/outside/data/media/sound_48k_bw64.wav"),
    include_bytes!("../../../../tests/outside/data/media/sound_192k_long_rf64.head"),
];

fn atom(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let size = u32::try_from(body.len() + 8).unwrap();
    [&size.to_be_bytes()[..], kind, body].concat()
}

fn words(values: &[u32]) -> Vec<u8> {
    values
        .iter()
        .flat_map(|value| value.to_be_bytes())
        .collect()
}

/// A movie of one picture track at 25 and one timecode track; the tables as given.
struct Film {
    brand: &'static [u8; 4],
    /// Count and duration of samples, timescale 25,000.
    times: Vec<[u32; 2]>,
    edits: Vec<[u32; 3]>,
    timecode_at: u64,
    flags: u32,
    extra: Vec<u8>,
}

impl Default for Film {
    fn default() -> Self {
        let (times, edits) = (vec![[50, 1000]], Vec::new());
        // the sample stands behind ftyp (16) and the head of mdat (16)
        Self {
            brand: b"qt  ",
            times,
            edits,
            timecode_at: 32,
            flags: 0,
            extra: Vec::new(),
        }
    }
}

impl Film {
    fn table(rows: &[[u32; 2]]) -> Vec<u8> {
        words(&[&[0, rows.len() as u32][..], rows.as_flattened()].concat())
    }

    fn track(&self, handler: &[u8; 4], entry: Vec<u8>, times: &[[u32; 2]], at: u64) -> Vec<u8> {
        let co64 = [words(&[0, 1]), at.to_be_bytes().to_vec()].concat();
        let stbl = [
            atom(b"stsd", &[words(&[0, 1]), entry].concat()),
            atom(b"stts", &Self::table(times)),
            atom(b"co64", &co64),
        ];
        let units = times.iter().map(|[count, length]| count * length).sum();
        let mdia = [
            atom(b"mdhd", &words(&[0, 0, 0, 25_000, units, 0])),
            atom(
                b"hdlr",
                &[words(&[0, 0]), handler.to_vec(), words(&[0, 0, 0])].concat(),
            ),
            atom(b"minf", &atom(b"stbl", &stbl.concat())),
        ];
        let id = if handler == b"vide" { 1 } else { 2 };
        let mut parts = vec![atom(b"tkhd", &words(&[0, 0, 0, id, 0, 2_000]))];
        if handler == b"vide" {
            parts.push(atom(b"tref", &atom(b"tmcd", &words(&[2]))));
            if !self.edits.is_empty() {
                let rows = [&[0, self.edits.len() as u32][..], self.edits.as_flattened()].concat();
                parts.push(atom(b"edts", &atom(b"elst", &words(&rows))));
            }
        }
        parts.push(atom(b"mdia", &mdia.concat()));
        atom(b"trak", &parts.concat())
    }

    fn bytes(&self) -> Vec<u8> {
        let mut picture = vec![0; 78];
        picture[24..28].copy_from_slice(&[0, 128, 0, 72]);
        let mut counting = [words(&[0, 1, 0, self.flags, 25_000, 1000]), vec![25, 0]].concat();
        counting.extend(atom(b"name", &[&[0, 4, 0, 0][..], b"A001"].concat()));
        let moov = [
            atom(b"mvhd", &words(&[0, 0, 0, 1000, 2_000])),
            self.track(b"vide", atom(b"mp4v", &picture), &self.times, 0),
            self.track(
                b"tmcd",
                atom(b"tmcd", &counting),
                &[[1, 50_000]],
                self.timecode_at,
            ),
            self.extra.clone(),
        ];
        // 64-bit size of the media data, and the movie header behind it
        let mdat = [
            &1_u32.to_be_bytes()[..],
            b"mdat",
            &20_u64.to_be_bytes(),
            &words(&[90_000]),
        ];
        [
            atom(b"ftyp", &[&self.brand[..], &[0; 4]].concat()),
            mdat.concat(),
            atom(b"moov", &moov.concat()),
        ]
        .concat()
    }

    fn facts(&self) -> MediaFacts {
        facts(&self.bytes()).unwrap()
    }
}

#[test]
fn sixty_four_bit_sizes_and_a_header_at_the_end_are_read() {
    let read = Film::default().facts();
    assert_eq!(read.start.unwrap().label, "01:00:00:00");
    assert_eq!(read.reel.as_deref(), Some("A001"));
    assert_eq!((read.frame_count, read.rate), (Some(50), Ratio::new(25, 1)));
    assert_eq!((read.width, read.height), (Some(128), Some(72)));
    assert_eq!(
        (read.duration, read.container),
        (Ratio::new(2, 1), Container::QuickTime)
    );
    assert_eq!(read.warnings, Vec::<String>::new());
    assert_eq!(
        Film {
            brand: b"isom",
            ..Film::default()
        }
        .facts()
        .container,
        Container::Mp4
    );
}

#[test]
fn a_leading_empty_edit_delays_the_first_picture() {
    // half a second empty, then everything
    let edits = vec![[500, u32::MAX, 1 << 16], [2_000, 0, 1 << 16]];
    assert_eq!(
        Film {
            edits,
            ..Film::default()
        }
        .facts()
        .start
        .unwrap()
        .label,
        "01:00:00:12"
    );
}

#[test]
fn an_edit_that_shows_a_part_is_told() {
    let edits = vec![[1_000, 5_000, 1 << 16]];
    let read = Film {
        edits,
        ..Film::default()
    }
    .facts();
    assert_eq!(read.frame_count, Some(50));
    assert!(
        read.warnings[0].contains("only a part"),
        "{:?}",
        read.warnings
    );
}

#[test]
fn a_variable_rate_is_told_and_a_last_short_picture_is_not_one() {
    let read = Film {
        times: vec![[10, 1000], [10, 1100]],
        ..Film::default()
    }
    .facts();
    assert_eq!((read.rate, read.frame_count), (None, Some(20)));
    assert!(read.warnings[0].contains("variable"));
    let read = Film {
        times: vec![[49, 1000], [1, 900]],
        ..Film::default()
    }
    .facts();
    assert_eq!(read.rate, Ratio::new(25, 1));
}

#[test]
fn fragments_counters_and_impossible_drop_frame_are_told() {
    let extra = atom(b"mvex", &atom(b"mehd", &words(&[0, 4_000])));
    let read = Film {
        times: vec![],
        extra,
        ..Film::default()
    }
    .facts();
    assert_eq!((read.frame_count, read.duration), (None, Ratio::new(4, 1)));
    assert!(read.warnings[0].contains("fragments"));
    assert_eq!(
        Film {
            flags: 8,
            ..Film::default()
        }
        .facts()
        .start,
        None
    );
    let drop = Film {
        flags: 1,
        ..Film::default()
    }
    .facts();
    assert!(!drop.start.unwrap().drop && drop.warnings[0].contains("does not exist"));
}

#[test]
fn lengths_past_the_end_are_errors_with_the_place() {
    let bytes = Film::default().bytes();
    let cut = facts(&bytes[..bytes.len() - 1]);
    assert!(
        matches!(cut, Err(MediaError::Overrun { at: 36, .. })),
        "{cut:?}"
    );
    let mut endless = bytes;
    endless[39] = 0xff;
    assert!(facts(&endless).is_err());
    let lost = Film {
        timecode_at: 1 << 40,
        ..Film::default()
    }
    .bytes();
    assert!(matches!(
        facts(&lost),
        Err(MediaError::Overrun {
            what: "the timecode sample",
            ..
        })
    ));
}

/// A wave file from its chunks; sizes of odd chunks are padded.
fn wave(form: &[u8; 4], chunks: &[(&[u8; 4], u32, Vec<u8>)]) -> Vec<u8> {
    let mut bytes = [&form[..], &[0xff; 4], b"WAVE"].concat();
    for (name, size, body) in chunks {
        bytes.extend([&name[..], &size.to_le_bytes(), body].concat());
        bytes.resize(bytes.len().next_multiple_of(2), 0);
    }
    bytes
}

fn fmt_chunk() -> (&'static [u8; 4], u32, Vec<u8>) {
    let body: [&[u8]; 6] = [
        &[1, 0, 2, 0],
        &96_000_u32.to_le_bytes(),
        &[0; 4],
        &[6, 0],
        &[24, 0],
        &[],
    ];
    (b"fmt ", 16, body.concat())
}

// EBU Tech 3285: both halves of the time reference; 8,284,800,000 samples at 96 kHz are 86,300 s.
#[test]
fn a_long_rf64_recording_late_in_the_day_is_read() {
    let mut bext = vec![0; 602];
    bext[320..338].copy_from_slice(b"2026-03-1423:58:20");
    bext[338..346].copy_from_slice(&8_284_800_000_u64.to_le_bytes());
    let ds64 = [&[0; 8][..], &600_u64.to_le_bytes(), &[0; 12]].concat();
    let xml = b"<BWFXML><TAPE>S&amp;R 1</TAPE><SPEED><TIMECODE_RATE>25/1</TIMECODE_RATE>\
        <TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI>0</TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI>\
        <TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO>5</TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO></SPEED></BWFXML>";
    let bytes = wave(
        b"RF64",
        &[
            (b"ds64", 28, ds64),
            fmt_chunk(),
            (b"bext", 602, bext),
            (b"data", u32::MAX, vec![0; 600]),
            (b"iXML", xml.len() as u32, xml.to_vec()),
        ],
    );
    let read = facts(&bytes).unwrap();
    assert_eq!(read.duration, Ratio::new(100, 96_000));
    assert_eq!(read.start.unwrap().label, "23:58:20:00");
    assert_eq!(read.reel.as_deref(), Some("S&R 1"));
    assert_eq!(read.recorded.unwrap().to_string(), "2026-03-14 23:58:20");
    assert_eq!(
        read.audio.unwrap().samples_since_midnight,
        Some(8_284_800_000)
    );
    assert!(read.warnings[0].contains("disagree"), "{:?}", read.warnings);
}

#[test]
fn an_unfinished_recording_has_the_length_that_is_there() {
    let read = facts(&wave(b"RIFF", &[fmt_chunk(), (b"data", 0, vec![0; 60])])).unwrap();
    assert_eq!(read.duration, Ratio::new(10, 96_000));
    assert!(read.warnings[0].contains("not finished"));
    assert!(facts(&wave(b"RIFF", &[fmt_chunk()])).is_err());
    assert!(facts(&wave(b"RIFF", &[(b"data", 4, vec![0; 4])])).is_err());
}

#[test]
fn broken_ixml_is_a_warning() {
    let ixml = |xml: &str| {
        let xml = xml.as_bytes().to_vec();
        wave(
            b"RIFF",
            &[
                fmt_chunk(),
                (b"iXML", xml.len() as u32, xml),
                (b"data", 6, vec![0; 6]),
            ],
        )
    };
    for xml in ["<BWFXML><TAPE>x</TAP>", "<a>&nope;</a>", &"<a>".repeat(40)] {
        let read = facts(&ixml(xml)).unwrap();
        assert!(
            read.warnings[0].contains("iXML"),
            "{xml}: {:?}",
            read.warnings
        );
    }
}

#[test]
fn rates_that_cameras_write_for_one_thousandth_less_are_known() {
    let exact = |num, den| known_rate(num, den, false).map(|rate| (rate.num(), rate.den()));
    assert_eq!(exact(2997, 100), Some((30_000, 1001)));
    assert_eq!(exact(23_976, 1000), Some((24_000, 1001)));
    assert_eq!(exact(24_500, 1000), None);
    assert_eq!(
        (exact(0, 1), exact(1, 0), exact(i64::MAX, 1)),
        (None, None, None)
    );
}

#[test]
fn every_beginning_of_a_sample_is_an_answer() {
    for bytes in SAMPLES {
        for end in (0..bytes.len().min(4_096)).chain((4_096..bytes.len()).step_by(997)) {
            let _ = facts(&bytes[..end]);
        }
        assert!(facts(bytes).is_ok());
    }
}

/// Where the samples' headers stand: at the beginning or at the end.
fn header_places(bytes: &[u8]) -> impl Iterator<Item = usize> {
    let len = bytes.len();
    (0..len.min(600)).chain(len.saturating_sub(600).max(600)..len)
}

// Every place is taken for a length of 4 or 8 bytes once, and said to be nothing, all there can be, or just more
// than the file.
#[test]
fn every_lying_length_is_an_answer() {
    for bytes in SAMPLES {
        let mut changed = bytes.to_vec();
        for at in header_places(bytes) {
            for width in [4, 8] {
                let Some(place) = bytes.get(at..at + width) else {
                    continue;
                };
                let long = bytes.len() as u64 + 1;
                let values = [
                    0_u64.to_be_bytes(),
                    u64::MAX.to_be_bytes(),
                    long.to_le_bytes(),
                    (long << (64 - 8 * width)).to_be_bytes(),
                ];
                for value in values {
                    changed[at..at + width].copy_from_slice(&value[..width]);
                    let _ = read_facts(Cursor::new(&changed[..]), bytes.len() as u64);
                }
                changed[at..at + width].copy_from_slice(place);
            }
        }
        assert_eq!(changed, bytes);
    }
}

#[test]
fn every_flipped_bit_is_an_answer() {
    for bytes in SAMPLES {
        let mut changed = bytes.to_vec();
        for at in header_places(bytes) {
            for bit in 0..8 {
                changed[at] ^= 1 << bit;
                let _ = read_facts(Cursor::new(&changed[..]), bytes.len() as u64);
                changed[at] ^= 1 << bit;
            }
        }
    }
}

// ffprobe 5.1.9 tells the same size, rate, timecode and length of this file.
#[test]
fn the_mxf_sample_is_read() {
    let read = facts(SAMPLES[3]).unwrap();
    assert_eq!((read.width, read.height), (Some(32), Some(36)));
    assert_eq!(
        (read.rate, read.frame_count),
        (Ratio::new(30_000, 1001), Some(3))
    );
    assert_eq!(read.duration, Ratio::new(3_003, 30_000));
    assert_eq!(read.start.unwrap().label, "10:11:12;14");
    assert_eq!(read.reel.as_deref(), Some("B007"));
    assert_eq!(read.warnings, Vec::<String>::new());
}

// A recorder that lost power: the header is open, its durations are -1, the footer has them.
#[test]
fn an_open_mxf_header_sends_the_reader_to_the_footer() {
    let mut bytes = SAMPLES[3].to_vec();
    let status = 14;
    bytes[status] = 1;
    let closed_again = facts(&bytes).unwrap();
    assert_eq!(closed_again.frame_count, Some(3));
    // -1 in every Duration (tag 0202, 8 bytes)
    let tag = [0x02, 0x02, 0x00, 0x08];
    for at in 0..bytes.len() - 12 {
        if bytes[at..at + 4] == tag {
            bytes[at + 4..at + 12].fill(0xff);
        }
        if bytes[at..at + 4] == [0x30, 0x02, 0x00, 0x08] {
            bytes[at + 4..at + 12].fill(0xff);
        }
    }
    let unknown = facts(&bytes).unwrap();
    assert_eq!((unknown.frame_count, unknown.duration), (None, None));
    assert!(
        unknown.warnings.iter().any(|w| w.contains("length")),
        "{:?}",
        unknown.warnings
    );
}

proptest! {
    #[test]
    fn no_change_of_bytes_is_a_panic(
        sample in any::<proptest::sample::Index>(),
        changes in prop::collection::vec((any::<proptest::sample::Index>(), any::<u8>()), 1..12),
        late in any::<bool>(),
    ) {
        let mut bytes = match sample.index(SAMPLES.len() + 1) {
            0 => Film::default().bytes(),
            index => SAMPLES[index - 1].to_vec(),
        };
        // headers stand in the first or the last bytes
        let window = bytes.len().min(2_500);
        let from = if late { bytes.len() - window } else { 0 };
        for (place, value) in changes {
            bytes[from + place.index(window)] = value;
        }
        let _ = facts(&bytes);
    }

    #[test]
    fn no_bytes_are_a_panic(bytes in prop::collection::vec(any::<u8>(), 0..300), head in 0..4_usize) {
        let heads: [&[u8]; 4] = [b"\0\0\0\x08ftyp", b"RIFF\0\0\0\0WAVE", &mxf::PARTITION, b""];
        let _ = facts(&[heads[head], &bytes].concat());
    }
}
