//! The clearance of a cut: each fault is named at its element, and mending it turns the answer.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;

use crate::api::season::Season;

/// State and codes of the failing or unknown reasons of an element.
fn element(answer: &Value, label: &str) -> (String, Vec<String>) {
    let elements = answer["elements"].as_array().expect("a list");
    let found = elements
        .iter()
        .find(|element| element["label"] == label)
        .unwrap_or_else(|| panic!("no {label} in {answer}"));
    let reasons = found["reasons"].as_array().expect("a list").iter();
    let codes = reasons
        .filter(|reason| reason["weight"] != "shown")
        .map(|reason| reason["code"].as_str().expect("a code").to_owned())
        .collect();
    (found["state"].as_str().expect("a state").to_owned(), codes)
}

fn says(answer: &Value, label: &str, state: &str, codes: &[&str]) {
    let expected = codes.iter().map(|code| (*code).to_owned()).collect();
    assert_eq!(
        element(answer, label),
        (state.to_owned(), expected),
        "{label}"
    );
}

/// The situations that the job is about (issue 2, "Demo"), after rulebook R2, R3, R19, R20, R23 and 3.3.
#[tokio::test]
async fn every_fault_is_named_at_its_element() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let answer = season.clearance().await;
    says(&answer, "Ines Marlow", "covered", &[]);
    says(&answer, "Old boathouse", "covered", &[]);
    says(
        &answer,
        "Tam Rudd",
        "gap",
        &["guardian_missing", "not_checked"],
    );
    says(&answer, "Slack Water Song", "gap", &["composition_missing"]);
    says(&answer, "Harbour newsreel 1934", "gap", &["ends_too_early"]);
    says(
        &answer,
        "Regatta phone video",
        "unknown",
        &["start_unknown"],
    );
    says(&answer, "Olive Strand", "gap", &["face_must_be_blurred"]);
    says(&answer, "A003C003.mov", "not_logged", &["not_logged"]);
    says(
        &answer,
        "“MYSTERY_CLIP.MOV”",
        "unknown_source",
        &["unknown_source"],
    );
    assert_eq!(answer["blocked"], true);
    assert_eq!(answer["needed_by"], "2029-06-15", "the deliverable's date");
    assert_eq!(answer["specification"]["name"], "Main transmission");
    assert_eq!(answer["cut"]["name"], "EP04_CUT_290105_v1");
    assert_eq!(answer["today"], "2029-01-09");
    let counts = &answer["counts"];
    assert_eq!((&counts["gap"], &counts["covered"]), (&json!(4), &json!(2)));
    let board = season.at(&format!("episodes/{}/clearance-counts", season.episode));
    let board = season.admin.get(&board).await.expect(200).value();
    assert_eq!(&board["counts"], counts, "the board says the same");
    assert_eq!(
        (&board["cut_id"], &board["blocked"]),
        (&json!(season.cut), &json!(true))
    );
    let states: Vec<&Value> = answer["elements"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|one| &one["state"])
        .collect();
    assert_eq!(
        (states[0], states[8]),
        (&json!("gap"), &json!("covered")),
        "worst first"
    );
    let newsreel = answer["elements"].to_string();
    assert!(
        newsreel.contains("366 days short"),
        "1 Oct 2031 to 30 Sep 2032, a leap year"
    );
}

#[tokio::test]
async fn mending_a_fault_turns_its_element() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let signed = json!({"kind": "minor", "signed_by": "guardian", "status": "ok", "signed_by_name": "Ro Rudd"});
    season
        .change("releases", &season.minor_release, &signed)
        .await;
    says(&season.clearance().await, "Tam Rudd", "covered", &[]);
    let composition = season.licence("music_id", &season.song, "composition", "2040-01-01");
    season.create("licences", composition).await;
    says(
        &season.clearance().await,
        "Slack Water Song",
        "covered",
        &[],
    );
    let grants =
        season.licence("asset_id", &season.newsreel, "whole", "2032-09-30")["grants"].clone();
    season
        .change(
            "licences",
            &season.newsreel_licence,
            &json!({"grants": grants}),
        )
        .await;
    says(
        &season.clearance().await,
        "Harbour newsreel 1934",
        "covered",
        &[],
    );
    season
        .change(
            "episodes",
            &season.episode,
            &json!({"first_use": "2029-09-01"}),
        )
        .await;
    says(
        &season.clearance().await,
        "Regatta phone video",
        "covered",
        &[],
    );
    season.log(2, "nothing", "", None).await;
    assert!(
        !season
            .clearance()
            .await
            .to_string()
            .contains("A003C003.mov")
    );
    let log = season.at(&format!("log/{}", season.blurred_log));
    let entry = season.admin.get(&log).await.expect(200).value();
    let blurred = json!({"kind": "person", "person_id": entry["person_id"], "face": "blurred"});
    season.admin.put(&log, 1, &blurred).await.expect(200);
    says(&season.clearance().await, "Olive Strand", "restricted", &[]);
    let known = season.at(&format!("cuts/{}/events/7/match", season.cut));
    let chosen = json!({"asset_id": season.newsreel});
    season
        .admin
        .json("PUT", &known, &[], &chosen)
        .await
        .expect(200);
    let answer = season.clearance().await;
    assert_eq!(answer["blocked"], false, "{answer}");
    assert_eq!(answer["counts"]["restricted"], 1);
}

/// Frames 625 to 875 are used by the second event: the first person's range ends at 750, the boy's goes on.
#[tokio::test]
async fn a_person_is_used_only_where_the_ranges_overlap() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let answer = season.clearance().await;
    let frames = |label: &str| {
        let elements = answer["elements"].as_array().expect("a list");
        let found = elements
            .iter()
            .find(|one| one["label"] == label)
            .expect("in it");
        (found["uses"].clone(), found["total_frames"].clone())
    };
    assert_eq!(frames("Ines Marlow"), (json!(2), json!(250 + 125)));
    assert_eq!(frames("Tam Rudd"), (json!(1), json!(250)));
}

#[tokio::test]
async fn the_strip_words_the_worst_state_of_each_event() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let events = season.events().await;
    let states: Vec<&Value> = events.iter().map(|event| &event["state"]).collect();
    let expected = json!([
        "covered",
        "gap",
        "gap",
        "not_logged",
        "gap",
        "unknown",
        "unknown_source",
        null,
        "gap"
    ]);
    assert_eq!(json!(states), expected);
    let words = events[1]["words"].as_str().expect("words");
    assert!(
        words.contains("Tam Rudd") && words.contains("guardian"),
        "{words}"
    );
    assert_eq!(events[0]["record_in"], "10:00:00:00");
    assert_eq!(events[0]["source_in"], "10:00:01:00");
    assert_eq!(events[0]["scene"]["title"], "Mist");
    assert_eq!(events[2]["scene"]["title"], "The race");
    assert_eq!(events[7]["words"], "black");
    assert!(events.iter().all(|event| {
        event["words"]
            .as_str()
            .is_some_and(|words| !words.is_empty())
    }));
}

#[tokio::test]
async fn without_a_cut_or_a_delivery_it_says_what_is_missing() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "New Season").await;
    let episode = json!({
        "number": 1, "title": "First Water", "status": "shooting", "slot_seconds": null, "first_transmission": null,
        "first_transmission_planned": null, "delivered": null, "delivery_planned": null, "first_use": null
    });
    let made = admin
        .post(&format!("/api/series/{series}/episodes"), &episode)
        .await;
    let path = format!("/api/series/{series}/episodes/{}", made.expect(201).id());
    let none = admin
        .get(&format!("{path}/clearance"))
        .await
        .problem(409, "conflict");
    assert!(
        none["detail"]
            .as_str()
            .expect("words")
            .contains("has no cut yet"),
        "{none}"
    );
    let cut = admin
        .send(
            "POST",
            &format!("{path}/cuts?name=a"),
            &[],
            crate::api::season::LIST.as_bytes(),
        )
        .await;
    let cut = cut.expect(201).id();
    for what in ["clearance", "report.pdf"] {
        let none = admin
            .get(&format!("{path}/{what}"))
            .await
            .problem(409, "conflict");
        assert!(
            none["detail"]
                .as_str()
                .expect("words")
                .contains("no delivery specification")
        );
    }
    let strip = admin
        .get(&format!("/api/series/{series}/cuts/{cut}/events"))
        .await
        .expect(200)
        .value();
    assert_eq!(strip["specification_id"], Value::Null);
    assert_eq!(strip["items"][0]["state"], "unknown_source");
    let nothing = "00000000-0000-7000-8000-000000000000";
    for query in [format!("spec={nothing}"), format!("cut={nothing}")] {
        admin
            .get(&format!("{path}/clearance?{query}"))
            .await
            .problem(404, "not_found");
    }
    admin
        .get(&format!("{path}/clearance?spec=x"))
        .await
        .problem(400, "bad_request");
}

/// Rulebook 6: a form that is marked as a problem is not a yes; neither is a school's or a crew's form for a person.
#[tokio::test]
async fn what_only_looks_like_a_yes_is_none() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let marked = json!({
        "kind": "minor", "signed_by": "guardian", "signed_by_name": "Ro Rudd", "status": "problem",
        "status_note": "the two guardians disagree"
    });
    season
        .change("releases", &season.minor_release, &marked)
        .await;
    says(
        &season.clearance().await,
        "Tam Rudd",
        "gap",
        &["marked_as_problem"],
    );
    let school =
        json!({"kind": "school", "signed_by": "guardian", "status": "ok", "status_note": ""});
    season
        .change("releases", &season.minor_release, &school)
        .await;
    says(
        &season.clearance().await,
        "Tam Rudd",
        "gap",
        &["no_permission"],
    );
}

/// Rulebook 3.1: what a form says besides may make it weak, and neither the names on it nor what is disputed is told to
/// who reads the clearance alone (7.4, 7.5); a school's permission that is not needed is no release of the person.
#[tokio::test]
async fn a_form_is_compared_with_the_person_and_keeps_its_names() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let release = &season.minor_release;
    let person = season
        .find("people", |one| one["credited_name"] == "Tam Rudd")
        .await;
    let person = person["id"].as_str().expect("an id").to_owned();
    let guardian = json!({"guardian_name": "Mabel Rudd", "guardian_relationship": "mother"});
    season.change("people", &person, &guardian).await;
    let mut signed = json!({
        "kind": "minor", "signed_by": "guardian", "status": "ok", "signed_by_name": "Mabel Rudd",
        "details": {"capacity": "mother"}
    });
    season.change("releases", release, &signed).await;
    says(&season.clearance().await, "Tam Rudd", "covered", &[]);
    signed["signed_by_name"] = "Aunt May".into();
    signed["details"] = json!({"capacity": "aunt"});
    season.change("releases", release, &signed).await;
    says(
        &season.clearance().await,
        "Tam Rudd",
        "unknown",
        &["signed_by_other", "guardian_missing"],
    );
    signed["signed_by_name"] = "Mabel Rudd".into();
    signed["details"] = json!({
        "name_on_form": "Tamsin J. Rudd", "dispute": "the father wrote through a solicitor", "child_agrees": false
    });
    season.change("releases", release, &signed).await;
    let answer = season.clearance().await;
    says(
        &answer,
        "Tam Rudd",
        "gap",
        &["disputed", "disputed", "another_name"],
    );
    for hidden in ["Tamsin", "solicitor", "Mabel", "Aunt May"] {
        assert!(!answer.to_string().contains(hidden), "{hidden}");
    }
    let school = json!({
        "kind": "school", "status": "not_needed", "status_note": "on the open quay", "signed_by": null,
        "signed_by_name": "", "signed_on": null, "details": {}
    });
    season.change("releases", release, &school).await;
    let also = json!({"also_needed": ["school"]});
    season.change("people", &person, &also).await;
    says(
        &season.clearance().await,
        "Tam Rudd",
        "gap",
        &["no_permission"],
    );
}

#[tokio::test]
async fn notes_stay_with_those_who_may_see_them() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let decided = json!({
        "status": "not_needed", "status_note": "moved abroad, see the mother's letter", "signed_on": null, "signed_by": null
    });
    season
        .change("releases", &season.minor_release, &decided)
        .await;
    let path = season.at(&format!("episodes/{}/clearance", season.episode));
    let producer = season.admin.get(&path).await.expect(200).text();
    assert!(
        producer.contains("the mother's letter") && producer.contains("Ada Admin on 9 Jan 2029")
    );
    let editor = test
        .person("Edda Editor", &season.series, &[Role::Editor])
        .await;
    let seen = editor.get(&path).await.expect(200).text();
    assert!(!seen.contains("the mother's letter"), "{seen}");
    assert!(!seen.contains("2013-05-05"), "no date of birth");
    let contact = test
        .person("Dora Delivery", &season.series, &[Role::DeliveryContact])
        .await;
    contact.get(&path).await.problem(403, "not_allowed");
    // Nor does what a producer issues to them tell it (rulebook 8: no working notes).
    let issue = season.at(&format!("episodes/{}/issued", season.episode));
    let report = json!({"kind": "report", "form": "csv"});
    let made = season.admin.post(&issue, &report).await.expect(201).value();
    let id = made["id"].as_str().expect("an id");
    let file = contact.get(&season.at(&format!("issued/{id}/file"))).await;
    let issued = file.expect(200).text();
    assert!(
        issued.contains("the reason stands in the record"),
        "{issued}"
    );
    assert!(!issued.contains("the mother's letter"));
    // What an approval covers is the same for whoever looks, and a short note is searched for in no other words.
    let print = |text: &str| {
        let answer: Value = serde_json::from_str(text).expect("an answer");
        answer["fingerprint"]
            .as_str()
            .expect("a fingerprint")
            .to_owned()
    };
    assert_eq!(print(&producer), print(&seen));
    let short = json!({"status_note": "is"});
    season
        .change("releases", &season.minor_release, &short)
        .await;
    let made = season.admin.post(&issue, &report).await.expect(201).value();
    let id = made["id"].as_str().expect("an id");
    let file = contact.get(&season.at(&format!("issued/{id}/file"))).await;
    let issued = file.expect(200).text();
    let told = "Nothing is needed for Tam Rudd: the reason stands in the record (decided by Ada Admin on 9 Jan 2029).";
    assert!(issued.contains(told), "{issued}");
}
