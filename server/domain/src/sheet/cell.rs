//! What stands in a cell, before anybody says what it means.

use chrono::NaiveDate;
use unicode_normalization::UnicodeNormalization;

/// A cell as the file has it.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Cell {
    /// Nothing.
    #[default]
    Empty,
    /// Text, as typed.
    Text(String),
    /// A number that the file says is one.
    Number(f64),
    /// True or false.
    YesNo(bool),
    /// A day that the file says is one.
    Day(NaiveDate),
    /// The file's own error value, such as `#REF!`.
    Broken(String),
}

impl Cell {
    /// A cell of text; blank text is no content.
    pub fn text(text: impl Into<String>) -> Self {
        let text = text.into();
        if text.trim().is_empty() {
            Self::Empty
        } else {
            Self::Text(text)
        }
    }

    /// Whether nothing stands in it.
    pub fn is_empty(&self) -> bool {
        match self {
            Self::Empty => true,
            Self::Text(text) => text.trim().is_empty(),
            _ => false,
        }
    }

    /// The cell in words. Whole numbers without a point, days as ISO 8601.
    ///
    /// ```
    /// use waybill_domain::sheet::Cell;
    /// assert_eq!(Cell::Number(123.0).shown(), "123");
    /// assert_eq!(Cell::Number(0.5).shown(), "0.5");
    /// ```
    pub fn shown(&self) -> String {
        match self {
            Self::Empty => String::new(),
            Self::Text(text) | Self::Broken(text) => text.clone(),
            Self::Number(number) => number.to_string(),
            Self::YesNo(true) => "yes".into(),
            Self::YesNo(false) => "no".into(),
            Self::Day(day) => day.to_string(),
        }
    }
}

/// A row of the file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GridRow {
    /// Its number as a spreadsheet counts, from 1; in a text file the line on which it begins.
    pub number: u32,
    /// Its cells from the first column on; the rest of the width is empty.
    pub cells: Vec<Cell>,
}

impl GridRow {
    /// The cell of a column, counted from 0.
    pub fn cell(&self, column: usize) -> &Cell {
        self.cells.get(column).unwrap_or(&Cell::Empty)
    }
}

/// A text as it is compared: small letters without accents, everything else a single space.
///
/// ```
/// use waybill_domain::sheet::fold;
/// assert_eq!(fold("  Zoë O’Neill-Łąka "), "zoe o neill łaka");
/// assert_eq!(fold("Straße"), fold("STRASSE"));
/// ```
pub fn fold(text: &str) -> String {
    let mut out = String::new();
    for c in text.nfkd().flat_map(char::to_lowercase) {
        if c == 'ß' {
            out.push_str("ss");
        } else if c.is_alphanumeric() {
            out.push(c);
        } else if !unicode_normalization::char::is_combining_mark(c)
            && !out.is_empty()
            && !out.ends_with(' ')
        {
            out.push(' ');
        }
    }
    out.truncate(out.trim_end().len());
    out
}
