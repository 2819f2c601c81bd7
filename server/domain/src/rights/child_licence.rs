//! A child's performance licence in the UK: when a council must be asked, and when one further day needs none (R25).
//! Councils decide; a blank is never taken as an exemption.

use chrono::{Days, Months, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wording::{and_list, date_words};

/// Days before filming by which the council's form goes in (R25, [NLAN]).
pub const LEAD_DAYS: u64 = 21;
/// On so many days in the last six months a child may have performed for one more to need no licence (R25, [CONWY]).
pub const DAYS_BEFORE: usize = 3;

/// What is known of a child's filming. A blank is not known.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct ChildFilming {
    /// Filmed in the UK, where a council licenses.
    #[schema(required)]
    pub in_uk: Option<bool>,
    /// Days on which the child performed anywhere before.
    pub performed_on: Vec<NaiveDate>,
    /// Paid for it, beyond expenses.
    #[schema(required)]
    pub paid: Option<bool>,
    /// Absent from school for it.
    #[schema(required)]
    pub misses_school: Option<bool>,
    /// A school's or club's own event, observed and not directed by the production.
    #[schema(required)]
    pub own_event: Option<bool>,
    /// When the council was asked.
    #[schema(required)]
    pub asked_on: Option<NaiveDate>,
    /// When the council granted it.
    #[schema(required)]
    pub granted_on: Option<NaiveDate>,
}

/// How a child's licence stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChildLicenceState {
    /// Granted before filming.
    Granted,
    /// Asked for in time, not granted yet.
    Asked,
    /// Not filmed in the UK; what holds there is for counsel.
    Elsewhere,
    /// Outside it: an own event that nobody directs.
    OwnEvent,
    /// One further day needs none.
    ExemptDay,
    /// To be asked for.
    ToAsk,
    /// Asked for too late, granted after filming, or the day for asking has passed.
    Late,
    /// What decides is not recorded.
    NotSaid,
}

/// A finding with its dates.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ChildLicenceFinding {
    /// How it stands.
    pub state: ChildLicenceState,
    /// Last day for the council's form.
    pub apply_by: NaiveDate,
    /// Days in the six months before the last day of filming on which the child performed, earlier days of this
    /// filming among them.
    pub days_before: u32,
    /// The finding in a sentence, with dates.
    pub sentence: String,
}

impl ChildLicenceState {
    /// Whether somebody has to do something.
    pub fn is_open(self) -> bool {
        matches!(self, Self::ToAsk | Self::Late | Self::NotSaid)
    }
}

/// The last day on which a council is asked for filming that begins on `shoot` (R25).
///
/// ```
/// use chrono::NaiveDate;
/// use waybill_domain::rights::child_licence::apply_by;
/// let day = |m, d| NaiveDate::from_ymd_opt(2026, m, d).expect("a date");
/// assert_eq!(apply_by(day(3, 10)), day(2, 17)); // R25's example
/// ```
pub fn apply_by(shoot: NaiveDate) -> NaiveDate {
    shoot
        .checked_sub_days(Days::new(LEAD_DAYS))
        .unwrap_or(NaiveDate::MIN)
}

/// On how many days a child performed in the six months before `day`: those recorded and the days of this filming from
/// `first` on. The corresponding date six months before counts.
pub fn days_before(performed_on: &[NaiveDate], first: NaiveDate, day: NaiveDate) -> usize {
    let from = day
        .checked_sub_months(Months::new(6))
        .unwrap_or(NaiveDate::MIN);
    let filming = first.iter_days().take_while(|one| *one < day);
    let mut days: Vec<NaiveDate> = performed_on.iter().copied().chain(filming).collect();
    days.retain(|one| *one >= from && *one < day);
    days.sort_unstable();
    days.dedup();
    days.len()
}

/// What is to be said of a child's licence on `today`, for filming from `first` to `last` (R25).
pub fn finding(
    child: &ChildFilming,
    (first, last): (NaiveDate, NaiveDate),
    today: NaiveDate,
) -> ChildLicenceFinding {
    let apply_by = apply_by(first);
    let before = days_before(&child.performed_on, first, last);
    // What is dated on a day ahead has not been done.
    let come = |day: Option<NaiveDate>| day.filter(|day| *day <= today);
    let so_far = ChildFilming {
        asked_on: come(child.asked_on),
        granted_on: come(child.granted_on),
        ..child.clone()
    };
    let (state, mut sentence) = judged(&so_far, first, apply_by, before, today);
    for (what, day, known) in [
        ("council's form", child.asked_on, so_far.asked_on),
        ("council's licence", child.granted_on, so_far.granted_on),
    ] {
        if let (Some(day), None) = (day, known) {
            let ahead = format!(
                " The {what} is dated {}, which is still ahead; it counts from its day.",
                date_words(day)
            );
            sentence.push_str(&ahead);
        }
    }
    ChildLicenceFinding {
        state,
        apply_by,
        days_before: u32::try_from(before).unwrap_or(u32::MAX),
        sentence,
    }
}

fn judged(
    child: &ChildFilming,
    first: NaiveDate,
    apply_by: NaiveDate,
    before: usize,
    today: NaiveDate,
) -> (ChildLicenceState, String) {
    use ChildLicenceState as S;
    let on = date_words(first);
    match (child.granted_on, child.asked_on) {
        (Some(day), _) if day <= first => {
            return (
                S::Granted,
                format!("The council granted the licence on {}.", date_words(day)),
            );
        }
        (Some(day), _) => {
            return (
                S::Late,
                format!(
                    "The council granted the licence on {}, after filming began on {on}.",
                    date_words(day)
                ),
            );
        }
        (None, Some(day)) if day > apply_by => {
            return (
                S::Late,
                format!(
                    "The council was asked on {}; for filming on {on} the form was due by {}.",
                    date_words(day),
                    date_words(apply_by)
                ),
            );
        }
        (None, Some(day)) => {
            return (
                S::Asked,
                format!(
                    "The council was asked on {} and has not granted a licence yet.",
                    date_words(day)
                ),
            );
        }
        (None, None) => {}
    }
    if child.in_uk == Some(false) {
        let words = "Not filmed in the UK; ask counsel what holds for a child there.";
        return (S::Elsewhere, words.into());
    }
    if child.own_event == Some(true) {
        let words = "An own event of the school or club that nobody directs is outside licensing; have the council \
                     confirm it.";
        return (S::OwnEvent, words.into());
    }
    exemption(child, first, apply_by, before, today)
}

/// The four-day rule with its conditions, each asked (R25).
fn exemption(
    child: &ChildFilming,
    first: NaiveDate,
    apply_by: NaiveDate,
    before: usize,
    today: NaiveDate,
) -> (ChildLicenceState, String) {
    use ChildLicenceState as S;
    let days = match before {
        1 => "1 day".to_owned(),
        n => format!("{n} days"),
    };
    let so_far = format!("the child performed on {days} in the six months before");
    let asked = [
        (child.in_uk, "where it is filmed"),
        (child.paid, "whether the child is paid"),
        (child.misses_school, "whether the child misses school"),
    ];
    let missing: Vec<String> = (asked.iter())
        .filter(|(known, _)| known.is_none())
        .map(|(_, what)| (*what).to_owned())
        .collect();
    let excluded = child.paid == Some(true) || child.misses_school == Some(true);
    if before <= DAYS_BEFORE && !excluded {
        if missing.is_empty() {
            return (
                S::ExemptDay,
                format!(
                    "No licence for this day: {so_far}, at most {DAYS_BEFORE} are allowed, the child is not paid and \
                     misses no school."
                ),
            );
        }
        return (
            S::NotSaid,
            format!(
                "It may be the one further day without a licence ({so_far}), but {} is not recorded. A form would be \
                 due by {}.",
                and_list(&missing),
                date_words(apply_by)
            ),
        );
    }
    let why = match (before > DAYS_BEFORE, child.paid, child.misses_school) {
        (true, ..) => format!("{so_far}, more than {DAYS_BEFORE}"),
        (_, Some(true), _) => "the child is paid".to_owned(),
        _ => "the child misses school".to_owned(),
    };
    let (on, by) = (date_words(first), date_words(apply_by));
    if today > apply_by {
        return (
            S::Late,
            format!(
                "A licence is needed for filming on {on} ({why}); the council's form was due by {by}."
            ),
        );
    }
    (
        S::ToAsk,
        format!(
            "A licence is needed for filming on {on} ({why}): send the council's form by {by}."
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a real date")
    }

    fn unpaid_at_home() -> ChildFilming {
        ChildFilming {
            in_uk: Some(true),
            paid: Some(false),
            misses_school: Some(false),
            ..Default::default()
        }
    }

    fn state(child: &ChildFilming, first: &str, last: &str, today: &str) -> ChildLicenceState {
        finding(child, (day(first), day(last)), day(today)).state
    }

    /// Source: rulebook R25 [NLAN] ★: 21 days before 2026-03-10 is 2026-02-17.
    #[test]
    fn r25_the_council_is_asked_21_days_before() {
        assert_eq!(apply_by(day("2026-03-10")), day("2026-02-17"));
        let paid = ChildFilming {
            paid: Some(true),
            ..unpaid_at_home()
        };
        let on = |today| state(&paid, "2026-03-10", "2026-03-10", today);
        assert_eq!(on("2026-02-17"), ChildLicenceState::ToAsk);
        assert_eq!(on("2026-02-18"), ChildLicenceState::Late);
    }

    /// Source: rulebook R25 [CONWY] ★: on at most three days in the last six months, one further day needs none; a
    /// fourth takes that away, as do pay and absence from school.
    #[test]
    fn r25_three_days_before_and_one_further_is_exempt() {
        let mut child = unpaid_at_home();
        child.performed_on = ["2025-10-01", "2025-12-01", "2026-02-01"].map(day).to_vec();
        let on = |child: &ChildFilming| state(child, "2026-03-10", "2026-03-10", "2026-01-05");
        assert_eq!(on(&child), ChildLicenceState::ExemptDay);
        child.performed_on.push(day("2026-02-02"));
        assert_eq!(on(&child), ChildLicenceState::ToAsk);
        // Longer ago than six months does not count; the corresponding date does (the earlier reading).
        child.performed_on[0] = day("2025-09-09");
        assert_eq!(on(&child), ChildLicenceState::ExemptDay);
        child.performed_on[0] = day("2025-09-10");
        assert_eq!(on(&child), ChildLicenceState::ToAsk);
        for excluded in [
            ChildFilming {
                paid: Some(true),
                ..unpaid_at_home()
            },
            ChildFilming {
                misses_school: Some(true),
                ..unpaid_at_home()
            },
        ] {
            assert_eq!(on(&excluded), ChildLicenceState::ToAsk);
        }
    }

    /// Hand-worked: days of one filming count too; five in a row are one too many.
    #[test]
    fn r25_the_days_of_this_filming_count() {
        let child = unpaid_at_home();
        let to = |last| state(&child, "2026-03-10", last, "2026-01-05");
        assert_eq!(to("2026-03-13"), ChildLicenceState::ExemptDay);
        assert_eq!(to("2026-03-14"), ChildLicenceState::ToAsk);
    }

    /// Hand-worked: a blank is no exemption, and what the council did comes first.
    #[test]
    fn r25_a_blank_is_never_an_exemption() {
        let on = |child: &ChildFilming, today| state(child, "2026-03-10", "2026-03-10", today);
        let nothing = ChildFilming::default();
        assert_eq!(on(&nothing, "2026-01-05"), ChildLicenceState::NotSaid);
        let child = ChildFilming {
            granted_on: Some(day("2026-03-11")),
            ..unpaid_at_home()
        };
        assert_eq!(on(&child, "2026-03-12"), ChildLicenceState::Late);
        let child = ChildFilming {
            asked_on: Some(day("2026-02-01")),
            ..unpaid_at_home()
        };
        assert_eq!(on(&child, "2026-02-02"), ChildLicenceState::Asked);
        let elsewhere = ChildFilming {
            in_uk: Some(false),
            ..Default::default()
        };
        assert_eq!(on(&elsewhere, "2026-01-05"), ChildLicenceState::Elsewhere);
    }

    /// Hand-worked from R25 (a grant comes before filming): what is dated ahead of today is not done, and says so.
    #[test]
    fn r25_a_licence_dated_ahead_is_not_granted() {
        let child = ChildFilming {
            paid: Some(true),
            granted_on: Some(day("2026-03-01")),
            ..unpaid_at_home()
        };
        let days = (day("2026-03-10"), day("2026-03-10"));
        let today = finding(&child, days, day("2026-02-01"));
        assert_eq!(today.state, ChildLicenceState::ToAsk);
        let told = "The council's licence is dated 1 Mar 2026, which is still ahead; it counts from its day.";
        assert!(today.sentence.ends_with(told), "{}", today.sentence);
        let then = finding(&child, days, day("2026-03-01"));
        assert_eq!(then.state, ChildLicenceState::Granted);
    }
}
