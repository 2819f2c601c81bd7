//! The people who sign in: one for each role. Their passwords are five words that follow from a secret of this server,
//! so that they can be printed again and are not the same on every server in the world.

use anyhow::{Context, Result};
use chrono::TimeDelta;
use serde::Deserialize;
use sha2::{Digest, Sha256};
use uuid::Uuid;
use waybill_domain::perms::Role;

use crate::app::App;
use crate::auth::actor::actor;
use crate::auth::tokens::Purpose;
use crate::db::series::broadcaster_of;
use crate::db::users;
use crate::ops::access::Actor;
use crate::ops::sign_in::{self, Setup};
use crate::ops::team;

const PEOPLE: &str = include_str!("../../demo/team.json");
const WORDS: &str = include_str!("../../demo/words.txt");

/// Name of the organisation.
pub const ORGANISATION: &str = "Ninth Oar Pictures";

/// Somebody who can sign in.
#[derive(Clone, Debug, Deserialize)]
pub struct SignIn {
    /// What they do, in words.
    pub role: String,
    pub name: String,
    pub email: String,
    pub roles: Vec<Role>,
    /// For whom a delivery contact receives.
    #[serde(default)]
    pub broadcaster: Option<String>,
    #[serde(default)]
    pub password: String,
}

/// Everybody, the administrator first.
pub fn sign_ins(secret: &[u8]) -> Result<Vec<SignIn>> {
    let mut people: Vec<SignIn> = serde_json::from_str(PEOPLE).context("team.json")?;
    let words: Vec<&str> = WORDS.split_whitespace().collect();
    for one in &mut people {
        one.password = password(secret, &one.email, &words);
    }
    Ok(people)
}

fn password(secret: &[u8], email: &str, words: &[&str]) -> String {
    let digest = Sha256::new()
        .chain_update(secret)
        .chain_update(email)
        .finalize();
    let pairs = digest.chunks_exact(2).take(5);
    let picked = pairs.filter_map(|pair| {
        let number = pair
            .iter()
            .fold(0, |all, byte| all * 256 + usize::from(*byte));
        words.get(number % words.len().max(1)).copied()
    });
    picked.collect::<Vec<_>>().join(" ")
}

/// The administrator, made where nobody is there yet.
pub async fn administrator(app: &App, one: &SignIn) -> Result<Actor> {
    if let Some(known) = known(app, &one.email).await? {
        return Ok(known);
    }
    let token = sign_in::setup_token(app)
        .await?
        .context("the server is set up already")?;
    let setup = Setup {
        token,
        organisation: ORGANISATION.into(),
        name: one.name.clone(),
        email: one.email.clone(),
        password: one.password.clone(),
    };
    Ok(actor(sign_in::set_up(app, setup).await?, None))
}

/// Somebody of the team, who accepts an invitation where they are not there yet.
pub async fn member(app: &App, by: &Actor, series: Uuid, one: &SignIn) -> Result<Actor> {
    if let Some(known) = known(app, &one.email).await? {
        return Ok(known);
    }
    let invitation = team::invite(app, by, &one.email, Some(series), &one.roles).await?;
    let life = TimeDelta::minutes(5);
    let token = app
        .token_key
        .sign(Purpose::Invitation, invitation.id, app.now(), life)?;
    let user = team::accept(app, &token, &one.name, &one.password).await?;
    Ok(actor(user, None))
}

/// Says for which broadcaster somebody receives; its specification must be there.
pub async fn receives(
    app: &App,
    by: &Actor,
    series: Uuid,
    one: &SignIn,
    who: &Actor,
) -> Result<()> {
    let said = {
        let conn = &mut *app.pool.get().await.context("the database")?;
        broadcaster_of(conn, series, who.user_id).await?
    };
    if one.broadcaster.is_some() && said != one.broadcaster {
        let broadcaster = one.broadcaster.as_deref();
        team::set_roles(app, by, series, who.user_id, &one.roles, broadcaster).await?;
    }
    Ok(())
}

async fn known(app: &App, email: &str) -> Result<Option<Actor>> {
    let conn = &mut *app.pool.get().await.context("the database")?;
    let user = users::by_email(conn, email).await?;
    Ok(user.map(|user| actor(user, None)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::auth::passwords::fault;

    #[test]
    fn printed_passwords_satisfy_the_policy() {
        for number in 0..50_u8 {
            let people = sign_ins(&[number; 32]).expect("the team");
            for one in people {
                let fault = fault(&one.password, &[&one.name, &one.email, ORGANISATION]);
                assert_eq!(fault, None, "{}", one.password);
            }
        }
    }
}
