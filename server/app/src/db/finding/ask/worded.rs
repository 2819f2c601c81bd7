//! Questions with words: which folders and names say them, and by which of the two the files are read.

use std::collections::{BTreeSet, HashMap};

use diesel::prelude::*;
use diesel::sql_types::{Bool, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use futures_util::future::try_join_all;

use super::super::sql::Fits;
use super::super::{sets, sql};
use super::{Hit, STEP_GROWS, Search, Told, next_step};
use crate::db::Conn;
use crate::db::record::like;
use crate::db::statement::statement;

/// Sets of words that names have, each asked for by itself.
const MOST_MASKS: usize = 4;

/// Where the words were found.
struct Spread {
    /// All words, as bits.
    full: i32,
    /// None where the files are read along the folders that hold all.
    folders: Vec<(i64, i32)>,
    /// Patterns that a folder's words must fit to hold all, where no other folders matter.
    along: Option<Vec<String>>,
    /// Patterns that the folder of a file must fit, where its name leaves something, by what the name has.
    saying: Vec<(i32, Vec<String>)>,
    names: Vec<Named>,
    /// Whether any file lies in another place than where it was found first.
    elsewhere: bool,
}

/// A name with some of the words.
#[derive(Clone, Copy)]
struct Named {
    id: i32,
    mask: i32,
    /// About how many files are called so.
    files: i64,
}

/// Where the words stand among what is allowed.
struct Said<'a> {
    spread: &'a Spread,
    /// What each folder leaves to be found.
    needs: &'a [(i64, i32)],
    /// Names that can say what a folder leaves.
    names: &'a [Named],
    until: Option<i64>,
}

impl Said<'_> {
    fn masks(&self) -> Vec<(i32, i32)> {
        masks(self.names)
    }
}

fn masks(names: &[Named]) -> Vec<(i32, i32)> {
    names.iter().map(|name| (name.id, name.mask)).collect()
}

impl Search<'_> {
    /// Files with all the words.
    pub(super) async fn worded(&self, conn: &mut Conn) -> QueryResult<Vec<Hit>> {
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
        let names: Vec<Named> = spread
            .names
            .iter()
            .copied()
            .filter(|name| wanted.iter().any(|need| need & !name.mask == 0))
            .collect();
        let mut hits = match &spread.along {
            Some(patterns) => self.along(conn, patterns).await?,
            None => self.walk(conn, &whole).await?,
        };
        if !spread.saying.is_empty() {
            let until = self.last(&hits);
            hits.extend(self.by_folders_saying(conn, &spread, until).await?);
        } else if !names.is_empty() {
            let until = self.last(&hits);
            let said = Said {
                spread: &spread,
                needs: &needs,
                names: &names,
                until,
            };
            let files: i64 = names.iter().map(|name| name.files.max(1)).sum();
            let few = files <= self.steps.by_name && !self.few_folders(conn, &said).await?;
            if self.by_name_alone(spread.full) && (few || names.len() <= self.steps.each) {
                hits.extend(self.by_each_name(conn, &said, few).await?);
            } else if !few {
                self.by_stretches(conn, &said, &mut hits).await?;
            } else {
                hits.extend(self.by_names(conn, &said).await?);
            }
        }
        hits.extend(self.elsewhere(conn, &spread).await?);
        hits.sort_unstable();
        hits.dedup();
        hits.truncate(usize::try_from(self.most).unwrap_or(usize::MAX));
        Ok(hits)
    }

    /// The folder of the last hit that counts, once there are enough: what lies beyond comes too late.
    fn last(&self, hits: &[Hit]) -> Option<i64> {
        let most = usize::try_from(self.most).unwrap_or(usize::MAX);
        hits.get(most.saturating_sub(1)).map(|hit| hit.folder)
    }

    /// Files whose names have some of the words, in folders that say the others.
    async fn by_folders_saying(
        &self,
        conn: &mut Conn,
        spread: &Spread,
        until: Option<i64>,
    ) -> QueryResult<Vec<Hit>> {
        let mut hits = Vec::new();
        for (mask, patterns) in &spread.saying {
            let with = spread.names.iter().filter(|name| name.mask == *mask);
            let told = Told {
                names: &with.map(|name| (name.id, name.mask)).collect::<Vec<_>>(),
                until,
                saying: patterns,
                ..Told::default()
            };
            let walk = if patterns.is_empty() {
                sql::BY_ONE_NAME
            } else {
                sql::BY_NAME_IN_FOLDERS_SAYING
            };
            hits.extend(self.read(conn, walk, &told).await?);
        }
        Ok(hits)
    }

    /// What the folders of files must say whose names have some of the words, by what the names have; none where that is
    /// not worth looking at each file's folder. Names that no folder can complete are taken out.
    async fn left_to_folders(
        &self,
        conn: &mut Conn,
        patterns: &[String],
        names: &mut Vec<Named>,
    ) -> QueryResult<Vec<(i32, Vec<String>)>> {
        let said = sets::any_saying(conn, self.series, patterns).await?;
        let bits = || (0..patterns.len()).map(|at| 1 << at);
        let unsaid = bits().zip(&said).filter(|(_, said)| !**said);
        let unsaid: i32 = unsaid.map(|(bit, _)| bit).sum();
        names.retain(|name| name.mask & unsaid == unsaid);
        let files: i64 = names.iter().map(|name| name.files.max(1)).sum();
        let masks: BTreeSet<i32> = names.iter().map(|name| name.mask).collect();
        if files > self.steps.looked_at || masks.len() > MOST_MASKS {
            return Ok(Vec::new());
        }
        let left = |mask: i32| {
            let left = bits().zip(patterns).filter(|(bit, _)| mask & bit == 0);
            (mask, left.map(|(_, pattern)| pattern.clone()).collect())
        };
        Ok(masks.into_iter().map(left).collect())
    }

    /// Whether so few folders matter that reading them is quicker than looking so many names up.
    async fn few_folders(&self, conn: &mut Conn, said: &Said<'_>) -> QueryResult<bool> {
        let Some(until) = said
            .until
            .filter(|_| said.names.len() > self.steps.many_names)
        else {
            return Ok(false);
        };
        let from = self.after.map_or(0, |after| after.folder);
        let folders = sets::between(conn, self.series, from, until).await?;
        Ok(usize::try_from(folders).is_ok_and(|folders| {
            folders.saturating_mul(self.steps.names_a_folder) < said.names.len()
        }))
    }

    /// Whether all that is called so is a hit: one word, and nothing else is asked for.
    fn by_name_alone(&self, full: i32) -> bool {
        let fits = self.fits(&Told::default());
        let none = Fits {
            behind: fits.behind,
            ..Fits::default()
        };
        full == 1 && self.allowed.is_none() && fits == none
    }

    /// Files that are called so, each name looked up. Where many are, the first of each name are read, and what comes
    /// after the first name that was cut short waits: until there are enough.
    async fn by_each_name(
        &self,
        conn: &mut Conn,
        said: &Said<'_>,
        few: bool,
    ) -> QueryResult<Vec<Hit>> {
        let most = usize::try_from(self.most).unwrap_or(usize::MAX);
        let names: Vec<i32> = said.names.iter().map(|name| name.id).collect();
        let mut each = if few {
            most
        } else {
            let share = most.saturating_mul(3) / names.len().max(1);
            share.max(self.steps.of_each).min(most)
        };
        loop {
            let bounds = (self.after, said.until);
            let called = sets::of_each_name(conn, &names, bounds, each).await?;
            let cut = called.iter().filter(|one| one.cut).map(|one| one.hit).min();
            let cut = cut.filter(|_| each < most);
            let hits = called.into_iter().map(|one| one.hit);
            let hits: Vec<Hit> = hits
                .filter(|hit| cut.is_none_or(|cut| *hit <= cut))
                .collect();
            if cut.is_none() || hits.len() >= most {
                return Ok(hits);
            }
            each = each.saturating_mul(STEP_GROWS).min(most);
        }
    }

    /// Files whose names say what their folders do not, all of them read by name. Folders that say all are left out.
    async fn by_names(&self, conn: &mut Conn, said: &Said<'_>) -> QueryResult<Vec<Hit>> {
        let names = said.masks();
        let places: Vec<(i64, i32)> = said
            .needs
            .iter()
            .copied()
            .filter(|(key, need)| {
                *need != said.spread.full && said.until.is_none_or(|last| *key <= last)
            })
            .collect();
        let told = Told {
            within: self.allowed.as_deref(),
            places: &places,
            names: &names,
            rest: said.spread.full,
            until: said.until,
            ..Told::default()
        };
        // with one word, what a folder says is no matter: all that is called so is looked at
        let walk = if said.spread.full == 1 {
            sql::BY_ONE_NAME
        } else {
            sql::BY_NAME
        };
        self.read(conn, walk, &told).await
    }

    /// The same where names are common: folders are read in their order, stretch by stretch, until there are enough
    /// hits together with those that are known.
    async fn by_stretches(
        &self,
        conn: &mut Conn,
        said: &Said<'_>,
        hits: &mut Vec<Hit>,
    ) -> QueryResult<()> {
        let most = usize::try_from(self.most).unwrap_or(usize::MAX);
        let full = said.spread.full;
        let names = said.masks();
        let known: HashMap<i64, i32> = said.needs.iter().copied().collect();
        let feasible =
            |need: i32| need != 0 && said.names.iter().any(|name| need & !name.mask == 0);
        let listed: Option<Vec<i64>> = if feasible(full) {
            self.allowed.clone()
        } else {
            Some(said.needs.iter().map(|(key, _)| *key).collect())
        };
        let mut from = self.after.map_or(0, |after| after.folder);
        let mut stretch = self.steps.stretch;
        loop {
            let folders: Vec<i64> = match &listed {
                Some(keys) => {
                    let begin = keys.partition_point(|key| *key < from);
                    keys.iter().skip(begin).take(stretch).copied().collect()
                }
                None => sets::next(conn, self.series, from, stretch).await?,
            };
            let Some(end) = folders.last().copied() else {
                return Ok(());
            };
            let counts = |key: &&i64| said.until.is_none_or(|last| **key <= last);
            let places: Vec<(i64, i32)> = folders
                .iter()
                .filter(counts)
                .map(|key| (*key, known.get(key).copied().unwrap_or(full)))
                .filter(|(_, need)| feasible(*need))
                .collect();
            let within: Vec<i64> = places.iter().map(|(key, _)| *key).collect();
            let told = Told {
                within: Some(&within),
                places: &places,
                names: &names,
                ..Told::default()
            };
            let walk = if full == 1 {
                sql::BY_FOLDER_AND_ONE_NAME
            } else {
                sql::BY_FOLDER_AND_NAME
            };
            hits.extend(self.read(conn, walk, &told).await?);
            hits.sort_unstable();
            hits.dedup();
            let before = hits.partition_point(|hit| hit.folder < from);
            let sure = hits.partition_point(|hit| hit.folder <= end);
            let lacking = most.saturating_sub(sure);
            let found = sure.saturating_sub(before);
            stretch = next_step(stretch, found, lacking, self.steps.walked);
            let done = self.last(hits).is_some_and(|last| last <= end);
            if done || said.until.is_some_and(|last| last <= end) {
                return Ok(());
            }
            from = end.saturating_add(1);
        }
    }

    /// Files of the folders whose words fit all patterns, until there are enough.
    async fn along(&self, conn: &mut Conn, patterns: &[String]) -> QueryResult<Vec<Hit>> {
        let most = usize::try_from(self.most).unwrap_or(usize::MAX);
        let mut from = self.after.map_or(0, |after| after.folder);
        let (mut hits, mut step) = (Vec::new(), self.steps.saying);
        loop {
            let folders = sets::next_saying(conn, self.series, patterns, from, step).await?;
            hits.extend(self.walk(conn, &folders).await?);
            match folders.last() {
                Some(last) if hits.len() < most && folders.len() == step => {
                    from = last.saturating_add(1);
                }
                _ => break,
            }
            step = step.saturating_mul(STEP_GROWS);
        }
        Ok(hits)
    }

    /// Where the words stand. What does not wait for another answer is asked for at once.
    async fn spread(&self, conn: &mut Conn) -> QueryResult<Spread> {
        let series = self.series;
        let (mut readings, mut bits, mut full) = (Vec::new(), Vec::new(), 0);
        for (at, of_word) in self.ask.words.iter().enumerate() {
            let bit = 1 << at;
            full |= bit;
            bits.extend(of_word.iter().map(|_| bit));
            readings.extend(of_word);
        }
        let called = readings.iter().map(|text| sets::named(conn, series, text));
        let (called, elsewhere) =
            tokio::try_join!(try_join_all(called), self.some_lie_elsewhere(conn))?;
        let mut names = HashMap::<i32, Named>::new();
        for (bit, called) in bits.iter().zip(&called) {
            for (id, files) in called {
                let (id, files) = (*id, *files);
                let name = names.entry(id).or_insert(Named { id, mask: 0, files });
                name.mask |= bit;
            }
        }
        let mut names: Vec<_> = names.into_values().collect();
        let single = self.ask.words.iter().all(|of_word| of_word.len() == 1);
        let mut along = None;
        let mut saying = Vec::new();
        if single && !elsewhere && self.allowed.is_none() {
            let patterns: Vec<String> = readings.iter().map(|text| like(text)).collect();
            if full != 1 && !names.is_empty() {
                saying = self.left_to_folders(conn, &patterns, &mut names).await?;
            }
            if full == 1 || names.is_empty() || !saying.is_empty() {
                along = Some(patterns);
            }
        }
        let mut folders = HashMap::<i64, i32>::new();
        if along.is_none() {
            let saying = readings.iter().map(|text| sets::saying(conn, series, text));
            for (bit, keys) in bits.iter().zip(try_join_all(saying).await?) {
                for key in keys {
                    *folders.entry(key).or_default() |= bit;
                }
            }
        }
        let mut folders: Vec<_> = folders.into_iter().collect();
        folders.sort_unstable();
        names.sort_unstable_by_key(|name| name.id);
        Ok(Spread {
            full,
            folders,
            along,
            saying,
            names,
            elsewhere,
        })
    }

    /// Whether any file lies in another place than where it was found first.
    async fn some_lie_elsewhere(&self, conn: &Conn) -> QueryResult<bool> {
        let any: Found =
            statement("select exists (select 1 from other_places where series_id = $1) as found")
                .bind::<SqlUuid, _>(self.series)
                .get_result(&mut &*conn)
                .await?;
        Ok(any.found)
    }

    /// Files that lie under these words in another place than where they were found first.
    async fn elsewhere(&self, conn: &mut Conn, spread: &Spread) -> QueryResult<Vec<Hit>> {
        if !spread.elsewhere {
            return Ok(Vec::new());
        }
        let told = Told {
            within: self.allowed.as_deref(),
            places: &spread.folders,
            names: &masks(&spread.names),
            rest: spread.full,
            ..Told::default()
        };
        self.read(conn, sql::ELSEWHERE, &told).await
    }
}

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = Bool)]
    found: bool,
}
