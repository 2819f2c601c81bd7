//! When a cue sheet is due with a society (R17): each society has its own rule, and none holds for all.

use chrono::{Datelike, Months, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A rule for the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FilingRule {
    /// On the day on which the master is delivered.
    WithMaster,
    /// Two weeks after first transmission.
    TwoWeeks,
    /// Three months after first transmission.
    ThreeMonths,
    /// Before the end of the month that follows the calendar quarter of first transmission.
    MonthAfterQuarter,
}

impl FilingRule {
    /// All rules, in the order in which they are shown.
    pub const ALL: [Self; 4] = [
        Self::WithMaster,
        Self::TwoWeeks,
        Self::ThreeMonths,
        Self::MonthAfterQuarter,
    ];

    /// What it asks, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::WithMaster => "with the master",
            Self::TwoWeeks => "two weeks after first transmission",
            Self::ThreeMonths => "three months after first transmission",
            Self::MonthAfterQuarter => "in the month after the quarter of first transmission",
        }
    }

    /// The last day; none while the day that it counts from is not known.
    ///
    /// ```
    /// use chrono::NaiveDate;
    /// use waybill_domain::music::filing::FilingRule;
    /// let day = NaiveDate::from_ymd_opt(2026, 11, 5);
    /// let due = FilingRule::TwoWeeks.due(day, None).map(|day| day.to_string());
    /// assert_eq!(due.as_deref(), Some("2026-11-19"));
    /// ```
    pub fn due(
        self,
        transmission: Option<NaiveDate>,
        master: Option<NaiveDate>,
    ) -> Option<NaiveDate> {
        match self {
            Self::WithMaster => master,
            Self::TwoWeeks => transmission?.checked_add_days(chrono::Days::new(14)),
            Self::ThreeMonths => transmission?.checked_add_months(Months::new(3)),
            Self::MonthAfterQuarter => {
                let day = transmission?.with_day(1)?;
                // The first of the month after the one that follows the quarter, and a day back.
                let months = 3 - day.month0() % 3 + 1;
                day.checked_add_months(Months::new(months))?.pred_opt()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(year: i32, month: u32, day: u32) -> Option<NaiveDate> {
        NaiveDate::from_ymd_opt(year, month, day)
    }

    /// Source: rulebook R17, with [APRA-NZ] ★ for the quarter: first transmission on 5 Nov 2026, master on 8 Oct.
    #[test]
    fn r17_filing_dates() {
        let (transmission, master) = (day(2026, 11, 5), day(2026, 10, 8));
        let due = FilingRule::ALL.map(|rule| rule.due(transmission, master));
        assert_eq!(
            due,
            [
                day(2026, 10, 8),
                day(2026, 11, 19),
                day(2027, 2, 5),
                day(2027, 1, 31)
            ]
        );
    }

    // By hand: every quarter, and what is not known stays unknown.
    #[test]
    fn quarters_end_and_unknown_stays_unknown() {
        for (month, due) in [
            (1, (2026, 4, 30)),
            (3, (2026, 4, 30)),
            (4, (2026, 7, 31)),
            (9, (2026, 10, 31)),
            (12, (2027, 1, 31)),
        ] {
            let found = FilingRule::MonthAfterQuarter.due(day(2026, month, 30), None);
            assert_eq!(found, day(due.0, due.1, due.2));
        }
        assert_eq!(FilingRule::ThreeMonths.due(None, day(2026, 10, 8)), None);
        assert_eq!(FilingRule::WithMaster.due(day(2026, 11, 5), None), None);
    }
}
