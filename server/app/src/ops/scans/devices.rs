//! Which drives of a series are one copy, because they lie on one device or may be one drive.

use chrono::{DateTime, Utc};
use uuid::Uuid;
use waybill_domain::footage::one_device::{Whereabouts, whereabouts};
use waybill_domain::wording::and_list;

use super::complete::{lost_safety, move_cards};
use crate::db::card_states::Touched;
use crate::db::series::Series;
use crate::db::{Conn, one_device, scans};
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
            and_list(&others)
        )
    }))
}

/// What a whole scan tells of where its folder lies, against what earlier ones told.
#[derive(Debug, Default)]
pub struct Told {
    /// The earlier scans that found it on another device.
    pub elsewhere: Vec<Uuid>,
    /// Whether it lies on something else than before that can't be compared with all that was known.
    pub unsure: bool,
}

/// Compares what a whole scan tells of its device with what earlier ones told.
///
/// # Errors
/// The database's.
pub async fn told(conn: &mut Conn, scan: Uuid) -> Result<Told, OpError> {
    let all = one_device::told(conn, scan).await?;
    let Some(own) = all.iter().find(|told| told.scan == scan) else {
        return Ok(Told::default());
    };
    let mut told = Told::default();
    for earlier in all.iter().filter(|told| told.scan != scan) {
        match whereabouts(&earlier.devices, &own.devices) {
            Whereabouts::Same => {}
            Whereabouts::Elsewhere => told.elsewhere.push(earlier.scan),
            Whereabouts::Unsure => told.unsure = true,
        }
    }
    Ok(told)
}

/// What to say of a drive that stays with others because too little is known of where it lies now.
///
/// # Errors
/// The database's.
pub async fn unsure(conn: &mut Conn, series: Uuid, drive: Uuid) -> Result<Option<String>, OpError> {
    let others = one_device::beside(conn, series, drive).await?;
    let label = scans::drive(conn, drive).await?.label;
    Ok((!others.is_empty()).then(|| {
        format!(
            "{label} is still one copy with {}: what names its device now can't be compared with all that was told \
             before. If it lies on another device now, scan it with another label.",
            and_list(&others)
        )
    }))
}
