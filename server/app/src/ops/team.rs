//! The team: invitations, members and their roles, people of the organisation.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel_async::{AsyncConnection, RunQueryDsl};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::{Action, Role};

use super::access::{Access, Actor, enter, require_admin};
use super::audit::{self, NOTHING, Subject};
use super::issued::receiver::is_same;
use super::outbox::{self, NewMail};
use super::sign_in::{check_email, check_person};
use crate::app::App;
use crate::auth::passwords;
use crate::auth::tokens::Purpose;
use crate::db::Conn;
use crate::db::schema::invitations;
use crate::db::series::{self, Member, read_roles, word};
use crate::db::users::{self, NewUser, User};
use crate::error::{OpError, Stale};

/// How long an invitation works.
const INVITATION_LIFE: TimeDelta = TimeDelta::days(7);

/// An invitation that waits.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Invitation {
    pub id: Uuid,
    #[schema(required)]
    pub series_id: Option<Uuid>,
    pub email: String,
    pub roles: Vec<Role>,
    pub created_at: DateTime<Utc>,
    pub expires_at: DateTime<Utc>,
}

#[derive(Queryable)]
struct InvitationRow {
    id: Uuid,
    organisation_id: Uuid,
    series_id: Option<Uuid>,
    email: String,
    roles: Vec<String>,
    created_at: DateTime<Utc>,
    expires_at: DateTime<Utc>,
}

type InvitationColumns = (
    invitations::id,
    invitations::organisation_id,
    invitations::series_id,
    invitations::email,
    invitations::roles,
    invitations::created_at,
    invitations::expires_at,
);

impl InvitationRow {
    fn columns() -> InvitationColumns {
        (
            invitations::id,
            invitations::organisation_id,
            invitations::series_id,
            invitations::email,
            invitations::roles,
            invitations::created_at,
            invitations::expires_at,
        )
    }

    fn view(self) -> Invitation {
        Invitation {
            id: self.id,
            series_id: self.series_id,
            email: self.email,
            roles: read_roles(self.roles),
            created_at: self.created_at,
            expires_at: self.expires_at,
        }
    }
}

/// Who may invite: whoever manages the team of the series; an administrator for the organisation as a whole.
async fn may_invite(
    conn: &mut Conn,
    actor: &Actor,
    series: Option<Uuid>,
) -> Result<Option<String>, OpError> {
    match series {
        Some(series) => {
            let access = enter(conn, actor, series, Action::ManageTeam).await?;
            Ok(Some(access.series.fields.title))
        }
        None => require_admin(actor).map(|()| None),
    }
}

/// Invites somebody by mail.
///
/// # Errors
/// Access; `Invalid`; the database's.
pub async fn invite(
    app: &App,
    actor: &Actor,
    email: &str,
    series: Option<Uuid>,
    roles: &[Role],
) -> Result<Invitation, OpError> {
    let mut faults = Vec::new();
    check_email(&mut faults, "/email", email);
    if series.is_some() && roles.is_empty() {
        faults.push(crate::error::FieldError::new(
            "/roles",
            "Choose at least one role.",
        ));
    }
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let conn = &mut *app.pool.get().await?;
    let title = may_invite(conn, actor, series).await?;
    if let Some(series) = series {
        let access = enter(conn, actor, series, Action::ManageTeam).await?;
        may_give(&access, &[], roles)?;
    }
    let now = app.now();
    let id = Uuid::now_v7();
    let token = app
        .token_key
        .sign(Purpose::Invitation, id, now, INVITATION_LIFE)?;
    conn.transaction::<_, OpError, _>(async |conn| {
        let row: InvitationRow = diesel::insert_into(invitations::table)
            .values((
                invitations::id.eq(id),
                invitations::organisation_id.eq(actor.organisation_id),
                invitations::series_id.eq(series),
                invitations::email.eq(email.trim()),
                invitations::roles.eq(roles.iter().map(|role| word(*role)).collect::<Vec<_>>()),
                invitations::invited_by.eq(actor.user_id),
                invitations::created_at.eq(now),
                invitations::expires_at.eq(now + INVITATION_LIFE),
            ))
            .returning(InvitationRow::columns())
            .get_result(conn)
            .await?;
        let organisation = users::organisation_name(conn, actor.organisation_id).await?;
        let link = app.config.link(&format!("/invitation#{token}"));
        let mail =
            crate::mail::text::invitation(&actor.name, &organisation, title.as_deref(), &link);
        outbox::post(
            conn,
            app,
            NewMail {
                organisation_id: actor.organisation_id,
                user_id: None,
                kind: "invitation",
                recipient: email.trim().to_owned(),
                subject: mail.subject,
                text: mail.text,
                html: mail.html,
                useless_after: Some(now + INVITATION_LIFE),
            },
        )
        .await?;
        let view = row.view();
        let subject = Subject {
            series,
            kind: "invitation",
            id: Some(id),
        };
        audit::record(conn, actor, now, "invited", subject, NOTHING, Some(&view)).await?;
        Ok(view)
    })
    .await
}

/// Invitations that wait: of one series, or all of the organisation.
///
/// # Errors
/// Access; the database's.
pub async fn invitations(
    app: &App,
    actor: &Actor,
    series: Option<Uuid>,
) -> Result<Vec<Invitation>, OpError> {
    let conn = &mut *app.pool.get().await?;
    may_invite(conn, actor, series).await?;
    let mut query = invitations::table
        .filter(invitations::organisation_id.eq(actor.organisation_id))
        .filter(invitations::accepted_at.is_null())
        .filter(invitations::ended_at.is_null())
        .filter(invitations::expires_at.gt(app.now()))
        .order(invitations::created_at.desc())
        .select(InvitationRow::columns())
        .into_boxed();
    if let Some(series) = series {
        query = query.filter(invitations::series_id.eq(series));
    }
    let rows: Vec<InvitationRow> = query.load(conn).await?;
    Ok(rows.into_iter().map(InvitationRow::view).collect())
}

/// Takes an invitation back.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn end_invitation(app: &App, actor: &Actor, id: Uuid) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let row = open_invitation(conn, id, now).await?;
        if row.organisation_id != actor.organisation_id {
            return Err(OpError::NotFound("the invitation"));
        }
        may_invite(conn, actor, row.series_id).await?;
        diesel::update(invitations::table.find(id))
            .set(invitations::ended_at.eq(now))
            .execute(conn)
            .await?;
        let subject = Subject {
            series: row.series_id,
            kind: "invitation",
            id: Some(id),
        };
        audit::record(conn, actor, now, "ended", subject, NOTHING, NOTHING).await
    })
    .await
}

async fn open_invitation(
    conn: &mut Conn,
    id: Uuid,
    now: DateTime<Utc>,
) -> Result<InvitationRow, OpError> {
    invitations::table
        .find(id)
        .filter(invitations::accepted_at.is_null())
        .filter(invitations::ended_at.is_null())
        .filter(invitations::expires_at.gt(now))
        .select(InvitationRow::columns())
        .for_update()
        .first(conn)
        .await
        .optional()?
        .ok_or(OpError::NotFound("the invitation"))
}

/// Accepts an invitation: makes the person where the address is new, and gives the roles. Somebody who can sign in
/// already must prove it with their password.
///
/// # Errors
/// `NotAllowed` for a spent link; `Invalid`.
pub async fn accept(app: &App, token: &str, name: &str, password: &str) -> Result<User, OpError> {
    let now = app.now();
    let spent = || {
        OpError::NotAllowed(
            "This invitation is spent, withdrawn or too old. Ask for a fresh one.".into(),
        )
    };
    let id = app
        .token_key
        .read(Purpose::Invitation, token, now)
        .ok_or_else(spent)?;
    let conn = &mut *app.pool.get().await?;
    let row = open_invitation(conn, id, now)
        .await
        .map_err(|error| match error {
            OpError::NotFound(_) => spent(),
            other => other,
        })?;
    let known = users::by_email(conn, &row.email).await?;
    let hash = match &known {
        Some(user) => {
            if user.organisation_id != row.organisation_id || user.disabled_at.is_some() {
                return Err(OpError::Conflict(
                    "This address belongs to somebody who can't join here.".into(),
                ));
            }
            if !passwords::fits(app, password, Some(user.password_hash.clone())).await? {
                return Err(OpError::field(
                    "/password",
                    "You can sign in already: give your present password.",
                ));
            }
            String::new()
        }
        None => {
            let mut faults = Vec::new();
            check_person(&mut faults, name, &row.email, password, &[]);
            if !faults.is_empty() {
                return Err(OpError::Invalid(faults));
            }
            passwords::hash(app, password).await?
        }
    };
    conn.transaction::<_, OpError, _>(async |conn| {
        let row = open_invitation(conn, id, now).await?;
        let user = match known {
            Some(user) => user,
            None => {
                let new = NewUser {
                    organisation_id: row.organisation_id,
                    email: &row.email,
                    name: name.trim(),
                    password_hash: &hash,
                    is_admin: false,
                };
                users::insert(conn, new, now).await?
            }
        };
        if let Some(series_id) = row.series_id {
            let mut roles = series::roles(conn, series_id, user.id).await?;
            for role in read_roles(row.roles) {
                if !roles.contains(&role) {
                    roles.push(role);
                }
            }
            series::set_roles(conn, series_id, user.id, &roles, now).await?;
        }
        diesel::update(invitations::table.find(id))
            .set(invitations::accepted_at.eq(now))
            .execute(conn)
            .await?;
        let subject = Subject {
            series: row.series_id,
            kind: "invitation",
            id: Some(id),
        };
        let who = crate::auth::actor::actor(user.clone(), None);
        audit::record(conn, &who, now, "accepted", subject, NOTHING, NOTHING).await?;
        Ok(user)
    })
    .await
}

/// The members of a series, and the broadcasters for whom a delivery contact among them can receive.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct MemberList {
    pub items: Vec<Member>,
    /// As the series' specifications and what was issued name them.
    pub broadcasters: Vec<String>,
}

async fn list(conn: &mut Conn, series: Uuid) -> Result<MemberList, OpError> {
    let items = series::members(conn, series).await?;
    let broadcasters = broadcasters(conn, series).await?;
    Ok(MemberList {
        items,
        broadcasters,
    })
}

/// Each once, by name.
async fn broadcasters(conn: &mut Conn, series: Uuid) -> Result<Vec<String>, OpError> {
    let mut all: Vec<String> = Vec::new();
    for (_, name) in crate::db::issued::buyers(conn, series).await? {
        if !all.iter().any(|known| is_same(known, &name)) {
            all.push(name.trim().to_owned());
        }
    }
    Ok(all)
}

/// Members of a series.
///
/// # Errors
/// Access; the database's.
pub async fn members(app: &App, actor: &Actor, series: Uuid) -> Result<MemberList, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewSeries).await?;
    list(conn, series).await
}

/// For which broadcaster somebody with these roles is to receive: as the series names it.
async fn tied(
    conn: &mut Conn,
    series: Uuid,
    roles: &[Role],
    asked: Option<&str>,
    before: Option<&str>,
) -> Result<Option<String>, OpError> {
    let Some(asked) = asked.map(str::trim).filter(|asked| !asked.is_empty()) else {
        return Ok(None);
    };
    if !roles.contains(&Role::DeliveryContact) {
        return Err(OpError::field(
            "/broadcaster",
            "Only a delivery contact receives for a broadcaster. Give that role too, or leave the broadcaster out.",
        ));
    }
    let known = broadcasters(conn, series).await?;
    let named = known.iter().find(|name| is_same(name, asked)).cloned();
    // whom they receive for already need not be looked up again
    let kept = before.filter(|before| is_same(before, asked));
    match named.or(kept.map(str::to_owned)) {
        Some(named) => Ok(Some(named)),
        None => Err(OpError::field(
            "/broadcaster",
            "No delivery specification of this series names such a broadcaster. Enter it there first, or choose another.",
        )),
    }
}

/// Stops who would give, or take away, a role beyond their own.
fn may_give(access: &Access, before: &[Role], after: &[Role]) -> Result<(), OpError> {
    let changed = Role::ALL.into_iter().find(|role| {
        before.contains(role) != after.contains(role)
            && !waybill_domain::perms::may_give(&access.roles, access.actor.is_admin, *role)
    });
    match changed {
        None => Ok(()),
        Some(role) => Err(OpError::NotAllowed(format!(
            "The role “{}” can do more than you may yourself, so a series producer or an administrator decides on it. Nothing was changed.",
            word(role).replace('_', " ")
        ))),
    }
}

/// Sets somebody's roles in a series, and for which broadcaster they receive; no role ends the membership. The last who manages the team stays.
///
/// # Errors
/// Access; `NotFound`; `UnsafeState`; the database's.
pub async fn set_roles(
    app: &App,
    actor: &Actor,
    series: Uuid,
    user: Uuid,
    roles: &[Role],
    broadcaster: Option<&str>,
) -> Result<MemberList, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ManageTeam).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let person = users::load(conn, user).await?.filter(|user| user.organisation_id == actor.organisation_id);
        if person.is_none() {
            return Err(OpError::NotFound("the person"));
        }
        let before = series::roles(conn, series, user).await?;
        may_give(&access, &before, roles)?;
        let was = series::broadcaster_of(conn, series, user).await?;
        let broadcaster = tied(conn, series, roles, broadcaster, was.as_deref()).await?;
        if was != broadcaster {
            // whose papers somebody sees is as much as the role itself
            may_give(&access, &[], &[Role::DeliveryContact])?;
        }
        series::set_roles(conn, series, user, roles, now).await?;
        series::set_broadcaster(conn, series, user, broadcaster.as_deref()).await?;
        let members = series::members(conn, series).await?;
        let manages = |member: &Member| waybill_domain::perms::may(&member.roles, false, Action::ManageTeam);
        if !members.iter().any(manages) && !actor.is_admin {
            return Err(OpError::UnsafeState(
                "Then nobody could manage this team any more. Give somebody else the role first; nothing was changed."
                    .into(),
            ));
        }
        let subject = Subject::of(series, "membership", user);
        audit::record(conn, actor, now, "changed_roles", subject, Some(&before), Some(&roles)).await?;
        if was != broadcaster {
            let of = |name: &Option<String>| serde_json::json!({ "broadcaster": name });
            let (was, is) = (of(&was), of(&broadcaster));
            let subject = Subject::of(series, "membership", user);
            audit::record(conn, actor, now, "changed", subject, Some(&was), Some(&is)).await?;
        }
        list(conn, series).await
    })
    .await
}

/// People of the organisation.
///
/// # Errors
/// `NotAllowed` for who is not an administrator.
pub async fn people(app: &App, actor: &Actor) -> Result<Vec<User>, OpError> {
    require_admin(actor)?;
    let conn = &mut *app.pool.get().await?;
    Ok(users::of_organisation(conn, actor.organisation_id).await?)
}

/// Makes somebody an administrator or not, disables or enables them. Disabling ends their sessions at once.
///
/// # Errors
/// `NotAllowed`; `NotFound`; `Stale`; `UnsafeState` for the last administrator.
pub async fn set_person(
    app: &App,
    actor: &Actor,
    id: Uuid,
    version: i32,
    is_admin: bool,
    disabled: bool,
) -> Result<User, OpError> {
    require_admin(actor)?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let before = users::load(conn, id)
            .await?
            .filter(|user| user.organisation_id == actor.organisation_id)
            .ok_or(OpError::NotFound("the person"))?;
        let disabled_at = disabled.then(|| before.disabled_at.unwrap_or(now));
        let Some(after) =
            users::set_by_admin(conn, id, version, is_admin, disabled_at, now).await?
        else {
            let current = users::UserView::from(before.clone());
            return Err(OpError::Stale(Box::new(Stale {
                version: before.version,
                current: serde_json::to_value(&current)
                    .map_err(|error| OpError::Internal(error.to_string()))?,
                changed_by: None,
                changed_at: None,
            })));
        };
        let all = users::of_organisation(conn, actor.organisation_id).await?;
        if !all
            .iter()
            .any(|user| user.is_admin && user.disabled_at.is_none())
        {
            return Err(OpError::UnsafeState(
                "Then the organisation would have no administrator. Make somebody else one first."
                    .into(),
            ));
        }
        if disabled {
            users::end_everything(conn, id, None, now).await?;
        }
        let subject = Subject {
            series: None,
            kind: "user",
            id: Some(id),
        };
        let (old, new) = (
            users::UserView::from(before),
            users::UserView::from(after.clone()),
        );
        audit::record(conn, actor, now, "changed", subject, Some(&old), Some(&new)).await?;
        Ok(after)
    })
    .await
}
