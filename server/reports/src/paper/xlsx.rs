//! A paper as a workbook: the head, then a sheet for each section. Numbers, days and lengths are typed, so that they sort
//! and add up; all else is text, never a formula.

use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet,
    XlsxError,
};
use waybill_domain::papers::{PaperSection, PrintedPaper};
use waybill_domain::wording::date_words;

use crate::ReportError;

/// Most letters in a cell (ECMA-376, Excel's limit).
const MOST_LETTERS: usize = 32_767;

struct Looks {
    title: Format,
    label: Format,
    head: Format,
    text: Format,
    open: Format,
    number: Format,
    amount: Format,
    day: Format,
    minutes: Format,
    hours: Format,
}

impl Looks {
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
                .set_text_wrap()
                .set_border_bottom(FormatBorder::Hair)
                .set_border_bottom_color(Color::RGB(0x00e0_dbd0))
        };
        Self {
            title: base().set_font_size(18).set_bold(),
            label: base().set_bold(),
            head: base()
                .set_bold()
                .set_text_wrap()
                .set_background_color(Color::RGB(0x00f1_ede4))
                .set_border_bottom(FormatBorder::Thin),
            text: cell(),
            open: cell().set_bold(),
            number: cell().set_align(FormatAlign::Right),
            amount: cell()
                .set_align(FormatAlign::Right)
                .set_num_format("#,##0.00"),
            day: cell()
                .set_align(FormatAlign::Left)
                .set_num_format("d mmm yyyy"),
            minutes: cell()
                .set_align(FormatAlign::Right)
                .set_num_format("[m]:ss"),
            hours: cell()
                .set_align(FormatAlign::Right)
                .set_num_format("[h]:mm:ss"),
        }
    }
}

/// The workbook of a paper.
pub(super) fn workbook(paper: &PrintedPaper) -> Result<Vec<u8>, ReportError> {
    let mut book = Workbook::new();
    book.set_properties(&properties(paper)?);
    let looks = Looks::new();
    let mut names = vec!["Head".to_owned()];
    let head = book.add_worksheet();
    head.set_name("Head")?;
    write_head(head, paper, &looks)?;
    for section in &paper.sections {
        let name = sheet_name(&section.title, &names);
        let sheet = book.add_worksheet();
        sheet.set_name(&name)?;
        names.push(name);
        write_section(sheet, section, &looks)?;
        print_setup(sheet, paper)?;
    }
    Ok(book.save_to_buffer()?)
}

/// Title, author and the paper's own date: never the clock's.
fn properties(paper: &PrintedPaper) -> Result<DocProperties, XlsxError> {
    use chrono::{Datelike, Timelike};
    let at = paper.made_local();
    let small = |part: u32| u8::try_from(part).unwrap_or(0);
    let day = rust_xlsxwriter::ExcelDateTime::from_ymd(
        u16::try_from(at.year()).unwrap_or(1900),
        small(at.month()),
        small(at.day()),
    )?;
    let moment = day.and_hms(
        u16::try_from(at.hour()).unwrap_or(0),
        small(at.minute()),
        f64::from(at.second()),
    )?;
    Ok(DocProperties::new()
        .set_title(paper.whole_title())
        .set_author(&paper.made_by)
        .set_comment("Not legal advice. Counsel and local law decide.")
        .set_creation_datetime(&moment))
}

/// Most letters of a sheet's name (ECMA-376, Excel's limit).
const MOST_IN_NAME: usize = 31;

/// None of the letters that the format forbids, not too long, and none twice.
fn sheet_name(title: &str, taken: &[String]) -> String {
    let allowed: String = title
        .chars()
        .map(|c| if "[]:*?/\\'".contains(c) { ' ' } else { c })
        .collect();
    let plain = whole_words(allowed.trim(), MOST_IN_NAME);
    let plain = if plain.is_empty() { "List" } else { &plain };
    let same = |name: &str| taken.iter().any(|one| one.eq_ignore_ascii_case(name));
    let mut name = plain.to_owned();
    let mut number = 2;
    while same(&name) {
        let ending = format!(" {number}");
        name = whole_words(plain, MOST_IN_NAME - ending.len()) + &ending;
        number += 1;
    }
    name
}

/// As much of a title as fits and still reads as one: up to its comma, else up to its last long word.
fn whole_words(title: &str, most: usize) -> String {
    if title.chars().count() <= most {
        return title.to_owned();
    }
    let cut: String = title.chars().take(most + 1).collect();
    if let Some((before, _)) = cut.split_once(',') {
        return before.trim().to_owned();
    }
    let mut part = cut.rsplit_once(' ').map_or("", |(before, _)| before);
    while let Some((before, last)) = part.rsplit_once(' ')
        && last.chars().count() <= 3
    {
        part = before;
    }
    if part.is_empty() {
        return cut.chars().take(most).collect();
    }
    part.trim().to_owned()
}

fn short(text: &str) -> String {
    text.chars().take(MOST_LETTERS).collect()
}

fn write_head(sheet: &mut Worksheet, paper: &PrintedPaper, looks: &Looks) -> Result<(), XlsxError> {
    let at = paper.made_local();
    let made = format!(
        "{} {} ({}), by {}",
        date_words(at.date()),
        at.format("%H:%M"),
        paper.time_zone,
        paper.made_by
    );
    sheet.set_column_width(0, 26.0)?;
    sheet.set_column_width(1, 90.0)?;
    sheet.write_string_with_format(0, 0, short(&paper.title), &looks.title)?;
    let mut row = 2;
    let mut line = |name: &str, value: &str| -> Result<(), XlsxError> {
        sheet.write_string_with_format(row, 0, name, &looks.label)?;
        sheet.write_string_with_format(row, 1, short(value), &looks.text)?;
        row += 1;
        Ok(())
    };
    line("Series", &paper.series)?;
    line("Episode", &paper.episode)?;
    if !paper.verdict.is_empty() {
        line("In short", &paper.verdict)?;
    }
    for fact in
        (paper.facts.iter()).filter(|fact| !matches!(fact.name.as_str(), "Series" | "Episode"))
    {
        line(&fact.name, &fact.value)?;
    }
    line("Made", &made)?;
    for section in (paper.sections.iter()).filter(|section| !section.lead.is_empty()) {
        line(&section.title, &section.lead)?;
    }
    for assumption in &paper.assumptions {
        line("Assumed", assumption)?;
    }
    for caution in &paper.cautions {
        line("Caution", caution)?;
    }
    print_setup(sheet, paper)
}

fn write_section(
    sheet: &mut Worksheet,
    section: &PaperSection,
    looks: &Looks,
) -> Result<(), XlsxError> {
    for (at, column) in (0_u16..).zip(&section.columns) {
        sheet.set_column_width(at, (f64::from(column.width) * 3.6).clamp(7.0, 70.0))?;
        sheet.write_string_with_format(0, at, short(&column.name), &looks.head)?;
    }
    for (at, row) in (1_u32..).zip(&section.rows) {
        for (place, (cell, column)) in (0_u16..).zip(row.cells.iter().zip(&section.columns)) {
            let look = match (column.number, row.open) {
                (true, _) => &looks.number,
                (false, true) if place <= 1 => &looks.open,
                _ => &looks.text,
            };
            match typed(cell, column.number) {
                Typed::Number(number) => sheet.write_number_with_format(at, place, number, look)?,
                Typed::Amount(amount) => {
                    sheet.write_number_with_format(at, place, amount, &looks.amount)?
                }
                Typed::Day(day) => sheet.write_datetime_with_format(at, place, &day, &looks.day)?,
                Typed::Length(days, true) => {
                    sheet.write_number_with_format(at, place, days, &looks.hours)?
                }
                Typed::Length(days, false) => {
                    sheet.write_number_with_format(at, place, days, &looks.minutes)?
                }
                Typed::Text => sheet.write_string_with_format(at, place, short(cell), look)?,
            };
        }
    }
    if section.rows.is_empty() {
        sheet.write_string_with_format(1, 0, short(&section.nothing), &looks.text)?;
    }
    let rows = u32::try_from(section.rows.len().max(1)).unwrap_or(u32::MAX);
    let last = u16::try_from(section.columns.len())
        .unwrap_or(1)
        .saturating_sub(1);
    sheet.set_freeze_panes(1, 0)?;
    sheet.set_repeat_rows(0, 0)?;
    sheet.autofilter(0, 0, rows, last)?;
    Ok(())
}

/// What a cell's words are to a workbook.
enum Typed {
    Number(f64),
    /// With two decimals.
    Amount(f64),
    Day(ExcelDateTime),
    /// Part of a day, and whether its words have hours.
    Length(f64, bool),
    Text,
}

/// A cell that is nothing but a day (`9 Jan 2029`), or in a column of numbers a whole number, an amount (`-1234.50`) or a
/// length (`1:07`, `1:30:00`), is written as that.
fn typed(cell: &str, numbers: bool) -> Typed {
    if let Some(day) = whole_day(cell) {
        return Typed::Day(day);
    }
    if !numbers {
        return Typed::Text;
    }
    if let Some(amount) = amount(cell) {
        return Typed::Amount(amount);
    }
    let parts: Option<Vec<u32>> = cell.split(':').map(|part| part.parse().ok()).collect();
    let seconds =
        |h: u32, m: u32, s: u32| f64::from(h) * 3600.0 + f64::from(m) * 60.0 + f64::from(s);
    match parts.as_deref() {
        Some([number]) => Typed::Number(f64::from(*number)),
        Some([m, s]) => Typed::Length(seconds(0, *m, *s) / 86_400.0, false),
        Some([h, m, s]) => Typed::Length(seconds(*h, *m, *s) / 86_400.0, true),
        _ => Typed::Text,
    }
}

/// Digits, a point and two more; below nought with a minus.
fn amount(cell: &str) -> Option<f64> {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let (whole, part) = cell.strip_prefix('-').unwrap_or(cell).split_once('.')?;
    let fits = digits(whole) && digits(part) && part.len() == 2;
    cell.parse().ok().filter(|_| fits)
}

fn whole_day(cell: &str) -> Option<ExcelDateTime> {
    use chrono::Datelike;
    let day = chrono::NaiveDate::parse_from_str(cell, "%d %b %Y").ok()?;
    let small = |part: u32| u8::try_from(part).ok();
    // Only what the page's own words for that day are: the cell looks the same, and sorts.
    let year = (date_words(day) == cell).then_some(day.year())?;
    ExcelDateTime::from_ymd(
        u16::try_from(year).ok()?,
        small(day.month())?,
        small(day.day())?,
    )
    .ok()
}

fn print_setup(sheet: &mut Worksheet, paper: &PrintedPaper) -> Result<(), XlsxError> {
    // An ampersand starts a command in page headers and footers; two stand for one.
    let plain = |text: &str| text.chars().take(60).collect::<String>().replace('&', "&&");
    sheet
        .set_paper_size(9)
        .set_landscape()
        .set_print_fit_to_pages(1, 0);
    sheet.set_header(format!(
        "&L{}&R{}",
        plain(&paper.title),
        plain(&paper.episode)
    ));
    sheet.set_footer("&LNot legal advice. Counsel and local law decide.&RPage &P of &N");
    Ok(())
}
