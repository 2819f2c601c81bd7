//! The report as JSON: the data model itself, indented, in the order of its fields.

use waybill_domain::report::ClearanceReport;

use crate::ReportError;

/// Writes the report as indented JSON with a line end at the end.
///
/// # Errors
/// When the data cannot be written as JSON, which no value of this type brings about.
pub fn render_json(report: &ClearanceReport) -> Result<Vec<u8>, ReportError> {
    let mut bytes = serde_json::to_vec_pretty(report)?;
    bytes.push(b'\n');
    Ok(bytes)
}
