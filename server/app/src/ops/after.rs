//! What follows from a change, in the change's own transaction: reminders that are due differently now.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::access::Access;
use crate::db::Conn;
use crate::error::OpError;

/// Called after each change of a record of `kind`.
///
/// # Errors
/// The database's; then the change is not kept either.
pub async fn changed(
    conn: &mut Conn,
    access: &Access,
    now: DateTime<Utc>,
    kind: &'static str,
    id: Uuid,
) -> Result<(), OpError> {
    let _ = (conn, access, now, kind, id);
    Ok(())
}
