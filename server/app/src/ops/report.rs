//! The per-episode clearance and asset report (rulebook R50): the clearance put into the words and figures of
//! `waybill_domain::report`, and set as PDF, workbook, table or JSON. Each download, and each reading of the
//! page, leaves a line in the audit trail, told apart.

pub(super) mod rows;
mod words;

use std::collections::HashMap;
use std::sync::Arc;

use serde_json::json;
use uuid::Uuid;
use waybill_domain::clearance::{Answer, ElementKind, End};
use waybill_domain::perms::Action;
use waybill_domain::report::{
    ClearanceReport, REPORT_FORMAT, ReportDay, ReportEnding, ReportHeader, ReportIntegrity,
    ReportRate, ReportSummary, ReportWindow, count_states, sort_rows,
};
use waybill_domain::rights::release::Restriction;
use waybill_domain::timecode::Rate;
use waybill_reports::{ReportError, render_csv, render_json, render_pdf, render_xlsx};

use super::access::{Access, Actor};
use super::audit::{self, NOTHING, Subject};
use super::blocking;
use super::clearance::{Asked, Worked, approvals, work};
use super::form::{Form, plain};
use crate::app::App;
use crate::db::clearance::source_size;
use crate::error::OpError;

/// What a report is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// To be shown on our own page.
    Read,
    /// To be taken out of the house.
    Download,
    /// To be kept as sent to a broadcaster.
    Issue,
}

impl Purpose {
    /// Its word in the audit trail.
    pub fn action(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Download => "downloaded",
            Self::Issue => "issued",
        }
    }
}

/// A report, ready to be kept.
pub struct Made {
    /// `EP03_clearance_260714_v2.pdf`.
    pub file_name: String,
    pub bytes: Vec<u8>,
}

/// Makes the report of an episode's cut for a delivery.
///
/// # Errors
/// Access; as the clearance; `TooLarge` for more than paper can hold.
pub async fn make(
    app: &App,
    actor: &Actor,
    series: Uuid,
    episode: Uuid,
    asked: Asked,
    form: Form,
    purpose: Purpose,
) -> Result<Made, OpError> {
    let ids = (series, episode);
    let asked = Asked {
        to_leave: purpose == Purpose::Issue,
        ..asked
    };
    let (access, worked) = work(app, actor, Action::DownloadReport, ids, asked).await?;
    let file_name = file_name(&worked, form);
    let now = app.now();
    let (size, approval) = {
        let conn = &mut *app.pool.get().await?;
        let cut = worked.material.cut.head.id;
        let size = source_size(conn, cut).await?;
        let after = json!({
            "file": file_name, "cut": worked.material.cut.head.name, "specification": worked.specification.fields.name,
        });
        let subject = Subject::of(series, "report", cut);
        audit::record(
            conn,
            actor,
            now,
            purpose.action(),
            subject,
            NOTHING,
            Some(&after),
        )
        .await?;
        let approval = approvals::standing(conn, &worked).await?;
        (u64::try_from(size).unwrap_or(0), approval)
    };
    let mut report = report(&access, &worked, now, size);
    if let Some(approval) = approval {
        let said = words::approved(&approval, &access.series.fields.zone);
        report.summary.blocked_because.push_str(&said);
    }
    let bytes = render(app, report, form).await?;
    Ok(Made { file_name, bytes })
}

/// Sets the report; the typesetter and the workbook one at a time.
async fn render(app: &App, report: ClearanceReport, form: Form) -> Result<Vec<u8>, OpError> {
    let turn = match form {
        Form::Pdf | Form::Xlsx => {
            let turn = Arc::clone(&app.typesetting).acquire_owned().await;
            Some(turn.map_err(|error| OpError::Internal(error.to_string()))?)
        }
        Form::Json | Form::Csv => None,
    };
    let set = move || {
        // Held until the work is done, even when nobody waits for it any more.
        let _turn = turn;
        match form {
            Form::Json => render_json(&report),
            Form::Pdf => render_pdf(&report),
            Form::Xlsx => render_xlsx(&report),
            Form::Csv => render_csv(&report),
        }
    };
    blocking(set).await?.map_err(|error| match error {
        ReportError::TooLarge { .. } => OpError::TooLarge(error.to_string()),
        other => OpError::Internal(other.to_string()),
    })
}

/// The clearance as the report's data.
fn report(
    access: &Access,
    worked: &Worked,
    now: chrono::DateTime<chrono::Utc>,
    source_size: u64,
) -> ClearanceReport {
    let (mut rows, mut uses) = rows::all(worked);
    sort_rows(&mut rows, &mut uses);
    uses.sort_by(|a, b| (&a.record_in, a.row).cmp(&(&b.record_in, b.row)));
    let answer = &worked.answer;
    let material = &worked.material;
    let head = &material.cut.head;
    let counts = material.cut.counts;
    ClearanceReport {
        format: REPORT_FORMAT.into(),
        header: header(access, worked, now),
        summary: ReportSummary {
            counts: count_states(&rows),
            blocked: answer.blocked,
            blocked_because: words::blocked_because(answer),
            window: window(answer),
        },
        calendar: calendar(answer, worked.today),
        assumptions: answer.assumptions.clone(),
        rules: words::rules(answer),
        cautions: words::cautions(has_minors(worked), has_promised_anonymity(worked)),
        integrity: ReportIntegrity {
            cut_file: head.source_name.clone(),
            cut_file_size: source_size,
            cut_file_sha256: head.source_sha256.clone(),
            imported_at: Some(head.created_at),
            events: count(counts.events),
            events_matched: count(counts.events - counts.unknown_sources),
            program: concat!("Waybill ", env!("CARGO_PKG_VERSION")).into(),
        },
        rows,
        uses,
    }
}

fn header(access: &Access, worked: &Worked, now: chrono::DateTime<chrono::Utc>) -> ReportHeader {
    let (series, material) = (&access.series.fields, &worked.material);
    let head = &material.cut.head;
    let rate = head.rate.parse::<Rate>().ok();
    let part = |part: Option<i64>, otherwise| {
        part.and_then(|n| u32::try_from(n).ok())
            .unwrap_or(otherwise)
    };
    ReportHeader {
        series: series.title.clone(),
        producer_entity: series.producer_entity.clone(),
        episode_number: material.episode.fields.number.to_string(),
        episode_title: material.episode.fields.title.clone(),
        cut_name: head.name.clone(),
        cut_version: head.cut_number.map(|number| number.to_string()),
        cut_date: head.cut_date,
        frame_rate: ReportRate {
            numerator: part(rate.map(Rate::num), 25),
            denominator: part(rate.map(Rate::den), 1),
            drop_frame: rate.is_some_and(Rate::drop),
        },
        running_frames: u64::try_from(head.duration_frames).unwrap_or(0),
        locked: head.locked,
        specification: rows::specification(&worked.specification, &worked.material.groups),
        made_at: now,
        time_zone: series.zone.clone(),
        made_by: access.actor.name.clone(),
    }
}

/// What lies ahead.
fn calendar(answer: &Answer, today: chrono::NaiveDate) -> Vec<ReportDay> {
    let labels: HashMap<&str, &str> = (answer.elements.iter())
        .map(|one| (one.id.as_str(), one.label.as_str()))
        .collect();
    (answer.calendar.iter())
        .filter(|line| line.on >= today)
        .map(|line| {
            let element = line.element.as_deref();
            let label = element.and_then(|id| labels.get(id)).copied();
            let planned = if line.provisional {
                " As planned; it may move."
            } else {
                ""
            };
            ReportDay {
                on: line.on,
                what: line.kind.words().to_owned(),
                label: label.unwrap_or_default().to_owned(),
                sentence: format!("{}{planned}", line.sentence),
            }
        })
        .collect()
}

fn window(answer: &Answer) -> ReportWindow {
    let window = &answer.window;
    let label = |id: Option<&String>| {
        let element = (answer.elements.iter()).find(|element| Some(&element.id) == id)?;
        Some(element.label.clone())
    };
    ReportWindow {
        known: matches!(window.end, End::On(_) | End::Open),
        last_day: match window.end {
            End::On(day) => Some(day),
            _ => None,
        },
        set_by: label(window.set_by.first()),
        sentence: window.sentence.clone(),
        earliest_ending: window.earliest_known.map(|last_day| ReportEnding {
            label: label(window.earliest_known_by.first()).unwrap_or_default(),
            last_day,
            applies_to: String::new(),
        }),
    }
}

/// Whether somebody who is under age now, or of whom no age is kept but that, is in the cut.
fn has_minors(worked: &Worked) -> bool {
    use waybill_domain::clearance::AgeBand;
    worked
        .question
        .elements
        .iter()
        .any(|element| match element.kind {
            ElementKind::Person { born, age_band, .. } => match born {
                Some(born) => waybill_domain::age::age(born, worked.today) < 18,
                None => age_band == Some(AgeBand::Minor),
            },
            _ => false,
        })
}

fn has_promised_anonymity(worked: &Worked) -> bool {
    let releases = worked
        .question
        .elements
        .iter()
        .flat_map(|element| &element.backing.releases);
    let anonymous = |restriction: &Restriction| {
        matches!(
            restriction,
            Restriction::BlurFace
                | Restriction::ChangeVoice
                | Restriction::NoName
                | Restriction::NamedAs { .. }
        )
    };
    releases
        .flat_map(|release| &release.form.restrictions)
        .any(anonymous)
}

fn count(n: i64) -> u32 {
    u32::try_from(n).unwrap_or(0)
}

/// `EP03_clearance_260714_v2.pdf`: the episode, and which cut; plain letters only.
fn file_name(worked: &Worked, form: Form) -> String {
    let head = &worked.material.cut.head;
    let cut = match (head.cut_date, head.cut_number) {
        (Some(date), Some(number)) => format!("{}_v{number}", date.format("%y%m%d")),
        (Some(date), None) => date.format("%y%m%d").to_string(),
        _ => plain(&head.name),
    };
    let number = worked.material.episode.fields.number;
    format!("EP{number:02}_clearance_{cut}.{}", form.ending())
}

/// A specification in a few words, for the head of a paper.
pub fn specification_named(found: &crate::db::specifications::Specification) -> String {
    let fields = &found.fields;
    [&fields.name, &fields.edition, &fields.broadcaster]
        .into_iter()
        .filter(|part| !part.trim().is_empty())
        .cloned()
        .collect::<Vec<_>>()
        .join(", ")
}
