//! The rules that many fields share: lengths, control characters, dates in order.

use chrono::NaiveDate;

use crate::error::FieldError;

/// Text of at most `most` characters without control characters (line breaks and tabs are fine).
pub fn text(faults: &mut Vec<FieldError>, pointer: &str, value: &str, most: usize) {
    let length = value.chars().count();
    if length > most {
        faults.push(FieldError::new(
            pointer,
            format!("{length} characters; at most {most} fit here."),
        ));
    }
    if value
        .chars()
        .any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
    {
        faults.push(FieldError::new(
            pointer,
            "There is an invisible control character in it; please type it again.",
        ));
    }
}

/// As [`text`], and not empty.
pub fn required(faults: &mut Vec<FieldError>, pointer: &str, value: &str, most: usize) {
    if value.trim().is_empty() {
        faults.push(FieldError::new(pointer, "Please fill this in."));
    }
    text(faults, pointer, value, most);
}

/// `to` is not before `from`; `what` names the earlier date, for the sentence.
pub fn order(
    faults: &mut Vec<FieldError>,
    pointer: &str,
    what: &str,
    from: Option<NaiveDate>,
    to: Option<NaiveDate>,
) {
    if let (Some(from), Some(to)) = (from, to)
        && to < from
    {
        faults.push(FieldError::new(
            pointer,
            format!("{} is before {what} ({}).", date(to), date(from)),
        ));
    }
}

/// Each of a list of texts.
pub fn texts(
    faults: &mut Vec<FieldError>,
    pointer: &str,
    values: &[String],
    most: usize,
    items: usize,
) {
    if values.len() > items {
        faults.push(FieldError::new(
            pointer,
            format!("{} entries; at most {items} fit here.", values.len()),
        ));
    }
    for (at, value) in values.iter().enumerate() {
        required(faults, &format!("{pointer}/{at}"), value, most);
    }
}

/// A date as it is shown everywhere: `9 Jan 2029`.
pub fn date(date: NaiveDate) -> String {
    date.format("%-d %b %Y").to_string()
}
