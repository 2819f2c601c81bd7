//! Age on a day (R20).

use chrono::{Datelike, NaiveDate};

/// The first day on which somebody born on `born` is `years` old: the birthday, from its start.
/// Born on 29 February, it is 1 March in common years.
pub fn attains(born: NaiveDate, years: i32) -> Option<NaiveDate> {
    let year = born.year().checked_add(years)?;
    born.with_year(year)
        .or_else(|| NaiveDate::from_ymd_opt(year, 3, 1))
}

/// Completed years on `on`; negative before birth, as nobody's age.
///
/// ```
/// use chrono::NaiveDate;
/// use waybill_domain::age::age;
/// let day = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).expect("a real date");
/// assert_eq!(age(day(2000, 2, 29), day(2018, 2, 28)), 17); // ACT Supreme Court, 2018
/// ```
pub fn age(born: NaiveDate, on: NaiveDate) -> i32 {
    let years = on.year() - born.year();
    match attains(born, years) {
        Some(birthday) if birthday <= on => years,
        _ => years - 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(y: i32, m: u32, d: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(y, m, d).expect("a real date")
    }

    /// Source: ACT Supreme Court 2018, leap-day ruling (rulebook R20 ★).
    #[test]
    fn r20_leap_day_birth_is_seventeen_on_28_february() {
        assert_eq!(age(day(2000, 2, 29), day(2018, 2, 28)), 17);
        assert_eq!(age(day(2000, 2, 29), day(2018, 3, 1)), 18);
        assert_eq!(age(day(2000, 2, 29), day(2020, 2, 29)), 20);
    }

    /// Source: rulebook R19: filmed 2026-08-14, born 2008-08-15; one day later an adult.
    #[test]
    fn r19_the_day_before_the_birthday_is_still_a_minor() {
        assert_eq!(age(day(2008, 8, 15), day(2026, 8, 14)), 17);
        assert_eq!(age(day(2008, 8, 15), day(2026, 8, 15)), 18);
        assert_eq!(attains(day(2008, 8, 15), 18), Some(day(2026, 8, 15)));
    }
}
