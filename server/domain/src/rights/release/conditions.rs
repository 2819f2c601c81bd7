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

/// The first step that comes out of order, by its place, and what would have to come before it: request, holding,
/// decision, action (rulebook 3.1). A new request may follow a decision.
pub fn withdrawal_out_of_order(steps: &[WithdrawalStep]) -> Option<(usize, &'static str)> {
    let (mut asked, mut open) = (false, false);
    for (at, step) in steps.iter().enumerate() {
        match step.step {
            WithdrawalStage::Requested => (asked, open) = (true, true),
            WithdrawalStage::Acted if asked => {}
            WithdrawalStage::Holding if open => {}
            WithdrawalStage::Accepted | WithdrawalStage::Declined if open => open = false,
            _ if asked => return Some((at, "It was decided already; a new request comes first.")),
            _ => return Some((at, "A request comes first: who asked, and when.")),
        }
    }
    None
}

/// What of the steps is a decision: only some may make, change or take it away.
pub fn withdrawal_decisions(steps: &[WithdrawalStep]) -> Vec<(NaiveDate, WithdrawalStage, &str)> {
    let decides = |step: &&WithdrawalStep| {
        matches!(
            step.step,
            WithdrawalStage::Accepted | WithdrawalStage::Declined
        )
    };
    (steps.iter().filter(decides))
        .map(|step| (step.on, step.step, step.by.as_str()))
        .collect()
}

/// From whom somebody was promised to be hidden.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HiddenFrom {
    /// From viewers who do not know them.
    Public,
    /// From people who know them too: family, neighbours, colleagues.
    PeopleWhoKnowThem,
}

/// The level of disguise that was agreed: never assumed, always recorded (rulebook 3.1). A blank is not known.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Disguise {
    /// From whom.
    #[schema(required)]
    pub from: Option<HiddenFrom>,
    /// How: what is blurred, how the voice is changed, what of clothes and place is not seen.
    pub how: String,
    /// When it was agreed.
    #[schema(required)]
    pub agreed_on: Option<NaiveDate>,
    /// With whom: the person, their guardian; and who promised it.
    pub agreed_with: String,
}

impl Disguise {
    /// What is missing to know what was promised, in words.
    pub fn missing(&self) -> Vec<String> {
        let all = [
            (self.from.is_none(), "from whom"),
            (self.how.trim().is_empty(), "how"),
            (self.agreed_with.trim().is_empty(), "agreed with whom"),
            (self.agreed_on.is_none(), "when"),
        ];
        (all.iter())
            .filter(|(missing, _)| *missing)
            .map(|(_, what)| (*what).to_owned())
            .collect()
    }
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
    /// Named only so: by the first name, an alias, a role.
    NamedAs {
        /// The name agreed, letter by letter.
        name: String,
    },
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
