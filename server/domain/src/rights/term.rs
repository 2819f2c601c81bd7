//! When: what starts a term, how long it runs, and how its last day is counted (R1, R2).
//!
//! A date that is not known stays unknown. A blank term is never perpetuity.

use chrono::{Datelike, Months, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::days::{Days, previous};
use crate::wording::date_words;

/// An event whose date can start a term (R2).
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Event {
    /// The licence's or release's own signature.
    Signature,
    /// The episode's first transmission.
    FirstTransmission,
    /// The episode's delivery.
    Delivery,
    /// The episode's first use anywhere outside the team.
    FirstUse,
}

impl Event {
    /// The event in words, after "at" or "from".
    pub fn words(self) -> &'static str {
        match self {
            Event::Signature => "signature",
            Event::FirstTransmission => "first transmission",
            Event::Delivery => "delivery",
            Event::FirstUse => "first use",
        }
    }
}

/// What starts a term: a date (`"2026-10-01"`) or an event (`"first_transmission"`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(untagged)]
pub enum Starts {
    /// On this day.
    On(NaiveDate),
    /// When this happens.
    At(Event),
}

/// How long a term runs: `{"to": date}`, `{"months": n}` or `"perpetuity"`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Term {
    /// Until this day, included.
    To(NaiveDate),
    /// So many months from the start.
    Months(u32),
    /// Without end, because the paper says so.
    Perpetuity,
}

/// How the last day of a term in months is counted (R1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Counting {
    /// From and including the first day: ends the day before the corresponding date.
    Including,
    /// After the event: ends on the corresponding date.
    After,
}

/// The date of an event, as far as anybody knows it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
pub struct EventDate {
    /// It happened, or is fixed.
    pub known: Option<NaiveDate>,
    /// The earliest date it is planned for; what is computed from it is provisional (R2).
    #[serde(default)]
    pub planned: Option<NaiveDate>,
}

impl EventDate {
    /// The date to compute with: the known one, else the planned one.
    pub fn date(self) -> Option<NaiveDate> {
        self.known.or(self.planned)
    }

    /// Whether only a planned date is there.
    pub fn is_provisional(self) -> bool {
        self.known.is_none() && self.planned.is_some()
    }
}

/// When a grant holds, as far as it can be said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Holds {
    /// On exactly these days.
    On(Days),
    /// On some of these days; which ones is not known.
    Perhaps(Days),
}

/// The corresponding date `months` later, or none when that month has no such day.
fn corresponding(start: NaiveDate, months: u32) -> Option<Result<NaiveDate, NaiveDate>> {
    let clamped = start.checked_add_months(Months::new(months))?;
    Some(if clamped.day() == start.day() {
        Ok(clamped)
    } else {
        Err(clamped)
    })
}

/// Last day of a term of `months` from `start` (R1). None where the calendar itself ends.
///
/// Where the month has no corresponding date, its last day is the last day of the term under
/// either convention, as R1's own examples have it (31 Aug 2026 + 6 months ends 28 Feb 2027).
/// `counting: None` takes the earlier of the two conventions, to be shown as assumed.
///
/// ```
/// use chrono::NaiveDate;
/// use waybill_domain::rights::term::{last_day, Counting};
/// let day = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).expect("a real date");
/// assert_eq!(last_day(day(2026, 3, 1), 60, Some(Counting::Including)), Some(day(2031, 2, 28)));
/// assert_eq!(last_day(day(1978, 9, 30), 4, Some(Counting::After)), Some(day(1979, 1, 30)));
/// ```
pub fn last_day(start: NaiveDate, months: u32, counting: Option<Counting>) -> Option<NaiveDate> {
    Some(match (corresponding(start, months)?, counting) {
        (Ok(date), Some(Counting::After)) => date,
        (Ok(date), Some(Counting::Including) | None) => previous(date),
        (Err(end_of_month), _) => end_of_month,
    })
}

/// The days of a term (R1, R2), from the date of its start as far as known.
///
/// `long_stop` caps the end whatever the start turns out to be. A term that ends before it begins
/// holds on no day.
pub fn days_of(
    start: Option<NaiveDate>,
    term: Option<Term>,
    counting: Option<Counting>,
    long_stop: Option<NaiveDate>,
) -> Holds {
    let cap = long_stop.unwrap_or(NaiveDate::MAX);
    let from = start.unwrap_or(NaiveDate::MIN);
    let until = |end: NaiveDate| Days::new(from, end.min(cap));
    match (start, term) {
        (Some(start), Some(Term::Months(months))) => Holds::On(until(
            last_day(start, months, counting).unwrap_or(NaiveDate::MAX),
        )),
        (Some(_), Some(Term::Perpetuity)) => Holds::On(until(NaiveDate::MAX)),
        (Some(_), Some(Term::To(end))) => Holds::On(until(end)),
        // A day after the stated end cannot be covered, whenever the term began.
        (None, Some(Term::To(end))) => Holds::Perhaps(until(end)),
        (None, _) | (Some(_), None) => Holds::Perhaps(until(NaiveDate::MAX)),
    }
}

/// What is taken for granted where the paper does not say how months are counted, for a reader.
pub fn counting_assumed(start: NaiveDate, months: u32) -> String {
    let end = last_day(start, months, None).map_or_else(|| "its end".into(), date_words);
    format!(
        "the paper does not say whether the first day counts in its {months} months, so the \
         earlier end, {end}, was taken"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a real date")
    }

    /// Source: rulebook R1(a), from and including the first day.
    #[test]
    fn r1_from_and_including() {
        let ends = |start, months| last_day(day(start), months, Some(Counting::Including));
        assert_eq!(ends("2026-03-01", 60), Some(day("2031-02-28")));
        assert_eq!(ends("2026-08-31", 6), Some(day("2027-02-28")));
        assert_eq!(ends("2028-02-29", 12), Some(day("2029-02-28")));
    }

    /// Source: rulebook R1(b): Dodds v Walker [1981] ★ and the clamp to a short month ★.
    #[test]
    fn r1_after_the_event() {
        let ends = |start, months| last_day(day(start), months, Some(Counting::After));
        assert_eq!(ends("1978-09-30", 4), Some(day("1979-01-30")));
        assert_eq!(ends("2026-01-31", 1), Some(day("2026-02-28")));
        assert_eq!(ends("2028-01-31", 1), Some(day("2028-02-29")));
    }

    /// Source: rulebook R1: where the paper does not say, the earlier of the two.
    #[test]
    fn r1_not_stated_takes_the_earlier() {
        assert_eq!(
            last_day(day("2026-01-10"), 36, None),
            Some(day("2029-01-09"))
        );
    }

    /// Source: rulebook R2: 5 years from signature cover 2026-10-01..2029-09-30 with 466 days to
    /// spare; 3 years are 264 days short.
    #[test]
    fn r2_clock_from_signature() {
        let need = day("2029-09-30");
        let end = |months| last_day(day("2026-01-10"), months, Some(Counting::Including));
        let spare = |months| end(months).map(|end| (end - need).num_days());
        assert_eq!((spare(60), spare(36)), (Some(466), Some(-264)));
    }

    /// Source: rulebook R2: a blank term is unknown, never perpetuity; a long stop caps the end.
    #[test]
    fn r2_blank_is_never_perpetuity() {
        let start = Some(day("2026-01-10"));
        let holds = days_of(start, None, None, Some(day("2027-01-01")));
        assert_eq!(
            holds,
            Holds::Perhaps(Days::new(day("2026-01-10"), day("2027-01-01")))
        );
        let holds = days_of(start, Some(Term::Perpetuity), None, None);
        assert_eq!(
            holds,
            Holds::On(Days::new(day("2026-01-10"), NaiveDate::MAX))
        );
    }
}
