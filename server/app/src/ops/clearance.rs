//! The clearance of a cut for a delivery: everything that decides it is read in a constant number of queries, put into
//! the question that `waybill_domain::clearance` answers, and answered off the threads that serve.

pub mod approvals;
mod backing;
mod elements;
mod notices;
pub mod repeats;
mod strip;
pub mod what_if;

use std::collections::{BTreeMap, HashMap};

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::clearance::{
    Answer, Counts, Element, EpisodeEvents, Need, Question, Showing, Use, clear,
};
use waybill_domain::cut_uses::{self, ElementKey};
use waybill_domain::perms::Action;
use waybill_domain::rights::release::HouseRules;
use waybill_domain::rights::term::EventDate;
use waybill_domain::rights::territory::Groups;
use waybill_domain::timecode::Rate;

pub use elements::id_of;
pub use strip::{CutEvent, CutEvents, events};

use super::access::{Access, Actor, enter};
use super::captions::Captions;
use super::cuts::{self, Cut, described};
use super::{blocking, let_go};
use crate::app::App;
use crate::db::Conn;
use crate::db::clearance::{self as db, FileRow, Owed, Records};
use crate::db::cuts::EventRow;
use crate::db::episodes::Episode;
use crate::db::specifications::Specification;
use crate::error::OpError;

/// Which clearance is asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked {
    /// None: the specification that the episode owes first, else the oldest.
    pub specification: Option<Uuid>,
    /// None: the latest cut.
    pub cut: Option<Uuid>,
    /// The answer leaves the house: whoever sends it, no note of a release is told (rulebook 8: the delivery contact sees
    /// no working notes).
    pub to_leave: bool,
}

/// The clearance of a cut for a delivery. Not legal advice: it follows what was entered and the rules shown.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Clearance {
    #[serde(flatten)]
    pub answer: Answer,
    pub cut: Cut,
    pub specification: ClearanceSpecification,
    /// The day on which it was asked, in the series' time zone.
    pub today: NaiveDate,
    /// Changes with whatever an approval would cover now; sent back with one, it keeps that from covering what nobody saw.
    pub fingerprint: String,
    /// The latest approval for this specification that was not withdrawn, and what of it still stands.
    #[schema(required)]
    pub approval: Option<approvals::ApprovalView>,
}

/// The head of a specification.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ClearanceSpecification {
    pub id: Uuid,
    pub name: String,
    pub broadcaster: String,
    /// Version and date of the broadcaster's document; these change.
    pub edition: String,
}

impl ClearanceSpecification {
    fn of(row: &Specification) -> Self {
        Self {
            id: row.id,
            name: row.fields.name.clone(),
            broadcaster: row.fields.broadcaster.clone(),
            edition: row.fields.edition.clone(),
        }
    }
}

/// A cut with everything in it, before a delivery is asked about.
pub struct Material {
    pub cut: Cut,
    pub episode: Episode,
    pub events: Vec<EventRow>,
    pub files: HashMap<Uuid, FileRow>,
    pub records: Records,
    pub uses: BTreeMap<ElementKey, Vec<Use>>,
    /// Captions of the cut.
    pub captions: Captions,
    /// Said of the cut itself.
    pub assumptions: Vec<String>,
    /// Groups of territories that the series keeps.
    pub groups: Groups,
    /// Showings of the episode.
    pub showings: Vec<crate::db::showings::Showing>,
}

/// A clearance with everything that it rests on.
pub struct Worked {
    pub material: Material,
    pub specification: Specification,
    pub question: Question,
    pub answer: Answer,
    pub today: NaiveDate,
}

/// The clearance of an episode's cut.
///
/// # Errors
/// Access; `NotFound`; `Conflict` when there is no cut or no specification yet; `UnsafeState` when the specification
/// can't be worked; the database's.
pub async fn answer(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
    asked: Asked,
) -> Result<Clearance, OpError> {
    let (_, worked) = work(app, actor, Action::ViewClearance, (series, episode), asked).await?;
    let approval = {
        let conn = &mut *app.pool.get().await?;
        approvals::standing(conn, &worked).await?
    };
    let fingerprint = approvals::seen(&worked);
    let Worked {
        material,
        specification,
        question,
        answer,
        today,
    } = worked;
    let clearance = Clearance {
        approval,
        fingerprint,
        specification: ClearanceSpecification::of(&specification),
        answer,
        cut: material.cut.clone(),
        today,
    };
    let_go((material, question));
    Ok(clearance)
}

/// How many elements of an episode's latest cut are in each state, for the board.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ClearanceCounts {
    pub counts: Counts,
    /// Whether anything stands in the way of the delivery.
    pub blocked: bool,
    pub cut_id: Uuid,
    /// The delivery that it was measured against: the one owed first, else the oldest.
    pub specification: ClearanceSpecification,
    /// The day on which it was asked, in the series' time zone.
    pub today: NaiveDate,
}

/// The counts alone, worked as [`answer`] works them.
///
/// # Errors
/// As [`answer`].
pub async fn counts(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
) -> Result<ClearanceCounts, OpError> {
    let ids = (series, episode);
    let (_, worked) = work(app, actor, Action::ViewClearance, ids, Asked::default()).await?;
    Ok(ClearanceCounts {
        counts: worked.answer.counts,
        blocked: worked.answer.blocked,
        cut_id: worked.material.cut.head.id,
        specification: ClearanceSpecification::of(&worked.specification),
        today: worked.today,
    })
}

/// Reads what decides, and answers it.
///
/// # Errors
/// As [`answer`].
pub async fn work(
    app: &App,
    actor: &Actor,
    right: Action,
    (series, episode): (Uuid, Uuid),
    asked: Asked,
) -> Result<(Access, Worked), OpError> {
    let (access, (material, elements), specification, owed) = {
        let conn = &mut *app.pool.get().await?;
        let access = enter(conn, actor, series, right).await?;
        let episode = find_episode(conn, series, episode).await?;
        let cut = find_cut(conn, &episode, asked.cut).await?;
        let (specification, owed) = find_specification(conn, &episode, asked).await?;
        let material = gather_for(conn, &access, episode, cut, asked.to_leave).await?;
        (access, material, specification, owed)
    };
    let today = access.today(app.now());
    let question = question(&access, (&material, elements), &specification, owed, today);
    let (question, answer) = clear_it(question, &material).await?;
    Ok((
        access,
        Worked {
            material,
            specification,
            question,
            answer,
            today,
        },
    ))
}

pub(super) async fn find_episode(
    conn: &mut Conn,
    series: Uuid,
    id: Uuid,
) -> Result<Episode, OpError> {
    let found = db::episode(conn, series, id).await?;
    found.ok_or(OpError::NotFound("the episode"))
}

pub(super) async fn find_cut(
    conn: &mut Conn,
    episode: &Episode,
    asked: Option<Uuid>,
) -> Result<Cut, OpError> {
    let head = match asked {
        Some(id) => {
            let head = cuts::find(conn, episode.series_id, id).await?;
            if head.episode_id != episode.id || head.deleted_at.is_some() {
                return Err(OpError::NotFound("the cut"));
            }
            head
        }
        None => {
            let latest = crate::db::cuts::of_episode(conn, episode.id).await?;
            latest.into_iter().next().ok_or_else(|| {
                OpError::Conflict(format!(
                    "Episode {} has no cut yet. Import an edit list; then its clearance can be worked out.",
                    episode.fields.number
                ))
            })?
        }
    };
    described(conn, head).await
}

async fn find_specification(
    conn: &mut Conn,
    episode: &Episode,
    asked: Asked,
) -> Result<(Specification, Owed), OpError> {
    let found = db::specification(conn, episode.series_id, episode.id, asked.specification).await?;
    let specification = match (found, asked.specification) {
        (Some(found), _) => found,
        (None, Some(_)) => return Err(OpError::NotFound("the delivery specification")),
        (None, None) => {
            return Err(OpError::Conflict(
                "The series has no delivery specification yet. Add one that says where, in which media and when it \
                 is needed; then clearance can be measured against it."
                    .into(),
            ));
        }
    };
    let owed = db::owed(conn, episode.id, specification.id).await?;
    Ok((specification, owed))
}

/// Reads a cut with everybody and everything in it, and its elements with the papers behind them.
pub(super) async fn gather(
    conn: &mut Conn,
    access: &Access,
    episode: Episode,
    cut: Cut,
) -> Result<(Material, Vec<Element>), OpError> {
    gather_for(conn, access, episode, cut, false).await
}

async fn gather_for(
    conn: &mut Conn,
    access: &Access,
    episode: Episode,
    cut: Cut,
    to_leave: bool,
) -> Result<(Material, Vec<Element>), OpError> {
    let series = access.series.id;
    let events = crate::db::cuts::events(conn, cut.head.id).await?;
    let mut ids: Vec<Uuid> = events.iter().filter_map(|event| event.file_id).collect();
    ids.sort_unstable();
    ids.dedup();
    let files: HashMap<Uuid, FileRow> = (db::files(conn, series, &ids).await?.into_iter())
        .map(|file| (file.id, file))
        .collect();
    let log = db::log(conn, &ids).await?;
    let contents = db::contents(conn, series).await?;
    let used = elements::used_events(&events);
    let captions = Captions::of_cut(conn, &cut.head).await?;
    let mut uses = cut_uses::uses(&used, &elements::used_files(&files, &log), &contents);
    captions.mark(&mut uses);
    let records = db::records(conn, series, &elements::ids(uses.keys())).await?;
    let decided = db::last_changes(conn, &backing::decisions(&records)).await?;
    let included = db::included(conn, series, episode.id).await?;
    let notices = notices::Notices::new(&events, &files, &log, &records);
    let elements = elements::build(
        access,
        &uses,
        &files,
        &events,
        &backing::Papers {
            records: &records,
            by_subject: &backing::BySubject::of(&records),
            decided: &decided,
            included: &included,
            notices: &notices,
            notes_kept_back: to_leave || !access.may(Action::ViewSensitiveNotes),
            captions: &captions.by_person(),
        },
    );
    let groups = crate::db::territory_groups::groups(conn, series).await?;
    let showings = crate::db::showings::of_episode(conn, episode.id).await?;
    let mut assumptions = Vec::new();
    if !used.iter().any(|event| event.sound) {
        assumptions.push(
            "The list of this cut has no sound in it, so everything that its pictures were filmed with counts as heard."
                .to_owned(),
        );
    }
    assumptions.extend(elements::inside_words(&events, &contents).map(str::to_owned));
    let material = Material {
        cut,
        episode,
        events,
        files,
        records,
        uses,
        captions,
        assumptions,
        groups,
        showings,
    };
    Ok((material, elements))
}

fn question(
    access: &Access,
    (material, elements): (&Material, Vec<Element>),
    specification: &Specification,
    owed: Owed,
    today: NaiveDate,
) -> Question {
    let need = &specification.fields;
    let dates = &material.episode.fields;
    let house = &access.series.fields;
    Question {
        need: Need {
            territories: need.territories.clone(),
            territories_except: need.territories_except.clone(),
            media: need.media.clone(),
            media_except: need.media_except.clone(),
            from: need.needed_from,
            to: need.needed_to,
            overhang_months: u32::try_from(need.overhang_months).unwrap_or(0),
            in_promotion: need.for_promotion,
            clean_covers: owed.clean_covers,
            due: owed.due,
            runs: need.runs_needed.and_then(|runs| u32::try_from(runs).ok()),
            episode: Some(dates.number),
            version: need.version_name.clone(),
        },
        events: EpisodeEvents {
            first_transmission: EventDate {
                known: dates.first_transmission,
                planned: dates.first_transmission_planned,
            },
            delivery: EventDate {
                known: dates.delivered,
                planned: dates.delivery_planned,
            },
            first_use: EventDate {
                known: dates.first_use,
                planned: None,
            },
        },
        house: HouseRules {
            entity: house.producer_entity.clone(),
            adult_at: house.adult_at,
            consideration_required: house.consideration_required,
        },
        groups: material.groups.clone(),
        today,
        rate: (material.cut.head.rate.parse::<Rate>().ok()).and_then(|rate| {
            Some((
                u32::try_from(rate.num()).ok()?,
                u32::try_from(rate.den()).ok()?,
            ))
        }),
        showings: material.showings.iter().filter_map(showing).collect(),
        elements,
    }
}

fn showing(row: &crate::db::showings::Showing) -> Option<Showing> {
    let fields = &row.fields;
    let time = chrono::NaiveTime::parse_from_str(&fields.at_time, "%H:%M").ok()?;
    Some(Showing {
        at: fields.day.and_time(time),
        territories: fields.territories.clone(),
        media: fields.media.clone(),
    })
}

/// Answers a question, and gives it back.
async fn clear_it(question: Question, material: &Material) -> Result<(Question, Answer), OpError> {
    let work = move || clear(&question).map(|answer| (question, answer));
    let (question, mut answer) = blocking(work).await?.map_err(|error| {
        OpError::UnsafeState(format!(
            "The specification can't be measured against: {error}. Correct it first."
        ))
    })?;
    elements::say_why_unknown(&mut answer, &material.events);
    answer
        .assumptions
        .splice(0..0, material.assumptions.clone());
    Ok((question, answer))
}
