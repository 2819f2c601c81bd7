//! What if a drive dies, or a place burns: what is gone, what is down to one copy, what copying it again takes, and how
//! likely drives fail. The sums are `domain::footage`'s, over groups that the database counts together.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::odds::{self, CopyTime};
use waybill_domain::footage::risk::{self, Amount, Harm, Holding};
use waybill_domain::perms::Action;
use waybill_domain::wording::and_list;

use super::access::{Access, Actor, enter};
use crate::app::App;
use crate::db::harm::{self, HarmedFile, Split};
use crate::db::holdings::{self, Devices, Group, LiveDrive, Scope};
use crate::db::{Conn, kept};
use crate::error::OpError;

/// Bytes a second where nobody says how fast copying goes (R47's second pace).
const USUAL_RATE: f64 = 250e6;

/// What is asked.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Drives that die.
    pub drives: Vec<Uuid>,
    /// A place where all drives die.
    pub place: Option<String>,
    /// Bytes a second.
    pub rate: Option<f64>,
    /// Share of drives that fail in a year.
    pub yearly: Option<f64>,
}

/// A drive in a sentence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct NamedDrive {
    pub id: Uuid,
    pub label: String,
}

/// What a loss does to a card.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct CardLoss {
    /// Null: files outside of cards.
    #[schema(required)]
    pub card_id: Option<Uuid>,
    pub name: String,
    pub gone: Amount,
    pub single: Amount,
}

/// What a loss does to a person's footage.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct PersonLoss {
    pub person_id: Uuid,
    pub name: String,
    /// Files with them on camera that would be gone.
    pub gone: i64,
    /// Files with them on camera that there are.
    pub all: i64,
}

/// What a loss does to a cut.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct CutLoss {
    pub cut_id: Uuid,
    pub cut: String,
    pub episode_id: Uuid,
    pub episode: String,
    /// Events whose file would be gone.
    pub gone: i64,
    pub all: i64,
}

/// How likely drives fail within a year (R43).
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct YearlyOdds {
    /// Share of drives that fail in a year, as it was used.
    pub yearly: f64,
    /// Devices at hand.
    pub devices: u32,
    /// Chance that at least one of them fails.
    pub any: f64,
    /// Chance that all of one, two, three independent copies fail.
    pub copies: Vec<f64>,
    /// What these figures are not.
    pub caution: &'static str,
}

/// What would be.
#[derive(Debug, Serialize, ToSchema)]
pub struct DriveLoss {
    /// Drives that die, and with them those on the same device and those that may be the same ones under another label.
    pub lost: Vec<NamedDrive>,
    /// Of the drives asked for, and of those one with them: those whose copies do not count now (missing, mismatch,
    /// retired, or one with such a one).
    pub not_counted: Vec<NamedDrive>,
    /// Which of them are one device, or may be, as sentences.
    pub one_device: Vec<String>,
    pub gone: Amount,
    pub single: Amount,
    /// The cards that are touched, those with the most gone first.
    pub cards: Vec<CardLoss>,
    pub people: Vec<PersonLoss>,
    pub cuts: Vec<CutLoss>,
    /// To copy again what is down to one copy.
    pub copy_again: CopyTime,
    /// Bytes a second, as it was used.
    pub rate: f64,
    pub odds: YearlyOdds,
}

/// What of a series lies where.
pub(super) struct Stock {
    pub drives: Vec<LiveDrive>,
    pub devices: Devices,
}

impl Stock {
    /// Reads the drives.
    pub(super) async fn load(conn: &mut Conn, series: Uuid) -> Result<Self, OpError> {
        let drives = holdings::drives(conn, series).await?;
        let devices = Devices::of(&drives);
        Ok(Self { drives, devices })
    }

    /// Groups as the domain takes them, with the cards that their numbers mean.
    pub(super) fn holdings(groups: &[Group]) -> (Vec<Holding>, Vec<Uuid>) {
        let known: BTreeSet<Uuid> = groups.iter().filter_map(|group| group.card_id).collect();
        let cards: Vec<Uuid> = known.into_iter().collect();
        let holding = |group: &Group| Holding {
            devices: group.devices.clone(),
            card: group
                .card_id
                .and_then(|id| cards.binary_search(&id).ok())
                .and_then(|at| u32::try_from(at).ok()),
            amount: Amount {
                files: u64::try_from(group.files).unwrap_or_default(),
                bytes: u64::try_from(group.bytes).unwrap_or_default(),
            },
        };
        (groups.iter().map(holding).collect(), cards)
    }

    fn split(&self, dead: &BTreeSet<u16>) -> Split {
        Split {
            dead: self.devices.drives_where(|number| dead.contains(&number)),
            left: self.devices.drives_where(|number| !dead.contains(&number)),
        }
    }

    fn named(&self, fits: impl Fn(&LiveDrive) -> bool) -> Vec<NamedDrive> {
        let all = self.drives.iter().filter(|drive| fits(drive));
        all.map(|drive| NamedDrive {
            id: drive.id,
            label: drive.label.clone(),
        })
        .collect()
    }
}

/// The drives that are asked about, as devices; with what is left.
struct Fate {
    stock: Stock,
    /// What the drives asked for are known by.
    hit: BTreeSet<Uuid>,
    dead: BTreeSet<u16>,
    split: Split,
}

async fn fate(conn: &mut Conn, series: Uuid, asked: &Asked) -> Result<Fate, OpError> {
    let stock = Stock::load(conn, series).await?;
    let fold = |text: &str| text.trim().to_lowercase();
    let place = asked.place.as_deref().map(fold);
    let here = |drive: &&LiveDrive| {
        asked.drives.contains(&drive.id) || place.as_ref() == Some(&fold(&drive.place))
    };
    let chosen: BTreeSet<Uuid> = stock
        .drives
        .iter()
        .filter(here)
        .map(|drive| drive.id)
        .collect();
    if let Some(unknown) = asked.drives.iter().find(|id| !chosen.contains(*id)) {
        tracing::debug!(drive.id = %unknown, "what_if.unknown_drive");
        return Err(OpError::NotFound("one of the drives"));
    }
    if chosen.is_empty() {
        return Err(OpError::BadRequest(
            "say which drives die (`drives`), or a place where a drive is (`place`)".into(),
        ));
    }
    // a device dies with all that lies on it, also when the drive that is asked about is itself not at hand
    let chosen_of = |drive: &&LiveDrive| chosen.contains(&drive.id);
    let hit: BTreeSet<Uuid> = (stock.drives.iter().filter(chosen_of))
        .map(|drive| drive.device)
        .collect();
    let dead: BTreeSet<u16> = (stock.drives.iter())
        .filter(|drive| hit.contains(&drive.device))
        .filter_map(|drive| stock.devices.number(drive.id))
        .collect();
    let split = stock.split(&dead);
    Ok(Fate {
        stock,
        hit,
        dead,
        split,
    })
}

impl Fate {
    /// Labels that lie on one device, where a device that is hit has several, as sentences.
    fn one_device(&self) -> Vec<String> {
        let labels = self.hit.iter().map(|device| {
            let on_it = self.stock.drives.iter();
            let on_it = on_it.filter(|drive| drive.device == *device);
            on_it.map(|drive| drive.label.clone()).collect::<Vec<_>>()
        });
        let mut groups: Vec<Vec<String>> = labels.filter(|group| group.len() > 1).collect();
        groups.sort();
        let sentence = |labels: Vec<String>| {
            let labels = and_list(&labels);
            format!("{labels} are one device, or may be: what hits one hits all.")
        };
        groups.into_iter().map(sentence).collect()
    }
}

/// What would be if drives died.
///
/// # Errors
/// Access; `NotFound` for a drive that is not there; `BadRequest`; the database's.
pub async fn what_if(
    app: &App,
    actor: &Actor,
    series: Uuid,
    asked: &Asked,
) -> Result<DriveLoss, OpError> {
    let rate = asked.rate.unwrap_or(USUAL_RATE);
    let yearly = asked.yearly.unwrap_or(odds::FLEET_2024);
    if !(1e3..=1e12).contains(&rate) || !(0.0..=1.0).contains(&yearly) {
        return Err(OpError::BadRequest(
            "`rate` is in bytes a second, from a thousand up; `yearly` is a share from 0 to 1"
                .into(),
        ));
    }
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    let fate = fate(conn, series, asked).await?;
    let scope = Scope::OnDrives(&fate.split.dead);
    let groups = holdings::groups(conn, series, &fate.stock.devices, scope).await?;
    let (held, ids) = Stock::holdings(&groups);
    let loss = risk::what_if(&held, &fate.dead);
    let cards = cards(conn, series, &loss, &ids).await?;
    let (people, cuts) = touched(conn, &access, &fate.split).await?;
    let devices = u32::try_from(fate.stock.devices.ids.len()).unwrap_or(u32::MAX);
    let counted = |drive: &LiveDrive| fate.stock.devices.number(drive.id);
    Ok(DriveLoss {
        lost: fate
            .stock
            .named(|drive| counted(drive).is_some_and(|number| fate.dead.contains(&number))),
        one_device: fate.one_device(),
        not_counted: fate
            .stock
            .named(|drive| fate.hit.contains(&drive.device) && counted(drive).is_none()),
        gone: loss.all.gone,
        single: loss.all.single,
        cards,
        people,
        cuts,
        copy_again: odds::copy_time(loss.all.single.bytes, rate, rate),
        rate,
        odds: YearlyOdds {
            yearly,
            devices,
            any: odds::any_of(yearly, devices),
            copies: (1..=3).map(|copies| odds::all_of(yearly, copies)).collect(),
            caution: odds::CAUTION,
        },
    })
}

async fn cards(
    conn: &mut Conn,
    series: Uuid,
    loss: &risk::Loss,
    ids: &[Uuid],
) -> Result<Vec<CardLoss>, OpError> {
    let names = kept::card_names(conn, series).await?;
    let card = |(card, harm): (&Option<u32>, &Harm)| {
        let card_id = card.and_then(|at| ids.get(usize::try_from(at).ok()?).copied());
        CardLoss {
            card_id,
            name: match card_id {
                Some(id) => names.get(&id).cloned().unwrap_or_default(),
                None => "outside of cards".to_owned(),
            },
            gone: harm.gone,
            single: harm.single,
        }
    };
    let mut all: Vec<CardLoss> = loss.cards.iter().map(card).collect();
    all.sort_by(|one, other| {
        (other.gone.files, other.single.files, &one.name).cmp(&(
            one.gone.files,
            one.single.files,
            &other.name,
        ))
    });
    Ok(all)
}

/// The people and cuts that the reader may see.
async fn touched(
    conn: &mut Conn,
    access: &Access,
    split: &Split,
) -> Result<(Vec<PersonLoss>, Vec<CutLoss>), OpError> {
    let series = access.series.id;
    let mut people = Vec::new();
    if access.may(Action::ViewPeople) {
        for one in harm::people(conn, series, split).await? {
            people.push(PersonLoss {
                person_id: one.id,
                name: one.name,
                gone: one.gone,
                all: one.all,
            });
        }
    }
    let mut cuts = Vec::new();
    if access.may(Action::ViewCuts) {
        for one in harm::cuts(conn, series, split).await? {
            cuts.push(CutLoss {
                cut_id: one.cut_id,
                cut: one.cut,
                episode_id: one.episode_id,
                episode: one.episode,
                gone: one.gone,
                all: one.all,
            });
        }
    }
    Ok((people, cuts))
}

/// A file that would be gone, or down to one copy.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct FileAtRisk {
    pub file_id: Uuid,
    pub name: String,
    pub size: i64,
    #[schema(required)]
    pub card: Option<String>,
    /// A drive that holds it now.
    pub drive: String,
    /// Where on that drive.
    pub path: String,
}

/// The files that would be gone (or, with `single`, down to one copy), by card and name.
///
/// # Errors
/// As [`what_if`].
pub async fn files(
    app: &App,
    actor: &Actor,
    series: Uuid,
    asked: &Asked,
    single: bool,
    (offset, limit): (i64, i64),
) -> Result<Vec<FileAtRisk>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let fate = fate(conn, series, asked).await?;
    let rows = page(conn, series, &fate, single, (offset, limit)).await?;
    Ok(rows
        .into_iter()
        .map(|row| FileAtRisk {
            file_id: row.id,
            name: row.name,
            size: row.size,
            card: row.card,
            drive: row.drive,
            path: row.path,
        })
        .collect())
}

/// One page of the list. The counts tell in which cards it lies, so that only their files are looked at.
async fn page(
    conn: &mut Conn,
    series: Uuid,
    fate: &Fate,
    single: bool,
    (offset, limit): (i64, i64),
) -> Result<Vec<HarmedFile>, OpError> {
    let scope = Scope::OnDrives(&fate.split.dead);
    let mut harmed = BTreeMap::<Option<Uuid>, i64>::new();
    for group in holdings::groups(conn, series, &fate.stock.devices, scope).await? {
        let left = group
            .devices
            .iter()
            .filter(|device| !fate.dead.contains(device));
        if left.count() == usize::from(single) {
            *harmed.entry(group.card_id).or_default() += group.files;
        }
    }
    let (mut cards, mut first, mut before) = (Vec::new(), 0, 0);
    for card in kept::cards_by_name(conn, series).await? {
        let Some(files) = harmed.remove(&Some(card)) else {
            continue;
        };
        if before + files > offset && before < offset.saturating_add(limit) {
            if cards.is_empty() {
                first = offset - before;
            }
            cards.push(card);
        }
        before += files;
    }
    let (split, left) = (&fate.split, i64::from(single));
    let mut rows = Vec::new();
    if !cards.is_empty() {
        rows = harm::files(conn, series, split, left, (&cards, false), (first, limit)).await?;
    }
    let rest = limit - rows.len() as i64;
    if rest > 0 && !harmed.is_empty() {
        // files of no card, and of cards that were deleted: last, without a card's name
        let outside = harmed.contains_key(&None);
        let cards: Vec<Uuid> = harmed.into_keys().flatten().collect();
        let at = ((offset - before).max(0), rest);
        rows.extend(harm::files(conn, series, split, left, (&cards, outside), at).await?);
    }
    Ok(rows)
}
