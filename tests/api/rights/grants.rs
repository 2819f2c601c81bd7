//! What grants reach: groups of territories, runs, options, episodes, versions, further terms.

use serde_json::{Value, json};
use waybill_tests::app::TestApp;

use super::{REEL, element, grant, has, newsreel, said};
use crate::api::season::{Season, fields};

#[tokio::test]
async fn a_group_stands_wherever_codes_stand() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let unknown = json!({"territories": ["Harbour coasts"]});
    let path = season.at(&format!("specifications/{}", season.specification));
    let mut spec = season.admin.get(&path).await.expect(200).value();
    spec["territories"] = unknown["territories"].clone();
    spec = fields(&spec);
    let refused = season
        .admin
        .put(&path, 1, &spec)
        .await
        .problem(422, "invalid");
    assert_eq!(refused["errors"][0]["pointer"], "/territories/0");
    let group = json!({"name": "Harbour coasts", "territories": ["GB", "IE", "FR"]});
    let id = season.create("territory-groups", group).await;
    season.admin.put(&path, 1, &spec).await.expect(200);
    has(&season.clearance().await, REEL, "gap", "not_granted");
    let at = season.at(&format!("territory-groups/{id}"));
    let used = season
        .admin
        .delete(&at, 1)
        .await
        .problem(409, "unsafe_state");
    assert!(
        used["detail"]
            .as_str()
            .expect("words")
            .contains("1 delivery specifications"),
        "{used}"
    );
    let renamed = json!({"name": "Other coasts", "territories": ["GB"]});
    season
        .admin
        .put(&at, 1, &renamed)
        .await
        .problem(422, "invalid");
    let smaller = json!({"name": "Harbour coasts", "territories": ["GB"]});
    season.admin.put(&at, 1, &smaller).await.expect(200);
    newsreel(&season, grant(json!({}))).await;
    assert_eq!(said(&season.clearance().await, REEL).0, "covered");
    let report = season.at(&format!("episodes/{}/report.json", season.episode));
    let report = season.admin.get(&report).await.expect(200).text();
    assert!(report.contains("Harbour coasts: the UK"), "{report}");
}

/// Rulebook R4.
#[tokio::test]
async fn runs_are_counted_against_the_need_and_the_showings() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let runs = json!({"limits": {"runs": {"allowed": 2, "counting": "seven_days_by_the_hour"}}});
    newsreel(&season, grant(runs)).await;
    has(&season.clearance().await, REEL, "unknown", "runs_unknown");
    let spec = &season.specification;
    season
        .change("specifications", spec, &json!({"runs_needed": 3}))
        .await;
    has(&season.clearance().await, REEL, "gap", "runs_too_few");
    season
        .change("specifications", spec, &json!({"runs_needed": 2}))
        .await;
    assert_eq!(said(&season.clearance().await, REEL).0, "covered");
    // Day 0, 2, 6 and 7: two releases (R4's example); a week later a third.
    for (day, state) in [
        ("2029-10-01", "covered"),
        ("2029-10-03", "covered"),
        ("2029-10-07", "covered"),
        ("2029-10-08", "covered"),
        ("2029-10-15", "gap"),
    ] {
        let showing = json!({
            "episode_id": season.episode, "day": day, "at_time": "20:30", "territories": ["GB"],
            "media": ["television.free"]
        });
        season.create("showings", showing).await;
        assert_eq!(said(&season.clearance().await, REEL).0, state, "{day}");
    }
    let reel = element(&season.clearance().await, REEL);
    assert_eq!(reel["reasons"][0]["cells"]["territories"], json!(["GB"]));
    assert_eq!(
        reel["reasons"][0]["cells"]["media"],
        json!(["television.free"])
    );
}

/// Rulebook R7: the day for notice has passed, though the licence runs.
#[tokio::test]
async fn a_missed_option_is_said_and_an_open_one_is_remembered() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let option = |notice_days| {
        grant(json!({
            "term": {"to": "2029-03-31"}, "options": [{"months": 60, "notice_days": notice_days, "price": "as before"}]
        }))
    };
    newsreel(&season, option(90)).await;
    let answer = season.clearance().await;
    has(&answer, REEL, "gap", "option_missed");
    let calendar = answer["calendar"].to_string();
    assert!(
        calendar.contains("option missed") && calendar.contains("2028-12-31"),
        "{calendar}"
    );
    newsreel(&season, option(30)).await;
    has(&season.clearance().await, REEL, "gap", "option_open");
    let reminders = season
        .admin
        .get(&season.at("reminders"))
        .await
        .expect(200)
        .value();
    let of_option = |one: &&Value| one["due_on"] == "2029-03-01";
    let found = reminders["items"]
        .as_array()
        .expect("a list")
        .iter()
        .find(of_option);
    let words = found.expect("a reminder")["what"]
        .as_str()
        .expect("words")
        .to_owned();
    assert!(words.starts_with("Last day for the option"), "{words}");
    // Rulebook 8: the broadcaster's contact sees deliverables, not whose licence ends when.
    let roles = [waybill_domain::perms::Role::DeliveryContact];
    let contact = test.person("Con", &season.series, &roles).await;
    let seen = contact
        .get(&season.at("reminders"))
        .await
        .expect(200)
        .text();
    assert!(!seen.contains("licence"), "{seen}");
    let id = found.expect("a reminder")["id"].as_str().expect("an id");
    let path = season.at(&format!("reminders/{id}/acknowledge"));
    contact
        .post(&path, &json!({}))
        .await
        .problem(403, "not_allowed");
    let taken = |on| {
        grant(json!({
            "term": {"to": "2029-03-31"},
            "options": [{"months": 60, "notice_days": 30, "price": "", "taken_up_on": on}]
        }))
    };
    // Dated ahead of today, 9 Jan 2029, notice has not been given.
    newsreel(&season, taken("2029-02-01")).await;
    has(&season.clearance().await, REEL, "gap", "option_open");
    newsreel(&season, taken("2029-01-09")).await;
    has(
        &season.clearance().await,
        REEL,
        "covered",
        "option_taken_up",
    );
}

#[tokio::test]
async fn a_grant_for_another_episode_or_version_does_not_help() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    newsreel(&season, grant(json!({"limits": {"episodes": [1, 2]}}))).await;
    has(&season.clearance().await, REEL, "gap", "other_episode");
    newsreel(
        &season,
        grant(json!({"limits": {"episodes": [4], "versions": ["Broadcast"]}})),
    )
    .await;
    has(
        &season.clearance().await,
        REEL,
        "unknown",
        "version_unknown",
    );
    let spec = &season.specification;
    season
        .change(
            "specifications",
            spec,
            &json!({"version_name": "broadcast"}),
        )
        .await;
    assert_eq!(said(&season.clearance().await, REEL).0, "covered");
    season
        .change(
            "specifications",
            spec,
            &json!({"version_name": "international"}),
        )
        .await;
    has(&season.clearance().await, REEL, "gap", "other_version");
}

/// Rulebook R8, R10, R11, R52.
#[tokio::test]
async fn further_terms_are_said() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let mut changes = grant(json!({}));
    changes["terms"] = json!({
        "sublicence": false, "most_favoured": "same_piece", "minimum_billing": {"seconds": 30, "per": "project"},
        "waiver_approved_on": "2028-11-05"
    });
    newsreel(&season, changes).await;
    let answer = season.clearance().await;
    has(&answer, REEL, "covered", "most_favoured_nations");
    let text = element(&answer, REEL).to_string();
    assert!(
        text.contains("10 s used in 1 use, at least 30 s billed for the project: 30 s"),
        "{text}"
    );
    assert!(
        text.contains("signed on 2 Nov 2028, 3 days before the buyer's waiver"),
        "{text}"
    );
    season
        .change(
            "specifications",
            &season.specification,
            &json!({"overhang_months": 12}),
        )
        .await;
    has(
        &season.clearance().await,
        REEL,
        "gap",
        "sublicence_forbidden",
    );
}
