//! How likely drives are to fail, and how long copying takes (R43, R47). Failure figures are those of populations of
//! disks in data centres; one drive in a drawer is not one of them, and fire, theft, one bag and one batch take two
//! copies at once. Whoever shows an answer says so.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Hours of a year as failure rates are counted (365 days).
pub const HOURS_A_YEAR: f64 = 8_760.0;

/// Hours of a mean year (365.25 days), as a mean time between failures is spread over a year.
pub const HOURS_A_MEAN_YEAR: f64 = 8_766.0;

/// Share of a large fleet of disks that failed in 2024: 4,372 failures, 1.57 % (R43).
pub const FLEET_2024: f64 = 0.0157;

/// The caution that goes with every failure figure (rulebook 7, number 9, and R43).
pub const CAUTION: &str = "Failure odds are population figures, of disks that run in data centres. A disk on a shelf or in a bag is not one \
     of them, and fire, theft, one bag or one faulty batch can take two copies at once.";

/// Annual failure rate of a fleet: failures for each drive-year. `drive_hours` above nought.
///
/// ```
/// // R43: 5 failures in 750,000 drive-hours are 5.84 %
/// let rate = waybill_domain::footage::odds::annual_rate(5.0, 750_000.0);
/// assert_eq!((rate * 10_000.0).round(), 584.0);
/// ```
pub fn annual_rate(failures: f64, drive_hours: f64) -> f64 {
    failures / (drive_hours / HOURS_A_YEAR)
}

/// Chance that one drive fails within a year, from its mean time between failures in hours, with failures equally
/// likely at any time: 1 − e^(−8766 / mtbf).
pub fn from_mean_time(hours: f64) -> f64 {
    -(-HOURS_A_MEAN_YEAR / hours).exp_m1()
}

/// Chance that at least one of `drives` fails: 1 − (1 − p)^n.
pub fn any_of(chance: f64, drives: u32) -> f64 {
    1.0 - (1.0 - chance).powf(f64::from(drives))
}

/// Chance that all of `copies` independent copies fail: p^n. Without a copy there is nothing left to lose: 1.
pub fn all_of(chance: f64, copies: u32) -> f64 {
    chance.powf(f64::from(copies))
}

/// How long copying takes (R47), in seconds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CopyTime {
    /// Writing only, at the pace of the slower end.
    pub copy_seconds: f64,
    /// Reading back as well: about as much again.
    pub with_verify_seconds: f64,
}

/// Time to copy `bytes` at `read` and `write` bytes a second, both above nought.
///
/// ```
/// // R47: 512 GB at 400 MB/s take 21.3 minutes, 42.7 with reading back
/// let time = waybill_domain::footage::odds::copy_time(512_000_000_000, 400e6, 800e6);
/// assert_eq!((time.copy_seconds / 6.0).round(), 213.0);
/// assert_eq!((time.with_verify_seconds / 6.0).round(), 427.0);
/// ```
#[expect(
    clippy::as_conversions,
    reason = "bytes beyond 2^53 lose less than a thousandth of a second"
)]
pub fn copy_time(bytes: u64, read: f64, write: f64) -> CopyTime {
    let copy_seconds = bytes as f64 / read.min(write);
    CopyTime {
        copy_seconds,
        with_verify_seconds: copy_seconds * 2.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Per cent with two decimals, as R43 prints them.
    fn percent(share: f64) -> f64 {
        (share * 10_000.0).round() / 100.0
    }

    // R43: published by the maker of a fleet's figures and by [AFR], recomputed in the rulebook
    #[test]
    fn the_published_rates_come_out() {
        assert_eq!(percent(annual_rate(5.0, 750_000.0)), 5.84);
        assert_eq!(percent(from_mean_time(300_000.0)), 2.88);
        assert_eq!(
            percent(8_766.0 / 300_000.0),
            2.92,
            "the approximation beside it"
        );
        assert_eq!(percent(from_mean_time(1_000_000.0)), 0.87);
        assert_eq!(percent(8_766.0 / 1_000_000.0), 0.88, "published as 0.88");
    }

    // R43: p = 1.57 %, n = 12 give 17.3 %; p = 4 % give 38.7 %; two independent copies 0.025 % a year
    #[test]
    fn several_drives_and_two_copies() {
        assert_eq!((any_of(FLEET_2024, 12) * 1_000.0).round(), 173.0);
        assert_eq!((any_of(0.04, 12) * 1_000.0).round(), 387.0);
        assert_eq!((all_of(FLEET_2024, 2) * 100_000.0).round(), 25.0);
        assert_eq!((any_of(0.04, 0), all_of(0.04, 0)), (0.0, 1.0));
    }

    // R43: the other field data it names, as what they are: shares of a population
    #[test]
    fn the_field_data_of_the_rule_order_as_it_says() {
        let fleet = [0.0141, FLEET_2024, 0.0170, 0.0228];
        assert!(
            fleet.is_sorted(),
            "quarters 1.41 to 2.28 %, 2024 below 2023"
        );
        // under a year 1.7 %, three-year-olds above 8.6 %; 2 to 4 % are common, up to 13 %
        for (young, old) in [(0.017, 0.086), (0.02, 0.04), (0.04, 0.13)] {
            assert!(any_of(young, 12) < any_of(old, 12));
        }
    }

    // R47: at 250 MB/s 34.1 minutes
    #[test]
    fn the_slower_end_sets_the_pace() {
        let time = copy_time(512_000_000_000, 400e6, 250e6);
        assert_eq!((time.copy_seconds / 6.0).round(), 341.0);
    }
}
