//! What was sent: kept byte for byte, seen by whoever only receives, and nothing else.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;

use crate::api::season::Season;

#[tokio::test]
async fn a_delivery_contact_sees_what_was_issued_and_nothing_else() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let contact = test
        .person("Con", &season.series, &[Role::DeliveryContact])
        .await;
    let list = season.at("issued");
    assert_eq!(
        contact.get(&list).await.expect(200).value()["papers"],
        json!([])
    );
    let at = season.at(&format!("episodes/{}/issued", season.episode));
    let ask = json!({"kind": "credits", "form": "csv", "note": "As agreed on Tuesday."});
    contact.post(&at, &ask).await.problem(403, "not_allowed");
    let editor = test.person("Ed", &season.series, &[Role::Editor]).await;
    editor.post(&at, &ask).await.problem(403, "not_allowed");
    let made = season.admin.post(&at, &ask).await.expect(201).value();
    let report = json!({"kind": "report", "form": "pdf"});
    season.admin.post(&at, &report).await.expect(201);
    let seen = contact.get(&list).await.expect(200).value();
    let papers = seen["papers"].as_array().expect("papers");
    assert_eq!(papers.len(), 2);
    assert_eq!(
        (&papers[0]["kind"], &papers[1]["kind"]),
        (&json!("report"), &json!("credits"))
    );
    assert_eq!(papers[1]["note"], "As agreed on Tuesday.");
    assert_eq!(papers[1]["cut_name"], "EP04_CUT_290105_v1");
    assert_eq!(seen["episodes"][0]["title"], "High Water");
    // Byte for byte, though the records change.
    let file = season.at(&format!(
        "issued/{}/file",
        made["id"].as_str().expect("an id")
    ));
    let first = contact.get(&file).await.expect(200);
    let name = json!({"name": "Older boathouse"});
    season.change("places", &season.place, &name).await;
    let again = contact.get(&file).await.expect(200);
    assert_eq!(first.text(), again.text());
    assert!(first.text().contains("Ines Marlow"));
    // Still nothing of the series itself.
    contact
        .get(&season.at("episodes"))
        .await
        .problem(403, "not_allowed");
    contact
        .get(&season.at("releases"))
        .await
        .problem(403, "not_allowed");
    taken_back(&season, &contact, &made).await;
    let outside = test.person("Otto", &season.series, &[]).await;
    outside.get(&list).await.problem(404, "not_found");
}

/// Source: rulebook 8: a broadcaster's delivery contact sees their own report and sheet, not other buyers'. With a second
/// broadcaster in the series a contact sees what was issued to the one they receive for, and nothing before that is said.
#[tokio::test]
async fn a_contact_sees_only_what_was_issued_to_their_own_broadcaster() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let contact = test
        .person("Con", &season.series, &[Role::DeliveryContact])
        .await;
    let me = contact.get("/api/me").await.expect(200).value();
    let member = season.at(&format!(
        "members/{}",
        me["user"]["id"].as_str().expect("an id")
    ));
    let at = season.at(&format!("episodes/{}/issued", season.episode));
    let credits = json!({"kind": "credits", "form": "csv"});
    let north = season.admin.post(&at, &credits).await.expect(201).value();
    let seen = async || contact.get(&season.at("issued")).await.expect(200).value();
    let found = seen().await;
    assert_eq!(
        (found["papers"].as_array().map(Vec::len), &found["untied"]),
        (Some(1), &json!(false))
    );
    let second = season
        .create(
            "specifications",
            json!({
                "name": "Second window", "broadcaster": "Southern Channel", "edition": "", "territories": ["FR"],
                "media": ["television.free"], "needed_from": "2029-10-01", "needed_to": "2030-09-30"
            }),
        )
        .await;
    let south = season
        .admin
        .post(&format!("{at}?spec={second}"), &credits)
        .await;
    let south = south.expect(201).value();
    let found = seen().await;
    assert_eq!(
        (&found["papers"], &found["untied"]),
        (&json!([]), &json!(true))
    );
    let tie = async |broadcaster: &str| {
        let body = json!({"roles": ["delivery_contact"], "broadcaster": broadcaster});
        season.admin.json("PUT", &member, &[], &body).await
    };
    tie("Western Channel").await.problem(422, "invalid");
    let team = tie(" northern channel").await.expect(200).value();
    let items = team["items"].as_array().expect("members");
    assert!(
        items
            .iter()
            .any(|one| one["broadcaster"] == "Northern Channel"),
        "{team}"
    );
    assert_eq!(
        team["broadcasters"],
        json!(["Northern Channel", "Southern Channel"])
    );
    let found = seen().await;
    assert_eq!(found["papers"].as_array().map(Vec::len), Some(1));
    assert_eq!(found["papers"][0]["id"], north["id"]);
    let file = |paper: &Value| {
        season.at(&format!(
            "issued/{}/file",
            paper["id"].as_str().expect("an id")
        ))
    };
    contact.get(&file(&north)).await.expect(200);
    contact.get(&file(&south)).await.problem(404, "not_found");
    // who sees deliveries by another role sees both; only a contact receives for a broadcaster
    let all = season
        .admin
        .get(&season.at("issued"))
        .await
        .expect(200)
        .value();
    assert_eq!(all["papers"].as_array().map(Vec::len), Some(2));
    let editor = json!({"roles": ["editor"], "broadcaster": "Northern Channel"});
    let refused = season.admin.json("PUT", &member, &[], &editor).await;
    assert_eq!(
        refused.problem(422, "invalid")["errors"][0]["pointer"],
        "/broadcaster"
    );
}

async fn taken_back(season: &Season, contact: &waybill_tests::http::Client, made: &Value) {
    let id = made["id"].as_str().expect("an id");
    let (one, file) = (
        season.at(&format!("issued/{id}")),
        season.at(&format!("issued/{id}/file")),
    );
    let set = |taken_back: bool| json!({"taken_back": taken_back});
    contact
        .json("PUT", &one, &[], &set(true))
        .await
        .problem(403, "not_allowed");
    season
        .admin
        .json("PUT", &one, &[], &set(true))
        .await
        .expect(200);
    contact.get(&file).await.problem(404, "not_found");
    let seen = contact.get(&season.at("issued")).await.expect(200).value();
    assert_eq!(seen["papers"].as_array().expect("papers").len(), 1);
    let own = season
        .admin
        .get(&season.at("issued"))
        .await
        .expect(200)
        .value();
    assert_eq!(own["papers"][1]["taken_back_by"], "Ada Admin");
    season
        .admin
        .json("PUT", &one, &[], &set(false))
        .await
        .expect(200);
    contact.get(&file).await.expect(200);
    let trail = season.at(&format!("audit?subject_id={id}"));
    let lines = season.admin.get(&trail).await.expect(200).text();
    for action in ["downloaded", "taken_back"] {
        assert!(lines.contains(action), "{action} is not in the trail");
    }
}
