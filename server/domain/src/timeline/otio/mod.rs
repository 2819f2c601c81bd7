//! OpenTimelineIO JSON, by its published file format and structure documents.
//!
//! `json` reads the text, `tree` the objects, `walk` finds where every clip stands and what it
//! uses, `time` computes exactly, and `output` turns that into the common model.

mod json;
mod output;
#[cfg(test)]
mod tests;
mod time;
mod tree;
mod walk;

use super::TimelineError;
pub(super) use output::as_float;

/// A file, read and laid out.
#[derive(Debug, Clone, PartialEq)]
pub struct Composition {
    document: tree::Document,
    clips: Vec<walk::Placed>,
}

/// Reads a whole file. Fails when it is not JSON or holds no timeline; unknown objects are left out
/// and reported.
pub fn read(text: &str) -> Result<Composition, TimelineError> {
    let document = tree::read(&json::parse(text)?)?;
    let clips = walk::clips(&document.root);
    Ok(Composition { document, clips })
}
