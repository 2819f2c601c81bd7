//! What a council asks before a child is filmed in the UK (R25), worked from a minor's release.

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::rights::child_licence::{ChildLicenceFinding, finding};

use super::access::{Actor, enter};
use crate::app::App;
use crate::db::record::Record;
use crate::db::releases::{Release, ReleaseFields, ReleaseKind};
use crate::error::OpError;

/// How a child's licence stands.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ChildLicenceAnswer {
    /// Null: it is no minor's release, or the day of filming is not entered.
    #[schema(required)]
    pub finding: Option<ChildLicenceFinding>,
}

/// The finding about a release, where it is a minor's with a day of filming.
pub fn of(fields: &ReleaseFields, today: NaiveDate) -> Option<ChildLicenceFinding> {
    let first = fields.filmed_from.or(fields.filmed_to)?;
    let last = fields.filmed_to.unwrap_or(first);
    (fields.kind == ReleaseKind::Minor)
        .then(|| finding(&fields.details.0.child, (first, last), today))
}

/// How the licence stands that a release's filming needs.
///
/// # Errors
/// Access (`ViewReleases`); `NotFound`; the database's.
pub async fn read(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
) -> Result<ChildLicenceAnswer, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewReleases).await?;
    let found = Release::load(conn, series, id).await?;
    let release = found.ok_or(OpError::NotFound("the release"))?;
    let today = access.today(app.now());
    Ok(ChildLicenceAnswer {
        finding: of(&release.fields, today),
    })
}
