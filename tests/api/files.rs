//! Finding files, and what is known of one.

use serde_json::{Value, json};
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::footage::{ROLL, Scan, clip, entry, send};

async fn names(client: &Client, path: &str) -> Vec<String> {
    let page = client.get(path).await.expect(200).value();
    let items = page["items"].as_array().expect("a list").iter();
    items
        .map(|item| item["name"].as_str().unwrap_or_default().to_owned())
        .collect()
}

#[tokio::test]
async fn words_parts_and_signs_find_only_themselves() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let all = [
        clip(&format!("{ROLL}/CLIPS/A001C001.mov"), "one"),
        clip(&format!("{ROLL}/CLIPS/A001C002.mov"), "two"),
        entry("notes/Übung 100%.txt", "three"),
        entry("notes/A_1 (.*) 'q'.txt", "four"),
        entry("notes/AX1.txt", "five"),
    ];
    send(&admin, &series, "QUAY 1", &all).await;
    let base = format!("/api/series/{series}/files");
    for (q, wanted) in [
        ("c002", &["A001C002.mov"][..]),
        ("slip%20CAMA%20c00", &["A001C001.mov", "A001C002.mov"]),
        ("ubung", &["Übung 100%.txt"]),
        ("100%25", &["Übung 100%.txt"]),
        ("%25", &["Übung 100%.txt"]),
        ("a_1", &["A_1 (.*) 'q'.txt"]),
        ("(.*)", &["A_1 (.*) 'q'.txt"]),
        ("'", &["A_1 (.*) 'q'.txt"]),
        ("c002%20nothing", &[]),
        ("%5C", &[]),
    ] {
        assert_eq!(names(&admin, &format!("{base}?q={q}")).await, wanted, "{q}");
    }
    assert_eq!(
        names(&admin, &format!("{base}?kind=picture")).await.len(),
        2
    );
    admin
        .get(&format!("{base}?kind=smell"))
        .await
        .problem(400, "bad_request");
    admin
        .get(&format!("{base}?nope=1"))
        .await
        .problem(400, "bad_request");
}

#[tokio::test]
async fn pages_follow_each_other_without_gap_or_double() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    // equal names on purpose: the id decides then
    let all: Vec<Value> = (0..1200)
        .map(|n| entry(&format!("d{n}/clip{}.txt", n % 7), &format!("{n}")))
        .collect();
    send(&admin, &series, "QUAY 1", &all).await;
    let base = format!("/api/series/{series}/files?limit=500");
    let first = admin.get(&base).await.expect(200).value();
    assert_eq!(first["total"], 1001, "counts stop there");
    let mut seen: Vec<String> = Vec::new();
    let mut page = first;
    loop {
        let items = page["items"].as_array().expect("a list").clone();
        seen.extend(
            items
                .iter()
                .filter_map(|item| item["id"].as_str().map(str::to_owned)),
        );
        let Some(next) = page["next"].as_str() else {
            break;
        };
        page = admin
            .get(&format!("{base}&after={next}"))
            .await
            .expect(200)
            .value();
        assert_eq!(page["total"], Value::Null);
    }
    assert_eq!(seen.len(), 1200);
    seen.sort();
    seen.dedup();
    assert_eq!(seen.len(), 1200);
}

#[tokio::test]
async fn one_file_tells_where_it_lies_and_what_its_header_says() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let all = [
        clip(&format!("{ROLL}/A001C001.mov"), "one"),
        entry("b.txt", "b"),
    ];
    send(&admin, &series, "QUAY 1", &all).await;
    let below = Scan::new(&admin, &series, "QUAY 2", "footage");
    below.send(&all[..1]).await;
    let base = format!("/api/series/{series}/files");
    let found = admin
        .get(&format!("{base}?q=A001C001"))
        .await
        .expect(200)
        .value();
    let id = found["items"][0]["id"].as_str().expect("an id").to_owned();
    let file = admin.get(&format!("{base}/{id}")).await.expect(200).value();
    assert_eq!(
        (
            &file["rate"],
            &file["start"],
            &file["frame_count"],
            &file["reel"],
            &file["card"],
            &file["logged"]
        ),
        (
            &json!("25"),
            &json!("10:00:00:00"),
            &json!(50),
            &json!("A001"),
            &json!(ROLL),
            &json!("no")
        )
    );
    assert_eq!(file["copies"].as_array().map(Vec::len), Some(2));
    assert_eq!(
        (&file["copies"][0]["drive"], &file["copies"][0]["state"]),
        (&json!("QUAY 1"), &json!("verified"))
    );
    for (copy, path, full_path) in [(0, "QUAY 1", "QUAY 1"), (1, "footage", "QUAY 2/footage")] {
        let there = |folder: &str| json!(format!("{folder}/{ROLL}/A001C001.mov"));
        let copy = &file["copies"][copy];
        assert_eq!(
            (&copy["path"], &copy["full_path"]),
            (&there(path), &there(full_path))
        );
    }
    assert_eq!(
        (&file["unlogged"], &file["uses"]),
        (&json!([[0, 50]]), &json!([]))
    );
    for (drive, count) in [("QUAY%201", 2), ("QUAY%202", 1)] {
        let drives = admin
            .get(&format!("/api/series/{series}/drives?q={drive}"))
            .await
            .expect(200)
            .value();
        let drive = drives["items"][0]["id"].as_str().expect("an id").to_owned();
        assert_eq!(
            names(&admin, &format!("{base}?drive={drive}")).await.len(),
            count
        );
    }
    let card = file["card_id"].as_str().expect("a card");
    assert_eq!(
        names(&admin, &format!("{base}?card={card}")).await,
        ["A001C001.mov"]
    );
    let day =
        json!({ "day": "2028-03-09", "title": "Launch", "place_ids": [], "cards_expected": 1 });
    let day = admin
        .post(&format!("/api/series/{series}/shoot-days"), &day)
        .await
        .expect(201)
        .id();
    assert_eq!(
        names(&admin, &format!("{base}?day={day}")).await,
        ["A001C001.mov"]
    );
    let other = test.series(&admin, "Another Season").await;
    admin
        .get(&format!("/api/series/{other}/files/{id}"))
        .await
        .problem(404, "not_found");
    assert!(
        names(&admin, &format!("/api/series/{other}/files"))
            .await
            .is_empty()
    );
}
