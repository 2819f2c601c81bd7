//! Names of the hash types and their written forms: which text is a digest of which type, and when
//! two sets of digests say the same. Working out a digest from bytes belongs to the command, not here.
//!
//! Rules: R41 (compare like with like, case-insensitively; no hash is never "ok").

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wording::counted;

/// Lower-case hexadecimal, two digits a byte.
pub fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digits = bytes.iter().flat_map(|byte| [byte >> 4, byte & 15]);
    digits
        .map(|digit| char::from(DIGITS[usize::from(digit)]))
        .collect()
}

/// A type of hash. Order is the order in which digests are listed.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum HashKind {
    /// XXH3, 128 bits, seed 0. High 64 bits first (xxHash specification 0.2.0).
    Xxh128,
    /// XXH3, 64 bits, seed 0.
    Xxh3,
    /// XXH64, seed 0.
    Xxh64,
    /// RFC 1321.
    Md5,
    /// RFC 3174.
    Sha1,
    /// FIPS 180-4.
    Sha256,
    /// FIPS 180-4.
    Sha512,
    /// SMPTE ST 2114: `c4` and 88 base-58 digits of the SHA-512.
    C4,
}

/// Digests of one content, at most one of each type.
pub type Hashes = BTreeMap<HashKind, String>;

/// The digits of a C4 ID: base 58 without 0, I, O and l.
pub const C4_DIGITS: &[u8; 58] = b"123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz";

impl HashKind {
    /// Every type, in listing order.
    pub const ALL: [Self; 8] = [
        Self::Xxh128,
        Self::Xxh3,
        Self::Xxh64,
        Self::Md5,
        Self::Sha1,
        Self::Sha256,
        Self::Sha512,
        Self::C4,
    ];

    /// The name used in arguments and documents.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Xxh128 => "xxh128",
            Self::Xxh3 => "xxh3",
            Self::Xxh64 => "xxh64",
            Self::Md5 => "md5",
            Self::Sha1 => "sha1",
            Self::Sha256 => "sha256",
            Self::Sha512 => "sha512",
            Self::C4 => "c4",
        }
    }

    /// Characters in the written form.
    pub const fn text_length(self) -> usize {
        match self {
            Self::Xxh3 | Self::Xxh64 => 16,
            Self::Xxh128 | Self::Md5 => 32,
            Self::Sha1 => 40,
            Self::Sha256 => 64,
            Self::Sha512 => 128,
            Self::C4 => 90,
        }
    }

    /// Checks a written digest and gives its canonical form: lower-case hex, or the C4 ID unchanged
    /// (its digits are case-sensitive).
    ///
    /// # Errors
    /// [`HashTextError`] when the length or a character is wrong for the type.
    ///
    /// ```
    /// use waybill_domain::hashes::HashKind;
    /// assert_eq!(HashKind::Xxh64.canonical("EF46DB3751D8E999").unwrap(), "ef46db3751d8e999");
    /// ```
    pub fn canonical(self, text: &str) -> Result<String, HashTextError> {
        let text = text.trim();
        if text.len() != self.text_length() {
            return Err(HashTextError::Length {
                kind: self,
                expected: self.text_length(),
                found: text.chars().count(),
            });
        }
        let (digits, wrong): (&str, Option<char>) = match (self, text.strip_prefix("c4")) {
            (Self::C4, None) => return Err(HashTextError::C4Prefix),
            (Self::C4, Some(rest)) => (
                rest,
                rest.chars()
                    .find(|c| !u8::try_from(*c).is_ok_and(|b| C4_DIGITS.contains(&b))),
            ),
            _ => (text, text.chars().find(|c| !c.is_ascii_hexdigit())),
        };
        match wrong {
            Some(found) => Err(HashTextError::Character { kind: self, found }),
            None if self == Self::C4 => Ok(format!("c4{digits}")),
            None => Ok(digits.to_ascii_lowercase()),
        }
    }
}

impl fmt::Display for HashKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for HashKind {
    type Err = UnknownHashKind;

    /// Accepts the names in any case and with or without a hyphen (`SHA-256`).
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wanted = text.trim().to_ascii_lowercase().replace('-', "");
        Self::ALL
            .into_iter()
            .find(|kind| kind.name() == wanted)
            .ok_or_else(|| UnknownHashKind(text.trim().to_owned()))
    }
}

/// A name that is no hash type.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{0}\" is not a hash type; known are xxh128, xxh3, xxh64, md5, sha1, sha256, sha512 and c4"
)]
pub struct UnknownHashKind(pub String);

/// Why a text is no digest of the type.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HashTextError {
    /// Too short or too long.
    #[error("a {kind} digest has {expected} characters, this has {found}")]
    Length {
        /// The type asked for.
        kind: HashKind,
        /// Characters it needs.
        expected: usize,
        /// Characters found.
        found: usize,
    },
    /// A character outside the alphabet.
    #[error("{found:?} does not belong in a {kind} digest")]
    Character {
        /// The type asked for.
        kind: HashKind,
        /// The first wrong character.
        found: char,
    },
    /// A C4 ID without its prefix.
    #[error("a C4 ID begins with \"c4\"")]
    C4Prefix,
    /// A C4 ID whose number is above 512 bits.
    #[error("this C4 ID is larger than any SHA-512")]
    C4Range,
}

/// A written digest of whichever type, in its canonical form.
///
/// # Errors
/// [`NoDigest`] when it is one of no type.
///
/// ```
/// use waybill_domain::hashes::any_canonical;
/// assert_eq!(any_canonical(" EF46DB3751D8E999").unwrap(), "ef46db3751d8e999");
/// assert!(any_canonical("EF46DB3751D8E99").is_err(), "a digit is missing");
/// ```
pub fn any_canonical(text: &str) -> Result<String, NoDigest> {
    let mut kinds = HashKind::ALL.into_iter();
    kinds
        .find_map(|kind| kind.canonical(text).ok())
        .ok_or_else(|| NoDigest(text.trim().chars().count()))
}

/// A text that is a digest of no type, by its characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "this is no digest ({}): known are 16 hexadecimal digits (xxh3, xxh64), 32 (xxh128, md5), 40 (sha1), 64 (sha256), \
     128 (sha512), and c4 with 88 letters and digits after it",
    counted(*.0 as u64, "character", "characters")
)]
pub struct NoDigest(pub usize);

/// What two sets of digests say about two contents.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Comparison {
    /// At least one type in common, and every common type agrees.
    Same,
    /// This type differs, so the contents differ.
    Different(HashKind),
    /// No type in common: nothing is known. Never to be shown as "ok".
    NothingInCommon,
}

/// Compares like with like (R41).
///
/// ```
/// use waybill_domain::hashes::{Comparison, HashKind, Hashes, compare};
/// let md5 = Hashes::from([(HashKind::Md5, "900150983CD24FB0D6963F7D28E17F72".to_owned())]);
/// let same = Hashes::from([(HashKind::Md5, "900150983cd24fb0d6963f7d28e17f72".to_owned())]);
/// assert_eq!(compare(&md5, &same), Comparison::Same);
/// assert_eq!(compare(&md5, &Hashes::new()), Comparison::NothingInCommon);
/// ```
pub fn compare(one: &Hashes, other: &Hashes) -> Comparison {
    let mut result = Comparison::NothingInCommon;
    for (kind, digest) in one {
        let Some(counterpart) = other.get(kind) else {
            continue;
        };
        let equal = match kind {
            HashKind::C4 => digest == counterpart,
            _ => digest.eq_ignore_ascii_case(counterpart),
        };
        if !equal {
            return Comparison::Different(*kind);
        }
        result = Comparison::Same;
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_in_any_case_and_with_hyphens() {
        for kind in HashKind::ALL {
            assert_eq!(kind.name().parse(), Ok(kind));
        }
        assert_eq!("SHA-256".parse(), Ok(HashKind::Sha256));
        assert!("crc32".parse::<HashKind>().is_err());
    }

    #[test]
    fn wrong_digests_are_refused_with_the_reason() {
        let short = HashKind::Md5.canonical("9001");
        assert!(matches!(
            short,
            Err(HashTextError::Length {
                expected: 32,
                found: 4,
                ..
            })
        ));
        let letter = HashKind::Xxh64.canonical("zf46db3751d8e999");
        assert!(matches!(
            letter,
            Err(HashTextError::Character { found: 'z', .. })
        ));
        let zero = format!("c4{}", "0".repeat(88));
        assert!(HashKind::C4.canonical(&zero).is_err());
    }

    #[test]
    fn one_differing_type_is_enough_and_no_common_type_is_no_answer() {
        let one = Hashes::from([
            (HashKind::Xxh64, "ef46db3751d8e999".to_owned()),
            (HashKind::Md5, "0".repeat(32)),
        ]);
        let mut other = one.clone();
        assert_eq!(compare(&one, &other), Comparison::Same);
        other.insert(HashKind::Md5, "1".repeat(32));
        assert_eq!(compare(&one, &other), Comparison::Different(HashKind::Md5));
        let sha = Hashes::from([(HashKind::Sha1, "a".repeat(40))]);
        assert_eq!(compare(&one, &sha), Comparison::NothingInCommon);
    }
}
