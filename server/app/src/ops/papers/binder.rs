//! The binder: the scans of all releases and licences behind a cut in one document. Only what the reader may open by
//! itself is in it, and the contents say what was left out.

use serde_json::json;
use sha2::{Digest, Sha256};
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::wording::date_words;
use waybill_reports::{Binder, BinderItem, ReportError, render_binder};

use super::episode::blank;
use super::third_party::counted;
use super::{File, plain};
use crate::app::App;
use crate::auth::tokens::hex;
use crate::db::documents::{self, Document};
use crate::db::licences::{Licence, LicenceSide, LicenceState};
use crate::db::releases::{Release, ReleaseFields, ReleaseKind, ReleaseSigner, ReleaseState};
use crate::error::OpError;
use crate::ops::access::{Access, Actor};
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::blocking;
use crate::ops::clearance::{Asked, Worked, work};

/// Most that one binder holds, bytes of scans: they are in memory while it is made.
const MOST: i64 = 200 * 1024 * 1024;

/// A paper that belongs into the binder.
struct Wanted {
    title: String,
    state: &'static str,
    lines: Vec<(String, String)>,
    document: Option<String>,
}

/// Makes the binder of an episode's cut.
///
/// # Errors
/// Access; as the clearance; `TooLarge`; the store's and the database's.
pub async fn file(
    app: &App,
    actor: &Actor,
    ids: (Uuid, Uuid),
    asked: Asked,
) -> Result<File, OpError> {
    let (access, worked) = work(app, actor, Action::DownloadReport, ids, asked).await?;
    let (releases, licences) = (
        access.may(Action::ViewReleases),
        access.may(Action::ViewLicences),
    );
    if !releases && !licences {
        access.require(Action::ViewReleases)?;
    }
    let mut wanted = Vec::new();
    if releases {
        wanted.extend(
            worked
                .material
                .records
                .releases
                .iter()
                .map(|one| release(&worked, one)),
        );
    }
    if licences {
        wanted.extend(
            worked
                .material
                .records
                .licences
                .iter()
                .map(|one| licence(&worked, one)),
        );
    }
    wanted.sort_by(|a, b| a.title.cmp(&b.title));
    let found = found(app, ids.0, &wanted).await?;
    let mut items = Vec::new();
    for (one, document) in wanted.into_iter().zip(found) {
        items.push(item(app, one, document).await?);
    }
    let left_out = left_out(releases, licences);
    let scans = items.iter().filter(|one| !one.bytes.is_empty()).count();
    let bytes = set(app, &access, &worked, items, left_out).await?;
    let cut = &worked.material.cut.head;
    let number = worked.material.episode.fields.number;
    let name = format!("EP{number:02}_binder_{}.pdf", plain(&cut.name));
    let conn = &mut *app.pool.get().await?;
    let after = json!({ "file": name, "cut": cut.name, "scans": scans });
    let subject = Subject::of(ids.0, "report", cut.id);
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
        media_type: "application/pdf",
        bytes,
    })
}

fn left_out(releases: bool, licences: bool) -> Vec<String> {
    let mut words = Vec::new();
    if !releases {
        words.push("Releases: your roles do not include seeing them.".to_owned());
    }
    if !licences {
        words.push("Licences: your roles do not include seeing them.".to_owned());
    }
    words
}

async fn set(
    app: &App,
    access: &Access,
    worked: &Worked,
    items: Vec<BinderItem>,
    left_out: Vec<String>,
) -> Result<Vec<u8>, OpError> {
    let mut head = blank(access, worked, "Release and licence binder", app.now());
    let scans = items.iter().filter(|one| !one.bytes.is_empty()).count();
    head.verdict = format!(
        "{} behind this cut, {} with a scan.",
        counted(items.len(), "paper"),
        scans
    );
    head.cautions.push(
        "A scanned release does not show that the person understood what they agreed to.".into(),
    );
    let binder = Binder {
        head,
        items,
        left_out,
    };
    let turn = std::sync::Arc::clone(&app.typesetting)
        .acquire_owned()
        .await;
    let turn = turn.map_err(|error| OpError::Internal(error.to_string()))?;
    let made = blocking(move || {
        let _turn = turn;
        render_binder(binder)
    });
    made.await?.map_err(|error| match error {
        ReportError::TooLarge { .. } => OpError::TooLarge(error.to_string()),
        other => OpError::Internal(other.to_string()),
    })
}

/// The rows of the documents, and whether all of them fit.
async fn found(
    app: &App,
    series: Uuid,
    wanted: &[Wanted],
) -> Result<Vec<Option<Document>>, OpError> {
    let conn = &mut *app.pool.get().await?;
    let mut all = Vec::new();
    let mut bytes = 0_i64;
    for one in wanted {
        let document = match &one.document {
            Some(id) => documents::load(conn, series, id).await?,
            None => None,
        };
        bytes += document.as_ref().map_or(0, |document| document.size);
        all.push(document);
    }
    if bytes > MOST || wanted.len() > 1000 {
        return Err(OpError::TooLarge(format!(
            "the scans behind this cut have {} MB in {} papers; at most {} MB in 1000 papers go into one binder. Take \
             the scans one by one from their records",
            bytes >> 20,
            wanted.len(),
            MOST >> 20
        )));
    }
    Ok(all)
}

async fn item(
    app: &App,
    wanted: Wanted,
    document: Option<Document>,
) -> Result<BinderItem, OpError> {
    let mut item = BinderItem {
        title: wanted.title,
        state: wanted.state.into(),
        lines: wanted.lines,
        file_name: String::new(),
        media_type: String::new(),
        sha256: String::new(),
        bytes: Vec::new(),
        absent: "No scan is kept.".into(),
    };
    let Some(document) = document else {
        return Ok(item);
    };
    item.file_name = document.name;
    item.media_type = document.media_type;
    item.sha256.clone_from(&document.id);
    let content = match app.blobs.get(&document.id).await {
        Ok(content) => content,
        Err(OpError::NotFound(_)) => {
            item.absent = "The scan is not in the store. Tell an administrator.".into();
            return Ok(item);
        }
        Err(error) => return Err(error),
    };
    let hash = {
        let content = content.clone();
        blocking(move || hex(&Sha256::digest(&content))).await?
    };
    if hash == document.id {
        item.absent.clear();
        item.bytes = content.to_vec();
    } else {
        item.absent =
            "The stored scan has another SHA-256 than when it was uploaded. Tell an administrator."
                .into();
    }
    Ok(item)
}

fn line(name: &str, value: impl Into<String>) -> Option<(String, String)> {
    let value = value.into();
    (!value.trim().is_empty()).then(|| (name.to_owned(), value))
}

fn release(worked: &Worked, release: &Release) -> Wanted {
    let (fields, records) = (&release.fields, &worked.material.records);
    let about = (fields.person_id.and_then(|id| records.people.get(&id)))
        .map(|person| person.fields.credited_name.clone())
        .or_else(|| Some(records.places.get(&fields.place_id?)?.fields.name.clone()))
        .or_else(|| Some(records.assets.get(&fields.asset_id?)?.fields.title.clone()))
        .unwrap_or_else(|| "something that was deleted".into());
    Wanted {
        title: format!("Release: {about}"),
        state: release_state_words(fields.status),
        lines: [
            line("Kind", kind_words(fields.kind)),
            line(
                "Signed",
                fields
                    .signed_on
                    .map_or_else(|| "not signed".into(), date_words),
            ),
            line("Signed by", signer_words(fields)),
            line("State", release_state_words(fields.status)),
            line("Form", fields.form_version.clone()),
            line("Original", fields.original_held.clone()),
        ]
        .into_iter()
        .flatten()
        .collect(),
        document: fields.document_id.clone(),
    }
}

fn licence(worked: &Worked, licence: &Licence) -> Wanted {
    let (fields, records) = (&licence.fields, &worked.material.records);
    let about = (fields.asset_id.and_then(|id| records.assets.get(&id)))
        .map(|asset| asset.fields.title.clone())
        .or_else(|| Some(records.music.get(&fields.music_id?)?.fields.title.clone()))
        .unwrap_or_else(|| "something that was deleted".into());
    Wanted {
        title: format!("Licence: {about}, {}", fields.licensor),
        state: licence_state_words(fields.status),
        lines: [
            line("Side", side_words(fields.side)),
            line("Reference", fields.reference.clone()),
            line(
                "Signed",
                fields
                    .signed_on
                    .map_or_else(|| "not signed".into(), date_words),
            ),
            line("State", licence_state_words(fields.status)),
        ]
        .into_iter()
        .flatten()
        .collect(),
        document: fields.document_id.clone(),
    }
}

/// As the pages say it (`web/src/words/states.ts`), here and below.
fn kind_words(kind: ReleaseKind) -> &'static str {
    match kind {
        ReleaseKind::Minor => "appearance, under 18",
        ReleaseKind::CrowdNotice => "crowd notice",
        ReleaseKind::School => "school's permission",
        ReleaseKind::Team => "team's permission",
        ReleaseKind::League => "league's permission",
        other => other.word(),
    }
}

fn release_state_words(state: ReleaseState) -> &'static str {
    match state {
        ReleaseState::NotAsked => "not asked",
        ReleaseState::SignedNotChecked => "signed, not checked",
        ReleaseState::Ok => "signed and checked",
        ReleaseState::RestrictedOk => "signed and checked, with restrictions",
        ReleaseState::Problem => "there is a problem with it",
        ReleaseState::WithdrawnBeingDecided => "withdrawn, being decided",
        ReleaseState::NotNeeded => "not needed",
        other => other.word(),
    }
}

/// Who signed and as whom: with somebody under 18 that decides whether the form holds.
fn signer_words(fields: &ReleaseFields) -> String {
    let name = fields.signed_by_name.trim();
    let as_whom = match fields.signed_by {
        None => "",
        Some(ReleaseSigner::Person) => "the person",
        Some(ReleaseSigner::Guardian) => "a guardian",
        Some(ReleaseSigner::Owner) => "the owner, or with the owner's authority",
        Some(ReleaseSigner::Other) => "somebody else: neither the person, a guardian nor the owner",
    };
    match (name, as_whom) {
        ("", as_whom) => as_whom.into(),
        (name, "") => name.into(),
        (name, as_whom) => format!("{name} ({as_whom})"),
    }
}

fn side_words(side: LicenceSide) -> &'static str {
    match side {
        LicenceSide::Whole => "the whole asset",
        LicenceSide::Composition => "composition (sync)",
        LicenceSide::Recording => "recording (master use)",
        LicenceSide::Both => "both sides (one party)",
    }
}

fn licence_state_words(state: LicenceState) -> &'static str {
    match state {
        LicenceState::Temp => "temp, do not deliver",
        LicenceState::AgreedUnsigned => "agreed, unsigned",
        other => other.word(),
    }
}
