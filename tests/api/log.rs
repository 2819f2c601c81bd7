//! The in-shot log: many files at once, ranges, the bin, and how far a file is logged.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::footage::{ROLL, clip, entry, send};

struct Set {
    test: TestApp,
    admin: Client,
    series: String,
    files: Vec<String>,
    person: String,
}

impl Set {
    async fn make() -> Self {
        let test = TestApp::start().await;
        let admin = test.admin().await;
        let series = test.series(&admin, "Harbour Season").await;
        let all: Vec<Value> = (1..=3)
            .map(|n| clip(&format!("{ROLL}/A001C00{n}.mov"), &format!("{n}")))
            .collect();
        send(&admin, &series, "QUAY 1", &all).await;
        let found = admin
            .get(&format!("/api/series/{series}/files"))
            .await
            .expect(200)
            .value();
        let files = found["items"].as_array().expect("a list").iter();
        let files = files
            .map(|file| file["id"].as_str().expect("an id").to_owned())
            .collect();
        let person = json!({ "credited_name": "Tam Oriel", "age_band": "adult" });
        let person = admin
            .post(&format!("/api/series/{series}/people"), &person)
            .await
            .expect(201)
            .id();
        Self {
            test,
            admin,
            series,
            files,
            person,
        }
    }

    fn at(&self, rest: &str) -> String {
        format!("/api/series/{}/{rest}", self.series)
    }

    /// An entry about the person in the first file, with some fields replaced.
    fn body(&self, more: Value) -> Value {
        let mut body =
            json!({ "file_ids": [self.files[0]], "kind": "person", "person_id": self.person });
        for (name, value) in more.as_object().expect("fields") {
            body[name.as_str()] = value.clone();
        }
        body
    }

    async fn logged(&self, state: &str) -> usize {
        let page = self
            .admin
            .get(&self.at(&format!("files?logged={state}")))
            .await
            .expect(200)
            .value();
        for item in page["items"].as_array().expect("a list") {
            assert_eq!(item["logged"], state, "the filter and the domain agree");
        }
        page["items"].as_array().map_or(0, Vec::len)
    }
}

#[tokio::test]
async fn one_entry_for_many_files_and_all_of_them_or_none() {
    let set = Set::make().await;
    let all = set.body(json!({ "file_ids": set.files }));
    let made = set
        .admin
        .post(&set.at("log"), &all)
        .await
        .expect(201)
        .value();
    assert_eq!(made["items"].as_array().map(Vec::len), Some(3));
    assert_eq!(
        (&made["items"][0]["presence"], &made["items"][0]["face"]),
        (&json!("on_camera"), &json!("shown"))
    );
    let path = set.at(&format!("log?person={}", set.person));
    let listed = set.admin.get(&path).await.expect(200).value();
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(3));
    assert_eq!(listed["items"][0]["subject"], "Tam Oriel");
    let two = set.at(&format!("log?files={},{}", set.files[0], set.files[1]));
    assert_eq!(
        set.admin.get(&two).await.expect(200).value()["items"]
            .as_array()
            .map(Vec::len),
        Some(2)
    );
    let mut bad = set.files.clone();
    bad.push(set.person.clone());
    let fault = set
        .admin
        .post(&set.at("log"), &set.body(json!({ "file_ids": bad })))
        .await
        .problem(422, "invalid");
    assert_eq!(fault["errors"][0]["pointer"], "/file_ids/3");
    let listed = set.admin.get(&set.at("log")).await.expect(200).value();
    assert_eq!(
        listed["items"].as_array().map(Vec::len),
        Some(3),
        "nothing was added"
    );
    let lines = set.test.db.connect().await;
    let lines = lines
        .query_one(
            "select count(*) from audit where subject_kind = 'log_entry'",
            &[],
        )
        .await;
    assert_eq!(lines.expect("a count").get::<_, i64>(0), 3);
}

#[tokio::test]
async fn ranges_are_frames_or_timecode_and_must_be_in_the_file() {
    let set = Set::make().await;
    let labels = set.body(json!({ "from": "10:00:00:05", "to": "10:00:01:00" }));
    let made = set
        .admin
        .post(&set.at("log"), &labels)
        .await
        .expect(201)
        .value();
    assert_eq!(
        (
            &made["items"][0]["frame_in"],
            &made["items"][0]["frame_out"]
        ),
        (&json!(5), &json!(25))
    );
    let listed = set.admin.get(&set.at("log")).await.expect(200).value();
    assert_eq!(
        (&listed["items"][0]["from"], &listed["items"][0]["to"]),
        (&json!("10:00:00:05"), &json!("10:00:01:00"))
    );
    set.admin
        .post(&set.at("log"), &set.body(json!({ "from": 49, "to": 50 })))
        .await
        .expect(201);
    for bad in [
        json!({ "from": 49, "to": 51 }),
        json!({ "from": 5, "to": 5 }),
        json!({ "from": 9, "to": 5 }),
        json!({ "from": -1, "to": 5 }),
        json!({ "from": 5 }),
        json!({ "to": 5 }),
        json!({ "from": "09:59:59:24", "to": "10:00:01:00" }),
        json!({ "from": "10:00:00:25", "to": "10:00:01:00" }),
        json!({ "from": "noon", "to": "10:00:01:00" }),
        json!({ "kind": "nothing" }),
        json!({ "presence": "heard" }),
        json!({ "face": "not_applicable" }),
        json!({ "person_id": null }),
        json!({ "person_id": set.files[0] }),
        json!({ "place_id": set.person }),
        json!({ "file_ids": [] }),
        json!({ "note": "x".repeat(2001) }),
    ] {
        let fault = set
            .admin
            .post(&set.at("log"), &set.body(bad.clone()))
            .await
            .problem(422, "invalid");
        assert!(fault["errors"][0]["pointer"].is_string(), "{bad}: {fault}");
    }
    let unknown = set.body(json!({ "form": 1 }));
    set.admin
        .post(&set.at("log"), &unknown)
        .await
        .problem(400, "bad_request");
}

#[tokio::test]
async fn a_file_is_logged_when_ranges_cover_it_and_unlogged_is_not_empty() {
    let set = Set::make().await;
    assert_eq!(
        (
            set.logged("no").await,
            set.logged("partly").await,
            set.logged("yes").await
        ),
        (3, 0, 0)
    );
    set.admin
        .post(&set.at("log"), &set.body(json!({ "from": 0, "to": 30 })))
        .await
        .expect(201);
    assert_eq!(
        (
            set.logged("no").await,
            set.logged("partly").await,
            set.logged("yes").await
        ),
        (2, 1, 0)
    );
    let one = set.at(&format!("files/{}", set.files[0]));
    assert_eq!(
        set.admin.get(&one).await.expect(200).value()["unlogged"],
        json!([[30, 50]])
    );
    let rest = json!({ "file_ids": [set.files[0]], "kind": "nothing", "from": 25, "to": 50 });
    let rest = set
        .admin
        .post(&set.at("log"), &rest)
        .await
        .expect(201)
        .value();
    assert_eq!(
        (
            set.logged("no").await,
            set.logged("partly").await,
            set.logged("yes").await
        ),
        (2, 0, 1)
    );
    let nothing = json!({ "file_ids": [set.files[1]], "kind": "nothing" });
    set.admin.post(&set.at("log"), &nothing).await.expect(201);
    assert_eq!(
        (
            set.logged("no").await,
            set.logged("partly").await,
            set.logged("yes").await
        ),
        (1, 0, 2)
    );
    let id = rest["items"][0]["id"].as_str().expect("an id");
    set.admin
        .delete(&set.at(&format!("log/{id}")), 1)
        .await
        .expect(200);
    assert_eq!(
        set.logged("partly").await,
        1,
        "what is in the bin does not count"
    );
}

#[tokio::test]
async fn an_entry_is_replaced_binned_and_taken_back() {
    let set = Set::make().await;
    let made = set
        .admin
        .post(&set.at("log"), &set.body(json!({})))
        .await
        .expect(201)
        .value();
    let one = set.at(&format!(
        "log/{}",
        made["items"][0]["id"].as_str().expect("an id")
    ));
    let voice = json!({ "kind": "person", "person_id": set.person, "presence": "voice", "from": 0, "to": 10 });
    let now = set.admin.put(&one, 1, &voice).await.expect(200).value();
    assert_eq!(
        (&now["version"], &now["face"], &now["frame_out"]),
        (&json!(2), &json!("not_applicable"), &json!(10))
    );
    let stale = set.admin.put(&one, 1, &voice).await.problem(412, "stale");
    assert_eq!(stale["current"]["frame_out"], 10);
    let long = json!({ "kind": "person", "person_id": set.person, "from": 0, "to": 51 });
    set.admin.put(&one, 2, &long).await.problem(422, "invalid");
    let mut moved = voice.clone();
    moved["file_ids"] = json!([set.files[1]]);
    set.admin.put(&one, 2, &moved).await.problem(422, "invalid");
    let person = set.at(&format!("people/{}", set.person));
    set.admin
        .delete(&person, 1)
        .await
        .problem(409, "unsafe_state");
    set.admin.delete(&one, 2).await.expect(200);
    assert!(
        set.admin.get(&set.at("log")).await.expect(200).value()["items"]
            .as_array()
            .is_some_and(Vec::is_empty)
    );
    let back = set
        .admin
        .post(&format!("{one}/restore"), &json!({}))
        .await
        .expect(200);
    assert_eq!(back.version(), 4);
    let counsel = set
        .test
        .person("Coe Counsel", &set.series, &[Role::Counsel])
        .await;
    counsel.get(&one).await.expect(200);
    counsel
        .post(&set.at("log"), &set.body(json!({})))
        .await
        .problem(403, "not_allowed");
    counsel.delete(&one, 4).await.problem(403, "not_allowed");
}

#[tokio::test]
async fn sound_without_frames_is_logged_by_the_series_rate() {
    let set = Set::make().await;
    send(
        &set.admin,
        &set.series,
        "QUAY 1",
        &[entry("wind.wav", "hum")],
    )
    .await;
    let found = set
        .admin
        .get(&set.at("files?q=wind"))
        .await
        .expect(200)
        .value();
    let id = found["items"][0]["id"].as_str().expect("an id");
    let body =
        json!({ "file_ids": [id], "kind": "nothing", "from": "00:00:01:00", "to": "00:00:02:00" });
    let made = set
        .admin
        .post(&set.at("log"), &body)
        .await
        .expect(201)
        .value();
    assert_eq!(
        (
            &made["items"][0]["frame_in"],
            &made["items"][0]["frame_out"]
        ),
        (&json!(25), &json!(50))
    );
    let file = set
        .admin
        .get(&set.at(&format!("files/{id}")))
        .await
        .expect(200)
        .value();
    assert_eq!(
        (&file["logged"], &file["unlogged"]),
        (&json!("partly"), &Value::Null)
    );
}
