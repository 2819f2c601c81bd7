//! Getting in and out, and one's own account.

use actix_web::web::{Data, Json, Path};
use actix_web::{HttpResponse, delete, get, post, put};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use waybill_domain::perms::{self, Action, Role};

use super::types::{Answer, Caller};
use crate::app::App;
use crate::auth::actor::cookie;
use crate::db::users::{self, DeviceToken, MailChoice, SignIn, UserView};
use crate::error::{OpError, Problem};
use crate::ops::access::Actor;
use crate::ops::series;
use crate::ops::sign_in::{self as ops, Own, Setup};

/// Whether the server can do its work.
#[derive(Serialize, ToSchema)]
struct Health {
    /// `ok`, or `database unreachable`.
    state: &'static str,
    /// Nobody can sign in yet: use the one-time link that the server printed.
    needs_setup: bool,
}

#[utoipa::path(tag = "Account", responses((status = 200, body = Health), (status = 503, body = Problem)))]
#[get("/api/health")]
async fn read_health(app: Data<App>) -> Answer {
    let conn = &mut *app.pool.get().await?;
    let needs_setup = !users::any(conn).await?;
    Ok(HttpResponse::Ok().json(Health {
        state: "ok",
        needs_setup,
    }))
}

/// What the first administrator tells.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct SetupBody {
    token: String,
    organisation: String,
    name: String,
    email: String,
    password: String,
}

#[utoipa::path(tag = "Account", responses((status = 201, body = UserView), (status = "4XX", body = Problem)))]
#[post("/api/setup")]
async fn create_setup(app: Data<App>, caller: Caller, body: Json<SetupBody>) -> Answer {
    let body = body.into_inner();
    let (email, password) = (body.email.clone(), body.password.clone());
    let setup = Setup {
        token: body.token,
        organisation: body.organisation,
        name: body.name,
        email: body.email,
        password: body.password,
    };
    ops::set_up(&app, setup).await?;
    let session = ops::sign_in(&app, &email, &password, &caller.0).await?;
    Ok(HttpResponse::Created()
        .cookie(cookie(&app.config, &session.token))
        .json(UserView::from(session.user)))
}

/// Address and password.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Credentials {
    email: String,
    password: String,
}

#[utoipa::path(tag = "Account", responses((status = 200, body = UserView), (status = "4XX", body = Problem)))]
#[post("/api/sign-in")]
async fn create_sign_in(app: Data<App>, caller: Caller, body: Json<Credentials>) -> Answer {
    let session = ops::sign_in(&app, &body.email, &body.password, &caller.0).await?;
    Ok(HttpResponse::Ok()
        .cookie(cookie(&app.config, &session.token))
        .json(UserView::from(session.user)))
}

#[utoipa::path(tag = "Account", responses((status = 204), (status = "4XX", body = Problem)))]
#[post("/api/sign-out")]
async fn create_sign_out(app: Data<App>, actor: Actor) -> Answer {
    ops::sign_out(&app, &actor).await?;
    Ok(HttpResponse::NoContent()
        .cookie(cookie(&app.config, ""))
        .insert_header(("clear-site-data", "\"cache\", \"storage\""))
        .finish())
}

/// A series that the caller works on.
#[derive(Serialize, ToSchema)]
struct MySeries {
    id: Uuid,
    title: String,
    roles: Vec<Role>,
    /// What these roles allow.
    actions: Vec<Action>,
}

/// Who the caller is.
#[derive(Serialize, ToSchema)]
struct Me {
    user: UserView,
    organisation: String,
    series: Vec<MySeries>,
}

#[utoipa::path(tag = "Account", responses((status = 200, body = Me), (status = "4XX", body = Problem)))]
#[get("/api/me")]
async fn read_me(app: Data<App>, actor: Actor) -> Answer {
    let mine = series::mine(&app, &actor).await?;
    let conn = &mut *app.pool.get().await?;
    let user = users::load(conn, actor.user_id)
        .await?
        .ok_or(OpError::Unauthenticated)?;
    let organisation = users::organisation_name(conn, actor.organisation_id).await?;
    let series = mine
        .into_iter()
        .map(|(series, roles)| MySeries {
            id: series.id,
            title: series.fields.title,
            actions: perms::actions(&roles, actor.is_admin),
            roles,
        })
        .collect();
    Ok(HttpResponse::Ok().json(Me {
        user: user.into(),
        organisation,
        series,
    }))
}

/// What everyone may change about themselves.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct MyChange {
    name: String,
    mail_choice: MailChoice,
}

#[utoipa::path(tag = "Account", responses((status = 200, body = UserView), (status = "4XX", body = Problem)))]
#[put("/api/me")]
async fn replace_me(app: Data<App>, actor: Actor, body: Json<MyChange>) -> Answer {
    let user = ops::change_own(&app, &actor, &body.name, body.mail_choice).await?;
    Ok(HttpResponse::Ok().json(UserView::from(user)))
}

/// One's old and new password.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PasswordChange {
    old: String,
    new: String,
}

#[utoipa::path(tag = "Account", responses((status = 204), (status = "4XX", body = Problem)))]
#[put("/api/me/password")]
async fn replace_password(app: Data<App>, actor: Actor, body: Json<PasswordChange>) -> Answer {
    ops::change_password(&app, &actor, &body.old, &body.new).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// One's live sign-ins.
#[derive(Serialize, ToSchema)]
struct SignInList {
    items: Vec<SignIn>,
    /// The one that asks.
    #[schema(required)]
    current: Option<Uuid>,
}

#[utoipa::path(tag = "Account", responses((status = 200, body = SignInList), (status = "4XX", body = Problem)))]
#[get("/api/me/sign-ins")]
async fn list_sign_ins(app: Data<App>, actor: Actor) -> Answer {
    let conn = &mut *app.pool.get().await?;
    let items = users::sign_ins(conn, actor.user_id, app.now()).await?;
    Ok(HttpResponse::Ok().json(SignInList {
        items,
        current: actor.session_id,
    }))
}

#[utoipa::path(tag = "Account", params(("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[delete("/api/me/sign-ins/{id}")]
async fn delete_sign_in(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    ops::end_own(&app, &actor, Own::SignIn, path.into_inner()).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// One's device tokens.
#[derive(Serialize, ToSchema)]
struct DeviceTokenList {
    items: Vec<DeviceToken>,
}

#[utoipa::path(tag = "Account", responses((status = 200, body = DeviceTokenList), (status = "4XX", body = Problem)))]
#[get("/api/me/device-tokens")]
async fn list_device_tokens(app: Data<App>, actor: Actor) -> Answer {
    let conn = &mut *app.pool.get().await?;
    let items = users::device_tokens_of(conn, actor.user_id, app.now()).await?;
    Ok(HttpResponse::Ok().json(DeviceTokenList { items }))
}

/// What a new device token is for.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewDeviceToken {
    label: String,
}

/// A new device token; its text is shown only here.
#[derive(Serialize, ToSchema)]
struct MadeDeviceToken {
    device_token: DeviceToken,
    token: String,
}

#[utoipa::path(tag = "Account", responses((status = 201, body = MadeDeviceToken), (status = "4XX", body = Problem)))]
#[post("/api/me/device-tokens")]
async fn create_device_token(app: Data<App>, actor: Actor, body: Json<NewDeviceToken>) -> Answer {
    let (device_token, token) = ops::make_device_token(&app, &actor, &body.label).await?;
    Ok(HttpResponse::Created().json(MadeDeviceToken {
        device_token,
        token,
    }))
}

#[utoipa::path(tag = "Account", params(("id" = Uuid, Path)),
    responses((status = 204), (status = "4XX", body = Problem)))]
#[delete("/api/me/device-tokens/{id}")]
async fn delete_device_token(app: Data<App>, actor: Actor, path: Path<Uuid>) -> Answer {
    ops::end_own(&app, &actor, Own::DeviceToken, path.into_inner()).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Whose password is forgotten.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ResetAsk {
    email: String,
}

/// The answer is the same for a known and an unknown address.
#[utoipa::path(tag = "Account", responses((status = 202), (status = "4XX", body = Problem)))]
#[post("/api/password-resets")]
async fn create_password_reset(app: Data<App>, caller: Caller, body: Json<ResetAsk>) -> Answer {
    ops::ask_reset(&app, &body.email, &caller.0).await?;
    Ok(HttpResponse::Accepted().finish())
}

/// A reset link's token and the new password.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ResetUse {
    token: String,
    password: String,
}

#[utoipa::path(tag = "Account", responses((status = 204), (status = "4XX", body = Problem)))]
#[post("/api/password-resets/use")]
async fn use_password_reset(app: Data<App>, body: Json<ResetUse>) -> Answer {
    ops::use_reset(&app, &body.token, &body.password).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(read_health)
        .service(create_setup)
        .service(create_sign_in)
        .service(create_sign_out)
        .service(read_me)
        .service(replace_me)
        .service(replace_password)
        .service(list_sign_ins)
        .service(delete_sign_in)
        .service(list_device_tokens)
        .service(create_device_token)
        .service(delete_device_token)
        .service(create_password_reset)
        .service(use_password_reset);
}
