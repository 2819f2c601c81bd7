//! What a paper, a ground or a need says is what the clearance answers: groups, runs, options, episodes, restrictions,
//! notices, things inside things.

mod forms;
mod grants;
mod grounds;
mod repeats;

use serde_json::{Value, json};

use crate::api::season::Season;

/// An element of an answer.
pub fn element(answer: &Value, label: &str) -> Value {
    let mut all = answer["elements"].as_array().expect("a list").iter();
    all.find(|one| one["label"] == label)
        .unwrap_or_else(|| panic!("no {label} in {answer}"))
        .clone()
}

/// Its state and the codes of all its reasons.
pub fn said(answer: &Value, label: &str) -> (String, Vec<String>) {
    let found = element(answer, label);
    let reasons = found["reasons"].as_array().expect("a list").iter();
    let codes = reasons.map(|one| one["code"].as_str().expect("a code").to_owned());
    (
        found["state"].as_str().expect("a state").to_owned(),
        codes.collect(),
    )
}

#[track_caller]
fn has(answer: &Value, label: &str, state: &str, code: &str) {
    let (is, codes) = said(answer, label);
    assert_eq!(is, state, "{label}: {codes:?}");
    assert!(
        codes.iter().any(|one| one == code),
        "{label}: {code} not in {codes:?}"
    );
}

async fn newsreel(season: &Season, changes: Value) {
    season
        .change("licences", &season.newsreel_licence, &changes)
        .await;
}

/// A grant of the newsreel that reaches all that the delivery needs, with something added.
fn grant(more: Value) -> Value {
    let mut grant = json!({
        "territories": ["GB", "IE"], "media": ["television.free", "on_demand.catch_up"], "starts": "2028-01-01",
        "term": {"to": "2040-01-01"}
    });
    for (name, value) in more.as_object().expect("fields") {
        grant[name] = value.clone();
    }
    json!({"grants": [grant]})
}

const REEL: &str = "Harbour newsreel 1934";
