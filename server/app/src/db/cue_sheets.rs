//! Cue sheets: what a person adds to the sheet of an episode and to its cues, and the sheets that were issued.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::music::cues::{CueRule, Overlaps, PrintedTotal, Rounding};
use waybill_domain::music::sheet::CueSheet;

use super::music::Music;
use super::schema::{cue_details, cue_sheets, issued_cue_sheets, music};
use super::{Conn, Json};
use crate::text_enum;

text_enum! {
    /// As `domain::music::cues::Rounding`.
    pub enum CueRounding { Nearest = "nearest", Up = "up" }
}
text_enum! {
    /// As `domain::music::cues::Overlaps`.
    pub enum CueOverlaps { SecondBeginsAfter = "second_begins_after", AsHeard = "as_heard" }
}
text_enum! {
    /// As `domain::music::cues::PrintedTotal`.
    pub enum CueTotal { OfFrames = "of_frames", OfCues = "of_cues" }
}
text_enum! {
    /// As `domain::music::keep::CueUsage`.
    pub enum UsageWord {
        Background = "background", Featured = "featured", Theme = "theme", Logo = "logo",
    }
}
text_enum! {
    /// As `domain::music::keep::CueVocals`.
    pub enum VocalsWord { Vocal = "vocal", Instrumental = "instrumental" }
}

/// What a person adds to the sheet of an episode.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = cue_sheets)]
#[serde(deny_unknown_fields)]
pub struct CueSheetFields {
    #[serde(default)]
    pub also_known_as: String,
    #[serde(default)]
    pub production_number: String,
    /// Who answers questions about the sheet.
    #[serde(default)]
    pub contact: String,
    #[serde(default)]
    pub country: String,
    #[serde(default)]
    pub year: String,
    #[serde(default)]
    pub director: String,
    /// A gap of up to so many frames between two pieces of the same music does not start a new cue.
    pub gap_frames: i64,
    pub rounding: CueRounding,
    pub overlaps: CueOverlaps,
    pub total: CueTotal,
}

impl Default for CueSheetFields {
    fn default() -> Self {
        Self {
            also_known_as: String::new(),
            production_number: String::new(),
            contact: String::new(),
            country: String::new(),
            year: String::new(),
            director: String::new(),
            gap_frames: 0,
            rounding: CueRounding::Nearest,
            overlaps: CueOverlaps::SecondBeginsAfter,
            total: CueTotal::OfFrames,
        }
    }
}

impl CueSheetFields {
    /// How cues are made.
    pub fn rule(&self) -> CueRule {
        CueRule {
            gap_frames: self.gap_frames,
            rounding: match self.rounding {
                CueRounding::Nearest => Rounding::Nearest,
                CueRounding::Up => Rounding::Up,
            },
            overlaps: match self.overlaps {
                CueOverlaps::SecondBeginsAfter => Overlaps::SecondBeginsAfter,
                CueOverlaps::AsHeard => Overlaps::AsHeard,
            },
            total: match self.total {
                CueTotal::OfFrames => PrintedTotal::OfFrames,
                CueTotal::OfCues => PrintedTotal::OfCues,
            },
        }
    }
}

/// The fields of an episode's sheet with their version; 0 when nobody wrote any.
#[derive(Clone, Debug, Default, Queryable, Selectable, Serialize, ToSchema)]
#[diesel(table_name = cue_sheets)]
pub struct CueSheetSettings {
    /// Also the ETag; 0: not written yet.
    pub version: i32,
    #[diesel(embed)]
    #[serde(flatten)]
    pub fields: CueSheetFields,
}

/// What a person said of a cue.
#[derive(Clone, Debug, Queryable, Selectable, Insertable, Serialize)]
#[diesel(table_name = cue_details)]
pub struct DetailRow {
    pub cut_id: Uuid,
    pub music_id: Uuid,
    pub record_in: i64,
    pub record_out: i64,
    pub series_id: Uuid,
    pub episode_id: Uuid,
    pub usage: Option<UsageWord>,
    pub vocals: Option<VocalsWord>,
    pub performer_visible: Option<bool>,
    pub note: String,
    pub version: i32,
    pub updated_at: DateTime<Utc>,
}

/// A sheet as it was sent, without its files.
#[derive(Clone, Debug, Queryable, Selectable)]
#[diesel(table_name = issued_cue_sheets)]
pub struct IssuedRow {
    pub id: Uuid,
    pub episode_id: Uuid,
    pub number: i32,
    pub sheet: Json<CueSheet>,
    pub pdf_sha256: String,
    pub issued_by_name: String,
    pub issued_at: DateTime<Utc>,
}

/// A sheet to be kept.
#[derive(Insertable)]
#[diesel(table_name = issued_cue_sheets)]
pub struct NewIssued {
    pub id: Uuid,
    pub series_id: Uuid,
    pub episode_id: Uuid,
    pub number: i32,
    pub sheet: Json<CueSheet>,
    pub pdf: Vec<u8>,
    pub xlsx: Vec<u8>,
    pub csv: Vec<u8>,
    pub pdf_sha256: String,
    pub issued_by: Uuid,
    pub issued_by_name: String,
    pub issued_at: DateTime<Utc>,
}

/// The three files of an issued sheet.
#[derive(Queryable, Selectable)]
#[diesel(table_name = issued_cue_sheets)]
pub struct IssuedFiles {
    pub pdf: Vec<u8>,
    pub xlsx: Vec<u8>,
    pub csv: Vec<u8>,
}

/// What was written about an episode's sheet.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn settings(conn: &mut Conn, episode: Uuid) -> QueryResult<CueSheetSettings> {
    let found = cue_sheets::table
        .find(episode)
        .select(CueSheetSettings::as_select())
        .first(conn)
        .await
        .optional()?;
    Ok(found.unwrap_or_default())
}

/// Writes the fields where the version is still `version` (0: there are none yet); none when it is not.
pub async fn set_settings(
    conn: &mut Conn,
    series: Uuid,
    episode: Uuid,
    version: i32,
    fields: &CueSheetFields,
    now: DateTime<Utc>,
) -> QueryResult<Option<CueSheetSettings>> {
    if version == 0 {
        return diesel::insert_into(cue_sheets::table)
            .values((
                cue_sheets::episode_id.eq(episode),
                cue_sheets::series_id.eq(series),
                cue_sheets::version.eq(1),
                cue_sheets::updated_at.eq(now),
                fields.clone(),
            ))
            .on_conflict_do_nothing()
            .returning(CueSheetSettings::as_returning())
            .get_result(conn)
            .await
            .optional();
    }
    diesel::update(cue_sheets::table.find(episode))
        .filter(cue_sheets::version.eq(version))
        .set((
            fields.clone(),
            cue_sheets::version.eq(version.wrapping_add(1)),
            cue_sheets::updated_at.eq(now),
        ))
        .returning(CueSheetSettings::as_returning())
        .get_result(conn)
        .await
        .optional()
}

/// What was said of the cues of an episode's cuts, the newest first.
pub async fn details(conn: &mut Conn, episode: Uuid) -> QueryResult<Vec<DetailRow>> {
    cue_details::table
        .filter(cue_details::episode_id.eq(episode))
        .order((
            cue_details::updated_at.desc(),
            cue_details::cut_id.desc(),
            cue_details::record_in,
        ))
        .select(DetailRow::as_select())
        .load(conn)
        .await
}

/// What was said of one cue.
pub async fn detail(conn: &mut Conn, row: &DetailRow) -> QueryResult<Option<DetailRow>> {
    cue_details::table
        .find((row.cut_id, row.music_id, row.record_in, row.record_out))
        .select(DetailRow::as_select())
        .first(conn)
        .await
        .optional()
}

#[derive(QueryableByName)]
struct Written {
    #[diesel(sql_type = Integer)]
    version: i32,
}

/// Writes what is said of a cue where its version is still `version` (0: nothing was said yet); none when it is not.
pub async fn set_detail(
    conn: &mut Conn,
    row: &DetailRow,
    version: i32,
) -> QueryResult<Option<i32>> {
    let written: Option<Written> = diesel::sql_query(
        "insert into cue_details (cut_id, music_id, record_in, record_out, series_id, episode_id, usage, vocals, \
           performer_visible, note, version, updated_at) \
         select $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, 1, $11 \
         where $12 = 0 or exists (select from cue_details where cut_id = $1 and music_id = $2 and record_in = $3 \
           and record_out = $4) \
         on conflict (cut_id, music_id, record_in, record_out) do update set usage = excluded.usage, \
           vocals = excluded.vocals, performer_visible = excluded.performer_visible, note = excluded.note, \
           version = cue_details.version + 1, updated_at = excluded.updated_at \
         where cue_details.version = $12 \
         returning version",
    )
    .bind::<SqlUuid, _>(row.cut_id)
    .bind::<SqlUuid, _>(row.music_id)
    .bind::<BigInt, _>(row.record_in)
    .bind::<BigInt, _>(row.record_out)
    .bind::<SqlUuid, _>(row.series_id)
    .bind::<SqlUuid, _>(row.episode_id)
    .bind::<Nullable<Text>, _>(row.usage.map(UsageWord::word))
    .bind::<Nullable<Text>, _>(row.vocals.map(VocalsWord::word))
    .bind::<Nullable<diesel::sql_types::Bool>, _>(row.performer_visible)
    .bind::<Text, _>(&row.note)
    .bind::<Timestamptz, _>(row.updated_at)
    .bind::<Integer, _>(version)
    .get_result(conn)
    .await
    .optional()?;
    Ok(written.map(|written| written.version))
}

/// Pieces of music by id, from the bin too: works that recordings point at.
pub async fn pieces(conn: &mut Conn, series: Uuid, ids: &[Uuid]) -> QueryResult<Vec<Music>> {
    music::table
        .filter(music::series_id.eq(series))
        .filter(music::id.eq_any(ids))
        .select(Music::as_select())
        .load(conn)
        .await
}

/// Number of live episodes of a series.
pub async fn episodes(conn: &mut Conn, series: Uuid) -> QueryResult<i64> {
    use super::schema::episodes;
    episodes::table
        .filter(episodes::series_id.eq(series))
        .filter(episodes::deleted_at.is_null())
        .count()
        .get_result(conn)
        .await
}

/// What the live deliverables of an episode are called, those about its cue sheet.
pub async fn cue_deliverables(
    conn: &mut Conn,
    series: Uuid,
    episode: Uuid,
) -> QueryResult<Vec<String>> {
    use super::schema::deliverables;
    deliverables::table
        .filter(deliverables::series_id.eq(series))
        .filter(deliverables::episode_id.eq(episode))
        .filter(deliverables::deleted_at.is_null())
        .filter(deliverables::item.like("Music cue sheet:%"))
        .select(deliverables::item)
        .load(conn)
        .await
}

/// Issued sheets of an episode, the newest first.
pub async fn issued(conn: &mut Conn, episode: Uuid) -> QueryResult<Vec<IssuedRow>> {
    issued_cue_sheets::table
        .filter(issued_cue_sheets::episode_id.eq(episode))
        .order(issued_cue_sheets::number.desc())
        .select(IssuedRow::as_select())
        .load(conn)
        .await
}

/// An issued sheet with its files.
pub async fn issued_one(
    conn: &mut Conn,
    series: Uuid,
    id: Uuid,
) -> QueryResult<Option<(IssuedRow, IssuedFiles)>> {
    issued_cue_sheets::table
        .filter(issued_cue_sheets::id.eq(id))
        .filter(issued_cue_sheets::series_id.eq(series))
        .select((IssuedRow::as_select(), IssuedFiles::as_select()))
        .first(conn)
        .await
        .optional()
}

/// Keeps a sheet as it is sent.
pub async fn keep_issued(conn: &mut Conn, sheet: NewIssued) -> QueryResult<IssuedRow> {
    diesel::insert_into(issued_cue_sheets::table)
        .values(sheet)
        .returning(IssuedRow::as_returning())
        .get_result(conn)
        .await
}
