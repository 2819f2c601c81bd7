//! Text on A4 pages as PDF: lines that wrap, rows of columns, hairlines, numbered pages. The font is Source Sans 3 (SIL
//! Open Font Licence, beside the font files); letters that it does not hold stand as their code points, `[U+6771]`.

use krilla::Document;
use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use unicode_normalization::UnicodeNormalization;
use waybill_domain::wording::grouped;

static REGULAR: &[u8] = include_bytes!("../../../reports/fonts/SourceSans3-Regular.otf");
static SEMIBOLD: &[u8] = include_bytes!("../../../reports/fonts/SourceSans3-Semibold.otf");

/// A4 and its margins, in points.
const PAGE: (f32, f32) = (595.0, 842.0);
const MARGIN: f32 = 48.0;
const FOOT: f32 = 40.0;
/// The width between the margins, in points.
pub const WIDTH: f32 = PAGE.0 - 2.0 * MARGIN;

/// How a text looks.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    pub size: f32,
    pub bold: bool,
}

pub const TITLE: Style = style(20.0, true);
pub const HEADING: Style = style(12.0, true);
pub const BODY: Style = style(9.5, false);
pub const STRONG: Style = style(9.5, true);
pub const SMALL: Style = style(7.5, false);

const fn style(size: f32, bold: bool) -> Style {
    Style { size, bold }
}

impl Style {
    fn line(self) -> f32 {
        self.size * 1.35
    }
}

/// A column of a row: where it begins, how wide it is, and what stands in it.
pub struct Cell<'a> {
    pub at: f32,
    pub width: f32,
    pub text: &'a str,
    pub style: Style,
    /// At the right edge.
    pub right: bool,
}

/// A font, for drawing and for measuring.
struct Face {
    font: Font,
    glyphs: ttf_parser::Face<'static>,
}

impl Face {
    fn new(bytes: &'static [u8]) -> Self {
        Self {
            font: Font::new(bytes.to_vec().into(), 0).expect("an own font"),
            glyphs: ttf_parser::Face::parse(bytes, 0).expect("an own font"),
        }
    }

    /// A letter's glyph, and how wide it is in parts of the font's size.
    fn glyph(&self, letter: char) -> (u16, f32) {
        let glyph = self.glyphs.glyph_index(letter).unwrap_or_default();
        let advance = self.glyphs.glyph_hor_advance(glyph).unwrap_or_default();
        let units = f32::from(self.glyphs.units_per_em());
        (glyph.0, f32::from(advance) / units)
    }

    fn width(&self, text: &str, size: f32) -> f32 {
        text.chars().map(|letter| self.glyph(letter).1).sum::<f32>() * size
    }

    /// One glyph a letter, beside each other, as they were measured. The library's own shaping reads the font anew for
    /// each piece of text, which took longer than a copy of many small files.
    fn glyphs(&self, text: &str) -> Vec<KrillaGlyph> {
        let letters = text.char_indices();
        letters
            .map(|(at, letter)| {
                let (glyph, advance) = self.glyph(letter);
                let range = at..at + letter.len_utf8();
                let glyph = GlyphId::new(u32::from(glyph));
                KrillaGlyph::new(glyph, advance, 0.0, 0.0, 0.0, range, None)
            })
            .collect()
    }
}

enum Mark {
    Text {
        x: f32,
        y: f32,
        style: Style,
        text: String,
    },
    Line {
        y: f32,
    },
}

/// Pages while they are filled, from the top down.
pub struct Paper {
    regular: Face,
    semibold: Face,
    pages: Vec<Vec<Mark>>,
    y: f32,
    /// Repeated at the top of each new page.
    head: Vec<(f32, f32, &'static str, bool)>,
}

impl Paper {
    pub fn new() -> Self {
        Self {
            regular: Face::new(REGULAR),
            semibold: Face::new(SEMIBOLD),
            pages: vec![Vec::new()],
            y: MARGIN,
            head: Vec::new(),
        }
    }

    fn face(&self, style: Style) -> &Face {
        match style.bold {
            true => &self.semibold,
            false => &self.regular,
        }
    }

    fn put(&mut self, mark: Mark) {
        if let Some(page) = self.pages.last_mut() {
            page.push(mark);
        }
    }

    /// A new page unless `height` is free on this one.
    pub fn need(&mut self, height: f32) {
        if self.y + height <= PAGE.1 - MARGIN - FOOT {
            return;
        }
        self.pages.push(Vec::new());
        self.y = MARGIN;
        let head = self.head.clone();
        if !head.is_empty() {
            self.columns(&head);
        }
    }

    pub fn space(&mut self, height: f32) {
        self.y += height;
    }

    /// A hairline over the whole width.
    pub fn line(&mut self) {
        let y = self.y;
        self.put(Mark::Line { y });
        self.y += 4.0;
    }

    /// A paragraph.
    pub fn text(&mut self, text: &str, style: Style) {
        let cell = Cell {
            at: 0.0,
            width: WIDTH,
            text,
            style,
            right: false,
        };
        self.row(&[cell]);
    }

    /// The heads of columns (begin, width, words, right), here and on each page that follows; none: no more.
    pub fn heads(&mut self, head: &[(f32, f32, &'static str, bool)]) {
        // not yet, or a new page that is needed for them would have them twice
        self.head.clear();
        if !head.is_empty() {
            self.need(60.0);
            self.columns(head);
        }
        self.head = head.to_vec();
    }

    fn columns(&mut self, head: &[(f32, f32, &'static str, bool)]) {
        let cell = |(at, width, text, right): &(f32, f32, &'static str, bool)| Cell {
            at: *at,
            width: *width,
            text,
            style: style(SMALL.size, true),
            right: *right,
        };
        let cells: Vec<Cell<'_>> = head.iter().map(cell).collect();
        self.row(&cells);
        self.line();
    }

    /// Cells beside each other, as high as the highest. A row stays on one page.
    pub fn row(&mut self, cells: &[Cell<'_>]) {
        let lines = cells.iter().map(|cell| {
            let text = self.printable(cell.text);
            self.wrap(&text, cell.style, cell.width)
        });
        let lines: Vec<Vec<String>> = lines.collect();
        let heights = cells.iter().zip(&lines);
        let height = heights
            .map(|(cell, lines)| cell.style.line() * lines.len() as f32)
            .fold(0.0, f32::max);
        self.need(height);
        let top = self.y;
        for (cell, lines) in cells.iter().zip(lines) {
            let mut y = top + cell.style.size;
            for text in lines {
                let free = cell.width - self.face(cell.style).width(&text, cell.style.size);
                let x = MARGIN + cell.at + if cell.right { free.max(0.0) } else { 0.0 };
                let style = cell.style;
                self.put(Mark::Text { x, y, style, text });
                y += style.line();
            }
        }
        self.y = top + height;
    }

    /// Breaks a text into lines: at blanks, and where a word is too long, or a path, after what separates its parts.
    fn wrap(&self, text: &str, style: Style, width: f32) -> Vec<String> {
        let face = self.face(style);
        let fits = |line: &str| face.width(line, style.size) <= width;
        let (mut lines, mut line) = (Vec::new(), String::new());
        for word in text.split_inclusive([' ', '/', '_', '-']) {
            if fits(&(line.clone() + word.trim_end())) {
                line.push_str(word);
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for letter in word.chars() {
                if !line.is_empty() && !fits(&format!("{line}{letter}")) {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(letter);
            }
        }
        lines.push(line);
        lines
    }

    /// Composed letters; code points for what the font does not hold, for control characters and for marks that turn
    /// the direction of reading round, which can make a name read as another.
    fn printable(&self, text: &str) -> String {
        let mut out = String::with_capacity(text.len());
        for letter in text.nfc() {
            let is_deceptive = letter.is_control()
                || matches!(letter, '\u{200B}'..='\u{200F}' | '\u{061C}' | '\u{202A}'..='\u{202E}')
                || matches!(letter, '\u{2060}'..='\u{2069}' | '\u{FEFF}');
            let is_held = self.regular.glyphs.glyph_index(letter).is_some();
            match is_held && !is_deceptive {
                true => out.push(letter),
                false => out.push_str(&format!("[U+{:04X}]", u32::from(letter))),
            }
        }
        out
    }

    /// The document, with `foot` and the page's number at the foot of each page.
    pub fn finish(self, title: &str, foot: &str) -> Result<Vec<u8>, String> {
        let mut document = Document::new();
        let metadata = Metadata::new()
            .title(title.to_owned())
            .language("en-GB".to_owned())
            .creator(concat!("waybill ", env!("CARGO_PKG_VERSION")).to_owned());
        document.set_metadata(metadata);
        let count = self.pages.len();
        for (number, marks) in self.pages.iter().enumerate() {
            let settings = PageSettings::from_wh(PAGE.0, PAGE.1).expect("a size above nought");
            let mut page = document.start_page_with(settings);
            let mut surface = page.surface();
            let foot_y = PAGE.1 - MARGIN;
            let numbers = format!(
                "Page {} of {}",
                grouped(number as u64 + 1),
                grouped(count as u64)
            );
            let right = PAGE.0 - MARGIN - self.regular.width(&numbers, SMALL.size);
            let mark = |x, text: &str| Mark::Text {
                x,
                y: foot_y,
                style: SMALL,
                text: text.to_owned(),
            };
            let foot = [
                Mark::Line { y: foot_y - 12.0 },
                mark(MARGIN, foot),
                mark(right, &numbers),
            ];
            for mark in marks.iter().chain(&foot) {
                self.draw(&mut surface, mark);
            }
            surface.finish();
            page.finish();
        }
        document.finish().map_err(|error| format!("{error:?}"))
    }

    fn draw(&self, surface: &mut krilla::surface::Surface<'_>, mark: &Mark) {
        let ink = rgb::Color::new(0x1d, 0x2a, 0x30);
        match mark {
            Mark::Text { x, y, style, text } => {
                surface.set_stroke(None);
                surface.set_fill(Some(Fill {
                    paint: ink.into(),
                    ..Fill::default()
                }));
                let face = self.face(*style);
                let at = Point::from_xy(*x, *y);
                let glyphs = face.glyphs(text);
                surface.draw_glyphs(at, &glyphs, face.font.clone(), text, style.size, false);
            }
            Mark::Line { y } => {
                surface.set_fill(None);
                surface.set_stroke(Some(Stroke {
                    paint: ink.into(),
                    width: 0.4,
                    ..Stroke::default()
                }));
                let mut path = PathBuilder::new();
                path.move_to(MARGIN, *y);
                path.line_to(PAGE.0 - MARGIN, *y);
                if let Some(path) = path.finish() {
                    surface.draw_path(&path);
                }
            }
        }
    }
}
