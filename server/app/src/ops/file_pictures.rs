//! Still pictures of clips. Who may see a file may see its pictures, and nobody else; who sends scans sends them. A
//! picture that is there stays: the same content needs no second one.

use std::collections::BTreeMap;

use bytes::Bytes;
use diesel_async::AsyncConnection;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::wording::grouped;

use super::access::{Actor, enter};
use super::documents;
use super::paper::{self, Paper};
use crate::app::App;
use crate::auth::tokens::hex;
use crate::db::Conn;
use crate::db::file_pictures::{self, FilePicture, PictureKind, UnpicturedFile};
use crate::error::OpError;

/// Largest picture, bytes.
pub const LARGEST: usize = 1024 * 1024;
/// Contents that are asked about at once.
const ASKED_AT_ONCE: usize = 5_000;

/// A content, as a scan knows it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ContentAsked {
    /// 32 hexadecimal digits, lower case.
    pub xxh128: String,
    /// Bytes.
    pub size: u64,
}

/// Where a file's pictures are read; null where there is none.
#[derive(Clone, Debug, Default, Serialize, ToSchema)]
pub struct PictureLinks {
    /// One picture.
    #[schema(required)]
    pub poster: Option<String>,
    /// Several pictures over the length of the clip, in rows.
    #[schema(required)]
    pub contact_sheet: Option<String>,
}

/// Which of these contents the series knows and has not every picture of.
///
/// # Errors
/// Access; `BadRequest` for too many at once; the database's.
pub async fn lacking(
    app: &App,
    actor: &Actor,
    series: Uuid,
    asked: Vec<ContentAsked>,
) -> Result<Vec<UnpicturedFile>, OpError> {
    if asked.len() > ASKED_AT_ONCE {
        return Err(OpError::BadRequest(format!(
            "{} contents were asked about; ask about at most {ASKED_AT_ONCE} at once",
            asked.len()
        )));
    }
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::SendScan).await?;
    let size = |size| i64::try_from(size).unwrap_or(i64::MAX);
    let (hashes, sizes): (Vec<String>, Vec<i64>) = asked
        .into_iter()
        .map(|content| (content.xxh128, size(content.size)))
        .unzip();
    Ok(file_pictures::lacking(conn, series, (&hashes, &sizes)).await?)
}

/// Takes a picture of a file in.
///
/// # Errors
/// Access; `NotFound`; `TooLarge`; `UnsupportedType` for what is no JPEG; `BadRequest` for half of one; the store's and
/// the database's.
pub async fn receive(
    app: &App,
    actor: &Actor,
    (series, file): (Uuid, Uuid),
    kind: PictureKind,
    media_type: &str,
    content: Bytes,
) -> Result<PictureLinks, OpError> {
    {
        // The connection goes back before the slow part begins.
        let conn = &mut *app.pool.get().await?;
        enter(conn, actor, series, Action::SendScan).await?;
        file_pictures::name_of(conn, series, file)
            .await?
            .ok_or(OpError::NotFound("the file"))?;
    }
    if !media_type.eq_ignore_ascii_case(Paper::Jpeg.media_type()) {
        return Err(OpError::UnsupportedType(
            "send a JPEG under its own Content-Type (image/jpeg)".into(),
        ));
    }
    if content.len() > LARGEST {
        return Err(OpError::TooLarge(format!(
            "the picture has {} bytes; at most {} KiB are taken",
            grouped(content.len() as u64),
            LARGEST >> 10
        )));
    }
    paper::inspect(Paper::Jpeg, &content)?;
    let picture = FilePicture {
        file_id: file,
        kind,
        series_id: series,
        sha256: hex(&Sha256::digest(&content)),
        size: i32::try_from(content.len()).unwrap_or(i32::MAX),
        created_at: app.now(),
    };
    app.blobs.put(&picture.sha256, content).await?;
    let conn = &mut *app.pool.get().await?;
    let mut links = conn
        .transaction::<_, OpError, _>(async |conn| {
            file_pictures::add(conn, &picture).await?;
            links(conn, series, &[file]).await
        })
        .await?;
    Ok(links.remove(&file).unwrap_or_default())
}

/// The name of a file that has this picture, and the picture.
///
/// # Errors
/// Access; `NotFound`; the store's; `Internal` when the store gives something else than was put in.
pub async fn fetch(
    app: &App,
    actor: &Actor,
    series: Uuid,
    sha256: &str,
) -> Result<(String, Bytes), OpError> {
    let name = seen(app, actor, series, sha256).await?;
    Ok((name, documents::content(app, sha256).await?))
}

/// The name of a file that has this picture, for those who may see it.
///
/// # Errors
/// Access; `NotFound`; the database's.
pub async fn seen(app: &App, actor: &Actor, series: Uuid, sha256: &str) -> Result<String, OpError> {
    let conn = &mut *app.pool.get().await?;
    enter(conn, actor, series, Action::ViewFootage).await?;
    let name = file_pictures::file_with(conn, series, sha256).await?;
    name.ok_or(OpError::NotFound("the picture"))
}

/// Where the pictures of these files are read.
///
/// # Errors
/// The database's.
pub async fn links(
    conn: &Conn,
    series: Uuid,
    files: &[Uuid],
) -> Result<BTreeMap<Uuid, PictureLinks>, OpError> {
    let mut found: BTreeMap<Uuid, PictureLinks> = BTreeMap::new();
    for picture in file_pictures::of_files(conn, series, files).await? {
        let link = Some(format!("/api/series/{series}/pictures/{}", picture.sha256));
        let links = found.entry(picture.file_id).or_default();
        match picture.kind {
            PictureKind::Poster => links.poster = link,
            PictureKind::ContactSheet => links.contact_sheet = link,
        }
    }
    Ok(found)
}
