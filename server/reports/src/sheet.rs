//! A list of records as CSV or XLSX, for people and to be brought in again. No cell can be run as a
//! formula: see [`crate::csv::neutralise`]; in a workbook texts are texts.

use chrono::{Datelike, NaiveDate};
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
use waybill_domain::sheet::Cell;

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

/// The table as a workbook with one sheet; days are dates of the sheet where it has them.
///
/// # Errors
/// When the writer refuses.
pub fn xlsx(table: &SheetTable) -> Result<Vec<u8>, ReportError> {
    let mut book = Workbook::new();
    let bold = Format::new().set_bold();
    let day = Format::new().set_num_format("yyyy-mm-dd");
    let sheet = book.add_worksheet();
    sheet.set_name(table.name.chars().take(31).collect::<String>())?;
    sheet.set_freeze_panes(1, 0)?;
    for (column, heading) in (0_u16..).zip(&table.headings) {
        sheet.write_string_with_format(0, column, heading, &bold)?;
    }
    for (row, cells) in (1_u32..).zip(&table.rows) {
        for (column, cell) in (0_u16..).zip(cells) {
            match cell {
                Cell::Empty => {}
                Cell::Day(date) => match excel(*date) {
                    Some(at) => {
                        sheet.write_datetime_with_format(row, column, at, &day)?;
                    }
                    None => {
                        sheet.write_string(row, column, date.to_string())?;
                    }
                },
                Cell::Number(number) => {
                    sheet.write_number(row, column, *number)?;
                }
                other => {
                    sheet.write_string(row, column, other.shown())?;
                }
            }
        }
    }
    Ok(book.save_to_buffer()?)
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
