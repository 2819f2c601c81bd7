//! Digests as bytes: half as large as their text, and what folder hashes are made of.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::hashes::{C4_DIGITS, HashKind, HashTextError, Hashes};

/// One digest of a known type. Equal digests have equal bytes, however they were written.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Digest {
    kind: HashKind,
    bytes: Box<[u8]>,
}

/// Bytes of the SHA-512 in a C4 ID.
const C4_BYTES: usize = 64;

impl Digest {
    /// Reads a written digest; hex in any case.
    ///
    /// # Errors
    /// [`HashTextError`] when the text is no digest of the type.
    pub fn from_text(kind: HashKind, text: &str) -> Result<Self, HashTextError> {
        let text = kind.canonical(text)?;
        let bytes = match (kind, text.strip_prefix("c4")) {
            (HashKind::C4, Some(digits)) => from_base58(digits).ok_or(HashTextError::C4Range)?,
            _ => from_hex(&text),
        };
        Ok(Self { kind, bytes })
    }

    /// The type.
    pub const fn kind(&self) -> HashKind {
        self.kind
    }

    /// The digest itself; of a C4 ID the 64 bytes of its SHA-512.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// The written form: lower-case hex, or the C4 ID.
    pub fn text(&self) -> String {
        if self.kind == HashKind::C4 {
            return to_base58(&self.bytes);
        }
        let digits = self.bytes.iter().flat_map(|byte| [byte >> 4, byte & 15]);
        digits
            .filter_map(|digit| char::from_digit(u32::from(digit), 16))
            .collect()
    }

    /// Digests in the order of their types.
    ///
    /// # Errors
    /// [`HashTextError`] when a text is no digest of its type.
    pub fn all(hashes: &Hashes) -> Result<Vec<Self>, HashTextError> {
        let digests = hashes.iter();
        digests
            .map(|(kind, text)| Self::from_text(*kind, text))
            .collect()
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text())
    }
}

impl Serialize for Digest {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text())
    }
}

/// Works out a digest over parts that follow one another. Handed in, since this crate only names types.
pub type HashParts<'a> = &'a dyn Fn(HashKind, &[&[u8]]) -> Digest;

/// The text was checked: pairs of hex digits.
fn from_hex(text: &str) -> Box<[u8]> {
    let digit = |c: u8| char::from(c).to_digit(16).unwrap_or(0) as u8;
    let pairs = text.as_bytes().chunks_exact(2);
    pairs
        .map(|pair| digit(pair[0]) << 4 | digit(pair[1]))
        .collect()
}

/// 88 digits of base 58 as a number of 64 bytes; `None` when it has more (58^88 is above 2^512).
fn from_base58(digits: &str) -> Option<Box<[u8]>> {
    let mut number = [0_u8; C4_BYTES];
    for digit in digits.bytes() {
        let mut carry = C4_DIGITS.iter().position(|known| *known == digit)? as u32;
        for byte in number.iter_mut().rev() {
            let value = u32::from(*byte) * 58 + carry;
            *byte = (value & 0xff) as u8;
            carry = value >> 8;
        }
        if carry > 0 {
            return None;
        }
    }
    Some(Box::new(number))
}

/// SMPTE ST 2114: the number in base 58, 88 digits, zeros in front written as the digit 1.
fn to_base58(bytes: &[u8]) -> String {
    let mut number = bytes.to_vec();
    let mut digits = [C4_DIGITS[0]; 88];
    for digit in digits.iter_mut().rev() {
        let mut rest = 0_u32;
        for byte in &mut number {
            let value = (rest << 8) | u32::from(*byte);
            // below 256, because the rest is below 58
            *byte = (value / 58) as u8;
            rest = value % 58;
        }
        *digit = C4_DIGITS[rest as usize];
    }
    std::iter::once("c4".to_owned())
        .chain(digits.iter().map(|digit| char::from(*digit).to_string()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// C4 of no bytes: SMPTE ST 2114 as given in the ASC MHL notes and recomputed there.
    const EMPTY_C4: &str = "c459dsjfscH38cYeXXYogktxf4Cd9ibshE3BHUo6a58hBXmRQdZrAkZzsWcbWtDg5oQstpDuni4Hirj75GEmTc1sFT";

    #[test]
    fn texts_come_back_as_they_were() {
        let texts = [
            (HashKind::C4, EMPTY_C4),
            (HashKind::Md5, "d41d8cd98f00b204e9800998ecf8427e"),
            (HashKind::Xxh64, "ef46db3751d8e999"),
        ];
        for (kind, text) in texts {
            let digest = Digest::from_text(kind, text).expect(text);
            assert_eq!(digest.text(), text);
        }
        let upper = Digest::from_text(HashKind::Xxh64, "EF46DB3751D8E999").expect("a digest");
        assert_eq!(upper.text(), "ef46db3751d8e999");
    }

    #[test]
    fn c4_holds_the_sha512() {
        let digest = Digest::from_text(HashKind::C4, EMPTY_C4).expect("a digest");
        // FIPS 180-4: SHA-512 of no bytes
        assert_eq!(digest.bytes()[..4], [0xcf, 0x83, 0xe1, 0x35]);
        let padded = format!("c4{}{}", "1".repeat(87), "2");
        let small = Digest::from_text(HashKind::C4, &padded).expect("a digest");
        assert_eq!(small.bytes()[63], 1);
        assert_eq!(small.text(), padded);
    }

    #[test]
    fn a_c4_beyond_512_bits_is_refused() {
        let text = format!("c4{}", "z".repeat(88));
        assert_eq!(
            Digest::from_text(HashKind::C4, &text),
            Err(HashTextError::C4Range)
        );
    }
}
