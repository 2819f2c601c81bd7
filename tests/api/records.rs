//! What all records have in common: versions, the trail, the bin, pages.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::samples::{Ids, KINDS, free_field};

async fn season(test: &TestApp) -> (Client, Ids) {
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    (admin, ids)
}

/// RFC 9110 and RFC 6585: 428 without a version, 412 with a stale one and both versions in hand.
#[tokio::test]
async fn a_change_names_the_version_it_is_made_on() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    let other = test
        .person("Olive Other", &ids.series, &[Role::SeriesProducer])
        .await;
    for (at, kind) in KINDS.iter().enumerate() {
        let path = ids.path(kind.path);
        let made = admin
            .post(&path, &ids.body(kind.path, 100 + at))
            .await
            .expect(201);
        assert_eq!(made.header("etag"), Some("\"1\""));
        let one = format!("{path}/{}", made.id());
        let read = admin.get(&one).await.expect(200);
        assert_eq!(read.header("etag"), Some("\"1\""));
        let (mut first, mut second) =
            (ids.body(kind.path, 100 + at), ids.body(kind.path, 100 + at));
        first[free_field(kind.path)] = "theirs".into();
        second[free_field(kind.path)] = "mine".into();
        let bare = admin.json("PUT", &one, &[], &second).await;
        bare.problem(428, "precondition_required");
        let bare = admin.send("DELETE", &one, &[], b"").await;
        bare.problem(428, "precondition_required");
        let odd = admin.json("PUT", &one, &[("if-match", "1")], &second).await;
        odd.problem(400, "bad_request");
        other.put(&one, 1, &first).await.expect(200);
        let late = admin.put(&one, 1, &second).await;
        assert_eq!(late.header("etag"), Some("\"2\""));
        let late = late.problem(412, "stale");
        assert_eq!(late["current"]["version"], 2, "{}", kind.path);
        assert_eq!(late["current"][free_field(kind.path)], "theirs");
        assert_eq!(late["changed_by"], "Olive Other");
        assert!(late["changed_at"].is_string());
        admin.delete(&one, 1).await.problem(412, "stale");
        let kept = admin.get(&one).await.expect(200).value();
        assert_eq!(kept[free_field(kind.path)], "theirs");
    }
}

/// 200 rounds of two people who change the same version at the same moment: each round one wins, and the loser sees
/// the winner's words. Nothing that was answered with 200 is lost.
#[tokio::test]
async fn two_editors_never_lose_an_update() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    let other = test
        .person("Olive Other", &ids.series, &[Role::SeriesProducer])
        .await;
    let one = format!("{}/{}", ids.path("places"), ids.place);
    let mut version = 1;
    for round in 0..200 {
        let bodies = ["a", "b"].map(|who| {
            let mut body = ids.body("places", 1);
            body["notes"] = format!("round {round} by {who}").into();
            body
        });
        let (a, b) = tokio::join!(
            admin.put(&one, version, &bodies[0]),
            other.put(&one, version, &bodies[1])
        );
        let (winner, loser, words) = if a.status == 200 {
            (a, b, &bodies[0]["notes"])
        } else {
            (b, a, &bodies[1]["notes"])
        };
        let winner = winner.expect(200).value();
        let loser = loser.problem(412, "stale");
        version += 1;
        assert_eq!(winner["version"], version);
        assert_eq!(&winner["notes"], words);
        assert_eq!(&loser["current"]["notes"], words);
    }
    let last = admin.get(&one).await.expect(200).value();
    assert_eq!(last["version"], 201);
    let changes = trail(&admin, &ids.series, &ids.place).await;
    assert!(changes.len() >= 100, "the newest page of the trail");
}

async fn trail(admin: &Client, series: &str, subject: &str) -> Vec<Value> {
    let path = format!("/api/series/{series}/audit?subject_id={subject}");
    let page = admin.get(&path).await.expect(200).value();
    page["items"].as_array().expect("items").clone()
}

/// Each change leaves one line: who, when, what, before and after; a change that failed leaves none.
#[tokio::test]
async fn every_change_leaves_a_line() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    for (at, kind) in KINDS.iter().enumerate() {
        let path = ids.path(kind.path);
        let mut body = ids.body(kind.path, 100 + at);
        let id = admin.post(&path, &body).await.expect(201).id();
        let one = format!("{path}/{id}");
        let field = free_field(kind.path);
        let before = body[field].clone();
        body[field] = "changed".into();
        admin.put(&one, 1, &body).await.expect(200);
        admin.put(&one, 1, &body).await.problem(412, "stale");
        body[field] = "\u{7}".into();
        admin.put(&one, 2, &body).await.problem(422, "invalid");
        admin.delete(&one, 2).await.expect(200);
        admin
            .send("POST", &format!("{one}/restore"), &[], b"")
            .await
            .expect(200);
        let lines = trail(&admin, &ids.series, &id).await;
        let actions: Vec<&str> = lines
            .iter()
            .filter_map(|line| line["action"].as_str())
            .collect();
        assert_eq!(
            actions,
            ["restored", "deleted", "changed", "created"],
            "{}",
            kind.path
        );
        for line in &lines {
            assert_eq!(line["subject_kind"], kind.word);
            assert_eq!(line["actor_name"], "Ada Admin");
            assert!(line["at"].is_string());
        }
        assert_eq!(lines[2]["before"][field], before);
        assert_eq!(lines[2]["after"][field], "changed");
        assert_eq!(lines[3]["before"], Value::Null);
    }
}

/// Not even the server's own database user can change the trail.
#[tokio::test]
async fn the_trail_is_only_added_to() {
    let test = TestApp::start().await;
    let (_admin, _ids) = season(&test).await;
    let conn = test.db.connect().await;
    for sql in [
        "update audit set actor_name = 'nobody'",
        "delete from audit",
        "truncate audit",
        "delete from audit where false",
    ] {
        let refused = conn.batch_execute(sql).await.expect_err(sql);
        let words = refused
            .as_db_error()
            .expect("by the database")
            .message()
            .to_owned();
        assert!(words.contains("only ever added to"), "{sql}: {words}");
    }
}

#[tokio::test]
async fn the_bin_gives_back_what_was_thrown_away() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    for (at, kind) in KINDS.iter().enumerate() {
        let path = ids.path(kind.path);
        let body = ids.body(kind.path, 100 + at);
        let id = admin.post(&path, &body).await.expect(201).id();
        let one = format!("{path}/{id}");
        let gone = admin.delete(&one, 1).await.expect(200).value();
        assert!(gone["deleted_at"].is_string());
        assert!(!listed(&admin, &path).await.contains(&id), "{}", kind.path);
        // Reached by its address, so that it can be given back; not changed while it lies there.
        admin.get(&one).await.expect(200);
        admin.put(&one, 2, &body).await.problem(412, "stale");
        // Twice is as good as once.
        admin.delete(&one, 2).await.expect(200);
        for _ in 0..2 {
            let back = admin
                .send("POST", &format!("{one}/restore"), &[], b"")
                .await;
            let back = back.expect(200).value();
            assert_eq!(back["deleted_at"], Value::Null);
            assert_eq!(back["version"], 3);
            for (field, value) in body.as_object().expect("fields") {
                assert_eq!(&back[field], value, "{} {field}", kind.path);
            }
        }
        assert!(listed(&admin, &path).await.contains(&id));
    }
}

async fn listed(client: &Client, path: &str) -> BTreeSet<String> {
    let page = client.get(path).await.expect(200).value();
    page["items"]
        .as_array()
        .expect("items")
        .iter()
        .filter_map(|item| item["id"].as_str().map(str::to_owned))
        .collect()
}

/// What others name is not deleted under them, and what points into the bin does not come back before it.
#[tokio::test]
async fn what_is_in_use_stays() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    for kind in ["scenes", "releases", "licences", "deliverables", "cards"] {
        admin
            .post(&ids.path(kind), &ids.body(kind, 7))
            .await
            .expect(201);
    }
    for (kind, id, by) in [
        ("episodes", &ids.episode, "1 scenes and 1 deliverables"),
        ("people", &ids.person, "1 releases"),
        ("places", &ids.place, "1 shoot days"),
        ("shoot-days", &ids.day, "1 cards"),
        ("assets", &ids.asset, "2 licences"),
        ("specifications", &ids.specification, "1 deliverables"),
    ] {
        let one = format!("{}/{id}", ids.path(kind));
        let refused = admin.delete(&one, 1).await.problem(409, "unsafe_state");
        let detail = refused["detail"].as_str().expect("words");
        assert!(detail.contains(by), "{kind}: {detail}");
        assert_eq!(admin.get(&one).await.expect(200).version(), 1);
    }
    let person = admin
        .post(&ids.path("people"), &ids.body("people", 1))
        .await
        .expect(201)
        .id();
    let mut body = ids.body("releases", 1);
    body["person_id"] = person.clone().into();
    let release = admin
        .post(&ids.path("releases"), &body)
        .await
        .expect(201)
        .id();
    let release = format!("{}/{release}", ids.path("releases"));
    admin.delete(&release, 1).await.expect(200);
    admin
        .delete(&format!("{}/{person}", ids.path("people")), 1)
        .await
        .expect(200);
    let early = admin
        .send("POST", &format!("{release}/restore"), &[], b"")
        .await;
    let early = early.problem(422, "invalid");
    assert_eq!(early["errors"][0]["pointer"], "/person_id");
}

#[tokio::test]
async fn lists_come_in_pages_and_can_be_searched() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    let path = ids.path("places");
    for name in ["Boathouse", "50% \\ weir_gate", "O'Brien & Söhne <x>"] {
        let mut body = ids.body("places", 1);
        body["name"] = name.into();
        let made = admin.post(&path, &body).await.expect(201).value();
        assert_eq!(made["name"], name, "byte for byte");
    }
    let mut seen = Vec::new();
    let mut after = String::new();
    loop {
        let page = admin
            .get(&format!("{path}?limit=3{after}"))
            .await
            .expect(200)
            .value();
        let items = page["items"].as_array().expect("items").clone();
        assert!(items.len() <= 3);
        seen.extend(
            items
                .iter()
                .map(|item| item["name"].as_str().expect("a name").to_owned()),
        );
        let Some(next) = page["next"].as_str() else {
            break;
        };
        after = format!("&after={next}");
    }
    assert_eq!(
        seen,
        [
            "Harbour slipway",
            "Boathouse",
            "50% \\ weir_gate",
            "O'Brien & Söhne <x>"
        ]
    );
    for (q, found) in [
        ("boat", 1),
        ("%25", 1),
        ("_gate", 1),
        ("%5C", 1),
        ("O%27Brien", 1),
        ("h_use", 0),
        ("SLIP", 1),
    ] {
        let page = admin
            .get(&format!("{path}?q={q}"))
            .await
            .expect(200)
            .value();
        assert_eq!(page["items"].as_array().expect("items").len(), found, "{q}");
    }
    let first = admin
        .get(&format!("{path}?limit=-5"))
        .await
        .expect(200)
        .value();
    assert_eq!(first["items"].as_array().expect("items").len(), 1);
}

/// Two at once for one number: one gets it, the other is told which field (V2.3.4).
#[tokio::test]
async fn what_is_unique_is_decided_by_the_database() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    for (kind, pointer) in [
        ("episodes", "/number"),
        ("drives", "/label"),
        ("cards", "/name"),
    ] {
        let body = ids.body(kind, 42);
        let path = ids.path(kind);
        let (a, b) = tokio::join!(admin.post(&path, &body), admin.post(&path, &body));
        let (made, refused) = if a.status == 201 { (a, b) } else { (b, a) };
        let made = made.expect(201).id();
        let refused = refused.problem(422, "invalid");
        assert_eq!(refused["errors"][0]["pointer"], pointer);
        // In the bin it stands in nobody's way, but then it can't come back beside the new one.
        admin.delete(&format!("{path}/{made}"), 1).await.expect(200);
        admin.post(&path, &body).await.expect(201);
        let back = admin
            .send("POST", &format!("{path}/{made}/restore"), &[], b"")
            .await;
        assert_eq!(
            back.problem(422, "invalid")["errors"][0]["pointer"],
            pointer
        );
    }
    let mut body = ids.body("drives", 1);
    body["label"] = "hrb-42".into();
    let twice = admin.post(&ids.path("drives"), &body).await;
    assert_eq!(
        twice.problem(422, "invalid")["errors"],
        json!([{
            "pointer": "/label", "detail": "The series already has a drive with this label."
        }])
    );
}
