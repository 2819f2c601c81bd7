//! How well cards and episodes are kept: three copies, two media, one off site (R39), and the level on the ladder of
//! preservation (R40), each with what fails. A card or an episode is kept as well as the worst of its files.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::levels::{Keeper, Ladder, Medium, ThreeTwoOne, ladder, three_two_one};
use waybill_domain::footage::risk::Amount;
use waybill_domain::perms::Action;
use waybill_domain::wording::local;

use super::access::{Access, Actor, enter};
use super::what_if::Stock;
use crate::app::App;
use crate::db::Conn;
use crate::db::holdings::{self, Group, Scope};
use crate::db::kept::{self, OtherCard};
use crate::error::OpError;

/// How well something is kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Kept {
    /// Files that were looked at.
    pub amount: Amount,
    pub three_two_one: ThreeTwoOne,
    /// Whether all its limbs hold.
    pub holds: bool,
    /// The limbs that fail, in words.
    pub failing: Vec<&'static str>,
    pub ladder: Ladder,
    /// What keeps it from the next level, in words.
    pub next_needs: Vec<&'static str>,
}

/// A card or an episode, and how well it is kept.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct KeptItem {
    pub id: Uuid,
    pub name: String,
    /// Null: nothing of it is in the catalogue, so nothing can be said.
    #[schema(required)]
    pub kept: Option<Kept>,
}

/// How well a series is kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct Keeping {
    pub cards: Vec<KeptItem>,
    /// Episodes by what their newest cut uses.
    pub episodes: Vec<KeptItem>,
    /// What else the ladder asks and nobody can read from a catalogue.
    pub not_asked: &'static str,
}

const NOT_ASKED: &str = "Whether cards were write-blocked when they were copied, whether the places face the same \
     dangers, and who could write to all copies is not known here, so level 4 is never claimed.";

struct Scale<'a> {
    stock: &'a Stock,
    main_place: &'a str,
    today: NaiveDate,
}

impl Scale<'_> {
    /// One group of files on the same devices.
    fn group(&self, group: &Group) -> (Amount, ThreeTwoOne, Ladder) {
        let drives = group.devices.iter().filter_map(|device| {
            let id = self.stock.devices.ids.get(usize::from(*device))?;
            self.stock.drives.iter().find(|drive| drive.id == *id)
        });
        let keepers: Vec<Keeper<'_>> = drives
            .map(|drive| Keeper {
                medium: Medium::of_drive(&drive.kind),
                place: &drive.place,
                checked_in_time: drive.next_check_on.is_some_and(|on| on >= self.today),
            })
            .collect();
        let amount = Amount {
            files: u64::try_from(group.files).unwrap_or_default(),
            bytes: u64::try_from(group.bytes).unwrap_or_default(),
        };
        // Whatever is in the catalogue was hashed when it came in.
        (
            amount,
            three_two_one(&keepers, self.main_place),
            ladder(&keepers, self.main_place, true),
        )
    }

    /// The worst of these groups; none for no file at all.
    fn worst<'g>(&self, groups: impl IntoIterator<Item = &'g Group>) -> Option<Kept> {
        let (amount, three_two_one, ladder) = groups
            .into_iter()
            .map(|group| self.group(group))
            .reduce(|(sum, three, rung), (amount, other, level)| {
                let sum = Amount {
                    files: sum.files + amount.files,
                    bytes: sum.bytes + amount.bytes,
                };
                (sum, three.worse(other), rung.worse(level))
            })?;
        Some(Kept {
            amount,
            holds: three_two_one.holds(),
            failing: three_two_one.failing(),
            next_needs: ladder.next_needs(),
            three_two_one,
            ladder,
        })
    }
}

/// How well a card is kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct CardKept {
    /// Null: nothing of it is in the catalogue, so nothing can be said.
    #[schema(required)]
    pub kept: Option<Kept>,
    /// Then: the cards whose content lies in the folders of its name, those with the most files first.
    pub elsewhere: Vec<OtherCard>,
}

/// How well one card is kept; where nothing of it is in the catalogue, whose content is in its folders.
///
/// # Errors
/// Access; the database's.
pub async fn of_card(
    app: &App,
    actor: &Actor,
    series: Uuid,
    card: Uuid,
) -> Result<CardKept, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    super::cards::find(conn, series, card).await?;
    let stock = Stock::load(conn, series).await?;
    let groups = holdings::groups(conn, series, &stock.devices, Scope::Card(card)).await?;
    let kept = scale(app, &access, &stock).worst(&groups);
    let elsewhere = match &kept {
        Some(_) => Vec::new(),
        None => kept::content_elsewhere(conn, series, card).await?,
    };
    Ok(CardKept { kept, elsewhere })
}

fn scale<'a>(app: &App, access: &'a Access, stock: &'a Stock) -> Scale<'a> {
    let fields = &access.series.fields;
    Scale {
        stock,
        main_place: &fields.main_place,
        today: local(app.now(), &fields.zone).date(),
    }
}

/// How well all cards and episodes are kept, the worst first.
///
/// # Errors
/// Access; the database's.
pub async fn all(app: &App, actor: &Actor, series: Uuid) -> Result<Keeping, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    let stock = Stock::load(conn, series).await?;
    let scale = scale(app, &access, &stock);
    let mut cards = cards(conn, series, &scale).await?;
    let mut episodes = Vec::new();
    if access.may(Action::ViewCuts) {
        for one in kept::newest_cuts(conn, series).await? {
            let scope = Scope::Cut(one.cut_id);
            let groups = holdings::groups(conn, series, &stock.devices, scope).await?;
            episodes.push(KeptItem {
                id: one.episode_id,
                name: format!("{}. {}", one.number, one.title),
                kept: scale.worst(&groups),
            });
        }
    }
    for items in [&mut cards, &mut episodes] {
        items.sort_by_key(|item| {
            let limbs = item.kept.as_ref().map(|kept| {
                let three = kept.three_two_one;
                (kept.ladder.level, three.copies, three.media, three.off_site)
            });
            (limbs, item.name.clone())
        });
    }
    Ok(Keeping {
        cards,
        episodes,
        not_asked: NOT_ASKED,
    })
}

async fn cards(conn: &mut Conn, series: Uuid, scale: &Scale<'_>) -> Result<Vec<KeptItem>, OpError> {
    let names = kept::card_names(conn, series).await?;
    let groups = holdings::groups(conn, series, &scale.stock.devices, Scope::All).await?;
    let mut by_card = BTreeMap::<Uuid, Vec<&Group>>::new();
    for group in &groups {
        if let Some(card) = group.card_id {
            by_card.entry(card).or_default().push(group);
        }
    }
    // A file without any copy that counts is in no group; the worked-out count of the card knows of it.
    let bare = Group::default();
    let mut found = Vec::new();
    for copies in crate::db::wipe::copies(conn, series).await? {
        let mut groups = by_card.remove(&copies.id).unwrap_or_default();
        if copies.files > 0 && copies.copies == 0 {
            groups.push(&bare);
        }
        found.push(KeptItem {
            id: copies.id,
            name: names.get(&copies.id).cloned().unwrap_or_default(),
            kept: scale.worst(groups),
        });
    }
    Ok(found)
}
