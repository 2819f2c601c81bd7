//! Room that recordings take (R44), in decimal units as drives are sold. Actual files are usually 5 to 10 % smaller than
//! their codec's target rate says.

/// Bytes of an hour at a data rate in megabits a second: R44's GB/h = Mb/s × 0.45. Saturates.
///
/// ```
/// assert_eq!(waybill_domain::footage::storage::bytes_an_hour(220), 99_000_000_000);
/// ```
pub fn bytes_an_hour(megabits_a_second: u64) -> u64 {
    megabits_a_second.saturating_mul(450_000_000)
}

/// Bytes of all that is shot for a running time in minutes at a shooting ratio (40 for 40:1), one copy of it. Saturates.
///
/// ```
/// // R44: 58 minutes at 40:1 and 122 Mb/s are 2.12 TB
/// assert_eq!(waybill_domain::footage::storage::bytes_shot(58, 40, 122) / 10_000_000_000, 212);
/// ```
pub fn bytes_shot(minutes: u64, ratio: u64, megabits_a_second: u64) -> u64 {
    (minutes.saturating_mul(ratio))
        .saturating_mul(megabits_a_second)
        .saturating_mul(7_500_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gigabytes(megabits: u64) -> u64 {
        (bytes_an_hour(megabits) + 500_000_000) / 1_000_000_000
    }

    // Source: rulebook R44 [PRORES], HD 29.97 target rates and their GB/h column, which the rulebook has from memory; the
    // two rates at 25p are marked there as from memory too
    #[test]
    fn r44_the_published_rates_come_out() {
        let rates = [
            (220, 99),
            (147, 66),
            (102, 46),
            (45, 20),
            (122, 55),
            (737, 332),
        ];
        for (megabits, an_hour) in rates {
            assert_eq!(gigabytes(megabits), an_hour, "{megabits} Mb/s");
        }
    }

    // Source: rulebook R44: an episode of 58 min at 40:1 is 38.7 h × 54.9 GB = 2.12 TB, three copies 6.37 TB
    #[test]
    fn r44_an_episode_of_58_minutes() {
        let shot = bytes_shot(58, 40, 122);
        let hundredths = |bytes: u64| (bytes + 5_000_000_000) / 10_000_000_000;
        assert_eq!((hundredths(shot), hundredths(shot * 3)), (212, 637));
        assert_eq!(bytes_shot(60, 1, 122), bytes_an_hour(122));
        assert_eq!(bytes_shot(u64::MAX, 2, 2), u64::MAX);
    }
}
