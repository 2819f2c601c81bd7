//! Data in, PDF, XLSX, CSV and JSON bytes out.
//!
//! One module per form; all of them print the same [`ClearanceReport`] and take every word for a
//! date, a length or a state from `waybill_domain::report`, so that no two forms can disagree.
//! Nothing here asks the clock, opens a file or the network: the same report gives the same bytes.

pub mod binder;
pub mod csv;
pub mod json;
pub mod paper;
pub mod pdf;
pub mod sheet;
pub mod xlsx;

mod glyphs;
mod world;

use waybill_domain::report::ClearanceReport;
use waybill_domain::wording::grouped;

pub use crate::binder::{Binder, BinderItem, render_binder};
pub use crate::paper::{PaperForm, render_paper};
pub use crate::{csv::render_csv, json::render_json, pdf::render_pdf, xlsx::render_xlsx};

/// Most elements that one report may hold. A feature-length archive film stays under 1,000.
pub const MOST_ROWS: usize = 5_000;

/// Most uses that one report may hold.
pub const MOST_USES: usize = 20_000;

/// Why a report could not be made. Each message says what and what to do.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// More than paper can hold; keeps one request from holding the processor for minutes.
    #[error(
        "this report has {} elements and {} uses; at most {} elements and {} uses can be printed. Take the \
         JSON form, or split the cut",
        grouped(*.rows as u64),
        grouped(*.uses as u64),
        grouped(MOST_ROWS as u64),
        grouped(MOST_USES as u64)
    )]
    TooLarge {
        /// Elements in the report.
        rows: usize,
        /// Uses in the report.
        uses: usize,
    },
    /// The typesetter refused. The template is ours, so this is our fault.
    #[error("the PDF could not be typeset: {0}. The other forms of the report are not affected")]
    Typeset(String),
    /// The spreadsheet writer refused.
    #[error("the spreadsheet could not be written: {0}")]
    Spreadsheet(#[from] rust_xlsxwriter::XlsxError),
    /// The CSV writer refused.
    #[error("the CSV file could not be written: {0}")]
    Csv(#[from] ::csv::Error),
    /// The data could not be written as JSON.
    #[error("the report's data could not be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// Refuses a report that is too large to print.
fn check_size(report: &ClearanceReport) -> Result<(), ReportError> {
    let (rows, uses) = (report.rows.len(), report.uses.len());
    if rows > MOST_ROWS || uses > MOST_USES {
        return Err(ReportError::TooLarge { rows, uses });
    }
    Ok(())
}
