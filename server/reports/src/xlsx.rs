//! The report as a workbook: Summary, Elements, Uses, Days ahead, Assumptions and cautions.
//!
//! Dates and lengths are typed, so they sort and add up; every text is written as text, never as a
//! formula or a link. Headers are frozen and filtered, and each sheet prints on A4 as it stands.

mod sheets;

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, Timelike};
use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet,
    XlsxError,
};
use waybill_domain::report::{ClearanceReport, ReportState};

use crate::{ReportError, check_size};

/// Most letters that a cell may hold, by the file format (ECMA-376, Excel's limit of 32,767).
const MOST_LETTERS: usize = 32_767;

/// Writes the report as a workbook. The same report gives the same bytes.
///
/// # Errors
/// When the report is too large ([`ReportError::TooLarge`]) or the writer refuses.
pub fn render_xlsx(report: &ClearanceReport) -> Result<Vec<u8>, ReportError> {
    check_size(report)?;
    let mut book = Workbook::new();
    book.set_properties(&properties(report)?);
    let styles = Styles::new();
    for (name, fill) in sheets::ALL {
        let sheet = book.add_worksheet();
        sheet.set_name(name)?;
        fill(
            &mut Pen {
                sheet,
                styles: &styles,
                widths: vec![],
                lines: 1,
            },
            report,
        )?;
        print_setup(sheet, name, report)?;
    }
    Ok(book.save_to_buffer()?)
}

/// Title, author and the report's own date: never the clock's.
fn properties(report: &ClearanceReport) -> Result<DocProperties, XlsxError> {
    let header = &report.header;
    let title = format!(
        "Clearance and asset report: {}, episode {}",
        header.series,
        header.episode()
    );
    Ok(DocProperties::new()
        .set_title(title)
        .set_author(&header.producer_entity)
        .set_comment("Not legal advice. Counsel and local law decide.")
        .set_creation_datetime(&moment(header.made_local())?))
}

fn print_setup(
    sheet: &mut Worksheet,
    name: &str,
    report: &ClearanceReport,
) -> Result<(), XlsxError> {
    let header = &report.header;
    // An ampersand starts a command in page headers and footers; two stand for one. The file
    // format allows 255 letters in all.
    let plain = |text: &str| text.chars().take(60).collect::<String>().replace('&', "&&");
    let left = format!("{} · {}", header.series, header.episode());
    // The elements have sixteen columns: A3 (paper size 8) keeps them readable; the rest is A4.
    let paper = if name == "Elements" { 8 } else { 9 };
    sheet
        .set_paper_size(paper)
        .set_landscape()
        .set_print_fit_to_pages(1, 0);
    sheet.set_margins(0.5, 0.5, 0.75, 0.75, 0.3, 0.3);
    sheet.set_header(format!(
        "&L{}&R{} · &A",
        plain(&left),
        plain(&header.cut_name)
    ));
    sheet.set_footer("&LNot legal advice. Counsel and local law decide.&RPage &P of &N");
    Ok(())
}

/// The few formats of the workbook.
struct Styles {
    title: Format,
    heading: Format,
    head: Format,
    text: Format,
    plain: Format,
    strong: Format,
    label: Format,
    date: Format,
    plain_day: Format,
    plain_number: Format,
    plain_length: Format,
    moment: Format,
    length: Format,
    number: Format,
}

impl Styles {
    fn new() -> Self {
        let base = || {
            Format::new()
                .set_font_name("Arial")
                .set_font_size(10)
                .set_font_color(Color::RGB(0x001d_2a30))
                .set_align(FormatAlign::Top)
        };
        let cell = || {
            base()
                .set_border_bottom(FormatBorder::Hair)
                .set_border_bottom_color(Color::RGB(0x00e0_dbd0))
        };
        let plain = || base().set_align(FormatAlign::Left);
        let left = || cell().set_align(FormatAlign::Left);
        let figure = || cell().set_align(FormatAlign::Right).set_indent(1);
        Self {
            title: base().set_font_size(18).set_bold(),
            heading: base()
                .set_font_size(12)
                .set_bold()
                .set_font_color(Color::RGB(0x000f_5e66)),
            head: base()
                .set_bold()
                .set_text_wrap()
                .set_background_color(Color::RGB(0x00f1_ede4))
                .set_border_bottom(FormatBorder::Thin),
            text: left().set_text_wrap(),
            plain: plain().set_text_wrap(),
            strong: left().set_text_wrap().set_bold(),
            label: base().set_font_color(Color::RGB(0x0053_626a)),
            date: left().set_num_format("d mmm yyyy"),
            plain_day: plain().set_num_format("d mmm yyyy"),
            plain_number: plain().set_num_format("#,##0"),
            plain_length: plain().set_num_format("[h]:mm:ss"),
            moment: plain().set_num_format("d mmm yyyy hh:mm"),
            length: left().set_num_format("[h]:mm:ss"),
            number: figure().set_num_format("#,##0"),
        }
    }

    const fn state(&self, state: ReportState) -> &Format {
        if state.blocks() {
            &self.strong
        } else {
            &self.text
        }
    }
}

/// A sheet with the workbook's formats: the only way in which this crate writes cells.
struct Pen<'a> {
    sheet: &'a mut Worksheet,
    styles: &'a Styles,
    /// Widths of the columns, in letters.
    widths: Vec<f64>,
    /// Lines that the fullest cell of the row in hand needs.
    lines: u32,
}

impl Pen<'_> {
    fn text(&mut self, row: u32, column: u16, text: &str) -> Result<(), XlsxError> {
        self.styled(row, column, text, &self.styles.text)
    }

    /// Text as text. A text beyond the format's limit says that it goes on elsewhere.
    fn styled(&mut self, row: u32, column: u16, text: &str, how: &Format) -> Result<(), XlsxError> {
        self.lines = self.lines.max(self.lines_for(column, text));
        if text.chars().count() <= MOST_LETTERS {
            self.sheet
                .write_string_with_format(row, column, text, how)?;
        } else {
            let rest = " … (too long for a cell: the JSON form holds it all)";
            let room = MOST_LETTERS - rest.chars().count();
            let cut: String = text.chars().take(room).chain(rest.chars()).collect();
            self.sheet.write_string_with_format(row, column, cut, how)?;
        }
        Ok(())
    }

    /// How many lines a text takes in a column, a little on the safe side.
    fn lines_for(&self, column: u16, text: &str) -> u32 {
        let width = self
            .widths
            .get(usize::from(column))
            .copied()
            .unwrap_or(f64::MAX);
        let one = |line: &str| {
            let letters = u32::try_from(line.chars().count()).unwrap_or(u32::MAX);
            (1..30).find(|lines| f64::from(letters) <= f64::from(*lines) * width * 0.95 - 1.0)
        };
        text.lines().map(|line| one(line).unwrap_or(30)).sum()
    }

    fn columns(&mut self, widths: &[f64]) -> Result<(), XlsxError> {
        for (column, width) in (0_u16..).zip(widths) {
            self.sheet.set_column_width(column, *width)?;
        }
        self.widths = widths.to_vec();
        Ok(())
    }

    /// Ends a row: gives it the height that its fullest cell needs (409 points are the limit of the
    /// format), because not every program works that out when it opens a file.
    fn end_row(&mut self, row: u32) -> Result<(), XlsxError> {
        let height = (f64::from(self.lines) * 12.8 + 3.0).min(409.0);
        self.sheet.set_row_height(row, height)?;
        self.lines = 1;
        Ok(())
    }

    fn number(&mut self, row: u32, column: u16, number: u32) -> Result<(), XlsxError> {
        self.sheet
            .write_number_with_format(row, column, number, &self.styles.number)?;
        Ok(())
    }

    /// A day of a list; an empty cell when there is none.
    fn day(&mut self, row: u32, column: u16, day: Option<NaiveDate>) -> Result<(), XlsxError> {
        match day {
            Some(day) => self.styled_day(row, column, day, &self.styles.date),
            None => self.text(row, column, ""),
        }
    }

    fn styled_day(
        &mut self,
        row: u32,
        column: u16,
        day: NaiveDate,
        how: &Format,
    ) -> Result<(), XlsxError> {
        match excel_day(day) {
            Ok(day) => {
                self.sheet
                    .write_datetime_with_format(row, column, &day, how)?;
                Ok(())
            }
            // The format has no days before 1900 or after 9999: then the words stand.
            Err(_) => self.text(row, column, &waybill_domain::wording::date_words(day)),
        }
    }

    fn moment(&mut self, row: u32, column: u16, at: NaiveDateTime) -> Result<(), XlsxError> {
        let at = moment(at)?;
        self.sheet
            .write_datetime_with_format(row, column, &at, &self.styles.moment)?;
        Ok(())
    }

    /// A length of real time as a fraction of a day, shown as hours, minutes and seconds.
    fn length(&mut self, row: u32, column: u16, seconds: f64) -> Result<(), XlsxError> {
        let days = seconds / 86_400.0;
        self.sheet
            .write_number_with_format(row, column, days, &self.styles.length)?;
        Ok(())
    }

    /// The header row of a list: frozen, filtered over `rows` records, repeated on each page.
    fn head(&mut self, columns: &[(&str, f64)], rows: usize) -> Result<(), XlsxError> {
        self.columns(&columns.iter().map(|(_, width)| *width).collect::<Vec<_>>())?;
        for (column, (name, _)) in (0_u16..).zip(columns) {
            self.styled(0, column, name, &self.styles.head)?;
        }
        self.end_row(0)?;
        let last_row = u32::try_from(rows).unwrap_or(u32::MAX);
        let last_column = u16::try_from(columns.len())
            .unwrap_or(u16::MAX)
            .saturating_sub(1);
        self.sheet.set_freeze_panes(1, 0)?;
        self.sheet.set_repeat_rows(0, 0)?;
        self.sheet.autofilter(0, 0, last_row, last_column)?;
        Ok(())
    }
}

fn excel_day(day: NaiveDate) -> Result<ExcelDateTime, XlsxError> {
    let year = u16::try_from(day.year()).unwrap_or(0);
    ExcelDateTime::from_ymd(year, clamp(day.month()), clamp(day.day()))
}

fn moment(at: NaiveDateTime) -> Result<ExcelDateTime, XlsxError> {
    excel_day(at.date())?.and_hms(
        u16::try_from(at.hour()).unwrap_or(0),
        clamp(at.minute()),
        f64::from(at.second()),
    )
}

/// Months, days and minutes are below 60.
fn clamp(part: u32) -> u8 {
    u8::try_from(part).unwrap_or(0)
}

/// An instant on the wall clock of the series.
fn wall_clock<Z: chrono::TimeZone>(report: &ClearanceReport, at: &DateTime<Z>) -> NaiveDateTime {
    waybill_domain::wording::local(at.with_timezone(&chrono::Utc), &report.header.time_zone)
}
