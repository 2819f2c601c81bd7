//! What the name of a cut says: its date, its version, its episode (R48).

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// What a name such as `EP03_CUT_260714_v2` says; each part may be missing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct CutName {
    /// The last date in it.
    pub date: Option<NaiveDate>,
    /// The number after the last `v`.
    pub version: Option<i32>,
    /// The number after `EP`, `E` or `EPISODE`.
    pub episode: Option<i32>,
}

/// Reads a name. Dates are `260714`, `20260714` or `2026-07-14`, year first.
///
/// ```
/// use waybill_domain::cut_name::read;
/// let name = read("EP03_CUT_260714_v2.edl");
/// assert_eq!(name.date.map(|date| date.to_string()).as_deref(), Some("2026-07-14"));
/// assert_eq!((name.version, name.episode), (Some(2), Some(3)));
/// assert_eq!(read("picture lock").date, None);
/// ```
pub fn read(name: &str) -> CutName {
    let words: Vec<&str> = name
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let joined = words.windows(3).filter_map(|three| match three {
        [year, month, day] if [year.len(), month.len(), day.len()] == [4, 2, 2] => {
            date(&format!("{year}{month}{day}"))
        }
        _ => None,
    });
    let single = words.iter().filter_map(|word| date(word));
    CutName {
        date: single.chain(joined).last(),
        version: words
            .iter()
            .filter_map(|word| number_after(word, &["version", "ver", "v"]))
            .next_back(),
        episode: words
            .iter()
            .find_map(|word| number_after(word, &["episode", "ep", "e"])),
    }
}

/// `260714` or `20260714`, when there is such a day.
fn date(word: &str) -> Option<NaiveDate> {
    if !word.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let full = match word.len() {
        6 => format!("20{word}"),
        8 => word.to_owned(),
        _ => return None,
    };
    let part = |from: usize, to: usize| full.get(from..to)?.parse::<u32>().ok();
    let year = i32::try_from(part(0, 4)?).ok()?;
    let date = NaiveDate::from_ymd_opt(year, part(4, 6)?, part(6, 8)?);
    date.filter(|_| (1990..2100).contains(&year))
}

/// The number of `v2`, `EP03`, without regard to case.
fn number_after(word: &str, prefixes: &[&str]) -> Option<i32> {
    let word = word.to_ascii_lowercase();
    let digits = prefixes.iter().find_map(|p| word.strip_prefix(p))?;
    let plain = (1..=4).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
    plain.then(|| digits.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(y: i32, m: u32, d: u32) -> Option<NaiveDate> {
        NaiveDate::from_ymd_opt(y, m, d)
    }

    // Source: rulebook R48 and the form of its names; the rest by hand.
    #[test]
    fn names_say_date_and_version() {
        let cases = [
            ("EP03_CUT_260714_v2", day(2026, 7, 14), Some(2), Some(3)),
            (
                "ep3-cut-2026-07-14-V11",
                day(2026, 7, 14),
                Some(11),
                Some(3),
            ),
            ("20260714 rough ver4.otio", day(2026, 7, 14), Some(4), None),
            ("E1_260230_v1", None, Some(1), Some(1)),
            ("EP03_FINE_v2_v3", None, Some(3), Some(3)),
            ("EP03_260101_260714", day(2026, 7, 14), None, Some(3)),
            ("vision of evening", None, None, None),
            ("", None, None, None),
        ];
        for (name, date, version, episode) in cases {
            let expected = CutName {
                date,
                version,
                episode,
            };
            assert_eq!(read(name), expected, "{name}");
        }
    }
}
