//! Names and paths: of lists [S 6.3], and inside them [S 6.4.8].

use chrono::{DateTime, Utc};

/// The name of a list: `NNNN_folder_YYYY-MM-DD_HHMMSSZ.mhl`, time in UTC at the start of the operation.
///
/// ```
/// use waybill_domain::hash_list::names::list_name;
/// let start = "2019-01-07T08:02:28Z".parse().unwrap();
/// assert_eq!(list_name(1, "A002R2EC", start), "0001_A002R2EC_2019-01-07_080228Z.mhl");
/// ```
pub fn list_name(sequence: u32, folder: &str, start: DateTime<Utc>) -> String {
    format!(
        "{sequence:04}_{folder}_{}.mhl",
        start.format("%Y-%m-%d_%H%M%SZ")
    )
}

/// The number in a list's name.
pub fn list_number(name: &str) -> Option<u32> {
    let (number, rest) = name.strip_suffix(".mhl")?.split_once('_')?;
    let is_number = number.len() >= 4 && number.bytes().all(|c| c.is_ascii_digit());
    (is_number && !rest.is_empty())
        .then(|| number.parse().ok())
        .flatten()
}

/// What keeps a text from being a path inside the described folder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PathFault {
    /// No text.
    #[error("the path is empty")]
    Empty,
    /// Begins at the root of a file system.
    #[error("the path is not relative")]
    Absolute,
    /// A part is `.`, `..` or nothing.
    #[error("the path has a part that names no file")]
    Part,
}

/// Checks a path from a list and takes away a slash at its end, which older lists have on folders.
///
/// # Errors
/// [`PathFault`] when it is not a plain path below the folder.
pub fn check_path(path: &str) -> Result<&str, PathFault> {
    let path = match path.strip_suffix('/') {
        Some("") | None => path,
        Some(shorter) => shorter,
    };
    if path.is_empty() {
        return Err(PathFault::Empty);
    }
    if path.starts_with('/') {
        return Err(PathFault::Absolute);
    }
    match path
        .split('/')
        .any(|part| matches!(part, "" | "." | "..") || part.contains('\0'))
    {
        true => Err(PathFault::Part),
        false => Ok(path),
    }
}

/// The first character of a text that XML 1.0 (section 2.2) has no way to write.
pub fn forbidden(text: &str) -> Option<char> {
    text.chars().find(|c| !is_xml(*c))
}

/// Whether a character may stand in XML 1.0.
pub const fn is_xml(c: char) -> bool {
    !matches!(c, '\0'..='\x08' | '\x0b' | '\x0c' | '\x0e'..='\x1f' | '\u{fffe}' | '\u{ffff}')
}

/// The last part of a path.
pub fn last_part(path: &str) -> &str {
    path.rsplit_once('/').map_or(path, |(_, last)| last)
}

/// Whether a path lies below a folder.
pub fn is_below(path: &str, folder: &str) -> bool {
    path.strip_prefix(folder)
        .is_some_and(|rest| rest.starts_with('/'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_from_names_with_and_without_the_zone() {
        assert_eq!(list_number("0001_A002_2019-01-07_080228Z.mhl"), Some(1));
        assert_eq!(list_number("0012_A002_2019-01-07_080228.mhl"), Some(12));
        assert_eq!(list_number("10000_x_y.mhl"), Some(10_000));
        for name in [
            "._0001_A.mhl",
            "1_A.mhl",
            "0001_.mhl",
            "notes.txt",
            "0001.mhl",
        ] {
            assert_eq!(list_number(name), None, "{name}");
        }
    }

    #[test]
    fn paths_that_leave_the_folder_are_refused() {
        assert_eq!(check_path("Clips/"), Ok("Clips"));
        assert_eq!(check_path("a/..b/c "), Ok("a/..b/c "));
        assert_eq!(check_path("/etc/passwd"), Err(PathFault::Absolute));
        assert_eq!(check_path("/"), Err(PathFault::Absolute));
        assert_eq!(check_path(""), Err(PathFault::Empty));
        for path in ["a/../../b", "..", "a//b", "./a", "a/."] {
            assert_eq!(check_path(path), Err(PathFault::Part), "{path}");
        }
    }

    #[test]
    fn what_xml_cannot_write_is_known() {
        assert_eq!(forbidden("a\tb\nc\rd \u{85} ü"), None);
        assert_eq!(forbidden("a\u{1}b"), Some('\u{1}'));
        assert_eq!(forbidden("\u{ffff}"), Some('\u{ffff}'));
    }
}
