//! Several grants of one record in a list: numbered lines in a cell (`(1) GB; IE`, `(2) US`), columns with numbers in
//! their headings, or rows below the record's own (`rows`). All become the first form, and so does what we write.

use super::cell::{Cell, fold};

/// As many as a paper may have.
const MOST: usize = 50;

/// Texts as numbered lines; nothing where all are empty.
pub fn write(texts: &[String]) -> Cell {
    if texts.iter().all(|text| text.trim().is_empty()) {
        return Cell::Empty;
    }
    let lines = (1..).zip(texts).map(|(n, text)| format!("({n}) {text}"));
    let lines: Vec<String> = lines.map(|line| line.trim_end().to_owned()).collect();
    Cell::text(lines.join("\n"))
}

/// The texts of numbered lines, in their order; none where a cell is not numbered. A line without a number goes with
/// the one before it.
///
/// # Errors
/// A number that comes twice, or is beyond what a paper may have, in a sentence.
pub fn read(text: &str) -> Result<Option<Vec<String>>, String> {
    let mut out: Vec<Option<String>> = Vec::new();
    let mut last = None;
    for line in text.lines().filter(|line| !line.trim().is_empty()) {
        match (number(line), last) {
            (Some((n, rest)), _) => {
                if n == 0 || n > MOST {
                    return Err(format!("Numbers go from (1) to ({MOST}), not ({n})."));
                }
                if out.len() < n {
                    out.resize(n, None);
                }
                if out[n - 1].replace(rest.trim().to_owned()).is_some() {
                    return Err(format!("({n}) stands twice in this cell."));
                }
                last = Some(n - 1);
            }
            (None, None) => return Ok(None),
            (None, Some(at)) => {
                let text: &mut String = out[at].get_or_insert_default();
                text.push('\n');
                text.push_str(line.trim());
            }
        }
    }
    let texts = out.into_iter().map(Option::unwrap_or_default);
    Ok(last.map(|_| texts.collect()))
}

/// The number in brackets at the beginning of a line, and the rest.
fn number(line: &str) -> Option<(usize, &str)> {
    let (digits, rest) = line.trim_start().strip_prefix('(')?.split_once(')')?;
    let all_digits = (1..=3).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
    all_digits.then_some((digits.parse().ok()?, rest))
}

/// The number at the end of a heading such as “Territory 2” or “Media (2)”, and the heading without it, folded.
pub fn of_heading(heading: &str) -> Option<(String, usize)> {
    let folded = fold(heading);
    let (bare, digits) = folded.rsplit_once(' ')?;
    let number = digits.parse().ok().filter(|n| (1..=MOST).contains(n))?;
    Some((bare.to_owned(), number))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    // The form is our own; nothing outside says it.
    #[test]
    fn numbered_lines_come_back() {
        let texts = ["GB; IE".to_owned(), String::new(), "US".to_owned()];
        let cell = write(&texts);
        assert_eq!(cell, Cell::text("(1) GB; IE\n(2)\n(3) US"));
        assert_eq!(read(&cell.shown()).unwrap().unwrap(), texts);
        assert_eq!(write(&[String::new(), String::new()]), Cell::Empty);
        assert_eq!(read("GB; IE").unwrap(), None);
        assert_eq!(read("GB\nIE").unwrap(), None);
        assert_eq!(read("(2) US").unwrap().unwrap(), ["", "US"]);
        assert_eq!(
            read("(1) GB\nIE\n(2) US").unwrap().unwrap(),
            ["GB\nIE", "US"]
        );
        assert!(read("(1) GB\n(1) US").unwrap_err().contains("twice"));
        assert!(read("(99) GB").unwrap_err().contains("(50)"));
    }
}
