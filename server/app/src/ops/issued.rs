//! What was sent to a broadcaster: papers kept byte for byte as they were issued, and issued cue sheets. Whoever only
//! receives deliverables sees these, and nothing that was not sent.

pub mod receiver;
pub mod word;

use diesel_async::AsyncConnection;
use serde::{Deserialize, Serialize};
use serde_json::json;
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;

use super::access::{Access, Actor, enter};
use super::audit::{self, NOTHING, Subject};
use super::check;
use super::clearance::{Asked, find_episode, work};
use super::papers::{File, Form, episode};
use super::report::{self, Purpose, specification_named};
use crate::app::App;
use crate::auth::tokens::hex;
use crate::db::costs::episodes;
use crate::db::issued::{
    self as db, IssuedCueSheetHead, IssuedForm, IssuedHead, IssuedKind, NewIssuedPaper,
};
use crate::error::OpError;
use receiver::{Receiver, Sees};
use word::{About, News};

/// A paper to be issued.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct IssueInput {
    pub kind: IssuedKind,
    pub form: IssuedForm,
    /// What is said with it; the receiver reads it.
    #[serde(default)]
    pub note: String,
}

/// Everything that was sent.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct IssuedList {
    pub papers: Vec<IssuedHead>,
    pub cue_sheets: Vec<IssuedCueSheetHead>,
    /// Number and title of the episodes that they are about.
    pub episodes: Vec<IssuedEpisode>,
    /// Several broadcasters receive from the series, and nobody said for which of them you do: nothing is shown.
    pub untied: bool,
}

/// An episode in a few words.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct IssuedEpisode {
    pub id: Uuid,
    pub number: i32,
    pub title: String,
}

impl From<IssuedForm> for Form {
    fn from(form: IssuedForm) -> Self {
        match form {
            IssuedForm::Pdf => Self::Pdf,
            IssuedForm::Xlsx => Self::Xlsx,
            IssuedForm::Csv => Self::Csv,
        }
    }
}

/// Makes a paper as it stands now, keeps it as sent and writes to the broadcaster's contacts.
///
/// # Errors
/// Access (`DownloadReport` and `EditDeliverables`); as the clearance; `Invalid`; `TooLarge`; the database's.
pub async fn issue(
    app: &App,
    actor: &Actor,
    (series, episode): (Uuid, Uuid),
    asked: Asked,
    input: IssueInput,
) -> Result<IssuedHead, OpError> {
    let access = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, Action::EditDeliverables).await?;
        find_episode(conn, series, episode).await?;
        access
    };
    let mut faults = Vec::new();
    check::text(&mut faults, "/note", &input.note, 2000);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let ids = (series, episode);
    let (_, worked) = work(app, actor, Action::DownloadReport, ids, asked).await?;
    // The very cut and specification that were worked, whatever comes in meanwhile.
    let asked = Asked {
        cut: Some(worked.material.cut.head.id),
        specification: Some(worked.specification.id),
        to_leave: true,
    };
    let form = input.form.into();
    let (file_name, bytes) = match paper_kind(input.kind) {
        None => {
            let made =
                report::make(app, actor, series, episode, asked, form, Purpose::Issue).await?;
            (made.file_name, made.bytes)
        }
        Some(kind) => {
            let file = episode::file(app, actor, ids, asked, (kind, form), Purpose::Issue).await?;
            (file.name, file.bytes)
        }
    };
    let paper = NewIssuedPaper {
        id: Uuid::now_v7(),
        series_id: series,
        episode_id: episode,
        kind: input.kind,
        form: input.form,
        cut_name: worked.material.cut.head.name.clone(),
        specification: specification_named(&worked.specification),
        file_name,
        note: input.note.trim().to_owned(),
        sha256: hex(&Sha256::digest(&bytes)),
        bytes,
        issued_by: actor.user_id,
        issued_by_name: actor.name.clone(),
        issued_at: app.now(),
        broadcaster: worked.specification.fields.broadcaster.trim().to_owned(),
    };
    let conn = &mut *app.pool.get().await?;
    conn.transaction::<_, OpError, _>(async |conn| {
        let kept = db::keep(conn, paper).await?;
        let about = About {
            thing: thing(kept.kind),
            episode,
            broadcaster: Some(&kept.broadcaster),
        };
        word::send(conn, app, &access, about, News::Issued).await?;
        Ok(kept)
    })
    .await
}

/// The paper's name at the begin of a sentence.
fn thing(kind: IssuedKind) -> &'static str {
    paper_kind(kind).map_or("Clearance report", episode::Kind::title)
}

fn paper_kind(kind: IssuedKind) -> Option<episode::Kind> {
    match kind {
        IssuedKind::Report => None,
        IssuedKind::ThirdParty => Some(episode::Kind::ThirdParty),
        IssuedKind::Credits => Some(episode::Kind::Credits),
        IssuedKind::Checklist => Some(episode::Kind::Checklist),
        IssuedKind::ChainOfTitle => Some(episode::Kind::ChainOfTitle),
    }
}

/// What of a series was sent, the newest first. What was taken back is shown only to who issues papers.
///
/// # Errors
/// Access (`ViewDeliveries`); the database's.
pub async fn list(app: &App, actor: &Actor, series: Uuid) -> Result<IssuedList, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewDeliveries).await?;
    let mut papers = db::heads(conn, series).await?;
    let receiver = Receiver::load(conn, &access).await?;
    papers.retain(|paper| is_open_to(&access, paper) && receiver.sees_paper(paper));
    let mut cue_sheets = db::cue_sheets(conn, series).await?;
    cue_sheets.retain(|sheet| receiver.sees_sheet(sheet.episode_id));
    let about = |id: &Uuid| {
        papers.iter().any(|one| one.episode_id == *id)
            || cue_sheets.iter().any(|one| one.episode_id == *id)
    };
    let all = episodes(conn, series).await?;
    let episodes = (all.into_iter())
        .filter(|(id, ..)| about(id))
        .map(|(id, number, title)| IssuedEpisode { id, number, title })
        .collect();
    Ok(IssuedList {
        papers,
        cue_sheets,
        episodes,
        untied: receiver.sees == Sees::Nothing,
    })
}

fn is_open_to(access: &Access, paper: &IssuedHead) -> bool {
    paper.taken_back_at.is_none() || access.may(Action::EditDeliverables)
}

/// An issued paper, byte for byte as it was sent; it leaves a line in the audit trail.
///
/// # Errors
/// Access (`ViewDeliveries`); `NotFound`, also for what was taken back; the database's.
pub async fn file(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<File, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewDeliveries).await?;
    let head = db::head(conn, series, id).await?;
    let receiver = Receiver::load(conn, &access).await?;
    let head = head
        .filter(|head| is_open_to(&access, head) && receiver.sees_paper(head))
        .ok_or(OpError::NotFound("the issued paper"))?;
    let bytes = db::bytes(conn, id).await?;
    let after = json!({ "file": head.file_name, "cut": head.cut_name });
    let subject = Subject::of(series, "issued_paper", id);
    audit::record(
        conn,
        actor,
        app.now(),
        "downloaded",
        subject,
        NOTHING,
        Some(&after),
    )
    .await?;
    Ok(File {
        media_type: Form::from(head.form).media_type(),
        name: head.file_name,
        bytes,
    })
}

/// Takes back what was sent in error, or puts it back; the broadcaster's contacts are told.
///
/// # Errors
/// Access (`EditDeliverables`); `NotFound`; the database's.
pub async fn set_taken_back(
    app: &App,
    actor: &Actor,
    (series, id): (Uuid, Uuid),
    taken_back: bool,
) -> Result<IssuedHead, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::EditDeliverables).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let before = db::head(conn, series, id).await?;
        let before = before.ok_or(OpError::NotFound("the issued paper"))?;
        if before.taken_back_at.is_some() == taken_back {
            return Ok(before);
        }
        let (at, by, action, news) = if taken_back {
            let by = actor.name.as_str();
            (Some(now), by, "taken_back", News::TakenBack)
        } else {
            (None, "", "issued", News::Issued)
        };
        let after = db::set_taken_back(conn, id, at, by).await?;
        let about = About {
            thing: thing(after.kind),
            episode: after.episode_id,
            broadcaster: Some(&after.broadcaster),
        };
        word::send(conn, app, &access, about, news).await?;
        let subject = Subject::of(series, "issued_paper", id);
        audit::record(
            conn,
            actor,
            now,
            action,
            subject,
            Some(&before),
            Some(&after),
        )
        .await?;
        Ok(after)
    })
    .await
}
