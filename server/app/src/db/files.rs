//! Files: one row per content, found by its words and by what is known of it.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Text as it is searched: lower case, without accents, one blank for any run of blanks and slashes.
pub fn fold(text: &str) -> String {
    let plain: String = text
        .nfkd()
        .filter(|c| !is_combining_mark(*c))
        .flat_map(char::to_lowercase)
        .map(|c| {
            if c == '/' || c.is_whitespace() {
                ' '
            } else {
                c
            }
        })
        .collect();
    plain
        .split(' ')
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// What a cut calls a clip: the name without its extension, lower case.
pub fn stem(name: &str) -> String {
    let stem = match name.rsplit_once('.') {
        Some((stem, extension)) if !stem.is_empty() && extension.len() <= 5 => stem,
        _ => name,
    };
    stem.to_lowercase()
}
