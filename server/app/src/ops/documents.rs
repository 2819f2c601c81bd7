//! Uploads and downloads of scanned papers. What comes in is checked before it is kept: its size as declared, what it
//! claims to be against what it is, and that it is whole. A failure on the way leaves nothing behind.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::Path;

use bytes::Bytes;
use diesel::prelude::*;
use diesel::sql_types::{Bool, Text, Uuid as SqlUuid};
use diesel_async::{AsyncConnection, RunQueryDsl};
use futures_util::{Stream, StreamExt};
use sha2::{Digest, Sha256};
use tokio::sync::Semaphore;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::wording::grouped;

use super::access::{Access, Actor, look};
use super::audit::{self, NOTHING, Subject};
use super::check;
use super::paper::{self, Paper};
use crate::app::App;
use crate::auth::tokens::hex;
use crate::db::Conn;
use crate::db::documents::{self, Document};
use crate::error::OpError;

/// Largest document, bytes.
pub const LARGEST: u64 = 25 * 1024 * 1024;
/// Uploads that one server takes at the same time.
static PLACES: Semaphore = Semaphore::const_new(8);

/// What the sender says of an upload.
pub struct Upload {
    pub name: String,
    /// Content-Type without parameters.
    pub media_type: String,
    /// Content-Length.
    pub length: Option<u64>,
}

/// Takes a document in.
///
/// # Errors
/// Access; `TooLarge` before anything is read; `UnsupportedType` when it is not what it says; `BadRequest` when it broke
/// off; `RateLimited` when too many come at once.
pub async fn receive<E: std::fmt::Display>(
    app: &App,
    actor: &Actor,
    series: Uuid,
    upload: Upload,
    body: impl Stream<Item = Result<Bytes, E>>,
) -> Result<Document, OpError> {
    {
        // The connection goes back before the slow part begins.
        let conn = &mut *app.pool.get().await?;
        let access = look(conn, actor, series).await?;
        if !access.may(Action::EditLicences) {
            access.require(Action::EditReleases)?;
        }
    }
    let (paper, length) = announced(&upload)?;
    let _place = PLACES
        .try_acquire()
        .map_err(|_full| OpError::RateLimited(10))?;
    let file = scratch(&app.config.var.join("uploads")).map_err(|error| no_room(&error))?;
    let (file, id) = pour(file, length, body).await?;
    let content = tokio::task::spawn_blocking(move || whole(file))
        .await
        .map_err(|error| OpError::Internal(format!("upload: {error}")))?
        .map_err(|error| no_room(&error))?;
    paper::inspect(paper, &content)?;
    app.blobs.put(&id, content.into()).await?;
    let document = Document {
        series_id: series,
        id,
        name: upload.name.trim().to_owned(),
        media_type: paper.media_type().to_owned(),
        size: i64::try_from(length).unwrap_or(i64::MAX),
        created_at: app.now(),
    };
    keep(app, actor, document).await
}

/// The row and its audit line; the same content sent twice is the document that is there.
async fn keep(app: &App, actor: &Actor, document: Document) -> Result<Document, OpError> {
    let conn = &mut *app.pool.get().await?;
    conn.transaction::<_, OpError, _>(async |conn| {
        if documents::add(conn, &document).await? {
            let subject = Subject {
                series: Some(document.series_id),
                kind: "document",
                id: None,
            };
            let now = document.created_at;
            audit::record(
                conn,
                actor,
                now,
                "uploaded",
                subject,
                NOTHING,
                Some(&document),
            )
            .await?;
            return Ok(document);
        }
        documents::load(conn, document.series_id, &document.id)
            .await?
            .ok_or(OpError::NotFound("the document"))
    })
    .await
}

/// What can be refused before the first byte is read.
fn announced(upload: &Upload) -> Result<(Paper, u64), OpError> {
    let mut faults = Vec::new();
    check::required(&mut faults, "/name", &upload.name, 255);
    if !faults.is_empty() {
        return Err(OpError::Invalid(faults));
    }
    let paper = paper::claimed(&upload.name, &upload.media_type)?;
    match upload.length {
        None => Err(OpError::BadRequest(
            "say how large the document is (Content-Length)".into(),
        )),
        Some(0) => Err(OpError::BadRequest(
            "the document is empty; nothing was kept".into(),
        )),
        Some(length) if length > LARGEST => Err(OpError::TooLarge(format!(
            "the document has {} bytes; at most {} MB are taken. Scan it in grey or at a lower resolution",
            grouped(length),
            LARGEST >> 20
        ))),
        Some(length) => Ok((paper, length)),
    }
}

/// A file without a name: whatever ends this process or request, nothing of it stays.
fn scratch(folder: &Path) -> std::io::Result<File> {
    std::fs::create_dir_all(folder)?;
    let path = folder.join(Uuid::now_v7().to_string());
    let file = File::options()
        .read(true)
        .write(true)
        .create_new(true)
        .open(&path)?;
    std::fs::remove_file(&path)?;
    Ok(file)
}

/// Writes the body into the file while hashing it; its length must be the announced one.
async fn pour<E: std::fmt::Display>(
    file: File,
    length: u64,
    body: impl Stream<Item = Result<Bytes, E>>,
) -> Result<(File, String), OpError> {
    let broken = |got: u64| {
        OpError::BadRequest(format!(
            "the upload broke off: {} of {} bytes arrived. Nothing was kept; please send it again",
            grouped(got),
            grouped(length)
        ))
    };
    let mut body = std::pin::pin!(body);
    let (mut file, mut hash, mut got) = (file, Sha256::new(), 0_u64);
    while let Some(chunk) = body.next().await {
        let chunk = chunk.map_err(|error| {
            tracing::info!(%error, got, length, "upload.broken");
            broken(got)
        })?;
        got += chunk.len() as u64;
        if got > length {
            return Err(OpError::BadRequest(
                "more bytes arrived than were announced; nothing was kept".into(),
            ));
        }
        hash.update(&chunk);
        file = tokio::task::spawn_blocking(move || file.write_all(&chunk).map(|()| file))
            .await
            .map_err(|error| OpError::Internal(format!("upload: {error}")))?
            .map_err(|error| no_room(&error))?;
    }
    if got < length {
        return Err(broken(got));
    }
    Ok((file, hex(&hash.finalize())))
}

fn whole(mut file: File) -> std::io::Result<Vec<u8>> {
    let mut content = Vec::new();
    file.seek(SeekFrom::Start(0))?;
    file.read_to_end(&mut content)?;
    Ok(content)
}

fn no_room(error: &std::io::Error) -> OpError {
    tracing::error!(%error, "upload.no_room");
    OpError::Unavailable(
        "The server has no room for uploads just now. Nothing was kept; please tell an administrator.",
    )
}

/// A document with its content.
///
/// # Errors
/// Access; `NotFound`; `Internal` when the store gives something else than was put in.
pub async fn fetch(
    app: &App,
    actor: &Actor,
    series: Uuid,
    id: &str,
) -> Result<(Document, Bytes), OpError> {
    let document = {
        let conn = &mut *app.pool.get().await?;
        let access = look(conn, actor, series).await?;
        if !access.may(Action::ViewLicences) {
            access.require(Action::ViewReleases)?;
        }
        let document = documents::load(conn, series, id).await?;
        let document = document.ok_or(OpError::NotFound("the document"))?;
        readable(conn, &access, id).await?;
        document
    };
    let content = content(app, &document.id).await?;
    Ok((document, content))
}

/// What the store has under a hash, looked at whether it is that.
///
/// # Errors
/// `NotFound`; the store's; `Internal` when it is something else.
pub async fn content(app: &App, sha256: &str) -> Result<Bytes, OpError> {
    let content = app.blobs.get(sha256).await?;
    let hash = {
        let content = content.clone();
        tokio::task::spawn_blocking(move || hex(&Sha256::digest(&content)))
            .await
            .map_err(|error| OpError::Internal(format!("document: {error}")))?
    };
    if hash != sha256 {
        return Err(OpError::Internal(format!(
            "document {sha256}: the store's content has another hash"
        )));
    }
    Ok(content)
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = Bool)]
    by_release: bool,
    #[diesel(sql_type = Bool)]
    by_licence: bool,
}

/// Who sees only licences does not get the scan of a release by its id, nor the other way round.
async fn readable(conn: &mut Conn, access: &Access, id: &str) -> Result<(), OpError> {
    let (releases, licences) = (
        access.may(Action::ViewReleases),
        access.may(Action::ViewLicences),
    );
    if releases && licences {
        return Ok(());
    }
    let named: Named = diesel::sql_query(
        "select exists(select from releases where series_id = $1 and document_id = $2) as by_release,
                exists(select from licences where series_id = $1 and document_id = $2) as by_licence",
    )
    .bind::<SqlUuid, _>(access.series.id)
    .bind::<Text, _>(id)
    .get_result(conn)
    .await?;
    let loose = !named.by_release && !named.by_licence;
    if loose || (releases && named.by_release) || (licences && named.by_licence) {
        return Ok(());
    }
    access.require(if named.by_release {
        Action::ViewReleases
    } else {
        Action::ViewLicences
    })
}
