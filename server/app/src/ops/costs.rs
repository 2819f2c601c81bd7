//! What licences cost against what may be spent: per episode and currency, with step-ups, what most-favoured terms
//! would add (R11) and what is billed at least (R10). Only for who may see fees.

mod paper;
mod terms;
pub mod tried;

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::costs::{Purse, amount_words, split};
use waybill_domain::perms::Action;

use super::access::{Access, Actor, enter};
use crate::app::App;
use crate::db::Conn;
use crate::db::costs::{self as db, Budget, Cost, LicenceMoney};
use crate::error::OpError;
pub use paper::file;
pub use terms::{Billed, BilledCut, EqualTerms};

/// All money of a series.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CostSummary {
    /// Per episode and currency; the series as a whole last.
    pub lines: Vec<CostLine>,
    pub equal_terms: Vec<EqualTerms>,
    /// What licences with a minimum bill for their uses in the latest cuts (R10).
    pub billed: Vec<Billed>,
    /// Licences whose costs do not come to their fee, or that have none.
    pub differences: Vec<String>,
    pub assumptions: Vec<String>,
}

/// The money of an episode, or of the series as a whole, in one currency.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CostLine {
    #[schema(required)]
    pub episode_id: Option<Uuid>,
    pub title: String,
    pub currency: String,
    /// Null: there is no budget in this currency.
    #[schema(required)]
    pub budget_minor: Option<i64>,
    pub quoted_minor: i64,
    /// Agreed, and step-ups that were taken.
    pub agreed_minor: i64,
    pub paid_minor: i64,
    /// Step-ups that can still be taken.
    pub step_ups_minor: i64,
    /// What equal terms add to what is agreed or quoted (R11).
    pub raised_minor: i64,
    /// Budget less what is agreed, or quoted where nothing is agreed yet, or paid where that is more; less what equal
    /// terms add.
    #[schema(required)]
    pub left_minor: Option<i64>,
    /// An episode's part of what is held for the series as a whole, in equal parts; it stands against the series' budget.
    pub shared_minor: i64,
}

/// Everything that the sums are made from.
struct Money {
    /// In the series' time zone.
    today: NaiveDate,
    costs: Vec<Cost>,
    budgets: Vec<Budget>,
    licences: Vec<LicenceMoney>,
    episodes: Vec<(Uuid, i32, String)>,
    /// Where each licence with a minimum is used: in the latest cut of each episode, in the order of episodes.
    used: Vec<terms::CutUses>,
}

/// The money of a series.
///
/// # Errors
/// Access; the database's.
pub async fn summary(app: &App, actor: &Actor, series: Uuid) -> Result<CostSummary, OpError> {
    let (_, money) = gather(app, actor, series).await?;
    Ok(sum(&money))
}

/// What equal terms add (R11), in sentences that name the episode, each with it. For those who may see fees; the caller
/// asks.
///
/// # Errors
/// The database's.
pub async fn raised(conn: &mut Conn, series: Uuid) -> Result<Vec<(Option<Uuid>, String)>, OpError> {
    let money = Money {
        today: NaiveDate::MIN, // decides nothing here
        costs: db::costs(conn, series).await?,
        licences: db::licences(conn, series).await?,
        budgets: vec![],
        episodes: vec![],
        used: vec![],
    };
    let episodes = db::episodes(conn, series).await?;
    let within = |episode: Option<Uuid>, sentence: String| {
        let known = episodes.iter().find(|(id, ..)| Some(*id) == episode);
        match (known, sentence.strip_prefix("The ")) {
            (None, _) => sentence,
            (Some((_, number, _)), Some(rest)) => format!("Episode {number}: the {rest}"),
            (Some((_, number, _)), None) => format!("Episode {number}: {sentence}"),
        }
    };
    let found = terms::equal_terms(&money).into_iter();
    Ok(found
        .filter(|(_, one)| one.more_minor > 0)
        .map(|(episode, one)| (episode, within(episode, one.sentence)))
        .collect())
}

async fn gather(app: &App, actor: &Actor, series: Uuid) -> Result<(Access, Money), OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFees).await?;
    let licences = db::licences(conn, series).await?;
    let episodes = db::episodes(conn, series).await?;
    let money = Money {
        today: access.today(app.now()),
        costs: db::costs(conn, series).await?,
        budgets: db::budgets(conn, series).await?,
        used: terms::uses(conn, &access, &licences, &episodes).await?,
        licences,
        episodes,
    };
    Ok((access, money))
}

/// What is counted for a cost: agreed, else quoted.
fn expected(cost: &Cost) -> i64 {
    let fields = &cost.fields;
    fields.agreed_minor.or(fields.quoted_minor).unwrap_or(0)
}

/// What stands for a cost: what is expected and step-ups that were taken, or what was paid where that is more.
fn held(cost: &Cost) -> i64 {
    (expected(cost) + taken(cost)).max(cost.fields.paid_minor.unwrap_or(0))
}

/// Step-ups that were taken.
fn taken(cost: &Cost) -> i64 {
    let steps = cost.fields.step_ups.0.iter();
    steps
        .filter(|step| step.taken)
        .map(|step| step.amount_minor)
        .sum()
}

/// Step-ups that can still be taken on a day.
fn open(cost: &Cost, today: NaiveDate) -> i64 {
    (cost.fields.step_ups.0.iter())
        .filter(|step| !step.taken && step.until.is_none_or(|until| until >= today))
        .map(|step| step.amount_minor)
        .sum()
}

fn sum(money: &Money) -> CostSummary {
    let places = (money.episodes.iter())
        .map(|(id, number, title)| (Some(*id), format!("{number}. {title}")))
        .chain([(None, "The series as a whole".to_owned())]);
    let shared = shared(money);
    let equal_terms = terms::equal_terms(money);
    let lines = places
        .enumerate()
        .flat_map(|(at, (episode, title))| {
            let own = (shared.iter())
                .filter_map(|(currency, parts)| Some((*currency, *parts.get(at)?)))
                .collect();
            let raised = (equal_terms.iter()).filter(|(of, _)| *of == episode);
            lines_of(money, episode, &title, &own, raised.map(|(_, one)| one))
        })
        .collect();
    CostSummary {
        lines,
        equal_terms: equal_terms.into_iter().map(|(_, one)| one).collect(),
        billed: terms::billed(money),
        differences: differences(money),
        assumptions: vec![
            "Amounts are never added across currencies.".into(),
            "Where nothing is agreed yet, what was quoted is held against the budget; where more was paid, that; and what \
             equal terms add is taken off, too."
                .into(),
            "Step-ups whose last day has passed can't be taken any more and are left out.".into(),
            "What is held for the series as a whole stands against its own budget; beside each episode stands its part, \
             in equal parts, what rounding leaves with the first."
                .into(),
            "Most-favoured terms are compared for 100 % of each side within one currency and episode: with the parties to \
             the same piece, or with all of the programme's music or imports where the licence says so, parties that it \
             leaves out set aside (R11). A licensor's part of a side is the share of the piece's party of that name; where \
             a share is missing, what is held for its side is added up, and each is its part of that. The contract may \
             say otherwise."
                .into(),
            "Minimum billing counts the latest cut of each episode; a clip's picture and sound are one use, begun \
             seconds count in full, and a minimum for the project takes all episodes together (R10)."
                .into(),
        ],
    }
}

/// What is held for the series as a whole, by currency, divided among its episodes in their order.
fn shared(money: &Money) -> BTreeMap<&str, Vec<i64>> {
    let mut all: BTreeMap<&str, i64> = BTreeMap::new();
    for cost in &money.costs {
        if cost.fields.episode_id.is_none() {
            *all.entry(&cost.fields.currency).or_default() += held(cost);
        }
    }
    let equal = vec![1; money.episodes.len()];
    (all.into_iter())
        .filter(|(_, amount)| *amount > 0)
        .map(|(currency, amount)| (currency, split(amount, &equal)))
        .collect()
}

fn lines_of<'a>(
    money: &Money,
    episode: Option<Uuid>,
    title: &str,
    shared: &BTreeMap<&str, i64>,
    equal_terms: impl Iterator<Item = &'a EqualTerms>,
) -> Vec<CostLine> {
    let mut raised = Purse::default();
    for one in equal_terms {
        raised.add(&one.currency, one.more_minor);
    }
    let costs: Vec<&Cost> = (money.costs.iter())
        .filter(|cost| cost.fields.episode_id == episode)
        .collect();
    let mut budget = Purse::default();
    for one in money
        .budgets
        .iter()
        .filter(|one| one.fields.episode_id == episode)
    {
        budget.add(&one.fields.currency, one.fields.amount_minor);
    }
    let mut currencies: BTreeSet<&str> = budget.currencies().collect();
    currencies.extend(costs.iter().map(|cost| cost.fields.currency.as_str()));
    currencies.extend(shared.keys());
    currencies
        .into_iter()
        .map(|currency| {
            let of: Vec<&&Cost> = (costs.iter())
                .filter(|cost| cost.fields.currency == currency)
                .collect();
            let total = |part: &dyn Fn(&Cost) -> i64| of.iter().map(|cost| part(cost)).sum::<i64>();
            let raised_minor = raised.of(currency);
            let has_budget = budget.currencies().any(|one| one == currency);
            let budget_minor = has_budget.then(|| budget.of(currency));
            let held = total(&held) + raised_minor;
            CostLine {
                episode_id: episode,
                title: title.to_owned(),
                currency: currency.to_owned(),
                budget_minor,
                quoted_minor: total(&|cost| cost.fields.quoted_minor.unwrap_or(0)),
                agreed_minor: total(&|cost| cost.fields.agreed_minor.unwrap_or(0) + taken(cost)),
                paid_minor: total(&|cost| cost.fields.paid_minor.unwrap_or(0)),
                step_ups_minor: total(&|cost| open(cost, money.today)),
                raised_minor,
                left_minor: budget_minor.map(|budget| budget - held),
                shared_minor: shared.get(currency).copied().unwrap_or(0),
            }
        })
        .collect()
}

/// Where the licence and its costs say different things.
fn differences(money: &Money) -> Vec<String> {
    let mut all = Vec::new();
    for licence in &money.licences {
        let name = format!("{}, for “{}”", licence.licensor, licence.subject);
        for cost in (money.costs.iter()).filter(|cost| cost.fields.licence_id == licence.id) {
            all.extend(overpaid(cost).map(|words| format!("{name}: {words}")));
        }
        let own: Vec<&Cost> = (money.costs.iter())
            .filter(|cost| cost.fields.licence_id == licence.id)
            .collect();
        let Some(fee) = licence.fee_minor.filter(|fee| *fee > 0) else {
            continue;
        };
        let fee_words = amount_words(&licence.currency, fee);
        if own.is_empty() {
            all.push(format!(
                "{name}: the licence says {fee_words}, and no cost is entered for it."
            ));
            continue;
        }
        let agreed: i64 = (own.iter())
            .filter(|cost| cost.fields.currency == licence.currency)
            .map(|cost| {
                if licence.signed {
                    cost.fields.agreed_minor.unwrap_or(0)
                } else {
                    expected(cost)
                }
            })
            .sum();
        if agreed != fee {
            all.push(format!(
                "{name}: the licence says {fee_words}, its costs come to {}{}.",
                amount_words(&licence.currency, agreed),
                if licence.signed { " agreed" } else { "" }
            ));
        }
    }
    all
}

/// Where more was paid than is owed; step-ups that were taken are owed, too.
fn overpaid(cost: &Cost) -> Option<String> {
    let fields = &cost.fields;
    let words = |minor| amount_words(&fields.currency, minor);
    let paid = fields.paid_minor.filter(|paid| *paid > 0)?;
    let Some(agreed) = fields.agreed_minor.map(|agreed| agreed + taken(cost)) else {
        return Some(format!("{} was paid, and nothing is agreed.", words(paid)));
    };
    (paid > agreed).then(|| {
        let more = words(paid - agreed);
        format!(
            "{} was paid where {} is agreed, {more} too much.",
            words(paid),
            words(agreed)
        )
    })
}

/// Blanks what is about money in a line of the audit trail.
pub fn blank_fees(value: &mut serde_json::Value) {
    const MONEY: [&str; 4] = ["payment_due", "currency", "step_ups", "paid_on"];
    match value {
        serde_json::Value::Object(fields) => {
            for (name, value) in fields.iter_mut() {
                if MONEY.contains(&name.as_str()) || name.ends_with("_minor") {
                    *value = serde_json::Value::Null;
                } else {
                    blank_fees(value);
                }
            }
        }
        serde_json::Value::Array(items) => items.iter_mut().for_each(blank_fees),
        _ => {}
    }
}
