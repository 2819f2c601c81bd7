//! Every record route with every role: what the one table in `domain::perms` says is what the server does.

use serde_json::Value;
use waybill_domain::perms::{Action, Role, may};
use waybill_tests::app::TestApp;
use waybill_tests::http::{Client, Reply};

use crate::api::samples::{Ids, KINDS, Kind};

/// Somebody and what is expected of them.
struct Who {
    name: String,
    client: Client,
    roles: Vec<Role>,
    admin: bool,
    /// Neither a member nor an administrator here: nothing exists.
    outside: bool,
}

async fn everybody(test: &TestApp, series: &str) -> Vec<Who> {
    let mut all = Vec::new();
    for role in Role::ALL {
        let name = format!("{role:?}");
        all.push(Who {
            client: test.person(&name, series, &[role]).await,
            name,
            roles: vec![role],
            admin: false,
            outside: false,
        });
    }
    let others = [
        ("an administrator", test.admin().await, true, false),
        (
            "a colleague",
            test.person("Col", series, &[]).await,
            false,
            true,
        ),
        (
            "a foreign administrator",
            test.foreign_admin().await,
            false,
            true,
        ),
    ];
    for (name, client, admin, outside) in others {
        all.push(Who {
            name: name.to_owned(),
            client,
            roles: Vec::new(),
            admin,
            outside,
        });
    }
    all
}

impl Who {
    fn may(&self, action: Action) -> bool {
        !self.outside && may(&self.roles, self.admin, action)
    }

    #[track_caller]
    fn check(&self, what: &str, action: Action, fine: u16, reply: Reply) {
        if self.may(action) {
            assert_eq!(reply.status, fine, "{} {what}: {}", self.name, reply.text());
        } else if self.outside {
            reply.problem(404, "not_found");
        } else {
            assert_eq!(reply.status, 403, "{} {what}: {}", self.name, reply.text());
            reply.problem(403, "not_allowed");
        }
    }
}

/// V8.2.1, V8.2.2, V8.4.1: 15 kinds × 6 routes × 12 people, default deny.
#[tokio::test]
async fn each_role_does_what_the_table_says_and_no_more() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    let all = everybody(&test, &series).await;
    let mut n = 100;
    for kind in &KINDS {
        for who in &all {
            n += 1;
            one_kind(&admin, &ids, kind, who, n).await;
        }
    }
}

async fn one_kind(admin: &Client, ids: &Ids, kind: &Kind, who: &Who, n: usize) {
    let path = ids.path(kind.path);
    let body = ids.body(kind.path, n);
    let there = admin.post(&path, &body).await.expect(201).id();
    let one = format!("{path}/{there}");
    let what = |verb: &str| format!("{verb} {}", kind.path);
    let client = &who.client;
    who.check(&what("list"), kind.view, 200, client.get(&path).await);
    who.check(&what("read"), kind.view, 200, client.get(&one).await);
    let again = ids.body(kind.path, n + 5000);
    who.check(
        &what("create"),
        kind.edit,
        201,
        client.post(&path, &again).await,
    );
    who.check(
        &what("replace"),
        kind.edit,
        200,
        client.put(&one, 1, &body).await,
    );
    let version = admin.get(&one).await.expect(200).version();
    who.check(
        &what("delete"),
        kind.edit,
        200,
        client.delete(&one, version).await,
    );
    let restore = format!("{one}/restore");
    let back = client.send("POST", &restore, &[], b"").await;
    who.check(&what("restore"), kind.edit, 200, back);
    // What was refused changed nothing; what was done can be seen.
    let now = admin.get(&one).await.expect(200);
    let expected = if who.may(kind.edit) { 4 } else { 1 };
    assert_eq!(now.version(), expected, "{} {}", who.name, kind.path);
    let gone = admin.delete(&one, now.version()).await;
    gone.expect(200);
}

/// A record of one series is not found under another, also by who may see both.
#[tokio::test]
async fn records_stay_in_their_series() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let ids = Ids::make(&admin, &test.series(&admin, "Harbour Season").await).await;
    let mut other = Ids::make(&admin, &test.series(&admin, "Other").await).await;
    for kind in &KINDS {
        let body = ids.body(kind.path, 77);
        let id = admin
            .post(&ids.path(kind.path), &body)
            .await
            .expect(201)
            .id();
        let wrong = format!("{}/{id}", other.path(kind.path));
        admin.get(&wrong).await.problem(404, "not_found");
        admin
            .put(&wrong, 1, &other.body(kind.path, 78))
            .await
            .problem(404, "not_found");
        admin.delete(&wrong, 1).await.problem(404, "not_found");
        let back = admin
            .send("POST", &format!("{wrong}/restore"), &[], b"")
            .await;
        back.problem(404, "not_found");
        let list = admin.get(&other.path(kind.path)).await.expect(200).value();
        let items = list["items"].as_array().expect("items");
        assert!(
            items
                .iter()
                .all(|item| item["id"] != Value::String(id.clone()))
        );
    }
    // Nor can a record point into another series.
    other.episode.clone_from(&ids.episode);
    other.person.clone_from(&ids.person);
    other.place.clone_from(&ids.place);
    other.asset.clone_from(&ids.asset);
    other.day.clone_from(&ids.day);
    for kind in [
        "scenes",
        "releases",
        "licences",
        "deliverables",
        "cards",
        "shoot-days",
    ] {
        let refused = admin.post(&other.path(kind), &other.body(kind, 79)).await;
        refused.problem(422, "invalid");
    }
}

/// V8.2.3: what a role may not see is not in answers, not found by a search, and not lost by a save.
#[tokio::test]
async fn hidden_fields_are_neither_shown_nor_found_nor_overwritten() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    let editor = test.person("Ed", &series, &[Role::Editor]).await;
    let person = format!("{}/{}", ids.path("people"), ids.person);
    let seen = editor.get(&person).await.expect(200).value();
    for field in [
        "legal_name",
        "contact",
        "guardian_name",
        "guardian_contact",
        "notes",
    ] {
        assert_eq!(seen[field], "", "{field}");
    }
    assert_eq!(seen["born"], Value::Null);
    assert_eq!(seen["credited_name"], "Wren Tallow");
    let found = editor.get(&format!("{}?q=quiet", ids.path("people"))).await;
    assert_eq!(found.expect(200).value()["items"], serde_json::json!([]));
    // An associate producer edits a release without seeing why it is as it is.
    let release = admin
        .post(&ids.path("releases"), &ids.body("releases", 1))
        .await
        .expect(201)
        .id();
    let release = format!("{}/{release}", ids.path("releases"));
    let producer = test
        .person("Asa", &series, &[Role::AssociateProducer])
        .await;
    let mut mine = ids.body("releases", 1);
    let shown = producer.get(&release).await.expect(200).value();
    for field in ["notes", "status_note"] {
        assert_eq!(shown[field], "", "{field}");
        mine[field] = "".into();
    }
    mine["form_version"] = "4".into();
    let saved = producer.put(&release, 1, &mine).await.expect(200).value();
    assert_eq!(saved["notes"], "");
    let kept = admin.get(&release).await.expect(200).value();
    assert_eq!(kept["form_version"], "4");
    assert_eq!(kept["notes"], "spoke to the mother");
    assert_eq!(kept["status_note"], "seen by the producer");
    fees_are_hidden(&test, &admin, &ids).await;
}

async fn fees_are_hidden(test: &TestApp, admin: &Client, ids: &Ids) {
    let licence = admin
        .post(&ids.path("licences"), &ids.body("licences", 1))
        .await
        .expect(201)
        .id();
    let post = test
        .person("Pat", &ids.series, &[Role::PostSupervisor])
        .await;
    let seen = post
        .get(&format!("{}/{licence}", ids.path("licences")))
        .await;
    let seen = seen.expect(200).value();
    assert_eq!(
        (&seen["fee_minor"], &seen["payment_due"]),
        (&Value::Null, &Value::Null)
    );
    assert_eq!(seen["licensor"], "Quay Archive");
}
