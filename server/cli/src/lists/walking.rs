//! The side of a run that walks: which histories are around a place, what their patterns leave out, and which
//! hash types of a file are wanted.

use std::path::Path;
use std::rc::Rc;

use waybill_domain::hash_list::HISTORY_FOLDER;
use waybill_domain::hash_list::names::forbidden;
use waybill_domain::hashes::HashKind;
use waybill_domain::manifest::SkipReason;

use super::history_run::Options;
use super::load::{Loaded, has_history};
use super::ordered::Next;
use super::reading::{KindSets, ToRead, wanted_kinds};
use super::scope::{Scope, Seat};
use super::tree::{Place, Step, Tree};

/// What goes along with a piece of work on the side that judges.
pub enum Item {
    Enter(Place, Option<Rc<Scope>>),
    Leave,
    File(Place),
    /// In no history's folder.
    Loose(Place),
    Odd(Place, SkipReason, String),
}

/// The side that walks.
pub struct Walk<'a> {
    tree: Tree,
    options: &'a Options,
    /// The histories around the place where the walk is, the innermost last; `None` for a folder without.
    scopes: Vec<Option<Rc<Scope>>>,
    above: Option<Rc<Scope>>,
    sets: KindSets,
    /// Files and folders that patterns leave out.
    pub left_out: u64,
}

impl<'a> Walk<'a> {
    /// `above` is the history that stands for the root, where that has none of its own.
    pub fn new(root: &Path, options: &'a Options, above: Option<Rc<Scope>>) -> Self {
        Self {
            tree: Tree::new(root),
            options,
            scopes: Vec::new(),
            above,
            sets: KindSets::default(),
            left_out: 0,
        }
    }

    fn around(&self) -> impl Iterator<Item = &Rc<Scope>> {
        self.scopes.iter().rev().filter_map(Option::as_ref)
    }

    /// What is next to be read, or to be told in its turn.
    pub fn next(&mut self) -> Option<Next<Item, ToRead>> {
        loop {
            match self.tree.next()? {
                Step::Enter(place) => {
                    let is_history = last_name(&place.path) == HISTORY_FOLDER.as_bytes();
                    if is_history || self.is_left_out(&place, true) {
                        self.left_out += u64::from(!is_history);
                        self.tree.pass_over();
                        // its leaving is the next step
                        self.tree.next();
                        continue;
                    }
                    let scope = self.scope_of(&place);
                    self.scopes.push(scope.clone());
                    return Some(Next::Ready(Item::Enter(place, scope)));
                }
                Step::Leave => {
                    self.scopes.pop();
                    return Some(Next::Ready(Item::Leave));
                }
                Step::Odd(place, reason, detail) => {
                    if self.is_left_out(&place, false) {
                        self.left_out += 1;
                        continue;
                    }
                    return Some(Next::Ready(Item::Odd(place, reason, detail)));
                }
                Step::File(place) => {
                    if self.is_left_out(&place, false) {
                        self.left_out += 1;
                        continue;
                    }
                    return Some(self.file(place));
                }
            }
        }
    }

    fn file(&mut self, place: Place) -> Next<Item, ToRead> {
        let Some(path) = place.text() else {
            let detail = "its name is not Unicode text, which a list cannot hold; rename it";
            return Next::Ready(Item::Odd(place, SkipReason::Name, detail.to_owned()));
        };
        if let Some(c) = forbidden(path) {
            let detail =
                format!("its name has the character {c:?}, which a list cannot hold; rename it");
            return Next::Ready(Item::Odd(place, SkipReason::Name, detail));
        }
        let mut recorded: Vec<HashKind> = Vec::new();
        let mut otherwise: Option<&[HashKind]> = None;
        for scope in self.around() {
            otherwise = otherwise.or(Some(&scope.kinds));
            let history = scope.loaded.history.borrow();
            if let Some(known) = history.files.get(scope.relative(path).as_str()) {
                // types of lists that cannot be trusted are told of, too
                recorded.extend(known.values.iter().map(|value| value.digest.kind()));
            }
        }
        let Some(otherwise) = otherwise else {
            return Next::Ready(Item::Loose(place));
        };
        let wanted = wanted_kinds(&recorded, &self.options.kinds, otherwise);
        let to_read = ToRead {
            full: place.full.clone(),
            kinds: self.sets.get(wanted),
            known: None,
        };
        Next::Work(Item::File(place), to_read)
    }

    /// The history of a folder, read when it is entered.
    fn scope_of(&mut self, place: &Place) -> Option<Rc<Scope>> {
        let path = place.text()?;
        let is_root = path.is_empty();
        let loaded = if has_history(&place.full) {
            Loaded::read(&place.full, self.options.record)
        } else if is_root && self.options.create {
            Loaded::empty(&place.full)
        } else if is_root {
            // a history above stands for the root, and is no folder of the walk
            return self.above.take();
        } else {
            return None;
        };
        let seat = Seat::Below(path.to_owned());
        Some(Rc::new(Scope::new(
            loaded,
            seat,
            &self.options.kinds,
            &self.options.ignore,
        )))
    }

    fn is_left_out(&self, place: &Place, is_folder: bool) -> bool {
        let Some(path) = place.text().filter(|path| !path.is_empty()) else {
            return false;
        };
        let innermost = self.around().next();
        innermost.is_some_and(|scope| scope.ignore.leaves_out(&scope.relative(path), is_folder))
    }
}

fn last_name(path: &[u8]) -> &[u8] {
    path.rsplit(|c| *c == b'/').next().unwrap_or(path)
}
