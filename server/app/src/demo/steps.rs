//! The steps of a load in their order. Each leaves what is there, so that a load that broke off goes on.

use anyhow::{Context, Result};
use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::wording::local;

use super::accounts::{self, SignIn};
use super::book::Book;
use super::program::Program;
use super::{Options, custody, footage, lock, log, shots};
use crate::app::App;
use crate::db::assets::Asset;
use crate::db::cards::{Card, CardState};
use crate::db::costs::{Budget, Cost};
use crate::db::deliverables::Deliverable;
use crate::db::drives::Drive;
use crate::db::episodes::Episode;
use crate::db::licences::Licence;
use crate::db::music::Music;
use crate::db::people::Person;
use crate::db::places::Place;
use crate::db::releases::Release;
use crate::db::scenes::Scene;
use crate::db::series::{Series, SeriesFields};
use crate::db::shoot_days::ShootDay;
use crate::db::showings::Showing;
use crate::db::specifications::Specification;
use crate::db::territory_groups::TerritoryGroup;
use crate::ops::access::Actor;
use crate::ops::records::{self, Rights};
use crate::ops::sign_in::{self, Own};
use crate::ops::{cards, cuts, series};

const SERIES: &str = include_str!("../../demo/series.json");
const PIECES: &str = include_str!("../../demo/pieces.json");
const LOCKED_CUT: &str = include_str!("../../demo/episode-1.edl");
const AFTER_NOTES: &str = include_str!("../../demo/episode-1-after-notes.edl");
const OTHER_CUT: &str = include_str!("../../demo/episode-2.otio");

/// Everything; what happened, for a person.
pub async fn all(app: &App, options: &Options, sign_ins: &[SignIn]) -> Result<Vec<String>> {
    let (first, others) = sign_ins.split_first().context("nobody in team.json")?;
    let producer = accounts::administrator(app, first).await?;
    let series = the_series(app, &producer).await?;
    let today = loaded_on(series.created_at, &series.fields.zone);
    let mut book = Book::new(app, producer.clone(), series.id, today, PIECES)?;
    let mut team = vec![producer.clone()];
    for one in others {
        team.push(accounts::member(app, &producer, series.id, one).await?);
    }
    for (one, actor) in sign_ins.iter().zip(&team) {
        let key = one.email.split('@').next().unwrap_or_default();
        book.name(format!("user/{key}"), actor.user_id);
    }
    let mut notes = vec![written(&mut book).await?];
    for (one, actor) in sign_ins.iter().zip(&team) {
        accounts::receives(app, &producer, series.id, one, actor).await?;
    }
    let who = |key: &str| -> Result<Actor> {
        let id = book.id(&format!("user/{key}"))?;
        team.iter()
            .find(|actor| actor.user_id == id)
            .cloned()
            .context("not in the team")
    };
    let (post, editor) = (who("post")?, who("edit")?);
    let (music, counsel) = (who("music")?, who("counsel")?);
    let folder = options.folder.clone();
    let drives = tokio::task::spawn_blocking(move || footage::write(&folder, today)).await??;
    let labelled = App {
        drives_by_label: true,
        ..app.clone()
    };
    let program = Program::start(&labelled, &options.program, &options.folder.join("scans"))?;
    let work = Work {
        app,
        series: series.id,
        program: &program,
    };
    let sent = async {
        let mut said = work.scan(&post, &drives).await?;
        said.extend(work.cuts(&editor, options, today).await?);
        Ok::<_, anyhow::Error>(said)
    };
    let sent = sent.await;
    program.stop().await;
    notes.extend(sent?);
    book.actor = editor;
    let entries = log::fill(&book).await?;
    notes.push(format!(
        "The in-shot log has {entries} entries; some footage is left unlogged on purpose."
    ));
    shots::fill(&book).await?;
    book.actor = post.clone();
    card_states(&book).await?;
    custody::fill(&book).await?;
    let team = lock::Team {
        post: &post,
        music: &music,
        counsel: &counsel,
    };
    lock::fill(&book, &team).await?;
    notes.push(
        "Cut 4 of episode 1 was locked, its cue sheet issued and what is cleared approved; then came cut 5.".into(),
    );
    Ok(notes)
}

/// The day of the first load: a load that goes on must name the same days.
fn loaded_on(created: DateTime<Utc>, zone: &str) -> NaiveDate {
    local(created, zone).date()
}

async fn the_series(app: &App, producer: &Actor) -> Result<Series> {
    let today = local(app.now(), "Europe/London").date();
    let book = Book::new(app, producer.clone(), Uuid::nil(), today, PIECES)?;
    let fields: SeriesFields = serde_json::from_value(book.resolve(serde_json::from_str(SERIES)?)?)
        .context("series.json")?;
    let mine = series::mine(app, producer).await?;
    match mine
        .into_iter()
        .find(|(one, _)| one.fields.title == fields.title)
    {
        Some((found, _)) => Ok(found),
        None => Ok(series::create(app, producer, fields).await?),
    }
}

/// Every record that people type in.
async fn written(book: &mut Book<'_>) -> Result<String> {
    use Action as A;
    macro_rules! fill {
        ($Row:ty, $view:ident, $edit:ident, $file:literal, $apart:expr) => {
            book.fill::<$Row>(
                (A::$view, A::$edit),
                include_str!(concat!("../../demo/", $file)),
                &$apart,
            )
            .await?
            .len()
        };
    }
    let places = fill!(Place, ViewPeople, EditPeople, "places.json", ["name"]);
    let people = fill!(
        Person,
        ViewPeople,
        EditPeople,
        "people.json",
        ["credited_name"]
    );
    let days = fill!(
        ShootDay,
        ViewSeries,
        EditSchedule,
        "shoot_days.json",
        ["title"]
    );
    let episodes = fill!(
        Episode,
        ViewSeries,
        EditSchedule,
        "episodes.json",
        ["number"]
    );
    fill!(
        Scene,
        ViewSeries,
        EditSchedule,
        "scenes.json",
        ["episode_id", "title"]
    );
    // An import may hold music, so the music comes first.
    let music = fill!(Music, ViewCuts, EditAssets, "music.json", ["title"]);
    let assets = fill!(Asset, ViewCuts, EditAssets, "assets.json", ["title"]);
    let releases = fill!(
        Release,
        ViewReleases,
        EditReleases,
        "releases.json",
        ["kind", "person_id", "place_id", "asset_id"]
    );
    let licences = fill!(
        Licence,
        ViewLicences,
        EditLicences,
        "licences.json",
        ["asset_id", "music_id", "side", "licensor"]
    );
    fill!(
        Cost,
        ViewFees,
        EditLicences,
        "costs.json",
        ["licence_id", "episode_id"]
    );
    fill!(Budget, ViewFees, EditLicences, "budgets.json", ["title"]);
    fill!(
        TerritoryGroup,
        ViewDeliveries,
        EditSpecification,
        "territory_groups.json",
        ["name"]
    );
    fill!(
        Showing,
        ViewDeliveries,
        EditDeliverables,
        "showings.json",
        ["episode_id", "day"]
    );
    fill!(
        Specification,
        ViewDeliveries,
        EditSpecification,
        "specifications.json",
        ["name"]
    );
    let owed = fill!(
        Deliverable,
        ViewDeliveries,
        EditDeliverables,
        "deliverables.json",
        ["episode_id", "specification_id", "item"]
    );
    fill!(Drive, ViewFootage, EditFootage, "drives.json", ["label"]);
    Ok(format!(
        "{episodes} episodes, {people} people with {releases} releases, {places} places, {days} shoot days, {assets} \
         imports and {music} pieces of music with {licences} licences, {owed} deliverables."
    ))
}

/// What the command does.
struct Work<'a> {
    app: &'a App,
    series: Uuid,
    program: &'a Program,
}

impl Work<'_> {
    /// Runs the command as somebody, with a device token that ends afterwards.
    async fn run(&self, actor: &Actor, args: &[&str]) -> Result<String> {
        let (row, token) =
            sign_in::make_device_token(self.app, actor, "Loading the demonstration").await?;
        let said = self
            .program
            .run(&token, &self.series.to_string(), args)
            .await;
        sign_in::end_own(self.app, actor, Own::DeviceToken, row.id).await?;
        said
    }

    async fn scan(
        &self,
        actor: &Actor,
        drives: &std::collections::BTreeMap<String, std::path::PathBuf>,
    ) -> Result<Vec<String>> {
        let mut notes = Vec::new();
        for (label, folder) in drives {
            let folder = folder.display().to_string();
            let said = self
                // these clips are headers, without a picture in them
                .run(actor, &["scan", &folder, "--drive", label, "--no-pictures"])
                .await?;
            notes.push(format!("{label}: {said}"));
        }
        Ok(notes)
    }

    /// Sends the cuts that their episodes do not have.
    async fn cuts(
        &self,
        actor: &Actor,
        options: &Options,
        today: NaiveDate,
    ) -> Result<Vec<String>> {
        let mut notes = Vec::new();
        let folder = options.folder.join("CUTS");
        std::fs::create_dir_all(&folder).with_context(|| folder.display().to_string())?;
        let monday = super::days::day(today, "=mon")
            .unwrap_or(today)
            .format("%y%m%d");
        let day = today.format("%y%m%d");
        for (episode, text, number, name) in [
            ("1", LOCKED_CUT, 4, format!("EP01_CUT_{monday}_v4.edl")),
            ("1", AFTER_NOTES, 5, format!("EP01_CUT_{day}_v5.edl")),
            ("2", OTHER_CUT, 2, format!("EP02_CUT_{monday}_v2.otio")),
        ] {
            let rights = Rights {
                view: Action::ViewSeries,
                edit: Action::EditSchedule,
            };
            let book = Book::new(self.app, actor.clone(), self.series, today, PIECES)?;
            let fits = |one: &Episode| one.fields.number.to_string() == episode;
            let id = book.find(rights, fits).await?.id;
            let there = cuts::list(self.app, actor, self.series, id).await?;
            if (there.iter()).any(|cut| cut.head.cut_number == Some(number)) {
                continue;
            }
            let path = folder.join(&name);
            std::fs::write(&path, text).with_context(|| path.display().to_string())?;
            let path = path.display().to_string();
            notes.push(
                self.run(actor, &["cut", "send", &path, "--episode", episode])
                    .await?,
            );
        }
        Ok(notes)
    }
}

/// A card that was wiped after both copies were checked and post had reported; the others are as the scans found them.
async fn card_states(book: &Book<'_>) -> Result<()> {
    let rights = Rights {
        view: Action::ViewFootage,
        edit: Action::EditFootage,
    };
    let card = book
        .find::<Card>(rights, |card| card.fields.number == "A001")
        .await?;
    if card.fields.state == CardState::Wiped {
        return Ok(());
    }
    let at = (book.series, card.id);
    let words = "All of it plays, picture and sound.";
    cards::report(book.app, &book.actor, at, true, words.into()).await?;
    let card = book
        .find::<Card>(rights, |card| card.fields.number == "A001")
        .await?;
    let mut fields = card.fields;
    fields.state = CardState::Wiped;
    fields.wiped_by = "Jem Strakewell".into();
    fields.wiped_on = Some(book.today);
    records::replace::<Card>(
        book.app,
        &book.actor,
        book.series,
        rights,
        card.id,
        card.version,
        fields,
    )
    .await?;
    Ok(())
}
