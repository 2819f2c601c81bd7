//! The questions before a repeat.

use serde_json::json;
use waybill_tests::app::TestApp;

use super::{REEL, has};
use crate::api::season::Season;

/// Rulebook R26: what the records know before a repeat.
#[tokio::test]
async fn a_repeat_is_checked_against_the_records() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let showing = json!({
        "episode_id": season.episode, "day": "2032-03-01", "at_time": "20:30", "territories": ["GB"],
        "media": ["television.free"], "repeat": true
    });
    let id = season.create("showings", showing).await;
    let cox = season
        .find("people", |one| one["credited_name"] == "Ines Marlow")
        .await["id"]
        .clone();
    season
        .change(
            "people",
            cox.as_str().expect("an id"),
            &json!({"died": "2029-01-02"}),
        )
        .await;
    let path = season.at(&format!("showings/{id}/findings"));
    let found = season.admin.get(&path).await.expect(200).value();
    assert_eq!(found["open"].as_array().expect("a list").len(), 6);
    assert_eq!(found["died"], json!(["Ines Marlow"]));
    assert!(
        found["not_cleared"].to_string().contains(REEL),
        "its licence ended on 30 Sep 2031: {found}"
    );
    has(
        &season.clearance().await,
        "Ines Marlow",
        "covered",
        "contributor_died",
    );
}
