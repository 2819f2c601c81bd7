//! What to copy onto which drive, so that nothing stands on one copy: the parcels are cards, and single files of a card
//! that fits nowhere whole. Which drive takes what is `domain::footage::plan`'s to choose.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::odds::{self, CopyTime};
use waybill_domain::footage::plan::{Parcel, Shelf, Unplaced, plan};
use waybill_domain::footage::risk::{Amount, Device};
use waybill_domain::perms::Action;

use super::access::{Actor, enter};
use super::what_if::{NamedDrive, Stock};
use crate::app::App;
use crate::db::harm::{self, LoneFile};
use crate::db::holdings::{self, Scope};
use crate::db::{Conn, kept};
use crate::error::OpError;

/// Single files of one card are planned up to this many; a card with more stays whole.
const FILES: u64 = 5_000;
/// Single files of all cards together; further cards stay whole. Nobody reads a longer plan.
const ALL_FILES: u64 = 20_000;

/// One thing to copy.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CopyStep {
    /// Null: files outside of cards.
    #[schema(required)]
    pub card_id: Option<Uuid>,
    /// The card's name, or that of a single file of it.
    pub name: String,
    pub amount: Amount,
    /// The drive that holds the only copy.
    pub from: NamedDrive,
    /// Where it goes; null: nowhere, for the reason below.
    #[schema(required)]
    pub to: Option<NamedDrive>,
    /// Why it goes nowhere, as a sentence; empty where it goes somewhere.
    pub why_not: String,
}

/// A plan that leaves nothing on one copy, as far as there is room.
#[derive(Debug, Serialize, ToSchema)]
pub struct CopyPlan {
    pub steps: Vec<CopyStep>,
    /// All that stands on one copy.
    pub wanted: Amount,
    /// What of it the plan places.
    pub placed: Amount,
    /// To copy what it places.
    pub time: CopyTime,
    /// Bytes a second, as it was used.
    pub rate: f64,
    /// Drives whose free space nobody entered, so that nothing is planned onto them.
    pub room_unknown: Vec<NamedDrive>,
    /// Share of a drive's capacity that is kept free.
    pub kept_free: f64,
}

struct Wish {
    card: Option<Uuid>,
    name: String,
    parcel: Parcel,
}

/// Plans. `apart`: a copy must go to another place.
///
/// # Errors
/// Access; `BadRequest`; the database's.
pub async fn copy_plan(
    app: &App,
    actor: &Actor,
    series: Uuid,
    apart: bool,
    rate: f64,
) -> Result<CopyPlan, OpError> {
    if !(1e3..=1e12).contains(&rate) {
        return Err(OpError::BadRequest(
            "`rate` is in bytes a second, from a thousand up".into(),
        ));
    }
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let stock = Stock::load(conn, series).await?;
    let shelves = shelves(&stock);
    let mut wishes = wishes(conn, series, &stock).await?;
    let largest = |from: Device| {
        let others = shelves.iter().filter(|shelf| shelf.device != from);
        others.filter_map(|shelf| shelf.room).max().unwrap_or(0)
    };
    let (whole, split): (Vec<Wish>, Vec<Wish>) = wishes
        .drain(..)
        .partition(|wish| wish.parcel.amount.bytes <= largest(wish.parcel.from));
    let mut wishes = whole;
    let mut single = 0;
    for wish in split {
        let files = wish.parcel.amount.files;
        // where there is no room at all, single files find none either
        if largest(wish.parcel.from) > 0 && files <= FILES && single + files <= ALL_FILES {
            single += files;
            wishes.extend(files_of(conn, series, &stock, wish).await?);
        } else {
            wishes.push(wish);
        }
    }
    let parcels: Vec<Parcel> = wishes.iter().map(|wish| wish.parcel.clone()).collect();
    let places = plan(&parcels, &shelves, apart).places;
    Ok(told(&stock, wishes, &places, rate))
}

/// Room on each device: what is free, less a tenth of its capacity (R44). The main drive of a device speaks for it.
fn shelves(stock: &Stock) -> Vec<Shelf> {
    let mut shelves = Vec::new();
    for (device, id) in (0_u16..).zip(&stock.devices.ids) {
        let Some(drive) = stock.drives.iter().find(|drive| drive.id == *id) else {
            continue;
        };
        let bytes = |value: i64| u64::try_from(value).unwrap_or_default();
        let kept = drive.capacity_bytes.map_or(0, |all| bytes(all) / 10);
        shelves.push(Shelf {
            device,
            room: drive
                .free_bytes
                .map(|free| bytes(free).saturating_sub(kept)),
            place: drive.place.clone(),
        });
    }
    shelves
}

/// All that stands on one copy, by device and card.
async fn wishes(conn: &mut Conn, series: Uuid, stock: &Stock) -> Result<Vec<Wish>, OpError> {
    let groups = holdings::groups(conn, series, &stock.devices, Scope::All).await?;
    let names = kept::card_names(conn, series).await?;
    let mut wanted = BTreeMap::<(Option<Uuid>, Device), Amount>::new();
    for group in &groups {
        if let [only] = group.devices[..] {
            let amount = wanted.entry((group.card_id, only)).or_default();
            amount.files += u64::try_from(group.files).unwrap_or_default();
            amount.bytes += u64::try_from(group.bytes).unwrap_or_default();
        }
    }
    let wish = |((card, from), amount): ((Option<Uuid>, Device), Amount)| Wish {
        name: match card {
            Some(id) => names.get(&id).cloned().unwrap_or_default(),
            None => "files outside of cards".to_owned(),
        },
        card,
        parcel: Parcel { from, amount },
    };
    Ok(wanted.into_iter().map(wish).collect())
}

/// A wish that fits nowhere whole, file by file.
async fn files_of(
    conn: &mut Conn,
    series: Uuid,
    stock: &Stock,
    wish: Wish,
) -> Result<Vec<Wish>, OpError> {
    let from = wish.parcel.from;
    let own = stock.devices.drives_where(|number| number == from);
    let others = stock.devices.drives_where(|number| number != from);
    let files = harm::lone_files(conn, series, wish.card, (&own, &others)).await?;
    let one = |file: LoneFile| Wish {
        card: wish.card,
        name: format!("{}: {}", wish.name, file.name),
        parcel: Parcel {
            from,
            amount: Amount {
                files: 1,
                bytes: u64::try_from(file.size).unwrap_or_default(),
            },
        },
    };
    Ok(files.into_iter().map(one).collect())
}

fn told(
    stock: &Stock,
    wishes: Vec<Wish>,
    places: &[Result<Device, Unplaced>],
    rate: f64,
) -> CopyPlan {
    let named = |device: Device| {
        let id = stock.devices.ids.get(usize::from(device)).copied();
        let drive = stock.drives.iter().find(|drive| Some(drive.id) == id);
        drive.map(|drive| NamedDrive {
            id: drive.id,
            label: drive.label.clone(),
        })
    };
    let nowhere = || NamedDrive {
        id: Uuid::nil(),
        label: String::new(),
    };
    let mut plan = CopyPlan {
        steps: Vec::with_capacity(wishes.len()),
        wanted: Amount::default(),
        placed: Amount::default(),
        time: odds::copy_time(0, rate, rate),
        rate,
        room_unknown: stock
            .drives
            .iter()
            .filter(|drive| drive.at_hand && drive.free_bytes.is_none())
            .map(|drive| NamedDrive {
                id: drive.id,
                label: drive.label.clone(),
            })
            .collect(),
        kept_free: 0.1,
    };
    for (wish, place) in wishes.into_iter().zip(places) {
        let amount = wish.parcel.amount;
        let mut sums = vec![&mut plan.wanted];
        if place.is_ok() {
            sums.push(&mut plan.placed);
        }
        for sum in sums {
            sum.files += amount.files;
            sum.bytes += amount.bytes;
        }
        plan.steps.push(CopyStep {
            card_id: wish.card,
            name: wish.name,
            amount,
            from: named(wish.parcel.from).unwrap_or_else(nowhere),
            to: place.as_ref().ok().and_then(|device| named(*device)),
            why_not: place.as_ref().err().map(sentence).unwrap_or_default(),
        });
    }
    plan.time = odds::copy_time(plan.placed.bytes, rate, rate);
    plan.steps.sort_by_cached_key(|step| {
        let to = step.to.as_ref().map(|drive| drive.label.to_lowercase());
        let from = step.from.label.to_lowercase();
        (to.is_none(), to, from, step.name.clone())
    });
    plan
}

fn sentence(why: &Unplaced) -> String {
    let words = why.to_string();
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |first| {
        format!("{}{}.", first.to_uppercase(), chars.as_str())
    })
}
