//! What copies mean: when a card is safe, what is lost, and when two drives are one.

use chrono::TimeDelta;
use serde_json::{Value, json};
use waybill_tests::http::Client;

use crate::api::footage::{ROLL, Scan, clip, entry, send, warnings};
use crate::api::scans::{clips, one, start};

async fn card_state(client: &Client, series: &str) -> String {
    let cards = client
        .get(&format!("/api/series/{series}/cards"))
        .await
        .expect(200)
        .value();
    cards["items"][0]["state"]
        .as_str()
        .unwrap_or_default()
        .to_owned()
}

#[tokio::test]
async fn two_drives_make_a_card_safe_and_a_changed_or_missing_file_does_not_stay_hidden() {
    let (test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(3)).await;
    send(&admin, &series, "QUAY 2", &clips(3)).await;
    assert_eq!(card_state(&admin, &series).await, "two_copies_checked");

    test.clock.advance(TimeDelta::hours(1));
    let mut now = clips(3);
    now[0] = clip(&format!("{ROLL}/CLIPS/A001C001.mov"), "damaged");
    now.remove(1);
    let summary = send(&admin, &series, "QUAY 2", &now).await;
    let said = warnings(&summary);
    assert!(
        said.contains("Changed: QUAY 2/") && said.contains("1 file is known"),
        "{said}"
    );
    assert_eq!(card_state(&admin, &series).await, "offloading");
    let states = "select count(*) from copies c join files f on f.id = c.file_id \
        where (f.name, c.state) in (('A001C001.mov', 'changed'), ('A001C002.mov', 'missing'))";
    assert_eq!(one(&test, states).await, 2);
    assert_eq!(
        one(&test, "select count(*) from files").await,
        4,
        "the old content is still known"
    );

    test.clock.advance(TimeDelta::hours(1));
    // the good content again: the damaged one was never part of the card
    send(&admin, &series, "QUAY 2", &clips(3)).await;
    assert_eq!(card_state(&admin, &series).await, "two_copies_checked");
}

#[tokio::test]
async fn what_could_not_be_read_is_not_called_missing() {
    let (test, admin, series) = start().await;
    let mut all = clips(2);
    all.push(entry("other/note.txt", "note"));
    send(&admin, &series, "QUAY 1", &all).await;
    let mut scan = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
    scan.start["skipped"] =
        json!([{ "path": ROLL, "reason": "unreadable", "detail": "input/output error" }]);
    let summary = scan.send(&all[2..]).await;
    assert!(
        warnings(&summary).contains("input/output error"),
        "{summary}"
    );
    assert_eq!(
        one(
            &test,
            "select count(*) from copies where state = 'unreadable'"
        )
        .await,
        2
    );
    assert_eq!(
        one(&test, "select count(*) from copies where state = 'missing'").await,
        0
    );
    let mut scan = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
    scan.start["skipped"] =
        json!([{ "path": "", "reason": "unreadable", "detail": "the drive went away" }]);
    scan.send(&all[..1]).await;
    assert_eq!(
        one(&test, "select count(*) from copies where state = 'missing'").await,
        0
    );
}

#[tokio::test]
async fn one_drive_under_two_labels_is_not_two_copies() {
    let (_test, admin, series) = start().await;
    Scan::new(&admin, &series, "QUAY 1", "VOLUME")
        .send(&clips(3))
        .await;
    let summary = Scan::new(&admin, &series, "QUAY 2", "VOLUME")
        .send(&clips(3))
        .await;
    assert!(
        warnings(&summary).contains("All that is on QUAY 2"),
        "{summary}"
    );
    assert_eq!(card_state(&admin, &series).await, "offloading");
    let drives = admin
        .get(&format!("/api/series/{series}/drives?q=QUAY 2").replace(' ', "%20"))
        .await;
    let drive = drives.expect(200).value()["items"][0]["id"]
        .as_str()
        .expect("an id")
        .to_owned();
    let at = format!("/api/series/{series}/drives/{drive}");
    let held = admin
        .get(&format!("{at}/contents"))
        .await
        .expect(200)
        .value();
    assert_eq!(
        (&held["may_be"], &held["files"], &held["only_copies"]),
        (&json!("QUAY 1"), &json!(3), &json!(3))
    );
    let held = admin
        .post(&format!("{at}/separate"), &json!({}))
        .await
        .expect(200)
        .value();
    assert_eq!(
        (&held["may_be"], &held["only_copies"]),
        (&Value::Null, &json!(0))
    );
    assert_eq!(card_state(&admin, &series).await, "two_copies_checked");

    // where the system tells the volume, there is no doubt
    let mut known = Scan::new(&admin, &series, "QUAY 3", "VOLUME");
    known.start["volume"] = "6f0d-33aa".into();
    known.send(&clips(3)).await;
    let mut other = Scan::new(&admin, &series, "QUAY 4", "VOLUME");
    other.start["volume"] = "6f0d-33aa".into();
    let refused = other.begin().await.problem(409, "conflict");
    assert!(
        refused["detail"]
            .as_str()
            .is_some_and(|text| text.contains("QUAY 3")),
        "{refused}"
    );
}
