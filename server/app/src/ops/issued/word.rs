//! Word to the broadcaster's contacts of a series that something was issued to them, or taken back: a mail each, written
//! in the transaction of the fact. Who chose no mail gets none, and nobody is told of what they did themselves.

use chrono::TimeDelta;
use uuid::Uuid;
use waybill_domain::perms::Role;

use crate::app::App;
use crate::db::users::{self, MailChoice};
use crate::db::{Conn, cuts, series};
use crate::error::OpError;
use crate::mail::text::{IssuedWord, issued, taken_back};
use crate::ops::access::Access;
use crate::ops::outbox::{self, NewMail};

/// What is older than this is found by looking, not by a mail.
const USEFUL: TimeDelta = TimeDelta::days(7);

/// What became of a paper or a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum News {
    Issued,
    TakenBack,
}

/// Writes a mail to each delivery contact about a thing of an episode: `Credit list`.
///
/// # Errors
/// The database's.
pub async fn send(
    conn: &mut Conn,
    app: &App,
    access: &Access,
    (thing, episode): (&str, Uuid),
    news: News,
) -> Result<(), OpError> {
    let own = &access.series;
    let what = match cuts::episode(conn, own.id, episode, false).await? {
        Some(episode) => format!("{thing} of episode {}, “{}”", episode.number, episode.title),
        None => format!("{thing} of an episode that was deleted"),
    };
    let account = app.config.link("/account");
    let link = app.config.link(&format!("/s/{}/delivery/issued", own.id));
    for member in series::members(conn, own.id).await? {
        let is_contact = member.roles.contains(&Role::DeliveryContact);
        if !is_contact || member.user_id == access.actor.user_id {
            continue;
        }
        let user = users::load(conn, member.user_id).await?;
        let Some(user) = user.filter(|user| user.mail_choice != MailChoice::None) else {
            continue;
        };
        let word = IssuedWord {
            name: &user.name,
            series: &own.fields.title,
            what: &what,
            by: &access.actor.name,
            account: &account,
            link: &link,
        };
        let letter = match news {
            News::Issued => issued(&word),
            News::TakenBack => taken_back(&word),
        };
        let mail = NewMail {
            organisation_id: user.organisation_id,
            user_id: Some(user.id),
            kind: "notice",
            recipient: user.email,
            subject: letter.subject,
            text: letter.text,
            html: letter.html,
            useless_after: Some(app.now() + USEFUL),
        };
        outbox::post(conn, app, mail).await?;
    }
    Ok(())
}
