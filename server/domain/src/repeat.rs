//! What to ask before an episode is shown again (R26): six questions, due when the repeat is scheduled.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// One of the six questions (R26, [S4C-REPEAT]).
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum RepeatQuestion {
    /// Has a contributor died?
    ContributorDied,
    /// Does anybody comment on somebody who has recently died?
    CommentsOnTheDead,
    /// Has a contributor been accused or convicted?
    AccusedOrConvicted,
    /// Does anybody comment on somebody who is accused?
    CommentsOnAccused,
    /// Has language or behaviour become unacceptable?
    LanguageOrBehaviour,
    /// Has a licence lapsed?
    LicenceLapsed,
}

impl RepeatQuestion {
    /// All six, in their order.
    pub const ALL: [RepeatQuestion; 6] = [
        RepeatQuestion::ContributorDied,
        RepeatQuestion::CommentsOnTheDead,
        RepeatQuestion::AccusedOrConvicted,
        RepeatQuestion::CommentsOnAccused,
        RepeatQuestion::LanguageOrBehaviour,
        RepeatQuestion::LicenceLapsed,
    ];

    /// The question as it is asked.
    pub fn words(self) -> &'static str {
        match self {
            RepeatQuestion::ContributorDied => "Has anybody who appears died?",
            RepeatQuestion::CommentsOnTheDead => {
                "Does anybody comment on somebody who has recently died?"
            }
            RepeatQuestion::AccusedOrConvicted => {
                "Has anybody who appears been accused or convicted?"
            }
            RepeatQuestion::CommentsOnAccused => "Does anybody comment on somebody who is accused?",
            RepeatQuestion::LanguageOrBehaviour => {
                "Has any language or behaviour become unacceptable?"
            }
            RepeatQuestion::LicenceLapsed => "Has a licence lapsed?",
        }
    }
}

/// The answers before one repeat.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct RepeatCheck {
    /// One for each question that was answered.
    pub answers: Vec<RepeatAnswer>,
    /// Who answered.
    pub answered_by: String,
    /// When.
    #[schema(required)]
    pub answered_on: Option<NaiveDate>,
}

/// An answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RepeatAnswer {
    /// To which question.
    pub question: RepeatQuestion,
    /// Whether there is something.
    pub yes: bool,
    /// What, and what is done about it.
    #[serde(default)]
    pub note: String,
}

impl RepeatCheck {
    /// Questions that nobody answered. An answer without who or when answers none (R26).
    ///
    /// ```
    /// use waybill_domain::repeat::RepeatCheck;
    /// assert_eq!(RepeatCheck::default().open().len(), 6);
    /// ```
    pub fn open(&self) -> Vec<RepeatQuestion> {
        let signed = !self.answered_by.trim().is_empty() && self.answered_on.is_some();
        RepeatQuestion::ALL
            .into_iter()
            .filter(|question| !signed || !self.answers.iter().any(|one| one.question == *question))
            .collect()
    }

    /// Questions to which somebody said that there is something.
    pub fn concerns(&self) -> Vec<RepeatQuestion> {
        RepeatQuestion::ALL
            .into_iter()
            .filter(|question| {
                let mut answers = self.answers.iter();
                answers.any(|one| one.question == *question && one.yes)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: rulebook R26 [S4C-REPEAT]: six questions; hand-worked: all answered, with who and when.
    #[test]
    fn r26_six_questions_before_a_repeat() {
        let answer = |question| RepeatAnswer {
            question,
            yes: question == RepeatQuestion::LicenceLapsed,
            note: String::new(),
        };
        let mut check = RepeatCheck {
            answers: RepeatQuestion::ALL.map(answer).to_vec(),
            answered_by: "Counsel".into(),
            answered_on: NaiveDate::from_ymd_opt(2029, 11, 1),
        };
        assert!(check.open().is_empty());
        assert_eq!(check.concerns(), [RepeatQuestion::LicenceLapsed]);
        check.answers.remove(1);
        assert_eq!(check.open(), [RepeatQuestion::CommentsOnTheDead]);
        check.answered_by.clear();
        assert_eq!(check.open().len(), 6);
    }
}
