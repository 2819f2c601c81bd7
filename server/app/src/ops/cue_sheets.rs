//! The cue sheet of an episode: made from its cut, completed by a person, issued, and measured against the cut that is
//! locked now (R12–R17).

mod issue;
mod make;

use diesel_async::AsyncConnection;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::music::filing::FilingRule;
use waybill_domain::music::sheet::CueSheet;
use waybill_domain::music::stale::{SheetAge, age};
use waybill_domain::perms::Action;

pub use issue::{IssuedSheet, download, issue, issued};

use super::access::{Access, Actor, enter};
use super::audit::{self, Subject};
use super::clearance::{find_cut, find_episode};
use super::records::{self, Rights};
use super::{check, papers};
use crate::app::App;
use crate::db::Conn;
use crate::db::cue_sheets::{self as db, CueSheetFields, CueSheetSettings, DetailRow};
use crate::db::cuts::CutHead;
use crate::db::deliverables::{Deliverable, DeliverableFields, DeliverableState};
use crate::db::episodes::Episode;
use crate::error::{FieldError, OpError};

/// The sheet that a cut gives now, and what is needed to complete it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct WorkingSheet {
    pub sheet: CueSheet,
    pub settings: CueSheetSettings,
    /// What was written about each cue of this cut, in their order.
    pub entries: Vec<CueEntry>,
    /// The sheet that was issued last, against this one; null: none was.
    #[schema(required)]
    pub since_issued: Option<SheetAge>,
    pub filing: Vec<CueFiling>,
    /// Whether the cut is the one that is locked now.
    pub from_locked_cut: bool,
}

/// What was written about a cue of the cut.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CueEntry {
    /// Number of the cue on the sheet.
    pub number: u32,
    /// For `If-Match`; 0: nothing was written yet.
    pub version: i32,
    /// For the team; never printed.
    pub note: String,
}

/// A day by which some society wants the sheet.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CueFiling {
    pub rule: FilingRule,
    /// What it asks, in words.
    pub words: String,
    #[schema(required)]
    pub due: Option<chrono::NaiveDate>,
    /// The day counts from one that is only planned.
    pub planned: bool,
    /// A deliverable stands for it, with its reminders.
    pub switched_on: bool,
}

/// A cue, and what is said of it.
pub struct CueWords {
    pub cut_id: Uuid,
    pub music_id: Uuid,
    pub record_in: i64,
    pub record_out: i64,
    pub usage: Option<db::UsageWord>,
    pub vocals: Option<db::VocalsWord>,
    pub performer_visible: Option<bool>,
    pub note: String,
}

/// The cut that a sheet is made from when none is named: the latest that is locked, else the latest.
async fn locked_cut(conn: &mut Conn, episode: Uuid) -> Result<Option<CutHead>, OpError> {
    let all = crate::db::cuts::of_episode(conn, episode).await?;
    Ok(all.into_iter().find(|cut| cut.locked))
}

/// The sheet as it stands now.
///
/// # Errors
/// Access; `NotFound`; `Conflict` without a cut; the database's.
pub async fn read(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
    cut: Option<Uuid>,
) -> Result<WorkingSheet, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewCuts).await?;
    working(app, conn, &access, episode, cut).await
}

async fn working(
    app: &App,
    conn: &mut Conn,
    access: &Access,
    episode: Uuid,
    cut: Option<Uuid>,
) -> Result<WorkingSheet, OpError> {
    let series = access.series.id;
    let episode = find_episode(conn, series, episode).await?;
    let locked = locked_cut(conn, episode.id).await?;
    let asked = cut.or(locked.as_ref().map(|cut| cut.id));
    let cut = find_cut(conn, &episode, asked).await?;
    let settings = db::settings(conn, episode.id).await?;
    let from_locked_cut = locked.as_ref().is_some_and(|head| head.id == cut.head.id);
    let made = make::sheet(
        conn,
        access,
        episode.clone(),
        cut,
        &settings.fields,
        app.now(),
    )
    .await?;
    let last = db::issued(conn, episode.id).await?.into_iter().next();
    let name = locked.as_ref().map(|head| (head.id, head.name.as_str()));
    let since_issued = last.map(|last| age(&last.sheet.0, &made.sheet, name));
    let filing = filing(conn, series, &episode).await?;
    Ok(WorkingSheet {
        sheet: made.sheet,
        settings,
        entries: made.entries,
        since_issued,
        filing,
        from_locked_cut,
    })
}

/// The sheet in another form, before it is issued.
///
/// # Errors
/// As [`read`].
pub async fn draft(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
    cut: Option<Uuid>,
    form: papers::Form,
) -> Result<papers::File, OpError> {
    let working = read(app, actor, series, episode, cut).await?;
    let name = file_name(&working.sheet, "draft", form);
    let mut paper = working.sheet.paper();
    paper.title = "Music cue sheet (draft, not issued)".into();
    papers::set(app, paper, form, name).await
}

/// `EP01_cue_sheet_2_EP01_CUT_290101_v4.pdf`.
fn file_name(sheet: &CueSheet, which: &str, form: papers::Form) -> String {
    let cut = papers::plain(&sheet.head.cut_name);
    let number = sheet.head.episode_number;
    format!("EP{number:02}_cue_sheet_{which}_{cut}.{}", form.ending())
}

/// Writes the head of an episode's sheet and how its cues are counted.
///
/// # Errors
/// Access; `Invalid`; `Stale`; the database's.
pub async fn set_fields(
    app: &App,
    actor: &Actor,
    (series, episode): (Uuid, Uuid),
    version: i32,
    fields: CueSheetFields,
) -> Result<CueSheetSettings, OpError> {
    let mut faults = Vec::new();
    for (pointer, value) in [
        ("/also_known_as", &fields.also_known_as),
        ("/production_number", &fields.production_number),
        ("/contact", &fields.contact),
        ("/country", &fields.country),
        ("/year", &fields.year),
        ("/director", &fields.director),
    ] {
        check::text(&mut faults, pointer, value, 500);
    }
    check::within(&mut faults, "/gap_frames", fields.gap_frames, 0, 250);
    valid(faults)?;
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::EditAssets).await?;
    let episode = find_episode(conn, series, episode).await?;
    let now = app.now();
    conn.transaction::<_, OpError, _>(async |conn| {
        let before = db::settings(conn, episode.id).await?;
        let written = db::set_settings(conn, series, episode.id, version, &fields, now).await?;
        let Some(after) = written else {
            return Err(audit::stale(conn, episode.id, before.version, &before).await?);
        };
        let subject = Subject::of(series, "cue_sheet", episode.id);
        audit::record(
            conn,
            actor,
            now,
            "changed",
            subject,
            Some(&before),
            Some(&after),
        )
        .await?;
        Ok(after)
    })
    .await
}

/// Says of a cue how its music is used.
///
/// # Errors
/// Access; `Invalid` for a cue that the cut does not have; `Stale`; the database's.
pub async fn set_cue(
    app: &App,
    actor: &Actor,
    (series, episode): (Uuid, Uuid),
    version: i32,
    words: CueWords,
) -> Result<WorkingSheet, OpError> {
    let mut faults = Vec::new();
    check::text(&mut faults, "/note", &words.note, 5000);
    valid(faults)?;
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::EditAssets).await?;
    let now = app.now();
    let before = working(app, conn, &access, episode, Some(words.cut_id)).await?;
    let there = |line: &waybill_domain::music::sheet::CueLine| {
        (line.music_id, line.from_frame, line.to_frame)
            == (words.music_id, words.record_in, words.record_out)
    };
    if !before.sheet.lines.iter().any(there) {
        return Err(OpError::field(
            "/record_in",
            "The cut has no such cue now. Read the sheet again; the cut or its sources changed.",
        ));
    }
    let row = DetailRow {
        cut_id: words.cut_id,
        music_id: words.music_id,
        record_in: words.record_in,
        record_out: words.record_out,
        series_id: series,
        episode_id: episode,
        usage: words.usage,
        vocals: words.vocals,
        performer_visible: words.performer_visible,
        note: words.note,
        version,
        updated_at: now,
    };
    conn.transaction::<_, OpError, _>(async |conn| {
        let was = db::detail(conn, &row).await?;
        if db::set_detail(conn, &row, version).await?.is_none() {
            let current = was.as_ref().map_or(0, |was| was.version);
            return Err(audit::stale(conn, words.cut_id, current, &was).await?);
        }
        let subject = Subject::of(series, "cue", words.cut_id);
        audit::record(
            conn,
            actor,
            now,
            "changed",
            subject,
            was.as_ref(),
            Some(&row),
        )
        .await
    })
    .await?;
    working(app, conn, &access, episode, Some(words.cut_id)).await
}

fn valid(faults: Vec<FieldError>) -> Result<(), OpError> {
    if faults.is_empty() {
        Ok(())
    } else {
        Err(OpError::Invalid(faults))
    }
}

/// What the deliverable for a filing rule is called.
fn item(rule: FilingRule) -> String {
    format!("Music cue sheet: {}", rule.words())
}

/// The days by which societies want the sheet, and which of them the team switched on.
async fn filing(
    conn: &mut Conn,
    series: Uuid,
    episode: &Episode,
) -> Result<Vec<CueFiling>, OpError> {
    let items = db::cue_deliverables(conn, series, episode.id).await?;
    let dates = &episode.fields;
    let transmission = dates
        .first_transmission
        .or(dates.first_transmission_planned);
    let master = dates.delivered.or(dates.delivery_planned);
    Ok(FilingRule::ALL
        .into_iter()
        .map(|rule| CueFiling {
            rule,
            words: rule.words().into(),
            due: rule.due(transmission, master),
            planned: match rule {
                FilingRule::WithMaster => dates.delivered.is_none(),
                _ => dates.first_transmission.is_none(),
            },
            switched_on: items.contains(&item(rule)),
        })
        .collect())
}

/// Makes a deliverable, with the reminders that every deliverable has, of a filing day.
///
/// # Errors
/// Access; `Conflict` when it is there or the day is not known; the database's.
pub async fn switch_on(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
    rule: FilingRule,
) -> Result<Deliverable, OpError> {
    let (episode, due, there) = {
        let conn = &mut *app.pool.get().await?;
        enter(conn, actor, series, Action::EditDeliverables).await?;
        let episode = find_episode(conn, series, episode).await?;
        let filing = filing(conn, series, &episode).await?;
        let found = filing.into_iter().find(|one| one.rule == rule);
        let (due, there) = found.map_or((None, false), |one| (one.due, one.switched_on));
        (episode, due, there)
    };
    if there {
        return Err(OpError::Conflict(
            "This day is among the deliverables already.".into(),
        ));
    }
    let Some(due) = due else {
        return Err(OpError::Conflict(
            "The day can't be worked out: enter the first transmission, or the delivery, of the episode first.".into(),
        ));
    };
    let rights = Rights {
        view: Action::ViewDeliveries,
        edit: Action::EditDeliverables,
    };
    let fields = DeliverableFields {
        episode_id: episode.id,
        specification_id: None,
        item: item(rule),
        due_on: Some(due),
        owner_id: None,
        status: DeliverableState::NotStarted,
        status_note: String::new(),
        notes: "Made from the episode’s dates (R17). When transmission moves, move this day too."
            .into(),
    };
    records::create::<Deliverable>(app, actor, series, rights, fields).await
}
