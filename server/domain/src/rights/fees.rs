//! Arithmetic of fees that a licence's terms ask for: minimum billing (R10) and most favoured nations
//! (R11). Amounts are in the currency's smallest unit; nothing here knows a currency.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The least that is billed, whatever is used (R10).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct MinimumBilling {
    /// Least number of seconds.
    pub seconds: u32,
    /// Of what.
    pub per: BilledPer,
}

/// What a minimum is counted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BilledPer {
    /// Each cut of the material, each time it is used.
    Cut,
    /// All of it in one project.
    Project,
}

/// Seconds that are billed for these uses, in thousandths of a second, each begun second counted in
/// full (R10). Repeats, slow motion and part-frames count as uses like any other.
///
/// ```
/// use waybill_domain::rights::fees::{billed_seconds, BilledPer, MinimumBilling};
/// let uses = [4_000, 6_000, 12_000];
/// let per = |per, seconds| billed_seconds(&uses, Some(MinimumBilling { seconds, per }));
/// assert_eq!(per(BilledPer::Project, 30), 30); // R10: documentary
/// assert_eq!(per(BilledPer::Cut, 10), 32); // R10: feature
/// ```
pub fn billed_seconds(uses: &[u64], minimum: Option<MinimumBilling>) -> u64 {
    let whole = |thousandths: u64| thousandths.div_ceil(1000);
    match minimum {
        Some(MinimumBilling {
            seconds,
            per: BilledPer::Cut,
        }) => uses.iter().map(|one| whole(*one).max(seconds.into())).sum(),
        Some(MinimumBilling {
            seconds,
            per: BilledPer::Project,
        }) if !uses.is_empty() => whole(uses.iter().sum()).max(seconds.into()),
        _ => whole(uses.iter().sum()),
    }
}

/// How far a most-favoured-nations clause looks (R11).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FavouredScope {
    /// Parties to the same piece.
    SamePiece,
    /// All parties of the programme.
    WholeProgramme,
}

/// What one side of a piece asks for all of it (100 %), and whether it must be paid as the best.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SideFee {
    /// Fee for all of the side, smallest unit of the currency.
    pub whole: u64,
    /// Whether a most-favoured-nations clause binds it.
    pub most_favoured: bool,
}

/// Each side's fee once the clauses are met: a bound side is paid no less than the highest of all
/// (R11). What others are paid never goes down.
///
/// ```
/// use waybill_domain::rights::fees::{raised, SideFee};
/// let label = SideFee { whole: 500_000, most_favoured: false };
/// let publisher = SideFee { whole: 400_000, most_favoured: true };
/// assert_eq!(raised(&[label, publisher]), [500_000, 500_000]);
/// ```
pub fn raised(sides: &[SideFee]) -> Vec<u64> {
    let highest = sides.iter().map(|side| side.whole).max().unwrap_or(0);
    sides
        .iter()
        .map(|side| {
            if side.most_favoured {
                highest
            } else {
                side.whole
            }
        })
        .collect()
}

/// A fee parted by shares in hundredths of a per cent; what rounding leaves over goes to the first.
pub fn parted(fee: u64, shares: &[u64]) -> Vec<u64> {
    let all: u64 = shares.iter().sum();
    if all == 0 {
        return vec![0; shares.len()];
    }
    let part = |share: &u64| {
        u64::try_from(u128::from(fee) * u128::from(*share) / u128::from(all)).unwrap_or(fee)
    };
    let mut parts: Vec<u64> = shares.iter().map(part).collect();
    let left = fee - parts.iter().sum::<u64>();
    if let Some(first) = parts.first_mut() {
        *first += left;
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: rulebook R10 [FILMARCH] ★ (the rule; the sums are ours): cuts of 4, 6 and 12 s are
    /// billed 30 s in a documentary (30 s per project) and 32 s in a feature (10 s per cut).
    #[test]
    fn r10_minimum_billing() {
        let uses = [4_000, 6_000, 12_000];
        let per = |per, seconds| billed_seconds(&uses, Some(MinimumBilling { seconds, per }));
        assert_eq!(per(BilledPer::Project, 30), 30);
        assert_eq!(per(BilledPer::Cut, 10), 32);
        assert_eq!(per(BilledPer::Project, 20), 22);
        assert_eq!(billed_seconds(&uses, None), 22);
        // Hand-worked: a begun second counts in full, once over the project or in each cut.
        assert_eq!(billed_seconds(&[1_200, 1_200], None), 3);
        let cut = MinimumBilling {
            seconds: 1,
            per: BilledPer::Cut,
        };
        assert_eq!(billed_seconds(&[1_200, 1_200], Some(cut)), 4);
        assert_eq!(billed_seconds(&[], Some(cut)), 0);
    }

    /// Source: rulebook R11: label $5,000, publisher $4,000 with equal terms: publishers are raised
    /// to $5,000, parted 60/40 into $3,000 and $2,000, $1,000 more in all.
    #[test]
    fn r11_most_favoured_nations() {
        let label = SideFee {
            whole: 500_000,
            most_favoured: false,
        };
        let publisher = SideFee {
            whole: 400_000,
            most_favoured: true,
        };
        let after = raised(&[label, publisher]);
        assert_eq!(after, [500_000, 500_000]);
        assert_eq!(after[1] - publisher.whole, 100_000);
        assert_eq!(parted(after[1], &[6_000, 4_000]), [300_000, 200_000]);
        // Hand-worked: a side without the clause is not raised; thirds lose nothing.
        let free = SideFee {
            most_favoured: false,
            ..publisher
        };
        assert_eq!(raised(&[label, free]), [500_000, 400_000]);
        assert_eq!(parted(100, &[1, 1, 1]), [34, 33, 33]);
        assert!(raised(&[]).is_empty());
    }
}
