//! Sealed notes: opened by the people named in them and nobody else, with an audit line each time.

use serde_json::json;
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;

#[tokio::test]
async fn only_named_people_open_a_sealed_note() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let at = |path: &str| format!("/api/series/{series}/{path}");
    let producer = test
        .person("Pia Producer", &series, &[Role::SeriesProducer])
        .await;
    let counsel = test.person("Cora Counsel", &series, &[Role::Counsel]).await;
    let editor = test.person("Edda Editor", &series, &[Role::Editor]).await;
    let person = json!({"credited_name": "Wren Tallow", "credited_name_confirmed_on": null, "born": null,
        "age_band": "adult", "died": null});
    let person = producer.post(&at("people"), &person).await.expect(201).id();
    let me = counsel.get("/api/me").await.expect(200).value();
    let counsel_id = me["user"]["id"].clone();
    let secret = "the house must not be recognised";
    let note = json!({"subject_kind": "person", "subject_id": person, "title": "Why the restriction",
        "text": secret, "readers": [counsel_id]});
    let made = producer
        .post(&at("sealed-notes"), &note)
        .await
        .expect(201)
        .value();
    assert!(!made.to_string().contains(secret));
    let id = made["id"].as_str().expect("an id");
    let open = at(&format!("sealed-notes/{id}/open"));
    for who in [&producer, &counsel] {
        assert_eq!(
            who.post(&open, &json!({})).await.expect(200).value()["text"],
            secret
        );
    }
    // Whoever is named finds it under their own, whatever their roles; nobody else does.
    let mine = at("my-sealed-notes");
    assert_eq!(
        counsel.get(&mine).await.expect(200).value()["items"][0]["id"],
        id
    );
    for other in [&admin, &editor] {
        assert_eq!(
            other.get(&mine).await.expect(200).value()["items"],
            json!([])
        );
    }
    admin
        .post(&open, &json!({}))
        .await
        .problem(403, "not_allowed");
    editor
        .post(&open, &json!({}))
        .await
        .problem(403, "not_allowed");
    let list = admin
        .get(&at(&format!("sealed-notes?subject={person}")))
        .await
        .expect(200)
        .value();
    assert_eq!(list["items"][0]["may_open"], false);
    assert_eq!(
        list["items"][0]["readers"],
        json!(["Cora Counsel", "Pia Producer"])
    );
    let trail = admin
        .get(&at(&format!("audit?subject_id={id}")))
        .await
        .expect(200);
    assert!(!trail.text().contains(secret));
    let lines = trail.value()["items"].as_array().expect("a list").clone();
    assert_eq!(
        lines
            .iter()
            .filter(|line| line["action"] == "opened")
            .count(),
        2
    );
    let readers = at(&format!("sealed-notes/{id}/readers"));
    let only = json!({"readers": []});
    counsel
        .json("PUT", &readers, &[], &only)
        .await
        .problem(403, "not_allowed");
    producer.json("PUT", &readers, &[], &only).await.expect(200);
    counsel
        .post(&open, &json!({}))
        .await
        .problem(403, "not_allowed");
    let stranger = json!({"readers": ["00000000-0000-7000-8000-000000000000"]});
    let refused = producer
        .json("PUT", &readers, &[], &stranger)
        .await
        .problem(422, "invalid");
    assert_eq!(refused["errors"][0]["pointer"], "/readers/0");
    let gone = at(&format!("sealed-notes/{id}"));
    counsel
        .send("DELETE", &gone, &[], b"")
        .await
        .problem(403, "not_allowed");
    producer.send("DELETE", &gone, &[], b"").await.expect(204);
    producer
        .post(&open, &json!({}))
        .await
        .problem(404, "not_found");
    let nobody = json!({"subject_kind": "person", "subject_id": id, "title": " ", "text": "x", "readers": []});
    producer
        .post(&at("sealed-notes"), &nobody)
        .await
        .problem(422, "invalid");
    let outside = test.person("Otto Outside", &series, &[]).await;
    outside
        .get(&at("sealed-notes"))
        .await
        .problem(404, "not_found");
}
