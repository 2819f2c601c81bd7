//! What events of a cut may be matched with: the files, imports and music that their names and reels point at, and the
//! choices that people made before. A constant number of queries, whatever the size of the cut.

use std::collections::{BTreeSet, HashMap};

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{
    Array, BigInt, Bool, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::matching::{
    Catalogue, CataloguedFile, CataloguedItem, FileTimecode, Item, Target, forms,
};
use waybill_domain::timecode::Rate;

use super::Conn;
use super::schema::{assets, music, remembered_matches};

/// What the events of a cut ask the catalogue for.
#[derive(Default)]
pub struct Wanted {
    /// Lower case.
    pub reels: BTreeSet<String>,
    /// Stems of file, clip and reel names in all their forms.
    pub stems: BTreeSet<String>,
    pub keys: BTreeSet<String>,
}

impl Wanted {
    /// Adds what one event asks for.
    pub fn add(&mut self, reel: &str, names: [&str; 2], key: Option<String>) {
        let reel = reel.trim().to_lowercase();
        self.stems
            .extend(names.into_iter().chain([reel.as_str()]).flat_map(forms));
        if !reel.is_empty() {
            self.reels.insert(reel);
        }
        self.keys.extend(key);
    }

    /// All names by which a file may be found.
    pub fn names(self) -> BTreeSet<String> {
        let mut names = self.stems;
        names.extend(self.reels);
        names
    }
}

#[derive(QueryableByName)]
struct FileRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Bool)]
    picture: bool,
    #[diesel(sql_type = Text)]
    reel: String,
    #[diesel(sql_type = Text)]
    card: String,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Nullable<Integer>)]
    rate_num: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    rate_den: Option<i32>,
    #[diesel(sql_type = Nullable<Bool>)]
    drop_frame: Option<bool>,
    #[diesel(sql_type = Nullable<BigInt>)]
    start_frame: Option<i64>,
    #[diesel(sql_type = Nullable<BigInt>)]
    frame_count: Option<i64>,
}

/// The part of a series' catalogue that could answer what is wanted.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn catalogue(conn: &mut Conn, series: Uuid, wanted: &Wanted) -> QueryResult<Catalogue> {
    let remembered = remembered(conn, series, &wanted.keys).await?;
    let chosen: Vec<Uuid> = remembered
        .values()
        .filter_map(|target| match target {
            Target::File(id) => Some(*id),
            Target::Item(_) => None,
        })
        .collect();
    let files = files(conn, series, wanted, chosen).await?;
    let items = items(conn, series).await?;
    Ok(Catalogue::new(files, items, remembered))
}

async fn files(
    conn: &mut Conn,
    series: Uuid,
    wanted: &Wanted,
    chosen: Vec<Uuid>,
) -> QueryResult<Vec<CataloguedFile>> {
    let list = |set: &BTreeSet<String>| set.iter().cloned().collect::<Vec<_>>();
    let rows: Vec<FileRow> = diesel::sql_query(
        "select f.id, f.name, f.kind = 'picture' as picture, f.reel, coalesce(c.name, '') as card, \
           coalesce(c.number, '') as number, f.rate_num, f.rate_den, f.drop_frame, f.start_frame, f.frame_count \
         from files f left join cards c on c.id = f.card_id \
         where f.series_id = $1 and f.id in ( \
           select id from files where series_id = $1 and reel <> '' and lower(reel) = any($2) \
           union select id from files where series_id = $1 and stem = any($3) \
           union select id from files where series_id = $1 and card_id in ( \
             select id from cards where series_id = $1 and (lower(name) = any($2) or lower(number) = any($2))) \
           union select unnest($4::uuid[])) \
         order by f.name, f.id",
    )
    .bind::<SqlUuid, _>(series)
    .bind::<Array<Text>, _>(list(&wanted.reels))
    .bind::<Array<Text>, _>(list(&wanted.stems))
    .bind::<Array<SqlUuid>, _>(chosen)
    .load(conn)
    .await?;
    Ok(rows.into_iter().map(CataloguedFile::from).collect())
}

#[derive(QueryableByName)]
struct Name {
    #[diesel(sql_type = Text)]
    name: String,
}

/// Which of these names the files of a scan bear: as a stem, a reel, a card or its number. `since`: only contents that
/// came then or later.
pub async fn named_in_scan(
    conn: &mut Conn,
    scan: Uuid,
    since: Option<DateTime<Utc>>,
    names: &BTreeSet<&String>,
) -> QueryResult<BTreeSet<String>> {
    let found: Vec<Name> = diesel::sql_query(concat!(
        "select distinct n.name from ",
        super::scan_end::seen!(),
        " join copies c on c.id = s.copy_id join files f on f.id = c.file_id left join cards k on k.id = f.card_id \
         cross join lateral (values (f.stem), (lower(f.reel)), (lower(k.name)), (lower(k.number))) n (name) \
         where ($2 is null or f.created_at >= $2) and n.name = any($3)",
    ))
    .bind::<SqlUuid, _>(scan)
    .bind::<Nullable<Timestamptz>, _>(since)
    .bind::<Array<Text>, _>(names.iter().collect::<Vec<_>>())
    .load(conn)
    .await?;
    Ok(found.into_iter().map(|row| row.name).collect())
}

impl From<FileRow> for CataloguedFile {
    fn from(row: FileRow) -> Self {
        let timecode = timecode(
            row.rate_num.zip(row.rate_den),
            row.drop_frame,
            row.start_frame,
            row.frame_count,
        );
        Self {
            id: row.id,
            name: row.name,
            card: row.card.clone(),
            reels: vec![row.reel, row.card, row.number],
            picture: row.picture,
            timecode,
        }
    }
}

/// The timecode of a file, when its header says all of it.
pub fn timecode(
    rate: Option<(i32, i32)>,
    drop: Option<bool>,
    start: Option<i64>,
    frames: Option<i64>,
) -> Option<FileTimecode> {
    let (num, den) = rate?;
    Some(FileTimecode {
        rate: Rate::new(num.into(), den.into(), drop.unwrap_or(false)).ok()?,
        start: start?,
        frames: frames.filter(|frames| *frames > 0)?,
    })
}

/// Imports and music of a series: few enough to be looked at whole.
async fn items(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<CataloguedItem>> {
    let imports: Vec<(Uuid, String, Vec<String>)> = assets::table
        .filter(assets::series_id.eq(series))
        .filter(assets::deleted_at.is_null())
        .select((assets::id, assets::title, assets::match_names))
        .order(assets::id)
        .load(conn)
        .await?;
    let pieces: Vec<(Uuid, String, Vec<String>, String)> = music::table
        .filter(music::series_id.eq(series))
        .filter(music::deleted_at.is_null())
        .select((music::id, music::title, music::match_names, music::isrc))
        .order(music::id)
        .load(conn)
        .await?;
    let imports = imports
        .into_iter()
        .map(|(id, title, names)| CataloguedItem {
            item: Item::Asset(id),
            title,
            names,
        });
    let pieces = pieces.into_iter().map(|(id, title, mut names, isrc)| {
        // files carry the code with hyphens and without
        names.push(isrc.replace('-', ""));
        names.push(isrc);
        CataloguedItem {
            item: Item::Music(id),
            title,
            names,
        }
    });
    Ok(imports.chain(pieces).collect())
}

async fn remembered(
    conn: &mut Conn,
    series: Uuid,
    keys: &BTreeSet<String>,
) -> QueryResult<HashMap<String, Target>> {
    type Row = (String, Option<Uuid>, Option<Uuid>, Option<Uuid>);
    let rows: Vec<Row> = remembered_matches::table
        .filter(remembered_matches::series_id.eq(series))
        .filter(remembered_matches::key.eq_any(keys))
        .select((
            remembered_matches::key,
            remembered_matches::file_id,
            remembered_matches::asset_id,
            remembered_matches::music_id,
        ))
        .load(conn)
        .await?;
    Ok(rows
        .into_iter()
        .filter_map(|(key, file, asset, music)| {
            let target = (file.map(Target::File))
                .or(asset.map(|id| Target::Item(Item::Asset(id))))
                .or(music.map(|id| Target::Item(Item::Music(id))))?;
            Some((key, target))
        })
        .collect())
}

/// Keeps a choice made by hand for this cut and those to come.
pub async fn remember(
    conn: &mut Conn,
    series: Uuid,
    key: &str,
    target: Target,
    by: Uuid,
    now: DateTime<Utc>,
) -> QueryResult<()> {
    use remembered_matches::dsl;
    let (file, asset, music) = match target {
        Target::File(id) => (Some(id), None, None),
        Target::Item(Item::Asset(id)) => (None, Some(id), None),
        Target::Item(Item::Music(id)) => (None, None, Some(id)),
    };
    let choice = (
        dsl::file_id.eq(file),
        dsl::asset_id.eq(asset),
        dsl::music_id.eq(music),
        dsl::made_by.eq(by),
        dsl::made_at.eq(now),
    );
    diesel::insert_into(remembered_matches::table)
        .values((dsl::series_id.eq(series), dsl::key.eq(key), choice))
        .on_conflict((dsl::series_id, dsl::key))
        .do_update()
        .set(choice)
        .execute(conn)
        .await
        .map(drop)
}

/// Forgets a choice made by hand.
pub async fn forget(conn: &mut Conn, series: Uuid, key: &str) -> QueryResult<()> {
    diesel::delete(remembered_matches::table.find((series, key)))
        .execute(conn)
        .await
        .map(drop)
}

/// Whether a file is in the series.
pub async fn has_file(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<bool> {
    use super::schema::files;
    diesel::select(diesel::dsl::exists(
        files::table
            .filter(files::id.eq(id))
            .filter(files::series_id.eq(series)),
    ))
    .get_result(conn)
    .await
}

/// Whether a live import or piece of music is in the series.
pub async fn has_item(conn: &mut Conn, series: Uuid, item: Item) -> QueryResult<bool> {
    Ok(items(conn, series)
        .await?
        .iter()
        .any(|known| known.item == item))
}
