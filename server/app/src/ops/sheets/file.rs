//! The bytes of a list as a grid of cells: workbooks (XLSX) and text with separators. Every size is bounded before it is
//! believed: what a workbook's archive unpacks to, rows, columns, the length of cells and of all of them together.

use std::collections::BTreeMap;
use std::io::{Cursor, Read};

use calamine::{DataRef, Reader, Xlsx};
use waybill_domain::sheet::delimited::{self, Limits, Separator, TableError};
use waybill_domain::sheet::serial::{self, Serials};
use waybill_domain::sheet::{Cell, GridRow};
use waybill_domain::textio;
use waybill_reports::csv::restore;

use crate::error::OpError;

/// Most rows with content, headings included, and most columns.
pub const LIMITS: Limits = Limits {
    rows: 20_001,
    columns: 200,
};
/// Most bytes that a workbook's archive may unpack to.
const UNPACKED: u64 = 150 * 1024 * 1024;
/// Most parts of an archive.
const PARTS: usize = 2_000;
/// Most characters of text in all cells together.
const TEXT: usize = 40_000_000;

/// A file that was read.
#[derive(Debug, Default)]
pub struct Book {
    /// The sheets of a workbook; none of a text file.
    pub sheets: Vec<String>,
    /// The one that was read.
    pub sheet: Option<String>,
    /// What parts the cells of a text file.
    pub separator: Option<Separator>,
    /// How the bytes of a text file were read.
    pub encoding: Option<&'static str>,
    /// From which year the workbook counts days.
    pub serials: Option<Serials>,
    /// What had to be assumed, in sentences.
    pub warnings: Vec<String>,
    /// Rows with content.
    pub rows: Vec<GridRow>,
}

/// Why a file is no list that can be read. Each says what to do.
#[derive(Debug, thiserror::Error)]
pub enum SheetError {
    #[error("{0}")]
    Text(#[from] textio::TextError),
    #[error("{0}")]
    Table(#[from] TableError),
    #[error("the workbook can't be read ({0}); save it again as XLSX, or as CSV")]
    Workbook(String),
    #[error(
        "this is an old kind of workbook or a document with a password; save it as XLSX without a password, or as CSV"
    )]
    Old,
    #[error("the workbook unpacks to more than {} MB; copy the list alone into a new workbook", UNPACKED >> 20)]
    Bomb,
    #[error("the workbook has no sheet called “{0}”; choose another")]
    NoSheet(String),
    #[error("there is no row with content in it; choose another sheet or file")]
    Empty,
    #[error("row {0} has something in a column beyond the {max}th; delete it, or copy the list alone into a new workbook", max = LIMITS.columns)]
    Wide(u32),
    #[error("the cells hold more text than fits into a list; take long texts out of it")]
    Long,
}

impl From<SheetError> for OpError {
    fn from(error: SheetError) -> Self {
        match error {
            SheetError::Bomb | SheetError::Long | SheetError::Table(TableError::Rows(_)) => {
                Self::TooLarge(error.to_string())
            }
            SheetError::Old | SheetError::Text(textio::TextError::Known(_)) => {
                Self::UnsupportedType(error.to_string())
            }
            other => Self::BadRequest(other.to_string()),
        }
    }
}

/// Reads a file. `sheet`: one of a workbook; the first with content when none is named. `separator`: of a text file.
///
/// # Errors
/// See [`SheetError`].
pub fn open(
    content: &[u8],
    sheet: Option<&str>,
    separator: Option<Separator>,
) -> Result<Book, SheetError> {
    if content.starts_with(b"\xd0\xcf\x11\xe0") {
        return Err(SheetError::Old);
    }
    let book = if content.starts_with(b"PK\x03\x04") {
        workbook(content, sheet)?
    } else {
        text(content, separator)?
    };
    if book.rows.is_empty() {
        return Err(SheetError::Empty);
    }
    Ok(book)
}

fn text(content: &[u8], separator: Option<Separator>) -> Result<Book, SheetError> {
    let decoded = textio::decode(content)?;
    let separator = separator.unwrap_or_else(|| delimited::detect(&decoded.text));
    let mut rows = delimited::read(&decoded.text, separator, LIMITS)?;
    for cell in rows.iter_mut().flat_map(|row| &mut row.cells) {
        // The apostrophe that keeps a spreadsheet from running a text is ours to take off again.
        if let Cell::Text(text) = cell
            && restore(text).len() < text.len()
        {
            *text = restore(text).to_owned();
        }
    }
    Ok(Book {
        separator: Some(separator),
        encoding: Some(decoded.encoding),
        warnings: decoded.warning.into_iter().collect(),
        rows,
        ..Book::default()
    })
}

fn workbook(content: &[u8], sheet: Option<&str>) -> Result<Book, SheetError> {
    unpacked_size(content, UNPACKED)?;
    let fault = |error: calamine::XlsxError| SheetError::Workbook(error.to_string());
    let mut file: Xlsx<_> = Xlsx::new(Cursor::new(content)).map_err(fault)?;
    let sheets: Vec<String> = file.sheet_names();
    let serials = if file.has_1904_epoch() {
        Serials::From1904
    } else {
        Serials::From1900
    };
    let mut book = Book {
        serials: Some(serials),
        ..Book::default()
    };
    if let Some(name) = sheet {
        if !sheets.iter().any(|known| known == name) {
            return Err(SheetError::NoSheet(name.chars().take(60).collect()));
        }
        book.rows = cells(&mut file, name, serials)?;
        book.sheet = Some(name.to_owned());
    } else {
        for name in sheets.iter().take(50) {
            // A sheet that holds only a chart is none to choose.
            let Ok(rows) = cells(&mut file, name, serials) else {
                continue;
            };
            if !rows.is_empty() {
                book.rows = rows;
                book.sheet = Some(name.clone());
                break;
            }
        }
        if book.rows.is_empty() {
            // Says what is wrong with the first one, if anything is.
            let first = sheets.first().ok_or(SheetError::Empty)?;
            cells(&mut file, first, serials)?;
        }
    }
    book.sheets = sheets;
    Ok(book)
}

/// Unpacks everything once into nothing, counting: what an archive says of its own sizes may be a lie.
fn unpacked_size(content: &[u8], most: u64) -> Result<(), SheetError> {
    let fault = |error: String| SheetError::Workbook(error);
    let mut archive =
        zip::ZipArchive::new(Cursor::new(content)).map_err(|error| fault(error.to_string()))?;
    if archive.len() > PARTS {
        return Err(SheetError::Bomb);
    }
    let mut left = most;
    for at in 0..archive.len() {
        let part = archive
            .by_index(at)
            .map_err(|error| fault(error.to_string()))?;
        let read = std::io::copy(&mut part.take(left + 1), &mut std::io::sink())
            .map_err(|error| fault(error.to_string()))?;
        left = left.checked_sub(read).ok_or(SheetError::Bomb)?;
    }
    Ok(())
}

/// The cells of a sheet, as they stream by: a sheet whose only cells are the first and the last is small.
fn cells(
    file: &mut Xlsx<Cursor<&[u8]>>,
    sheet: &str,
    serials: Serials,
) -> Result<Vec<GridRow>, SheetError> {
    let fault = |error: calamine::XlsxError| SheetError::Workbook(error.to_string());
    let merged: Vec<_> = file.merge_cells_by_sheet_name(sheet).unwrap_or_default();
    let mut rows: BTreeMap<u32, Vec<Cell>> = BTreeMap::new();
    let mut length = 0_usize;
    let mut reader = file.worksheet_cells_reader(sheet).map_err(fault)?;
    while let Some(cell) = reader.next_cell_with_formula_metadata().map_err(fault)? {
        let (row, column) = cell.pos;
        let value = match (&cell.value, cell.formula.is_some()) {
            (DataRef::Empty, true) => Cell::Broken(not_worked_out(sheet, row, column)),
            (found, _) => value(found, serials),
        };
        if value.is_empty() {
            continue;
        }
        let column = column as usize;
        if column >= LIMITS.columns {
            return Err(SheetError::Wide(row.saturating_add(1)));
        }
        if let Cell::Text(text) = &value {
            length += text.len();
            if length > TEXT {
                return Err(SheetError::Long);
            }
        }
        if !rows.contains_key(&row) && rows.len() == LIMITS.rows {
            return Err(TableError::Rows(LIMITS.rows).into());
        }
        let cells = rows.entry(row).or_default();
        if cells.len() <= column {
            cells.resize(column + 1, Cell::Empty);
        }
        cells[column] = value;
    }
    // A heading over two rows stands in the upper one; below it the headings of its columns may stand.
    for area in merged
        .iter()
        .filter(|area| area.end.0 > area.start.0 && area.end.0 - area.start.0 < 4)
    {
        let at = area.start.1 as usize;
        let above = rows
            .get(&area.start.0)
            .and_then(|cells| cells.get(at))
            .cloned();
        if let (Some(above), Some(below)) = (above, rows.get_mut(&area.end.0))
            && at < LIMITS.columns
        {
            if below.len() <= at {
                below.resize(at + 1, Cell::Empty);
            }
            if below[at].is_empty() {
                below[at] = above;
            }
        }
    }
    Ok(rows
        .into_iter()
        .map(|(row, cells)| GridRow {
            number: row.saturating_add(1),
            cells,
        })
        .collect())
}

/// A formula that the program which wrote the file never worked out: what it comes to is not in the file, and is not
/// nothing.
fn not_worked_out(sheet: &str, row: u32, column: u32) -> String {
    format!(
        "the formula in row {}, column {} of the sheet “{sheet}” has no value stored with it; open the workbook in a \
         spreadsheet program and save it there, so that it is worked out",
        row.saturating_add(1),
        letters(column)
    )
}

/// The name of a column as spreadsheets write it: `A` for the first, `AA` for the 27th.
fn letters(column: u32) -> String {
    let (mut left, mut out) = (column, Vec::new());
    loop {
        out.push(char::from(b'A' + u8::try_from(left % 26).unwrap_or(0)));
        if left < 26 {
            return out.iter().rev().collect();
        }
        left = left / 26 - 1;
    }
}

fn value(value: &DataRef<'_>, serials: Serials) -> Cell {
    match value {
        DataRef::Empty => Cell::Empty,
        DataRef::Int(number) => Cell::Number(*number as f64),
        DataRef::Float(number) => Cell::Number(*number),
        DataRef::String(text) => Cell::text(text.clone()),
        DataRef::SharedString(text) => Cell::text(*text),
        DataRef::Bool(yes) => Cell::YesNo(*yes),
        DataRef::DateTime(at) if at.is_datetime() => {
            serial::day(at.as_f64(), serials).map_or(Cell::Number(at.as_f64()), Cell::Day)
        }
        DataRef::DateTime(at) => Cell::Number(at.as_f64()),
        DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => Cell::text(text.clone()),
        DataRef::Error(error) => Cell::Broken(error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use std::io::Write;

    use super::*;

    #[test]
    fn an_archive_that_unpacks_to_too_much_is_refused_before_it_is_read() {
        let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for name in ["a", "b"] {
            archive
                .start_file(name, zip::write::SimpleFileOptions::default())
                .unwrap();
            archive.write_all(&vec![b'0'; 600_000]).unwrap();
        }
        let bytes = archive.finish().unwrap().into_inner();
        assert!(bytes.len() < 10_000);
        assert!(unpacked_size(&bytes, 1_200_000).is_ok());
        assert!(matches!(
            unpacked_size(&bytes, 1_199_999),
            Err(SheetError::Bomb)
        ));
        assert!(matches!(
            open(&bytes, None, None),
            Err(SheetError::Workbook(_))
        ));
        assert!(matches!(
            open(b"\xd0\xcf\x11\xe0", None, None),
            Err(SheetError::Old)
        ));
        assert!(matches!(
            open(b" \n,,\n", None, None),
            Err(SheetError::Empty)
        ));
    }

    /// Source: ECMA-376 part 1, 18.3.1.4 and 18.3.1.40: a cell has its formula in `f` and what it came to in `v`, which may be
    /// missing. A formula that came to an empty text is blank.
    #[test]
    fn a_formula_without_its_value_is_not_nothing() {
        let mut book = rust_xlsxwriter::Workbook::new();
        let sheet = book.add_worksheet();
        sheet.set_name("Crew").unwrap();
        for (at, heading) in ["Name", "Contact", "Notes"].into_iter().enumerate() {
            sheet.write_string(0, at as u16, heading).unwrap();
        }
        sheet.write_string(1, 0, "Ines Corrow").unwrap();
        let bare = rust_xlsxwriter::Formula::new("=A9+7").set_result("7");
        sheet.write_formula(1, 1, bare).unwrap();
        let worked = rust_xlsxwriter::Formula::new("=A9").set_result("here");
        sheet.write_formula(1, 2, worked).unwrap();
        let written = book.save_to_buffer().unwrap();
        // as programs leave it that write formulas and work none out
        let bare = rewritten(&written, "<v>7</v>", "");
        let book = open(&bare, None, None).unwrap();
        let cells = &book.rows[1].cells;
        let Cell::Broken(words) = &cells[1] else {
            panic!("{cells:?}");
        };
        assert!(
            words.contains("row 2, column B of the sheet “Crew”"),
            "{words}"
        );
        assert_eq!(cells[2], Cell::text("here"));
        let blank = rewritten(&written, "here", "");
        let book = open(&blank, None, None).unwrap();
        assert!(book.rows[1].cell(2).is_empty());
        assert_eq!(
            [0, 25, 26, 701, 702].map(letters),
            ["A", "Z", "AA", "ZZ", "AAA"]
        );
    }

    /// The workbook with a text in its first sheet put in another's place.
    fn rewritten(book: &[u8], from: &str, to: &str) -> Vec<u8> {
        let mut old = zip::ZipArchive::new(Cursor::new(book)).unwrap();
        let mut new = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for at in 0..old.len() {
            let mut part = old.by_index(at).unwrap();
            let mut bytes = Vec::new();
            part.read_to_end(&mut bytes).unwrap();
            let name = part.name().unwrap().into_owned();
            if name.ends_with("sheet1.xml") {
                let text = String::from_utf8(bytes).unwrap();
                assert!(text.contains(from), "{text}");
                bytes = text.replace(from, to).into_bytes();
            }
            new.start_file(name, zip::write::SimpleFileOptions::default())
                .unwrap();
            new.write_all(&bytes).unwrap();
        }
        new.finish().unwrap().into_inner()
    }

    /// A sheet whose only cells are far apart takes no more room than its cells.
    #[test]
    fn a_sheet_with_a_cell_far_away_is_small_or_refused() {
        let far = |row: u32, column: u16| {
            let mut book = rust_xlsxwriter::Workbook::new();
            let sheet = book.add_worksheet();
            sheet.write_string(0, 0, "Name").unwrap();
            sheet.write_string(row, column, "x").unwrap();
            open(&book.save_to_buffer().unwrap(), None, None)
        };
        let book = far(1_048_575, 3).unwrap();
        assert_eq!(book.rows.len(), 2);
        assert_eq!(book.rows[1].number, 1_048_576);
        assert!(matches!(far(1, 16_383), Err(SheetError::Wide(2))));
    }
}
