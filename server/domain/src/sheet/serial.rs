//! Days as spreadsheets count them (ECMA-376 part 1, 18.17.4.1): from 1900, with a 29 February
//! 1900 that never was, or from 1904.

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// From which day a workbook counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Serials {
    /// 1 is 1 January 1900.
    #[serde(rename = "from_1900")]
    From1900,
    /// 0 is 1 January 1904.
    #[serde(rename = "from_1904")]
    From1904,
}

impl Serials {
    /// In words, after "counted".
    pub fn words(self) -> &'static str {
        match self {
            Self::From1900 => "from 1900",
            Self::From1904 => "from 1904",
        }
    }
}

/// The last day that a spreadsheet knows, 31 December 9999, counted from 1900.
const LAST: f64 = 2_958_465.0;

/// The day of a serial number; the part behind the point is the time of day and is left away. None
/// outside of the calendar, and for 60 from 1900, the day that never was.
///
/// ```
/// use waybill_domain::sheet::serial::{Serials, day};
/// assert_eq!(day(39_448.75, Serials::From1900).unwrap().to_string(), "2008-01-01");
/// ```
pub fn day(serial: f64, counted: Serials) -> Option<NaiveDate> {
    let least = if counted == Serials::From1900 {
        1.0
    } else {
        0.0
    };
    if !serial.is_finite() || serial < least || serial >= LAST + 1.0 {
        return None;
    }
    // Checked above: not negative and small.
    let whole = serial.floor() as u64;
    let (epoch, days) = match counted {
        Serials::From1904 => (NaiveDate::from_ymd_opt(1904, 1, 1)?, whole),
        Serials::From1900 if whole == 60 => return None,
        Serials::From1900 if whole < 60 => (NaiveDate::from_ymd_opt(1899, 12, 31)?, whole),
        Serials::From1900 => (NaiveDate::from_ymd_opt(1899, 12, 30)?, whole),
    };
    epoch
        .checked_add_days(Days::new(days))
        .filter(|day| *day <= NaiveDate::from_ymd_opt(9999, 12, 31).unwrap_or(NaiveDate::MAX))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    /// Source: ECMA-376 part 1, 18.17.4.1 (1 is 1 January 1900; 60 is the non-existent 29 February
    /// 1900; 1904: 0 is 1 January 1904), and Microsoft's page on the two systems: 5 July 1998 is
    /// 35981 from 1900 and 34519 from 1904 (from memory).
    #[test]
    fn both_systems_and_the_day_that_never_was() {
        let at = |n: f64, s| day(n, s).map(|day| day.to_string());
        let (old, mac) = (Serials::From1900, Serials::From1904);
        assert_eq!(at(1.0, old).unwrap(), "1900-01-01");
        assert_eq!(at(59.0, old).unwrap(), "1900-02-28");
        assert_eq!(at(60.0, old), None);
        assert_eq!(at(61.0, old).unwrap(), "1900-03-01");
        assert_eq!(at(35_981.0, old).unwrap(), "1998-07-05");
        assert_eq!(at(34_519.0, mac).unwrap(), "1998-07-05");
        assert_eq!(at(0.0, mac).unwrap(), "1904-01-01");
        assert_eq!(at(2_958_465.9, old).unwrap(), "9999-12-31");
        for none in [0.0, -1.0, 2_958_466.0, f64::NAN, f64::INFINITY] {
            assert_eq!(at(none, old), None, "{none}");
        }
        assert_eq!(at(2_958_465.0, mac), None);
    }
}
