//! The insurer's clearance checklist (rulebook 3.5): for each point what the records say, and a person's answer. A point
//! is closed only when both agree: an answer does not talk away what the records show.

use std::collections::HashMap;

use diesel_async::AsyncConnection;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::papers::{PaperSection, PrintedPaper};
use waybill_domain::perms::Action;
use waybill_domain::wording::date_words;

use super::found::found;
use super::points::{POINTS, Point};
use super::third_party::counted;
use crate::app::App;
use crate::db::papers::{self as db, AnswerRow, ChecklistAnswer};
use crate::error::{OpError, Stale};
use crate::ops::access::{Actor, enter};
use crate::ops::audit::{self, Subject};
use crate::ops::check;
use crate::ops::clearance::{Asked, Worked, find_episode, work};

/// A point of the checklist with what is known of it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ChecklistPoint {
    /// Its name in addresses.
    pub item: String,
    pub words: String,
    /// What the records say, each in a sentence.
    pub records: Vec<String>,
    /// Something in the records stands against it.
    pub records_open: bool,
    pub answer: ChecklistAnswer,
    pub note: String,
    pub answered_by: String,
    #[schema(required)]
    pub answered_at: Option<chrono::DateTime<chrono::Utc>>,
    /// For `If-Match`; 0: not answered yet.
    pub version: i32,
    /// Still open, by the records or by the answer.
    pub open: bool,
}

/// The checklist of an episode.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Checklist {
    pub points: Vec<ChecklistPoint>,
    /// How many are open.
    pub open: i64,
}

/// The checklist as it stands.
///
/// # Errors
/// Access; as the clearance; the database's.
pub async fn read(
    app: &App,
    actor: &Actor,
    ids: (Uuid, Uuid),
    asked: Asked,
) -> Result<Checklist, OpError> {
    let (_, worked) = work(app, actor, Action::ViewClearance, ids, asked).await?;
    Ok(Checklist::of(points(app, &worked).await?))
}

impl Checklist {
    fn of(points: Vec<ChecklistPoint>) -> Self {
        let open = points.iter().filter(|point| point.open).count();
        Self {
            open: i64::try_from(open).unwrap_or(i64::MAX),
            points,
        }
    }
}

async fn points(app: &App, worked: &Worked) -> Result<Vec<ChecklistPoint>, OpError> {
    let (answers, owed) = {
        let conn = &mut *app.pool.get().await?;
        let episode = worked.material.episode.id;
        (
            db::answers(conn, episode).await?,
            db::owed(conn, episode).await?,
        )
    };
    let answers: HashMap<String, AnswerRow> = answers
        .into_iter()
        .map(|row| (row.item.clone(), row))
        .collect();
    let point = |point: &Point| {
        let found = found(point, worked, &owed);
        let row = answers.get(point.item);
        let answer = row.map_or(ChecklistAnswer::Open, |row| row.answer);
        let answered = matches!(
            answer,
            ChecklistAnswer::Yes | ChecklistAnswer::NotApplicable
        );
        ChecklistPoint {
            item: point.item.into(),
            words: point.words.into(),
            open: !answered || found.open,
            records: found.words,
            records_open: found.open,
            answer,
            note: row.map(|row| row.note.clone()).unwrap_or_default(),
            answered_by: row.map(|row| row.answered_by.clone()).unwrap_or_default(),
            answered_at: row.map(|row| row.updated_at),
            version: row.map_or(0, |row| row.version),
        }
    };
    Ok(POINTS.iter().map(point).collect())
}

/// Answers a point.
///
/// # Errors
/// Access; `NotFound` for a point that is none; `Invalid`; `Stale`; the database's.
pub async fn answer(
    app: &App,
    actor: &Actor,
    (series, episode): (Uuid, Uuid),
    item: &str,
    version: i32,
    (answer, note): (ChecklistAnswer, String),
) -> Result<AnswerRow, OpError> {
    if !POINTS.iter().any(|point| point.item == item) {
        return Err(OpError::NotFound("the point of the checklist"));
    }
    let mut faults = Vec::new();
    if answer == ChecklistAnswer::NotApplicable {
        check::required(&mut faults, "/note", &note, 5000);
    } else {
        check::text(&mut faults, "/note", &note, 5000);
    }
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewClearance).await?;
    // The answers are warranties to the insurer: who may change the licences or approve gives them.
    if !access.may(Action::EditLicences) {
        access.require(Action::Approve)?;
    }
    let episode = find_episode(conn, series, episode).await?;
    let now = app.now();
    let row = AnswerRow {
        episode_id: episode.id,
        item: item.to_owned(),
        series_id: series,
        answer,
        note,
        answered_by: actor.name.clone(),
        version,
        updated_at: now,
    };
    conn.transaction::<_, OpError, _>(async |conn| {
        let all = db::answers(conn, episode.id).await?;
        let before = all.into_iter().find(|row| row.item == item);
        let Some(after) = db::set_answer(conn, row.clone()).await? else {
            let current = serde_json::to_value(&before)
                .map_err(|error| OpError::Internal(format!("answer: {error}")))?;
            return Err(OpError::Stale(Box::new(Stale {
                version: before.as_ref().map_or(0, |row| row.version),
                current,
                changed_by: before.as_ref().map(|row| row.answered_by.clone()),
                changed_at: before.as_ref().map(|row| row.updated_at),
            })));
        };
        let subject = Subject::of(series, "checklist", episode.id);
        audit::record(
            conn,
            actor,
            now,
            "answered",
            subject,
            before.as_ref(),
            Some(&after),
        )
        .await?;
        Ok(after)
    })
    .await
}

/// Fills the paper.
pub async fn fill(app: &App, paper: &mut PrintedPaper, worked: &Worked) -> Result<(), OpError> {
    let list = Checklist::of(points(app, worked).await?);
    let mut section = PaperSection::new(
        "Points",
        "There are no points.",
        &[
            ("No.", 2, true),
            ("Point", 10, false),
            ("What the records say", 11, false),
            ("Answer", 5, false),
            ("Note", 8, false),
            ("State", 3, false),
        ],
    );
    for (number, point) in (1..).zip(&list.points) {
        let by = match (&point.answered_by, point.answered_at) {
            (by, Some(at)) if !by.is_empty() => {
                let day = waybill_domain::wording::local(at, &paper.time_zone).date();
                format!(", {by}, {}", date_words(day))
            }
            _ => String::new(),
        };
        let answer = match point.answer {
            ChecklistAnswer::Yes => "yes",
            ChecklistAnswer::No => "no",
            ChecklistAnswer::NotApplicable => "does not apply",
            ChecklistAnswer::Open => "not answered",
        };
        section.push(
            point.open,
            [
                number.to_string(),
                point.words.clone(),
                point.records.join(" "),
                format!("{answer}{by}"),
                point.note.clone(),
                if point.open { "open" } else { "closed" }.into(),
            ],
        );
    }
    let open = usize::try_from(list.open).unwrap_or(0);
    paper.verdict = format!(
        "{} still open of {}.",
        counted(open, "point"),
        list.points.len()
    );
    paper.sections = vec![section];
    paper.landscape = true;
    paper.cautions.push(
        "Answers to an insurer are warranties: a wrong one can lose the cover. A point is closed here only when a person \
         answered it and nothing in the records stands against it."
            .into(),
    );
    paper.assumptions.push(
        "The points are the union of public lists of insurers and counsel; the insurer’s own form decides.".into(),
    );
    Ok(())
}
