//! Small true media files: a QuickTime movie with a timecode track and a reel, and a Broadcast Wave with its time
//! reference. Of a movie's pictures one is stored and shown all along; no encoder is needed.

/// Pictures a second of everything here.
pub const FPS: u32 = 25;
const WIDTH: u16 = 32;
const HEIGHT: u16 = 18;
const SAMPLE_RATE: u32 = 8000;

/// What a file is to say of itself.
pub struct Clip<'a> {
    pub reel: &'a str,
    pub name: &'a str,
    /// Timecode of the first picture, in frames from midnight.
    pub start: u32,
    pub frames: u32,
    /// Seconds since 1904, as movies count.
    pub recorded: u32,
    /// `YYYY-MM-DD`.
    pub day: &'a str,
    /// Makes its content unlike any other's.
    pub seed: u32,
}

/// A QuickTime movie (QuickTime File Format): uncompressed pictures, timecode track, reel.
pub fn movie(clip: &Clip<'_>) -> Vec<u8> {
    let head = atom(b"ftyp", &[*b"qt  ", be(0x2005_0300), *b"qt  "].concat());
    let picture = picture(clip.seed);
    let at = u32_of(head.len()) + 8;
    let data = atom(b"mdat", &[picture.as_slice(), &be(clip.start)].concat());
    let tracks = [
        picture_track(clip, at, u32_of(picture.len())),
        timecode_track(clip, at + u32_of(picture.len())),
    ];
    let header = [
        be(0),
        be(clip.recorded),
        be(clip.recorded),
        be(FPS),
        be(clip.frames),
        be(0x1_0000),
        be(0x0100_0000),
        be(0),
        be(0),
    ]
    .concat();
    let header = [header, matrix(), vec![0; 24], be(3).to_vec()].concat();
    let movie = [atom(b"mvhd", &header), tracks.concat()].concat();
    [head, data, atom(b"moov", &movie)].concat()
}

/// Red, green and blue of each picture element: water below, a sky of the file's own colour above.
fn picture(seed: u32) -> Vec<u8> {
    let own = seed.wrapping_mul(2_654_435_761).to_be_bytes();
    let elements = (0..HEIGHT).flat_map(|y| (0..WIDTH).map(move |x| (x, y)));
    let mut out: Vec<u8> = elements
        .flat_map(|(x, y)| {
            let light = u8::try_from((x + 3 * y) % 64).unwrap_or(0);
            if y < HEIGHT / 2 {
                [own[0] / 2 + light, own[1] / 2 + light, 160]
            } else {
                [16, 48 + light, own[2] / 2 + 64]
            }
        })
        .collect();
    if let Some(first) = out.first_chunk_mut::<4>() {
        *first = seed.to_be_bytes();
    }
    out
}

fn picture_track(clip: &Clip<'_>, at: u32, size: u32) -> Vec<u8> {
    let entry = [
        vec![0; 6],
        vec![0, 1],
        be(0).to_vec(),
        be(0).to_vec(),
        be(0).to_vec(),
        be(0).to_vec(),
        WIDTH.to_be_bytes().to_vec(),
        HEIGHT.to_be_bytes().to_vec(),
        be(72 << 16).to_vec(),
        be(72 << 16).to_vec(),
        be(0).to_vec(),
        vec![0, 1],
        vec![0; 32],
        vec![0, 24, 0xff, 0xff],
    ]
    .concat();
    let offsets: Vec<u8> = (0..clip.frames).flat_map(|_| be(at)).collect();
    let samples = samples(
        b"raw ",
        &entry,
        (clip.frames, 1),
        size,
        clip.frames,
        &offsets,
    );
    let media = media(
        clip,
        b"vide",
        &atom(b"vmhd", &[be(1), be(0), be(0)].concat()),
        &samples,
    );
    let reference = atom(b"tref", &atom(b"tmcd", &be(2)));
    track(clip, 1, (WIDTH, HEIGHT), &[reference, media].concat())
}

fn timecode_track(clip: &Clip<'_>, at: u32) -> Vec<u8> {
    let reel = clip.reel.as_bytes();
    let length = u16::try_from(reel.len()).unwrap_or(0);
    let name = atom(
        b"name",
        &[&length.to_be_bytes()[..], &[0, 0], reel].concat(),
    );
    let fps = u8::try_from(FPS).unwrap_or(0);
    // wraps at 24 hours; one frame lasts one unit
    let entry = [
        vec![0; 6],
        vec![0, 1],
        be(0).to_vec(),
        be(2).to_vec(),
        be(FPS).to_vec(),
        be(1).to_vec(),
        vec![fps, 0],
        name,
    ]
    .concat();
    let samples = samples(b"tmcd", &entry, (1, clip.frames), 4, 1, &be(at));
    let font = b"\x05Plain";
    let face = [
        be(0).to_vec(),
        vec![0, 0, 0, 0, 0, 12, 0, 0],
        vec![0; 12],
        font.to_vec(),
    ]
    .concat();
    let general = atom(
        b"gmin",
        &[be(0), be(0x40_8000), be(0x8000_8000), be(0)].concat(),
    );
    let info = atom(
        b"gmhd",
        &[general, atom(b"tmcd", &atom(b"tcmi", &face))].concat(),
    );
    track(clip, 2, (0, 0), &media(clip, b"tmcd", &info, &samples))
}

fn track(clip: &Clip<'_>, id: u32, (width, height): (u16, u16), rest: &[u8]) -> Vec<u8> {
    let header = [
        be(0xf),
        be(clip.recorded),
        be(clip.recorded),
        be(id),
        be(0),
        be(clip.frames),
        be(0),
        be(0),
        be(0),
        be(0),
    ]
    .concat();
    let size = [be(u32::from(width) << 16), be(u32::from(height) << 16)].concat();
    let header = atom(b"tkhd", &[header, matrix(), size].concat());
    atom(b"trak", &[header.as_slice(), rest].concat())
}

fn media(clip: &Clip<'_>, handler: &[u8; 4], info: &[u8], samples: &[u8]) -> Vec<u8> {
    let header = [
        be(0),
        be(clip.recorded),
        be(clip.recorded),
        be(FPS),
        be(clip.frames),
        be(0),
    ]
    .concat();
    let handles = |class: &[u8; 4], kind: &[u8; 4]| {
        atom(b"hdlr", &[&be(0)[..], class, kind, &[0; 12], &[0]].concat())
    };
    let own = atom(b"alis", &be(1));
    let place = atom(
        b"dinf",
        &atom(b"dref", &[be(0).to_vec(), be(1).to_vec(), own].concat()),
    );
    let info = [
        info.to_vec(),
        handles(b"dhlr", b"alis"),
        place,
        samples.to_vec(),
    ]
    .concat();
    let parts = [
        atom(b"mdhd", &header),
        handles(b"mhlr", handler),
        atom(b"minf", &info),
    ]
    .concat();
    atom(b"mdia", &parts)
}

/// The sample table; each sample is a chunk of its own.
fn samples(
    kind: &[u8; 4],
    entry: &[u8],
    (count, each): (u32, u32),
    size: u32,
    chunks: u32,
    offsets: &[u8],
) -> Vec<u8> {
    let entry = atom(kind, entry);
    let parts = [
        atom(b"stsd", &[be(0).to_vec(), be(1).to_vec(), entry].concat()),
        atom(b"stts", &[be(0), be(1), be(count), be(each)].concat()),
        atom(b"stsc", &[be(0), be(1), be(1), be(1), be(1)].concat()),
        atom(b"stsz", &[be(0), be(size), be(chunks)].concat()),
        atom(b"stco", &[&be(0)[..], &be(chunks), offsets].concat()),
    ];
    atom(b"stbl", &parts.concat())
}

/// A Broadcast Wave (EBU Tech 3285, version 1) with iXML beside it: one channel of a quiet hum.
pub fn wave(clip: &Clip<'_>) -> Vec<u8> {
    let rate = u64::from(SAMPLE_RATE);
    let since_midnight = u64::from(clip.start) * rate / u64::from(FPS);
    let seconds = clip.start / FPS;
    let time = format!(
        "{:02}:{:02}:{:02}",
        seconds / 3600,
        seconds / 60 % 60,
        seconds % 60
    );
    let field = |text: &str, size: usize| {
        let mut bytes = text.as_bytes().to_vec();
        bytes.resize(size, 0);
        bytes
    };
    let bext = [
        field(clip.name, 256),
        field("Ninth Oar Pictures", 32),
        field("", 32),
        field(clip.day, 10),
        field(&time, 8),
        since_midnight.to_le_bytes().to_vec(),
        vec![1, 0],
        vec![0; 254],
    ]
    .concat();
    let (scene, take) = clip.name.split_once('_').unwrap_or((clip.name, "T01"));
    let ixml = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<BWFXML><IXML_VERSION>1.61</IXML_VERSION><TAPE>{}</TAPE>\
         <SCENE>{scene}</SCENE><TAKE>{take}</TAKE><SPEED><TIMECODE_RATE>{FPS}/1</TIMECODE_RATE><TIMECODE_FLAG>NDF\
         </TIMECODE_FLAG><FILE_SAMPLE_RATE>{SAMPLE_RATE}</FILE_SAMPLE_RATE></SPEED></BWFXML>\n",
        clip.reel
    );
    let format = [
        vec![1, 0, 1, 0],
        SAMPLE_RATE.to_le_bytes().to_vec(),
        SAMPLE_RATE.to_le_bytes().to_vec(),
        vec![1, 0, 8, 0],
    ]
    .concat();
    let period = 40 + clip.seed % 97;
    let samples: Vec<u8> = (0..clip.frames * SAMPLE_RATE / FPS)
        .map(|at| 120 + u8::try_from(at % period * 16 / period).unwrap_or(0))
        .collect();
    let chunks = [
        chunk(b"bext", &bext),
        chunk(b"iXML", ixml.as_bytes()),
        chunk(b"fmt ", &format),
        chunk(b"data", &samples),
    ]
    .concat();
    chunk(b"RIFF", &[b"WAVE", chunks.as_slice()].concat())
}

fn atom(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    [&be(u32_of(body.len()) + 8)[..], kind, body].concat()
}

fn chunk(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let odd = vec![0; body.len() % 2];
    [&kind[..], &u32_of(body.len()).to_le_bytes(), body, &odd].concat()
}

fn matrix() -> Vec<u8> {
    let [one, nought, last] = [be(0x1_0000), be(0), be(0x4000_0000)];
    [
        one, nought, nought, nought, one, nought, nought, nought, last,
    ]
    .concat()
}

fn be(number: u32) -> [u8; 4] {
    number.to_be_bytes()
}

/// Everything here is some kilobytes long.
fn u32_of(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use waybill_domain::media::read_facts;

    use super::*;

    fn clip(name: &'static str) -> Clip<'static> {
        let start = (9 * 3600 + 41 * 60 + 7) * FPS + 13;
        Clip {
            reel: "A007",
            name,
            start,
            frames: 612,
            recorded: 3_900_000_000,
            day: "2028-06-03",
            seed: 7,
        }
    }

    /// Read back by the readers that `tests/outside` checks against files of other makers.
    #[test]
    fn our_own_readers_find_what_was_written() {
        let read = |bytes: Vec<u8>, name: &str| {
            let length = bytes.len() as u64;
            read_facts(Cursor::new(bytes), length).unwrap_or_else(|error| panic!("{name}: {error}"))
        };
        let movie = read(movie(&clip("A007_C001")), "movie");
        assert_eq!(movie.warnings, Vec::<String>::new());
        assert_eq!(
            (movie.reel.as_deref(), movie.frame_count),
            (Some("A007"), Some(612))
        );
        let start = movie.start.map(|start| start.label);
        assert_eq!(start.as_deref(), Some("09:41:07:13"));
        let wave = read(wave(&clip("S001_T01")), "wave");
        assert_eq!(wave.warnings, Vec::<String>::new());
        let start = wave.start.map(|start| start.label);
        assert_eq!(start.as_deref(), Some("09:41:07:13"));
        assert_eq!(
            wave.duration.map(|length| length.num / length.den),
            Some(24)
        );
    }
}
