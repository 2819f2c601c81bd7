//! Walking a folder for lists: depth first and in byte order of the names, with a step on entering and one
//! on leaving each folder, without following links. Names stay bytes here.

use std::fs::{self, Metadata};
use std::path::{Path, PathBuf};

use waybill_domain::manifest::SkipReason;

/// One step.
pub enum Step {
    /// Into a folder; the walk goes on inside unless it is told to [`Tree::pass_over`].
    Enter(Place),
    /// Out of the folder entered last.
    Leave,
    /// A regular file.
    File(Place),
    /// Something that is not read, or could not be listed.
    Odd(Place, SkipReason, String),
}

/// Where something is.
#[derive(Debug)]
pub struct Place {
    /// Below the root, `/` between the parts; empty for the root.
    pub path: Vec<u8>,
    pub full: PathBuf,
    /// Absent where it could not be asked.
    pub metadata: Option<Metadata>,
}

impl Place {
    /// The path as text, where it is text.
    pub fn text(&self) -> Option<&str> {
        std::str::from_utf8(&self.path).ok()
    }
}

/// A walk under way.
pub struct Tree {
    /// Of each open folder the entries still to come, the next one last.
    open: Vec<Vec<Place>>,
    root: Option<Place>,
    /// Told before anything else: that a folder could not be listed to its end.
    fault: Option<Step>,
}

impl Tree {
    pub fn new(root: &Path) -> Self {
        let root = Place {
            path: Vec::new(),
            full: root.to_owned(),
            metadata: fs::metadata(root).ok(),
        };
        Self {
            open: Vec::new(),
            root: Some(root),
            fault: None,
        }
    }

    /// Leaves out what lies in the folder entered last; its leaving still comes.
    pub fn pass_over(&mut self) {
        if let Some(entries) = self.open.last_mut() {
            entries.clear();
        }
        self.fault = None;
    }

    fn enter(&mut self, place: Place) -> Step {
        match list(&place) {
            Ok((entries, fault)) => {
                self.open.push(entries);
                self.fault = fault;
            }
            Err(error) => {
                self.open.push(Vec::new());
                self.fault = Some(unlistable(&place, &error));
            }
        }
        Step::Enter(place)
    }
}

impl Iterator for Tree {
    type Item = Step;

    fn next(&mut self) -> Option<Step> {
        if let Some(root) = self.root.take() {
            return Some(self.enter(root));
        }
        if let Some(fault) = self.fault.take() {
            return Some(fault);
        }
        let Some(place) = self.open.last_mut()?.pop() else {
            self.open.pop();
            return Some(Step::Leave);
        };
        let Some(metadata) = &place.metadata else {
            let detail = "its kind could not be asked".to_owned();
            return Some(Step::Odd(place, SkipReason::Unreadable, detail));
        };
        let kind = metadata.file_type();
        Some(if kind.is_dir() {
            self.enter(place)
        } else if kind.is_file() {
            Step::File(place)
        } else if kind.is_symlink() {
            let detail = "a symbolic link, not followed".to_owned();
            Step::Odd(place, SkipReason::Link, detail)
        } else {
            let detail = "neither a file nor a folder".to_owned();
            Step::Odd(place, SkipReason::Special, detail)
        })
    }
}

fn unlistable(place: &Place, error: &std::io::Error) -> Step {
    let place = Place {
        path: place.path.clone(),
        full: place.full.clone(),
        metadata: None,
    };
    let detail = format!("the folder could not be listed: {error}");
    Step::Odd(place, SkipReason::Unreadable, detail)
}

/// The entries of a folder, the first one last; and what kept the listing from being whole.
fn list(folder: &Place) -> std::io::Result<(Vec<Place>, Option<Step>)> {
    let (mut places, mut fault) = (Vec::new(), None);
    for entry in fs::read_dir(&folder.full)? {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                fault = Some(unlistable(folder, &error));
                continue;
            }
        };
        let mut path = folder.path.clone();
        if !path.is_empty() {
            path.push(b'/');
        }
        path.extend(entry.file_name().as_encoded_bytes());
        places.push(Place {
            path,
            full: entry.path(),
            metadata: entry.metadata().ok(),
        });
    }
    places.sort_unstable_by(|one, other| other.path.cmp(&one.path));
    Ok((places, fault))
}
