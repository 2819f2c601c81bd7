//! Which drives of a series are one copy, because they lie on one device or may be one drive.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::complete::{lost_safety, move_cards};
use crate::db::card_states::Touched;
use crate::db::series::Series;
use crate::db::{Conn, one_device};
use crate::error::OpError;
use crate::ops::access::Actor;
use crate::ops::audit::{self, Subject};

/// Groups the drives anew; their cards follow. What to say of cards that were safe to wipe.
///
/// # Errors
/// The database's.
pub async fn regroup(
    conn: &mut Conn,
    actor: &Actor,
    series: &Series,
    now: DateTime<Utc>,
) -> Result<Vec<String>, OpError> {
    let mut said = Vec::new();
    for one in one_device::regroup(conn, series.id).await? {
        let subject = Subject::of(series.id, "drive", one.drive);
        let (before, after) = (Some(&one.before), Some(&one.after));
        audit::record(conn, actor, now, "grouped", subject, before, after).await?;
        let touched = Touched::Drive(one.drive);
        let moved = move_cards(conn, actor, series, touched, now).await?;
        said.extend(moved.iter().filter_map(lost_safety));
    }
    Ok(said)
}

/// What to say of drives that lie on this one's device.
///
/// # Errors
/// The database's.
pub async fn beside(
    conn: &mut Conn,
    series: Uuid,
    (drive, label): (Uuid, &str),
) -> Result<Option<String>, OpError> {
    let others = one_device::beside(conn, series, drive).await?;
    Ok((!others.is_empty()).then(|| {
        format!(
            "{label} lies on the same device as {}: together they are one copy.",
            waybill_domain::wording::and_list(&others)
        )
    }))
}
