//! Getting in and out: the first administrator, passwords, sessions, resets, device tokens.

mod devices;
mod reset;

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel_async::{AsyncConnection, RunQueryDsl};

use super::access::Actor;
use super::audit::{self, NOTHING, Subject};
use crate::app::App;
use crate::auth::actor::{SESSION_LIFE, actor};
use crate::auth::passwords;
use crate::auth::tokens::{digest, random};
use crate::db::Conn;
use crate::db::schema::server_facts;
use crate::db::users::{self, MailChoice, NewUser, User, UserView};
use crate::error::{FieldError, OpError};
use crate::ops::check;

pub use devices::{Own, end_own, make_device_token};
pub use reset::{ask_reset, change_password, use_reset};

/// Wrong passwords in a row before the next one has to wait.
const FREE_TRIES: i32 = 5;

/// A fresh session: the token goes into the cookie and nowhere else.
pub struct NewSession {
    pub token: String,
    pub user: User,
}

/// Where a sign-in comes from.
pub struct Origin {
    pub agent: String,
    pub address: String,
}

/// The one-time set-up link's token, made anew when nobody can sign in yet; none once somebody can.
///
/// # Errors
/// The database's.
pub async fn setup_token(app: &App) -> Result<Option<String>, OpError> {
    let conn = &mut *app.pool.get().await?;
    if users::any(conn).await? {
        return Ok(None);
    }
    let token = random();
    let value = digest(&token);
    diesel::insert_into(server_facts::table)
        .values((
            server_facts::name.eq("setup_token"),
            server_facts::value.eq(&value),
            server_facts::created_at.eq(app.now()),
        ))
        .on_conflict(server_facts::name)
        .do_update()
        .set(server_facts::value.eq(&value))
        .execute(conn)
        .await?;
    Ok(Some(token))
}

/// What the first administrator tells.
pub struct Setup {
    pub token: String,
    pub organisation: String,
    pub name: String,
    pub email: String,
    pub password: String,
}

/// Makes the organisation and its first administrator; works once.
///
/// # Errors
/// `Invalid`; `NotAllowed` for a wrong or spent link.
pub async fn set_up(app: &App, setup: Setup) -> Result<User, OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/organisation", &setup.organisation, 200);
    check_person(
        &mut faults,
        &setup.name,
        &setup.email,
        &setup.password,
        &[&setup.organisation],
    );
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let hash = passwords::hash(app, &setup.password).await?;
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let spent = diesel::delete(
            server_facts::table
                .filter(server_facts::name.eq("setup_token"))
                .filter(server_facts::value.eq(digest(&setup.token))),
        )
        .execute(conn)
        .await?;
        if spent == 0 || users::any(conn).await? {
            return Err(OpError::NotAllowed(
                "This set-up link is spent or wrong. The server prints a fresh one at its start while nobody can sign in."
                    .into(),
            ));
        }
        let organisation_id = users::insert_organisation(conn, setup.organisation.trim(), now).await?;
        let new = NewUser {
            organisation_id,
            email: setup.email.trim(),
            name: setup.name.trim(),
            password_hash: &hash,
            is_admin: true,
        };
        let user = users::insert(conn, new, now).await?;
        let subject = Subject { series: None, kind: "user", id: Some(user.id) };
        audit::record(conn, &actor(user.clone(), None), now, "set_up", subject, NOTHING, NOTHING).await?;
        Ok(user)
    })
    .await
}

/// Checks the fields of a new person.
pub fn check_person(
    faults: &mut Vec<FieldError>,
    name: &str,
    email: &str,
    password: &str,
    known: &[&str],
) {
    check::required(faults, "/name", name, 200);
    check_email(faults, "/email", email);
    let mut words = vec![name, email];
    words.extend(known);
    if let Some(fault) = passwords::fault(password, &words) {
        faults.push(FieldError::new("/password", fault));
    }
}

/// Checks an address for what mail would refuse.
pub fn check_email(faults: &mut Vec<FieldError>, pointer: &str, email: &str) {
    if email.trim().parse::<lettre::Address>().is_err() {
        faults.push(FieldError::new(pointer, "This is not a mail address."));
    }
}

/// Signs somebody in.
///
/// # Errors
/// `BadRequest` for a wrong address or password, the same sentence for both; `RateLimited` after too many.
pub async fn sign_in(
    app: &App,
    email: &str,
    password: &str,
    origin: &Origin,
) -> Result<NewSession, OpError> {
    let now = app.now();
    // Per account and address, so that a stranger's guesses elsewhere do not lock the owner out; per address against
    // one guess for many accounts; per account as the ceiling that SP 800-63B sets.
    let email = email.trim().to_lowercase();
    let pair = format!("pair:{email}|{}", origin.address);
    let address = format!("address:{}", origin.address);
    let account = format!("account:{email}");
    let subjects = [pair.clone(), address.clone(), account.clone()];
    let user = {
        let conn = &mut *app.pool.get().await?;
        if let Some(at) = users::next_try(conn, &subjects).await?
            && at > now
        {
            tracing::warn!(address = %origin.address, "sign_in.limited");
            return Err(OpError::RateLimited(
                (at - now).num_seconds().unsigned_abs().max(1),
            ));
        }
        users::by_email(conn, &email)
            .await?
            .filter(|user| user.disabled_at.is_none())
    };
    let fits = passwords::fits(
        app,
        password,
        user.as_ref().map(|user| user.password_hash.clone()),
    )
    .await?;
    let conn = &mut *app.pool.get().await?;
    let Some(user) = user.filter(|_| fits) else {
        tracing::warn!(address = %origin.address, "sign_in.refused");
        for (subject, free) in [(pair, FREE_TRIES), (address, 20), (account, 100)] {
            slow_down(conn, &subject, free, now).await?;
        }
        return Err(OpError::BadRequest(
            "The address or the password is wrong.".into(),
        ));
    };
    let token = random();
    conn.transaction::<_, OpError, _>(async |conn| {
        users::forget_failures(conn, &subjects[..1]).await?;
        users::forget_failures(conn, &subjects[2..]).await?;
        users::insert_session(
            conn,
            user.id,
            &digest(&token),
            &origin.agent,
            &origin.address,
            now,
            SESSION_LIFE,
        )
        .await?;
        let subject = Subject {
            series: None,
            kind: "user",
            id: Some(user.id),
        };
        audit::record(
            conn,
            &actor(user.clone(), None),
            now,
            "signed_in",
            subject,
            NOTHING,
            NOTHING,
        )
        .await
    })
    .await?;
    tracing::info!(user.id = %user.id, factor = "password", "sign_in.done");
    Ok(NewSession { token, user })
}

/// 30 s after the free tries, doubling up to an hour.
async fn slow_down(
    conn: &mut Conn,
    subject: &str,
    free: i32,
    now: DateTime<Utc>,
) -> Result<(), OpError> {
    let failures = users::count_failure(conn, subject, now).await?;
    if failures >= free {
        let doublings = u32::try_from(failures - free).unwrap_or(0).min(7);
        let seconds = (30_i64 << doublings).min(3600);
        users::delay_next_try(conn, subject, now + TimeDelta::seconds(seconds)).await?;
    }
    Ok(())
}

/// Ends the session that asks.
///
/// # Errors
/// The database's.
pub async fn sign_out(app: &App, actor: &Actor) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    if let Some(session) = actor.session_id {
        users::end_session(conn, actor.user_id, session, app.now()).await?;
    }
    Ok(())
}

/// Changes what everyone may change about themselves.
///
/// # Errors
/// `Invalid`; the database's.
pub async fn change_own(
    app: &App,
    actor: &Actor,
    name: &str,
    mail_choice: MailChoice,
) -> Result<User, OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/name", name, 200);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let conn = &mut *app.pool.get().await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let before = users::load(conn, actor.user_id)
            .await?
            .ok_or(OpError::Unauthenticated)?;
        let after = users::set_own(conn, actor.user_id, name.trim(), mail_choice, now).await?;
        let subject = Subject {
            series: None,
            kind: "user",
            id: Some(actor.user_id),
        };
        let (old, new) = (UserView::from(before), UserView::from(after.clone()));
        audit::record(conn, actor, now, "changed", subject, Some(&old), Some(&new)).await?;
        Ok(after)
    })
    .await
}
