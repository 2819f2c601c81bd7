//! Issuing a cue sheet: what was sent is kept as it was, in all three forms, and measured against what is locked now.

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde::Serialize;
use serde_json::json;
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::music::sheet::CueSheet;
use waybill_domain::music::stale::{SheetAge, age};
use waybill_domain::perms::Action;

use super::{file_name, locked_cut, make};
use crate::app::App;
use crate::auth::tokens::hex;
use crate::db::cue_sheets::{self as db, IssuedRow, NewIssued};
use crate::db::{Conn, Json};
use crate::error::OpError;
use crate::ops::access::{Access, Actor, enter};
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::clearance::{find_cut, find_episode};
use crate::ops::issued::receiver::Receiver;
use crate::ops::issued::word::{self, About, News};
use crate::ops::papers::{self, File, Form};

/// A sheet that was sent.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct IssuedSheet {
    pub id: Uuid,
    pub episode_id: Uuid,
    /// 1 for the first of the episode.
    pub number: i32,
    pub cut_id: Uuid,
    pub cut_name: String,
    pub cues: i64,
    pub music_seconds: i64,
    /// What was open when it was sent.
    pub open_points: i64,
    pub pdf_sha256: String,
    pub issued_by_name: String,
    pub issued_at: DateTime<Utc>,
    /// Whether it is still true; only of the latest, an earlier one was replaced.
    #[schema(required)]
    pub age: Option<SheetAge>,
}

impl IssuedSheet {
    fn of(row: IssuedRow, age: Option<SheetAge>) -> Self {
        let sheet = &row.sheet.0;
        let count = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
        Self {
            id: row.id,
            episode_id: row.episode_id,
            number: row.number,
            cut_id: sheet.head.cut_id,
            cut_name: sheet.head.cut_name.clone(),
            cues: count(sheet.lines.len()),
            music_seconds: sheet.music_seconds,
            open_points: count(sheet.open_points()),
            pdf_sha256: row.pdf_sha256,
            issued_by_name: row.issued_by_name,
            issued_at: row.issued_at,
            age,
        }
    }
}

/// Issues the sheet of a cut and writes to the broadcaster's contacts. With open points only when the sender says so.
///
/// # Errors
/// Access; `UnsafeState` for a cut that is not locked, or with open points; the database's.
pub async fn issue(
    app: &App,
    actor: &Actor,
    (series, episode): (Uuid, Uuid),
    cut: Uuid,
    with_open_points: bool,
) -> Result<IssuedSheet, OpError> {
    let now = app.now();
    let (access, sheet) = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, Action::EditAssets).await?;
        let episode = find_episode(conn, series, episode).await?;
        let cut = find_cut(conn, &episode, Some(cut)).await?;
        if !cut.head.locked {
            return Err(OpError::UnsafeState(format!(
                "“{}” is not locked. A sheet is issued from a locked cut; nothing was issued.",
                cut.head.name
            )));
        }
        let settings = db::settings(conn, episode.id).await?;
        let made = make::sheet(conn, &access, episode, cut, &settings.fields, now).await?;
        (access, made.sheet)
    };
    let open = sheet.open_points();
    if open > 0 && !with_open_points {
        return Err(OpError::UnsafeState(format!(
            "{open} {} open. Close them, or say that it is sent all the same; they are printed on it. Nothing was \
             issued.",
            if open == 1 { "point is" } else { "points are" }
        )));
    }
    let pdf = papers::bytes(app, sheet.paper(), Form::Pdf).await?;
    let xlsx = papers::bytes(app, sheet.paper(), Form::Xlsx).await?;
    let csv = papers::bytes(app, sheet.paper(), Form::Csv).await?;
    let conn = &mut *app.pool.get().await?;
    conn.transaction::<_, OpError, _>(async |conn| {
        // Two who issue at once get two numbers.
        crate::db::cuts::episode(conn, series, episode, true).await?;
        let last = db::issued(conn, episode).await?;
        let row = NewIssued {
            id: Uuid::now_v7(),
            series_id: series,
            episode_id: episode,
            number: last.first().map_or(1, |last| last.number + 1),
            pdf_sha256: hex(&Sha256::digest(&pdf)),
            sheet: Json(sheet.clone()),
            pdf: pdf.clone(),
            xlsx: xlsx.clone(),
            csv: csv.clone(),
            issued_by: actor.user_id,
            issued_by_name: actor.name.clone(),
            issued_at: now,
        };
        let row = db::keep_issued(conn, row).await?;
        let after = json!({
            "number": row.number, "cut": sheet.head.cut_name, "cues": sheet.lines.len(), "open_points": open,
            "pdf_sha256": row.pdf_sha256,
        });
        let subject = Subject::of(series, "cue_sheet", row.id);
        audit::record(conn, actor, now, "issued", subject, NOTHING, Some(&after)).await?;
        let about = About {
            thing: "Cue sheet",
            episode: row.episode_id,
            broadcaster: None,
        };
        word::send(conn, app, &access, about, News::Issued).await?;
        let same = SheetAge {
            stale: false,
            reasons: vec![],
            changes: vec![],
        };
        Ok(IssuedSheet::of(row, Some(same)))
    })
    .await
}

/// The issued sheets of an episode, the latest first.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn issued(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
) -> Result<Vec<IssuedSheet>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewDeliveries).await?;
    find_episode(conn, series, episode).await?;
    if !Receiver::load(conn, &access).await?.sees_sheet(episode) {
        return Ok(vec![]);
    }
    let rows = db::issued(conn, episode).await?;
    let mut out = Vec::new();
    for (at, row) in rows.into_iter().enumerate() {
        let mut age = match at {
            0 => Some(measured(app, conn, &access, &row.sheet.0, episode).await?),
            _ => None,
        };
        if let Some(age) = age.as_mut()
            && !access.may(Action::ViewCuts)
        {
            // Working notes: who only receives sheets learns that a new one is due, not what is in it.
            age.changes.clear();
        }
        out.push(IssuedSheet::of(row, age));
    }
    Ok(out)
}

/// An issued sheet against the cut that is locked now, else the latest.
async fn measured(
    app: &App,
    conn: &mut Conn,
    access: &Access,
    sent: &CueSheet,
    episode: Uuid,
) -> Result<SheetAge, OpError> {
    let episode = find_episode(conn, access.series.id, episode).await?;
    let locked = locked_cut(conn, episode.id).await?;
    let cut = match find_cut(conn, &episode, locked.as_ref().map(|cut| cut.id)).await {
        Ok(cut) => cut,
        Err(OpError::Conflict(_)) => {
            return Ok(SheetAge {
                stale: true,
                reasons: vec!["The episode has no cut any more.".into()],
                changes: vec![],
            });
        }
        Err(error) => return Err(error),
    };
    let settings = db::settings(conn, episode.id).await?;
    let now = make::sheet(conn, access, episode, cut, &settings.fields, app.now()).await?;
    let name = locked.as_ref().map(|head| (head.id, head.name.as_str()));
    Ok(age(sent, &now.sheet, name))
}

/// An issued sheet as it was sent.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn download(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: Uuid,
    form: Form,
) -> Result<File, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewDeliveries).await?;
    let receiver = Receiver::load(conn, &access).await?;
    let found = db::issued_one(conn, series, id).await?;
    let found = found.filter(|(row, _)| receiver.sees_sheet(row.episode_id));
    let (row, files) = found.ok_or(OpError::NotFound("the issued cue sheet"))?;
    let bytes = match form {
        Form::Pdf => files.pdf,
        Form::Xlsx => files.xlsx,
        Form::Csv => files.csv,
        Form::Json => serde_json::to_vec(&row.sheet.0)
            .map_err(|error| OpError::Internal(format!("sheet: {error}")))?,
    };
    let name = file_name(&row.sheet.0, &row.number.to_string(), form);
    let after = json!({ "file": name, "cut": row.sheet.0.head.cut_name });
    let subject = Subject::of(series, "cue_sheet", row.id);
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
        name,
        media_type: form.media_type(),
        bytes,
    })
}
