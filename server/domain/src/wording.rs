//! Dates, counts and lists as people read them: the same on a page, on paper and in a spreadsheet.

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, Utc};

/// Months as dates name them.
pub const MONTHS: [&str; 12] = [
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
];

/// `9 Jan 2029`.
#[must_use]
pub fn date_words(date: NaiveDate) -> String {
    let month = MONTHS[date.month0() as usize % 12];
    format!("{} {month} {}", date.day(), date.year())
}

/// `Tue 9 Jan 2029`, for deadlines.
#[must_use]
pub fn deadline_words(date: NaiveDate) -> String {
    format!("{} {}", date.weekday(), date_words(date))
}

/// `1 day`, `264 days`, `1,096 days`.
#[must_use]
pub fn days_words(days: i64) -> String {
    counted(days.unsigned_abs(), "day", "days")
}

/// A count with commas between thousands.
#[must_use]
pub fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// `1 file`, `2,000 files`.
#[must_use]
pub fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{} {}", grouped(count), if count == 1 { one } else { many })
}

/// `A`, `A and B`, `A, B and C`.
#[must_use]
pub fn and_list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// An instant on the wall clock of an IANA zone; UTC when the zone is not known.
#[must_use]
pub fn local(at: DateTime<Utc>, zone: &str) -> NaiveDateTime {
    zone.parse::<chrono_tz::Tz>()
        .map_or_else(|_| at.naive_utc(), |tz| at.with_timezone(&tz).naive_local())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_british() {
        let day = NaiveDate::from_ymd_opt(2029, 1, 9).expect("a real date");
        assert_eq!(date_words(day), "9 Jan 2029");
        assert_eq!(deadline_words(day), "Tue 9 Jan 2029");
        assert_eq!(days_words(1096), "1,096 days");
        assert_eq!(counted(1, "file", "files"), "1 file");
        assert_eq!(counted(0, "file", "files"), "0 files");
        assert_eq!(counted(1_234_567, "file", "files"), "1,234,567 files");
        let list: Vec<String> = ["A", "B", "C"].map(String::from).into();
        assert_eq!(and_list(&list), "A, B and C");
    }

    // Source: the IANA time zone database: London is one hour ahead of UTC in July, level in January.
    #[test]
    fn wall_clock_follows_the_zone() {
        let at = "2029-07-02T23:30:00Z".parse().expect("an instant");
        assert_eq!(
            local(at, "Europe/London").to_string(),
            "2029-07-03 00:30:00"
        );
        assert_eq!(local(at, "Nowhere/Land").to_string(), "2029-07-02 23:30:00");
    }
}
