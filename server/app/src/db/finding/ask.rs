//! What files are asked for, and the hits: in their order, after a hit, at most so many.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Integer, Nullable, SmallInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::footage::logged::Logged;

use super::{sets, sql};
use crate::db::Conn;
use crate::db::files::FileKind;
use crate::db::record::like;
use crate::db::shots::ShotKind;

/// What files are asked for. All of it must fit.
#[derive(Clone, Debug, Default)]
pub struct Ask {
    /// What must stand in the words of folder or name: each in one of its readings, folded.
    pub words: Vec<Vec<String>>,
    pub card: Option<Uuid>,
    pub drive: Option<Uuid>,
    /// A shoot day.
    pub day: Option<Uuid>,
    /// A day on which cards were shot.
    pub on: Option<NaiveDate>,
    /// In lower case, as all text here.
    pub camera: Option<String>,
    /// A card's name or number, or a reel.
    pub roll: Option<String>,
    pub logged: Option<Logged>,
    /// One: logged in the file. More: in frame together, at one frame at least.
    pub people: Vec<Uuid>,
    pub place: Option<Uuid>,
    pub asset: Option<Uuid>,
    pub music: Option<Uuid>,
    pub kind: Option<FileKind>,
    pub rank: Option<i16>,
    pub shot: Option<ShotKind>,
    pub timecode: Option<Clocked>,
    /// A digest of any type.
    pub digest: Option<String>,
    /// Folded words that were said, all in one line.
    pub spoken: Vec<String>,
}

/// A label at each rate at which it exists.
#[derive(Clone, Debug, Default)]
pub struct Clocked {
    pub nums: Vec<i32>,
    pub dens: Vec<i32>,
    pub drops: Vec<bool>,
    pub frames: Vec<i64>,
}

/// A hit, as it is ordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, QueryableByName)]
pub struct Hit {
    #[diesel(sql_type = BigInt)]
    pub folder: i64,
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
}

/// Names up to so many are read by name at once; more of them are so common that the folders are walked first.
const FEW_NAMES: usize = 24;
/// Folders that are walked at first, and how much further each time.
const FIRST_STEP: usize = 16;
const STEP_GROWS: usize = 4;
/// After so many folders, common names that were not found are read by name.
const WALKED_FIRST: usize = 400;

/// Where the words were found.
struct Spread {
    /// All words, as bits.
    full: i32,
    folders: Vec<(i64, i32)>,
    names: Vec<(i32, i32)>,
}

/// A question on its way: what does not change from one statement to the next.
struct Search<'a> {
    series: Uuid,
    ask: &'a Ask,
    after: Option<Hit>,
    most: i64,
    /// Folders that alone can hold hits; none: all of the series.
    allowed: Option<Vec<i64>>,
}

/// What one statement is told beside that.
#[derive(Default)]
struct Told<'a> {
    within: Option<&'a [i64]>,
    places: &'a [(i64, i32)],
    names: &'a [(i32, i32)],
    rest: i32,
    walked: Option<Uuid>,
}

/// Hits in their order, after the hit `after`, at most `most`.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn hits(
    conn: &mut Conn,
    series: Uuid,
    ask: &Ask,
    after: Option<Hit>,
    most: usize,
) -> QueryResult<Vec<Hit>> {
    let mut search = Search {
        series,
        ask,
        after,
        most: i64::try_from(most).unwrap_or(i64::MAX),
        allowed: None,
    };
    search.narrow(conn).await?;
    if search.allowed.as_ref().is_some_and(Vec::is_empty) {
        return Ok(Vec::new());
    }
    if ask.words.is_empty() {
        search.unworded(conn).await
    } else {
        search.worded(conn).await
    }
}

/// Where the file `id` stands among hits.
pub async fn position(conn: &mut Conn, series: Uuid, id: Uuid) -> QueryResult<Option<Hit>> {
    diesel::sql_query("select folder, id from files where series_id = $1 and id = $2")
        .bind::<SqlUuid, _>(series)
        .bind::<SqlUuid, _>(id)
        .get_result(conn)
        .await
        .optional()
}

/// What each folder leaves to be found, and the names that have it: ids with the parts of the question they answer.
type Wanted<'a> = (&'a [(i64, i32)], &'a [(i32, i32)]);

impl Search<'_> {
    /// Works out which folders can hold hits.
    async fn narrow(&mut self, conn: &mut Conn) -> QueryResult<()> {
        let (series, ask) = (self.series, self.ask);
        let mut narrow = |keys: Vec<i64>| {
            self.allowed = Some(match self.allowed.take() {
                Some(before) => both(&before, &keys),
                None => keys,
            });
        };
        if let Some(keys) = sets::of_cards(conn, series, ask).await? {
            narrow(keys);
        }
        if let Some(drive) = ask.drive {
            narrow(sets::on_drive(conn, drive).await?);
        }
        if let Some(roll) = &ask.roll {
            narrow(sets::of_roll(conn, series, roll).await?);
        }
        if let Some(at) = &ask.timecode {
            narrow(sets::at_timecode(conn, series, at).await?);
        }
        if !ask.words.is_empty() {
            if let Some(keys) = sets::logged_with(conn, series, ask).await? {
                narrow(keys);
            }
            if let Some(keys) = sets::with_shots(conn, series, ask).await? {
                narrow(keys);
            }
            if !ask.spoken.is_empty() {
                narrow(sets::saying_aloud(conn, series, &ask.spoken).await?);
            }
        }
        if let (Some(allowed), Some(after)) = (&mut self.allowed, self.after) {
            allowed.retain(|key| *key >= after.folder);
        }
        Ok(())
    }

    /// Without words: along the rarest thing that is asked for, in the order of hits.
    async fn unworded(&self, conn: &mut Conn) -> QueryResult<Vec<Hit>> {
        let ask = self.ask;
        let along = |walked| Told {
            within: self.allowed.as_deref(),
            walked,
            ..Told::default()
        };
        let (text, told) = if ask.digest.is_some() {
            (sql::BY_DIGEST, along(None))
        } else if !ask.spoken.is_empty() {
            (sql::BY_SPOKEN, along(None))
        } else if let Some(person) = ask.people.as_slice().first() {
            (sql::BY_PERSON, along(Some(*person)))
        } else if ask.place.is_some() {
            (sql::BY_PLACE, along(ask.place))
        } else if ask.asset.is_some() {
            (sql::BY_ASSET, along(ask.asset))
        } else if ask.music.is_some() {
            (sql::BY_MUSIC, along(ask.music))
        } else if ask.rank.is_some() {
            (sql::BY_RANK, along(None))
        } else if ask.shot.is_some() {
            (sql::BY_SHOT, along(None))
        } else if matches!(ask.logged, Some(Logged::Yes | Logged::Partly)) {
            (sql::BY_LOG, along(None))
        } else {
            let folders = self.folders(conn).await?;
            return self.walk(conn, &folders, None).await.map(|(hits, _)| hits);
        };
        self.read(conn, text, &told).await
    }

    /// All folders that can hold hits.
    async fn folders(&self, conn: &mut Conn) -> QueryResult<Vec<i64>> {
        let mut keys = match &self.allowed {
            Some(keys) => keys.clone(),
            None => sets::all(conn, self.series).await?,
        };
        if let Some(after) = self.after {
            keys.retain(|key| *key >= after.folder);
        }
        Ok(keys)
    }

    async fn worded(&self, conn: &mut Conn) -> QueryResult<Vec<Hit>> {
        let spread = self.spread(conn).await?;
        let allows = |key: i64| {
            let behind = self.after.is_none_or(|after| key >= after.folder);
            let allowed = self.allowed.as_ref();
            behind && allowed.is_none_or(|keys| keys.binary_search(&key).is_ok())
        };
        let needs: Vec<(i64, i32)> = spread
            .folders
            .iter()
            .filter(|(key, _)| allows(*key))
            .map(|(key, mask)| (*key, spread.full & !mask))
            .collect();
        let whole: Vec<i64> = needs
            .iter()
            .filter(|(_, need)| *need == 0)
            .map(|(key, _)| *key)
            .collect();
        let mut wanted: Vec<i32> = needs.iter().map(|(_, need)| *need).collect();
        wanted.push(spread.full);
        wanted.retain(|need| *need != 0);
        wanted.sort_unstable();
        wanted.dedup();
        let names: Vec<(i32, i32)> = spread
            .names
            .iter()
            .copied()
            .filter(|(_, mask)| wanted.iter().any(|need| need & !mask == 0))
            .collect();
        let mut hits = if names.is_empty() {
            self.walk(conn, &whole, None).await?.0
        } else {
            self.by_names(conn, &spread, &needs, &whole, &names).await?
        };
        hits.extend(self.elsewhere(conn, &spread).await?);
        hits.sort_unstable();
        hits.dedup();
        hits.truncate(usize::try_from(self.most).unwrap_or(usize::MAX));
        Ok(hits)
    }

    /// Folders that say all of it, and files whose names say what their folders do not.
    async fn by_names(
        &self,
        conn: &mut Conn,
        spread: &Spread,
        needs: &[(i64, i32)],
        whole: &[i64],
        names: &[(i32, i32)],
    ) -> QueryResult<Vec<Hit>> {
        if names.len() > FEW_NAMES {
            let some = names.iter().any(|(_, mask)| *mask == spread.full);
            let known: HashMap<i64, i32> = needs.iter().copied().collect();
            let folders: Vec<i64> = if some {
                self.folders(conn).await?
            } else {
                needs.iter().map(|(key, _)| *key).collect()
            };
            let mut masks: Vec<i32> = names.iter().map(|(_, mask)| *mask).collect();
            masks.sort_unstable();
            masks.dedup();
            let wanted: Vec<(i64, i32)> = folders
                .into_iter()
                .map(|key| (key, known.get(&key).copied().unwrap_or(spread.full)))
                .filter(|(_, need)| *need == 0 || masks.iter().any(|mask| need & !mask == 0))
                .collect();
            let keys: Vec<i64> = wanted.iter().map(|(key, _)| *key).collect();
            let (hits, all) = self.walk(conn, &keys, Some((&wanted, names))).await?;
            if all {
                return Ok(hits);
            }
        }
        let mut hits = self.walk(conn, whole, None).await?.0;
        let told = Told {
            within: self.allowed.as_deref(),
            places: needs,
            names,
            rest: spread.full,
            walked: None,
        };
        hits.extend(self.read(conn, sql::BY_NAME, &told).await?);
        hits.sort_unstable();
        Ok(hits)
    }

    /// Where the words stand.
    async fn spread(&self, conn: &mut Conn) -> QueryResult<Spread> {
        let mut folders = HashMap::<i64, i32>::new();
        let mut names = HashMap::<i32, i32>::new();
        let mut full = 0;
        for (at, readings) in self.ask.words.iter().enumerate() {
            let bit = 1 << at;
            full |= bit;
            for reading in readings {
                for key in sets::saying(conn, self.series, reading).await? {
                    *folders.entry(key).or_default() |= bit;
                }
                for id in sets::named(conn, self.series, reading).await? {
                    *names.entry(id).or_default() |= bit;
                }
            }
        }
        let mut folders: Vec<_> = folders.into_iter().collect();
        folders.sort_unstable();
        let mut names: Vec<_> = names.into_iter().collect();
        names.sort_unstable();
        Ok(Spread {
            full,
            folders,
            names,
        })
    }

    /// Reads folders in their order, step by step, until there are enough hits. With names: what each folder leaves to
    /// be found is looked for in them, and false is answered when too many folders had too few of them.
    async fn walk(
        &self,
        conn: &mut Conn,
        folders: &[i64],
        names: Option<Wanted<'_>>,
    ) -> QueryResult<(Vec<Hit>, bool)> {
        let most = usize::try_from(self.most).unwrap_or(usize::MAX);
        let (mut hits, mut done, mut step) = (Vec::new(), 0, FIRST_STEP);
        while done < folders.len() && hits.len() < most {
            let end = done.saturating_add(step).min(folders.len());
            let within = folders.get(done..end);
            let (text, told) = match names {
                None => (
                    sql::BY_FOLDER,
                    Told {
                        within,
                        ..Told::default()
                    },
                ),
                Some((needs, names)) => (
                    sql::BY_FOLDER_AND_NAME,
                    Told {
                        within,
                        places: needs.get(done..end).unwrap_or_default(),
                        names,
                        ..Told::default()
                    },
                ),
            };
            hits.extend(self.read(conn, text, &told).await?);
            done = end;
            step = step.saturating_mul(STEP_GROWS);
            if names.is_some() && done >= WALKED_FIRST && done < folders.len() && hits.len() < most
            {
                return Ok((hits, false));
            }
        }
        hits.truncate(most);
        Ok((hits, true))
    }

    /// Files that lie under these words in another place than where they were found first.
    async fn elsewhere(&self, conn: &mut Conn, spread: &Spread) -> QueryResult<Vec<Hit>> {
        let any: Found = diesel::sql_query(
            "select exists (select 1 from other_places where series_id = $1) as found",
        )
        .bind::<SqlUuid, _>(self.series)
        .get_result(conn)
        .await?;
        if !any.found {
            return Ok(Vec::new());
        }
        let told = Told {
            within: self.allowed.as_deref(),
            places: &spread.folders,
            names: &spread.names,
            rest: spread.full,
            walked: None,
        };
        self.read(conn, sql::ELSEWHERE, &told).await
    }

    async fn read(
        &self,
        conn: &mut Conn,
        text: &'static str,
        told: &Told<'_>,
    ) -> QueryResult<Vec<Hit>> {
        let ask = self.ask;
        let people = (!ask.people.is_empty()).then_some(&ask.people);
        let clock = ask.timecode.as_ref();
        let spoken: Vec<String> = ask.spoken.iter().map(|word| like(word)).collect();
        diesel::sql_query(text)
            .into_boxed::<Pg>()
            .bind::<SqlUuid, _>(self.series)
            .bind::<Nullable<Array<BigInt>>, _>(told.within)
            .bind::<Nullable<BigInt>, _>(self.after.map(|hit| hit.folder))
            .bind::<Nullable<SqlUuid>, _>(self.after.map(|hit| hit.id))
            .bind::<Nullable<Array<SqlUuid>>, _>(people)
            .bind::<Nullable<SqlUuid>, _>(ask.place)
            .bind::<Nullable<SqlUuid>, _>(ask.asset)
            .bind::<Nullable<SqlUuid>, _>(ask.music)
            .bind::<Nullable<Text>, _>(ask.logged.map(logged_word))
            .bind::<Nullable<SqlUuid>, _>(ask.drive)
            .bind::<Nullable<Text>, _>(ask.kind.map(|kind| kind.word()))
            .bind::<Nullable<Text>, _>(ask.roll.as_deref())
            .bind::<Nullable<SmallInt>, _>(ask.rank)
            .bind::<Nullable<Text>, _>(ask.shot.map(|shot| shot.word()))
            .bind::<Nullable<Array<Integer>>, _>(clock.map(|clock| &clock.nums))
            .bind::<Nullable<Array<Integer>>, _>(clock.map(|clock| &clock.dens))
            .bind::<Nullable<Array<Bool>>, _>(clock.map(|clock| &clock.drops))
            .bind::<Nullable<Array<BigInt>>, _>(clock.map(|clock| &clock.frames))
            .bind::<Nullable<Text>, _>(ask.digest.as_deref())
            .bind::<BigInt, _>(self.most)
            .bind::<Array<Integer>, _>(
                told.places
                    .iter()
                    .map(|(_, need)| *need)
                    .collect::<Vec<_>>(),
            )
            .bind::<Array<Integer>, _>(told.names.iter().map(|(id, _)| *id).collect::<Vec<_>>())
            .bind::<Array<Integer>, _>(told.names.iter().map(|(_, mask)| *mask).collect::<Vec<_>>())
            .bind::<Integer, _>(told.rest)
            .bind::<Nullable<SqlUuid>, _>(told.walked)
            .bind::<Array<BigInt>, _>(told.places.iter().map(|(key, _)| *key).collect::<Vec<_>>())
            .bind::<Nullable<Array<Text>>, _>((!spoken.is_empty()).then_some(spoken))
            .load(conn)
            .await
    }
}

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = Bool)]
    found: bool,
}

fn logged_word(logged: Logged) -> &'static str {
    match logged {
        Logged::Yes => "yes",
        Logged::Partly => "partly",
        Logged::No => "no",
    }
}

/// What two sorted lists have in common.
fn both(one: &[i64], other: &[i64]) -> Vec<i64> {
    let (few, many) = if one.len() < other.len() {
        (one, other)
    } else {
        (other, one)
    };
    few.iter()
        .copied()
        .filter(|key| many.binary_search(key).is_ok())
        .collect()
}
