//! Captions of a cut: typed, pasted, taken over from an earlier cut; each checked against the name that the person
//! confirmed (R36) and against what they asked for (R23).

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use serde::{Deserialize, Serialize};
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::captions::{
    self as domain, Caption, CaptionFinding, MOST, Nameable, findings, proposed, read_lines,
};
use waybill_domain::clearance::{Captioned, Use};
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::perms::Action;
use waybill_domain::timecode::Rate;

use super::access::{Actor, enter};
use super::audit::{self, Subject};
use super::check;
use super::clearance::{Material, find_cut, find_episode, gather};
use super::cuts::{Cut, find};
use crate::app::App;
use crate::db::captions::{self as db, CaptionRow};
use crate::db::cuts::CutHead;
use crate::db::{Conn, Json};
use crate::error::{FieldError, OpError, Stale};

/// A caption with what is wrong with it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CaptionView {
    /// Timecode of the first frame.
    pub from: String,
    /// Timecode of the first frame after it.
    pub to: String,
    pub text: String,
    #[schema(required)]
    pub person_id: Option<Uuid>,
    pub names_nobody: bool,
    /// What is wrong, worst first; empty: it is the confirmed name.
    pub findings: Vec<CaptionFinding>,
}

/// A caption as somebody enters it.
#[derive(Clone, Debug, Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CaptionDraft {
    pub from: String,
    pub to: String,
    pub text: String,
    #[serde(default)]
    #[schema(required)]
    pub person_id: Option<Uuid>,
    #[serde(default)]
    pub names_nobody: bool,
}

/// Somebody whom a caption may name.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CaptionPerson {
    pub id: Uuid,
    pub name: String,
    /// How they are told from others of that name.
    pub recognised_by: String,
}

/// Another cut of the episode that has captions.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct EarlierCaptions {
    pub cut_id: Uuid,
    pub cut_name: String,
    pub captions: i64,
}

/// The captions of a cut.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CaptionList {
    pub items: Vec<CaptionView>,
    /// How many have something wrong with them.
    pub open: i64,
    /// For `If-Match`; 0: none were entered yet.
    pub version: i32,
    pub updated_by: String,
    #[schema(required)]
    pub updated_at: Option<DateTime<Utc>>,
    /// Where none were entered: an earlier cut to take them from.
    #[schema(required)]
    pub earlier: Option<EarlierCaptions>,
    pub people: Vec<CaptionPerson>,
}

/// The captions of a cut, as everything that is worked from it needs them.
#[derive(Clone, Debug, Default)]
pub struct Captions {
    pub items: Vec<Caption>,
    pub people: Vec<Nameable>,
}

impl Captions {
    /// Reads them; nothing more is asked where the cut has none.
    ///
    /// # Errors
    /// The database's.
    pub async fn of_cut(conn: &mut Conn, head: &CutHead) -> Result<Self, OpError> {
        let Some(row) = db::load(conn, head.id).await? else {
            return Ok(Self::default());
        };
        if row.items.0.is_empty() {
            return Ok(Self::default());
        }
        let people = db::nameables(conn, head.series_id).await?;
        Ok(Self {
            items: row.items.0,
            people: people.into_iter().map(|(person, _)| person).collect(),
        })
    }

    /// A name stands on screen wherever a caption says so, whatever the log says.
    pub fn mark(&self, uses: &mut BTreeMap<ElementKey, Vec<Use>>) {
        for caption in self.items.iter().filter(|one| !one.names_nobody) {
            let Some(id) = caption.person.as_ref().and_then(|id| id.parse().ok()) else {
                continue;
            };
            let (from, to) = (frame(caption.record_in), frame(caption.record_out));
            for one in uses.get_mut(&ElementKey::Person(id)).into_iter().flatten() {
                one.name_on_screen |= one.record_in < to && from < one.record_out;
            }
        }
    }

    /// The captions of each person, with what is wrong with their spelling.
    pub fn by_person(&self) -> HashMap<Uuid, Vec<Captioned>> {
        use domain::CaptionFault::{Differs, NotConfirmed, TwoOfThatName};
        let mut out: HashMap<Uuid, Vec<Captioned>> = HashMap::new();
        for caption in self.items.iter().filter(|one| !one.names_nobody) {
            let Some(id) = caption.person.as_ref().and_then(|id| id.parse().ok()) else {
                continue;
            };
            // What somebody asked for is measured by their form; whether they are there, on the page of captions.
            let faults = findings(caption, &self.people, None)
                .into_iter()
                .filter(|one| matches!(one.fault, Differs | NotConfirmed | TwoOfThatName))
                .map(|one| one.sentence);
            out.entry(id).or_default().push(Captioned {
                record_in: frame(caption.record_in),
                record_out: frame(caption.record_out),
                text: caption.text.clone(),
                faults: faults.collect(),
            });
        }
        out
    }

    /// Every caption of a cut with what is wrong with it, where each person is taken from the cut's uses.
    pub fn checked(&self, material: &Material) -> Vec<(&Caption, Vec<CaptionFinding>)> {
        let head = &material.cut.head;
        let cut = (head.start_frame, head.start_frame + head.duration_frames);
        let mut people = self.people.clone();
        for person in &mut people {
            let uses = (person.id.parse().ok())
                .and_then(|id| material.uses.get(&ElementKey::Person(id)))
                .map_or(vec![], |uses| {
                    let signed = |frame: u64| i64::try_from(frame).unwrap_or(i64::MAX);
                    let range = |one: &Use| (signed(one.record_in), signed(one.record_out));
                    uses.iter().map(range).collect()
                });
            person.uses = Some(uses);
        }
        (self.items.iter())
            .map(|one| (one, findings(one, &people, Some(cut))))
            .collect()
    }
}

fn frame(frame: i64) -> u64 {
    u64::try_from(frame).unwrap_or(0)
}

fn rate_of(cut: &Cut) -> Result<Rate, OpError> {
    let rate = cut.head.rate.parse();
    rate.map_err(|error| OpError::Internal(format!("rate of a cut: {error}")))
}

/// The captions of a cut, checked.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn list(
    app: &App,
    actor: &Actor,
    series: Uuid,
    cut: Uuid,
) -> Result<CaptionList, OpError> {
    let conn = &mut *app.pool.get().await?;
    let access = enter(conn, actor, series, Action::ViewCuts).await?;
    let head = find(conn, series, cut).await?;
    let episode = find_episode(conn, series, head.episode_id).await?;
    let cut = find_cut(conn, &episode, Some(cut)).await?;
    let row = db::load(conn, cut.head.id).await?;
    let earlier = match &row {
        Some(row) if !row.items.0.is_empty() => None,
        _ => db::earlier(conn, episode.id, cut.head.id).await?,
    };
    let named = db::nameables(conn, series).await?;
    let (material, _) = gather(conn, &access, episode, cut).await?;
    let rate = rate_of(&material.cut)?;
    let items: Vec<CaptionView> = (material.captions.checked(&material).into_iter())
        .map(|(caption, findings)| CaptionView {
            from: rate.label(caption.record_in),
            to: rate.label(caption.record_out),
            text: caption.text.clone(),
            person_id: caption.person.as_ref().and_then(|id| id.parse().ok()),
            names_nobody: caption.names_nobody,
            findings,
        })
        .collect();
    let open = items.iter().filter(|one| !one.findings.is_empty()).count();
    let person = |(one, recognised_by): (Nameable, String)| {
        Some(CaptionPerson {
            id: one.id.parse().ok()?,
            name: one.credited_name,
            recognised_by,
        })
    };
    Ok(CaptionList {
        open: i64::try_from(open).unwrap_or(i64::MAX),
        items,
        version: row.as_ref().map_or(0, |row| row.version),
        updated_by: row
            .as_ref()
            .map(|row| row.updated_by.clone())
            .unwrap_or_default(),
        updated_at: row.map(|row| row.updated_at),
        earlier: earlier.map(|one| EarlierCaptions {
            cut_id: one.cut_id,
            cut_name: one.cut_name,
            captions: one.captions,
        }),
        people: named.into_iter().filter_map(person).collect(),
    })
}

/// Reads pasted lines as captions of a cut, with the person whom each most likely names. Nothing is kept.
///
/// # Errors
/// Access; `NotFound`; `Invalid` with every line that can't be read; the database's.
pub async fn read(
    app: &App,
    actor: &Actor,
    (series, cut): (Uuid, Uuid),
    text: &str,
) -> Result<Vec<CaptionDraft>, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::LogFootage).await?;
    let head = find(conn, series, cut).await?;
    let rate: Rate = (head.rate.parse())
        .map_err(|error| OpError::Internal(format!("rate of a cut: {error}")))?;
    let read = read_lines(text, rate).map_err(|faults| {
        let fault = |one: domain::LineFault| {
            FieldError::new("/text", format!("Line {}: {}.", one.line, one.fault))
        };
        OpError::Invalid(faults.into_iter().take(100).map(fault).collect())
    })?;
    let named = db::nameables(conn, series).await?;
    let people: Vec<Nameable> = named.into_iter().map(|(person, _)| person).collect();
    Ok((read.into_iter())
        .map(|one| CaptionDraft {
            from: rate.label(one.record_in),
            to: rate.label(one.record_out),
            person_id: proposed(&one.text, &people).and_then(|person| person.id.parse().ok()),
            text: one.text,
            names_nobody: false,
        })
        .collect())
}

/// Replaces the captions of a cut.
///
/// # Errors
/// Access (`LogFootage`); `NotFound`; `Invalid` with every fault; `Stale` with what is there; the database's.
pub async fn replace(
    app: &App,
    actor: &Actor,
    (series, cut): (Uuid, Uuid),
    version: i32,
    drafts: &[CaptionDraft],
) -> Result<CaptionList, OpError> {
    {
        let conn = &mut *app.pool.get().await?;
        enter(conn, actor, series, Action::LogFootage).await?;
        let now = app.now();
        conn.transaction::<_, OpError, _>(async |conn| {
            let head = find(conn, series, cut).await?;
            if head.deleted_at.is_some() {
                return Err(OpError::NotFound("the cut"));
            }
            let items = read_drafts(conn, &head, drafts).await?;
            let before = db::load(conn, cut).await?;
            let row = CaptionRow {
                cut_id: cut,
                series_id: series,
                items: Json(items),
                version,
                updated_by: actor.name.clone(),
                updated_at: now,
            };
            let Some(after) = db::save(conn, row).await? else {
                let there = db::load(conn, cut).await?;
                let current = serde_json::to_value(&there)
                    .map_err(|error| OpError::Internal(format!("captions: {error}")))?;
                return Err(OpError::Stale(Box::new(Stale {
                    version: there.as_ref().map_or(0, |row| row.version),
                    current,
                    changed_by: there.as_ref().map(|row| row.updated_by.clone()),
                    changed_at: there.map(|row| row.updated_at),
                })));
            };
            let subject = Subject::of(series, "captions", cut);
            let said = |row: &CaptionRow| json!({ "cut": head.name, "captions": row.items.0.len(), "items": row.items });
            let before = before.as_ref().map(said);
            audit::record(conn, actor, now, "changed", subject, before.as_ref(), Some(&said(&after))).await
        })
        .await?;
    }
    list(app, actor, series, cut).await
}

/// The captions as they are kept: frames for timecodes, in the order of the cut.
async fn read_drafts(
    conn: &mut Conn,
    head: &CutHead,
    drafts: &[CaptionDraft],
) -> Result<Vec<Caption>, OpError> {
    let rate: Rate = (head.rate.parse())
        .map_err(|error| OpError::Internal(format!("rate of a cut: {error}")))?;
    let mut faults = Vec::new();
    if drafts.len() > MOST {
        let words = format!("{} captions; at most {MOST} fit here.", drafts.len());
        faults.push(FieldError::new("/items", words));
    }
    let people = db::nameables(conn, head.series_id).await?;
    let known = |id: Uuid| people.iter().any(|(one, _)| one.id == id.to_string());
    let mut items = Vec::new();
    for (at, draft) in drafts.iter().take(MOST).enumerate() {
        let base = format!("/items/{at}");
        check::required(&mut faults, &format!("{base}/text"), &draft.text, 500);
        let mut frame = |field: &str, label: &str| match rate.frame(label.trim()) {
            Ok(frame) => Some(frame),
            Err(error) => {
                let words = format!("This is no timecode of the cut ({error}).");
                faults.push(FieldError::new(format!("{base}/{field}"), words));
                None
            }
        };
        let range = frame("from", &draft.from).zip(frame("to", &draft.to));
        if range.is_some_and(|(from, to)| to <= from) {
            let words = "The caption ends before it begins; the end is the first frame after it.";
            faults.push(FieldError::new(format!("{base}/to"), words));
        }
        if draft.person_id.is_some_and(|id| !known(id)) {
            let words = "There is no such person in this series (they may have been deleted).";
            faults.push(FieldError::new(format!("{base}/person_id"), words));
        }
        if draft.names_nobody && draft.person_id.is_some() {
            let words = "A caption that names nobody names no person.";
            faults.push(FieldError::new(format!("{base}/names_nobody"), words));
        }
        if let Some((record_in, record_out)) = range {
            items.push(Caption {
                record_in,
                record_out,
                text: draft.text.trim().to_owned(),
                person: draft.person_id.map(|id| id.to_string()),
                names_nobody: draft.names_nobody,
            });
        }
    }
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    items.sort_by_key(|one| (one.record_in, one.record_out));
    Ok(items)
}
