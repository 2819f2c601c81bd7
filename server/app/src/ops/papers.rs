//! Papers about an episode as pages and files: the data is put together here, the setting is `waybill_reports`' work.

pub mod binder;
mod chain;
pub mod checklist;
mod credits;
pub mod episode;
mod found;
mod points;
mod third_party;

use std::sync::Arc;

use waybill_domain::papers::PrintedPaper;
use waybill_reports::{PaperForm, ReportError, render_paper};

use super::blocking;
use crate::app::App;
use crate::error::OpError;

pub use crate::ops::form::{Form, plain};

/// A file to take away.
pub struct File {
    pub name: String,
    pub media_type: &'static str,
    pub bytes: Vec<u8>,
}

/// Sets a paper as a file; the typesetter and the workbook one at a time.
///
/// # Errors
/// `TooLarge` for more than paper can hold; `Internal` for a form that papers do not have.
pub async fn set(
    app: &App,
    paper: PrintedPaper,
    form: Form,
    name: String,
) -> Result<File, OpError> {
    let bytes = bytes(app, paper, form).await?;
    Ok(File {
        name,
        media_type: form.media_type(),
        bytes,
    })
}

/// The bytes of a paper in a form.
///
/// # Errors
/// As [`set`].
pub async fn bytes(app: &App, paper: PrintedPaper, form: Form) -> Result<Vec<u8>, OpError> {
    let paper_form = match form {
        Form::Pdf => PaperForm::Pdf,
        Form::Xlsx => PaperForm::Xlsx,
        Form::Csv => PaperForm::Csv,
        Form::Json => {
            return serde_json::to_vec(&paper)
                .map_err(|error| OpError::Internal(format!("paper: {error}")));
        }
    };
    let turn = match form {
        Form::Pdf | Form::Xlsx => {
            let turn = Arc::clone(&app.typesetting).acquire_owned().await;
            Some(turn.map_err(|error| OpError::Internal(error.to_string()))?)
        }
        Form::Json | Form::Csv => None,
    };
    let set = move || {
        // Held until the work is done, even when nobody waits for it any more.
        let _turn = turn;
        render_paper(&paper, paper_form)
    };
    blocking(set).await?.map_err(|error| match error {
        ReportError::TooLarge { .. } => OpError::TooLarge(error.to_string()),
        other => OpError::Internal(other.to_string()),
    })
}
