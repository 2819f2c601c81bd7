//! What files are asked for, and the hits: in their order, after a hit, at most so many.

mod worded;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Integer, Nullable, SmallInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::footage::logged::Logged;

use super::sets;
use super::sql::{self, Fits, Together, Walk};
use crate::db::Conn;
use crate::db::files::FileKind;
use crate::db::record::like;
use crate::db::shots::ShotKind;
use crate::db::statement::statement;

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

/// How much further a step goes than the one before, at most.
const STEP_GROWS: usize = 4;

/// How much is read at a time, and when by what; hits are the same whatever it is.
#[derive(Clone, Copy, Debug)]
pub struct Steps {
    /// Folders that are walked at first.
    pub walked: usize,
    /// Folders that are read at first where the words stand in names alone.
    pub stretch: usize,
    /// Folders with all the words that are looked up at first: a common word stands in thousands, and the first of them
    /// hold enough hits.
    pub saying: usize,
    /// Files whose names have a word are read by name up to so many: reading more costs more than reading folders until
    /// there are enough hits, since then they stand close together.
    pub by_name: i64,
    /// So few names are looked up one by one, however many files are called so: the first of each are enough.
    pub each: usize,
    /// Files of a name that are looked up at first, at least.
    pub of_each: usize,
    /// With more names than these it is asked whether few folders matter.
    pub many_names: usize,
    /// Names that are looked up while a folder is read.
    pub names_a_folder: usize,
    /// With several words, the folder of each file whose name has some of them is looked at, up to so many files: more
    /// are told by lists of the folders that say each word.
    pub looked_at: i64,
}

impl Steps {
    /// As measured on 2,000,000 files (`tests/bench/search`).
    pub const USUAL: Self = Self {
        walked: 16,
        stretch: 96,
        saying: 32,
        by_name: 40_000,
        each: 256,
        of_each: 16,
        many_names: 1_000,
        names_a_folder: 40,
        looked_at: 12_000,
    };
}

/// A question on its way: what does not change from one statement to the next.
struct Search<'a> {
    series: Uuid,
    ask: &'a Ask,
    after: Option<Hit>,
    most: i64,
    /// Folders that alone can hold hits; none: all of the series.
    allowed: Option<Vec<i64>>,
    steps: Steps,
}

/// What one statement is told beside that.
#[derive(Default)]
struct Told<'a> {
    within: Option<&'a [i64]>,
    places: &'a [(i64, i32)],
    names: &'a [(i32, i32)],
    rest: i32,
    walked: Option<Uuid>,
    /// Hits beyond this folder come too late.
    until: Option<i64>,
    /// Patterns that the words of a folder must fit.
    saying: &'a [String],
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
    hits_by(conn, series, ask, after, most, Steps::USUAL).await
}

/// The same in other steps.
pub async fn hits_by(
    conn: &mut Conn,
    series: Uuid,
    ask: &Ask,
    after: Option<Hit>,
    most: usize,
    steps: Steps,
) -> QueryResult<Vec<Hit>> {
    let mut search = Search {
        series,
        ask,
        after,
        most: i64::try_from(most).unwrap_or(i64::MAX),
        allowed: None,
        steps,
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
    statement("select folder, id from files where series_id = $1 and id = $2")
        .bind::<SqlUuid, _>(series)
        .bind::<SqlUuid, _>(id)
        .get_result(conn)
        .await
        .optional()
}

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
        if !ask.words.is_empty() {
            if let Some(at) = &ask.timecode {
                narrow(sets::at_timecode(conn, series, at).await?);
            }
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
        let (walk, told) = if let Some(digest) = &ask.digest {
            let by = match digest.len() {
                ..=16 => sql::BY_SHORT_DIGEST,
                17..=32 => sql::BY_DIGEST,
                _ => sql::BY_LONG_DIGEST,
            };
            (by, along(None))
        } else if !ask.spoken.is_empty() {
            (sql::BY_SPOKEN, along(None))
        } else if ask.people.len() == 2 {
            (sql::BY_TWO_PEOPLE, along(None))
        } else if ask.people.len() > 2 {
            (sql::BY_PEOPLE, along(None))
        } else if let Some(person) = ask.people.as_slice().first() {
            (sql::BY_PERSON, along(Some(*person)))
        } else if ask.place.is_some() {
            (sql::BY_PLACE, along(ask.place))
        } else if ask.asset.is_some() {
            (sql::BY_ASSET, along(ask.asset))
        } else if ask.music.is_some() {
            (sql::BY_MUSIC, along(ask.music))
        } else if ask.timecode.is_some() {
            (sql::BY_TIMECODE, along(None))
        } else if ask.rank.is_some() && ask.shot.is_some() {
            (sql::BY_RANKED_SHOT, along(None))
        } else if ask.rank.is_some() {
            (sql::BY_RANK, along(None))
        } else if ask.shot.is_some() {
            (sql::BY_SHOT, along(None))
        } else if matches!(ask.logged, Some(Logged::Yes | Logged::Partly)) {
            (sql::BY_LOG, along(None))
        } else {
            let folders = self.folders(conn).await?;
            return self.walk(conn, &folders).await;
        };
        self.read(conn, walk, &told).await
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

    /// Reads folders in their order, step by step, until there are enough hits.
    async fn walk(&self, conn: &mut Conn, folders: &[i64]) -> QueryResult<Vec<Hit>> {
        let most = usize::try_from(self.most).unwrap_or(usize::MAX);
        let (mut hits, mut done, mut step) = (Vec::new(), 0, self.steps.walked);
        while done < folders.len() && hits.len() < most {
            let end = done.saturating_add(step).min(folders.len());
            let told = Told {
                within: folders.get(done..end),
                ..Told::default()
            };
            let found = self.read(conn, sql::BY_FOLDER, &told).await?;
            let lacking = most.saturating_sub(hits.len());
            let lacking = lacking.saturating_sub(found.len());
            step = next_step(step, found.len(), lacking, self.steps.walked);
            hits.extend(found);
            done = end;
        }
        hits.truncate(most);
        Ok(hits)
    }

    fn fits(&self, told: &Told<'_>) -> Fits {
        let ask = self.ask;
        Fits {
            within: told.within.is_some(),
            behind: self.after.is_some(),
            people: match ask.people.len() {
                0 => Together::Nobody,
                1 => Together::One,
                2 => Together::Two,
                _ => Together::Several,
            },
            place: ask.place.is_some(),
            asset: ask.asset.is_some(),
            music: ask.music.is_some(),
            drive: ask.drive.is_some(),
            spoken: !ask.spoken.is_empty(),
            rank: ask.rank.is_some(),
            shot: ask.shot.is_some(),
            kind: ask.kind.is_some(),
            roll: ask.roll.is_some(),
            timecode: ask.timecode.is_some(),
            digest: ask.digest.is_some(),
            logged: ask.logged,
        }
    }

    async fn read(&self, conn: &mut Conn, walk: Walk, told: &Told<'_>) -> QueryResult<Vec<Hit>> {
        let ask = self.ask;
        let people = (!ask.people.is_empty()).then_some(&ask.people);
        let clock = ask.timecode.as_ref();
        let spoken: Vec<String> = ask.spoken.iter().map(|word| like(word)).collect();
        walk.statement(&self.fits(told))
            .bind::<SqlUuid, _>(self.series)
            .bind::<Nullable<Array<BigInt>>, _>(told.within)
            .bind::<Nullable<BigInt>, _>(self.after.map(|hit| hit.folder))
            .bind::<Nullable<SqlUuid>, _>(self.after.map(|hit| hit.id))
            .bind::<Nullable<Array<SqlUuid>>, _>(people)
            .bind::<Nullable<SqlUuid>, _>(ask.place)
            .bind::<Nullable<SqlUuid>, _>(ask.asset)
            .bind::<Nullable<SqlUuid>, _>(ask.music)
            .bind::<Array<Text>, _>(spoken)
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
            .bind::<Nullable<BigInt>, _>(told.until)
            .bind::<Array<Text>, _>(told.saying)
            .load(conn)
            .await
    }
}

/// How many folders are read next, when so many held so many hits and so many hits are lacking: what they probably stand
/// in and a quarter more, since reading a folder too many costs as much as reading one that counts.
fn next_step(read: usize, found: usize, lacking: usize, least: usize) -> usize {
    let most = read.saturating_mul(STEP_GROWS);
    let likely = lacking
        .saturating_mul(read)
        .saturating_mul(5)
        .checked_div(found.saturating_mul(4));
    likely.map_or(most, |likely| likely.clamp(least, most.max(least)))
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

#[cfg(test)]
mod tests {
    use super::next_step;

    #[test]
    fn the_next_step_is_what_probably_holds_the_rest() {
        // 40 hits in 16 folders, 100 lacking: 40 folders and a quarter more.
        assert_eq!(next_step(16, 40, 100, 16), 50);
        // Nothing found tells nothing; little is lacking: never less than the first step.
        assert_eq!(next_step(16, 0, 100, 16), 64);
        assert_eq!(next_step(64, 900, 1, 16), 16);
        assert_eq!(next_step(64, 1, 1000, 16), 256);
    }
}
