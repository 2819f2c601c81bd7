//! What a licence says besides its grants: sub-licensing, exclusivity and holdback, most favoured
//! nations (R11), minimum billing (R10), the buyer's waiver (R52), the law.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::fees::{FavouredScope, MinimumBilling};

/// Terms of a licence. Every blank means that the paper does not say.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct LicenceTerms {
    /// Governing law and place.
    pub law: String,
    /// Whether the use is granted to this production alone. None: not stated.
    #[schema(required)]
    pub exclusive: Option<bool>,
    /// Until when the owner agreed not to exploit the material elsewhere.
    #[schema(required)]
    pub holdback_until: Option<NaiveDate>,
    /// Whether the right may be passed on to distributors. None: not stated.
    #[schema(required)]
    pub sublicence: Option<bool>,
    /// How far a most-favoured-nations clause looks. None: there is none.
    #[schema(required)]
    pub most_favoured: Option<FavouredScope>,
    /// Parties that the clause leaves out.
    pub most_favoured_except: String,
    /// The least that is billed. None: none stated.
    #[schema(required)]
    pub minimum_billing: Option<MinimumBilling>,
    /// When the buyer was asked to accept fewer rights than its contract asks.
    #[schema(required)]
    pub waiver_asked_on: Option<NaiveDate>,
    /// When the buyer accepted in writing.
    #[schema(required)]
    pub waiver_approved_on: Option<NaiveDate>,
    /// Who accepted.
    pub waiver_approved_by: String,
}

/// A breach of the order in which a buyer's waiver, signature and inclusion must come (R52).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WaiverBreach {
    /// Signed so many days before the waiver was approved.
    SignedEarly(i64),
    /// Put into a cut so many days before the waiver was approved.
    IncludedEarly(i64),
    /// Asked for and not approved, while it is signed or in the cut already.
    NotApproved,
}

/// Every breach of R52: approval ≤ signature, approval ≤ inclusion.
///
/// ```
/// use chrono::NaiveDate;
/// use waybill_domain::rights::licence_terms::{waiver_breaches, WaiverBreach};
/// let may = |d| NaiveDate::from_ymd_opt(2029, 5, d);
/// let breaches = waiver_breaches(may(1), may(12), may(9), None);
/// assert_eq!(breaches, [WaiverBreach::SignedEarly(3)]); // R52's example
/// ```
pub fn waiver_breaches(
    asked: Option<NaiveDate>,
    approved: Option<NaiveDate>,
    signed: Option<NaiveDate>,
    included: Option<NaiveDate>,
) -> Vec<WaiverBreach> {
    let Some(approved) = approved else {
        let open = asked.is_some() && (signed.is_some() || included.is_some());
        return if open {
            vec![WaiverBreach::NotApproved]
        } else {
            vec![]
        };
    };
    let early = |day: Option<NaiveDate>| {
        day.map(|day| (approved - day).num_days())
            .filter(|days| *days > 0)
    };
    early(signed)
        .map(WaiverBreach::SignedEarly)
        .into_iter()
        .chain(early(included).map(WaiverBreach::IncludedEarly))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn may(day: u32) -> Option<NaiveDate> {
        NaiveDate::from_ymd_opt(2029, 5, day)
    }

    /// Source: rulebook R52 [DISC-WAIVER]: approved 12 May, signed 9 May: breach, 3 days early.
    #[test]
    fn r52_the_waiver_comes_first() {
        let both = waiver_breaches(may(1), may(12), may(9), may(2));
        assert_eq!(
            both,
            [
                WaiverBreach::SignedEarly(3),
                WaiverBreach::IncludedEarly(10)
            ]
        );
        assert!(waiver_breaches(may(1), may(12), may(12), may(12)).is_empty());
        assert!(waiver_breaches(None, may(12), None, None).is_empty());
    }

    /// Hand-worked: what was asked for and is not approved is a breach once signed or in the cut.
    #[test]
    fn r52_asked_and_not_approved() {
        assert_eq!(
            waiver_breaches(may(1), None, None, may(2)),
            [WaiverBreach::NotApproved]
        );
        assert!(waiver_breaches(may(1), None, None, None).is_empty());
        assert!(waiver_breaches(None, None, may(2), may(2)).is_empty());
    }
}
