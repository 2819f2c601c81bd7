//! Finding out which missing file stands under a new name [G 2.8, optional there]: the same content, once
//! missing and once new. What fits twice is not decided.

use std::collections::HashMap;

use serde::Serialize;
use unicode_normalization::UnicodeNormalization;

use super::digest::Digest;
use super::history::Known;
use super::names::last_part;

/// A file that is not where it was recorded.
#[derive(Debug)]
pub struct Lost<'a> {
    /// Where it was.
    pub path: &'a str,
    /// What is known of it.
    pub known: &'a Known,
}

/// A file that could be one of the lost: new, or recorded later than the lost one last was.
#[derive(Debug)]
pub struct Candidate<'a> {
    /// Where it is.
    pub path: &'a str,
    /// Bytes.
    pub size: u64,
    /// Its hashes now.
    pub digests: &'a [Digest],
    /// The first generation that records it; `None` when none does.
    pub since: Option<u32>,
}

/// A file under another name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Rename {
    /// Place in the list of lost files.
    #[serde(skip)]
    pub lost: usize,
    /// Place in the list of candidates.
    #[serde(skip)]
    pub candidate: usize,
    /// The names differ only in how letters with accents are written (Unicode normal forms).
    pub normal_form_only: bool,
}

/// Whether two paths are alike enough to be paired.
type Alike = fn(&str, &str) -> bool;

/// Pairs lost files with candidates, each at most once.
pub fn find_renames(lost: &[Lost<'_>], candidates: &[Candidate<'_>]) -> Vec<Rename> {
    let mut by_digest: HashMap<&Digest, Vec<usize>> = HashMap::new();
    for (place, candidate) in candidates.iter().enumerate() {
        for digest in candidate.digests {
            by_digest.entry(digest).or_default().push(place);
        }
    }
    // for every lost file, who has its content
    let fitting: Vec<Vec<usize>> = lost
        .iter()
        .map(|lost| fitting(lost, candidates, &by_digest))
        .collect();
    let mut taken_by: Vec<Vec<usize>> = vec![Vec::new(); candidates.len()];
    for (place, fits) in fitting.iter().enumerate() {
        for candidate in fits {
            taken_by[*candidate].push(place);
        }
    }
    let mut renames = Vec::new();
    let mut done = vec![false; candidates.len()];
    let rounds: [Alike; 3] = [
        |one, other| one.nfc().eq(other.nfc()),
        |one, other| last_part(one) == last_part(other),
        |_, _| true,
    ];
    let mut open: Vec<usize> = (0..lost.len()).collect();
    for (round, alike) in rounds.iter().enumerate() {
        open.retain(|place| {
            let path = lost[*place].path;
            let free = |candidate: &&usize| {
                // no bytes are no evidence; then only the name speaks
                let is_evidence = candidates[**candidate].size > 0 || round == 0;
                !done[**candidate] && is_evidence && alike(path, candidates[**candidate].path)
            };
            let mut fits = fitting[*place].iter().filter(free);
            let (Some(one), None) = (fits.next(), fits.next()) else {
                return true;
            };
            let rivals = taken_by[*one].iter().filter(|other| {
                **other != *place
                    && !renames.iter().any(|rename: &Rename| rename.lost == **other)
                    && alike(lost[**other].path, candidates[*one].path)
            });
            if rivals.count() > 0 {
                return true;
            }
            done[*one] = true;
            renames.push(Rename {
                lost: *place,
                candidate: *one,
                normal_form_only: round == 0,
            });
            false
        });
    }
    renames.sort_by_key(|rename| rename.lost);
    renames
}

fn fitting(
    lost: &Lost<'_>,
    candidates: &[Candidate<'_>],
    by_digest: &HashMap<&Digest, Vec<usize>>,
) -> Vec<usize> {
    let trusted = lost.known.values.iter().filter(|value| value.trusted);
    let places = trusted
        .filter_map(|value| by_digest.get(&value.digest))
        .flatten();
    let mut places: Vec<usize> = places.copied().collect();
    places.sort_unstable();
    places.dedup();
    places.retain(|place| {
        let candidate = &candidates[*place];
        let is_later = candidate.since.is_none_or(|since| since > lost.known.last);
        let agrees = candidate.digests.iter().all(|digest| {
            let mut recorded = lost
                .known
                .values
                .iter()
                .filter(|value| value.digest.kind() == digest.kind());
            let first = recorded.next();
            first.is_none_or(|value| value.digest == *digest)
                || recorded.any(|value| value.digest == *digest)
        });
        is_later && agrees
    });
    places
}
