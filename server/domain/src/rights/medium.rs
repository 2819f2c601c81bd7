//! In which medium: dotted names, where a name includes all that begins with it and a dot
//! (`television` includes `television.free`), and `all` includes everything.

use crate::wording::and_list;

/// The media Waybill knows by name, with the words for a sentence. A team's own contracts may use
/// further names of the same form; they are compared like these.
pub const TREE: [(&str, &str); 19] = [
    ("television", "television"),
    ("television.free", "free television"),
    ("television.pay", "pay television"),
    ("on_demand", "video on demand"),
    ("on_demand.subscription", "subscription on demand"),
    ("on_demand.advertising", "advertising-paid on demand"),
    ("on_demand.transactional", "pay-per-title on demand"),
    ("on_demand.catch_up", "catch-up"),
    ("cinema", "cinema"),
    ("festival", "festivals"),
    ("education", "education"),
    ("carriers", "airlines and ships"),
    ("physical", "discs"),
    ("online", "online"),
    ("online.site", "the own site"),
    ("online.social", "social media"),
    ("promo", "promotion"),
    ("promo.in_context", "promotion in context"),
    ("promo.out_of_context", "promotion out of context"),
];

/// Whether `name` has the form of a medium: lower-case words joined by dots.
pub fn is_well_formed(name: &str) -> bool {
    let part = |p: &str| {
        !p.is_empty()
            && p.bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
    };
    name.split('.').all(part)
}

/// Whether a granted medium includes a needed one (R3).
///
/// ```
/// use waybill_domain::rights::medium::includes;
/// assert!(includes("television", "television.free") && includes("all", "cinema"));
/// assert!(!includes("television.free", "television") && !includes("tele", "television"));
/// ```
pub fn includes(granted: &str, needed: &str) -> bool {
    granted == "all"
        || needed
            .strip_prefix(granted)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

/// Whether any of the granted media includes the needed one.
pub fn any_includes(granted: &[String], needed: &str) -> bool {
    granted.iter().any(|name| includes(name, needed))
}

/// The leaves of the tree that a list of media names: what a need for `television` or `all` asks.
/// A name outside the tree, and a leaf, stand for themselves.
pub fn leaves(media: &[String]) -> Vec<String> {
    let is_leaf = |name: &str| {
        !TREE
            .iter()
            .any(|(other, _)| other.starts_with(&format!("{name}.")))
    };
    let mut out: Vec<String> = Vec::new();
    for name in media {
        let mut below: Vec<String> = TREE
            .iter()
            .filter(|(known, _)| is_leaf(known) && includes(name, known))
            .map(|(known, _)| (*known).to_owned())
            .collect();
        if below.is_empty() {
            below.push(name.clone());
        }
        out.extend(
            below
                .into_iter()
                .filter(|leaf| !out.contains(leaf))
                .collect::<Vec<_>>(),
        );
    }
    out
}

/// Whether the medium is promotion.
pub fn is_promotion(medium: &str) -> bool {
    includes("promo", medium)
}

/// Whether a medium is shown run by run (R4). Catch-up and other video on demand are not runs.
pub fn has_runs(name: &str) -> bool {
    ["television", "cinema", "festival"]
        .iter()
        .any(|known| includes(known, name))
}

/// One medium in words: "free television". A name outside the tree is spelled out.
pub fn name(medium: &str) -> String {
    if medium == "all" {
        return "all media".into();
    }
    TREE.iter().find(|(known, _)| *known == medium).map_or_else(
        || medium.replace('_', " ").replace('.', ", "),
        |(_, words)| (*words).to_owned(),
    )
}

/// Several media in words, for a sentence after "for".
pub fn words(media: &[String]) -> String {
    and_list(&media.iter().map(|one| name(one)).collect::<Vec<_>>())
}

/// Most media that a sentence names one by one, and most that it excepts.
const NAMED: usize = 4;

/// Some of the needed media in words, and in few: `missing` are the needed ones that are not among `media`.
///
/// Up to four are named. Of more, all are "the needed media", nearly all "the needed media (except cinema and discs)";
/// otherwise what stands together in the tree is said together, "television" for free and pay television. The words
/// also follow a "not": "is not cleared for the needed media in Norway" leaves none out.
///
/// ```
/// use waybill_domain::rights::medium::words_among;
/// let media = ["television.free", "television.pay", "cinema", "festival", "education"];
/// assert_eq!(words_among(&media, &[]), "the needed media");
/// assert_eq!(words_among(&media, &["promo.in_context"]), "the needed media (except promotion in context)");
/// let missing = ["physical", "carriers", "online.site"];
/// assert_eq!(words_among(&media, &missing), "television, cinema, festivals and education");
/// ```
pub fn words_among(media: &[&str], missing: &[&str]) -> String {
    let words = |media: &[&str]| and_list(&media.iter().map(|one| name(one)).collect::<Vec<_>>());
    if media.len() <= NAMED {
        words(media)
    } else if missing.is_empty() {
        "the needed media".into()
    } else if missing.len() <= NAMED && missing.len() * 2 <= media.len() {
        let except = words(&together(missing, media));
        format!("the needed media (except {except})")
    } else {
        words(&together(media, missing))
    }
}

/// A branch of the tree in place of its leaves where all of them are listed and none is missing.
fn together<'a>(media: &[&'a str], missing: &[&str]) -> Vec<&'a str> {
    let mut out: Vec<&str> = Vec::new();
    for name in media {
        let said = branch(name, media, missing).unwrap_or(name);
        if !out.contains(&said) {
            out.push(said);
        }
    }
    out
}

/// The branch of a leaf, where all its leaves are listed.
fn branch<'a>(name: &'a str, media: &[&str], missing: &[&str]) -> Option<&'a str> {
    let (branch, _) = name.split_once('.')?;
    let below = |name: &str| {
        name.strip_prefix(branch)
            .is_some_and(|rest| rest.starts_with('.'))
    };
    let mut leaves = TREE
        .iter()
        .map(|(name, _)| *name)
        .filter(|name| below(name))
        .peekable();
    let known = leaves.peek().is_some();
    let whole = leaves.all(|leaf| media.contains(&leaf));
    (known && whole && !missing.iter().any(|one| includes(branch, one))).then_some(branch)
}
