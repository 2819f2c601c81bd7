//! What tried changes do to the money of an episode: step-ups that they would take, what equal terms add (R11), what is
//! saved, what is left of the budget. The sums are the costs' own; nothing is stored.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::costs::{Purse, amount_words};
use waybill_domain::wording::date_words;

use super::terms::{EqualTerms, equal_terms, equal_terms_tried};
use super::{Money, held, lines_of, open, taken};
use crate::db::Conn;
use crate::db::costs::{self as db, Cost, LicenceMoney};
use crate::error::OpError;

/// The money of the changes. Amounts of different currencies are never added.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct TriedCosts {
    /// The episode's, by currency; then the series' own where it is touched.
    pub lines: Vec<TriedLine>,
    pub step_ups: Vec<TriedStepUp>,
    /// What equal terms add or no longer add because of the changes (R11).
    pub equal_terms: Vec<TriedTerms>,
    pub savings: Vec<TriedSaving>,
    /// What was assumed, and what could not be counted.
    pub assumptions: Vec<String>,
}

/// What the changes come to in one currency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TriedLine {
    /// Null: the series as a whole.
    #[schema(required)]
    pub episode_id: Option<Uuid>,
    pub title: String,
    pub currency: String,
    /// Typed with the steps.
    pub fees_minor: i64,
    /// Step-ups that count.
    pub step_ups_minor: i64,
    /// What equal terms add; below nought where they add less than before.
    pub raised_minor: i64,
    /// Agreed or quoted, and not paid.
    pub saved_minor: i64,
    /// All of these together.
    pub cost_minor: i64,
    /// What is left of the budget as it stands. Null: there is no budget in this currency.
    #[schema(required)]
    pub left_before_minor: Option<i64>,
    #[schema(required)]
    pub left_after_minor: Option<i64>,
}

/// A step-up of a licence that a change touches.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TriedStepUp {
    pub licence_id: Uuid,
    pub currency: String,
    pub minor: i64,
    /// Whether it is in the sums: not where a fee was typed with its step.
    pub counted: bool,
    pub sentence: String,
}

/// What equal terms add because of the changes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TriedTerms {
    pub currency: String,
    /// Below nought where they add less than before.
    pub more_minor: i64,
    pub sentence: String,
}

/// What dropping an element saves of a licence's money.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TriedSaving {
    pub licence_id: Uuid,
    pub currency: String,
    pub minor: i64,
    pub sentence: String,
}

/// A step as far as money goes.
pub struct Step {
    pub about: About,
    /// What was typed with it, and in which currency.
    pub fee: Option<(String, i64)>,
}

/// What a step is about.
pub enum About {
    /// A licence that is to run longer.
    Licence(Uuid),
    /// One more grant: the licences that stand on its side of the element, and what it is of.
    Grant { beside: Vec<Uuid>, of: GrantOf },
    /// An element that leaves the cut: its licences, and those of them that are behind another element.
    Dropped {
        licences: Vec<Uuid>,
        still_used: Vec<Uuid>,
    },
    /// More territories, another day: the licences of what loses cells by it or is newly asked and open.
    Delivery { licences: Vec<Uuid> },
}

/// What a tried grant is of.
pub struct GrantOf {
    pub asset: Option<Uuid>,
    pub music: Option<Uuid>,
    /// The record's word.
    pub side: &'static str,
    pub title: String,
}

impl About {
    fn licences(&self) -> &[Uuid] {
        match self {
            About::Licence(id) => std::slice::from_ref(id),
            About::Grant { beside: ids, .. } | About::Delivery { licences: ids } => ids,
            About::Dropped { .. } => &[],
        }
    }
}

/// What is owed to a licence besides what is entered.
pub struct Extra {
    pub licence: Uuid,
    pub episode: Option<Uuid>,
    pub currency: String,
    pub minor: i64,
}

/// Works the money of steps that are tried on an episode. For who may see fees; the caller asks.
///
/// # Errors
/// The database's.
pub async fn work(
    conn: &mut Conn,
    series: Uuid,
    episode: Uuid,
    today: NaiveDate,
    steps: Vec<Step>,
) -> Result<TriedCosts, OpError> {
    let money = Money {
        today,
        costs: db::costs(conn, series).await?,
        budgets: db::budgets(conn, series).await?,
        licences: db::licences(conn, series).await?,
        episodes: db::episodes(conn, series).await?,
        used: vec![],
    };
    Ok(tried(money, episode, &steps))
}

/// What is made on the way.
#[derive(Default)]
struct Sums {
    fees: Purse,
    extras: Vec<Extra>,
    /// Licences that leave the episode.
    dropped: BTreeSet<Uuid>,
    step_ups: Vec<TriedStepUp>,
    /// By whether they are the series' own.
    stepped: BTreeMap<bool, Purse>,
    savings: Vec<TriedSaving>,
    saved: Purse,
    notes: Vec<String>,
}

fn tried(mut money: Money, episode: Uuid, steps: &[Step]) -> TriedCosts {
    let mut sums = Sums::default();
    let before = equal_terms(&money);
    for step in steps {
        if let About::Dropped {
            licences,
            still_used,
        } = &step.about
        {
            sums.drop(&money, episode, licences, still_used);
        }
    }
    // What a step says of a licence itself goes before what the delivery asks of it.
    let late = |step: &&Step| matches!(step.about, About::Delivery { .. });
    let order = (steps.iter().filter(|step| !late(step))).chain(steps.iter().filter(late));
    let mut seen = BTreeSet::new();
    for step in order {
        sums.step_ups(&money, episode, step, &mut seen);
    }
    for (at, step) in (1_u128..).zip(steps) {
        if let Some((currency, minor)) = &step.fee {
            sums.fees.add(currency, *minor);
            sums.fee(&mut money, episode, step, (at, currency, *minor));
        }
    }
    let after = equal_terms_tried(&money, &sums.extras, (episode, &sums.dropped));
    let (equal_terms, raised) = compared(&before, &after);
    let mut assumptions = vec![
        "Amounts are never added across currencies. The sums are those of the costs: most-favoured terms are compared \
         for 100 % of each side within one currency and episode (R11)."
            .to_owned(),
    ];
    if !sums.step_ups.is_empty() {
        assumptions.push(
            "What a step-up buys is said in words only, so every one that can still be taken on a licence that a step \
             touches counts; where a fee is typed with the step, the fee stands for them."
                .into(),
        );
    }
    if !sums.dropped.is_empty() {
        assumptions.push(
            "What was agreed or quoted and is not paid is saved; what was paid is not. A signed licence may be owed all \
             the same: its licensor says."
                .into(),
        );
    }
    assumptions.append(&mut sums.notes);
    TriedCosts {
        lines: lines(&money, episode, (&before, &raised), &sums),
        step_ups: sums.step_ups,
        equal_terms,
        savings: sums.savings,
        assumptions,
    }
}

impl Sums {
    fn drop(&mut self, money: &Money, episode: Uuid, licences: &[Uuid], still_used: &[Uuid]) {
        for licence in (money.licences.iter()).filter(|one| licences.contains(&one.id)) {
            let name = name(licence);
            if still_used.contains(&licence.id) {
                self.notes.push(format!(
                    "{name}: it is behind something else in this cut, too, so nothing of it is saved."
                ));
                continue;
            }
            if !self.dropped.insert(licence.id) {
                continue;
            }
            let own: Vec<&Cost> = (money.costs.iter())
                .filter(|cost| cost.fields.licence_id == licence.id)
                .collect();
            for cost in &own {
                if cost.fields.episode_id == Some(episode) {
                    self.save(cost, &name);
                } else if cost.fields.episode_id.is_none() && held(cost) > 0 {
                    self.notes.push(format!(
                        "{name}: {} is held for the series as a whole, and not counted as saved.",
                        amount_words(&cost.fields.currency, held(cost))
                    ));
                }
            }
            if let Some(fee) = licence.fee_minor.filter(|fee| *fee > 0 && own.is_empty()) {
                self.notes.push(format!(
                    "{name}: the licence says {}, and no cost is entered for it, so nothing of it is counted as saved.",
                    amount_words(&licence.currency, fee)
                ));
            }
        }
    }

    fn save(&mut self, cost: &Cost, name: &str) {
        let fields = &cost.fields;
        let paid = fields.paid_minor.unwrap_or(0);
        let minor = held(cost) - paid;
        let words = |minor| amount_words(&fields.currency, minor);
        let how = if fields.agreed_minor.is_some() || taken(cost) > 0 {
            "agreed"
        } else {
            "quoted"
        };
        let part = match (minor, paid) {
            (0, 0) => return,
            (0, paid) => format!("{} is paid, so nothing is saved", words(paid)),
            (minor, 0) => format!("{} {how} and not paid is saved", words(minor)),
            (minor, paid) => format!(
                "{} is {how}, {} of it paid; {} is saved",
                words(minor + paid),
                words(paid),
                words(minor)
            ),
        };
        self.saved.add(&fields.currency, minor);
        self.savings.push(TriedSaving {
            licence_id: fields.licence_id,
            currency: fields.currency.clone(),
            minor,
            sentence: format!("{name}: {part}."),
        });
    }

    /// The step-ups that a step would take, each once.
    fn step_ups(&mut self, money: &Money, episode: Uuid, step: &Step, seen: &mut BTreeSet<Uuid>) {
        let counted = step.fee.is_none();
        for cost in &money.costs {
            let fields = &cost.fields;
            let here = fields.episode_id.is_none_or(|id| id == episode);
            let reached = step.about.licences().contains(&fields.licence_id);
            let licence = (money.licences.iter()).find(|one| one.id == fields.licence_id);
            let gone = self.dropped.contains(&fields.licence_id);
            let (Some(licence), true) = (licence, here && reached && !gone) else {
                continue;
            };
            let sum = open(cost, money.today);
            if sum == 0 || !seen.insert(cost.id) {
                continue;
            }
            let still = (fields.step_ups.0.iter())
                .filter(|one| !one.taken && one.until.is_none_or(|until| until >= money.today));
            for one in still {
                let until = (one.until).map_or_else(String::new, |until| {
                    format!(", until {}", date_words(until))
                });
                self.step_ups.push(TriedStepUp {
                    licence_id: licence.id,
                    currency: fields.currency.clone(),
                    minor: one.amount_minor,
                    counted,
                    sentence: format!(
                        "{}: “{}” can be taken for {}{until}{}.",
                        name(licence),
                        one.what,
                        amount_words(&fields.currency, one.amount_minor),
                        if counted {
                            ""
                        } else {
                            "; the fee that was typed counts in its place"
                        }
                    ),
                });
            }
            if counted {
                let of = self.stepped.entry(fields.episode_id.is_none()).or_default();
                of.add(&fields.currency, sum);
                self.extras.push(Extra {
                    licence: licence.id,
                    episode: fields.episode_id,
                    currency: fields.currency.clone(),
                    minor: sum,
                });
            }
        }
    }

    /// What a typed fee is owed to, so that equal terms look at it.
    fn fee(
        &mut self,
        money: &mut Money,
        episode: Uuid,
        step: &Step,
        (at, currency, minor): (u128, &str, i64),
    ) {
        let known = |id: Uuid| money.licences.iter().any(|one| one.id == id);
        let licence = match &step.about {
            About::Licence(id) if known(*id) => *id,
            About::Grant { beside, of } => match beside.as_slice() {
                [only] if known(*only) => *only,
                beside => {
                    let id = Uuid::from_u128(at);
                    let like = (money.licences.iter()).find(|one| {
                        beside.contains(&one.id)
                            || (of.music.is_some()
                                && one.music_id == of.music
                                && one.side == of.side)
                    });
                    let (parties, together) = like
                        .map(|one| (one.parties.clone(), one.together))
                        .unwrap_or_default();
                    if !beside.is_empty() {
                        self.notes.push(format!(
                            "“{}”: more than one licence stands on the side of the tried grant, so equal terms take its \
                             licensor for another party.",
                            of.title
                        ));
                    }
                    money.licences.push(LicenceMoney {
                        id,
                        licensor: "the tried grant".into(),
                        side: of.side.into(),
                        signed: false,
                        music_id: of.music,
                        subject: of.title.clone(),
                        asset_id: of.asset,
                        parties,
                        together,
                        terms: Default::default(),
                        fee_minor: None,
                        currency: currency.to_owned(),
                    });
                    id
                }
            },
            _ => return,
        };
        // It is compared where the licence's money is: for the episode, else for the series as a whole.
        let mut places = (money.costs.iter())
            .filter(|cost| cost.fields.licence_id == licence && cost.fields.currency == currency)
            .map(|cost| cost.fields.episode_id);
        let own = places.clone().any(|place| place == Some(episode));
        let series_own = !own && places.any(|place| place.is_none());
        self.extras.push(Extra {
            licence,
            episode: (!series_own).then_some(episode),
            currency: currency.to_owned(),
            minor,
        });
    }
}

fn name(licence: &LicenceMoney) -> String {
    format!("{}, for “{}”", licence.licensor, licence.subject)
}

type Found = [(Option<Uuid>, EqualTerms)];

/// What equal terms come to less what they came to, with the sums for episode and series.
fn compared(before: &Found, after: &Found) -> (Vec<TriedTerms>, BTreeMap<bool, Purse>) {
    type Pair<'a> = (Option<&'a EqualTerms>, Option<&'a EqualTerms>);
    let mut pairs: BTreeMap<(Option<Uuid>, &str, &str), Pair<'_>> = BTreeMap::new();
    for (episode, one) in before {
        let key = (*episode, one.subject.as_str(), one.currency.as_str());
        pairs.entry(key).or_default().0 = Some(one);
    }
    for (episode, one) in after {
        let key = (*episode, one.subject.as_str(), one.currency.as_str());
        pairs.entry(key).or_default().1 = Some(one);
    }
    let (mut all, mut raised) = (Vec::new(), BTreeMap::<bool, Purse>::new());
    for ((episode, subject, currency), (was, is)) in pairs {
        let more = |one: Option<&EqualTerms>| one.map_or(0, |one| one.more_minor);
        let more_minor = more(is) - more(was);
        if more_minor == 0 {
            continue;
        }
        let place = if episode.is_none() {
            "For the series as a whole: "
        } else {
            ""
        };
        let sentence = match (is, was) {
            (Some(is), None) => is.sentence.clone(),
            (Some(is), Some(was)) => format!(
                "{} As it stands, {} more.",
                is.sentence,
                amount_words(currency, was.more_minor)
            ),
            (None, _) => format!(
                "{subject}: equal terms add nothing any more; as it stands they add {} (R11).",
                amount_words(currency, more(was))
            ),
        };
        raised
            .entry(episode.is_none())
            .or_default()
            .add(currency, more_minor);
        all.push(TriedTerms {
            currency: currency.to_owned(),
            more_minor,
            sentence: format!("{place}{sentence}"),
        });
    }
    (all, raised)
}

fn lines(
    money: &Money,
    episode: Uuid,
    (before, raised): (&Found, &BTreeMap<bool, Purse>),
    sums: &Sums,
) -> Vec<TriedLine> {
    let title = (money.episodes.iter())
        .find(|(id, ..)| *id == episode)
        .map(|(_, number, title)| format!("{number}. {title}"))
        .unwrap_or_default();
    let none = Purse::default();
    let mut all = Vec::new();
    for (place, title) in [
        (Some(episode), title),
        (None, "The series as a whole".to_owned()),
    ] {
        let series_own = place.is_none();
        let raised = raised.get(&series_own).unwrap_or(&none);
        let stepped = sums.stepped.get(&series_own).unwrap_or(&none);
        let (fees, saved) = if series_own {
            (&none, &none)
        } else {
            (&sums.fees, &sums.saved)
        };
        let stands = (before.iter()).filter(|(of, _)| *of == place);
        let left: BTreeMap<String, Option<i64>> = lines_of(
            money,
            place,
            &title,
            &BTreeMap::new(),
            stands.map(|(_, one)| one),
        )
        .into_iter()
        .map(|line| (line.currency, line.left_minor))
        .collect();
        let mut currencies: BTreeSet<&str> = BTreeSet::new();
        for purse in [fees, stepped, raised, saved] {
            currencies.extend(purse.currencies());
        }
        if !series_own {
            // what is left of each budget is said, also where nothing changes
            let budgets = left.iter().filter(|(_, left)| left.is_some());
            currencies.extend(budgets.map(|(currency, _)| currency.as_str()));
        }
        for currency in currencies {
            let (fees_minor, step_ups_minor) = (fees.of(currency), stepped.of(currency));
            let (raised_minor, saved_minor) = (raised.of(currency), saved.of(currency));
            let cost_minor = fees_minor + step_ups_minor + raised_minor - saved_minor;
            let left_before_minor = left.get(currency).copied().flatten();
            all.push(TriedLine {
                episode_id: place,
                title: title.clone(),
                currency: currency.to_owned(),
                fees_minor,
                step_ups_minor,
                raised_minor,
                saved_minor,
                cost_minor,
                left_before_minor,
                left_after_minor: left_before_minor.map(|left| left - cost_minor),
            });
        }
    }
    all
}
