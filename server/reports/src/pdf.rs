//! The report as a tagged PDF (PDF/UA-1), typeset by typst from one template.
//!
//! The template reads prepared words from `/data.json`; what a user typed is never markup, so it can
//! place no link, file or script. Work is CPU-bound: call it from a blocking thread, one at a time.

mod covered;
mod joined;
mod lines;
mod rows;
mod uses;
mod view;

use typst::diag::SourceDiagnostic;
use typst::ecow::EcoVec;
use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};
use waybill_domain::report::ClearanceReport;

use crate::world::ReportWorld;
use crate::{ReportError, check_size, glyphs};

const TEMPLATE: &str = include_str!("templates/clearance.typ");
const MARGINALS: &str = include_str!("templates/marginals.typ");

/// Empties typst's global store of intermediate results when a rendering ends, however it ends;
/// without it a server grows with every report. It takes a while after a long one, and nobody waits for it: a
/// rendering that begins meanwhile at worst works out again what is gone.
struct Evict;

impl Drop for Evict {
    fn drop(&mut self) {
        let evict = || comemo::evict(0);
        if std::thread::Builder::new().spawn(evict).is_err() {
            evict();
        }
    }
}

/// Typesets the report as an A4 PDF. The same report gives the same bytes.
///
/// The file conforms to PDF/UA-1 as far as the typesetter can check it. Should a text need letters
/// that cannot be joined as that standard asks, the same pages come as ordinary tagged PDF instead:
/// the paper is worth more than the mark on it.
///
/// # Errors
/// When the report is too large ([`ReportError::TooLarge`]) or the typesetter refuses.
pub fn render_pdf(report: &ClearanceReport) -> Result<Vec<u8>, ReportError> {
    check_size(report)?;
    let _evict = Evict;
    let parts = joined::data(view::parts(report))?;
    let pages = joined::pages(TEMPLATE, &parts)?;
    let marginals = view::Marginals::of(report, pages.0.len());
    export(&joined::with_marginals(pages, MARGINALS, &marginals)?)
}

/// Sets a template of ours with its data; a JSON object.
pub(crate) fn typeset(
    template: &'static str,
    data: serde_json::Value,
) -> Result<Vec<u8>, ReportError> {
    typeset_image(template, data, Vec::new())
}

/// As [`typeset`], with a picture that the template finds as `/scan`.
pub(crate) fn typeset_image(
    template: &'static str,
    mut data: serde_json::Value,
    image: Vec<u8>,
) -> Result<Vec<u8>, ReportError> {
    let changed = glyphs::make_printable(&mut data);
    data["unprintable"] = changed.into();
    let _evict = Evict;
    let world = ReportWorld::new(template, serde_json::to_vec(&data)?).with_image(image);
    export(&typst::compile(&world).output.map_err(refused)?)
}

/// The pages as a file.
fn export(document: &PagedDocument) -> Result<Vec<u8>, ReportError> {
    let accessible = typst_pdf::pdf(document, &options(PdfStandard::Ua_1)?);
    match accessible {
        Ok(bytes) => Ok(bytes),
        Err(_) => typst_pdf::pdf(document, &options(PdfStandard::V_1_7)?).map_err(refused),
    }
}

fn options(standard: PdfStandard) -> Result<PdfOptions, ReportError> {
    let standards = PdfStandards::new(&[standard])
        .map_err(|error| ReportError::Typeset(error.message().to_string()))?;
    let creator = Smart::Custom(Some("Waybill".into()));
    Ok(PdfOptions {
        creator,
        standards,
        ..PdfOptions::default()
    })
}

fn refused(errors: EcoVec<SourceDiagnostic>) -> ReportError {
    let messages: Vec<&str> = errors.iter().map(|error| error.message.as_str()).collect();
    ReportError::Typeset(messages.join("; "))
}
