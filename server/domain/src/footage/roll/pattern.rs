//! The pattern by which a series names its rolls, and reading a name by it.
//!
//! A pattern is plain text with fields in braces:
//!
//! | field | takes |
//! | --- | --- |
//! | `{date:YYYYMMDD}` | a date; any order of `YYYY` or `YY`, `MM`, `DD`, and `-`, `_` or `.` between them |
//! | `{card}` `{camera}` | letters and digits up to the next plain character of the pattern |
//! | `{any}` | the same, not kept (a production code, an episode) |
//! | `{words}` | all that is left; it and the character before it may be missing; only at the end |
//!
//! Two fields need a plain character between them, except after a date, whose length is known.

use std::str::FromStr;

use chrono::NaiveDate;

use super::RollName;

/// Pattern of a new series: `20260314_A003_CAMB_SLIPWAY`.
pub const DEFAULT_PATTERN: &str = "{date:YYYYMMDD}_{card}_{camera}_{words}";

/// How a series names its rolls.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RollPattern {
    parts: Vec<Part>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    Plain(String),
    Date(String),
    Field(Field),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Field {
    Card,
    Camera,
    Any,
    Words,
}

/// Why a text is no pattern.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PatternError {
    /// `{` without `}`.
    #[error("a \"{{\" is not closed")]
    Open,
    /// A field that does not exist.
    #[error(
        "{{{0}}} is not a field; fields are date (with its form, as in {{date:YYYYMMDD}}), card, camera, any and words"
    )]
    UnknownField(String),
    /// A date form without year, month and day.
    #[error("\"{0}\" is not a form of a date: it needs YYYY or YY, MM and DD once each")]
    DateForm(String),
    /// Two fields whose border cannot be found.
    #[error("two fields need a plain character between them")]
    NoBorder,
    /// `{words}` before the end.
    #[error("{{words}} takes all that is left and can only stand at the end")]
    WordsNotLast,
    /// A pattern that would take any name.
    #[error("a pattern needs a date or a card")]
    TooLoose,
}

impl Default for RollPattern {
    fn default() -> Self {
        let date = Part::Date("YYYYMMDD".to_owned());
        let border = || Part::Plain("_".to_owned());
        let fields = [Field::Card, Field::Camera, Field::Words];
        let rest = fields
            .into_iter()
            .flat_map(|field| [border(), Part::Field(field)]);
        Self {
            parts: std::iter::once(date).chain(rest).collect(),
        }
    }
}

impl FromStr for RollPattern {
    type Err = PatternError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut parts = Vec::new();
        let mut rest = text.trim();
        while !rest.is_empty() {
            let (plain, field) = rest
                .split_once('{')
                .map_or((rest, None), |(p, f)| (p, Some(f)));
            if !plain.is_empty() {
                parts.push(Part::Plain(plain.to_owned()));
            }
            let Some(field) = field else { break };
            let (inside, after) = field.split_once('}').ok_or(PatternError::Open)?;
            parts.push(part(inside)?);
            rest = after;
        }
        let pattern = Self { parts };
        pattern.check()?;
        Ok(pattern)
    }
}

fn part(inside: &str) -> Result<Part, PatternError> {
    if let Some(form) = inside.strip_prefix("date:") {
        let bare = form.replace(['-', '_', '.'], "");
        let without_year = bare.replacen("YYYY", "", 1);
        let year = if without_year.len() < bare.len() {
            "YYYY"
        } else {
            "YY"
        };
        let left = bare
            .replacen(year, "", 1)
            .replacen("MM", "", 1)
            .replacen("DD", "", 1);
        return match left.is_empty() && bare.len() == year.len().saturating_add(4) {
            true => Ok(Part::Date(form.to_owned())),
            false => Err(PatternError::DateForm(form.to_owned())),
        };
    }
    Ok(Part::Field(match inside {
        "card" => Field::Card,
        "camera" => Field::Camera,
        "any" => Field::Any,
        "words" => Field::Words,
        _ => return Err(PatternError::UnknownField(inside.to_owned())),
    }))
}

/// A folder name that the pattern does not take; most folders on a drive are none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the name does not follow the series' pattern for rolls")]
pub struct NotARoll;

impl RollPattern {
    fn check(&self) -> Result<(), PatternError> {
        for pair in self.parts.windows(2) {
            match pair {
                [Part::Field(Field::Words), _] => return Err(PatternError::WordsNotLast),
                [Part::Field(_), Part::Field(_) | Part::Date(_)] => {
                    return Err(PatternError::NoBorder);
                }
                _ => {}
            }
        }
        let anchors = |part: &Part| matches!(part, Part::Date(_) | Part::Field(Field::Card));
        if self.parts.iter().any(anchors) {
            Ok(())
        } else {
            Err(PatternError::TooLoose)
        }
    }

    /// Whether names in alphabetical order are in shooting order: the date stands first, year first.
    pub fn sorts_by_date(&self) -> bool {
        let Some(Part::Date(form)) = self.parts.first() else {
            return false;
        };
        let bare = form.replace(['-', '_', '.'], "");
        bare == "YYYYMMDD" || bare == "YYMMDD"
    }

    /// A date as names of this pattern write it; none for a pattern without a date.
    ///
    /// ```
    /// use waybill_domain::footage::roll::RollPattern;
    /// let day = "2026-03-14".parse().unwrap();
    /// assert_eq!(RollPattern::default().write_date(day).unwrap(), "20260314");
    /// ```
    pub fn write_date(&self, date: NaiveDate) -> Option<String> {
        let form = self.parts.iter().find_map(|part| match part {
            Part::Date(form) => Some(form),
            _ => None,
        })?;
        let written = form
            .replacen("YYYY", &date.format("%Y").to_string(), 1)
            .replacen("YY", &date.format("%y").to_string(), 1);
        let month = date.format("%m").to_string();
        let day = date.format("%d").to_string();
        Some(written.replacen("MM", &month, 1).replacen("DD", &day, 1))
    }

    /// Reads a folder's name. Letters may be lower case here; [`RollName::problems`] tells.
    ///
    /// ```
    /// use waybill_domain::footage::roll::RollPattern;
    /// let roll = RollPattern::default().read("20260314_A003_CAMB_SLIPWAY").unwrap();
    /// assert_eq!((roll.card.as_str(), roll.camera.as_str()), ("A003", "CAMB"));
    /// assert_eq!(roll.date.unwrap().to_string(), "2026-03-14");
    /// ```
    ///
    /// # Errors
    /// [`NotARoll`] when the name does not follow the pattern. An impossible date still follows it.
    pub fn read(&self, name: &str) -> Result<RollName, NotARoll> {
        let mut roll = RollName {
            name: name.to_owned(),
            ..RollName::default()
        };
        let mut rest = name;
        for (index, part) in self.parts.iter().enumerate() {
            let next = self.parts.get(index.saturating_add(1));
            match part {
                // the character before missing words is missing too
                Part::Plain(_) if rest.is_empty() && next == Some(&Part::Field(Field::Words)) => {
                    return Ok(roll);
                }
                Part::Plain(plain) => rest = rest.strip_prefix(plain.as_str()).ok_or(NotARoll)?,
                Part::Date(form) => {
                    let (text, after) = rest.split_at_checked(form.len()).ok_or(NotARoll)?;
                    follows_form(text, form).then_some(()).ok_or(NotARoll)?;
                    roll.date = date_by_form(text, form);
                    roll.date_text = text.to_owned();
                    rest = after;
                }
                Part::Field(Field::Words) => roll.words = std::mem::take(&mut rest).to_owned(),
                Part::Field(field) => {
                    let end = match next {
                        Some(Part::Plain(plain)) => rest.find(plain.as_str()),
                        _ => None,
                    };
                    let end = end.or_else(|| self.only_words_follow(index).then_some(rest.len()));
                    let (text, after) = rest
                        .split_at_checked(end.ok_or(NotARoll)?)
                        .ok_or(NotARoll)?;
                    if text.is_empty() || !text.chars().all(char::is_alphanumeric) {
                        return Err(NotARoll);
                    }
                    match field {
                        Field::Card => roll.card = text.to_owned(),
                        Field::Camera => roll.camera = text.to_owned(),
                        Field::Any | Field::Words => {}
                    }
                    rest = after;
                }
            }
        }
        if rest.is_empty() {
            Ok(roll)
        } else {
            Err(NotARoll)
        }
    }

    /// Whether a name may end after this part: nothing follows, or only the optional words.
    fn only_words_follow(&self, index: usize) -> bool {
        let following = self
            .parts
            .get(index.saturating_add(1)..)
            .unwrap_or_default();
        matches!(following, [] | [Part::Plain(_), Part::Field(Field::Words)])
    }
}

fn follows_form(text: &str, form: &str) -> bool {
    text.chars()
        .zip(form.chars())
        .all(|(found, wanted)| match wanted {
            'Y' | 'M' | 'D' => found.is_ascii_digit(),
            border => found == border,
        })
}

/// The date in `text`, whose digits stand where `form` has its letters. Two-digit years are 2000 to 2099.
pub(super) fn date_by_form(text: &str, form: &str) -> Option<NaiveDate> {
    let digits = |letter: char| -> String {
        text.chars()
            .zip(form.chars())
            .filter(|(_, l)| *l == letter)
            .map(|(c, _)| c)
            .collect()
    };
    let year_text = digits('Y');
    let year: i32 = year_text.parse().ok()?;
    let year = if year_text.len() == 2 {
        year.checked_add(2000)?
    } else {
        year
    };
    NaiveDate::from_ymd_opt(year, digits('M').parse().ok()?, digits('D').parse().ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a date")
    }

    fn read(pattern: &str, name: &str) -> Result<RollName, NotARoll> {
        pattern
            .parse::<RollPattern>()
            .expect("a pattern")
            .read(name)
    }

    #[test]
    fn words_may_hold_borders_or_be_missing() {
        let words = |name| read(DEFAULT_PATTERN, name).map(|roll| roll.words);
        assert_eq!(
            words("20260314_A003_CAMB_OLD_BOAT"),
            Ok("OLD_BOAT".to_owned())
        );
        assert_eq!(words("20260314_A003_CAMB"), Ok(String::new()));
    }

    // 3.7: the two published schemes, one of them with the date in the second place.
    #[test]
    fn both_published_schemes_can_be_written() {
        let first = read(
            "{date:YYMMDD}_{any}_{any}_{camera}_{card}",
            "260314_HRC_E02_B_A001",
        );
        assert_eq!(
            first.map(|r| (r.camera, r.card)),
            Ok(("B".to_owned(), "A001".to_owned()))
        );
        let second = read(
            "{any}_{date:YYMMDD}_CAM{camera}_{card}",
            "HRC_260314_CAMA_001",
        );
        let second = second.expect("follows the pattern");
        assert_eq!(
            (second.date, second.camera.as_str()),
            (Some(day("2026-03-14")), "A")
        );
    }

    #[test]
    fn other_folders_are_no_rolls() {
        for name in [
            "",
            "CLIP",
            "2026031_A003_CAMB_X",
            "20260314",
            "20260314_A003",
            "20260314__CAMB_X",
        ] {
            assert_eq!(read(DEFAULT_PATTERN, name), Err(NotARoll), "{name}");
        }
    }

    #[test]
    fn bad_patterns_are_refused_with_the_reason() {
        let refused = |text: &str| text.parse::<RollPattern>().expect_err(text);
        assert_eq!(
            refused("{date:YYYYMM}_{card}"),
            PatternError::DateForm("YYYYMM".to_owned())
        );
        assert_eq!(refused("{card}{camera}"), PatternError::NoBorder);
        assert_eq!(refused("{words}_{card}"), PatternError::WordsNotLast);
        assert_eq!(refused("{card"), PatternError::Open);
        assert_eq!(
            refused("{reel}_{card}"),
            PatternError::UnknownField("reel".to_owned())
        );
        assert_eq!(refused("{any}_{camera}"), PatternError::TooLoose);
        assert_eq!(refused(""), PatternError::TooLoose);
    }
}
