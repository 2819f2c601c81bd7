//! What happens to letters that the embedded fonts do not hold.
//!
//! A box in place of a name would be a silent loss on a paper that people sign, so such a letter is
//! printed as its code point, `[U+6771]`, and the report says so. Control characters and those that
//! turn the reading direction round (they can make a name read as another) are printed the same way.

use std::collections::HashSet;
use std::sync::LazyLock;

use serde_json::Value;
use unicode_normalization::UnicodeNormalization;
use waybill_domain::wording::MONTHS;

use crate::world::fonts;

static HELD: LazyLock<HashSet<u32>> = LazyLock::new(|| {
    fonts()
        .iter()
        .flat_map(|font| font.info().coverage.iter())
        .collect()
});

/// Makes every text in a JSON value printable; answers how many texts had to be changed.
pub(crate) fn make_printable(value: &mut Value) -> usize {
    match value {
        Value::String(text) => {
            let (clean, lost) = printable(text);
            *text = whole_dates(clean);
            usize::from(lost)
        }
        Value::Array(items) => items.iter_mut().map(make_printable).sum(),
        Value::Object(fields) => fields.values_mut().map(make_printable).sum(),
        Value::Null | Value::Bool(_) | Value::Number(_) => 0,
    }
}

/// The text with composed letters, single spaces for line ends and tabs, and code points in place
/// of letters that cannot be printed; the flag says whether there were any of those.
fn printable(text: &str) -> (String, bool) {
    let mut lost = false;
    let mut out = String::with_capacity(text.len());
    for letter in text.nfc() {
        match letter {
            '\n' | '\r' | '\t' | '\u{2028}' | '\u{2029}' => out.push(' '),
            _ if is_invisible(letter) => {}
            _ if HELD.contains(&u32::from(letter)) && !is_deceptive(letter) => out.push(letter),
            _ => {
                lost = true;
                out.push_str(&format!("[U+{:04X}]", u32::from(letter)));
            }
        }
    }
    (out, lost)
}

/// A date such as `9 Jan 2031` with spaces that do not part at a line's end: it is read as one word.
fn whole_dates(text: String) -> String {
    let parts = |at: &usize| is_date(&text.as_bytes()[..*at], &text.as_bytes()[*at..]);
    let days: Vec<usize> = text
        .match_indices(' ')
        .map(|(at, _)| at)
        .filter(parts)
        .collect();
    let mut out = String::with_capacity(text.len() + 2 * days.len());
    let mut from = 0;
    for at in days {
        // The month has three letters, so the second space stands four bytes on.
        for space in [at, at + 4] {
            out.push_str(&text[from..space]);
            out.push('\u{A0}');
            from = space + 1;
        }
    }
    if from == 0 {
        return text;
    }
    out.push_str(&text[from..]);
    out
}

/// Whether a day of the month stands before this space, and a month and a year after it.
fn is_date(before: &[u8], after: &[u8]) -> bool {
    let digits = before.iter().rev().take_while(|byte| byte.is_ascii_digit());
    let day = digits.count();
    let [b' ', month @ .., b' ', y, e, a, r] = after.get(..9).unwrap_or_default() else {
        return false;
    };
    let joined = before.len().checked_sub(day + 1).map(|at| before[at]);
    (1..=2).contains(&day)
        && !joined.is_some_and(is_word)
        && MONTHS.iter().any(|name| name.as_bytes() == month)
        && [y, e, a, r].into_iter().all(u8::is_ascii_digit)
        && !after.get(9).copied().is_some_and(is_word)
}

const fn is_word(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'_' || !byte.is_ascii()
}

/// Joiners, variation selectors and the byte order mark: they print nothing by themselves.
const fn is_invisible(letter: char) -> bool {
    matches!(letter, '\u{200B}'..='\u{200D}' | '\u{2060}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}')
}

/// Control characters, and the Unicode marks that turn the direction of text round.
fn is_deceptive(letter: char) -> bool {
    letter.is_control()
        || matches!(letter, '\u{200E}' | '\u{200F}' | '\u{061C}')
        || matches!(letter, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::{printable, whole_dates};

    #[test]
    fn dates_stand_as_one_word() {
        for (given, kept) in [
            (
                "from 1 Jan 2030 to 31 Dec 2049.",
                "from 1~Jan~2030 to 31~Dec~2049.",
            ),
            ("(9 May 2031)", "(9~May~2031)"),
            (
                "131 Dec 2049, A4 May 2030, 3 Mayo 2030, 3 May 20301, 3 May 203, 3 May",
                "",
            ),
            ("", ""),
        ] {
            let kept = if kept.is_empty() { given } else { kept };
            assert_eq!(whole_dates(given.to_owned()), kept.replace('~', "\u{A0}"));
        }
    }

    #[test]
    fn european_names_stay_as_they_are() {
        for name in [
            "Siân Ó Dálaigh",
            "Łucja Żółć",
            "Đỗ Nguyễn",
            "Ωμέγα",
            "Тест",
            "½ × “x” – …",
        ] {
            assert_eq!(printable(name), (name.to_owned(), false));
        }
    }

    #[test]
    fn letters_without_a_glyph_become_code_points() {
        assert_eq!(printable("東"), ("[U+6771]".to_owned(), true));
        assert_eq!(
            printable("a\u{202E}b\u{0}"),
            ("a[U+202E]b[U+0000]".to_owned(), true)
        );
        assert_eq!(printable("a\nb\tc\u{200B}"), ("a b c".to_owned(), false));
        assert_eq!(printable("e\u{301}"), ("é".to_owned(), false));
    }
}
