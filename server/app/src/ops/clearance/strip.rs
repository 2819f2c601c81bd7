//! A cut as a strip of events: each with its place, its source and the worst state among what is in it, in words.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::clearance::{Answer, ElementAnswer, State, Weight};
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::perms::Action;
use waybill_domain::timecode::Rate;

use super::{
    Asked, Material, clear_it, find_cut, find_episode, find_specification, gather, id_of, question,
};
use crate::app::App;
use crate::db::Conn;
use crate::db::cuts::{EventRow, MatchKind};
use crate::db::scenes::{Scene, SceneKind};
use crate::error::OpError;
use crate::ops::access::{Actor, enter};
use crate::ops::cuts::find;
use crate::ops::file_pictures::{self, PictureLinks};

/// The events of a cut.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CutEvents {
    pub items: Vec<CutEvent>,
    /// The delivery that the states are about; null: there is none yet, and only missing knowledge has a state.
    #[schema(required)]
    pub specification_id: Option<Uuid>,
}

/// An event of a cut.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CutEvent {
    /// Number in record order, from 1.
    pub position: u32,
    /// The event number as written in the list.
    pub event: String,
    /// Where the file says so.
    pub origin: String,
    pub track: String,
    pub picture: bool,
    pub sound: bool,
    /// False when switched off in the cut.
    pub enabled: bool,
    pub kind: String,
    /// Record timecode of the first frame, and of the first after the last.
    pub record_in: String,
    pub record_out: String,
    /// The same in frames counted from 00:00:00:00.
    pub record_in_frame: i64,
    pub record_out_frame: i64,
    pub reel: String,
    pub clip: String,
    pub source_name: String,
    #[schema(required)]
    pub source_in: Option<String>,
    #[schema(required)]
    pub source_out: Option<String>,
    #[schema(required)]
    pub speed: Option<String>,
    pub comments: Vec<String>,
    #[serde(rename = "match")]
    pub matched: EventMatch,
    #[schema(required)]
    pub scene: Option<EventScene>,
    /// Worst state among what is in it; null for black, and without a delivery to measure against.
    #[schema(required)]
    pub state: Option<State>,
    /// The state, or what stands for it, in words.
    pub words: String,
    /// Ids of the elements in it, as in the clearance, worst first.
    pub elements: Vec<String>,
}

/// What an event was matched with.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct EventMatch {
    pub kind: MatchKind,
    /// How it was found, or why not.
    pub how: String,
    /// What the catalogue calls it; empty when unknown.
    pub label: String,
    #[schema(required)]
    pub file_id: Option<Uuid>,
    /// Where a picture of the file is read; null where there is none, or the caller may not see footage.
    #[schema(required)]
    pub poster: Option<String>,
    #[schema(required)]
    pub asset_id: Option<Uuid>,
    #[schema(required)]
    pub music_id: Option<Uuid>,
}

/// The scene that an event begins in.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct EventScene {
    pub id: Uuid,
    pub kind: SceneKind,
    pub title: String,
}

/// The events of a cut, measured against a delivery where there is one and the caller may see clearance.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn events(
    app: &App,
    actor: &Actor,
    series: Uuid,
    cut: Uuid,
    specification: Option<Uuid>,
) -> Result<CutEvents, OpError> {
    let asked = Asked {
        specification,
        cut: Some(cut),
        to_leave: false,
    };
    let (access, (material, elements), need, placed) = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, Action::ViewCuts).await?;
        let head = find(conn, series, cut).await?;
        let episode = find_episode(conn, series, head.episode_id).await?;
        let cut = find_cut(conn, &episode, Some(cut)).await?;
        let need = match find_specification(conn, &episode, asked).await {
            Ok(found) if access.may(Action::ViewClearance) => Some(found),
            Ok(_) | Err(OpError::Conflict(_)) => None,
            Err(error) => return Err(error),
        };
        let scenes = scenes(conn, episode.id, &cut.head.rate).await?;
        let (material, elements) = gather(conn, &access, episode, cut).await?;
        let pictures = match access.may(Action::ViewFootage) {
            true => file_pictures::links(conn, series, &files_of(&material.events)).await?,
            false => BTreeMap::new(),
        };
        (access, (material, elements), need, (scenes, pictures))
    };
    let today = access.today(app.now());
    let answer = match &need {
        Some((specification, owed)) => {
            let question = question(&access, (&material, elements), specification, *owed, today);
            Some(clear_it(question, &material).await?.1)
        }
        None => None,
    };
    let strip = Strip::new(&material, answer.as_ref(), placed);
    Ok(CutEvents {
        items: material.events.iter().map(|row| strip.event(row)).collect(),
        specification_id: need.map(|(specification, _)| specification.id),
    })
}

fn files_of(events: &[EventRow]) -> Vec<Uuid> {
    let files: BTreeSet<Uuid> = events.iter().filter_map(|row| row.file_id).collect();
    files.into_iter().collect()
}

/// A scene with its place in the cut.
struct Placed {
    scene: Scene,
    from: i64,
    /// None: until the next scene.
    to: Option<i64>,
}

async fn scenes(conn: &mut Conn, episode: Uuid, rate: &str) -> Result<Vec<Placed>, OpError> {
    let Ok(rate) = rate.parse::<Rate>() else {
        return Ok(vec![]);
    };
    let frame = |label: &Option<String>| rate.frame(label.as_deref()?).ok();
    let rows = crate::db::clearance::scenes(conn, episode).await?;
    let mut placed: Vec<Placed> = (rows.into_iter())
        .filter_map(|scene| {
            Some(Placed {
                from: frame(&scene.fields.starts_at)?,
                to: frame(&scene.fields.ends_at),
                scene,
            })
        })
        .collect();
    placed.sort_by_key(|scene| scene.from);
    Ok(placed)
}

/// What every event is looked up in.
struct Strip<'a> {
    material: &'a Material,
    /// Elements by event, worst first.
    elements: BTreeMap<u32, Vec<Found<'a>>>,
    scenes: Vec<Placed>,
    /// By file.
    pictures: BTreeMap<Uuid, PictureLinks>,
}

/// An element of an event, with its answer where a delivery was asked about.
struct Found<'a> {
    key: &'a ElementKey,
    answer: Option<&'a ElementAnswer>,
}

impl<'a> Strip<'a> {
    fn new(
        material: &'a Material,
        answer: Option<&'a Answer>,
        (scenes, pictures): (Vec<Placed>, BTreeMap<Uuid, PictureLinks>),
    ) -> Self {
        let answers: BTreeMap<&str, &ElementAnswer> = answer
            .into_iter()
            .flat_map(|answer| &answer.elements)
            .map(|element| (element.id.as_str(), element))
            .collect();
        let mut elements: BTreeMap<u32, Vec<Found<'a>>> = BTreeMap::new();
        for (key, uses) in &material.uses {
            let answer = answers.get(id_of(key).as_str()).copied();
            let mut events: Vec<u32> = uses.iter().map(|one| one.event).collect();
            events.dedup();
            for event in events {
                elements
                    .entry(event)
                    .or_default()
                    .push(Found { key, answer });
            }
        }
        for found in elements.values_mut() {
            found.sort_by_key(Found::state);
        }
        Self {
            material,
            elements,
            scenes,
            pictures,
        }
    }

    fn event(&self, row: &EventRow) -> CutEvent {
        let found = self
            .elements
            .get(&row.number())
            .map_or(&[][..], Vec::as_slice);
        let (state, words) = state_and_words(row, found);
        let cut = &self.material.cut.head;
        CutEvent {
            position: row.number(),
            event: row.event.clone(),
            origin: row.origin.clone(),
            track: row.track.clone(),
            picture: row.picture,
            sound: row.sound,
            enabled: row.enabled,
            kind: row.kind.clone(),
            record_in: label(&cut.rate, row.record_in),
            record_out: label(&cut.rate, row.record_out),
            record_in_frame: row.record_in,
            record_out_frame: row.record_out,
            reel: row.reel.clone(),
            clip: row.clip.clone(),
            source_name: row.source_name.clone(),
            source_in: row.source_in.map(|frame| label(&row.rate, frame)),
            source_out: row.source_out.map(|frame| label(&row.rate, frame)),
            speed: row.speed.clone(),
            comments: row.comments.0.clone(),
            matched: self.matched(row),
            scene: self.scene(row.record_in),
            state,
            words,
            elements: found.iter().map(|found| id_of(found.key)).collect(),
        }
    }

    fn matched(&self, row: &EventRow) -> EventMatch {
        let records = &self.material.records;
        let asset = row.asset_id.and_then(|id| records.assets.get(&id));
        let music = row.music_id.and_then(|id| records.music.get(&id));
        let file = row.file_id.and_then(|id| self.material.files.get(&id));
        let label = (asset.map(|asset| asset.fields.title.as_str()))
            .or(music.map(|music| music.fields.title.as_str()))
            .or(file.map(|file| file.name.as_str()));
        let picture = row.file_id.and_then(|id| self.pictures.get(&id));
        EventMatch {
            kind: row.match_kind,
            how: row.match_how.clone(),
            label: label.unwrap_or_default().to_owned(),
            file_id: row.file_id,
            poster: picture.and_then(|picture| picture.poster.clone()),
            asset_id: row.asset_id,
            music_id: row.music_id,
        }
    }

    fn scene(&self, frame: i64) -> Option<EventScene> {
        let placed = self.scenes.iter().rfind(|scene| scene.from <= frame)?;
        placed.to.is_none_or(|to| frame < to).then(|| EventScene {
            id: placed.scene.id,
            kind: placed.scene.fields.kind,
            title: placed.scene.fields.title.clone(),
        })
    }
}

impl Found<'_> {
    /// Without a delivery, only missing knowledge has a state.
    fn state(&self) -> Option<State> {
        self.answer.map(|answer| answer.state).or(match self.key {
            ElementKey::Unknown(_) => Some(State::UnknownSource),
            ElementKey::Unlogged(_) => Some(State::NotLogged),
            _ => None,
        })
    }
}

fn state_and_words(row: &EventRow, found: &[Found<'_>]) -> (Option<State>, String) {
    if row.match_kind == MatchKind::Black {
        return (None, row.match_how.clone());
    }
    let Some(worst) = found
        .iter()
        .min_by_key(|one| (one.state().is_none(), one.state()))
    else {
        return (Some(State::Covered), "Nothing in it needs clearing.".into());
    };
    let words = match (worst.answer, worst.state()) {
        (Some(answer), Some(State::Covered)) => {
            format!("{} and all else in it: covered.", answer.label)
        }
        (Some(answer), _) => why(answer, row.number()),
        (None, Some(State::UnknownSource)) => row.match_how.clone(),
        (None, Some(_)) => "Nobody has logged who and what is in it.".into(),
        (None, None) => "There is no delivery yet to measure it against.".into(),
    };
    (worst.state(), words)
}

/// The first reason that decides, of those about this event where there are such.
fn why(answer: &ElementAnswer, event: u32) -> String {
    let about = |reason: &&waybill_domain::clearance::Reason| {
        reason.events.is_empty() || reason.events.contains(&event)
    };
    let decides = |reason: &&waybill_domain::clearance::Reason| reason.weight != Weight::Shown;
    let reasons = &answer.reasons;
    let first = (reasons.iter().filter(decides).find(about))
        .or(reasons.iter().find(decides))
        .or(reasons.iter().find(about))
        .or(reasons.first());
    first.map_or_else(|| answer.label.clone(), |reason| reason.sentence.clone())
}

fn label(rate: &str, frame: i64) -> String {
    rate.parse::<Rate>()
        .map_or_else(|_| frame.to_string(), |rate| rate.label(frame))
}
