//! The team: members, roles, invitations, people of the organisation.

use actix_web::web::{Data, Json, Path, Query};
use actix_web::{HttpResponse, delete, get, post, put};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::perms::Role;

use super::types::{Answer, Caller, IfMatch, record};
use crate::app::App;
use crate::auth::actor::cookie;
use crate::db::users::UserView;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::team::MemberList;
use crate::ops::{sign_in, team};

/// People of the organisation.
#[derive(Serialize, ToSchema)]
struct UserList {
    items: Vec<UserView>,
}

#[utoipa::path(tag = "Team", responses((status = 200, body = UserList), (status = "4XX", body = Problem)))]
#[get("/api/users")]
async fn list_users(app: Data<App>, actor: Actor) -> Answer {
    let items = team::people(&app, &actor)
        .await?
        .into_iter()
        .map(UserView::from)
        .collect();
    Ok(HttpResponse::Ok().json(UserList { items }))
}

/// What an administrator may change about a person.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct UserChange {
    is_admin: bool,
    disabled: bool,
}

#[utoipa::path(tag = "Team", params(("id" = Uuid, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = UserView), (status = "4XX", body = Problem)))]
#[put("/api/users/{id}")]
async fn replace_user(
    app: Data<App>,
    actor: Actor,
    path: Path<Uuid>,
    version: IfMatch,
    body: Json<UserChange>,
) -> Answer {
    let user = team::set_person(
        &app,
        &actor,
        path.into_inner(),
        version.0,
        body.is_admin,
        body.disabled,
    )
    .await?;
    Ok(record(
        HttpResponse::Ok(),
        user.version,
        &UserView::from(user),
    ))
}

#[utoipa::path(tag = "Team", params(("series" = Uuid, Path)),
    responses((status = 200, body = MemberList), (status = "4XX", body = Problem)))]
#[get("/api/series/{series}/members")]
async fn list_members(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    let found = team::members(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::Ok().json(found))
}

/// Roles to be given.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct RoleChange {
    roles: Vec<Role>,
    /// For which broadcaster a delivery contact receives, as a specification names it. Null: not said; they see what was
    /// issued only while the series has no more than one.
    #[serde(default)]
    broadcaster: Option<String>,
}

#[utoipa::path(tag = "Team", params(("series" = Uuid, Path), ("user" = Uuid, Path)),
    responses((status = 200, body = MemberList), (status = "4XX", body = Problem)))]
#[put("/api/series/{series}/members/{user}")]
async fn replace_member(
    app: Data<App>,
    actor: Actor,
    path: Path<(Uuid, Uuid)>,
    body: Json<RoleChange>,
) -> Answer {
    let (series, user) = path.into_inner();
    let RoleChange { roles, broadcaster } = body.into_inner();
    let broadcaster = broadcaster.as_deref();
    let found = team::set_roles(&app, &actor, series, user, &roles, broadcaster).await?;
    Ok(HttpResponse::Ok().json(found))
}

#[utoipa::path(tag = "Team", params(("series" = Uuid, Path), ("user" = Uuid, Path)),
    responses((status = 200, body = MemberList), (status = "4XX", body = Problem)))]
#[delete("/api/series/{series}/members/{user}")]
async fn delete_member(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
    let (series, user) = path.into_inner();
    let found = team::set_roles(&app, &actor, series, user, &[], None).await?;
    Ok(HttpResponse::Ok().json(found))
}

/// Whom to invite, and to what.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewInvitation {
    email: String,
    series_id: Option<Uuid>,
    #[serde(default)]
    roles: Vec<Role>,
}

#[utoipa::path(tag = "Team", responses((status = 201, body = team::Invitation), (status = "4XX", body = Problem)))]
#[post("/api/invitations")]
async fn create_invitation(app: Data<App>, actor: Actor, body: Json<NewInvitation>) -> Answer {
    let made = team::invite(&app, &actor, &body.email, body.series_id, &body.roles).await?;
    Ok(HttpResponse::Created().json(made))
}

/// Which invitations.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct InvitationQuery {
    /// Those of one series; all of the organisation when not given (administrators).
    series_id: Option<Uuid>,
}

/// Invitations that wait.
#[derive(Serialize, ToSchema)]
struct InvitationList {
    items: Vec<team::Invitation>,
}

#[utoipa::path(tag = "Team", params(InvitationQuery),
    responses((status = 200, body = InvitationList), (status = "4XX", body = Problem)))]
#[get("/api/invitations")]
async fn list_invitations(app: Data<App>, actor: Actor, query: Query<InvitationQuery>) -> Answer {
    let items = team::invitations(&app, &actor, query.series_id).await?;
    Ok(HttpResponse::Ok().json(InvitationList { items }))
}

#[utoipa::path(tag = "Team", params(("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[delete("/api/invitations/{id}")]
async fn delete_invitation(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    team::end_invitation(&app, &actor, path.into_inner()).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// What somebody who was invited tells.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Acceptance {
    token: String,
    #[serde(default)]
    name: String,
    password: String,
}

#[utoipa::path(tag = "Team", responses((status = 200, body = UserView), (status = "4XX", body = Problem)))]
#[post("/api/invitations/accept")]
async fn accept_invitation(app: Data<App>, caller: Caller, body: Json<Acceptance>) -> Answer {
    let user = team::accept(&app, &body.token, &body.name, &body.password).await?;
    let session = sign_in::sign_in(&app, &user.email, &body.password, &caller.0).await?;
    Ok(HttpResponse::Ok()
        .cookie(cookie(&app.config, &session.token))
        .json(UserView::from(session.user)))
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(list_users)
        .service(replace_user)
        .service(list_members)
        .service(replace_member)
        .service(delete_member)
        .service(create_invitation)
        .service(list_invitations)
        .service(accept_invitation)
        .service(delete_invitation);
}
