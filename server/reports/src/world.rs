//! The small world that the typesetter may see: one template, one data file, the embedded fonts.
//! No folder, no network, no packages, no clock. The virtual names never change, because every
//! new name would stay in the process for ever (typst keeps 16-bit file ids and never frees them).

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::layout::Abs;
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook, FontInstance, FontVariant, FontVariations};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

/// The faces of the report, unmodified as Adobe released them (SIL Open Font License, `fonts/OFL.md`).
const FACES: [&[u8]; 3] = [
    include_bytes!("../fonts/SourceSans3-Regular.otf"),
    include_bytes!("../fonts/SourceSans3-Semibold.otf"),
    include_bytes!("../fonts/SourceSans3-It.otf"),
];

/// What never changes between two reports, made once.
struct Shared {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    regular: FontInstance,
    mains: Vec<FileId>,
    data: FileId,
    scan: FileId,
}

static SHARED: LazyLock<Shared> = LazyLock::new(|| {
    let ours = FACES.into_iter();
    let fonts: Vec<Font> = ours
        .chain(typst_assets::fonts())
        .flat_map(|face| Font::iter(Bytes::new(face)))
        .collect();
    let plain = (
        FontVariant::default(),
        Abs::zero(),
        FontVariations::default(),
    );
    Shared {
        regular: fonts[0].clone().instantiate(plain.0, plain.1, &plain.2),
        library: LazyHash::new(Library::default()),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
        mains: (0..MOST_PARTS)
            .map(|part| file_id(&format!("/main-{part}.typ")))
            .collect(),
        data: file_id("/data.json"),
        scan: file_id("/scan"),
    }
});

#[expect(clippy::expect_used, reason = "fixed names, all valid")]
fn file_id(name: &str) -> FileId {
    let path = VirtualPath::new(name).expect("a fixed valid path");
    RootedPath::new(VirtualRoot::Project, path).intern()
}

/// All faces that a report may be set in, ours first.
pub(crate) fn fonts() -> &'static [Font] {
    &SHARED.fonts
}

/// How far a letter of the regular face advances, in parts of its size; none when the face does not hold it.
pub(crate) fn advance(letter: char) -> Option<f64> {
    let face = SHARED.regular.ttf();
    let glyph = face.glyph_index(letter)?;
    let units = face.glyph_hor_advance(glyph)?;
    Some(f64::from(units) / f64::from(face.units_per_em()))
}

/// Most parts that one paper may be set in.
pub(crate) const MOST_PARTS: usize = 128;

/// One template with its data.
pub(crate) struct ReportWorld {
    main: FileId,
    source: Source,
    data: Bytes,
    image: Bytes,
}

impl ReportWorld {
    /// A world that holds this template and this data as `/data.json`.
    pub(crate) fn new(template: &str, data: Vec<u8>) -> Self {
        Self::part(0, template, data)
    }

    /// The same for one of the parts of a paper. What stands on its pages is told apart by the name of its template
    /// when the pages are joined, so no two parts of a paper may have one number; at most [`MOST_PARTS`].
    pub(crate) fn part(number: usize, template: &str, data: Vec<u8>) -> Self {
        let main = SHARED.mains[number];
        Self {
            main,
            source: Source::new(main, template.to_owned()),
            data: Bytes::new(data),
            image: Bytes::new(Vec::new()),
        }
    }

    /// The same with a picture as `/scan`.
    pub(crate) fn with_image(mut self, image: Vec<u8>) -> Self {
        self.image = Bytes::new(image);
        self
    }
}

impl World for ReportWorld {
    fn library(&self) -> &LazyHash<Library> {
        &SHARED.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &SHARED.book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main {
            Ok(self.source.clone())
        } else {
            Err(FileError::AccessDenied)
        }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == SHARED.data {
            Ok(self.data.clone())
        } else if id == SHARED.scan {
            Ok(self.image.clone())
        } else {
            Err(FileError::AccessDenied)
        }
    }

    fn font(&self, index: usize) -> Option<Font> {
        SHARED.fonts.get(index).cloned()
    }

    /// No clock: a report's date comes from its data.
    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}
