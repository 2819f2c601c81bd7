//! What people attach to their consent, and how a wish to take it back is dealt with (rulebook 3.1).

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How far a wish to withdraw has come: asked for, held, decided (rulebook 3.1). While uses are held
/// they may not be shown; only an accepted wish ends the release.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Withdrawal {
    /// Asked for, not decided: shown, does not fail.
    Requested,
    /// Being decided; until then the uses are held back.
    Holding,
    /// Agreed.
    Accepted,
    /// Declined; the special circumstances are on record.
    Declined,
}

/// A step in dealing with a wish to withdraw.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WithdrawalStep {
    /// The day.
    pub on: NaiveDate,
    /// What happened.
    pub step: WithdrawalStage,
    /// Who did it.
    pub by: String,
    /// In what words, or in which cut.
    #[serde(default)]
    pub words: String,
}

/// What happens to a wish to withdraw, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WithdrawalStage {
    /// The person asked.
    Requested,
    /// Uses are held until it is decided.
    Holding,
    /// Agreed.
    Accepted,
    /// Declined, with the reasons.
    Declined,
    /// Something was done in a cut.
    Acted,
}

/// Where the steps leave the wish. None: nobody asked, or the steps only say what was done.
pub fn withdrawal_after(steps: &[WithdrawalStep]) -> Option<Withdrawal> {
    steps.iter().rev().find_map(|step| match step.step {
        WithdrawalStage::Requested => Some(Withdrawal::Requested),
        WithdrawalStage::Holding => Some(Withdrawal::Holding),
        WithdrawalStage::Accepted => Some(Withdrawal::Accepted),
        WithdrawalStage::Declined => Some(Withdrawal::Declined),
        WithdrawalStage::Acted => None,
    })
}

/// What somebody asked for as a condition of their consent (rulebook 3.1).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Restriction {
    /// The face must not be recognisable.
    BlurFace,
    /// The voice must be changed.
    ChangeVoice,
    /// The name must not be shown or said.
    NoName,
    /// Not in trailers, posters or social clips.
    NoPromotion,
    /// Not to be shown in these territories.
    NotIn {
        /// Codes as in a grant.
        territories: Vec<String>,
    },
    /// Not to be shown before this day.
    NotBefore {
        /// First allowed day.
        date: NaiveDate,
    },
    /// Not to be shown after this day.
    NotAfter {
        /// Last allowed day.
        date: NaiveDate,
    },
    /// Not in these media.
    NotInMedia {
        /// Dotted media names.
        media: Vec<String>,
    },
    /// Not in one shot with another person.
    NotBeside {
        /// Id of that person's record, as elements of the question carry it.
        person: String,
    },
    /// Somebody may view or approve before it is shown.
    Approval {
        /// What they approve, and who.
        words: String,
        /// When they did. None: not yet.
        #[serde(default)]
        approved_on: Option<NaiveDate>,
    },
    /// Agreed in words that a program cannot check; somebody must look.
    Other {
        /// The words agreed.
        words: String,
    },
}
