//! Today: what needs attention over all series of a person, soonest first. Each thing is a sentence with its date,
//! and only what the person may see is in it.

use std::collections::{BTreeSet, HashMap};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::clearance::{Answer, Counts, End, ReasonCode};
use waybill_domain::perms::Action;
use waybill_domain::wording::{counted, date_words, grouped, local};

use super::access::{Access, Actor};
use super::child_licence;
use super::clearance::{self, Asked, Worked};
use super::costs;
use crate::app::App;
use crate::db::{self, card_rates, home};
use crate::error::OpError;

/// Deliverables and drives this near are shown.
const NEAR: TimeDelta = TimeDelta::days(45);
/// Ends of licences this near are shown: time enough to ask for more.
const LICENCES: TimeDelta = TimeDelta::days(180);
/// Elements named for an episode whose rights end before the delivery does; of the others, how many there are.
const ENDINGS: usize = 3;
/// Cards that came in as lately as this are shown when their frame rate is another one: later it is known, or meant.
const CAME_IN: TimeDelta = TimeDelta::days(14);

/// One thing that needs somebody.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Attention {
    pub series_id: Uuid,
    pub series_title: String,
    /// `episode`, `element`, `deliverable`, `licence`, `release`, `shoot_day`, `card`, `drive`; `equal_terms` with the
    /// series' id.
    pub subject_kind: &'static str,
    pub subject_id: Uuid,
    #[schema(required)]
    pub episode_id: Option<Uuid>,
    /// A sentence that names the thing and the fault.
    pub words: String,
    /// Until when; null where no date is set.
    #[schema(required)]
    pub due_on: Option<NaiveDate>,
    /// The state of what is not cleared, where that is what it is about.
    #[schema(required)]
    pub state: Option<&'static str>,
}

/// Everything that needs attention, dated things first, soonest first.
///
/// # Errors
/// The database's.
pub async fn attention(app: &App, actor: &Actor) -> Result<Vec<Attention>, OpError> {
    let mut found = Vec::new();
    for (series, roles) in super::series::mine(app, actor).await? {
        let access = Access {
            actor: actor.clone(),
            series,
            roles,
        };
        let today = local(app.now(), &access.series.fields.zone).date();
        records(app, &access, today, &mut found).await?;
        let mut needed = Needed::default();
        if access.may(Action::ViewClearance) {
            needed = cuts(app, &access, &mut found).await?;
            needed.date(access.series.id, &mut found);
            taken_out(app, &access, &needed, &mut found).await?;
        }
        if access.may(Action::ViewFees) {
            equal_terms(app, &access, &needed, &mut found).await?;
        }
    }
    found.sort_by_key(|one| (one.due_on.is_none(), one.due_on));
    Ok(found)
}

/// What the records say.
async fn records(
    app: &App,
    access: &Access,
    today: NaiveDate,
    found: &mut Vec<Attention>,
) -> Result<(), OpError> {
    let conn = &mut *app.pool.get().await?;
    let series = access.series.id;
    if access.may(Action::ViewDeliveries) {
        for one in home::deliverables(conn, series, today + NEAR).await? {
            let rejected = if one.status == "rejected" {
                " was rejected and"
            } else {
                ""
            };
            let words = format!(
                "Episode {}: “{}”{rejected} is not accepted yet.",
                one.number, one.item
            );
            found.push(Attention {
                episode_id: Some(one.episode_id),
                ..thing(access, "deliverable", one.id, words, one.due_on)
            });
        }
    }
    if access.may(Action::ViewLicences) {
        let names = db::reminders::names(conn, series).await?;
        for (id, dates) in db::reminders::licences_of(conn, series, None).await? {
            let name = names.get(&id).map_or("A licence", String::as_str);
            for date in dates.into_iter().filter(|date| date.on <= today + LICENCES) {
                let payment = date.aspect == "payment";
                if payment && !access.may(Action::ViewFees) {
                    continue;
                }
                let on = date_words(date.on);
                let words = match (date.aspect, date.on < today) {
                    ("payment", _) => format!("Payment for {name} is due on {on}."),
                    ("option", true) => {
                        format!("Option missed: notice for {name} was due by {on}.")
                    }
                    ("option", false) => format!("The option of {name} needs notice by {on}."),
                    (_, true) => sentence(&format!("{name} ended on {on}.")),
                    (_, false) => sentence(&format!("{name} ends on {on}.")),
                };
                found.push(thing(access, "licence", id, words, Some(date.on)));
            }
        }
    }
    if access.may(Action::ViewReleases) {
        for one in home::releases(conn, series).await? {
            let words = release_words(&one);
            found.push(thing(access, "release", one.id, words, None));
        }
    }
    if access.may(Action::ViewReleases) {
        children(conn, access, today, found).await?;
    }
    if access.may(Action::ViewFootage) {
        footage(conn, access, today, found).await?;
        other_rates(conn, access, app.now() - CAME_IN, found).await?;
    }
    Ok(())
}

/// Cards that came in since then with pictures at another frame rate than the series'.
async fn other_rates(
    conn: &mut db::Conn,
    access: &Access,
    since: DateTime<Utc>,
    found: &mut Vec<Attention>,
) -> Result<(), OpError> {
    let (series, rate) = (access.series.id, &access.series.fields.frame_rate);
    let others = card_rates::others(conn, series, card_rates::of_series(rate), None, Some(since));
    for one in others.await? {
        let words = format!("The card {} has {}.", one.name, one.words(rate));
        found.push(thing(access, "card", one.card_id, words, None));
    }
    Ok(())
}

/// Children who are to be filmed and for whom a council has to be asked, or something is not known (R25).
async fn children(
    conn: &mut db::Conn,
    access: &Access,
    today: NaiveDate,
    found: &mut Vec<Attention>,
) -> Result<(), OpError> {
    for (release, name) in home::minors_from(conn, access.series.id, today).await? {
        let stands = child_licence::of(&release.fields, today);
        if let Some(stands) = stands.filter(|one| one.state.is_open()) {
            let words = format!("Child licence for {name}: {}", stands.sentence);
            let due = Some(stands.apply_by);
            found.push(thing(access, "release", release.id, words, due));
        }
    }
    Ok(())
}

async fn footage(
    conn: &mut db::Conn,
    access: &Access,
    today: NaiveDate,
    found: &mut Vec<Attention>,
) -> Result<(), OpError> {
    for one in home::short_days(conn, access.series.id, today).await? {
        let missing = i64::from(one.expected) - one.came;
        let words = format!(
            "{} of {} of {} {} not come in.",
            grouped(missing.unsigned_abs()),
            counted(one.expected.unsigned_abs().into(), "card", "cards"),
            date_words(one.day),
            if missing == 1 { "has" } else { "have" }
        );
        found.push(thing(access, "shoot_day", one.id, words, Some(one.day)));
    }
    for one in home::drives(conn, access.series.id, today + NEAR).await? {
        let words = match one.status.as_str() {
            "missing" => format!("The drive {} is missing.", one.label),
            "mismatch" => format!("The drive {} holds files that do not match.", one.label),
            _ => format!("The drive {} is due for a check.", one.label),
        };
        found.push(thing(access, "drive", one.id, words, one.next_check_on));
    }
    Ok(())
}

/// What is said of somebody whose withdrawal was accepted.
const TAKE_OUT: &str = "has withdrawn, and that was accepted; the uses are to be taken out.";

fn release_words(one: &home::OpenRelease) -> String {
    let name = &one.name;
    let withdrawal = one.withdrawal.as_deref().unwrap_or_default();
    match one.status.as_str() {
        "withdrawn_being_decided" if withdrawal == "holding" => {
            format!("{name} asked to withdraw; the uses are held until it is decided.")
        }
        "withdrawn_being_decided" => format!("{name} asked to withdraw; it is to be decided."),
        _ if withdrawal == "accepted" => {
            format!("{name} {TAKE_OUT}")
        }
        _ if one.no_guardian => {
            let how = match one.signed_by_name.trim() {
                "" => "is not signed".into(),
                signed => format!("is signed by {signed}, not"),
            };
            format!("The release of {name}, who is under 18, {how} by a guardian.")
        }
        _ if one.no_authority => {
            format!("The release of {name} is signed by somebody without the owner’s authority.")
        }
        "problem" => format!("The release of {name} has a problem."),
        _ => format!("The release of {name} is signed and waits to be checked."),
    }
}

/// Until when a cut needs what stands behind it.
#[derive(Default)]
struct Needed {
    episodes: HashMap<Uuid, NaiveDate>,
    /// The first episode whose cut shows whom or what it is of, with its number.
    releases: HashMap<Uuid, (NaiveDate, Uuid, i32)>,
    /// A cut could not be worked; nobody knows what it needs.
    unknown: bool,
}

impl Needed {
    fn add(
        &mut self,
        (episode, number): (Uuid, i32),
        by: NaiveDate,
        releases: impl Iterator<Item = Uuid>,
    ) {
        self.episodes.insert(episode, by);
        let here = (by, episode, number);
        for release in releases {
            let first = self.releases.entry(release).or_insert(here);
            *first = (*first).min(here);
        }
    }

    /// A release that is in a cut is needed there when that is to be cleared.
    fn date(&self, series: Uuid, found: &mut [Attention]) {
        for one in found {
            if one.series_id != series || one.subject_kind != "release" || one.due_on.is_some() {
                continue;
            }
            if let Some((by, episode, number)) = self.releases.get(&one.subject_id) {
                (one.due_on, one.episode_id) = (Some(*by), Some(*episode));
                let within = match one.words.strip_prefix("The release") {
                    Some(rest) => format!("Episode {number}: the release{rest}"),
                    None => format!("Episode {number}: {}", one.words),
                };
                one.words = within;
            }
        }
    }
}

/// What equal terms will cost, for those who see fees (R11).
async fn equal_terms(
    app: &App,
    access: &Access,
    needed: &Needed,
    found: &mut Vec<Attention>,
) -> Result<(), OpError> {
    let series = access.series.id;
    let conn = &mut *app.pool.get().await?;
    for (episode, words) in costs::raised(conn, series).await? {
        let by = episode.and_then(|id| needed.episodes.get(&id)).copied();
        found.push(Attention {
            episode_id: episode,
            ..thing(access, "equal_terms", series, words, by)
        });
    }
    Ok(())
}

/// What the newest cuts say.
async fn cuts(app: &App, access: &Access, found: &mut Vec<Attention>) -> Result<Needed, OpError> {
    let mut needed = Needed::default();
    let episodes = {
        let conn = &mut *app.pool.get().await?;
        home::episodes_with_cuts(conn, access.series.id, false).await?
    };
    for episode in episodes {
        let Some(worked) = newest(app, access, &episode).await? else {
            needed.unknown = true;
            continue;
        };
        let releases = worked.material.records.releases.iter().map(|one| one.id);
        let here = (episode.id, episode.number);
        needed.add(here, worked.answer.needed_by, releases);
        endings(access, here, &worked.answer, found);
        let (answer, specification) = (worked.answer, worked.specification.fields.name);
        if !answer.blocked {
            continue;
        }
        let (count, list, state) = failing(&answer.counts);
        let noun = if count == 1 {
            "element is"
        } else {
            "elements are"
        };
        let words = format!(
            "Episode {}: {count} {noun} not cleared for {specification} ({list}).",
            episode.number
        );
        found.push(Attention {
            episode_id: Some(episode.id),
            state: Some(state),
            ..thing(access, "episode", episode.id, words, Some(answer.needed_by))
        });
    }
    Ok(needed)
}

/// The newest cut of an episode, worked.
async fn newest(
    app: &App,
    access: &Access,
    episode: &home::CutEpisode,
) -> Result<Option<Worked>, OpError> {
    if !episode.has_specification {
        return Ok(None);
    }
    let place = (access.series.id, episode.id);
    let may = Action::ViewClearance;
    match clearance::work(app, &access.actor, may, place, Asked::default()).await {
        Ok((_, worked)) => Ok(Some(worked)),
        // A specification that can't be worked says so on its own page.
        Err(OpError::UnsafeState(_) | OpError::Conflict(_) | OpError::NotFound(_)) => Ok(None),
        Err(other) => Err(other),
    }
}

/// Takes away the releases with an accepted withdrawal of which no newest cut has a use any more, delivered ones among
/// them. A cut that can't be worked may have one.
async fn taken_out(
    app: &App,
    access: &Access,
    needed: &Needed,
    found: &mut Vec<Attention>,
) -> Result<(), OpError> {
    let series = access.series.id;
    let withdrawn = |one: &Attention| {
        one.series_id == series && one.subject_kind == "release" && one.words.ends_with(TAKE_OUT)
    };
    let mut out: BTreeSet<Uuid> = (found.iter())
        .filter(|one| withdrawn(one) && !needed.releases.contains_key(&one.subject_id))
        .map(|one| one.subject_id)
        .collect();
    if out.is_empty() || needed.unknown {
        return Ok(());
    }
    let delivered = {
        let conn = &mut *app.pool.get().await?;
        home::episodes_with_cuts(conn, series, true).await?
    };
    if delivered.is_empty() && needed.episodes.is_empty() {
        return Ok(());
    }
    for episode in &delivered {
        let Some(worked) = newest(app, access, episode).await? else {
            return Ok(());
        };
        for release in &worked.material.records.releases {
            out.remove(&release.id);
        }
    }
    found.retain(|one| !withdrawn(one) || !out.contains(&one.subject_id));
    Ok(())
}

/// What is cleared at first and ends before the delivery's need does, soonest first: easily missed, since the first
/// showing is covered.
fn endings(
    access: &Access,
    (episode, number): (Uuid, i32),
    answer: &Answer,
    found: &mut Vec<Attention>,
) {
    let mut ending: Vec<(NaiveDate, Uuid, &str)> = (answer.elements.iter())
        .filter_map(|element| {
            let End::On(last) = element.end else {
                return None;
            };
            let mut reasons = element.reasons.iter();
            let why = reasons.find(|one| one.code == ReasonCode::EndsTooEarly)?;
            Some((last, element.id.parse().ok()?, why.sentence.as_str()))
        })
        .collect();
    ending.sort();
    let by = Some(answer.needed_by);
    for (_, id, sentence) in ending.iter().take(ENDINGS) {
        let words = format!("Episode {number}: {sentence}");
        found.push(Attention {
            episode_id: Some(episode),
            state: Some("gap"),
            ..thing(access, "element", *id, words, by)
        });
    }
    if let Some(more) = ending.len().checked_sub(ENDINGS).filter(|n| *n > 0) {
        let (noun, end) = if more == 1 {
            ("element", "ends")
        } else {
            ("elements", "end")
        };
        let words =
            format!("Episode {number}: {more} more {noun} {end} before the delivery’s last day.");
        found.push(Attention {
            episode_id: Some(episode),
            state: Some("gap"),
            ..thing(access, "episode", episode, words, by)
        });
    }
}

/// How many fail, in which states, and the worst of these.
fn failing(counts: &Counts) -> (u32, String, &'static str) {
    let states = [
        (counts.gap, "with a gap", "gap"),
        (
            counts.unknown_source,
            "from an unknown source",
            "unknown_source",
        ),
        (counts.unknown, "unknown", "unknown"),
        (counts.not_logged, "not logged", "not_logged"),
    ];
    let failing: Vec<_> = states
        .into_iter()
        .filter(|(count, ..)| *count > 0)
        .collect();
    let list: Vec<String> = failing
        .iter()
        .map(|(count, words, _)| format!("{count} {words}"))
        .collect();
    let total = failing.iter().map(|(count, ..)| count).sum();
    (
        total,
        list.join(", "),
        failing.first().map_or("gap", |(_, _, state)| state),
    )
}

fn thing(
    access: &Access,
    kind: &'static str,
    id: Uuid,
    words: String,
    due_on: Option<NaiveDate>,
) -> Attention {
    Attention {
        series_id: access.series.id,
        series_title: access.series.fields.title.clone(),
        subject_kind: kind,
        subject_id: id,
        episode_id: None,
        words,
        due_on,
        state: None,
    }
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(chars).collect()
    })
}
