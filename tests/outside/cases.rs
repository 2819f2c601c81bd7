//! Brute-force cases: worked day by day and frame by frame, independently of any implementation.
//! They are generated, not published (see data/cases/README.md).

use std::path::{Path, PathBuf};

use serde_json::Value;
use waybill_domain::try_rule::try_rule;

/// The folder with copies of the outside data.
pub fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("outside/data")
}

/// Reads a JSON file from the outside data.
pub fn read(name: &str) -> Value {
    let path = data().join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path:?}: {e}"));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{path:?}: {e}"))
}

/// Every case of a rule gives its expected answer, compared as a whole. The expected value is the
/// member whose name begins with "expected".
pub fn all_agree(rule: &str) {
    let cases = read(&format!("cases/{rule}.json"));
    let answers = try_rule(rule, &cases).expect("well-formed cases");
    let (cases, answers) = (
        cases.as_array().expect("a list"),
        answers.as_array().expect("a list"),
    );
    assert!(!cases.is_empty(), "no cases for {rule}");
    assert_eq!(cases.len(), answers.len());
    for (case, answer) in cases.iter().zip(answers) {
        let members = case.as_object().expect("an object");
        let expected = members
            .iter()
            .find(|(name, _)| name.starts_with("expected"));
        let (_, expected) = expected.expect("an expected value");
        assert_eq!(&answer["id"], &case["id"]);
        assert_eq!(&answer["answer"], expected, "{rule}, case {}", case["id"]);
    }
}

/// Every file of cases is one that can be tried, so that no new file is passed over.
#[test]
fn every_file_of_cases_is_worked() {
    let files = std::fs::read_dir(data().join("cases")).expect("the folder of cases");
    let mut worked = 0;
    for file in files {
        let path = file.expect("an entry").path();
        if path.extension().is_some_and(|end| end == "json") {
            all_agree(
                path.file_stem()
                    .and_then(|stem| stem.to_str())
                    .expect("a plain name"),
            );
            worked += 1;
        }
    }
    assert!(worked > 0);
}
