//! Text with separators, as RFC 4180 has it and as programs write it: commas, semicolons, tabs or
//! bars, any line ends, quoted cells with line breaks in them.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::cell::{Cell, GridRow};
use crate::wording::grouped;

/// What parts the cells of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// Tab.
    Tab,
    /// `|`
    Bar,
}

impl Separator {
    /// All of them, the likeliest first.
    pub const ALL: [Separator; 4] = [Self::Tab, Self::Semicolon, Self::Comma, Self::Bar];

    /// The sign.
    pub fn sign(self) -> char {
        match self {
            Self::Comma => ',',
            Self::Semicolon => ';',
            Self::Tab => '\t',
            Self::Bar => '|',
        }
    }
}

/// Most rows, and most columns, that a table is read with.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Rows with content, headings included.
    pub rows: usize,
    /// Columns.
    pub columns: usize,
}

/// Why a text is no table. Each says where and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// A quotation mark was opened and never closed.
    #[error("line {0} opens a quotation mark that is never closed; close it, or take it away")]
    OpenQuote(u32),
    /// More rows than are taken.
    #[error("the table has more than {rows} rows; split it into several files", rows = grouped(*.0 as u64))]
    Rows(usize),
    /// More columns than are taken.
    #[error(
        "line {0} has more than {1} columns; take the empty ones away, or choose another separator"
    )]
    Columns(u32, usize),
}

/// The separator that gives the most even table over the first lines. A first line `sep=;`, as some
/// programs write it, decides.
pub fn detect(text: &str) -> Separator {
    if let Some(said) = said(text) {
        return said;
    }
    let limits = Limits {
        rows: 60,
        columns: 2000,
    };
    let score = |separator: Separator| -> (usize, usize) {
        let rows = match walk(text, separator, limits, 60) {
            Ok(rows) => rows,
            Err(_) => return (0, 0),
        };
        let widths: Vec<usize> = rows.iter().map(|row| row.cells.len()).collect();
        let alike = |width: usize| widths.iter().filter(|other| **other == width).count();
        let best = widths
            .iter()
            .filter(|width| **width > 1)
            .max_by_key(|width| (alike(**width), **width));
        // By its share of the rows: breaks of lines in cells make many short rows under a wrong sign.
        best.map_or((0, 0), |width| {
            (alike(*width) * 1000 / widths.len(), *width)
        })
    };
    let mut best = (Separator::Comma, (0, 0));
    for separator in Separator::ALL {
        let found = score(separator);
        if found > best.1 {
            best = (separator, found);
        }
    }
    best.0
}

/// Reads all rows; blank ones are left away, and each keeps the number of its line.
///
/// # Errors
/// An open quotation mark, or more than `limits` allow.
pub fn read(text: &str, separator: Separator, limits: Limits) -> Result<Vec<GridRow>, TableError> {
    walk(text, separator, limits, usize::MAX)
}

fn said(text: &str) -> Option<Separator> {
    let line = text.lines().next()?.trim_end();
    let sign = line
        .strip_prefix("sep=")
        .or_else(|| line.strip_prefix("SEP="))?;
    Separator::ALL
        .into_iter()
        .find(|one| sign.chars().eq([one.sign()]))
}

/// One pass; stops after `most` rows.
fn walk(
    text: &str,
    separator: Separator,
    limits: Limits,
    most: usize,
) -> Result<Vec<GridRow>, TableError> {
    let mut reader = Reader {
        chars: text.chars().peekable(),
        line: 1,
        sign: separator.sign(),
    };
    if said(text).is_some() {
        while reader.chars.next().is_some_and(|c| c != '\n') {}
        reader.line = 2;
    }
    let mut rows: Vec<GridRow> = Vec::new();
    while rows.len() < most && reader.chars.peek().is_some() {
        let number = reader.line;
        let cells = reader.record(limits.columns)?;
        if cells.iter().all(Cell::is_empty) {
            continue;
        }
        if rows.len() == limits.rows {
            return Err(TableError::Rows(limits.rows));
        }
        rows.push(GridRow { number, cells });
    }
    Ok(rows)
}

struct Reader<'a> {
    chars: std::iter::Peekable<std::str::Chars<'a>>,
    line: u32,
    sign: char,
}

impl Reader<'_> {
    fn record(&mut self, most: usize) -> Result<Vec<Cell>, TableError> {
        let mut cells = Vec::new();
        loop {
            let (text, more) = self.cell()?;
            if cells.len() == most && !text.is_empty() {
                return Err(TableError::Columns(self.line, most));
            }
            if cells.len() < most {
                cells.push(Cell::text(text));
            }
            if !more {
                return Ok(cells);
            }
        }
    }

    /// A cell, and whether another follows on the line.
    fn cell(&mut self) -> Result<(String, bool), TableError> {
        let mut out = String::new();
        if self.chars.next_if_eq(&'"').is_some() {
            self.quoted(&mut out)?;
        }
        while let Some(c) = self.chars.next() {
            match c {
                c if c == self.sign => return Ok((out, true)),
                '\r' if self.chars.peek() == Some(&'\n') => {}
                '\n' | '\r' => {
                    self.line = self.line.saturating_add(1);
                    return Ok((out, false));
                }
                c => out.push(c),
            }
        }
        Ok((out, false))
    }

    fn quoted(&mut self, out: &mut String) -> Result<(), TableError> {
        let opened = self.line;
        while let Some(c) = self.chars.next() {
            match c {
                '"' if self.chars.next_if_eq(&'"').is_some() => out.push('"'),
                '"' => return Ok(()),
                '\r' if self.chars.peek() == Some(&'\n') => {}
                '\n' | '\r' => {
                    self.line = self.line.saturating_add(1);
                    out.push('\n');
                }
                c => out.push(c),
            }
        }
        Err(TableError::OpenQuote(opened))
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests")]
    use super::*;

    const LIMITS: Limits = Limits {
        rows: 100,
        columns: 10,
    };

    fn table(text: &str, separator: Separator) -> Vec<(u32, Vec<String>)> {
        let rows = read(text, separator, LIMITS).unwrap();
        let shown = |row: GridRow| (row.number, row.cells.iter().map(Cell::shown).collect());
        rows.into_iter().map(shown).collect()
    }

    fn line(number: u32, cells: &[&str]) -> (u32, Vec<String>) {
        (
            number,
            cells.iter().map(|cell| (*cell).to_owned()).collect(),
        )
    }

    /// Source: the examples of RFC 4180 section 2, points 1 to 7.
    #[test]
    fn examples_of_rfc_4180() {
        assert_eq!(
            table("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", Separator::Comma),
            [
                line(1, &["aaa", "bbb", "ccc"]),
                line(2, &["zzz", "yyy", "xxx"])
            ]
        );
        assert_eq!(
            table("aaa,bbb,ccc\r\nzzz,yyy,xxx", Separator::Comma).len(),
            2
        );
        assert_eq!(
            table(
                "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx",
                Separator::Comma
            ),
            [
                line(1, &["aaa", "b\nbb", "ccc"]),
                line(3, &["zzz", "yyy", "xxx"])
            ]
        );
        assert_eq!(
            table("\"aaa\",\"b\"\"bb\",\"ccc\"", Separator::Comma),
            [line(1, &["aaa", "b\"bb", "ccc"])]
        );
    }

    #[test]
    fn blank_rows_keep_the_numbers_of_the_others() {
        assert_eq!(
            table("a;b\n;\n\n  ;\nc;d\n", Separator::Semicolon),
            [line(1, &["a", "b"]), line(5, &["c", "d"])]
        );
    }

    #[test]
    fn separators_are_found() {
        assert_eq!(detect("name;born\nA, B;1\nC, D;2"), Separator::Semicolon);
        assert_eq!(detect("name\tborn\nA, B\t1"), Separator::Tab);
        assert_eq!(detect("name,born\n\"A;x\",1"), Separator::Comma);
        assert_eq!(detect("name|born\nA|1"), Separator::Bar);
        assert_eq!(detect("name\nA"), Separator::Comma);
        assert_eq!(detect("sep=|\na,b|c"), Separator::Bar);
        assert_eq!(
            table("sep=;\na;b", Separator::Semicolon),
            [line(2, &["a", "b"])]
        );
    }

    #[test]
    fn faults_say_where() {
        assert_eq!(
            read("a\n\"b", Separator::Comma, LIMITS),
            Err(TableError::OpenQuote(2))
        );
        let wide = "x,".repeat(10) + "y";
        assert_eq!(
            read(&wide, Separator::Comma, LIMITS),
            Err(TableError::Columns(1, 10))
        );
        let long = "x\n".repeat(101);
        assert_eq!(
            read(&long, Separator::Comma, LIMITS),
            Err(TableError::Rows(100))
        );
    }
}
