//! Hand-overs of drives: a history that is only added to, and what follows from it.

use chrono::TimeDelta;
use serde_json::{Value, json};
use waybill_domain::perms::Role;

use crate::api::scans::{clips, one, start};
use crate::api::{footage::send, verify::drive};

fn hand_over(from: &str, to: &str, at: &str) -> Value {
    json!({ "id": uuid::Uuid::now_v7(), "kind": "handed_over", "at": at, "from_name": from, "to_name": to,
        "to_place": "", "condition": "no marks", "seal": "QZ 114", "signature": to, "corrects": null })
}

#[tokio::test]
async fn a_drive_goes_from_hand_to_hand_and_a_mistake_is_corrected_not_changed() {
    let (test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(1)).await;
    let id = drive(&admin, &series, "QUAY 1").await;
    let at = format!("/api/series/{series}/drives/{id}");
    let custody = format!("{at}/custody");
    let first = hand_over("", "Tamsin", "2028-03-10T08:00:00Z");
    admin.post(&custody, &first).await.expect(200);
    // a lost answer: the same event again changes nothing, another one under its id is refused
    admin.post(&custody, &first).await.expect(200);
    let mut other = first.clone();
    other["to_name"] = "Jem".into();
    admin.post(&custody, &other).await.problem(409, "conflict");
    let second = hand_over("Dilys", "Kofi", "2028-03-11T09:00:00Z");
    let now = admin.post(&custody, &second).await.expect(200).value();
    assert_eq!(
        (&now["holder"], now["items"].as_array().map(Vec::len)),
        (&json!("Kofi"), Some(2))
    );
    let fault = now["faults"][0].as_str().expect("the gap");
    assert!(
        fault.contains("Dilys") && fault.contains("Tamsin had it"),
        "{fault}"
    );

    let mut right = hand_over("Tamsin", "Kofi", "2028-03-11T09:00:00Z");
    right["corrects"] = second["id"].clone();
    let now = admin.post(&custody, &right).await.expect(200).value();
    assert_eq!(
        (&now["faults"], now["standing"].as_array().map(Vec::len)),
        (&json!([]), Some(2))
    );
    assert_eq!(
        now["items"].as_array().map(Vec::len),
        Some(3),
        "nothing is taken away"
    );
    let mut twice = right.clone();
    twice["id"] = json!(uuid::Uuid::now_v7());
    admin.post(&custody, &twice).await.problem(409, "conflict");
    assert_eq!(admin.get(&at).await.expect(200).value()["holder"], "Kofi");
    assert_eq!(
        one(&test, "select count(*) from audit where action = 'custody'").await,
        3
    );
    let conn = test.db.connect().await;
    let changed = conn
        .batch_execute("update custody_events set to_name = 'Nobody'")
        .await;
    assert!(changed.is_err(), "custody is only ever added to");

    let editor = test.person("Ed", &series, &[Role::Editor]).await;
    editor.get(&custody).await.expect(200);
    let refused = hand_over("Kofi", "Ed", "2028-03-12T09:00:00Z");
    editor
        .post(&custody, &refused)
        .await
        .problem(403, "not_allowed");
    let stranger = test.foreign_admin().await;
    stranger.get(&custody).await.problem(404, "not_found");
}

#[tokio::test]
async fn what_is_missing_in_an_event_is_said() {
    let (_test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(1)).await;
    let id = drive(&admin, &series, "QUAY 1").await;
    let custody = format!("/api/series/{series}/drives/{id}/custody");
    let mut bad = hand_over("Jem", "", "2029-01-10T12:00:00Z");
    bad["signature"] = "".into();
    let said = admin.post(&custody, &bad).await.problem(422, "invalid");
    let pointers: Vec<&str> = said["errors"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|fault| fault["pointer"].as_str())
        .collect();
    assert_eq!(pointers, ["/at", "/to_name", "/signature"]);
    let mut dropped = hand_over("", "", "2028-03-10T12:00:00Z");
    (dropped["kind"], dropped["condition"]) = ("dropped".into(), "".into());
    dropped["corrects"] = json!(uuid::Uuid::now_v7());
    let said = admin.post(&custody, &dropped).await.problem(422, "invalid");
    assert_eq!(said["errors"].as_array().map(Vec::len), Some(2), "{said}");
}

/// R42: an event makes the check due that day; reading the drive again ends it; what is overdue reaches Today and the
/// queue of reminders.
#[tokio::test]
async fn a_dropped_drive_is_due_that_day_until_it_is_read_again() {
    let (test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(1)).await;
    let id = drive(&admin, &series, "QUAY 1").await;
    let at = format!("/api/series/{series}/drives/{id}");
    let mut dropped = hand_over("", "", "2028-05-02T12:00:00Z");
    (dropped["kind"], dropped["condition"]) = ("dropped".into(), "off the tailgate".into());
    let now = admin
        .post(&format!("{at}/custody"), &dropped)
        .await
        .expect(200)
        .value();
    assert_eq!(
        (&now["next_check"]["on"], &now["next_check"]["reason"]),
        (&json!("2028-05-02"), &json!("dropped"))
    );
    let home = admin.get("/api/home").await.expect(200).text();
    assert!(
        home.contains("The drive QUAY 1 is due for a check"),
        "{home}"
    );
    let waiting = "select count(*) from reminders where subject_kind = 'drive' and due_on = '2028-05-02' \
        and fired_at is null";
    assert!(one(&test, waiting).await > 0);

    test.clock.advance(TimeDelta::hours(1));
    let mut again = clips(1);
    again[0]["read"] = "2029-01-09T12:30:00Z".into();
    send(&admin, &series, "QUAY 1", &again).await;
    assert_eq!(
        admin.get(&at).await.expect(200).value()["next_check_on"],
        "2029-07-09"
    );
    assert_eq!(one(&test, waiting).await, 0);
}
