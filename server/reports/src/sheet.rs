//! A list of records as CSV or XLSX, for people and to be brought in again. No cell can be run as a
//! formula: see [`crate::csv::neutralise`]; in a workbook texts are texts.

use chrono::{Datelike, NaiveDate};
use rust_xlsxwriter::{ExcelDateTime, Format, FormatAlign, Workbook};
use waybill_domain::sheet::Cell;
use waybill_domain::sheet::headings::ID_HEADING;

use crate::ReportError;
use crate::csv::neutralise;

/// A table with headings.
#[derive(Clone, Debug, Default)]
pub struct SheetTable {
    /// Name of the sheet in a workbook.
    pub name: String,
    /// One per column.
    pub headings: Vec<String>,
    /// As wide as the headings.
    pub rows: Vec<Vec<Cell>>,
    /// Columns whose cells are numbers, written out digit by digit (`1180.00`): a workbook holds them as numbers.
    pub numbers: Vec<usize>,
}

/// The table as CSV: UTF-8 with a byte order mark, RFC 4180.
///
/// # Errors
/// When the writer refuses.
pub fn csv(table: &SheetTable) -> Result<Vec<u8>, ReportError> {
    let mut out = vec![0xEF, 0xBB, 0xBF];
    {
        let mut writer = ::csv::WriterBuilder::new()
            .terminator(::csv::Terminator::CRLF)
            .from_writer(&mut out);
        writer.write_record(
            table
                .headings
                .iter()
                .map(|text| neutralise(text).into_owned()),
        )?;
        for row in &table.rows {
            writer.write_record(
                row.iter()
                    .map(|cell| neutralise(&cell.shown()).into_owned()),
            )?;
        }
        writer.flush().map_err(::csv::Error::from)?;
    }
    Ok(out)
}

/// The table as a workbook with one sheet: headings frozen and filtered, columns as wide as what stands in them, to a
/// width that can be read; days are dates of the sheet where it has them.
///
/// # Errors
/// When the writer refuses.
pub fn xlsx(table: &SheetTable) -> Result<Vec<u8>, ReportError> {
    let mut book = Workbook::new();
    let top = || Format::new().set_align(FormatAlign::Top);
    let bold = top().set_bold().set_text_wrap();
    let text = top().set_text_wrap();
    let plain = top();
    let day = top().set_num_format("yyyy-mm-dd");
    let sheet = book.add_worksheet();
    sheet.set_name(table.name.chars().take(31).collect::<String>())?;
    sheet.set_freeze_panes(1, 0)?;
    for (column, heading) in (0_u16..).zip(&table.headings) {
        sheet.write_string_with_format(0, column, heading, &bold)?;
        sheet.set_column_width(column, width(table, column.into()))?;
    }
    if let Some(last) = u16::try_from(table.headings.len())
        .ok()
        .and_then(|n| n.checked_sub(1))
    {
        let rows = u32::try_from(table.rows.len()).unwrap_or(u32::MAX);
        sheet.autofilter(0, 0, rows, last)?;
    }
    sheet
        .set_repeat_rows(0, 0)?
        .set_landscape()
        .set_print_fit_to_pages(1, 0);
    for (row, cells) in (1_u32..).zip(&table.rows) {
        for (column, cell) in (0_u16..).zip(cells) {
            match cell {
                Cell::Empty => {}
                Cell::Day(date) => match excel(*date) {
                    Some(at) => {
                        sheet.write_datetime_with_format(row, column, at, &day)?;
                    }
                    None => {
                        sheet.write_string_with_format(row, column, date.to_string(), &plain)?;
                    }
                },
                Cell::Number(number) => {
                    sheet.write_number_with_format(row, column, *number, &plain)?;
                }
                other => {
                    let shown = other.shown();
                    match table.number(column, &shown) {
                        Some((number, look)) => {
                            sheet.write_number_with_format(row, column, number, &look)?
                        }
                        None if is_id(table, column.into()) => {
                            sheet.write_string_with_format(row, column, shown, &plain)?
                        }
                        None => sheet.write_string_with_format(row, column, shown, &text)?,
                    };
                }
            }
        }
    }
    Ok(book.save_to_buffer()?)
}

impl SheetTable {
    /// The number in a cell of a column of numbers, and how it is shown with all its digits. None where it is no number
    /// (several amounts in one cell), or has more digits than a workbook keeps.
    fn number(&self, column: u16, shown: &str) -> Option<(f64, Format)> {
        const DIGITS_KEPT: usize = 15;
        let digits = shown.chars().filter(char::is_ascii_digit).count();
        let number: f64 = (self.numbers.contains(&column.into()) && digits <= DIGITS_KEPT)
            .then(|| shown.parse().ok())??;
        let behind = shown.split_once('.').map_or(0, |(_, part)| part.len());
        let how = match behind {
            0 => "#,##0".to_owned(),
            n => format!("#,##0.{}", "0".repeat(n)),
        };
        let look = Format::new().set_align(FormatAlign::Top);
        Some((number, look.set_num_format(how)))
    }
}

fn is_id(table: &SheetTable, column: usize) -> bool {
    table
        .headings
        .get(column)
        .is_some_and(|name| name == ID_HEADING)
}

/// Letters that the widest line of a column needs, between what a heading and what a reader needs. Ids are for the
/// program: they need not be read whole.
fn width(table: &SheetTable, column: usize) -> f64 {
    const LEAST: usize = 8;
    const MOST: usize = 44;
    if is_id(table, column) {
        return 12.0;
    }
    let cells = table.rows.iter().filter_map(|row| row.get(column));
    let widest = cells
        .map(|cell| {
            cell.shown()
                .lines()
                .map(|line| line.chars().count())
                .max()
                .unwrap_or(0)
        })
        .max()
        .unwrap_or(0);
    // The button of the filter stands in the heading's cell.
    let heading = table
        .headings
        .get(column)
        .map_or(0, |name| name.chars().count() + 3);
    let letters = widest.clamp(LEAST, MOST).max(heading.min(MOST / 2)) + 2;
    u32::try_from(letters).map_or(20.0, f64::from)
}

/// A day that a sheet can count; those before March 1900 are written as text.
fn excel(date: NaiveDate) -> Option<ExcelDateTime> {
    let year = u16::try_from(date.year())
        .ok()
        .filter(|year| *year > 1900)?;
    ExcelDateTime::from_ymd(
        year,
        u8::try_from(date.month()).ok()?,
        u8::try_from(date.day()).ok()?,
    )
    .ok()
}

#[cfg(test)]
mod tests {
    use calamine::{Data, Reader, Xlsx, open_workbook_from_rs};

    use super::*;

    /// Read with the `calamine` crate: amounts add up, what is no single number stays as it is, and the table form has
    /// the digits of the currency.
    #[test]
    fn numbers_are_numbers() {
        let table = SheetTable {
            name: "Licences".into(),
            headings: ["Waybill id", "Fee", "Reference"].map(str::to_owned).into(),
            rows: [["a", "1180.00", "0042"], ["b", "1: 20.00; 2: 30.00", "7"]]
                .map(|row| row.map(Cell::text).into())
                .into(),
            numbers: vec![1],
        };
        let bytes = xlsx(&table).expect("made");
        let mut book: Xlsx<_> =
            open_workbook_from_rs(std::io::Cursor::new(bytes)).expect("a workbook");
        let sheet = book.worksheet_range("Licences").expect("a sheet");
        assert_eq!(sheet.get_value((1, 1)), Some(&Data::Float(1180.0)));
        let several = Data::String("1: 20.00; 2: 30.00".into());
        assert_eq!(sheet.get_value((2, 1)), Some(&several));
        assert_eq!(sheet.get_value((1, 2)), Some(&Data::String("0042".into())));
        let text = String::from_utf8(csv(&table).expect("made")).expect("UTF-8");
        assert!(text.contains("a,1180.00,0042"), "{text}");
    }
}
