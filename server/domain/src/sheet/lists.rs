//! Several values in one cell: parted, and known as territories or media by their codes, names and
//! the words that teams use.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use super::cell::fold;
use crate::rights::{medium, territory};

/// The parts of a cell. `sign` given: at exactly that. Else at line breaks if there are any, else at
/// semicolons and bars.
pub fn parts(text: &str, sign: Option<char>) -> Vec<&str> {
    let at = |c: char| match sign {
        Some(sign) => c == sign,
        None if text.contains('\n') => c == '\n',
        None => matches!(c, ';' | '|'),
    };
    text.split(at)
        .map(str::trim)
        .filter(|part| !part.is_empty())
        .collect()
}

/// Texts as one cell that [`parts`] takes apart again.
pub fn join(texts: &[String]) -> String {
    if texts.iter().any(|text| text.contains([';', '|'])) {
        texts.iter().map(|text| format!("{text}\n")).collect()
    } else {
        texts.join("; ")
    }
}

/// Territories in a cell, as codes, or by the names of the team's own groups.
///
/// # Errors
/// The word that is no territory, in a sentence.
pub fn territories(
    text: &str,
    sign: Option<char>,
    groups: &[String],
) -> Result<Vec<String>, String> {
    known(
        text,
        sign,
        &TERRITORY_WORDS,
        |code| territory::name(code).is_some() || groups.iter().any(|group| group == code),
        |word| {
            format!(
                "“{word}” is no territory. Write an ISO code such as GB, a name in English, or “world”; parts are parted by semicolons."
            )
        },
    )
}

/// Media in a cell, as dotted names.
///
/// # Errors
/// The word that is no medium, in a sentence.
pub fn media(text: &str, sign: Option<char>) -> Result<Vec<String>, String> {
    let is = |name: &str| name == "all" || medium::TREE.iter().any(|(known, _)| *known == name);
    known(text, sign, &MEDIA_WORDS, is, |word| {
        format!(
            "“{word}” is no medium. Write for instance television, on demand, cinema or “all media”; parts are parted by semicolons."
        )
    })
}

/// A whole cell that is known is one value ("Trinidad and Tobago"); else it is parted, and what is
/// not known is parted at commas, slashes and plus signs too.
fn known(
    text: &str,
    sign: Option<char>,
    words: &BTreeMap<String, String>,
    is_code: impl Fn(&str) -> bool,
    wrong: impl Fn(&str) -> String,
) -> Result<Vec<String>, String> {
    let one = |word: &str| -> Option<String> {
        let word = word.trim();
        if is_code(word) {
            return Some(word.to_owned());
        }
        words.get(&fold(word)).cloned()
    };
    let mut out: Vec<String> = Vec::new();
    let mut add = |code: String| {
        if !out.contains(&code) {
            out.push(code);
        }
    };
    if let Some(code) = one(text) {
        return Ok(vec![code]);
    }
    for part in parts(text, sign) {
        if let Some(code) = one(part) {
            add(code);
            continue;
        }
        let smaller: Vec<&str> = part
            .split(|c| sign.is_none() && matches!(c, ',' | '/' | '+' | '&' | '\n'))
            .map(str::trim)
            .filter(|word| !word.is_empty())
            .collect();
        for word in smaller {
            let codes = (one(word).map(|code| vec![code]))
                .or_else(|| joined_by_and(word, &one))
                .ok_or_else(|| wrong(&word.chars().take(60).collect::<String>()))?;
            codes.into_iter().for_each(&mut add);
        }
    }
    Ok(out)
}

/// "the UK and Ireland", as lists are said; "Trinidad and Tobago and Cuba" is two.
fn joined_by_and(words: &str, one: &impl Fn(&str) -> Option<String>) -> Option<Vec<String>> {
    words.match_indices(" and ").find_map(|(at, sign)| {
        let (before, after) = (&words[..at], &words[at + sign.len()..]);
        let mut codes = vec![one(before)?];
        match one(after) {
            Some(code) => codes.push(code),
            None => codes.extend(joined_by_and(after, one)?),
        }
        Some(codes)
    })
}

static TERRITORY_WORDS: LazyLock<BTreeMap<String, String>> = LazyLock::new(|| {
    let mut words = BTreeMap::new();
    let mut add = |word: &str, code: &str| {
        let folded = fold(word);
        let bare = folded.strip_prefix("the ").unwrap_or(&folded).to_owned();
        words.entry(folded).or_insert_with(|| code.to_owned());
        words.entry(bare).or_insert_with(|| code.to_owned());
    };
    for (code, name) in territory::all() {
        add(code, code);
        add(name, code);
    }
    // UN M.49 regions by their names.
    for number in 2..900 {
        let code = format!("{number:03}");
        if let Some(name) = territory::name(&code) {
            add(name, &code);
        }
    }
    // What teams write, from memory.
    for (word, code) in [
        ("world", "WORLD"),
        ("worldwide", "WORLD"),
        ("world wide", "WORLD"),
        ("ww", "WORLD"),
        ("global", "WORLD"),
        ("all territories", "WORLD"),
        ("all countries", "WORLD"),
        ("uk", "GB"),
        ("united kingdom", "GB"),
        ("great britain", "GB"),
        ("britain", "GB"),
        ("usa", "US"),
        ("united states", "US"),
        ("united states of america", "US"),
        ("america", "US"),
        ("republic of ireland", "IE"),
        ("eire", "IE"),
        ("holland", "NL"),
        ("czech republic", "CZ"),
        ("uae", "AE"),
    ] {
        add(word, code);
    }
    words
});

static MEDIA_WORDS: LazyLock<BTreeMap<String, String>> = LazyLock::new(|| {
    let mut words = BTreeMap::new();
    let mut add = |word: &str, name: &str| {
        words.entry(fold(word)).or_insert_with(|| name.to_owned());
    };
    for (name, text) in medium::TREE {
        add(name, name);
        add(text, name);
    }
    // What teams write, from memory.
    for (word, name) in [
        ("all", "all"),
        ("all media", "all"),
        ("all media now known", "all"),
        ("tv", "television"),
        ("broadcast", "television"),
        ("linear", "television"),
        ("free tv", "television.free"),
        ("free to air", "television.free"),
        ("pay tv", "television.pay"),
        ("cable", "television.pay"),
        ("vod", "on_demand"),
        ("on demand", "on_demand"),
        ("streaming", "on_demand"),
        ("svod", "on_demand.subscription"),
        ("avod", "on_demand.advertising"),
        ("tvod", "on_demand.transactional"),
        ("catch up", "on_demand.catch_up"),
        ("catchup", "on_demand.catch_up"),
        ("theatrical", "cinema"),
        ("theatres", "cinema"),
        ("festival", "festival"),
        ("film festivals", "festival"),
        ("educational", "education"),
        ("schools", "education"),
        ("inflight", "carriers"),
        ("in flight", "carriers"),
        ("airlines", "carriers"),
        ("dvd", "physical"),
        ("dvd blu ray", "physical"),
        ("blu ray", "physical"),
        ("home video", "physical"),
        ("internet", "online"),
        ("web", "online"),
        ("website", "online.site"),
        ("social", "online.social"),
        ("promotion", "promo"),
        ("promos", "promo"),
        ("trailer", "promo"),
        ("trailers", "promo"),
        ("in context promo", "promo.in_context"),
        ("out of context promo", "promo.out_of_context"),
    ] {
        add(word, name);
    }
    words
});

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    #[test]
    fn territories_by_code_name_and_habit() {
        let of = |text: &str| territories(text, None, &[]).unwrap().join(" ");
        assert_eq!(of("GB; IE"), "GB IE");
        assert_eq!(of("UK, Ireland / USA"), "GB IE US");
        assert_eq!(of("Trinidad and Tobago"), "TT");
        assert_eq!(of("the UK and Ireland; France"), "GB IE FR");
        assert_eq!(of("Cuba, Trinidad and Tobago and Chile"), "CU TT CL");
        assert_eq!(of("Worldwide"), "WORLD");
        assert_eq!(of("Northern Europe; cote d'ivoire"), "154 CI");
        assert_eq!(of("UK; GB"), "GB");
        let groups = ["Nordic, all five".to_owned()];
        assert_eq!(
            territories("GB; Nordic, all five", None, &groups).unwrap(),
            ["GB", "Nordic, all five"]
        );
        assert_eq!(territories("GB, IE", Some(','), &[]).unwrap(), ["GB", "IE"]);
        assert!(
            territories("GB; Atlantis", None, &[])
                .unwrap_err()
                .contains("“Atlantis”")
        );
    }

    #[test]
    fn media_by_name_and_habit() {
        let of = |text: &str| media(text, None).unwrap().join(" ");
        assert_eq!(
            of("TV, SVOD + catch-up"),
            "television on_demand.subscription on_demand.catch_up"
        );
        assert_eq!(of("All media"), "all");
        assert_eq!(of("television.free; cinema"), "television.free cinema");
        assert!(media("hologram", None).unwrap_err().contains("hologram"));
    }
}
