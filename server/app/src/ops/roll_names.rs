//! The names of cards checked against the pattern, the shoot's dates, their days and each other (R45); and what some of
//! them should be: offered as a list, done only when somebody says so, and undone by the same step the other way round.

use diesel_async::AsyncConnection;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::roll::{RollPattern, ShootDates, collisions};
use waybill_domain::footage::sequence::{self, Card, Renaming, Restart};
use waybill_domain::perms::Action;

use super::access::{Access, Actor, enter};
use super::audit::{self, Subject};
use super::{after, records};
use crate::app::App;
use crate::db::cards::{self, Card as CardRecord};
use crate::db::record::Record;
use crate::db::series::{RollRestart, Series};
use crate::db::{Conn, kept};
use crate::error::OpError;

/// Cards that one step renames at most.
const MOST: usize = 500;

/// What is wrong with the names of a series' cards.
#[derive(Debug, Serialize, ToSchema)]
pub struct RollNames {
    /// Cards that were looked at.
    pub cards: u64,
    pub pattern: String,
    /// Every fault, as a sentence.
    pub problems: Vec<String>,
    /// Names of which only one correction is possible.
    pub renamings: Vec<Renaming>,
    /// The renamings as a shell script, to be read before it is run.
    pub script: String,
}

/// Checks the names of all cards.
///
/// # Errors
/// Access; the database's.
pub async fn check(app: &App, actor: &Actor, series: Uuid) -> Result<RollNames, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    found(conn, &access.series).await
}

async fn found(conn: &mut Conn, series: &Series) -> Result<RollNames, OpError> {
    let fields = &series.fields;
    let pattern: RollPattern = fields.roll_pattern.parse().unwrap_or_default();
    let shoot = ShootDates {
        from: fields.shoot_from,
        to: fields.shoot_to,
    };
    let restart = match fields.roll_restart {
        RollRestart::Never => Restart::Never,
        RollRestart::EachDay => Restart::EachDay,
    };
    let cards: Vec<Card> = kept::cards_with_days(conn, series.id)
        .await?
        .into_iter()
        .map(|row| Card {
            name: row.name,
            day: row.day,
            is_bare: row.is_bare,
        })
        .collect();
    let mut problems: Vec<String> = cards
        .iter()
        .filter_map(|card| pattern.read(&card.name).ok())
        .flat_map(|roll| roll.problems(shoot))
        .map(|problem| format!("{problem}."))
        .collect();
    let names = cards.iter().map(|card| card.name.as_str());
    problems.extend(
        collisions(names)
            .iter()
            .map(|problem| format!("{problem}.")),
    );
    let among = sequence::problems(&cards, &pattern, restart);
    problems.extend(among.iter().map(|problem| format!("{problem}.")));
    let renamings = sequence::renamings(&cards, &pattern, shoot);
    Ok(RollNames {
        cards: u64::try_from(cards.len()).unwrap_or_default(),
        pattern: fields.roll_pattern.clone(),
        script: sequence::script(&renamings),
        problems,
        renamings,
    })
}

/// A card's name as it is, and as it is to be.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NameChange {
    pub old: String,
    pub new: String,
}

/// Renames cards in the catalogue, all or none; what lies on drives is not touched. Number, camera and day follow the new
/// name. A bare card of the new name, as the scan of a renamed folder makes it, goes to the bin. Answers what is wrong with
/// the names now.
///
/// # Errors
/// Access; `BadRequest`; `Conflict` naming the card; `Invalid`; the database's.
pub async fn rename(
    app: &App,
    actor: &Actor,
    series: Uuid,
    wanted: Vec<NameChange>,
) -> Result<RollNames, OpError> {
    if wanted.is_empty() || wanted.len() > MOST {
        let message = format!("Name 1 to {MOST} cards.");
        return Err(OpError::BadRequest(message));
    }
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::EditFootage).await?;
    conn.transaction::<_, OpError, _>(async |conn| {
        for change in &wanted {
            change_name(app, conn, &access, change).await?;
        }
        found(conn, &access.series).await
    })
    .await
}

async fn change_name(
    app: &App,
    conn: &mut Conn,
    access: &Access,
    change: &NameChange,
) -> Result<(), OpError> {
    let series = access.series.id;
    let Some(before) = cards::of_name(conn, series, &change.old).await? else {
        return Err(OpError::Conflict(format!(
            "There is no card {} any more. No card was renamed.",
            change.old
        )));
    };
    if let Some(other) = cards::of_name(conn, series, &change.new).await? {
        let known = kept::cards_with_days(conn, series).await?;
        if !known
            .iter()
            .any(|card| card.is_bare && card.name == change.new)
        {
            return Err(OpError::Conflict(format!(
                "Another card is called {}. No card was renamed.",
                change.new
            )));
        }
        let now = app.now();
        let gone = CardRecord::set_deleted(conn, series, other.id, other.version, Some(now), now);
        let gone = gone.await?;
        note(app, conn, access, "deleted", &other, gone).await?;
    }
    let mut fields = before.fields.clone();
    fields.name.clone_from(&change.new);
    let pattern: RollPattern = access
        .series
        .fields
        .roll_pattern
        .parse()
        .unwrap_or_default();
    if let Ok(roll) = pattern.read(&change.new) {
        (fields.number, fields.camera) = (roll.card, roll.camera);
        if let Some(day) = roll.date {
            fields.shot_on = Some(day);
            if fields.shoot_day_id.is_none() {
                fields.shoot_day_id = cards::shoot_day(conn, series, day).await?;
            }
        }
    }
    records::check(conn, series, Some((before.id, &before.fields)), &fields).await?;
    let (id, version) = (before.id, before.version);
    let card = CardRecord::update(conn, series, id, version, fields, app.now()).await?;
    note(app, conn, access, "changed", &before, card).await
}

/// The audit's line, and what follows from a card that is another now.
async fn note(
    app: &App,
    conn: &mut Conn,
    access: &Access,
    action: &str,
    before: &CardRecord,
    card: Option<CardRecord>,
) -> Result<(), OpError> {
    let Some(card) = card else {
        return Err(OpError::Conflict(format!(
            "{} was changed by somebody else just now. No card was renamed; please look again.",
            before.fields.name
        )));
    };
    let (series, now) = (access.series.id, app.now());
    let subject = Subject::of(series, CardRecord::KIND, card.id);
    let actor = &access.actor;
    audit::record(conn, actor, now, action, subject, Some(before), Some(&card)).await?;
    after::changed(conn, access, now, CardRecord::KIND, card.id).await
}
