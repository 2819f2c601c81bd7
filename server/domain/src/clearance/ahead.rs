//! Days that are still ahead: nothing counts as signed, approved or decided before its day. It is not known to have
//! happened, and unknown is never a yes.

use chrono::NaiveDate;

use super::paper::{Context, Paper};
use super::reason::{Reason, ReasonCode, Weight};
use super::words;
use crate::wording::date_words;

impl Context<'_> {
    /// The day, where it is still ahead.
    pub fn ahead(&self, day: Option<NaiveDate>) -> Option<NaiveDate> {
        day.filter(|day| *day > self.question.today)
    }

    /// The day, where it has come.
    pub fn come(&self, day: Option<NaiveDate>) -> Option<NaiveDate> {
        day.filter(|day| *day <= self.question.today)
    }

    /// "was signed on 1 May 2026", or "is dated 3 May 2027" where that day is still ahead.
    pub fn signed_words(&self, day: NaiveDate) -> String {
        let how = match self.ahead(Some(day)) {
            Some(_) => "is dated",
            None => "was signed on",
        };
        format!("{how} {}", date_words(day))
    }

    /// Says of a paper that what it rests on is dated on a day that is still ahead. `done`: what happens on that day.
    pub fn not_come(
        &self,
        paper: &Paper<'_>,
        rule: &str,
        (what, done): (&str, &str),
        day: Option<NaiveDate>,
    ) -> Option<Reason> {
        let sentence = sentence(what, done, self.ahead(day)?);
        Some(paper.reason(ReasonCode::DayAhead, rule, Weight::Unknown, sentence))
    }
}

/// "The licence from Quay Archive is dated 3 May 2027, which is still ahead; nothing counts as signed before its day."
fn sentence(what: &str, done: &str, day: NaiveDate) -> String {
    format!(
        "{} is dated {}, which is still ahead; nothing counts as {done} before its day.",
        words::first_upper(what),
        date_words(day)
    )
}
