//! Dates in cells. `9 Jan 2029`, `2029-01-09` and a cell that the file calls a date can be read in
//! one way only; `03/04/2029` can't, and is read only once its order is known or chosen.

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::cell::Cell;
use super::serial::{self, Serials};
use crate::wording::{date_words, grouped};

/// Which comes first in `03/04/2029`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DayOrder {
    /// 3 April.
    DayFirst,
    /// 4 March.
    MonthFirst,
}

impl DayOrder {
    fn other(self) -> Self {
        match self {
            Self::DayFirst => Self::MonthFirst,
            Self::MonthFirst => Self::DayFirst,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::DayFirst => "day first",
            Self::MonthFirst => "month first",
        }
    }
}

/// How the dates of a table are read. What is not known is an error of the cells that need it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Reading {
    /// Needed for `03/04/2029`.
    pub order: Option<DayOrder>,
    /// Needed for `46021`.
    pub serials: Option<Serials>,
}

/// What a cell looks like as a date.
#[derive(Clone, Debug, PartialEq)]
enum Shape {
    Blank,
    Sure(NaiveDate),
    /// Two small numbers and a year.
    Two(u32, u32, i32),
    Serial(f64),
    Bad(String),
}

/// The day in a cell; none in an empty one.
///
/// # Errors
/// What is wrong with it and what to do, in words.
pub fn read(cell: &Cell, reading: Reading) -> Result<Option<NaiveDate>, String> {
    match shape(cell) {
        Shape::Blank => Ok(None),
        Shape::Sure(day) => Ok(Some(day)),
        Shape::Bad(words) => Err(words),
        Shape::Serial(number) => {
            let Some(counted) = reading.serials else {
                return Err(
                    "This is a number. If it counts days as spreadsheets do, choose from which year; else write the date as 2029-01-09."
                        .into(),
                );
            };
            serial::day(number, counted).map(Some).ok_or_else(|| {
                format!(
                    "The number {number}, counted {}, is no day of the calendar.",
                    counted.words()
                )
            })
        }
        Shape::Two(a, b, year) => {
            let Some(order) = reading.order else {
                // The same day either way needs no order.
                if a == b {
                    return ymd(year, a, b).map(Some);
                }
                return Err("Day first or month first? Choose the order of the dates.".into());
            };
            let (day, month) = match order {
                DayOrder::DayFirst => (a, b),
                DayOrder::MonthFirst => (b, a),
            };
            if month > 12 && day <= 12 {
                return Err(format!(
                    "Read {}, this has no month {month}. Choose {} if all dates are so, or correct this one.",
                    order.words(),
                    order.other().words()
                ));
            }
            ymd(year, month, day).map(Some)
        }
    }
}

fn ymd(year: i32, month: u32, day: u32) -> Result<NaiveDate, String> {
    NaiveDate::from_ymd_opt(year, month, day)
        .ok_or_else(|| "There is no such day in the calendar.".into())
}

/// What the dates of a table say about themselves.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Detected {
    /// As far as it is known.
    pub reading: Reading,
    /// What was found, in sentences; empty where there are no dates.
    pub words: Vec<String>,
    /// Some date can't be read until an order is chosen.
    pub asks_order: bool,
    /// Some number can't be read until somebody says from which year it counts.
    pub asks_serials: bool,
}

/// Looks at all cells of the date columns, each with the number of its row. `file`: how the workbook
/// counts days, where it says so.
pub fn detect<'a>(
    cells: impl IntoIterator<Item = (u32, &'a Cell)>,
    file: Option<Serials>,
) -> Detected {
    let (mut sure, mut serials, mut open) = (0_usize, 0_usize, 0_usize);
    let mut first: [Option<(u32, String)>; 2] = [None, None];
    for (row, cell) in cells {
        match shape(cell) {
            Shape::Blank | Shape::Bad(_) => {}
            Shape::Sure(_) => sure += 1,
            Shape::Serial(_) => serials += 1,
            Shape::Two(a, b, _) if a > 12 && b <= 12 => {
                first[0].get_or_insert_with(|| (row, cell.shown()));
            }
            Shape::Two(a, b, _) if b > 12 && a <= 12 => {
                first[1].get_or_insert_with(|| (row, cell.shown()));
            }
            Shape::Two(a, b, _) if a == b => sure += 1,
            Shape::Two(..) => open += 1,
        }
    }
    let mut found = Detected::default();
    let because = |order: DayOrder, (row, text): &(u32, String)| {
        format!(
            "Dates such as 03/04/2029 are read {}, because {text} in row {row} can't be read otherwise.",
            order.words()
        )
    };
    match &first {
        [Some(day), None] => {
            found.reading.order = Some(DayOrder::DayFirst);
            found.words.push(because(DayOrder::DayFirst, day));
        }
        [None, Some(month)] => {
            found.reading.order = Some(DayOrder::MonthFirst);
            found.words.push(because(DayOrder::MonthFirst, month));
        }
        [Some((row, text)), Some((other_row, other))] => {
            found.asks_order = true;
            found.words.push(format!(
                "The dates are mixed: {text} in row {row} has its day first, {other} in row {other_row} its month. Correct the file, or choose an order; the others are then in error."
            ));
        }
        [None, None] if open > 0 => {
            found.asks_order = true;
            found.words.push(format!(
                "{} can be read day first or month first, and nothing in the file says which. Choose.",
                counted_dates(open)
            ));
        }
        [None, None] => {}
    }
    if sure > 0 {
        found
            .words
            .push(format!(
                "{} can be read in one way only (year first, or with the month's name, or marked as dates by the file).",
                counted_dates(sure)
            ));
    }
    if serials > 0 {
        found.reading.serials = file;
        found.asks_serials = file.is_none();
        found.words.push(match file {
            Some(counted) => format!(
                "Dates written as numbers: {serials}, counted {} as the workbook says.",
                counted.words()
            ),
            None => format!(
                "Dates written as numbers, as spreadsheets count days: {serials}. Choose from which year they count."
            ),
        });
    }
    found
}

fn counted_dates(count: usize) -> String {
    match count {
        1 => "1 date".to_owned(),
        many => format!("{} dates", grouped(many as u64)),
    }
}

fn shape(cell: &Cell) -> Shape {
    match cell {
        Cell::Empty => Shape::Blank,
        Cell::Day(day) => Shape::Sure(*day),
        Cell::Number(number) => Shape::Serial(*number),
        Cell::YesNo(_) => Shape::Bad("This is yes or no, not a date.".into()),
        Cell::Broken(text) => Shape::Bad(format!("The file has an error here: {text}.")),
        Cell::Text(text) => text_shape(text.trim()),
    }
}

fn text_shape(text: &str) -> Shape {
    const HOW: &str = "This is no date that can be read. Write it as 2029-01-09 or 9 Jan 2029.";
    if text.is_empty() {
        return Shape::Blank;
    }
    // A time of day after the date is left away.
    let date = text.split_once(['T', ' ']).filter(|(date, time)| {
        time.contains(':') && date.starts_with(|c: char| c.is_ascii_digit())
    });
    let text = date.map_or(text, |(date, _)| date);
    let parts: Vec<&str> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|part| !part.is_empty())
        .collect();
    let numbers: Vec<Option<u32>> = parts.iter().map(|part| number(part)).collect();
    let result = match (parts.as_slice(), numbers.as_slice()) {
        ([one], [Some(serial)]) if one.len() == 5 => return Shape::Serial(f64::from(*serial)),
        ([one], [Some(all)]) if one.len() == 8 => {
            ymd((all / 10_000) as i32, all / 100 % 100, all % 100)
        }
        ([year, _, _], [Some(y), Some(m), Some(d)]) if year.len() == 4 => ymd(*y as i32, *m, *d),
        ([_, _, year], [Some(a), Some(b), Some(y)]) if year.len() == 4 => {
            return if (1..=31).contains(a) && (1..=31).contains(b) && (*a <= 12 || *b <= 12) {
                Shape::Two(*a, *b, *y as i32)
            } else {
                Shape::Bad("There is no such day in the calendar.".into())
            };
        }
        ([_, _, _], [Some(_), Some(_), Some(_)]) => {
            Err("Write the year with four digits; two can mean two centuries.".into())
        }
        _ => named(&parts).unwrap_or_else(|| Err(HOW.into())),
    };
    match result {
        Ok(day) => Shape::Sure(day),
        Err(words) => Shape::Bad(words),
    }
}

/// `9 Jan 2029`, `Jan 9th, 2029`, `Tuesday 9 January 2029`.
fn named(parts: &[&str]) -> Option<Result<NaiveDate, String>> {
    let mut month = None;
    let mut weekday = None;
    let mut numbers = Vec::new();
    for part in parts {
        let small = part.to_lowercase();
        let bare = ["st", "nd", "rd", "th"]
            .iter()
            .find_map(|end| small.strip_suffix(end))
            .unwrap_or(&small);
        if let Some(n) = number(bare) {
            numbers.push((n, bare.len()));
        } else if let Some(found) = month_of(&small) {
            month = Some(found);
        } else {
            let mut all = WEEKDAYS.iter();
            weekday = Some(all.position(|day| small.len() >= 3 && day.starts_with(&small))?);
        }
    }
    let month = month?;
    let [(a, a_digits), (b, b_digits)] = numbers.as_slice() else {
        return None;
    };
    let found = match (a_digits, b_digits) {
        (1..=2, 4) => ymd(*b as i32, month, *a),
        (4, 1..=2) => ymd(*a as i32, month, *b),
        (1..=2, 1..=2) => {
            Err("Write the year with four digits; two can mean two centuries.".into())
        }
        _ => return None,
    };
    Some(found.and_then(|day| on_weekday(day, weekday)))
}

/// A weekday that is written with a date says which day is meant as much as its number does: where they disagree, one of
/// them is wrong, and nobody can tell which.
fn on_weekday(day: NaiveDate, written: Option<usize>) -> Result<NaiveDate, String> {
    let name = |at: usize| {
        let name = WEEKDAYS.get(at).copied().unwrap_or_default();
        name[..1].to_uppercase() + &name[1..]
    };
    let is = usize::try_from(day.weekday().num_days_from_monday()).unwrap_or_default();
    match written {
        Some(written) if written != is => Err(format!(
            "{} is a {}, not a {}. Correct the weekday or the date, or leave the weekday out.",
            date_words(day),
            name(is),
            name(written)
        )),
        _ => Ok(day),
    }
}

const WEEKDAYS: [&str; 7] = [
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
];

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

fn month_of(word: &str) -> Option<u32> {
    let at = MONTHS
        .iter()
        .position(|month| word.len() >= 3 && month.starts_with(word))?;
    u32::try_from(at + 1).ok()
}

fn number(text: &str) -> Option<u32> {
    (text.len() <= 8 && text.bytes().all(|b| b.is_ascii_digit()))
        .then(|| text.parse().ok())
        .flatten()
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    fn day(text: &str, order: Option<DayOrder>) -> Result<String, String> {
        let reading = Reading {
            order,
            serials: None,
        };
        read(&Cell::text(text), reading).map(|day| day.unwrap().to_string())
    }

    #[test]
    fn what_can_be_read_in_one_way() {
        for text in [
            "2029-01-09",
            "2029/1/9",
            "20290109",
            "9 Jan 2029",
            "9th January 2029",
            "Jan 9, 2029",
            "09-Jan-2029",
            "Tue 9 Jan 2029",
            "2029-01-09T10:00:00",
            "2029-01-09 10:00",
        ] {
            assert_eq!(day(text, None).unwrap(), "2029-01-09", "{text}");
        }
        assert_eq!(day("4/4/2029", None).unwrap(), "2029-04-04");
    }

    // Common practice, no source: by the calendar, 3 May 2026 is a Sunday and 9 January 2029 a Tuesday.
    #[test]
    fn a_weekday_that_contradicts_its_date_is_said() {
        let words = day("Mon 3 May 2026", None).unwrap_err();
        assert!(
            words.starts_with("3 May 2026 is a Sunday, not a Monday."),
            "{words}"
        );
        assert_eq!(day("Sun 3 May 2026", None).unwrap(), "2026-05-03");
        assert_eq!(day("Tues, 9 January 2029", None).unwrap(), "2029-01-09");
        assert!(day("Wednesday Jan 9, 2029", None).is_err());
    }

    #[test]
    fn what_can_be_read_in_two_ways_is_not_guessed() {
        let (a, b) = (Some(DayOrder::DayFirst), Some(DayOrder::MonthFirst));
        assert!(
            day("03/04/2029", None)
                .unwrap_err()
                .contains("Day first or month first")
        );
        assert_eq!(day("03/04/2029", a).unwrap(), "2029-04-03");
        assert_eq!(day("3.4.2029", b).unwrap(), "2029-03-04");
        assert!(day("12/31/2029", a).unwrap_err().contains("no month 31"));
        assert!(day("3/4/29", a).unwrap_err().contains("four digits"));
        assert!(day("3 Apr 29", a).unwrap_err().contains("four digits"));
        assert!(day("31/2/2029", a).unwrap_err().contains("no such day"));
        assert!(day("soon", a).unwrap_err().contains("no date"));
        assert!(day("46021", a).unwrap_err().contains("number"));
    }

    fn found(texts: &[&str], file: Option<Serials>) -> Detected {
        let cells: Vec<Cell> = texts.iter().map(|text| Cell::text(*text)).collect();
        detect((2..).zip(cells.iter()), file)
    }

    #[test]
    fn the_order_is_found_or_asked_for() {
        let one = found(&["03/04/2029", "31/04/2029"], None);
        assert_eq!(one.reading.order, Some(DayOrder::DayFirst));
        assert!(
            one.words[0].contains("31/04/2029 in row 3"),
            "{:?}",
            one.words
        );
        assert!(!one.asks_order);
        let month = found(&["03/04/2029", "3/14/2029"], None);
        assert_eq!(month.reading.order, Some(DayOrder::MonthFirst));
        let open = found(&["03/04/2029", "4/4/2029"], None);
        assert!(open.asks_order && open.reading.order.is_none());
        assert!(open.words[0].starts_with("1 date can be read"));
        let mixed = found(&["31/04/2029", "3/14/2029"], None);
        assert!(mixed.asks_order && mixed.words[0].contains("mixed"));
        assert!(found(&["46021"], None).asks_serials);
        let counted = found(&["46021"], Some(Serials::From1904));
        assert_eq!(counted.reading.serials, Some(Serials::From1904));
        assert_eq!(found(&[], None), Detected::default());
    }
}
