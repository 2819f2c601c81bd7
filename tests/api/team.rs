//! The team: invitations by mail, roles that bite at once, people who are disabled.

use chrono::TimeDelta;
use serde_json::json;
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;

use crate::api::account::{PASSWORD, signed_in};

#[tokio::test]
async fn somebody_joins_by_mail_once() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ask = json!({"email": "edda@breakwater.example", "series_id": series, "roles": ["editor"]});
    admin.post("/api/invitations", &ask).await.expect(201);
    let mails = test.mails().await;
    assert_eq!(mails.len(), 1);
    assert_eq!(
        (mails[0].kind.as_str(), mails[0].recipient.as_str()),
        ("invitation", "edda@breakwater.example")
    );
    assert!(mails[0].text.contains("Harbour Season") && mails[0].text.contains("/invitation#"));
    let accept = json!({"token": mails[0].secret(), "name": "Edda Editor", "password": PASSWORD});
    let stranger = test.stranger();
    let reply = stranger
        .post("/api/invitations/accept", &accept)
        .await
        .expect(200);
    let edda = signed_in(&test, &reply);
    let me = edda.get("/api/me").await.expect(200).value();
    assert_eq!(me["series"][0]["roles"], json!(["editor"]));
    assert_eq!(me["user"]["is_admin"], false);
    stranger
        .post("/api/invitations/accept", &accept)
        .await
        .problem(403, "not_allowed");
    // A second invitation adds to what she has, once she has shown that it is her.
    let other = test.series(&admin, "Other").await;
    let ask =
        json!({"email": "EDDA@breakwater.example", "series_id": other, "roles": ["data_lead"]});
    admin.post("/api/invitations", &ask).await.expect(201);
    let token = test.mails().await[1].secret();
    let wrong = json!({"token": token, "name": "", "password": "somebody else's fifteen"});
    stranger
        .post("/api/invitations/accept", &wrong)
        .await
        .problem(422, "invalid");
    let right = json!({"token": token, "name": "", "password": PASSWORD});
    stranger
        .post("/api/invitations/accept", &right)
        .await
        .expect(200);
    let me = edda.get("/api/me").await.expect(200).value();
    assert_eq!(me["series"].as_array().expect("series").len(), 2);
}

#[tokio::test]
async fn an_invitation_ends_when_it_is_taken_back_or_old() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let editor = test.person("Ed", &series, &[Role::Editor]).await;
    let ask =
        json!({"email": "cora@breakwater.example", "series_id": series, "roles": ["coordinator"]});
    editor
        .post("/api/invitations", &ask)
        .await
        .problem(403, "not_allowed");
    let foreign = test.foreign_admin().await;
    foreign
        .post("/api/invitations", &ask)
        .await
        .problem(404, "not_found");
    let none = json!({"email": "cora", "series_id": series, "roles": []});
    let problem = admin
        .post("/api/invitations", &none)
        .await
        .problem(422, "invalid");
    assert_eq!(problem["errors"].as_array().expect("errors").len(), 2);
    let id = admin.post("/api/invitations", &ask).await.expect(201).id();
    let path = format!("/api/invitations/{id}");
    foreign
        .send("DELETE", &path, &[], b"")
        .await
        .problem(404, "not_found");
    admin.send("DELETE", &path, &[], b"").await.expect(204);
    admin.post("/api/invitations", &ask).await.expect(201);
    let mails = test.mails().await;
    let accept =
        |at: usize| json!({"token": mails[at].secret(), "name": "Cora", "password": PASSWORD});
    test.stranger()
        .post("/api/invitations/accept", &accept(0))
        .await
        .problem(403, "not_allowed");
    test.clock.advance(TimeDelta::days(60));
    test.stranger()
        .post("/api/invitations/accept", &accept(1))
        .await
        .problem(403, "not_allowed");
}

#[tokio::test]
async fn roles_and_disabling_bite_at_once() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let pat = test.person("Pat", &series, &[Role::PostSupervisor]).await;
    let user = pat.user_id.expect("an id");
    let drives = format!("/api/series/{series}/drives");
    pat.get(&drives).await.expect(200);
    let member = format!("/api/series/{series}/members/{user}");
    let producer = test.person("Petra", &series, &[Role::SeriesProducer]).await;
    let change = producer
        .json("PUT", &member, &[], &json!({"roles": ["music_supervisor"]}))
        .await;
    change.expect(200);
    pat.get(&drives).await.problem(403, "not_allowed");
    producer.send("DELETE", &member, &[], b"").await.expect(200);
    pat.get(&drives).await.problem(404, "not_found");
    pat.get("/api/me").await.expect(200);
    pat.get("/api/users").await.problem(403, "not_allowed");
    let list = admin.get("/api/users").await.expect(200).value();
    let found = list["items"]
        .as_array()
        .expect("items")
        .iter()
        .find(|it| it["id"] == json!(user));
    let version = found.expect("listed")["version"]
        .as_i64()
        .expect("a version");
    let path = format!("/api/users/{user}");
    let disabled = json!({"is_admin": false, "disabled": true});
    let foreign = test.foreign_admin().await;
    foreign
        .put(&path, version, &disabled)
        .await
        .problem(404, "not_found");
    admin.put(&path, version, &disabled).await.expect(200);
    pat.get("/api/me").await.problem(401, "unauthenticated");
    admin
        .put(&path, version, &disabled)
        .await
        .problem(412, "stale");
}

/// Somebody must be left who can let others in.
#[tokio::test]
async fn the_last_who_manages_stays() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let producer = test.person("Petra", &series, &[Role::SeriesProducer]).await;
    let first = format!(
        "/api/series/{series}/members/{}",
        admin.user_id.expect("an id")
    );
    producer.send("DELETE", &first, &[], b"").await.expect(200);
    let own = format!(
        "/api/series/{series}/members/{}",
        producer.user_id.expect("an id")
    );
    let refused = producer
        .json("PUT", &own, &[], &json!({"roles": ["editor"]}))
        .await;
    refused.problem(409, "unsafe_state");
    let path = format!("/api/users/{}", admin.user_id.expect("an id"));
    let last = admin
        .put(&path, 1, &json!({"is_admin": false, "disabled": false}))
        .await;
    last.problem(409, "unsafe_state");
    admin.get("/api/users").await.expect(200);
}

/// A data lead manages who is in the team, but hands out no more than they may do themselves.
#[tokio::test]
async fn nobody_gives_more_than_they_have() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let lead = test.person("Dara", &series, &[Role::DataLead]).await;
    let other = test.person("Pat", &series, &[Role::Editor]).await;
    let path = |client: &waybill_tests::http::Client| {
        format!(
            "/api/series/{series}/members/{}",
            client.user_id.expect("an id")
        )
    };
    for (whose, roles) in [
        (&lead, json!(["data_lead", "series_producer"])),
        (&lead, json!(["data_lead", "counsel"])),
        (&other, json!(["editor", "coordinator"])),
        (&other, json!([])),
    ] {
        let body = json!({ "roles": roles });
        let refused = lead.json("PUT", &path(whose), &[], &body).await;
        refused.problem(403, "not_allowed");
    }
    let ask = json!({"email": "ed@breakwater.example", "series_id": series, "roles": ["series_producer"]});
    let refused = lead.post("/api/invitations", &ask).await;
    refused.problem(403, "not_allowed");
    assert!(test.mails().await.is_empty());
    // What adds nothing to their own is theirs to give; a producer decides on all.
    let body = json!({"roles": ["editor", "data_lead"]});
    lead.json("PUT", &path(&other), &[], &body)
        .await
        .expect(200);
    let producer = test.person("Petra", &series, &[Role::SeriesProducer]).await;
    let body = json!({"roles": ["counsel"]});
    producer
        .json("PUT", &path(&lead), &[], &body)
        .await
        .expect(200);
}
