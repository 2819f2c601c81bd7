//! Due dates, working days, reminder days and the instant of a local time (R6, R7, R31, R32).
//!
//! Works on dates that it is given; nothing here knows what today is.

use std::collections::BTreeSet;

use chrono::{
    DateTime, Datelike, Days, Duration, Months, NaiveDate, NaiveDateTime, NaiveTime, Offset as _,
    TimeZone, Utc, Weekday,
};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Days before a due date on which a reminder is sent (R6).
pub const THRESHOLDS: [u32; 7] = [180, 90, 60, 30, 14, 7, 1];

/// Hour of the day, in the series' time zone, at which reminders are sent (R6).
pub const REMINDER_HOUR: u32 = 9;

fn is_weekend(day: NaiveDate) -> bool {
    matches!(day.weekday(), Weekday::Sat | Weekday::Sun)
}

/// Whether people work on this day: no weekend and none of the listed holidays.
pub fn is_working_day(day: NaiveDate, holidays: &BTreeSet<NaiveDate>) -> bool {
    !is_weekend(day) && !holidays.contains(&day)
}

/// The day `count` working days after `anchor`, or before it when negative (R32). The anchor is
/// not counted; with a count of nought it is the answer, working day or not. None beyond the
/// calendar.
pub fn working_days_from(
    anchor: NaiveDate,
    count: i32,
    holidays: &BTreeSet<NaiveDate>,
) -> Option<NaiveDate> {
    let mut day = anchor;
    let mut left = count.unsigned_abs();
    while left > 0 {
        day = if count > 0 {
            day.succ_opt()?
        } else {
            day.pred_opt()?
        };
        if is_working_day(day, holidays) {
            left -= 1;
        }
    }
    Some(day)
}

/// The last weekday on or before this day: where a reminder that falls on a weekend goes (R6).
pub fn weekday_on_or_before(day: NaiveDate) -> NaiveDate {
    let back = match day.weekday() {
        Weekday::Sat => 1,
        Weekday::Sun => 2,
        _ => 0,
    };
    day.checked_sub_days(Days::new(back)).unwrap_or(day)
}

/// The first working day on or after this day (R53).
pub fn working_day_on_or_after(day: NaiveDate, holidays: &BTreeSet<NaiveDate>) -> NaiveDate {
    let mut at = day;
    while !is_working_day(at, holidays) {
        match at.succ_opt() {
            Some(next) => at = next,
            None => return day,
        }
    }
    at
}

/// Which reminder of an item this is. One is sent per item and threshold (R6).
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(tag = "kind", content = "count", rename_all = "snake_case")]
pub enum Threshold {
    /// So many days before the item is due.
    DaysBefore(u32),
    /// So many weeks overdue, from 1.
    WeeksOverdue(u32),
}

/// A day on which to remind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Notice {
    /// The day, a weekday.
    pub on: NaiveDate,
    /// Which threshold it serves.
    pub threshold: Threshold,
}

/// The days on which to remind of something due on `due` that nobody resolved, up to and including
/// `until`: each threshold before it, then weekly (R6). Weekends move earlier. Earliest first.
///
/// A changed due date is worked anew; a resolved item is not asked about.
pub fn notices(due: NaiveDate, until: NaiveDate) -> Vec<Notice> {
    let before = THRESHOLDS.into_iter().filter_map(|days| {
        let day = due.checked_sub_days(Days::new(u64::from(days)))?;
        Some((day, Threshold::DaysBefore(days)))
    });
    let overdue = (1_u32..).map_while(|weeks| {
        let day = due.checked_add_days(Days::new(u64::from(weeks) * 7))?;
        (weekday_on_or_before(day) <= until).then_some((day, Threshold::WeeksOverdue(weeks)))
    });
    before
        .chain(overdue)
        .map(|(day, threshold)| Notice {
            on: weekday_on_or_before(day),
            threshold,
        })
        .filter(|notice| notice.on <= until)
        .collect()
}

/// Not the name of a time zone in the IANA database.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not a time zone; give an IANA name such as Europe/London")]
pub struct UnknownZone(pub String);

/// A time zone by its IANA name.
pub fn zone(name: &str) -> Result<Tz, UnknownZone> {
    // The name is the whole of what was wrong; the parser's own words add nothing.
    name.parse().or(Err(UnknownZone(name.to_owned())))
}

/// The instant of a local date and time (RFC 5545, 3.3.5): a time that a clock change skips is read
/// with the offset before the gap, one that happens twice means its first occurrence.
///
/// ```
/// use chrono::NaiveDate;
/// use waybill_domain::schedule::{instant, zone};
/// let london = zone("Europe/London").expect("a zone");
/// let skipped = NaiveDate::from_ymd_opt(2027, 3, 28).and_then(|d| d.and_hms_opt(1, 30, 0));
/// let at = instant(london, skipped.expect("a real time"));
/// assert_eq!(at.to_rfc3339(), "2027-03-28T01:30:00+00:00"); // read as 02:30 summer time
/// ```
pub fn instant(zone: Tz, local: NaiveDateTime) -> DateTime<Utc> {
    if let Some(at) = zone.from_local_datetime(&local).earliest() {
        return at.with_timezone(&Utc);
    }
    // Walk back to the last minute before the gap: its offset is the one to read with. No zone has
    // ever skipped more than a day.
    let before = (1..=26 * 60).find_map(|minutes| {
        zone.from_local_datetime(&(local - Duration::minutes(minutes)))
            .latest()
    });
    let offset = before.map_or(Duration::zero(), |at| {
        Duration::seconds(i64::from(at.offset().fix().local_minus_utc()))
    });
    (local - offset).and_utc()
}

/// The instant at which a reminder of that day is sent: nine in the morning in the series' zone.
pub fn reminder_instant(zone: Tz, on: NaiveDate) -> DateTime<Utc> {
    let nine = NaiveTime::from_hms_opt(REMINDER_HOUR, 0, 0).unwrap_or_default();
    instant(zone, on.and_time(nine))
}

/// A distance from an anchor date; negative counts are before it (R31).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(tag = "unit", content = "count", rename_all = "snake_case")]
pub enum Offset {
    /// Calendar days.
    Days(i32),
    /// Working days, holidays of the series skipped.
    WorkingDays(i32),
    /// Weeks.
    Weeks(i32),
    /// Months; where the month has no such day, its last.
    Months(i32),
}

/// The date at an offset from an anchor (R31). None beyond the calendar.
pub fn due(anchor: NaiveDate, offset: Offset, holidays: &BTreeSet<NaiveDate>) -> Option<NaiveDate> {
    match offset {
        Offset::Days(count) => anchor.checked_add_signed(Duration::days(i64::from(count))),
        Offset::Weeks(count) => anchor.checked_add_signed(Duration::weeks(i64::from(count))),
        Offset::WorkingDays(count) => working_days_from(anchor, count, holidays),
        Offset::Months(count) if count < 0 => {
            anchor.checked_sub_months(Months::new(count.unsigned_abs()))
        }
        Offset::Months(count) => anchor.checked_add_months(Months::new(count.unsigned_abs())),
    }
}

#[cfg(test)]
mod tests;
