//! The OpenAPI document: committed as it is served, complete, without doubles.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use serde_json::Value;
use waybill_server::http::router;

/// `UPDATE=1` writes the file instead of comparing it.
#[test]
fn committed_document_is_the_served_one() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../web/openapi.json");
    let now = router::document().to_pretty_json().expect("JSON") + "\n";
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(&path, now).expect("written");
        return;
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == now,
        "web/openapi.json is not what the server says. Run: UPDATE=1 cargo test -p waybill_tests --test server document"
    );
}

fn document() -> Value {
    serde_json::to_value(router::document()).expect("JSON")
}

#[test]
fn operation_ids_are_unique_and_every_operation_tells_its_faults() {
    let document = document();
    let mut seen: BTreeMap<String, String> = BTreeMap::new();
    for (path, item) in document["paths"].as_object().expect("paths") {
        for (method, operation) in item.as_object().expect("methods") {
            let id = operation["operationId"].as_str().expect("an id").to_owned();
            let here = format!("{method} {path}");
            if let Some(there) = seen.insert(id.clone(), here.clone()) {
                panic!("{id} is the operation of {there} and of {here}");
            }
            let answers = operation["responses"].as_object().expect("answers");
            assert!(
                answers
                    .keys()
                    .any(|status| status.starts_with('4') || status == "503"),
                "{here} tells no fault"
            );
            for (_, answer) in answers.iter().filter(|(status, _)| status.starts_with('4')) {
                let schema = &answer["content"]["application/json"]["schema"]["$ref"];
                assert_eq!(schema, "#/components/schemas/Problem", "{here}");
            }
        }
    }
    assert!(seen.len() > 90, "only {} operations", seen.len());
}

/// Two types of one name would silently share a schema, so a name that the document uses is given once in our sources.
#[test]
fn schema_names_stand_for_one_type() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../server");
    let mut files = Vec::new();
    for part in ["app/src", "domain/src", "reports/src"] {
        rust_files(&root.join(part), &mut files);
    }
    let mut places: BTreeMap<String, BTreeSet<PathBuf>> = BTreeMap::new();
    for file in files {
        let text = std::fs::read_to_string(&file).expect("a source");
        for name in schema_types(&text) {
            places.entry(name).or_default().insert(file.clone());
        }
    }
    let document = document();
    let used = document["components"]["schemas"]
        .as_object()
        .expect("schemas");
    assert!(used.len() > 60, "only {} schemas", used.len());
    for name in used.keys() {
        let found = places.get(name).map_or(0, BTreeSet::len);
        assert!(
            found <= 1,
            "{name} is the name of several types: {:?}",
            places[name]
        );
    }
}

fn rust_files(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            rust_files(&path, into);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            into.push(path);
        }
    }
}

/// Names of types that derive `ToSchema`, or that our macros give it.
fn schema_types(text: &str) -> Vec<String> {
    let mut names = Vec::new();
    let (mut derives, mut open) = (false, false);
    let mut given = None;
    for line in text.lines().map(str::trim) {
        if line.starts_with("#[derive(")
            || line.starts_with("text_enum!")
            || line.starts_with("record_table!")
        {
            derives = line.starts_with("text_enum!")
                || line.starts_with("record_table!")
                || line.contains("ToSchema");
            open = !line.contains(")]") && line.starts_with("#[");
        } else if let Some(rest) = line.strip_prefix("#[schema(as = ") {
            given = rest.split(')').next();
        } else if open {
            derives |= line.contains("ToSchema");
            open = !line.contains(")]");
        } else if let Some(rest) = ["pub struct ", "struct ", "pub enum ", "enum "]
            .iter()
            .find_map(|start| line.strip_prefix(start))
        {
            if derives {
                let own = rest.split(|c: char| !c.is_alphanumeric()).next();
                names.push(given.or(own).unwrap_or_default().to_owned());
            }
            (derives, given) = (false, None);
        }
    }
    names
}
