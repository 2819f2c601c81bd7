//! Verifications of drives: what a program finds there becomes what the catalogue knows, and nothing stays hidden.

use chrono::TimeDelta;
use serde_json::{Value, json};
use waybill_domain::manifest::{chunk_digest, scan_digest};
use waybill_domain::perms::Role;
use waybill_tests::http::{Client, Reply};

use crate::api::footage::{ROLL, Scan, body, clip, send, warnings};
use crate::api::scans::{clips, one, start};

/// A verification of a drive on its way.
pub struct Verification<'a> {
    client: &'a Client,
    base: String,
    id: String,
}

impl<'a> Verification<'a> {
    pub async fn begin(client: &'a Client, series: &str, drive: &str, root: &str) -> Self {
        let base = format!("/api/series/{series}/drives/{drive}/verifications");
        let id = uuid::Uuid::now_v7().to_string();
        let start = json!({ "id": id, "root": root, "tool": "test 1", "machine": "cart 2",
            "started": "2029-01-09T11:00:00Z" });
        for _ in 0..2 {
            client.post(&base, &start).await.expect(200);
        }
        Self { client, base, id }
    }

    pub async fn chunk(&self, number: usize, lines: &[Value]) -> Reply {
        let body = body(lines);
        let path = format!(
            "{}/{}/chunks/{number}?digest={}",
            self.base,
            self.id,
            chunk_digest(&body)
        );
        let kind = [("content-type", "application/x-ndjson")];
        self.client.send("PUT", &path, &kind, &body).await
    }

    pub async fn complete(&self, lines: &[Value]) -> Reply {
        let digest = scan_digest([chunk_digest(&body(lines))]);
        let whole = json!({ "files": lines.len(), "digest": digest });
        let path = format!("{}/{}/complete", self.base, self.id);
        self.client.post(&path, &whole).await
    }
}

/// The id of a drive by its label.
pub async fn drive(client: &Client, series: &str, label: &str) -> String {
    let all = client.get(&format!("/api/series/{series}/drives")).await;
    let all = all.expect(200).value();
    let found = all["items"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|drive| drive["label"] == label);
    found.expect("the drive")["id"]
        .as_str()
        .expect("an id")
        .to_owned()
}

/// A clip as found by a verification.
fn found(clip: &Value, result: &str) -> Value {
    json!({ "path": clip["path"], "size": clip["size"], "hashes": clip["hashes"], "result": result,
        "read": "2029-01-09T11:30:00Z" })
}

async fn verify(client: &Client, series: &str, drive: &str, lines: &[Value]) -> Value {
    let run = Verification::begin(client, series, drive, "QUAY 2").await;
    run.chunk(0, lines).await.expect(200);
    let summary = run.complete(lines).await.expect(200).value();
    // Every step again changes nothing.
    run.chunk(0, lines).await.expect(200);
    assert_eq!(run.complete(lines).await.expect(200).value(), summary);
    summary
}

async fn card(client: &Client, series: &str) -> Value {
    let cards = client.get(&format!("/api/series/{series}/cards")).await;
    cards.expect(200).value()["items"][0].clone()
}

#[tokio::test]
async fn a_verification_says_who_read_what_where_and_when() {
    let (test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(3)).await;
    send(&admin, &series, "QUAY 2", &clips(3)).await;
    let quay = drive(&admin, &series, "QUAY 2").await;
    let at = format!("/api/series/{series}/drives/{quay}");
    let before = admin.get(&at).await.expect(200).value();
    assert_eq!(
        (&before["next_check_on"], &before["status"]),
        (&json!("2028-09-09"), &json!("fine")),
        "six months after it was read"
    );
    let expected = admin
        .get(&format!("{at}/expected?root=QUAY%202&limit=2"))
        .await;
    let expected = expected.expect(200).value();
    assert_eq!(expected["items"].as_array().map(Vec::len), Some(2));
    assert_eq!(expected["items"][0]["path"], clips(1)[0]["path"]);
    assert_eq!(expected["items"][0]["hashes"], clips(1)[0]["hashes"]);
    let next = expected["next"].as_str().expect("more").replace(' ', "%20");
    let rest = admin
        .get(&format!("{at}/expected?root=QUAY%202&after={next}"))
        .await
        .expect(200)
        .value();
    assert_eq!(
        (rest["items"].as_array().map(Vec::len), &rest["next"]),
        (Some(1), &Value::Null)
    );

    // a folder inside the scanned one
    let inside = format!("{at}/expected?root=QUAY%202/{ROLL}&limit=1");
    let inside = admin.get(&inside).await.expect(200).value();
    assert_eq!(
        inside["items"][0]["path"],
        json!(["CLIPS", "A001C001.mov"]),
        "{inside}"
    );
    assert_eq!(inside["next"], "CLIPS/A001C001.mov");
    let none = admin.get(&format!("{at}/expected?root=QUAY")).await;
    assert_eq!(none.expect(200).value()["items"], json!([]));

    let editor = test.person("Ed", &series, &[Role::Editor]).await;
    let lines: Vec<Value> = clips(3)
        .iter()
        .map(|clip| found(clip, "verified"))
        .collect();
    let summary = verify(&editor, &series, &quay, &lines).await;
    assert_eq!(
        (&summary["verified"], &summary["next_check_on"]),
        (&json!(3), &json!("2029-07-09"))
    );
    let checks = admin.get(&format!("{at}/checks")).await.expect(200).value();
    let newest = &checks["items"][0];
    assert_eq!(
        (
            &newest["how"],
            &newest["checked_by_name"],
            &newest["machine"],
            &newest["lines"]
        ),
        (&json!("verify"), &json!("Ed"), &json!("cart 2"), &json!(3))
    );
    assert_eq!(checks["items"][1]["how"], "scan");
    let which = format!(
        "select count(*) from copies where check_id = '{}'",
        newest["id"].as_str().expect("an id")
    );
    assert_eq!(one(&test, &which).await, 3);
}

#[tokio::test]
async fn every_difference_is_kept_and_the_cards_follow_at_once() {
    let (test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(5)).await;
    send(&admin, &series, "QUAY 2", &clips(5)).await;
    assert_eq!(card(&admin, &series).await["state"], "two_copies_checked");
    let id = card(&admin, &series).await["id"]
        .as_str()
        .expect("an id")
        .to_owned();
    let at_card = format!("/api/series/{series}/cards/{id}");
    let good = json!({ "positive": true, "words": "" });
    admin
        .post(&format!("{at_card}/reports"), &good)
        .await
        .expect(200);
    assert_eq!(card(&admin, &series).await["state"], "safe_to_wipe");

    let quay = drive(&admin, &series, "QUAY 2").await;
    let all = clips(5);
    let mut renamed = found(&all[3], "renamed");
    renamed["path"] = json!([ROLL, "KEEP", "A001C004.mov"]);
    renamed["previous_path"] = all[3]["path"].clone();
    let gone = json!({ "path": all[1]["path"], "result": "missing" });
    let damaged = clip(&format!("{ROLL}/CLIPS/A001C001.mov"), "damaged");
    // The program's own list says that it is verified; the catalogue knows better.
    let lines = [
        found(&damaged, "verified"),
        gone,
        json!({ "path": all[2]["path"], "result": "unreadable", "detail": "input/output error" }),
        renamed,
        found(&all[4], "changed"),
        found(&clip("other/new.mov", "never seen"), "new"),
    ];
    let summary = verify(&admin, &series, &quay, &lines).await;
    let count = |name: &str| summary[name].as_i64().unwrap_or(-1);
    assert_eq!(
        [
            "verified",
            "changed",
            "missing",
            "unreadable",
            "renamed",
            "new",
            "unknown"
        ]
        .map(count),
        [1, 1, 1, 1, 1, 1, 0],
        "{summary}"
    );
    assert!(warnings(&summary).contains("Do not wipe it"), "{summary}");
    let now = card(&admin, &series).await;
    assert_eq!(now["state"], "offloading");
    let drive_now = admin
        .get(&format!("/api/series/{series}/drives/{quay}"))
        .await;
    assert_eq!(drive_now.expect(200).value()["status"], "mismatch");
    let at = format!("/api/series/{series}/drives/{quay}");
    let checks = admin.get(&format!("{at}/checks")).await.expect(200).value();
    let check = checks["items"][0]["id"].as_str().expect("an id");
    let faults = admin
        .get(&format!("{at}/checks/{check}/faults"))
        .await
        .expect(200)
        .value();
    let results: Vec<&str> = faults["items"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|fault| fault["result"].as_str())
        .collect();
    assert_eq!(
        results,
        ["changed", "missing", "unreadable", "renamed", "new"]
    );
    // The mismatch takes the whole drive out of what makes a card safe: every file is named.
    let safety = admin
        .get(&format!("{at_card}/safety"))
        .await
        .expect(200)
        .value();
    assert_eq!(
        safety["reasons"].as_array().map(Vec::len),
        Some(5),
        "{safety}"
    );

    // Put right and read again, all is as it was.
    test.clock.advance(TimeDelta::hours(1));
    send(&admin, &series, "QUAY 2", &all).await;
    assert_eq!(card(&admin, &series).await["state"], "safe_to_wipe");
}

#[tokio::test]
async fn a_drive_that_goes_missing_takes_the_safety_of_its_cards_with_it() {
    let (_test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(2)).await;
    send(&admin, &series, "QUAY 2", &clips(2)).await;
    let quay = drive(&admin, &series, "QUAY 2").await;
    let at = format!("/api/series/{series}/drives/{quay}");
    let set = async |status: &str| {
        let there = admin.get(&at).await.expect(200).value();
        let names = [
            "label",
            "kind",
            "capacity_bytes",
            "free_bytes",
            "bought_on",
            "next_check_on",
        ];
        let mut fields: serde_json::Map<String, Value> = names
            .iter()
            .map(|name| ((*name).to_owned(), there[*name].clone()))
            .collect();
        fields.insert("status".into(), status.into());
        let version = there["version"].as_i64().expect("a version");
        admin
            .put(&at, version, &Value::Object(fields))
            .await
            .expect(200);
    };
    assert_eq!(card(&admin, &series).await["state"], "two_copies_checked");
    set("missing").await;
    assert_eq!(card(&admin, &series).await["state"], "offloading");
    let copies = admin
        .get(&format!("/api/series/{series}/card-copies"))
        .await;
    assert_eq!(copies.expect(200).value()["items"][0]["copies"], 1);
    set("fine").await;
    assert_eq!(card(&admin, &series).await["state"], "two_copies_checked");
}

#[tokio::test]
async fn what_is_wrong_with_a_verification_is_said_and_nothing_is_saved() {
    let (test, admin, series) = start().await;
    send(&admin, &series, "QUAY 2", &clips(2)).await;
    let quay = drive(&admin, &series, "QUAY 2").await;
    let run = Verification::begin(&admin, &series, &quay, "QUAY 2").await;
    let lines: Vec<Value> = clips(2)
        .iter()
        .map(|clip| found(clip, "verified"))
        .collect();
    run.chunk(1, &lines).await.problem(409, "conflict");
    let twice = [lines[0].clone(), lines[0].clone()];
    let said = run.chunk(0, &twice).await.problem(400, "bad_request");
    assert!(
        said["detail"]
            .as_str()
            .expect("words")
            .contains("listed twice")
    );
    let bare = json!({ "path": ["a"], "result": "verified" });
    run.chunk(0, &[bare]).await.problem(400, "bad_request");
    run.chunk(0, &lines).await.expect(200);
    run.chunk(0, &lines[..1]).await.problem(409, "conflict");
    run.complete(&lines[..1]).await.problem(409, "conflict");
    run.complete(&lines).await.expect(200);
    let empty = Verification::begin(&admin, &series, &quay, "QUAY 2").await;
    let nothing = json!({ "files": 0, "digest": scan_digest(Vec::<String>::new()) });
    let path = format!("{}/{}/complete", empty.base, empty.id);
    admin
        .post(&path, &nothing)
        .await
        .problem(409, "unsafe_state");
    assert_eq!(
        one(
            &test,
            "select count(*) from drive_checks where how = 'verify'"
        )
        .await,
        1
    );

    let reader = test.person("Lee", &series, &[Role::DataLead]).await;
    let start = json!({ "id": uuid::Uuid::now_v7(), "root": "QUAY 2", "tool": "t", "started": "2029-01-09T11:00:00Z" });
    reader
        .post(&run.base, &start)
        .await
        .problem(403, "not_allowed");
    let stranger = test.foreign_admin().await;
    stranger
        .post(&run.base, &start)
        .await
        .problem(404, "not_found");
}

/// An empty scan that announced no count leaves neither itself nor the drive that it made.
#[tokio::test]
async fn an_empty_scan_leaves_no_drive() {
    let (test, admin, series) = start().await;
    let scan = Scan::new(&admin, &series, "QUAY 9", "QUAY 9");
    scan.begin().await.expect(200);
    scan.complete(0, &[]).await.problem(409, "unsafe_state");
    assert_eq!(one(&test, "select count(*) from drives").await, 0);
    // A drive that was there before stays.
    send(&admin, &series, "QUAY 1", &clips(1)).await;
    let scan = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
    scan.begin().await.expect(200);
    scan.complete(0, &[]).await.problem(409, "unsafe_state");
    assert_eq!(one(&test, "select count(*) from drives").await, 1);
}

/// R38: wiped against the rule only by who says why; it stays in the audit trail.
#[tokio::test]
async fn wiped_although_it_is_not_safe_needs_a_reason() {
    let (test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(2)).await;
    let there = card(&admin, &series).await;
    let at = format!(
        "/api/series/{series}/cards/{}",
        there["id"].as_str().expect("an id")
    );
    let mut fields = json!({ "shoot_day_id": null, "name": there["name"], "shot_on": null, "state": "wiped",
        "wiped_by": "Pat Post", "wiped_on": "2029-01-09" });
    let said = admin
        .put(&at, 1, &fields)
        .await
        .problem(409, "unsafe_state");
    assert!(
        said["detail"]
            .as_str()
            .expect("words")
            .contains("Wiped although"),
        "{said}"
    );
    fields["wiped_although"] = "The card was stolen from the van and came back empty.".into();
    admin.put(&at, 1, &fields).await.expect(200);
    let kept = "select count(*) from audit where subject_kind = 'card' and action = 'changed' \
        and after ->> 'wiped_although' like 'The card was stolen%'";
    assert_eq!(one(&test, kept).await, 1);
}
