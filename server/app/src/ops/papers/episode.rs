//! The papers of an episode: which there are, what all of them have in common, and their way out as files.

use chrono::{DateTime, Utc};
use serde_json::json;
use uuid::Uuid;
use waybill_domain::papers::{NOT_ADVICE, PaperFact, PrintedPaper};
use waybill_domain::perms::Action;
use waybill_domain::wording::date_words;

use super::{File, Form, chain, checklist, credits, plain, set, third_party};
use crate::app::App;
use crate::error::OpError;
use crate::ops::access::{Access, Actor};
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::clearance::{Asked, Worked, work};
use crate::ops::report::{Purpose, specification_named};

/// A paper about an episode.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Third-party material, use by use.
    ThirdParty,
    /// Names and credit lines.
    Credits,
    /// The insurer's clearance checklist.
    Checklist,
    /// Chain of title.
    ChainOfTitle,
}

impl Kind {
    /// Its heading.
    pub fn title(self) -> &'static str {
        match self {
            Self::ThirdParty => "Third-party material log",
            Self::Credits => "Credit list",
            Self::Checklist => "Clearance checklist for the insurer",
            Self::ChainOfTitle => "Chain of title",
        }
    }

    fn file(self) -> &'static str {
        match self {
            Self::ThirdParty => "third_party_log",
            Self::Credits => "credits",
            Self::Checklist => "clearance_checklist",
            Self::ChainOfTitle => "chain_of_title",
        }
    }
}

/// The paper as a page shows it.
///
/// # Errors
/// Access; as the clearance; the database's.
pub async fn read(
    app: &App,
    actor: &Actor,
    ids: (Uuid, Uuid),
    asked: Asked,
    kind: Kind,
) -> Result<PrintedPaper, OpError> {
    let (access, worked) = work(app, actor, Action::DownloadReport, ids, asked).await?;
    paper(app, &access, &worked, kind).await
}

/// The paper as a file; it leaves a line in the audit trail.
///
/// # Errors
/// As [`read`]; `TooLarge`.
pub async fn file(
    app: &App,
    actor: &Actor,
    ids: (Uuid, Uuid),
    asked: Asked,
    (kind, form): (Kind, Form),
    purpose: Purpose,
) -> Result<File, OpError> {
    let (access, worked) = work(app, actor, Action::DownloadReport, ids, asked).await?;
    let paper = paper(app, &access, &worked, kind).await?;
    let cut = &worked.material.cut.head;
    let number = worked.material.episode.fields.number;
    let name = format!(
        "EP{number:02}_{}_{}.{}",
        kind.file(),
        plain(&cut.name),
        form.ending()
    );
    let made = set(app, paper, form, name).await?;
    let conn = &mut *app.pool.get().await?;
    let after = json!({ "file": made.name, "cut": cut.name, "specification": worked.specification.fields.name });
    let subject = Subject::of(ids.0, "report", cut.id);
    audit::record(
        conn,
        actor,
        app.now(),
        purpose.action(),
        subject,
        NOTHING,
        Some(&after),
    )
    .await?;
    Ok(made)
}

async fn paper(
    app: &App,
    access: &Access,
    worked: &Worked,
    kind: Kind,
) -> Result<PrintedPaper, OpError> {
    let mut paper = blank(access, worked, kind.title(), app.now());
    if matches!(kind, Kind::Credits | Kind::ChainOfTitle) {
        // Both say whose a thing is, not until when: how a term was counted does not bear on them.
        paper.assumptions.clear();
    }
    match kind {
        Kind::ThirdParty => third_party::fill(&mut paper, worked),
        Kind::Credits => credits::fill(&mut paper, worked),
        Kind::Checklist => checklist::fill(app, &mut paper, worked).await?,
        Kind::ChainOfTitle => chain::fill(app, &mut paper, worked).await?,
    }
    Ok(paper)
}

/// A paper with its head: cut version, specification, date, assumptions and cautions.
pub fn blank(access: &Access, worked: &Worked, title: &str, now: DateTime<Utc>) -> PrintedPaper {
    let (series, material) = (&access.series.fields, &worked.material);
    let (episode, cut) = (&material.episode.fields, &material.cut.head);
    let locked = if cut.locked {
        "locked"
    } else {
        "not locked, may still change"
    };
    let cut_day = cut.cut_date.map(|day| format!(", {}", date_words(day)));
    let facts = [
        PaperFact::some("Series", series.title.clone()),
        PaperFact::some("Episode", format!("{}. {}", episode.number, episode.title)),
        PaperFact::some("Producer", series.producer_entity.clone()),
        PaperFact::some(
            "Cut",
            format!("{}{}, {locked}", cut.name, cut_day.unwrap_or_default()),
        ),
        PaperFact::some(
            "Measured against",
            specification_named(&worked.specification),
        ),
        PaperFact::some("As of", date_words(worked.today)),
    ];
    PrintedPaper {
        title: title.into(),
        series: series.title.clone(),
        episode: format!("Episode {}, {}", episode.number, episode.title),
        cut: cut.name.clone(),
        verdict: String::new(),
        facts: facts.into_iter().flatten().collect(),
        sections: vec![],
        assumptions: worked.answer.assumptions.clone(),
        cautions: vec![NOT_ADVICE.into()],
        landscape: false,
        made_at: now,
        time_zone: series.zone.clone(),
        made_by: access.actor.name.clone(),
    }
}
