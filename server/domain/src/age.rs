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

/// Ages at the three days that matter to a release (R20), and whether somebody came of age between.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ages {
    /// On the day of filming.
    pub filmed: i32,
    /// On the day of signature, if signed.
    pub signed: Option<i32>,
    /// On the day of first transmission or other first use.
    pub shown: i32,
    /// The day of coming of age, where it lies after filming and not after the first use.
    pub of_age_on: Option<NaiveDate>,
}

/// Age at filming, at signature and at first use, and who comes of age at `adult_at` between (R20).
///
/// ```
/// use chrono::NaiveDate;
/// use waybill_domain::age::ages;
/// let day = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).expect("a real date");
/// let found = ages(day(2008, 8, 15), day(2026, 8, 14), Some(day(2026, 8, 16)), day(2026, 11, 1), 18);
/// assert_eq!((found.filmed, found.signed, found.shown), (17, Some(18), 18));
/// assert_eq!(found.of_age_on, Some(day(2026, 8, 15)));
/// ```
pub fn ages(
    born: NaiveDate,
    filmed_on: NaiveDate,
    signed_on: Option<NaiveDate>,
    shown_on: NaiveDate,
    adult_at: i32,
) -> Ages {
    let latest = signed_on.map_or(shown_on, |signed| signed.max(shown_on));
    Ages {
        filmed: age(born, filmed_on),
        signed: signed_on.map(|day| age(born, day)),
        shown: age(born, shown_on),
        of_age_on: attains(born, adult_at).filter(|day| filmed_on < *day && *day <= latest),
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

    /// Source: rulebook R20: compute at filming, signature and transmission; flag who crosses 18.
    #[test]
    fn r20_who_comes_of_age_between_filming_and_transmission() {
        let born = day(2008, 8, 15);
        let crossing = ages(born, day(2026, 8, 14), None, day(2026, 8, 15), 18);
        assert_eq!(
            (crossing.filmed, crossing.signed, crossing.shown),
            (17, None, 18)
        );
        assert_eq!(crossing.of_age_on, Some(born_day()));
        let before = ages(
            born,
            day(2026, 8, 1),
            Some(day(2026, 8, 2)),
            day(2026, 8, 14),
            18,
        );
        assert_eq!(before.of_age_on, None);
        let after = ages(born, day(2026, 8, 15), None, day(2027, 1, 1), 18);
        assert_eq!(after.of_age_on, None);
    }

    fn born_day() -> NaiveDate {
        day(2026, 8, 15)
    }
}
