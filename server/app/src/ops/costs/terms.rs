//! What a licence's terms make of its fee: equal terms with others (R11), and what is billed at least for its uses in the
//! latest cuts (R10).

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::costs::{PaidSide, Part, Raise, amount_words, most_favoured};
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::music::shares::{ShareSide, percent};
use waybill_domain::papers::PaperSection;
use waybill_domain::rights::fees::{
    BilledPer, FavouredScope, MinimumBilling, billed_seconds, used_thousandths,
};
use waybill_domain::timecode::Rate;
use waybill_domain::wording::and_list;

use super::tried::Extra;
use super::{Money, held};
use crate::db::Conn;
use crate::db::costs::LicenceMoney;
use crate::error::OpError;
use crate::ops::access::Access;
use crate::ops::clearance::{find_cut, find_episode, gather};

/// What most-favoured terms add for one piece, or for the programme, in one currency.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct EqualTerms {
    pub subject: String,
    pub currency: String,
    pub raises: Vec<Raise>,
    pub more_minor: i64,
    pub sentence: String,
}

/// What is billed for a licence with a minimum.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Billed {
    pub licence_id: Uuid,
    pub licensor: String,
    /// Title of the import or the piece of music.
    pub subject: String,
    pub minimum: MinimumBilling,
    /// The latest cuts that use it.
    pub cuts: Vec<BilledCut>,
    /// Uses in all of them.
    pub uses: i64,
    /// Seconds used in all of them, begun ones in full.
    pub used_seconds: i64,
    /// Seconds billed in all.
    pub billed_seconds: i64,
    pub sentence: String,
}

/// A cut that uses it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct BilledCut {
    pub episode_id: Uuid,
    /// Number of the episode.
    pub number: i32,
    pub cut_name: String,
    pub uses: i64,
    pub used_seconds: i64,
    /// Seconds billed, were this cut the whole project.
    pub billed_seconds: i64,
}

/// Times of uses, in thousandths of a second, of each import and piece of music that has a licence with a minimum.
pub struct CutUses {
    episode: Uuid,
    number: i32,
    cut_name: String,
    times: BTreeMap<ElementKey, Vec<u64>>,
}

/// What a licence is about.
fn subject(licence: &LicenceMoney) -> Option<ElementKey> {
    (licence.asset_id.map(ElementKey::Asset)).or(licence.music_id.map(ElementKey::Music))
}

/// Reads the latest cut of each episode, where any licence has a minimum.
pub async fn uses(
    conn: &mut Conn,
    access: &Access,
    licences: &[LicenceMoney],
    episodes: &[(Uuid, i32, String)],
) -> Result<Vec<CutUses>, OpError> {
    let wanted: Vec<ElementKey> = (licences.iter())
        .filter(|one| one.terms.0.minimum_billing.is_some())
        .filter_map(subject)
        .collect();
    let mut all = Vec::new();
    if wanted.is_empty() {
        return Ok(all);
    }
    for (id, number, _) in episodes {
        let episode = find_episode(conn, access.series.id, *id).await?;
        let cut = match find_cut(conn, &episode, None).await {
            Ok(cut) => cut,
            Err(OpError::Conflict(_)) => continue, // no cut yet
            Err(error) => return Err(error),
        };
        let rate = cut.head.rate.parse::<Rate>().ok().and_then(|rate| {
            Some((
                u32::try_from(rate.num()).ok()?,
                u32::try_from(rate.den()).ok()?,
            ))
        });
        let cut_name = cut.head.name.clone();
        let (material, _) = gather(conn, access, episode, cut).await?;
        let times = (wanted.iter())
            .filter_map(|key| {
                let ranges: Vec<(u64, u64)> = (material.uses.get(key)?.iter())
                    .map(|one| (one.record_in, one.record_out))
                    .collect();
                Some((key.clone(), used_thousandths(&ranges, rate?)))
            })
            .collect();
        all.push(CutUses {
            episode: *id,
            number: *number,
            cut_name,
            times,
        });
    }
    Ok(all)
}

/// What is billed for each licence with a minimum; with nothing used, nothing.
pub fn billed(money: &Money) -> Vec<Billed> {
    let signed = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
    let count = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
    let mut out = Vec::new();
    for licence in &money.licences {
        let Some((minimum, key)) = licence.terms.0.minimum_billing.zip(subject(licence)) else {
            continue;
        };
        let mut all: Vec<u64> = Vec::new();
        let mut cuts = Vec::new();
        for cut in &money.used {
            let Some(times) = cut.times.get(&key).filter(|times| !times.is_empty()) else {
                continue;
            };
            all.extend(times);
            cuts.push(BilledCut {
                episode_id: cut.episode,
                number: cut.number,
                cut_name: cut.cut_name.clone(),
                uses: count(times.len()),
                used_seconds: signed(billed_seconds(times, None)),
                billed_seconds: signed(billed_seconds(times, Some(minimum))),
            });
        }
        let (used, billed) = (
            signed(billed_seconds(&all, None)),
            signed(billed_seconds(&all, Some(minimum))),
        );
        out.push(Billed {
            licence_id: licence.id,
            licensor: licence.licensor.clone(),
            subject: licence.subject.clone(),
            minimum,
            sentence: sentence(licence, minimum, &cuts, used, billed),
            cuts,
            uses: count(all.len()),
            used_seconds: used,
            billed_seconds: billed,
        });
    }
    out
}

fn sentence(
    licence: &LicenceMoney,
    minimum: MinimumBilling,
    cuts: &[BilledCut],
    used: i64,
    billed: i64,
) -> String {
    let name = format!("{}, for “{}”", licence.licensor, licence.subject);
    let least = per_words(minimum);
    if cuts.is_empty() {
        return format!("{name}: {least}; no latest cut uses it, so nothing is billed (R10).");
    }
    let each: Vec<String> = (cuts.iter())
        .map(|cut| format!("{} s in episode {}", cut.used_seconds, cut.number))
        .collect();
    format!(
        "{name}: {}, {used} s in all; {least}: {billed} s are billed (R10).",
        and_list(&each)
    )
}

/// "at least 10 s for each cut".
fn per_words(minimum: MinimumBilling) -> String {
    let per = match minimum.per {
        BilledPer::Cut => "for each use",
        BilledPer::Project => "for the project",
    };
    format!("at least {} s {per}", minimum.seconds)
}

/// The same as a list on paper.
pub fn section(all: &[Billed]) -> PaperSection {
    let mut list = PaperSection::new(
        "Minimum billing",
        "No licence has a minimum.",
        &[
            ("Licensor", 7, false),
            ("For", 7, false),
            ("Episode", 3, true),
            ("Cut", 6, false),
            ("Uses", 3, true),
            ("Seconds used", 4, true),
            ("Minimum", 6, false),
            ("Seconds billed", 4, true),
        ],
    );
    for one in all {
        let start = [one.licensor.clone(), one.subject.clone()];
        for cut in &one.cuts {
            let [licensor, subject] = start.clone();
            let alone = match one.minimum.per {
                BilledPer::Cut => cut.billed_seconds.to_string(),
                BilledPer::Project => String::new(),
            };
            list.push(
                false,
                [
                    licensor,
                    subject,
                    cut.number.to_string(),
                    cut.cut_name.clone(),
                    cut.uses.to_string(),
                    cut.used_seconds.to_string(),
                    String::new(),
                    alone,
                ],
            );
        }
        let [licensor, subject] = start;
        list.push(
            false,
            [
                licensor,
                subject,
                "all".into(),
                String::new(),
                one.uses.to_string(),
                one.used_seconds.to_string(),
                per_words(one.minimum),
                one.billed_seconds.to_string(),
            ],
        );
    }
    list
}

/// What a licence comes to for an episode, or for the series as a whole, in one currency.
struct Paid<'a> {
    licence: &'a LicenceMoney,
    episode: Option<Uuid>,
    currency: &'a str,
    minor: i64,
    /// A cost of it is marked as on equal terms.
    marked: bool,
    /// Its element left the cut: it is no longer raised.
    out: bool,
}

/// Most-favoured terms (R11): each licence that has them against those it is compared with, every one for 100 % of its
/// side; it is raised to its own part of the best. The licence's terms say how far they look; a cost that is marked so
/// looks at its own piece. Each with the episode whose money it is.
pub fn equal_terms(money: &Money) -> Vec<(Option<Uuid>, EqualTerms)> {
    raised(&paid(money))
}

/// The same with what would be owed besides, and without licences whose element would leave an episode; of those only
/// what was paid is left to be compared with.
pub fn equal_terms_tried(
    money: &Money,
    extras: &[Extra],
    (episode, dropped): (Uuid, &BTreeSet<Uuid>),
) -> Vec<(Option<Uuid>, EqualTerms)> {
    let mut all = paid(money);
    for one in &mut all {
        if one.episode == Some(episode) && dropped.contains(&one.licence.id) {
            one.out = true;
            one.minor = (money.costs.iter())
                .map(|cost| &cost.fields)
                .filter(|fields| {
                    fields.licence_id == one.licence.id
                        && fields.episode_id == one.episode
                        && fields.currency == one.currency
                })
                .filter_map(|fields| fields.paid_minor)
                .sum();
        }
    }
    all.retain(|one| !one.out || one.minor > 0);
    for extra in extras {
        let there = all.iter_mut().find(|one| {
            one.licence.id == extra.licence
                && one.episode == extra.episode
                && one.currency == extra.currency
        });
        let licence = (money.licences.iter()).find(|one| one.id == extra.licence);
        match (there, licence) {
            (Some(one), _) => one.minor += extra.minor,
            (None, Some(licence)) => all.push(Paid {
                licence,
                episode: extra.episode,
                currency: &extra.currency,
                minor: extra.minor,
                marked: false,
                out: false,
            }),
            (None, None) => {}
        }
    }
    raised(&all)
}

fn raised(paid: &[Paid<'_>]) -> Vec<(Option<Uuid>, EqualTerms)> {
    let mut raises: BTreeMap<(Option<Uuid>, String, String), Vec<Raise>> = BTreeMap::new();
    for own in paid.iter().filter(|one| !one.out) {
        let scope = match (own.licence.terms.0.most_favoured, own.marked) {
            (Some(scope), _) => scope,
            (None, true) => FavouredScope::SamePiece,
            (None, false) => continue,
        };
        let mut sides = vec![side(own, paid, true)];
        sides.extend(
            (paid.iter())
                .filter(|other| is_compared(own, other, scope))
                .map(|other| side(other, paid, false)),
        );
        let Some(best) = most_favoured(&sides).pop() else {
            continue;
        };
        let to_minor = part(own, paid).of(best.to_minor);
        // One unit is what dividing leaves.
        if to_minor - own.minor <= 1 {
            continue;
        }
        let about = match scope {
            FavouredScope::SamePiece => format!("“{}”", own.licence.subject),
            FavouredScope::WholeProgramme => "The whole programme".to_owned(),
        };
        let key = (own.episode, about, own.currency.to_owned());
        raises.entry(key).or_default().push(Raise {
            name: best.name,
            from_minor: own.minor,
            to_minor,
            more_minor: to_minor - own.minor,
        });
    }
    raises
        .into_iter()
        .map(|((episode, subject, currency), raises)| (episode, worded(subject, currency, raises)))
        .collect()
}

fn paid(money: &Money) -> Vec<Paid<'_>> {
    let mut all: Vec<Paid<'_>> = Vec::new();
    for cost in &money.costs {
        let fields = &cost.fields;
        let mut licences = money.licences.iter();
        let Some(licence) = licences.find(|one| one.id == fields.licence_id) else {
            continue;
        };
        let there = all.iter_mut().find(|one| {
            one.licence.id == licence.id
                && one.episode == fields.episode_id
                && one.currency == fields.currency
        });
        match there {
            Some(one) => {
                one.minor += held(cost);
                one.marked |= fields.most_favoured;
            }
            None => all.push(Paid {
                licence,
                episode: fields.episode_id,
                currency: &fields.currency,
                minor: held(cost),
                marked: fields.most_favoured,
                out: false,
            }),
        }
    }
    all
}

fn side(own: &Paid<'_>, all: &[Paid<'_>], most_favoured: bool) -> PaidSide {
    let licence = own.licence;
    let share = match share(licence) {
        Some(share) if share.num < share.of => {
            let hundredths = share.of(10_000).try_into().unwrap_or(0);
            format!(", {}", percent(hundredths))
        }
        _ => String::new(),
    };
    PaidSide {
        name: format!("{} ({}{share})", licence.licensor, licence.side),
        fee_minor: part(own, all).whole(own.minor),
        most_favoured,
    }
}

/// The share of a licensor in its side of a piece of music, where the parties of the piece say it.
fn share(licence: &LicenceMoney) -> Option<Part> {
    let wanted = match licence.side.as_str() {
        "composition" => ShareSide::Publishers,
        "recording" => ShareSide::Recording,
        _ => return None,
    };
    let name = licence.licensor.trim().to_lowercase();
    let on_side = || (licence.parties.0.iter()).filter(move |one| one.role.side() == wanted);
    let num: u32 = (on_side())
        .filter(|one| one.name.trim().to_lowercase() == name)
        .map(|one| one.share)
        .sum::<Option<u32>>()?;
    let of = if licence.together && wanted == ShareSide::Publishers {
        on_side().map(|one| one.share).sum::<Option<u32>>()?
    } else {
        10_000
    };
    (num > 0).then_some(Part {
        num: num.into(),
        of: of.into(),
    })
}

/// The part that a licence is of its side: the share of its licensor. Where any licensor of that side has no share on
/// record, the side is what they come to together, and each is its part of that.
fn part(own: &Paid<'_>, all: &[Paid<'_>]) -> Part {
    if !matches!(own.licence.side.as_str(), "composition" | "recording") {
        return Part::ALL;
    }
    let side: Vec<&Paid<'_>> = (all.iter())
        .filter(|one| {
            same_sum(own, one)
                && subject(one.licence) == subject(own.licence)
                && one.licence.side == own.licence.side
        })
        .collect();
    let known = side.iter().all(|one| share(one.licence).is_some());
    let share = share(own.licence).filter(|_| known).unwrap_or(Part::ALL);
    let with: Vec<i64> = (side.iter())
        .filter(|one| !known || one.licence.licensor == own.licence.licensor)
        .map(|one| one.minor)
        .collect();
    let (minor, of) = match with.iter().sum::<i64>() {
        0 => (1, i64::try_from(with.len()).unwrap_or(i64::MAX)),
        sum => (own.minor, sum),
    };
    Part {
        num: share.num * minor,
        of: share.of * of,
    }
}

fn same_sum(one: &Paid<'_>, other: &Paid<'_>) -> bool {
    one.episode == other.episode && one.currency == other.currency
}

/// Whether terms of `own` look at `other`: another licence for the same episode in the same currency, of the same piece
/// or, as far as the terms reach, of the same kind; parties left out aside.
fn is_compared(own: &Paid<'_>, other: &Paid<'_>, scope: FavouredScope) -> bool {
    let (mine, theirs) = (own.licence, other.licence);
    let within = match scope {
        FavouredScope::SamePiece => subject(mine).is_some() && subject(mine) == subject(theirs),
        FavouredScope::WholeProgramme => mine.music_id.is_some() == theirs.music_id.is_some(),
    };
    let except = mine.terms.0.most_favoured_except.to_lowercase();
    let left_out = !theirs.licensor.trim().is_empty()
        && except.contains(&theirs.licensor.trim().to_lowercase());
    mine.id != theirs.id && same_sum(own, other) && within && !left_out
}

fn worded(subject: String, currency: String, raises: Vec<Raise>) -> EqualTerms {
    let more_minor: i64 = raises.iter().map(|raise| raise.more_minor).sum();
    let words: Vec<String> = (raises.iter())
        .map(|raise| {
            format!(
                "{} goes from {} to {}",
                raise.name,
                amount_words(&currency, raise.from_minor),
                amount_words(&currency, raise.to_minor)
            )
        })
        .collect();
    EqualTerms {
        sentence: format!(
            "{subject}: on equal terms {}, {} more (R11).",
            words.join(", "),
            amount_words(&currency, more_minor)
        ),
        subject,
        currency,
        raises,
        more_minor,
    }
}
