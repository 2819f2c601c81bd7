//! What people attach to their consent, and how a wish to take it back is dealt with (rulebook 3.1).

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wording::date_words;

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
    /// The day; left out, the day on which the step is entered.
    #[serde(default)]
    #[schema(required)]
    pub on: Option<NaiveDate>,
    /// What happened.
    pub step: WithdrawalStage,
    /// Of a request, who asked. Of any other step, who did it; left out, whoever enters it.
    #[serde(default)]
    pub by: String,
    /// In what words, or in which cut; for another day than that of entering, how that day is known.
    #[serde(default)]
    pub words: String,
    /// Who entered it, as the server noted; what is sent here is passed over.
    #[serde(default)]
    pub entered_by: String,
    /// When, in the series' zone.
    #[serde(default)]
    #[schema(required)]
    pub entered_on: Option<NaiveDate>,
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

impl WithdrawalStep {
    /// What it says happened: when, what, who.
    fn told(&self) -> (Option<NaiveDate>, WithdrawalStage, &str) {
        (self.on, self.step, self.by.as_str())
    }
}

impl WithdrawalStage {
    /// Whether it settles the wish.
    fn decides(self) -> bool {
        matches!(self, Self::Accepted | Self::Declined)
    }
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
pub fn withdrawal_decisions(
    steps: &[WithdrawalStep],
) -> Vec<(Option<NaiveDate>, WithdrawalStage, &str)> {
    (steps.iter().filter(|step| step.step.decides()))
        .map(WithdrawalStep::told)
        .collect()
}

/// Notes who enters what, and when: a new step gets the name and the day of its entering, and what it leaves out is
/// filled in from them, but for who asked. A step of `kept` that says the same keeps its note, whatever is sent.
pub fn note_withdrawal_steps(
    steps: &mut [WithdrawalStep],
    kept: &[WithdrawalStep],
    by: &str,
    today: NaiveDate,
) {
    for step in steps {
        if let Some(old) = kept.iter().find(|old| old.told() == step.told()) {
            (step.entered_by, step.entered_on) = (old.entered_by.clone(), old.entered_on);
            continue;
        }
        step.on.get_or_insert(today);
        if step.by.trim().is_empty() && step.step != WithdrawalStage::Requested {
            by.clone_into(&mut step.by);
        }
        by.clone_into(&mut step.entered_by);
        step.entered_on = Some(today);
    }
}

/// What is wrong with a step for itself: the field, and what to do. A step from before entering was noted is let be.
pub fn withdrawal_step_faults(step: &WithdrawalStep) -> Vec<(&'static str, String)> {
    let mut faults = Vec::new();
    if step.on.is_none() {
        faults.push(("on", "Say on which day.".to_owned()));
    }
    if step.by.trim().is_empty() {
        let words = match step.step {
            WithdrawalStage::Requested => "Say who asked.",
            _ => "Say who did it.",
        };
        faults.push(("by", words.to_owned()));
    }
    let (Some(on), Some(entered)) = (step.on, step.entered_on) else {
        return faults;
    };
    let day = date_words(entered);
    if on > entered {
        let words = format!("A step is entered once it has happened; it is {day} now.");
        faults.push(("on", words));
    } else if on < entered && step.words.trim().is_empty() {
        let words = format!(
            "It is entered on {day}, and the step says another day: say how that day is known."
        );
        faults.push(("words", words));
    }
    if step.step.decides() && step.by != step.entered_by {
        let words = "Whoever decides enters it: leave the name out, and yours is recorded.";
        faults.push(("by", words.to_owned()));
    }
    faults
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
