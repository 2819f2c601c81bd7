//! Notes that only named people may open: why a restriction exists, what somebody must not read over a shoulder. Roles
//! open nothing here, an administrator's neither; each opening leaves an audit line, which never holds the text.

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde::{Deserialize, Serialize};
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;

use super::access::{Access, Actor, enter, look};
use super::audit::{self, NOTHING, Subject};
use super::check;
use crate::app::App;
use crate::db::record::Record;
use crate::db::sealed_notes::{self as db, NewNote, NoteHead};
use crate::db::{Conn, series};
use crate::error::{FieldError, OpError};

/// A note to be sealed.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SealedNoteInput {
    /// `person` or `release`.
    pub subject_kind: String,
    pub subject_id: Uuid,
    /// Shown to all who see the record; say nothing in it that is sealed.
    pub title: String,
    pub text: String,
    /// People of the series who may open it. Whoever writes it may always.
    pub readers: Vec<Uuid>,
}

/// A sealed note without its text.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SealedNote {
    pub id: Uuid,
    pub subject_kind: String,
    pub subject_id: Uuid,
    pub title: String,
    pub written_by: String,
    pub written_at: DateTime<Utc>,
    /// Names of the people who may open it.
    pub readers: Vec<String>,
    pub reader_ids: Vec<Uuid>,
    /// Whether you may.
    pub may_open: bool,
    /// Whether you may name other readers, or take it away: whoever wrote it may.
    pub may_change: bool,
}

/// Heads of the notes about a record, or of all of a series.
///
/// # Errors
/// Access; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    subject: Option<Uuid>,
) -> Result<Vec<SealedNote>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewReleases).await?;
    let heads = db::heads(conn, series, subject).await?;
    views(conn, actor, series, heads).await
}

/// Heads of the notes that the caller may open, whatever their roles.
///
/// # Errors
/// Access (a member of the series); the database's.
pub async fn mine(app: &App, actor: &Actor, series: Uuid) -> Result<Vec<SealedNote>, OpError> {
    let conn = &mut *app.pool.get().await?;
    look(conn, actor, series).await?;
    let mut heads = db::heads(conn, series, None).await?;
    heads.retain(|head| head.readers.contains(&actor.user_id));
    views(conn, actor, series, heads).await
}

/// Seals a note.
///
/// # Errors
/// Access; `Invalid`; the database's.
pub async fn create(
    app: &App,
    actor: &Actor,
    series: Uuid,
    input: SealedNoteInput,
) -> Result<SealedNote, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::EditReleases).await?;
    let now = app.now();
    let readers = with_writer(&input.readers, actor);
    let head = conn
        .transaction::<_, OpError, _>(async |conn| {
            checked(conn, series, &input).await?;
            members(conn, &access, &readers).await?;
            let note = NewNote {
                id: Uuid::now_v7(),
                series_id: series,
                subject_kind: &input.subject_kind,
                subject_id: input.subject_id,
                title: input.title.trim(),
                body: &input.text,
                readers: &readers,
                written_by: actor.user_id,
                written_by_name: &actor.name,
                created_at: now,
            };
            let head = db::add(conn, &note).await?;
            let after = json!({"title": head.title, "subject_id": head.subject_id, "readers": head.readers});
            line(conn, actor, now, "sealed", &head, Some(&after)).await?;
            Ok(head)
        })
        .await?;
    one(conn, actor, series, head).await
}

/// Opens a note: its text, and an audit line. Being named in it is enough; no role is asked for.
///
/// # Errors
/// Access (a member of the series); `NotFound`; `NotAllowed` for who is not named; the database's.
pub async fn open(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<String, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = look(conn, actor, series).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let head = find(conn, &access, id).await?;
        if !head.readers.contains(&actor.user_id) {
            tracing::warn!(user.id = %actor.user_id, note.id = %id, "sealed_note.refused");
            return Err(OpError::NotAllowed(
                "This note is sealed: only the people named in it may open it.".into(),
            ));
        }
        let text = db::body(conn, id).await?;
        line(conn, actor, now, "opened", &head, None).await?;
        Ok(text)
    })
    .await
}

/// Names the readers anew; only its writer may.
///
/// # Errors
/// Access; `NotFound`; `NotAllowed`; `Invalid`; the database's.
pub async fn set_readers(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    readers: Vec<Uuid>,
) -> Result<SealedNote, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::EditReleases).await?;
    let now = app.now();
    let readers = with_writer(&readers, actor);
    let head = conn
        .transaction::<_, OpError, _>(async |conn| {
            let before = own(conn, &access, id).await?;
            members(conn, &access, &readers).await?;
            let head = db::set_readers(conn, id, &readers).await?;
            let after = json!({"readers_before": before.readers, "readers": head.readers});
            line(conn, actor, now, "changed", &head, Some(&after)).await?;
            Ok(head)
        })
        .await?;
    one(conn, actor, series, head).await
}

/// Takes a note away with its text; only its writer may.
///
/// # Errors
/// Access; `NotFound`; `NotAllowed`; the database's.
pub async fn remove(app: &App, actor: &Actor, series: Uuid, id: Uuid) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::EditReleases).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let head = own(conn, &access, id).await?;
        db::remove(conn, id, now).await?;
        line(conn, actor, now, "deleted", &head, None).await
    })
    .await
}

async fn find(conn: &mut Conn, access: &Access, id: Uuid) -> Result<NoteHead, OpError> {
    let found = db::head(conn, access.series.id, id).await?;
    found.ok_or(OpError::NotFound("the sealed note"))
}

async fn own(conn: &mut Conn, access: &Access, id: Uuid) -> Result<NoteHead, OpError> {
    let head = find(conn, access, id).await?;
    if head.written_by == Some(access.actor.user_id) {
        return Ok(head);
    }
    Err(OpError::NotAllowed(
        "Only whoever wrote a sealed note may change who opens it, or take it away.".into(),
    ))
}

async fn checked(conn: &mut Conn, series: Uuid, input: &SealedNoteInput) -> Result<(), OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/title", &input.title, 120);
    check::required(&mut faults, "/text", &input.text, 20_000);
    let there = match input.subject_kind.as_str() {
        "person" => crate::db::people::Person::load(conn, series, input.subject_id)
            .await?
            .is_some_and(|found| found.deleted_at().is_none()),
        "release" => crate::db::releases::Release::load(conn, series, input.subject_id)
            .await?
            .is_some_and(|found| found.deleted_at().is_none()),
        _ => {
            let words = "A sealed note is about a person or a release.";
            faults.push(FieldError::new("/subject_kind", words));
            true
        }
    };
    if !there {
        faults.push(FieldError::new(
            "/subject_id",
            "There is no such record in this series (it may have been deleted).",
        ));
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(OpError::Invalid(faults))
    }
}

/// The readers asked for, and whoever writes it.
fn with_writer(readers: &[Uuid], actor: &Actor) -> Vec<Uuid> {
    let mut all = readers.to_vec();
    if !all.contains(&actor.user_id) {
        all.push(actor.user_id);
    }
    all
}

/// Readers are members of the series; whoever writes it need not be (an administrator).
async fn members(conn: &mut Conn, access: &Access, readers: &[Uuid]) -> Result<(), OpError> {
    let known = series::members(conn, access.series.id).await?;
    let is_known = |reader: &Uuid| {
        *reader == access.actor.user_id || known.iter().any(|member| member.user_id == *reader)
    };
    let faults: Vec<FieldError> = (readers.iter().enumerate())
        .filter(|(_, reader)| !is_known(reader))
        .map(|(at, _)| {
            FieldError::new(
                format!("/readers/{at}"),
                "This is nobody who works on the series.",
            )
        })
        .collect();
    if faults.is_empty() {
        Ok(())
    } else {
        Err(OpError::Invalid(faults))
    }
}

async fn line(
    conn: &mut Conn,
    actor: &Actor,
    now: DateTime<Utc>,
    action: &str,
    head: &NoteHead,
    after: Option<&serde_json::Value>,
) -> Result<(), OpError> {
    let subject = Subject::of(head.series_id, "sealed_note", head.id);
    audit::record(conn, actor, now, action, subject, NOTHING, after).await
}

async fn one(
    conn: &mut Conn,
    actor: &Actor,
    series: Uuid,
    head: NoteHead,
) -> Result<SealedNote, OpError> {
    let mut all = views(conn, actor, series, vec![head]).await?;
    all.pop().ok_or(OpError::NotFound("the sealed note"))
}

async fn views(
    conn: &mut Conn,
    actor: &Actor,
    series: Uuid,
    heads: Vec<NoteHead>,
) -> Result<Vec<SealedNote>, OpError> {
    let members = series::members(conn, series).await?;
    let name = |id: &Uuid| {
        (members.iter().find(|member| member.user_id == *id)).map_or_else(
            || {
                if *id == actor.user_id {
                    actor.name.clone()
                } else {
                    "somebody who is no longer in the series".to_owned()
                }
            },
            |member| member.name.clone(),
        )
    };
    Ok(heads
        .into_iter()
        .map(|head| SealedNote {
            id: head.id,
            may_open: head.readers.contains(&actor.user_id),
            may_change: head.written_by == Some(actor.user_id),
            readers: head.readers.iter().map(name).collect(),
            reader_ids: head.readers,
            subject_kind: head.subject_kind,
            subject_id: head.subject_id,
            title: head.title,
            written_by: head.written_by_name,
            written_at: head.created_at,
        })
        .collect())
}
