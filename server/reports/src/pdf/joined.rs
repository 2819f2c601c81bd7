//! A long paper set in parts, side by side on the cores, whose pages are joined before they are written.
//!
//! The typesetter works a document out as one, on one core where it is one table, and twice where it prints the number
//! of its pages. Parts are documents of their own; the heads and feet of the pages are one more.

use std::cmp::Reverse;

use rayon::prelude::*;
use serde::Serialize;
use serde_json::Value;
use typst::layout::Point;
use typst::model::{Document, DocumentInfo};
use typst_layout::{Page, PagedDocument};

use super::refused;
use super::view::Part;
use crate::world::ReportWorld;
use crate::{ReportError, glyphs};

/// What each part prints, in letters that can be printed.
pub(super) fn data(parts: Vec<Part>) -> Result<Vec<Vec<u8>>, ReportError> {
    let printable = |part: &Part| {
        let mut data = serde_json::to_value(part)?;
        let changed = glyphs::make_printable(&mut data);
        Ok((data, changed))
    };
    let all: Vec<(Value, usize)> = parts
        .par_iter()
        .map(printable)
        .collect::<Result<_, ReportError>>()?;
    let unprintable: usize = all.iter().map(|(_, changed)| changed).sum();
    let written = all.into_par_iter().map(|(mut data, _)| {
        data["unprintable"] = unprintable.into();
        Ok(serde_json::to_vec(&data)?)
    });
    written.collect()
}

/// The pages of all parts, in order, and what the first part says of the document.
pub(super) fn pages(
    template: &str,
    parts: &[Vec<u8>],
) -> Result<(Vec<Page>, DocumentInfo), ReportError> {
    // The longest first, so that no core is left with it alone at the end.
    let mut order: Vec<usize> = (0..parts.len()).collect();
    order.sort_by_key(|&at| Reverse(parts[at].len()));
    let set = |at: usize| {
        let world = ReportWorld::part(at + 1, template, parts[at].clone());
        Ok((at, document(&world)?))
    };
    let set = order.into_par_iter().with_max_len(1).map(set);
    let mut parts = set.collect::<Result<Vec<_>, ReportError>>()?;
    parts.sort_by_key(|&(at, _)| at);
    let parts: Vec<PagedDocument> = parts.into_iter().map(|(_, part)| part).collect();
    let info = parts.first().map(|part| part.info().clone());
    let pages = parts.iter().flat_map(|part| part.pages().iter().cloned());
    Ok((pages.collect(), info.unwrap_or_default()))
}

/// The same with heads and feet: of the page with the same number of another document.
pub(super) fn with_marginals(
    (mut pages, info): (Vec<Page>, DocumentInfo),
    template: &str,
    marginals: &impl Serialize,
) -> Result<PagedDocument, ReportError> {
    let mut data = serde_json::to_value(marginals)?;
    glyphs::make_printable(&mut data);
    let marginals = document(&ReportWorld::new(template, serde_json::to_vec(&data)?))?;
    for (number, (page, around)) in (1..).zip(pages.iter_mut().zip(marginals.pages())) {
        page.number = number;
        page.frame.push_frame(Point::zero(), around.frame.clone());
    }
    Ok(PagedDocument::new(pages.into(), info))
}

fn document(world: &ReportWorld) -> Result<PagedDocument, ReportError> {
    typst::compile(world).output.map_err(refused)
}
