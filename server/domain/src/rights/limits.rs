//! What narrows a grant beyond territories, media and days: how often it may be shown (R4), in which
//! episodes and versions, and the options by which it may be extended (R7).

use chrono::{Days, NaiveDate, NaiveDateTime, TimeDelta};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::days::next;
use super::term::{Counting, last_day};

/// What a grant is limited to. Empty: the paper sets no such limit.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default)]
pub struct Limits {
    /// How often it may be shown in each territory and medium. None: as often as wanted.
    pub runs: Option<Runs>,
    /// Numbers of the only episodes that it is for. Empty: all.
    pub episodes: Vec<i32>,
    /// Names of the only versions that it is for, such as "broadcast". Empty: all.
    pub versions: Vec<String>,
}

/// A number of showings, and what counts as one (R4; the contract decides).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Runs {
    /// How many are allowed in each territory and medium.
    pub allowed: u32,
    /// What counts as one.
    pub counting: RunCounting,
}

/// What counts as one run (R4).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RunCounting {
    /// Every showing.
    Each,
    /// All showings within seven times 24 hours of the first.
    SevenDaysByTheHour,
    /// All showings on the day of the first and the six days after it.
    SevenCalendarDays,
}

impl RunCounting {
    /// Whether a showing belongs to the run that began with `first`, which is not later.
    pub fn is_same_run(self, first: NaiveDateTime, at: NaiveDateTime) -> bool {
        match self {
            RunCounting::Each => false,
            RunCounting::SevenDaysByTheHour => at - first < TimeDelta::days(7),
            RunCounting::SevenCalendarDays => (at.date() - first.date()).num_days() < 7,
        }
    }

    /// How runs are counted, within a sentence.
    pub fn words(self) -> &'static str {
        match self {
            RunCounting::Each => "every showing counted",
            RunCounting::SevenDaysByTheHour => {
                "showings within 7 times 24 hours of the first counted once"
            }
            RunCounting::SevenCalendarDays => "showings within 7 calendar days counted once",
        }
    }
}

/// Number of runs that these showings of one territory and medium make (R4). Any order.
///
/// ```
/// use chrono::NaiveDate;
/// use waybill_domain::rights::limits::{count_runs, RunCounting};
/// let at = |d| NaiveDate::from_ymd_opt(2029, 1, d).expect("a date").and_hms_opt(20, 0, 0).expect("a time");
/// let plays = [at(1), at(3), at(7), at(8)]; // day 0, 2, 6 and 7: R4's example
/// assert_eq!(count_runs(&plays, RunCounting::SevenDaysByTheHour), 2);
/// assert_eq!(count_runs(&plays, RunCounting::Each), 4);
/// ```
pub fn count_runs(showings: &[NaiveDateTime], counting: RunCounting) -> u32 {
    let mut sorted = showings.to_vec();
    sorted.sort_unstable();
    let mut runs = 0;
    let mut first: Option<NaiveDateTime> = None;
    for at in sorted {
        if !first.is_some_and(|first| counting.is_same_run(first, at)) {
            runs += 1;
            first = Some(at);
        }
    }
    runs
}

/// A right to extend a term, if notice is given in time (R7).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct RenewalOption {
    /// How many months it adds after the term's last day.
    pub months: u32,
    /// How many days before the term's last day notice must be given.
    pub notice_days: u32,
    /// The agreed price, as the paper says it; it decides nothing.
    #[serde(default)]
    pub price: String,
    /// The day on which notice was given. None: not yet.
    #[serde(default)]
    pub taken_up_on: Option<NaiveDate>,
}

/// How an option stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OptionState {
    /// Notice was given in time; the term is longer by it.
    TakenUp,
    /// Notice can still be given.
    Open,
    /// The day for notice has passed, though the term may still run.
    Missed,
}

/// The last day on which notice of an option can be given: `days` before the term's last day (R7).
///
/// ```
/// use chrono::NaiveDate;
/// use waybill_domain::rights::limits::notice_by;
/// let day = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).expect("a date");
/// assert_eq!(notice_by(day(2029, 1, 9), 90), day(2028, 10, 11)); // R7's example
/// ```
pub fn notice_by(expiry: NaiveDate, days: u32) -> NaiveDate {
    expiry
        .checked_sub_days(Days::new(days.into()))
        .unwrap_or(NaiveDate::MIN)
}

impl RenewalOption {
    /// How the option stands on `today`, for a term that ends on `expiry`. Notice that is dated on a later day has not
    /// been given.
    pub fn state(&self, expiry: NaiveDate, today: NaiveDate) -> OptionState {
        let by = notice_by(expiry, self.notice_days);
        match self.taken_up_on.filter(|day| *day <= today) {
            Some(day) if day <= by => OptionState::TakenUp,
            Some(_) => OptionState::Missed,
            None if today > by => OptionState::Missed,
            None => OptionState::Open,
        }
    }

    /// The term's last day with this option taken up.
    pub fn extended(&self, expiry: NaiveDate) -> NaiveDate {
        last_day(next(expiry), self.months, Some(Counting::Including)).unwrap_or(NaiveDate::MAX)
    }
}

/// An option of a grant with the days that decide it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OptionStep<'a> {
    /// The option.
    pub option: &'a RenewalOption,
    /// Last day of the term that it would extend.
    pub expiry: NaiveDate,
    /// Last day for notice.
    pub notice_by: NaiveDate,
}

/// Options in their order on a term that ends on `expiry`, as they stand on `today`: each begins where the one before
/// it ends, and the first that is not taken up is the last that matters.
pub fn option_steps(
    options: &[RenewalOption],
    expiry: NaiveDate,
    today: NaiveDate,
) -> Vec<OptionStep<'_>> {
    let mut steps = Vec::new();
    let mut expiry = expiry;
    for option in options {
        let notice_by = notice_by(expiry, option.notice_days);
        steps.push(OptionStep {
            option,
            expiry,
            notice_by,
        });
        if option.state(expiry, today) != OptionState::TakenUp {
            break;
        }
        expiry = option.extended(expiry);
    }
    steps
}

/// The last day of a term with the options that were taken up in time, by `today` (R7).
pub fn with_options(options: &[RenewalOption], expiry: NaiveDate, today: NaiveDate) -> NaiveDate {
    option_steps(options, expiry, today)
        .into_iter()
        .filter(|step| step.option.state(step.expiry, today) == OptionState::TakenUp)
        .map(|step| step.option.extended(step.expiry))
        .next_back()
        .unwrap_or(expiry)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a real date")
    }

    fn at(text: &str) -> NaiveDateTime {
        text.parse().expect("a real time")
    }

    /// Source: rulebook R4: plays on day 0, 2, 6 and 7 are two releases. By the hour, a play an hour
    /// before the seven days are over still belongs to the first; by the calendar it does not.
    #[test]
    fn r4_releases_of_seven_days() {
        let plays = [
            at("2029-01-01T20:00:00"),
            at("2029-01-03T20:00:00"),
            at("2029-01-07T20:00:00"),
            at("2029-01-08T20:00:00"),
        ];
        assert_eq!(count_runs(&plays, RunCounting::SevenDaysByTheHour), 2);
        assert_eq!(count_runs(&plays, RunCounting::SevenCalendarDays), 2);
        let early = [at("2029-01-01T20:00:00"), at("2029-01-08T19:00:00")];
        assert_eq!(count_runs(&early, RunCounting::SevenDaysByTheHour), 1);
        assert_eq!(count_runs(&early, RunCounting::SevenCalendarDays), 2);
        assert_eq!(count_runs(&[], RunCounting::Each), 0);
    }

    /// Source: rulebook R7: expiry 2029-01-09 and 90 days give 2028-10-11; after it the option is
    /// lost though the licence still runs.
    #[test]
    fn r7_the_day_for_notice_and_a_missed_option() {
        let option = |taken_up_on| RenewalOption {
            months: 24,
            notice_days: 90,
            price: String::new(),
            taken_up_on,
        };
        let expiry = day("2029-01-09");
        assert_eq!(notice_by(expiry, 90), day("2028-10-11"));
        let on = |text| option(None).state(expiry, day(text));
        assert_eq!(on("2028-10-11"), OptionState::Open);
        assert_eq!(on("2028-10-12"), OptionState::Missed);
        let taken = option(Some(day("2028-10-11")));
        assert_eq!(taken.state(expiry, day("2030-01-01")), OptionState::TakenUp);
        assert_eq!(taken.extended(expiry), day("2031-01-09"));
        let late = option(Some(day("2028-10-12")));
        assert_eq!(late.state(expiry, day("2028-10-12")), OptionState::Missed);
        let today = day("2032-01-01");
        assert_eq!(with_options(&[late, taken.clone()], expiry, today), expiry);
        let next = RenewalOption {
            taken_up_on: Some(day("2030-01-01")),
            ..taken.clone()
        };
        let both = [taken, next];
        assert_eq!(with_options(&both, expiry, today), day("2033-01-09"));
        // Notice that is dated ahead of today has not been given (hand-worked).
        let on = |text| with_options(&both, expiry, day(text));
        assert_eq!(on("2029-12-31"), day("2031-01-09"));
        assert_eq!(on("2028-10-10"), expiry);
        assert_eq!(both[0].state(expiry, day("2028-10-10")), OptionState::Open);
    }
}
