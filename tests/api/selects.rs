//! Shots and selects, what is said in files, hits taken out, and searches that are kept.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_domain::timeline;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::footage::{ROLL, clip, entry, send};

struct Set {
    test: TestApp,
    admin: Client,
    series: String,
    /// A001C001.mov and A001C002.mov, two seconds each, and notes.txt.
    files: Vec<String>,
}

impl Set {
    async fn make() -> Self {
        let test = TestApp::start().await;
        let admin = test.admin().await;
        let series = test.series(&admin, "Harbour Season").await;
        let all = [
            clip(&format!("{ROLL}/A001C001.mov"), "one"),
            clip(&format!("{ROLL}/A001C002.mov"), "two"),
            entry("notes.txt", "three"),
        ];
        send(&admin, &series, "QUAY 1", &all).await;
        send(&admin, &series, "QUAY 2", &all[..1]).await;
        let mut set = Self {
            test,
            admin,
            series,
            files: Vec::new(),
        };
        for name in ["A001C001", "A001C002", "notes"] {
            let found = set.get(&format!("files?q={name}")).await;
            let id = found["items"][0]["id"].as_str().expect("an id");
            set.files.push(id.to_owned());
        }
        set
    }

    fn at(&self, rest: &str) -> String {
        format!("/api/series/{}/{rest}", self.series)
    }

    async fn get(&self, rest: &str) -> Value {
        self.admin.get(&self.at(rest)).await.expect(200).value()
    }

    async fn names(&self, query: &str) -> Vec<String> {
        let page = self.get(&format!("files?{query}")).await;
        let items = page["items"].as_array().expect("a list").iter();
        items
            .map(|item| item["name"].as_str().unwrap_or_default().to_owned())
            .collect()
    }

    async fn mark(&self, body: &Value) -> Value {
        self.admin
            .post(&self.at("shots"), body)
            .await
            .expect(201)
            .value()
    }
}

#[tokio::test]
async fn a_shot_is_marked_found_removed_and_brought_back() {
    let set = Set::make().await;
    let body = json!({ "file_ids": [set.files[0]], "from": "10:00:00:10", "to": "10:00:01:00", "rank": 1,
        "kind": "interview", "words": "The winter" });
    let made = set.mark(&body).await;
    set.mark(&json!({ "file_ids": [set.files[1], set.files[2]], "rank": 3 }))
        .await;
    assert_eq!(set.names("rank=1").await, ["A001C001.mov"]);
    assert_eq!(set.names("rank=3").await.len(), 2);
    assert_eq!(set.names("rank=3&q=a001").await, ["A001C002.mov"]);
    assert_eq!(set.names("shot=interview").await, ["A001C001.mov"]);
    assert!(set.names("rank=3&shot=interview").await.is_empty());
    let found = set.get("files?rank=1").await;
    let shot = &found["items"][0]["shots"][0];
    assert_eq!(
        (&shot["from"], &shot["to"], &shot["words"]),
        (
            &json!("10:00:00:10"),
            &json!("10:00:01:00"),
            &json!("The winter")
        )
    );
    let one = set.at(&format!(
        "shots/{}",
        made["items"][0]["id"].as_str().expect("an id")
    ));
    set.admin.delete(&one, 1).await.expect(200);
    assert!(set.names("rank=1").await.is_empty());
    let back = set
        .admin
        .send("POST", &format!("{one}/restore"), &[], b"")
        .await;
    back.expect(200);
    assert_eq!(set.names("rank=1").await.len(), 1);
    change(&set, &one).await;
    for bad in [
        json!({ "file_ids": [set.files[0]] }),
        json!({ "file_ids": [set.files[0]], "rank": 4 }),
        json!({ "file_ids": [set.files[0]], "rank": 1, "from": "11:00:00:00", "to": "11:00:01:00" }),
        json!({ "file_ids": [], "rank": 1 }),
        json!({ "file_ids": [set.series], "rank": 1 }),
    ] {
        set.admin
            .post(&set.at("shots"), &bad)
            .await
            .problem(422, "invalid");
    }
    let counsel = set
        .test
        .person("Coe Counsel", &set.series, &[Role::Counsel])
        .await;
    counsel
        .post(&set.at("shots"), &body)
        .await
        .problem(403, "not_allowed");
}

/// The mark at `one` (version 3, rank 1) is changed; who changed an older version sees what is there.
async fn change(set: &Set, one: &str) {
    let body = json!({ "kind": "wide", "rank": 2, "words": "The quay", "from": "10:00:00:05", "to": "10:00:01:10" });
    let changed = set.admin.put(one, 3, &body).await.expect(200).value();
    assert_eq!(
        (&changed["version"], &changed["frame_in"]),
        (&json!(4), &json!(5))
    );
    assert!(set.names("rank=1").await.is_empty());
    assert_eq!(set.names("rank=2&shot=wide").await, ["A001C001.mov"]);
    let stale = set.admin.put(one, 3, &body).await.problem(412, "stale");
    assert_eq!(
        (&stale["current"]["version"], &stale["current"]["to"]),
        (&json!(4), &json!("10:00:01:10"))
    );
    set.admin
        .put(one, 4, &json!({ "file_ids": [set.files[1]], "rank": 1 }))
        .await
        .problem(422, "invalid");
    set.admin
        .put(
            one,
            4,
            &json!({ "rank": 1, "from": "11:00:00:00", "to": "11:00:01:00" }),
        )
        .await
        .problem(422, "invalid");
    let unnamed = json!({ "rank": 1 }).to_string();
    set.admin
        .send(
            "PUT",
            one,
            &[("content-type", "application/json")],
            unnamed.as_bytes(),
        )
        .await
        .problem(428, "precondition_required");
}

#[tokio::test]
async fn hits_are_taken_out_as_a_table_and_as_selects() {
    let set = Set::make().await;
    set.mark(
        &json!({ "file_ids": [set.files[0]], "from": "10:00:00:10", "to": "10:00:01:00", "rank": 1 }),
    )
    .await;
    let table = set.admin.get(&set.at("files.csv?q=a001")).await.expect(200);
    let lines: Vec<String> = table.text().lines().map(str::to_owned).collect();
    assert_eq!(
        lines.len(),
        4,
        "a head, two copies of one file, one of the other"
    );
    assert!(lines[0].starts_with("name,card,"));
    assert!(
        lines[1].contains("QUAY 1/20280309_A001_CAMA_SLIPWAY/A001C001.mov"),
        "{}",
        lines[1]
    );
    let rate = Some("25".parse().expect("a rate"));
    for path in ["selects.edl?q=a001", "selects.otio?q=a001"] {
        let list = set.admin.get(&set.at(path)).await.expect(200).text();
        let cut = timeline::read(list.as_bytes(), path, rate).expect("a cut");
        let used: Vec<_> = cut
            .events
            .iter()
            .filter_map(|event| event.source.map(|source| (source.start, source.end)))
            .collect();
        assert_eq!(used, [(900_010, 900_025), (900_000, 900_050)], "{path}");
    }
    let chosen = format!("selects.edl?chosen={}", set.files[1]);
    let list = set.admin.get(&set.at(&chosen)).await.expect(200).text();
    assert!(!list.contains("A001C001") && list.contains("A001C002.mov"));
    set.admin
        .get(&set.at("selects.edl?q=notes"))
        .await
        .problem(400, "bad_request");
}

#[tokio::test]
async fn what_is_said_is_found_with_its_timecode() {
    let set = Set::make().await;
    let path = set.at(&format!("files/{}/transcripts", set.files[0]));
    let vtt = "WEBVTT\n\n00:00.400 --> 00:01.000\n<v Abel>We built her under a sáil.\n\n00:01.000 --> 00:01.500\nThe tide.\n";
    let made = set
        .admin
        .send(
            "POST",
            &format!("{path}?name=A001C001.vtt"),
            &[("content-type", "text/vtt")],
            vtt.as_bytes(),
        )
        .await
        .expect(201)
        .value();
    assert_eq!(
        (&made["lines"], &made["name"]),
        (&json!(2), &json!("A001C001.vtt"))
    );
    for (query, wanted) in [
        ("spoken=sail%20built", 1),
        ("spoken=abel", 1),
        ("spoken=sail%20tide", 0),
        ("spoken=tide&q=c001", 1),
        ("spoken=tide&q=c002", 0),
        ("spoken=100%25", 0),
    ] {
        assert_eq!(set.names(query).await.len(), wanted, "{query}");
    }
    let found = set.get("files?spoken=sail").await;
    assert_eq!(
        found["items"][0]["said"],
        json!([{ "at": "10:00:00:10", "speaker": "Abel", "text": "We built her under a sáil." }])
    );
    let bad = set
        .admin
        .send(
            "POST",
            &format!("{path}?name=x.vtt"),
            &[("content-type", "text/vtt")],
            b"WEBVTT\n\n00:99 --> 1\nx\n",
        )
        .await
        .problem(400, "bad_request");
    assert!(
        bad["detail"]
            .as_str()
            .unwrap_or_default()
            .contains("line 3"),
        "{bad}"
    );
    let one = set.at(&format!(
        "transcripts/{}",
        made["id"].as_str().expect("an id")
    ));
    let unnamed = set.admin.send("DELETE", &one, &[], b"").await;
    unnamed.problem(428, "precondition_required");
    let stale = set.admin.delete(&one, 7).await.problem(412, "stale");
    assert_eq!(stale["current"]["name"], "A001C001.vtt");
    set.admin.delete(&one, 1).await.expect(200);
    for query in [
        "spoken=abel",
        "spoken=tide&q=c001",
        "spoken=tide&kind=picture",
    ] {
        assert!(set.names(query).await.is_empty(), "{query}");
    }
    let listed = format!("files/{}/transcripts", set.files[0]);
    assert_eq!(set.get(&listed).await["items"], json!([]));
    let back = set
        .admin
        .send("POST", &format!("{one}/restore"), &[], b"")
        .await;
    assert_eq!(back.expect(200).value()["version"], 3);
    assert_eq!(set.names("spoken=abel").await.len(), 1);
    assert_eq!(set.get(&listed).await["items"][0]["lines"], 2);
}

#[tokio::test]
async fn a_kept_search_is_ones_own_until_it_is_shared() {
    let set = Set::make().await;
    let editor = set
        .test
        .person("Ed Editor", &set.series, &[Role::Editor])
        .await;
    let path = set.at("saved-searches");
    let mut body = json!({ "name": "Winter", "query": "q=winter&rank=1", "shared": false });
    let made = set.admin.post(&path, &body).await.expect(201);
    let one = format!("{path}/{}", made.id());
    let seen = async |client: &Client| {
        let list = client.get(&path).await.expect(200).value();
        list["items"].as_array().map_or(0, Vec::len)
    };
    assert_eq!((seen(&set.admin).await, seen(&editor).await), (1, 0));
    editor.put(&one, 1, &body).await.problem(404, "not_found");
    body["shared"] = json!(true);
    set.admin.put(&one, 1, &body).await.expect(200);
    let stale = set.admin.put(&one, 1, &body).await.problem(412, "stale");
    assert_eq!(
        (&stale["current"]["version"], &stale["current"]["shared"]),
        (&json!(2), &json!(true))
    );
    assert_eq!(seen(&editor).await, 1);
    editor.delete(&one, 2).await.problem(403, "not_allowed");
    set.admin.delete(&one, 1).await.problem(412, "stale");
    set.admin.delete(&one, 2).await.expect(200);
    assert_eq!((seen(&set.admin).await, seen(&editor).await), (0, 0));
    set.admin.put(&one, 3, &body).await.problem(412, "stale");
    let back = set
        .admin
        .send("POST", &format!("{one}/restore"), &[], b"")
        .await;
    assert_eq!(back.expect(200).value()["version"], 4);
    assert_eq!(seen(&editor).await, 1);
    for bad in [
        json!({ "name": "", "query": "q=a", "shared": false }),
        json!({ "name": "a", "query": "", "shared": false }),
    ] {
        editor.post(&path, &bad).await.problem(422, "invalid");
    }
}
