//! Money of licences: most-favoured-nations terms (R11), sums that keep currencies apart.
//! Amounts are whole numbers of the currency's smallest unit.

mod currency;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use currency::{currency_fault, is_currency};

/// A side that is paid for the same use, for 100 % of what it gives.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PaidSide {
    pub name: String,
    /// For 100 % of the side.
    pub fee_minor: i64,
    /// Was promised no less than the best paid of the others.
    pub most_favoured: bool,
}

/// A side that has to be paid more because another is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Raise {
    pub name: String,
    pub from_minor: i64,
    pub to_minor: i64,
    /// What it costs more.
    pub more_minor: i64,
}

/// Who must be paid more (R11): each most-favoured side's fee is the highest of all sides. All amounts must be of one
/// currency; which sides are compared (one song, the whole programme, named parties left out) is the contract's matter.
///
/// ```
/// use waybill_domain::costs::{most_favoured, PaidSide};
/// let side = |name: &str, fee_minor, most_favoured| PaidSide { name: name.into(), fee_minor, most_favoured };
/// let raises = most_favoured(&[side("label", 500_000, false), side("publisher", 400_000, true)]);
/// assert_eq!((raises[0].to_minor, raises[0].more_minor), (500_000, 100_000));
/// ```
pub fn most_favoured(sides: &[PaidSide]) -> Vec<Raise> {
    let Some(best) = sides.iter().map(|side| side.fee_minor).max() else {
        return vec![];
    };
    (sides.iter())
        .filter(|side| side.most_favoured && side.fee_minor < best)
        .map(|side| Raise {
            name: side.name.clone(),
            from_minor: side.fee_minor,
            to_minor: best,
            more_minor: best - side.fee_minor,
        })
        .collect()
}

/// The part that one licence is of its side of a piece: of so many, so many.
///
/// ```
/// use waybill_domain::costs::Part;
/// let publisher = Part { num: 60, of: 100 };
/// assert_eq!((publisher.whole(240_000), publisher.of(500_000)), (400_000, 300_000));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    pub num: i64,
    pub of: i64,
}

impl Part {
    /// The whole side.
    pub const ALL: Part = Part { num: 1, of: 1 };

    /// What the whole side comes to when this part comes to `minor`, to the nearest unit; nought for no part at all.
    pub fn whole(self, minor: i64) -> i64 {
        scaled(minor, self.of, self.num)
    }

    /// What this part comes to when the whole side comes to `minor`, to the nearest unit.
    pub fn of(self, minor: i64) -> i64 {
        scaled(minor, self.num, self.of)
    }
}

fn scaled(minor: i64, by: i64, over: i64) -> i64 {
    if over == 0 {
        return 0;
    }
    let (by, over) = (i128::from(by), i128::from(over));
    let exact = (i128::from(minor) * by * 2 + over).div_euclid(over * 2);
    i64::try_from(exact).unwrap_or(i64::MAX)
}

/// Divides an amount, not below nought, in proportion to weights; what rounding leaves goes to the first parts, a unit
/// each, so that the parts come to the amount. Without any weight nothing is divided.
///
/// ```
/// use waybill_domain::costs::split;
/// assert_eq!(split(500_000, &[60, 40]), [300_000, 200_000]);
/// assert_eq!(split(100, &[1, 1, 1]), [34, 33, 33]);
/// ```
pub fn split(amount_minor: i64, weights: &[u32]) -> Vec<i64> {
    let all: i128 = weights.iter().map(|weight| i128::from(*weight)).sum();
    if all == 0 {
        return vec![0; weights.len()];
    }
    let amount = i128::from(amount_minor);
    let mut parts: Vec<i128> = (weights.iter())
        .map(|weight| amount * i128::from(*weight) / all)
        .collect();
    let mut left = amount - parts.iter().sum::<i128>();
    for (part, weight) in parts.iter_mut().zip(weights) {
        if left > 0 && *weight > 0 {
            *part += 1;
            left -= 1;
        }
    }
    parts
        .into_iter()
        .map(|part| i64::try_from(part).unwrap_or(i64::MAX))
        .collect()
}

/// Amounts by currency; they are never added across.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Purse(BTreeMap<String, i64>);

impl Purse {
    /// Adds an amount of a currency.
    pub fn add(&mut self, currency: &str, minor: i64) {
        *self.0.entry(currency.to_owned()).or_default() += minor;
    }

    /// The amount of a currency; nought when there is none.
    pub fn of(&self, currency: &str) -> i64 {
        self.0.get(currency).copied().unwrap_or(0)
    }

    /// Its currencies, in order.
    pub fn currencies(&self) -> impl Iterator<Item = &str> {
        self.0.keys().map(String::as_str)
    }
}

/// `GBP 1,234.50`. Two decimals hold for nearly every currency; the few without are shown with them, too.
///
/// ```
/// use waybill_domain::costs::amount_words;
/// assert_eq!(amount_words("GBP", 123_450), "GBP 1,234.50");
/// assert_eq!(amount_words("GBP", -5), "−GBP 0.05");
/// ```
pub fn amount_words(currency: &str, minor: i64) -> String {
    let sign = if minor < 0 { "−" } else { "" };
    let minor = minor.unsigned_abs();
    let whole = crate::wording::grouped(minor / 100);
    format!("{sign}{currency} {whole}.{:02}", minor % 100)
}

/// The same as a bare number, for tables: `1234.50`.
///
/// ```
/// use waybill_domain::costs::amount_number;
/// assert_eq!((amount_number(123_450), amount_number(-5)), ("1234.50".into(), "-0.05".into()));
/// ```
pub fn amount_number(minor: i64) -> String {
    let sign = if minor < 0 { "-" } else { "" };
    let minor = minor.unsigned_abs();
    format!("{sign}{}.{:02}", minor / 100, minor % 100)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(name: &str, fee_minor: i64, most_favoured: bool) -> PaidSide {
        PaidSide {
            name: name.into(),
            fee_minor,
            most_favoured,
        }
    }

    /// Source: rulebook R11 [MFN]: label 5,000, publisher 4,000 on most-favoured terms → 5,000, +1,000; split 60/40 that
    /// is 3,000 and 2,000.
    #[test]
    fn r11_a_publisher_on_equal_terms_is_raised() {
        let raises = most_favoured(&[
            side("label", 500_000, false),
            side("publisher", 400_000, true),
        ]);
        assert_eq!(raises.len(), 1);
        assert_eq!(raises[0].name, "publisher");
        assert_eq!(raises[0].to_minor, 500_000);
        assert_eq!(raises[0].more_minor, 100_000);
        assert_eq!(split(500_000, &[60, 40]), [300_000, 200_000]);
    }

    // By hand: who was promised nothing is not raised; the best paid is not; nothing is left over by rounding.
    #[test]
    fn only_who_was_promised_is_raised() {
        let sides = [
            side("a", 100, false),
            side("b", 300, true),
            side("c", 200, true),
        ];
        let raises = most_favoured(&sides);
        assert_eq!(raises.len(), 1);
        assert_eq!(raises[0].name, "c");
        assert!(most_favoured(&[]).is_empty());
        assert_eq!(split(1, &[1, 1]), [1, 0]);
        assert_eq!(split(10, &[0, 2, 1]), [0, 7, 3]);
        assert_eq!(split(10, &[0, 0]), [0, 0]);
        let most = [u32::MAX; 3];
        assert_eq!(split(i64::MAX, &most).iter().sum::<i64>(), i64::MAX);
    }

    #[test]
    fn currencies_stay_apart() {
        let mut purse = Purse::default();
        for (currency, minor) in [("GBP", 100), ("EUR", 50), ("GBP", 1)] {
            purse.add(currency, minor);
        }
        assert_eq!(
            (purse.of("GBP"), purse.of("EUR"), purse.of("USD")),
            (101, 50, 0)
        );
        assert_eq!(purse.currencies().collect::<Vec<_>>(), ["EUR", "GBP"]);
    }
}
