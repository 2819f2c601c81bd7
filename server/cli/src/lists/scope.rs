//! A history and the folder it describes, while that folder is read.

use std::collections::HashMap;
use std::path::Path;
use std::rc::Rc;

use chrono::{DateTime, Utc};
use waybill_domain::hash_list::digest::Digest;
use waybill_domain::hash_list::ignore::{DEFAULTS, Ignore};
use waybill_domain::hash_list::model::Reference;
use waybill_domain::hash_list::names::is_below;
use waybill_domain::hashes::HashKind;

use super::generation::Draft;
use super::load::Loaded;
use crate::walk::SYSTEM_NAMES;

/// Where a history's folder lies, seen from the folder that is verified.
#[derive(Debug, Clone)]
pub enum Seat {
    /// In it, at this path (empty: it is that folder).
    Below(String),
    /// Above it; the verified folder is this part of the history's.
    Above(String),
}

/// What both sides of a run need of a history.
pub struct Scope {
    pub loaded: Loaded,
    pub seat: Seat,
    pub ignore: Ignore,
    /// The patterns as the next generation records them.
    pub patterns: Vec<String>,
    /// Types for files that are not recorded yet, and for folders.
    pub kinds: Vec<HashKind>,
}

impl Scope {
    pub fn new(loaded: Loaded, seat: Seat, asked: &[HashKind], more: &[String]) -> Self {
        let history = loaded.history.borrow();
        let mut patterns = history.patterns.clone();
        let is_first = history.generations.is_empty();
        let systems = SYSTEM_NAMES.iter().filter(|_| is_first);
        let defaults = DEFAULTS
            .iter()
            .chain(systems)
            .map(|name| (*name).to_owned());
        for pattern in defaults.chain(more.iter().cloned()) {
            if !patterns.contains(&pattern) {
                patterns.push(pattern);
            }
        }
        let mut kinds = asked.to_vec();
        if asked.is_empty() {
            kinds.clone_from(&history.kinds);
        }
        if kinds.is_empty() {
            kinds.push(HashKind::Xxh128);
        }
        drop(history);
        Self {
            ignore: Ignore::new(&patterns),
            loaded,
            seat,
            patterns,
            kinds,
        }
    }

    /// A path of the verified folder, as this history writes it. Empty for the history's own folder.
    pub fn relative(&self, path: &str) -> String {
        match &self.seat {
            Seat::Below(folder) if folder.is_empty() => path.to_owned(),
            Seat::Below(folder) => path
                .strip_prefix(folder.as_str())
                .map_or(path, |rest| rest.trim_start_matches('/'))
                .to_owned(),
            Seat::Above(part) if path.is_empty() => part.clone(),
            Seat::Above(part) => format!("{part}/{path}"),
        }
    }

    /// A path of this history, as it is seen from the verified folder.
    pub fn seen(&self, path: &str) -> String {
        match &self.seat {
            Seat::Below(folder) if folder.is_empty() => path.to_owned(),
            Seat::Below(folder) => format!("{folder}/{path}"),
            Seat::Above(part) => match path.strip_prefix(part.as_str()) {
                Some(rest) => rest.trim_start_matches('/').to_owned(),
                None => path.to_owned(),
            },
        }
    }

    /// How it is called in the account.
    pub fn name(&self) -> String {
        match &self.seat {
            Seat::Below(folder) => folder.clone(),
            Seat::Above(_) => "..".to_owned(),
        }
    }

    /// The part of its folder that is verified, where it is not the whole.
    pub fn part(&self) -> Option<&str> {
        match &self.seat {
            Seat::Below(_) => None,
            Seat::Above(part) => Some(part),
        }
    }

    /// Whether a file that lies in none of its nested histories belongs to it.
    pub fn covers(&self, path: &str) -> bool {
        match &self.seat {
            Seat::Below(folder) => folder.is_empty() || is_below(path, folder),
            Seat::Above(_) => true,
        }
    }

    /// The last part of its folder's path, for the names of its lists.
    pub fn folder_name(folder: &Path) -> String {
        let name = folder.file_name().unwrap_or_default();
        let name = crate::walk::shown(name);
        match name.is_empty() {
            true => "root".to_owned(),
            false => name,
        }
    }
}

/// A history on the side that takes results.
pub struct Open {
    pub scope: Rc<Scope>,
    pub draft: Option<Draft>,
    pub not_added: Option<String>,
    /// Files that may turn out to be renamed ones.
    pub held: Vec<Held>,
    /// Lists of nested histories written by this run.
    pub references: Vec<Reference>,
    /// What stands where a file was recorded.
    pub instead: HashMap<String, String>,
    /// Folders that could not be listed to their end, with the reason.
    pub unlistable: Vec<(String, String)>,
}

/// A file whose record waits for the end.
pub struct Held {
    /// As the history writes it.
    pub path: String,
    pub size: u64,
    pub modified: DateTime<Utc>,
    pub digests: Vec<Digest>,
    pub at: DateTime<Utc>,
    /// First generation that records it.
    pub since: Option<u32>,
}
