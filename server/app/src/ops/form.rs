//! In which forms papers are taken away, and plain words for their file names.

/// A form that a report is set in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    Json,
    Pdf,
    Xlsx,
    Csv,
}

impl Form {
    /// The ending of its file name.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Pdf => "pdf",
            Self::Xlsx => "xlsx",
            Self::Csv => "csv",
        }
    }

    /// Its media type.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Json => "application/json",
            Self::Pdf => "application/pdf",
            Self::Xlsx => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
            Self::Csv => "text/csv; charset=utf-8",
        }
    }
}

/// Plain letters only, for file names.
pub fn plain(text: &str) -> String {
    let mut out: String = text
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
        .take(60)
        .collect();
    while out.ends_with('_') {
        out.pop();
    }
    if out.is_empty() { "cut".into() } else { out }
}
