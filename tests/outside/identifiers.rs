//! Forms and check characters of ISWC, ISRC, ISAN, EIDR, ISNI and IPI.

use waybill_domain::identifiers::{IdentifierError, Scheme};

use crate::cases::read;

/// Source: data/identifiers.json; each example names its own.
#[test]
fn every_example_is_judged_as_its_source_says() {
    let data = read("identifiers.json");
    let examples = data["examples"].as_array().expect("a list");
    assert!(!examples.is_empty());
    for example in examples {
        let scheme = match example["scheme"].as_str().expect("a scheme") {
            "ISWC" => Scheme::Iswc,
            "ISRC" => Scheme::Isrc,
            "ISAN" => Scheme::Isan,
            "EIDR" => Scheme::Eidr,
            "ISNI" => Scheme::Isni,
            "IPI name number" => Scheme::IpiName,
            "IPI base number" => Scheme::IpiBase,
            other => panic!("no such scheme: {other}"),
        };
        let found = scheme.canonical(example["input"].as_str().expect("a text"));
        if example["valid"] == true {
            assert_eq!(
                found.as_deref().ok(),
                example["canonical"].as_str(),
                "{example}"
            );
        } else {
            let why = example["why"].as_str().unwrap_or_default();
            let error = found.expect_err("not valid");
            assert_eq!(
                matches!(error, IdentifierError::Form(_)),
                why.starts_with("form"),
                "{example}"
            );
        }
    }
}
