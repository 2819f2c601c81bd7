//! What a scan's computer says of a drive, and cards shot at another frame rate than their series.

use serde_json::{Value, json};

use crate::api::footage::{ROLL, Scan, clip, send, warnings};
use crate::api::scans::{clips, start};
use crate::api::verify::drive;

fn seen(free: u64, at: &str) -> Value {
    json!({ "capacity_bytes": 4_000_000_000_000_u64, "free_bytes": free, "kind": "ssd", "serial": "S3R1AL", "at": at })
}

#[tokio::test]
async fn what_a_scan_sees_of_a_drive_fills_in_what_nobody_typed() {
    let (_test, admin, series) = start().await;
    let mut scan = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
    scan.start["seen"] = seen(1_000_000, "2028-03-09T18:00:00Z");
    scan.send(&clips(1)).await;
    let id = drive(&admin, &series, "QUAY 1").await;
    let at = format!("/api/series/{series}/drives/{id}");
    let record = admin.get(&at).await.expect(200).value();
    assert_eq!(
        (
            &record["capacity_bytes"],
            &record["free_bytes"],
            &record["kind"],
            &record["serial"]
        ),
        (
            &json!(4_000_000_000_000_u64),
            &json!(1_000_000),
            &json!("ssd"),
            &json!("S3R1AL")
        )
    );
    let contents = admin
        .get(&format!("{at}/contents"))
        .await
        .expect(200)
        .value();
    assert_eq!(contents["free_seen_at"], "2028-03-09T18:00:00Z");

    // the same scan again, later: only the room is new, and what was seen before that changes nothing
    scan.start["seen"] = seen(900_000, "2028-03-10T18:00:00Z");
    scan.begin().await.expect(200);
    scan.start["seen"] = seen(7, "2028-03-08T18:00:00Z");
    scan.begin().await.expect(200);
    let record = admin.get(&at).await.expect(200);
    let (version, mut fields) = (record.version(), record.value());
    assert_eq!(fields["free_bytes"], 900_000);

    // a person knows better
    let typed = fields.as_object_mut().expect("fields");
    typed.retain(|name, _| {
        ![
            "id",
            "series_id",
            "version",
            "created_at",
            "updated_at",
            "deleted_at",
        ]
        .contains(&name.as_str())
    });
    typed.insert("capacity_bytes".into(), json!(800_000));
    typed.insert("free_bytes".into(), json!(5));
    typed.insert("serial".into(), json!("on the case"));
    typed.insert("kind".into(), json!("raid"));
    admin.put(&at, version, &fields).await.expect(200);
    let contents = admin
        .get(&format!("{at}/contents"))
        .await
        .expect(200)
        .value();
    assert_eq!(contents["free_seen_at"], Value::Null, "typed, not seen");
    scan.start["seen"] = seen(900_000, "2028-03-11T18:00:00Z");
    scan.begin().await.expect(200);
    let record = admin.get(&at).await.expect(200).value();
    assert_eq!(
        (
            &record["capacity_bytes"],
            &record["free_bytes"],
            &record["kind"],
            &record["serial"]
        ),
        (
            &json!(800_000),
            &json!(800_000),
            &json!("raid"),
            &json!("on the case")
        )
    );
    let mut lying = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
    lying.start["seen"] = seen(u64::MAX, "2028-03-11T18:00:00Z");
    let problem = lying.begin().await.expect(422).text();
    assert!(problem.contains("/seen/free_bytes"), "{problem}");
}

#[tokio::test]
async fn a_card_shot_at_another_rate_is_flagged_where_it_is_looked_for() {
    let (_test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(2)).await;
    let home = admin.get("/api/home").await.expect(200).text();
    assert!(!home.contains("pictures a second"), "{home}");
    let other = ROLL.replace("A001", "A002");
    let mut fast: Vec<Value> = (1..=3)
        .map(|n| clip(&format!("{other}/A002C{n:03}.mov"), &format!("fast {n}")))
        .collect();
    for clip in &mut fast[..2] {
        clip["media"]["rate"] = json!({ "num": 50, "den": 1 });
    }
    let mut all = clips(2);
    all.extend(fast);
    let summary = send(&admin, &series, "QUAY 1", &all).await;
    let words = "2 clips at 50 pictures a second; the series is 25";
    assert!(warnings(&summary).contains(words), "{summary}");
    let cards = admin
        .get(&format!("/api/series/{series}/cards"))
        .await
        .expect(200)
        .value();
    let cards = cards["items"].as_array().expect("a list");
    for card in cards {
        let id = card["id"].as_str().expect("an id");
        let at = format!("/api/series/{series}/cards/{id}/safety");
        let safety = admin.get(&at).await.expect(200).value();
        let flagged = match card["name"] == other.as_str() {
            true => json!([format!("{words}.")]),
            false => json!([]),
        };
        assert_eq!(safety["other_rates"], flagged, "{card}");
    }
    let home = admin.get("/api/home").await.expect(200).text();
    assert!(
        home.contains(&format!("The card {other} has {words}.")),
        "{home}"
    );
    let day =
        json!({ "day": "2028-03-09", "title": "Slipway", "place_ids": [], "cards_expected": 2 });
    admin
        .post(&format!("/api/series/{series}/shoot-days"), &day)
        .await
        .expect(201);
    let arrivals = admin
        .get(&format!("/api/series/{series}/arrivals"))
        .await
        .expect(200)
        .value();
    assert_eq!(
        arrivals["items"][0]["other_rate"],
        json!([other]),
        "{arrivals}"
    );
}
