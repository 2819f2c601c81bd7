//! What a licence's terms say about its fee: minimum billing (R10), and how far most-favoured-nations terms look
//! (R11; the sums are in [`crate::costs`]).

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

/// The times of uses in thousandths of a second, from their frames in a cut of `rate` frames per second (a ratio). What
/// overlaps is one use: the picture and the sound of one clip are billed once.
///
/// ```
/// use waybill_domain::rights::fees::used_thousandths;
/// let picture_and_sound = [(100, 200), (100, 200)];
/// assert_eq!(used_thousandths(&picture_and_sound, (25, 1)), [4_000]);
/// ```
pub fn used_thousandths(ranges: &[(u64, u64)], rate: (u32, u32)) -> Vec<u64> {
    let (frames, per) = rate;
    if frames == 0 {
        return vec![];
    }
    let mut sorted: Vec<(u64, u64)> = ranges.to_vec();
    sorted.retain(|(from, to)| to > from);
    sorted.sort_unstable();
    let mut joined: Vec<(u64, u64)> = Vec::new();
    for (from, to) in sorted {
        match joined.last_mut() {
            Some((_, end)) if from < *end => *end = to.max(*end),
            _ => joined.push((from, to)),
        }
    }
    let thousandths = |(from, to): (u64, u64)| {
        let exact = u128::from(to - from) * 1000 * u128::from(per) / u128::from(frames);
        u64::try_from(exact).unwrap_or(u64::MAX)
    };
    joined.into_iter().map(thousandths).collect()
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
        // Hand-worked: cuts one after another are two uses, overlapping ones one.
        assert_eq!(
            used_thousandths(&[(300, 400), (100, 200), (200, 250), (310, 425)], (25, 1)),
            [4_000, 2_000, 5_000]
        );
        assert_eq!(
            used_thousandths(&[(0, 30_000)], (30_000, 1001)),
            [1_001_000]
        );
    }
}
