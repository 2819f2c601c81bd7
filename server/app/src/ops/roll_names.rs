//! The names of cards checked against the pattern, the shoot's dates, their days and each other (R45); and what some of
//! them should be, offered as a list, never done.

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::roll::{RollPattern, ShootDates, collisions};
use waybill_domain::footage::sequence::{self, Card, Renaming, Restart};
use waybill_domain::perms::Action;

use super::access::{Actor, enter};
use crate::app::App;
use crate::db::kept;
use crate::db::series::RollRestart;
use crate::error::OpError;

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
    let fields = &access.series.fields;
    let pattern: RollPattern = fields.roll_pattern.parse().unwrap_or_default();
    let shoot = ShootDates {
        from: fields.shoot_from,
        to: fields.shoot_to,
    };
    let restart = match fields.roll_restart {
        RollRestart::Never => Restart::Never,
        RollRestart::EachDay => Restart::EachDay,
    };
    let cards: Vec<Card> = kept::cards_with_days(conn, series)
        .await?
        .into_iter()
        .map(|row| Card {
            name: row.name,
            day: row.day,
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
