//! Series: the frame for everything else. Who makes one becomes its series producer.

use std::str::FromStr;

use diesel_async::AsyncConnection;
use uuid::Uuid;
use waybill_domain::footage::roll::RollPattern;
use waybill_domain::perms::{Action, Role};
use waybill_domain::timecode::Rate;

use super::access::{Actor, enter, look, require_admin};
use super::audit::{self, NOTHING, Subject};
use super::check;
use crate::app::App;
use crate::db::Conn;
use crate::db::series::{self, Series, SeriesFields};
use crate::error::{FieldError, OpError};

/// Live series that the actor may see, with their roles there.
///
/// # Errors
/// The database's.
pub async fn mine(app: &App, actor: &Actor) -> Result<Vec<(Series, Vec<Role>)>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let mut all = series::of_user(conn, actor.organisation_id, actor.user_id).await?;
    all.retain(|(_, roles)| actor.is_admin || !roles.is_empty());
    Ok(all)
}

/// One series.
///
/// # Errors
/// Access; the database's.
pub async fn read(app: &App, actor: &Actor, id: Uuid) -> Result<Series, OpError> {
    let conn = &mut *app.pool.get().await?;
    Ok(look(conn, actor, id).await?.series)
}

/// Makes a series.
///
/// # Errors
/// `NotAllowed` for who is not an administrator; `Invalid`.
pub async fn create(app: &App, actor: &Actor, fields: SeriesFields) -> Result<Series, OpError> {
    require_admin(actor)?;
    checked(&fields)?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let made = series::insert(conn, actor.organisation_id, &fields, now).await?;
        series::set_roles(conn, made.id, actor.user_id, &[Role::SeriesProducer], now).await?;
        let subject = Subject::of(made.id, "series", made.id);
        audit::record(conn, actor, now, "created", subject, NOTHING, Some(&made)).await?;
        Ok(made)
    })
    .await
}

/// Replaces the settings of version `version`.
///
/// # Errors
/// Access; `Invalid`; `Stale`.
pub async fn replace(
    app: &App,
    actor: &Actor,
    id: Uuid,
    version: i32,
    fields: SeriesFields,
) -> Result<Series, OpError> {
    checked(&fields)?;
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, id, Action::EditSeries).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let Some(made) = series::update(conn, id, version, &fields, now).await? else {
            return Err(stale(conn, id).await?);
        };
        let subject = Subject::of(id, "series", id);
        audit::record(
            conn,
            actor,
            now,
            "changed",
            subject,
            Some(&access.series),
            Some(&made),
        )
        .await?;
        super::after::changed(conn, &access, now, "series", id).await?;
        Ok(made)
    })
    .await
}

/// Moves a series to the bin, or back from it (`version` none).
///
/// # Errors
/// `NotAllowed` for who is not an administrator; `NotFound`; `Stale`.
pub async fn set_deleted(
    app: &App,
    actor: &Actor,
    id: Uuid,
    version: Option<i32>,
) -> Result<Series, OpError> {
    require_admin(actor)?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let before = series::load(conn, id)
            .await?
            .filter(|found| found.organisation_id == actor.organisation_id)
            .ok_or(OpError::NotFound("the series"))?;
        let at = version.unwrap_or(before.version);
        let deleted_at = version.map(|_| now);
        let Some(after) = series::set_deleted(conn, id, at, deleted_at, now).await? else {
            return Err(stale(conn, id).await?);
        };
        let action = if deleted_at.is_some() {
            "deleted"
        } else {
            "restored"
        };
        let subject = Subject::of(id, "series", id);
        audit::record(
            conn,
            actor,
            now,
            action,
            subject,
            Some(&before),
            Some(&after),
        )
        .await?;
        Ok(after)
    })
    .await
}

async fn stale(conn: &mut Conn, id: Uuid) -> Result<OpError, OpError> {
    let current = series::load(conn, id)
        .await?
        .ok_or(OpError::NotFound("the series"))?;
    audit::stale(conn, id, current.version, &current).await
}

fn checked(fields: &SeriesFields) -> Result<(), OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/title", &fields.title, 200);
    check::text(
        &mut faults,
        "/producer_entity",
        &fields.producer_entity,
        200,
    );
    check::required(&mut faults, "/roll_pattern", &fields.roll_pattern, 200);
    check::order(
        &mut faults,
        "/shoot_to",
        "the first shoot day",
        fields.shoot_from,
        fields.shoot_to,
    );
    if chrono_tz::Tz::from_str(&fields.zone).is_err() {
        faults.push(FieldError::new(
            "/zone",
            "This is not a time zone's name, such as Europe/London.",
        ));
    }
    if let Err(fault) = fields.roll_pattern.parse::<RollPattern>() {
        faults.push(FieldError::new("/roll_pattern", format!("{fault}.")));
    }
    if let Err(fault) = fields.frame_rate.parse::<Rate>() {
        faults.push(FieldError::new("/frame_rate", format!("{fault}.")));
    }
    check::day(&mut faults, "/shoot_from", fields.shoot_from);
    check::day(&mut faults, "/shoot_to", fields.shoot_to);
    if fields.holidays.len() > 1000 {
        faults.push(FieldError::new("/holidays", "At most 1000 days fit here."));
    }
    for (at, holiday) in fields.holidays.iter().take(1000).enumerate() {
        check::day(&mut faults, &format!("/holidays/{at}"), Some(*holiday));
    }
    check::text(&mut faults, "/main_place", &fields.main_place, 500);
    check::within(
        &mut faults,
        "/check_months",
        fields.check_months.into(),
        1,
        60,
    );
    if !(14..=21).contains(&fields.adult_at) {
        faults.push(FieldError::new("/adult_at", "An age between 14 and 21."));
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(OpError::Invalid(faults))
    }
}
