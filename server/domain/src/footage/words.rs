//! Text as files are looked for: folded, cut into words, and forgiven a slip of the pen.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Words shorter than this are told apart by any letter, so that no slip is forgiven in them.
const SLIP_FROM: usize = 4;
/// Two slips are forgiven from this many letters on.
const TWO_SLIPS_FROM: usize = 7;
/// Longer words are nobody's typing.
const LONGEST: usize = 40;

/// Text as it is searched: lower case, without accents, one blank for any run of blanks and slashes.
///
/// ```
/// # use waybill_domain::footage::words::fold;
/// assert_eq!(fold("Café/  São João"), "cafe sao joao");
/// ```
pub fn fold(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.nfkd().filter(|c| !is_combining_mark(*c)) {
        if c == '/' || c.is_whitespace() {
            if !out.is_empty() && !out.ends_with(' ') {
                out.push(' ');
            }
        } else {
            out.extend(c.to_lowercase());
        }
    }
    out.truncate(out.trim_end().len());
    out
}

/// The words of folded text that a slip is looked for in: three letters or digits and more.
pub fn words(folded: &str) -> impl Iterator<Item = &str> {
    folded
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| (3..=LONGEST).contains(&word.chars().count()))
}

/// The digits of a word, in order: what no slip changes, for another number is another thing.
pub fn digits(word: &str) -> String {
    word.chars().filter(char::is_ascii_digit).collect()
}

/// How many slips are forgiven in a word. A slip is a letter too many, too few, or another one, or two neighbours the
/// wrong way round.
pub fn forgiven(word: &str) -> usize {
    match word.chars().filter(|c| !c.is_ascii_digit()).count() {
        0..SLIP_FROM => 0,
        SLIP_FROM..TWO_SLIPS_FROM => 1,
        _ => 2,
    }
}

/// Those of `known` that `word` may have been meant for: with the fewest slips, the digits as typed; none when that is
/// more than is forgiven.
///
/// ```
/// # use waybill_domain::footage::words::meant;
/// assert_eq!(meant("gymansium", ["gymnasium", "symposium"]), ["gymnasium"]);
/// assert_eq!(meant("clpi0137", ["clip0137", "clip0138"]), ["clip0137"]);
/// ```
pub fn meant<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    let most = forgiven(word);
    let (length, numbers) = (word.chars().count(), digits(word));
    let mut best = most;
    let mut found = Vec::new();
    for other in known {
        if other.chars().count().abs_diff(length) > best || digits(other) != numbers {
            continue;
        }
        let slips = strsim::osa_distance(word, other);
        if slips > best || slips == 0 {
            continue;
        }
        if slips < best {
            best = slips;
            found.clear();
        }
        found.push(other);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The commonest slips: Damerau, "A technique for computer detection and correction of spelling errors",
    /// Communications of the ACM 7(3), 1964: one letter wrong, missing, extra, or two neighbours exchanged.
    #[test]
    fn each_of_damerau_s_four_slips_is_one() {
        for typed in ["harbuor", "harbor", "harbouur", "harbopr"] {
            assert_eq!(meant(typed, ["harbour", "arbour"]), ["harbour"], "{typed}");
        }
    }

    #[test]
    fn numbers_and_short_words_are_taken_as_typed() {
        assert!(meant("clip0139", ["clip0137", "clip0138"]).is_empty());
        assert!(meant("cam", ["cab", "can"]).is_empty());
        assert!(meant("a001", ["a010", "b001"]).is_empty());
    }

    #[test]
    fn the_fewest_slips_win() {
        assert_eq!(meant("lindqvst", ["lindqvist", "lindquist"]), ["lindqvist"]);
    }

    /// Unicode Standard Annex 15: NFKD takes letters and their marks apart, and forms of one letter together.
    #[test]
    fn folding_takes_marks_off_and_forms_together() {
        assert_eq!(fold(" Stra\u{df}e\tMarkt//ﬁn "), "straße markt fin");
        assert_eq!(fold("e\u{301}cole"), fold("école"));
        assert_eq!(fold("/ /"), "");
    }

    #[test]
    fn words_are_what_signs_part() {
        let all: Vec<_> = words("20240902_a001_cama_cafe-sao clip.mxf b1").collect();
        assert_eq!(
            all,
            ["20240902", "a001", "cama", "cafe", "sao", "clip", "mxf"]
        );
    }
}
