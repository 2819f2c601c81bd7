//! Days relative to the day of loading: `=today+38d`, `=mon-20w+5d`, `=today+3y-264d`, worked from left to right.

use chrono::{Datelike, Days, Months, NaiveDate};

/// The day that a text names; none when it names none. `mon` is the Monday of the week of `today`.
pub fn day(today: NaiveDate, text: &str) -> Option<NaiveDate> {
    let text = text.strip_prefix('=')?;
    let end = text.find(['+', '-']).unwrap_or(text.len());
    let (anchor, mut rest) = text.split_at(end);
    let mut day = match anchor {
        "today" => today,
        "mon" => {
            let since = u64::from(today.weekday().num_days_from_monday());
            today.checked_sub_days(Days::new(since))?
        }
        _ => return None,
    };
    while !rest.is_empty() {
        let (sign, after) = rest.split_at(1);
        let unit = after.find(['d', 'w', 'm', 'y'])?;
        let count: u32 = after.get(..unit)?.parse().ok()?;
        let (unit, left) = after.get(unit..)?.split_at(1);
        day = step(day, sign == "-", count, unit)?;
        rest = left;
    }
    Some(day)
}

fn step(day: NaiveDate, back: bool, count: u32, unit: &str) -> Option<NaiveDate> {
    let months = match unit {
        "m" => Some(count),
        "y" => Some(count.checked_mul(12)?),
        _ => None,
    };
    let days = u64::from(count) * if unit == "w" { 7 } else { 1 };
    match (months, back) {
        (Some(months), false) => day.checked_add_months(Months::new(months)),
        (Some(months), true) => day.checked_sub_months(Months::new(months)),
        (None, false) => day.checked_add_days(Days::new(days)),
        (None, true) => day.checked_sub_days(Days::new(days)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: counted on a calendar; 9 Jan 2029 is a Tuesday.
    #[test]
    fn days_are_counted_from_the_day_of_loading() {
        let on = |text| day(NaiveDate::from_ymd_opt(2029, 1, 9)?, text);
        let is = |y, m, d| NaiveDate::from_ymd_opt(y, m, d);
        assert_eq!(on("=today"), is(2029, 1, 9));
        assert_eq!(on("=today-9d"), is(2028, 12, 31));
        assert_eq!(on("=mon-1w+5d"), is(2029, 1, 6));
        assert_eq!(on("=today+3y-264d-36m"), is(2028, 4, 20));
        for other in ["today", "=monday", "=today+", "=today+d", "=today+3x", "="] {
            assert_eq!(on(other), None, "{other}");
        }
    }
}
