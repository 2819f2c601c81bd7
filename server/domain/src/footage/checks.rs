//! When a drive is to be read again (R42): an interval after the last time that all went well; at once after it was
//! moved, dropped or repaired (NDSA levels of preservation, level 4: fixity is checked after specific events).

use chrono::{Months, NaiveDate, NaiveDateTime};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Months from one check to the next where nobody chose (R42: 6 or 12 are common).
pub const USUAL_MONTHS: u32 = 6;

/// Why a check is due on its day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CheckReason {
    /// The interval since the last check.
    Interval,
    /// Nobody has read it yet.
    NeverChecked,
    /// It was moved since.
    Moved,
    /// It was dropped since.
    Dropped,
    /// It was repaired since.
    Repaired,
}

impl CheckReason {
    /// For a sentence: "due because …".
    pub const fn words(self) -> &'static str {
        match self {
            Self::Interval => "the interval since its last check is over then",
            Self::NeverChecked => "nothing on it was read and compared yet",
            Self::Moved => "it was moved since its last check",
            Self::Dropped => "it was dropped since its last check",
            Self::Repaired => "it was repaired since its last check",
        }
    }
}

/// When the next check is due, and why then.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct NextCheck {
    /// The day.
    pub on: NaiveDate,
    /// Which rule sets it.
    pub reason: CheckReason,
}

/// The next check of a drive. `last_ok`: when the copy that was read longest ago was last found good; `since`: the day
/// from which the drive is known, on which a drive that was never read is due; `events`: what happened to it, in any
/// order. All are local to one time zone.
///
/// ```
/// use waybill_domain::footage::checks::{CheckReason, next_check};
/// let last = "2028-08-31T18:00:00".parse().unwrap();
/// let next = next_check(Some(last), "2028-01-01".parse().unwrap(), &[], 6).unwrap();
/// assert_eq!(next.on, "2029-02-28".parse().unwrap());
/// assert_eq!(next.reason, CheckReason::Interval);
/// ```
pub fn next_check(
    last_ok: Option<NaiveDateTime>,
    since: NaiveDate,
    events: &[(NaiveDateTime, CheckReason)],
    months: u32,
) -> Option<NextCheck> {
    let Some(last) = last_ok else {
        return Some(NextCheck {
            on: since,
            reason: CheckReason::NeverChecked,
        });
    };
    let event = events
        .iter()
        .filter(|(on, _)| *on > last)
        .min_by_key(|(on, _)| *on)
        .map(|(on, reason)| NextCheck {
            on: on.date(),
            reason: *reason,
        });
    let interval = last
        .date()
        .checked_add_months(Months::new(months))
        .map(|on| NextCheck {
            on,
            reason: CheckReason::Interval,
        });
    match (event, interval) {
        (Some(event), Some(interval)) if interval.on < event.on => Some(interval),
        (Some(event), _) => Some(event),
        (None, interval) => interval,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a date")
    }

    fn at(text: &str) -> NaiveDateTime {
        let whole = if text.contains('T') {
            format!("{text}:00")
        } else {
            format!("{text}T12:00:00")
        };
        whole.parse().expect("a date and time")
    }

    fn due(
        last: Option<&str>,
        events: &[(&str, CheckReason)],
        months: u32,
    ) -> (String, CheckReason) {
        let events: Vec<_> = events.iter().map(|(on, why)| (at(on), *why)).collect();
        let next = next_check(last.map(at), day("2028-03-01"), &events, months).expect("a day");
        (next.on.to_string(), next.reason)
    }

    // R42: re-verify due = last_ok + interval, 6 or 12 months
    #[test]
    fn the_interval_counts_from_the_last_good_reading() {
        let last = Some("2028-07-09");
        assert_eq!(
            due(last, &[], 6),
            ("2029-01-09".into(), CheckReason::Interval)
        );
        assert_eq!(
            due(last, &[], 12),
            ("2029-07-09".into(), CheckReason::Interval)
        );
    }

    // R42: an event "moved, dropped, repaired" makes it due now
    #[test]
    fn an_event_since_then_makes_it_due_that_day() {
        let last = Some("2028-07-09");
        let dropped = ("2028-08-01", CheckReason::Dropped);
        let moved = ("2028-07-20", CheckReason::Moved);
        assert_eq!(
            due(last, &[dropped, moved], 6),
            ("2028-07-20".into(), CheckReason::Moved)
        );
        let before = ("2028-07-09T11:59", CheckReason::Repaired);
        assert_eq!(
            due(last, &[before], 6),
            ("2029-01-09".into(), CheckReason::Interval)
        );
        let same_day = ("2028-07-09T12:01", CheckReason::Moved);
        assert_eq!(
            due(last, &[same_day], 6),
            ("2028-07-09".into(), CheckReason::Moved)
        );
        let late = ("2029-03-01", CheckReason::Dropped);
        assert_eq!(
            due(last, &[late], 6),
            ("2029-01-09".into(), CheckReason::Interval)
        );
    }

    #[test]
    fn a_drive_that_nobody_read_is_due_since_it_is_known() {
        assert_eq!(
            due(None, &[], 6),
            ("2028-03-01".into(), CheckReason::NeverChecked)
        );
    }
}
