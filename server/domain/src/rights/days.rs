//! Sets of days: union, difference and cut of inclusive day intervals. No knowledge of rights.

use chrono::{Days as Count, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Days from `from` to `to`, both included. Empty when `to` is before `from`.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
pub struct Days {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
}

impl Days {
    /// Every day there is: stands for "no end" and "no beginning known".
    pub const ALWAYS: Days = Days {
        from: NaiveDate::MIN,
        to: NaiveDate::MAX,
    };

    /// Days from `from` to `to`, both included.
    pub fn new(from: NaiveDate, to: NaiveDate) -> Self {
        Days { from, to }
    }

    /// Whether no day is in it.
    pub fn is_empty(self) -> bool {
        self.to < self.from
    }

    /// Number of days.
    pub fn count(self) -> i64 {
        (self.to - self.from).num_days().saturating_add(1).max(0)
    }

    /// Days in both.
    pub fn and(self, other: Days) -> Days {
        Days {
            from: self.from.max(other.from),
            to: self.to.min(other.to),
        }
    }
}

/// The day after, or the last day of the calendar itself.
pub(crate) fn next(day: NaiveDate) -> NaiveDate {
    day.checked_add_days(Count::new(1))
        .unwrap_or(NaiveDate::MAX)
}

/// The day before, or the first day of the calendar itself.
pub(crate) fn previous(day: NaiveDate) -> NaiveDate {
    day.checked_sub_days(Count::new(1))
        .unwrap_or(NaiveDate::MIN)
}

/// Any set of days, kept as sorted intervals with at least one missing day between them.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DaySet(Vec<Days>);

impl DaySet {
    /// The union of intervals in any order; empty ones vanish. Adjoining intervals become one:
    /// no day is missing between 30 Sep and 1 Oct (R3).
    ///
    /// ```
    /// use chrono::NaiveDate;
    /// use waybill_domain::rights::days::{Days, DaySet};
    /// let day = |d| NaiveDate::from_ymd_opt(2029, 1, d).expect("a real date");
    /// let set = DaySet::union([Days::new(day(3), day(4)), Days::new(day(1), day(2))]);
    /// assert_eq!(set.ranges(), [Days::new(day(1), day(4))]);
    /// ```
    pub fn union(ranges: impl IntoIterator<Item = Days>) -> Self {
        let mut all: Vec<Days> = ranges.into_iter().filter(|days| !days.is_empty()).collect();
        all.sort_unstable();
        let mut joined: Vec<Days> = Vec::with_capacity(all.len());
        for days in all {
            match joined.last_mut() {
                Some(last) if days.from <= next(last.to) => last.to = last.to.max(days.to),
                _ => joined.push(days),
            }
        }
        DaySet(joined)
    }

    /// The intervals, earliest first.
    pub fn ranges(&self) -> &[Days] {
        &self.0
    }

    /// The intervals, earliest first.
    pub fn into_ranges(self) -> Vec<Days> {
        self.0
    }

    /// Whether no day is in it.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Number of days.
    pub fn count(&self) -> i64 {
        self.0.iter().map(|days| days.count()).sum()
    }

    /// Days in either.
    pub fn or(&self, other: &DaySet) -> DaySet {
        DaySet::union(self.0.iter().chain(&other.0).copied())
    }

    /// Days in it that are within `window`.
    pub fn within(&self, window: Days) -> DaySet {
        DaySet(
            self.0
                .iter()
                .map(|days| days.and(window))
                .filter(|d| !d.is_empty())
                .collect(),
        )
    }

    /// Days in it that are not in `other`.
    pub fn minus(&self, other: &DaySet) -> DaySet {
        let mut left = Vec::new();
        for days in &self.0 {
            let mut rest = *days;
            for hole in &other.0 {
                if hole.to < rest.from {
                    continue;
                }
                if hole.from > rest.to {
                    break;
                }
                if hole.from > rest.from {
                    left.push(Days::new(rest.from, previous(hole.from)));
                }
                if hole.to >= rest.to {
                    // An empty remainder; written this way round because MAX has no next day.
                    rest = Days::new(rest.to, previous(rest.to));
                    break;
                }
                rest.from = next(hole.to);
            }
            if !rest.is_empty() {
                left.push(rest);
            }
        }
        DaySet(left)
    }
}
