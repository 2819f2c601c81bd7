//! Patterns of what is left out [S 5.6.1.2, 6.4.7, appendix C]: lines of `.gitignore` syntax (gitignore(5)),
//! relative to the described folder. The last pattern that fits decides; `!` takes back in, but not below
//! a folder that is left out.

use super::HISTORY_FOLDER;

/// What every list leaves out, as published lists write it.
pub const DEFAULTS: [&str; 3] = [".DS_Store", HISTORY_FOLDER, "ascmhl/"];

/// A set of patterns, read once.
#[derive(Debug, Clone, Default)]
pub struct Ignore {
    rules: Vec<Rule>,
}

#[derive(Debug, Clone)]
struct Rule {
    takes_back: bool,
    folders_only: bool,
    /// Fits from the top; otherwise the last part of a path is enough.
    anchored: bool,
    parts: Vec<Part>,
}

#[derive(Debug, Clone)]
enum Part {
    /// `**`: any number of parts.
    Any,
    Glob(Vec<Token>),
}

#[derive(Debug, Clone)]
enum Token {
    Char(char),
    /// `?`
    One,
    /// `*`
    Many,
    Class {
        negated: bool,
        items: Vec<Item>,
    },
}

#[derive(Debug, Clone)]
enum Item {
    Range(char, char),
    Named(fn(&char) -> bool),
}

impl Ignore {
    /// Reads patterns, one line each. Empty lines and comments fit nothing.
    pub fn new<S: AsRef<str>>(patterns: impl IntoIterator<Item = S>) -> Self {
        let rules = patterns.into_iter();
        Self {
            rules: rules.filter_map(|line| Rule::read(line.as_ref())).collect(),
        }
    }

    /// Whether this very path is left out, the folders above it taken as not left out.
    pub fn leaves_out(&self, path: &str, is_folder: bool) -> bool {
        let parts: Vec<Vec<char>> = path.split('/').map(|part| part.chars().collect()).collect();
        let decisive = self.rules.iter().rev();
        let mut decisive = decisive.filter(|rule| rule.fits(&parts, is_folder));
        decisive.next().is_some_and(|rule| !rule.takes_back)
    }

    /// Whether a path or any folder above it is left out.
    pub fn leaves_out_below(&self, path: &str, is_folder: bool) -> bool {
        let above = path.match_indices('/').map(|(at, _)| &path[..at]);
        self.leaves_out(path, is_folder) || { above }.any(|folder| self.leaves_out(folder, true))
    }
}

impl Rule {
    fn read(line: &str) -> Option<Self> {
        let line = line.strip_suffix('\r').unwrap_or(line);
        if line.starts_with('#') {
            return None;
        }
        let (takes_back, line) = line
            .strip_prefix('!')
            .map_or((false, line), |rest| (true, rest));
        let line = without_trailing_spaces(line);
        let (folders_only, line) = line
            .strip_suffix('/')
            .map_or((false, line), |rest| (true, rest));
        let anchored = line.contains('/');
        let line = line.strip_prefix('/').unwrap_or(line);
        if line.is_empty() {
            return None;
        }
        let mut parts = Vec::new();
        for part in line.split('/') {
            parts.push(match part {
                "**" => Part::Any,
                part => Part::Glob(tokens(part)?),
            });
        }
        // `x/**` is everything inside x, not x itself
        if anchored && parts.len() > 1 && matches!(parts.last(), Some(Part::Any)) {
            parts.push(Part::Glob(vec![Token::Many]));
        }
        Some(Self {
            takes_back,
            folders_only,
            anchored,
            parts,
        })
    }

    fn fits(&self, path: &[Vec<char>], is_folder: bool) -> bool {
        if self.folders_only && !is_folder {
            return false;
        }
        let path = match self.anchored {
            true => path,
            false => path.len().checked_sub(1).map_or(path, |last| &path[last..]),
        };
        fits_parts(&self.parts, path)
    }
}

/// Whether parts of a pattern fit parts of a path: a table over both, so that no pattern takes long.
fn fits_parts(pattern: &[Part], path: &[Vec<char>]) -> bool {
    let mut fits = vec![false; path.len() + 1];
    fits[0] = true;
    for part in pattern {
        match part {
            Part::Any => {
                let first = fits.iter().position(|fits| *fits).unwrap_or(fits.len());
                fits[first..].fill(true);
            }
            Part::Glob(tokens) => {
                for at in (1..fits.len()).rev() {
                    fits[at] = fits[at - 1] && fits_name(tokens, &path[at - 1]);
                }
                fits[0] = false;
            }
        }
    }
    fits.last().is_some_and(|fits| *fits)
}

/// Whether a pattern fits a name. Goes back to the last star only, which is enough and is quick.
fn fits_name(pattern: &[Token], name: &[char]) -> bool {
    let (mut at, mut next) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while next < name.len() {
        match pattern.get(at) {
            Some(Token::Many) => {
                star = Some((at, next));
                at += 1;
                continue;
            }
            Some(token) if fits_char(token, name[next]) => {
                at += 1;
                next += 1;
                continue;
            }
            _ => {}
        }
        let Some((star_at, taken)) = star else {
            return false;
        };
        star = Some((star_at, taken + 1));
        at = star_at + 1;
        next = taken + 1;
    }
    pattern[at..]
        .iter()
        .all(|token| matches!(token, Token::Many))
}

fn fits_char(token: &Token, c: char) -> bool {
    match token {
        Token::Char(wanted) => *wanted == c,
        Token::One => true,
        Token::Many => false,
        Token::Class { negated, items } => {
            let fits = items.iter().any(|item| match item {
                Item::Range(first, last) => (*first..=*last).contains(&c),
                Item::Named(fits) => fits(&c),
            });
            fits != *negated
        }
    }
}

/// The tokens of one part of a pattern; `None` when a class or an escape is not closed, which fits nothing.
fn tokens(part: &str) -> Option<Vec<Token>> {
    let mut chars = part.chars().peekable();
    let mut tokens = Vec::new();
    while let Some(c) = chars.next() {
        tokens.push(match c {
            '\\' => Token::Char(chars.next()?),
            '?' => Token::One,
            '*' => Token::Many,
            '[' => class(&mut chars)?,
            c => Token::Char(c),
        });
    }
    Some(tokens)
}

fn class(chars: &mut std::iter::Peekable<std::str::Chars<'_>>) -> Option<Token> {
    let negated = chars.next_if(|c| matches!(c, '!' | '^')).is_some();
    let mut items = Vec::new();
    loop {
        let first = match chars.next()? {
            ']' if !items.is_empty() => return Some(Token::Class { negated, items }),
            '[' if chars.peek() == Some(&':') => {
                items.push(named_class(chars)?);
                continue;
            }
            '\\' => chars.next()?,
            c => c,
        };
        let mut ahead = chars.clone();
        let is_range = ahead.next() == Some('-') && ahead.peek().is_some_and(|c| *c != ']');
        if !is_range {
            items.push(Item::Range(first, first));
            continue;
        }
        chars.next();
        let last = match chars.next()? {
            '\\' => chars.next()?,
            c => c,
        };
        items.push(Item::Range(first, last));
    }
}

/// `[:name:]`, the opening bracket already taken.
fn named_class(chars: &mut std::iter::Peekable<std::str::Chars<'_>>) -> Option<Item> {
    let mut name = String::new();
    loop {
        match chars.next()? {
            ']' if name.ends_with(':') && name.len() > 1 => break,
            c => name.push(c),
        }
    }
    let fits: fn(&char) -> bool = match name.trim_matches(':') {
        "alnum" => char::is_ascii_alphanumeric,
        "alpha" => char::is_ascii_alphabetic,
        "blank" => |c| matches!(c, ' ' | '\t'),
        "cntrl" => char::is_ascii_control,
        "digit" => char::is_ascii_digit,
        "graph" => char::is_ascii_graphic,
        "lower" => char::is_ascii_lowercase,
        "print" => |c| c.is_ascii_graphic() || *c == ' ',
        "punct" => char::is_ascii_punctuation,
        "space" => char::is_ascii_whitespace,
        "upper" => char::is_ascii_uppercase,
        "xdigit" => char::is_ascii_hexdigit,
        _ => return None,
    };
    Some(Item::Named(fits))
}

/// Spaces at the end do not count, unless a backslash stands before them.
fn without_trailing_spaces(line: &str) -> &str {
    let mut line = line;
    while let Some(shorter) = line.strip_suffix(' ') {
        let backslashes = shorter.bytes().rev().take_while(|c| *c == b'\\').count();
        if backslashes % 2 == 1 {
            break;
        }
        line = shorter;
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    fn left_out(patterns: &[&str], path: &str) -> bool {
        Ignore::new(patterns).leaves_out_below(path, false)
    }

    /// Examples of gitignore(5), the manual page of git 2.39.
    #[test]
    fn examples_of_the_manual() {
        assert!(left_out(&["doc/frotz/"], "doc/frotz/x"));
        assert!(!left_out(&["doc/frotz/"], "a/doc/frotz/x"));
        assert!(left_out(&["frotz/"], "a/frotz/x"));
        assert!(!left_out(&["frotz/"], "a/frotz"));
        assert!(left_out(&["foo/*"], "foo/test.json"));
        assert!(!left_out(&["foo/*", "!foo/bar"], "foo/bar/hello.c"));
        assert!(left_out(&["**/foo"], "a/b/foo"));
        assert!(left_out(&["**/foo"], "foo"));
        assert!(left_out(&["**/foo/bar"], "x/foo/bar"));
        assert!(left_out(&["abc/**"], "abc/x/y"));
        assert!(!Ignore::new(["abc/**"]).leaves_out("abc", true));
        assert!(left_out(&["a/**/b"], "a/b"));
        assert!(left_out(&["a/**/b"], "a/x/y/b"));
        assert!(left_out(&["/*", "!/foo", "/foo/*", "!/foo/bar"], "foo/x"));
        assert!(!left_out(
            &["/*", "!/foo", "/foo/*", "!/foo/bar"],
            "foo/bar"
        ));
        assert!(left_out(&["/hello.*"], "hello.c"));
        assert!(!left_out(&["/hello.*"], "a/hello.java"));
        // not below a folder that is left out
        assert!(left_out(&["logs/", "!logs/keep"], "logs/keep"));
    }

    #[test]
    fn signs_and_escapes() {
        assert!(left_out(&["\\#x"], "#x"));
        assert!(left_out(&["\\!x"], "!x"));
        assert!(!left_out(&["# x"], "# x"));
        assert!(left_out(&["x  "], "x"));
        assert!(left_out(&["x\\ "], "x "));
        assert!(left_out(&["take[0-9].wav"], "take1.wav"));
        assert!(!left_out(&["take[0-9].wav"], "take10.wav"));
        assert!(left_out(&["take[!0-9].wav"], "takeA.wav"));
        assert!(left_out(&["[[:digit:]]x"], "7x"));
        assert!(left_out(&["[]a]"], "]"));
        assert!(!left_out(&["[abc"], "a"));
    }

    #[test]
    fn a_pattern_of_many_stars_takes_no_time() {
        let pattern = "*a".repeat(200);
        let name = "a".repeat(150);
        assert!(!left_out(&[&pattern], &name));
    }
}
