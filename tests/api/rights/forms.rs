//! What forms promise and lack: conditions against the cut, notices, schools.

use serde_json::{Value, json};
use waybill_tests::app::TestApp;

use super::{element, has, said};
use crate::api::season::{Season, fields};

/// Rulebook 3.1, R23: held uses, a changed voice, not beside somebody, an approval that is outstanding.
#[tokio::test]
async fn conditions_are_checked_against_the_cut() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let cox = season
        .find("releases", |one| {
            one["kind"] == "appearance" && one["status"] == "ok"
        })
        .await;
    let id = cox["id"].as_str().expect("an id").to_owned();
    let set = |changes: Value| {
        let (season, id) = (&season, id.clone());
        async move { season.change("releases", &id, &changes).await }
    };
    let held = json!({"withdrawal": "holding", "status": "withdrawn_being_decided", "details": {"withdrawal_steps": [
        {"step": "requested", "by": "Ines Marlow"}, {"step": "holding", "words": "the scene is held"}]}});
    set(held).await;
    has(&season.clearance().await, "Ines Marlow", "gap", "held");
    let settled = json!({"withdrawal": "declined", "status": "ok", "details": {"withdrawal_steps": [
        {"step": "requested", "by": "Ines Marlow"}, {"step": "declined", "words": "heard and explained"}]}});
    set(settled).await;
    assert_eq!(said(&season.clearance().await, "Ines Marlow").0, "covered");
    let junior = season
        .find("people", |one| one["credited_name"] == "Tam Rudd")
        .await["id"]
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
    let steps = json!({"details": {"withdrawal_steps": [{"step": "accepted"}]}});
    let path = season.at(&format!("releases/{id}"));
    let now = season.admin.get(&path).await.expect(200);
    let mut record = now.value();
    record["details"] = steps["details"].clone();
    record = fields(&record);
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
    // For which days it was posted: a blank is said, not passed over.
    let undated = json!({"filmed_from": null, "filmed_to": null});
    season.change("releases", &id, &undated).await;
    let answer = season.clearance().await;
    has(&answer, who, "unknown", "notice_incomplete");
    let told = element(&answer, who).to_string();
    assert!(
        told.contains("the days of filming that it was posted for"),
        "{told}"
    );
    let another = json!({"filmed_from": "2028-03-15", "filmed_to": null});
    season.change("releases", &id, &another).await;
    has(&season.clearance().await, who, "gap", "no_permission");
    let that_day = json!({"filmed_from": "2028-03-14", "filmed_to": "2028-03-14"});
    season.change("releases", &id, &that_day).await;
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
    let junior = season
        .find("releases", |one| one["id"] == season.minor_release.as_str())
        .await["person_id"]
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
    school = fields(&school);
    school["kind"] = "school".into();
    school["signed_by"] = "owner".into();
    school["signed_by_name"] = "the head".into();
    season.create("releases", school).await;
    assert_eq!(said(&season.clearance().await, "Tam Rudd").0, "covered");
}
