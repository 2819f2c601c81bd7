//! JSON as OpenTimelineIO writes it: `NaN` and the infinities may stand bare, which JSON proper
//! refuses. They become `null`; a time that held one is then a time that is missing.

use serde_json::Value;
use serde_json::error::Category;

use crate::timeline::TimelineError;

/// Longest first, so that no word is taken for the start of another.
const NOT_NUMBERS: [&str; 5] = ["-Infinity", "Infinity", "-Inf", "Inf", "NaN"];

pub(super) fn parse(text: &str) -> Result<Value, TimelineError> {
    serde_json::from_str(&plain(text)).map_err(|error| match error.classify() {
        Category::Eof => TimelineError::JsonCutShort { line: error.line() },
        _ => TimelineError::Json {
            line: error.line(),
            column: error.column(),
            problem: without_place(&error.to_string()),
        },
    })
}

/// The message of the parser ends in the place, which the error states on its own.
fn without_place(message: &str) -> String {
    let end = message.rfind(" at line ").unwrap_or(message.len());
    message.get(..end).unwrap_or(message).to_owned()
}

/// The same text with the words that are no JSON replaced, strings left alone.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(['"', 'N', 'I', '-']) {
        let (before, from) = rest.split_at(at);
        out.push_str(before);
        let length = if from.starts_with('"') {
            let length = string_length(from);
            out.push_str(&from[..length]);
            length
        } else if let Some(word) = NOT_NUMBERS.iter().find(|word| from.starts_with(**word)) {
            out.push_str("null");
            word.len()
        } else {
            out.push_str(&from[..1]);
            1
        };
        rest = &from[length..];
    }
    out.push_str(rest);
    out
}

/// Bytes of the string literal that `text` begins with, both quotes included.
fn string_length(text: &str) -> usize {
    let mut escaped = false;
    for (at, byte) in text.bytes().enumerate().skip(1) {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'"' => return at + 1,
            _ => {}
        }
    }
    text.len()
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    #[test]
    fn bare_words_become_null_and_strings_stay() {
        let value = parse(r#"{"a": [NaN, -Infinity, Inf, -1], "b\"Inf": "NaN \\"}"#).unwrap();
        assert_eq!(value["a"], serde_json::json!([null, null, null, -1]));
        assert_eq!(value["b\"Inf"], "NaN \\");
    }

    #[test]
    fn a_half_written_file_is_told_from_a_wrong_one() {
        let cut = parse("{\n\"a\": [1,");
        assert_eq!(cut, Err(TimelineError::JsonCutShort { line: 2 }));
        let inside_a_string = parse("{\"a\": \"Na");
        assert_eq!(
            inside_a_string,
            Err(TimelineError::JsonCutShort { line: 1 })
        );
        assert!(matches!(
            parse("{a}"),
            Err(TimelineError::Json { column: 2, .. })
        ));
    }
}
