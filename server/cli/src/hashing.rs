//! Working out digests. Which types exist and how they are written is `waybill_domain::hashes`.

use std::hash::Hasher as _;

use md5::Digest as _;
use twox_hash::{XxHash3_64, XxHash3_128, XxHash64};
use waybill_domain::hashes::{C4_DIGITS, HashKind, hex};

/// One running hash.
pub struct Hasher(State);

enum State {
    Xxh128(Box<XxHash3_128>),
    Xxh3(Box<XxHash3_64>),
    Xxh64(XxHash64),
    Md5(md5::Md5),
    Sha1(sha1::Sha1),
    Sha256(sha2::Sha256),
    Sha512(sha2::Sha512),
    C4(sha2::Sha512),
}

impl Hasher {
    /// A hash of no bytes yet; the xxHash family with seed 0.
    pub fn new(kind: HashKind) -> Self {
        Self(match kind {
            HashKind::Xxh128 => State::Xxh128(Box::new(XxHash3_128::new())),
            HashKind::Xxh3 => State::Xxh3(Box::new(XxHash3_64::new())),
            HashKind::Xxh64 => State::Xxh64(XxHash64::with_seed(0)),
            HashKind::Md5 => State::Md5(md5::Md5::new()),
            HashKind::Sha1 => State::Sha1(sha1::Sha1::new()),
            HashKind::Sha256 => State::Sha256(sha2::Sha256::new()),
            HashKind::Sha512 => State::Sha512(sha2::Sha512::new()),
            HashKind::C4 => State::C4(sha2::Sha512::new()),
        })
    }

    /// Takes more bytes.
    pub fn update(&mut self, bytes: &[u8]) {
        match &mut self.0 {
            State::Xxh128(hash) => hash.write(bytes),
            State::Xxh3(hash) => hash.write(bytes),
            State::Xxh64(hash) => hash.write(bytes),
            State::Md5(hash) => hash.update(bytes),
            State::Sha1(hash) => hash.update(bytes),
            State::Sha256(hash) => hash.update(bytes),
            State::Sha512(hash) | State::C4(hash) => hash.update(bytes),
        }
    }

    /// The digest in its written form.
    pub fn finish(self) -> String {
        match self.0 {
            State::Xxh128(hash) => format!("{:032x}", hash.finish_128()),
            State::Xxh3(hash) => format!("{:016x}", hash.finish()),
            State::Xxh64(hash) => format!("{:016x}", hash.finish()),
            State::Md5(hash) => hex(&hash.finalize()),
            State::Sha1(hash) => hex(&hash.finalize()),
            State::Sha256(hash) => hex(&hash.finalize()),
            State::Sha512(hash) => hex(&hash.finalize()),
            State::C4(hash) => c4(&hash.finalize()),
        }
    }
}

/// The digest of bytes at hand.
pub fn digest(kind: HashKind, bytes: &[u8]) -> String {
    match kind {
        HashKind::Xxh128 => format!("{:032x}", XxHash3_128::oneshot(bytes)),
        HashKind::Xxh3 => format!("{:016x}", XxHash3_64::oneshot(bytes)),
        _ => {
            let mut hasher = Hasher::new(kind);
            hasher.update(bytes);
            hasher.finish()
        }
    }
}

/// SMPTE ST 2114: the SHA-512 as a number in base 58, 88 digits, zeros in front written as the digit 1.
fn c4(sha512: &[u8]) -> String {
    let mut number = sha512.to_vec();
    let mut text = [b'1'; 88];
    for digit in text.iter_mut().rev() {
        let mut rest = 0_u32;
        for byte in &mut number {
            let value = (rest << 8) | u32::from(*byte);
            // below 256, because rest is below 58
            *byte = (value / 58) as u8;
            rest = value % 58;
        }
        *digit = C4_DIGITS[rest as usize];
    }
    text.iter().fold("c4".to_owned(), |mut id, digit| {
        id.push(char::from(*digit));
        id
    })
}
