//! Grounds other than a paper for it: free compositions, the fair-use ladder, what is inside an import.

use serde_json::json;
use waybill_tests::app::TestApp;

use super::{REEL, element, has, newsreel, said};
use crate::api::season::Season;

/// Rulebook R54: a ground reaches as far as somebody said.
#[tokio::test]
async fn a_composition_is_free_where_somebody_said_so() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let song = "Slack Water Song";
    season
        .change(
            "music",
            &season.song,
            &json!({"composition_public_domain": true}),
        )
        .await;
    has(
        &season.clearance().await,
        song,
        "unknown",
        "public_domain_where",
    );
    let there = json!({"composition_territories": ["GB"]});
    season.change("music", &season.song, &there).await;
    has(
        &season.clearance().await,
        song,
        "gap",
        "ground_does_not_reach",
    );
    let both = json!({"composition_territories": ["GB", "IE"]});
    season.change("music", &season.song, &both).await;
    has(
        &season.clearance().await,
        song,
        "covered",
        "public_domain_estimate",
    );
    // Rulebook R12: an arrangement of it is a work of its own, and its owner is asked.
    let arranged = |share: u32| {
        let party = json!({"name": "Ines Corrowby", "role": "arranger", "share": share});
        json!({"parties": [party]})
    };
    season
        .change("music", &season.song, &arranged(10_000))
        .await;
    let answer = season.clearance().await;
    has(&answer, song, "gap", "composition_missing");
    let told = element(&answer, song).to_string();
    assert!(
        told.contains("is held by Ines Corrowby, from whom no licence"),
        "{told}"
    );
    season.change("music", &season.song, &arranged(0)).await;
    assert_eq!(said(&season.clearance().await, song).0, "covered");
}

/// Rulebook R51: the ladder is climbed step by step.
#[tokio::test]
async fn fair_use_is_a_ladder() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let spec = json!({"territories": ["US"]});
    season
        .change("specifications", &season.specification, &spec)
        .await;
    newsreel(&season, json!({"status": "replaced"})).await;
    let mut details = json!({});
    for (step, day) in [
        ("disclosed_on", "2028-01-01"),
        ("approved_on", "2028-02-01"),
        ("opinion_letter_on", "2028-03-01"),
        ("endorsed_on", "2028-04-01"),
    ] {
        let asset = json!({"basis": "fair_use", "basis_details": details});
        season.change("assets", &season.newsreel, &asset).await;
        has(
            &season.clearance().await,
            REEL,
            "unknown",
            "fair_use_incomplete",
        );
        details[step] = day.into();
    }
    // Today is 9 Jan 2029: an endorsement dated tomorrow is none yet.
    for (endorsed, state) in [("2029-01-10", "unknown"), ("2028-04-01", "covered")] {
        details["endorsed_on"] = endorsed.into();
        let asset = json!({"basis": "fair_use", "basis_details": details});
        season.change("assets", &season.newsreel, &asset).await;
        let found = said(&season.clearance().await, REEL);
        assert_eq!(found.0, state, "{endorsed}: {found:?}");
    }
}

/// Rulebook 3.2: what is inside a clip comes into the cut with it, and is cleared by itself.
#[tokio::test]
async fn what_is_inside_an_import_is_an_element_of_its_own() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    // Said to be inside and not entered: nobody knows what clears it, beside what else is wrong with it.
    let note = json!({"embedded": "a mural behind the band"});
    season.change("assets", &season.newsreel, &note).await;
    has(&season.clearance().await, REEL, "gap", "inside_not_entered");
    let asset = json!({"class": "artwork", "title": "Harbour mural", "basis": "unknown", "basis_decided_on": null});
    let mural = season.create("assets", asset).await;
    let inside =
        json!({"contents": [{"asset_id": mural, "presence": "in_shot", "face": "not_applicable"}]});
    season.change("assets", &season.newsreel, &inside).await;
    let answer = season.clearance().await;
    has(&answer, "Harbour mural", "gap", "no_permission");
    assert!(!answer.to_string().contains("inside_not_entered"));
    let (reel, mural_now) = (element(&answer, REEL), element(&answer, "Harbour mural"));
    assert_eq!(reel["first_use"], mural_now["first_use"]);
    let path = season.at(&format!("assets/{mural}"));
    let used = season
        .admin
        .delete(&path, 1)
        .await
        .problem(409, "unsafe_state");
    assert!(
        used["detail"].as_str().expect("words").contains("inside"),
        "{used}"
    );
    let faulty = json!({"class": "still", "title": "x", "basis": "own", "basis_decided_on": null,
        "contents": [{"presence": "in_shot", "face": "shown"}]});
    season
        .admin
        .post(&season.at("assets"), &faulty)
        .await
        .problem(422, "invalid");
}
