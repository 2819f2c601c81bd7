//! Digests of `data/hash-vectors.json`: published vectors of xxHash, RFC 1321, RFC 3174, FIPS 180-4 and
//! ST 2114, and computed ones (the file names the source of each). Every vector there is compared.
//! A scan always uses seed 0; the few seeded vectors check the library underneath.

use serde_json::Value;
use twox_hash::{XxHash3_64, XxHash3_128, XxHash64};
use waybill_cli::hashing::{Hasher, digest};
use waybill_domain::hashes::HashKind;

use crate::cases::read;

/// The bytes of a vector, in one of the forms that the file's head describes.
fn bytes(input: &Value) -> Vec<u8> {
    let number = |name: &str| {
        input[name]
            .as_u64()
            .map(|n| usize::try_from(n).expect("a length"))
    };
    if let Some(text) = input["text"].as_str() {
        return text.as_bytes().to_vec();
    }
    if let Some(hex) = input["hex"].as_str() {
        let pairs = hex
            .as_bytes()
            .chunks_exact(2)
            .map(|pair| std::str::from_utf8(pair).expect("hex"));
        return pairs
            .map(|pair| u8::from_str_radix(pair, 16).expect("hex"))
            .collect();
    }
    if let Some(text) = input["repeat"].as_str() {
        return text
            .repeat(number("times").expect("a number of times"))
            .into_bytes();
    }
    if let Some(count) = number("xxh_buffer") {
        let mut generator = 2_654_435_761_u64;
        let mut next = || {
            let byte = generator.to_be_bytes()[0];
            generator = generator.wrapping_mul(11_400_714_785_074_694_797);
            byte
        };
        return (0..count).map(|_| next()).collect();
    }
    let count = number("counter").unwrap_or_else(|| panic!("an unknown form of input: {input}"));
    (0..=250_u8).cycle().take(count).collect()
}

fn seeded(kind: HashKind, bytes: &[u8], seed: u64) -> String {
    match kind {
        HashKind::Xxh64 => format!("{:016x}", XxHash64::oneshot(seed, bytes)),
        HashKind::Xxh3 => format!("{:016x}", XxHash3_64::oneshot_with_seed(seed, bytes)),
        HashKind::Xxh128 => format!("{:032x}", XxHash3_128::oneshot_with_seed(seed, bytes)),
        _ => panic!("{kind} has no seed"),
    }
}

/// The digest as a long file's is made, the pieces of lengths that fit no block.
fn in_pieces(kind: HashKind, bytes: &[u8]) -> String {
    let mut hasher = Hasher::new(kind);
    for (index, piece) in bytes.chunks(97).enumerate() {
        let (one, other) = piece.split_at(index % piece.len());
        hasher.update(one);
        hasher.update(other);
    }
    hasher.finish()
}

#[test]
fn every_vector_agrees() {
    let document = read("hash-vectors.json");
    let vectors = document["vectors"].as_array().expect("a list of vectors");
    assert!(!vectors.is_empty());
    for vector in vectors {
        let kind: HashKind = vector["algorithm"]
            .as_str()
            .expect("a name")
            .parse()
            .expect("a type");
        let bytes = bytes(&vector["input"]);
        assert_eq!(
            vector["length"].as_u64(),
            u64::try_from(bytes.len()).ok(),
            "{}",
            vector["id"]
        );
        let seed: u64 = vector["seed"]
            .as_str()
            .unwrap_or("0")
            .parse()
            .expect("a seed");
        let found = if seed == 0 {
            assert_eq!(
                in_pieces(kind, &bytes),
                digest(kind, &bytes),
                "{}",
                vector["id"]
            );
            digest(kind, &bytes)
        } else {
            seeded(kind, &bytes, seed)
        };
        let written = vector["digest"].as_str().expect("a digest");
        assert_eq!(
            kind.canonical(written).as_deref(),
            Ok(found.as_str()),
            "{}",
            vector["id"]
        );
    }
}
