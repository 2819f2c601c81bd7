//! Cards beyond their record: everything that stands against wiping one (R38), and post's word on it.

use diesel_async::AsyncConnection;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::footage::wipe::NotSafe;
use waybill_domain::perms::Action;
use waybill_domain::wording::and_list;

use super::access::{Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::{check, scans};
use crate::app::App;
use crate::db::card_states::Touched;
use crate::db::cards::Card;
use crate::db::record::Record;
use crate::db::wipe::{self, CardCopies, CardReport};
use crate::db::{Conn, card_rates, one_device};
use crate::error::OpError;

/// A reason, with its words.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct WipeReason {
    #[serde(flatten)]
    pub reason: NotSafe,
    pub words: String,
}

/// May a card be wiped, and if not, why not: every reason.
#[derive(Debug, Serialize, ToSchema)]
pub struct CardSafety {
    pub safe: bool,
    pub reasons: Vec<WipeReason>,
    /// Whether two copies in one place count as one.
    pub copies_apart: bool,
    /// Drives that hold it and are one copy, and those that don't count for what befell one on their device, as
    /// sentences.
    pub one_device: Vec<String>,
    /// Pictures at another frame rate than the series', as sentences.
    pub other_rates: Vec<String>,
    /// Post's reports, the newest first; the newest counts.
    pub reports: Vec<CardReport>,
}

/// Whether a card may be wiped.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn safety(
    app: &App,
    actor: &Actor,
    series: Uuid,
    card: Uuid,
) -> Result<CardSafety, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewFootage).await?;
    find(conn, series, card).await?;
    whole(conn, &access.series, card).await
}

/// A live card.
pub(super) async fn find(conn: &mut Conn, series: Uuid, card: Uuid) -> Result<(), OpError> {
    Card::load(conn, series, card)
        .await?
        .filter(|card| card.deleted_at.is_none())
        .map(drop)
        .ok_or(OpError::NotFound("the card"))
}

async fn whole(
    conn: &mut Conn,
    series: &crate::db::series::Series,
    card: Uuid,
) -> Result<CardSafety, OpError> {
    let reasons: Vec<WipeReason> = wipe::faults(conn, series.id, card)
        .await?
        .into_iter()
        .map(|reason| WipeReason {
            words: reason.to_string(),
            reason,
        })
        .collect();
    let rate = &series.fields.frame_rate;
    let others = card_rates::others(
        conn,
        series.id,
        card_rates::of_series(rate),
        Some(card),
        None,
    )
    .await?;
    let drives = one_device::that_hold(conn, series.id, card).await?;
    let groups = one_device::one_copy(conn, series.id, &drives).await?;
    let held_back = one_device::held_back(conn, series.id, &drives).await?;
    let one_copy = |labels: &Vec<String>| {
        format!(
            "{} are one device, or may be: together they are one copy.",
            and_list(labels)
        )
    };
    Ok(CardSafety {
        one_device: (groups.iter().map(one_copy))
            .chain(held_back.iter().map(ToString::to_string))
            .collect(),
        other_rates: others
            .iter()
            .map(|other| format!("{}.", other.words(rate)))
            .collect(),
        safe: reasons.is_empty(),
        reasons,
        copies_apart: series.fields.copies_apart,
        reports: wipe::reports(conn, series.id, card).await?,
    })
}

/// Takes post's word on a card; the card's state follows.
///
/// # Errors
/// Access; `NotFound`; `Invalid`; the database's.
pub async fn report(
    app: &App,
    actor: &Actor,
    (series, card): (Uuid, Uuid),
    positive: bool,
    words: String,
) -> Result<CardSafety, OpError> {
    let mut faults = Vec::new();
    check::text(&mut faults, "/words", &words, 2000);
    if !positive {
        check::required(&mut faults, "/words", &words, 2000);
    }
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ReportFootage).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        find(conn, series, card).await?;
        let report = CardReport {
            id: Uuid::now_v7(),
            series_id: series,
            card_id: card,
            positive,
            words,
            given_by: Some(actor.user_id),
            given_by_name: actor.name.clone(),
            given_at: now,
        };
        wipe::insert_report(conn, &report).await?;
        let subject = Subject::of(series, "card", card);
        audit::record(
            conn,
            actor,
            now,
            "reported",
            subject,
            NOTHING,
            Some(&report),
        )
        .await?;
        scans::move_cards(conn, actor, &access.series, Touched::Card(card), now).await?;
        whole(conn, &access.series, card).await
    })
    .await
}

/// How many copies each card has.
///
/// # Errors
/// Access; the database's.
pub async fn copies(app: &App, actor: &Actor, series: Uuid) -> Result<Vec<CardCopies>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    Ok(wipe::copies(conn, series).await?)
}
