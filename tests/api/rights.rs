//! What a paper, a ground or a need says is what the clearance answers: groups, runs, options, episodes, restrictions,
//! notices, things inside things.

use serde_json::{Value, json};
use waybill_tests::app::TestApp;

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

#[tokio::test]
async fn a_group_stands_wherever_codes_stand() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let unknown = json!({"territories": ["Harbour coasts"]});
    let path = season.at(&format!("specifications/{}", season.specification));
    let mut spec = season.admin.get(&path).await.expect(200).value();
    spec["territories"] = unknown["territories"].clone();
    for own in [
        "id",
        "series_id",
        "version",
        "created_at",
        "updated_at",
        "deleted_at",
    ] {
        spec.as_object_mut().expect("a record").remove(own);
    }
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
    let taken = grant(json!({
        "term": {"to": "2029-03-31"},
        "options": [{"months": 60, "notice_days": 30, "price": "", "taken_up_on": "2029-02-01"}]
    }));
    newsreel(&season, taken).await;
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
    let asset = json!({"basis": "fair_use", "basis_details": details});
    season.change("assets", &season.newsreel, &asset).await;
    assert_eq!(said(&season.clearance().await, REEL).0, "covered");
}

/// Rulebook 3.2: what is inside a clip comes into the cut with it, and is cleared by itself.
#[tokio::test]
async fn what_is_inside_an_import_is_an_element_of_its_own() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let asset = json!({"class": "artwork", "title": "Harbour mural", "basis": "unknown", "basis_decided_on": null});
    let mural = season.create("assets", asset).await;
    let inside =
        json!({"contents": [{"asset_id": mural, "presence": "in_shot", "face": "not_applicable"}]});
    season.change("assets", &season.newsreel, &inside).await;
    let answer = season.clearance().await;
    has(&answer, "Harbour mural", "gap", "no_permission");
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

/// Rulebook 3.1, R23: held uses, a changed voice, not beside somebody, an approval that is outstanding.
#[tokio::test]
async fn conditions_are_checked_against_the_cut() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let releases = season
        .admin
        .get(&season.at("releases"))
        .await
        .expect(200)
        .value();
    let cox = releases["items"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|one| one["kind"] == "appearance" && one["status"] == "ok")
        .expect("the cox's release")
        .clone();
    let id = cox["id"].as_str().expect("an id").to_owned();
    let set = |changes: Value| {
        let (season, id) = (&season, id.clone());
        async move { season.change("releases", &id, &changes).await }
    };
    let held = json!({"withdrawal": "holding", "status": "withdrawn_being_decided", "details": {"withdrawal_steps": [
        {"on": "2029-01-05", "step": "requested", "by": "Ines Marlow"},
        {"on": "2029-01-06", "step": "holding", "by": "Ada Admin", "words": "the scene is held"}]}});
    set(held).await;
    has(&season.clearance().await, "Ines Marlow", "gap", "held");
    let settled = json!({"withdrawal": "declined", "status": "ok", "details": {"withdrawal_steps": [
        {"on": "2029-01-05", "step": "requested", "by": "Ines Marlow"},
        {"on": "2029-01-07", "step": "declined", "by": "Counsel", "words": "heard and explained"}]}});
    set(settled).await;
    assert_eq!(said(&season.clearance().await, "Ines Marlow").0, "covered");
    let people = season
        .admin
        .get(&season.at("people"))
        .await
        .expect(200)
        .value();
    let junior = people["items"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|one| one["credited_name"] == "Tam Rudd")
        .expect("the junior")["id"]
        .clone();
    // Frames 625 to 750 of the second event show both.
    let apart = json!({"status": "restricted_ok", "restrictions": [{"kind": "not_beside", "person": junior}]});
    set(apart).await;
    let answer = season.clearance().await;
    has(&answer, "Ines Marlow", "gap", "shown_beside");
    let reasons = element(&answer, "Ines Marlow")["reasons"].clone();
    assert_eq!(reasons[0]["events"], json!([2]), "{reasons}");
    let approval = |on: Value| json!({"restrictions": [{"kind": "approval", "words": "Ines views her scenes", "approved_on": on}]});
    set(approval(Value::Null)).await;
    has(
        &season.clearance().await,
        "Ines Marlow",
        "unknown",
        "approval_outstanding",
    );
    set(approval("2029-01-08".into())).await;
    has(
        &season.clearance().await,
        "Ines Marlow",
        "restricted",
        "restriction_kept",
    );
    set(json!({"restrictions": [{"kind": "change_voice"}]})).await;
    has(
        &season.clearance().await,
        "Ines Marlow",
        "unknown",
        "disguise_not_agreed",
    );
    let disguise = crate::api::season::agreed_disguise("public");
    set(json!({"details": {"disguise": disguise}})).await;
    // The list so far is of pictures; now the second event sounds too.
    let heard = crate::api::season::LIST.replace("002  A003     V ", "002  A003     B ");
    season
        .import("EP04_CUT_290106_v1", &heard)
        .await
        .expect(201);
    has(
        &season.clearance().await,
        "Ines Marlow",
        "gap",
        "voice_must_be_changed",
    );
    let log = season
        .admin
        .get(&season.at("log"))
        .await
        .expect(200)
        .value();
    for entry in log["items"].as_array().expect("a list") {
        if entry["subject"] == "Ines Marlow" {
            let path = season.at(&format!("log/{}", entry["id"].as_str().expect("an id")));
            let changed = json!({"kind": "person", "person_id": entry["person_id"], "voice_changed": true,
                "from": entry["frame_in"], "to": entry["frame_out"]});
            season.admin.put(&path, 1, &changed).await.expect(200);
        }
    }
    assert_eq!(
        said(&season.clearance().await, "Ines Marlow").0,
        "restricted"
    );
    let steps = json!({"details": {"withdrawal_steps": [{"on": "2029-01-05", "step": "accepted", "by": "Counsel"}]}});
    let path = season.at(&format!("releases/{id}"));
    let now = season.admin.get(&path).await.expect(200);
    let mut record = now.value();
    record["details"] = steps["details"].clone();
    for own in [
        "id",
        "series_id",
        "version",
        "created_at",
        "updated_at",
        "deleted_at",
    ] {
        record.as_object_mut().expect("a record").remove(own);
    }
    let disagree = season
        .admin
        .put(&path, now.version(), &record)
        .await
        .problem(422, "invalid");
    assert_eq!(disagree["errors"][0]["pointer"], "/withdrawal");
}

/// Rulebook R22: adequate, and only for an adult in the background; evidence, not consent.
#[tokio::test]
async fn a_crowd_notice_is_evidence_for_the_background_only() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let onlooker = season.person("Onlooker in a cap", "1970-02-01").await;
    let entry = json!({"file_ids": [season.files[2]], "kind": "person", "person_id": onlooker, "presence": "background"});
    let made = season
        .admin
        .post(&season.at("log"), &entry)
        .await
        .expect(201)
        .value();
    let entry_id = made["items"][0]["id"].as_str().expect("an id").to_owned();
    season.log(2, "place", &season.place, None).await;
    let who = "Onlooker in a cap";
    has(&season.clearance().await, who, "gap", "no_permission");
    let notice = json!({
        "kind": "crowd_notice", "person_id": null, "place_id": season.place, "asset_id": null, "status": "ok",
        "signed_by": null, "signed_on": null, "filmed_from": "2028-03-14", "filmed_to": "2028-03-14",
        "form_version": "2", "withdrawal": null, "document_id": null,
        "details": {"at_every_entrance": true, "posted_at": "14 Mar 2028, 06:30"}
    });
    let id = season.create("releases", notice).await;
    has(
        &season.clearance().await,
        who,
        "unknown",
        "notice_incomplete",
    );
    let png = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55\0\0\0\0IEND\xae\x42\x60\x82";
    let photo = season
        .admin
        .send(
            "PUT",
            &season.at("documents?name=notice.png"),
            &[("content-type", "image/png")],
            png,
        )
        .await
        .expect(200)
        .id();
    season
        .change("releases", &id, &json!({"document_id": photo}))
        .await;
    let answer = season.clearance().await;
    has(&answer, who, "evidence_only", "notice_is_evidence_only");
    assert_eq!(answer["counts"]["evidence_only"], 1);
    let featured = json!({"kind": "person", "person_id": onlooker, "presence": "on_camera"});
    let path = season.at(&format!("log/{entry_id}"));
    season.admin.put(&path, 1, &featured).await.expect(200);
    has(&season.clearance().await, who, "gap", "notice_not_enough");
    let back = json!({"kind": "person", "person_id": onlooker, "presence": "background"});
    season.admin.put(&path, 2, &back).await.expect(200);
    season
        .change("people", &onlooker, &json!({"born": "2015-01-01"}))
        .await;
    has(&season.clearance().await, who, "gap", "notice_not_enough");
}

/// Rulebook 3.1: a school's permission stands beside the parent's, never for it.
#[tokio::test]
async fn a_schools_permission_stands_beside_the_persons_own() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let releases = season
        .admin
        .get(&season.at("releases"))
        .await
        .expect(200)
        .value();
    let junior = releases["items"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|one| one["id"] == season.minor_release.as_str())
        .expect("there")["person_id"]
        .clone();
    let junior = junior.as_str().expect("an id");
    let signed = json!({"kind": "minor", "signed_by": "guardian", "status": "ok", "signed_by_name": "Ro Rudd"});
    season
        .change("releases", &season.minor_release, &signed)
        .await;
    assert_eq!(said(&season.clearance().await, "Tam Rudd").0, "covered");
    season
        .change("people", junior, &json!({"also_needed": ["school"]}))
        .await;
    has(
        &season.clearance().await,
        "Tam Rudd",
        "gap",
        "permission_missing",
    );
    let mut school = season
        .admin
        .get(&season.at(&format!("releases/{}", season.minor_release)))
        .await
        .expect(200)
        .value();
    for own in [
        "id",
        "series_id",
        "version",
        "created_at",
        "updated_at",
        "deleted_at",
    ] {
        school.as_object_mut().expect("a record").remove(own);
    }
    school["kind"] = "school".into();
    school["signed_by"] = "owner".into();
    school["signed_by_name"] = "the head".into();
    season.create("releases", school).await;
    assert_eq!(said(&season.clearance().await, "Tam Rudd").0, "covered");
}

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
    let people = season
        .admin
        .get(&season.at("people"))
        .await
        .expect(200)
        .value();
    let cox = people["items"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|one| one["credited_name"] == "Ines Marlow")
        .expect("the cox")["id"]
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
