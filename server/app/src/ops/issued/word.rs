//! Word to the broadcaster's contacts of a series that something was issued to them, or taken back: a mail each, written
//! in the transaction of the fact. Who chose no mail gets none, and nobody is told of what they did themselves.

use chrono::TimeDelta;
use uuid::Uuid;
use waybill_domain::perms::Role;

use super::receiver::Buyers;
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

/// What there is word of.
#[derive(Clone, Copy)]
pub struct About<'a> {
    /// `Credit list`.
    pub thing: &'a str,
    pub episode: Uuid,
    /// To whom it was issued; none for a cue sheet, which names nobody.
    pub broadcaster: Option<&'a str>,
}

/// Writes a mail to each delivery contact who sees what it is about.
///
/// # Errors
/// The database's.
pub async fn send(
    conn: &mut Conn,
    app: &App,
    access: &Access,
    about: About<'_>,
    news: News,
) -> Result<(), OpError> {
    let own = &access.series;
    let About {
        thing,
        episode,
        broadcaster,
    } = about;
    let buyers = Buyers::load(conn, own.id).await?;
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
        let sees = buyers.seen_by(&member.roles, false, member.broadcaster.as_deref());
        let theirs = match broadcaster {
            Some(broadcaster) => Buyers::shows(&sees, broadcaster),
            None => buyers.shows_sheet(&sees, episode),
        };
        if !theirs {
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
