//! The board: one line for each episode, with its newest cut and what is owed next.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;

use crate::api::samples::Ids;

#[tokio::test]
async fn each_episode_stands_with_its_newest_cut_and_next_date() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    let second = admin
        .post(&ids.path("episodes"), &ids.body("episodes", 0))
        .await
        .expect(201)
        .id();
    for (n, (due, status)) in [
        ("2029-06-15", "in_work"),
        ("2029-01-08", "not_started"),
        ("2029-01-01", "accepted"),
        ("2028-12-01", "sent"),
    ]
    .into_iter()
    .enumerate()
    {
        let mut body = ids.body("deliverables", n);
        body["due_on"] = due.into();
        body["status"] = status.into();
        body["item"] = format!("Item {n}").into();
        admin
            .post(&ids.path("deliverables"), &body)
            .await
            .expect(201);
    }
    admin
        .post(&ids.path("scenes"), &ids.body("scenes", 1))
        .await
        .expect(201);
    cuts(&test, &ids).await;
    let path = ids.path("board");
    let board = admin.get(&path).await.expect(200).value();
    let episodes = board["episodes"].as_array().expect("episodes");
    assert_eq!(episodes.len(), 2);
    assert_eq!(episodes[0]["id"], Value::String(second));
    assert_eq!(episodes[0]["newest_cut"], Value::Null);
    assert_eq!(episodes[0]["next_due"], Value::Null);
    let first = &episodes[1];
    assert_eq!(
        (&first["number"], &first["status"], &first["scenes"]),
        (&json!(1), &json!("cutting"), &json!(1))
    );
    assert_eq!(first["newest_cut"]["name"], "EP01_CUT_290108");
    assert_eq!(first["newest_cut"]["cut_date"], "2029-01-08");
    assert_eq!(
        (
            &first["newest_cut"]["events"],
            &first["newest_cut"]["unknown_sources"]
        ),
        (&json!(3), &json!(1))
    );
    assert_eq!(
        (&first["next_due"]["item"], &first["next_due"]["due_on"]),
        (&json!("Item 1"), &json!("2029-01-08"))
    );
    assert_eq!((&first["owed"], &first["overdue"]), (&json!(2), &json!(1)));
    // Somebody on location does not see deliverables.
    let location = test
        .person("Asa", &series, &[Role::AssociateProducer])
        .await;
    let board = location.get(&path).await.expect(200).value();
    assert_eq!(
        (
            &board["episodes"][1]["next_due"],
            &board["episodes"][1]["owed"]
        ),
        (&Value::Null, &Value::Null)
    );
    assert_eq!(
        board["episodes"][1]["newest_cut"]["name"],
        "EP01_CUT_290108"
    );
    let contact = test.person("Del", &series, &[Role::DeliveryContact]).await;
    contact.get(&path).await.problem(403, "not_allowed");
}

/// Three cuts of the first episode: an old one, the newest with three events, and a later one in the bin.
async fn cuts(test: &TestApp, ids: &Ids) {
    let mut sql = String::new();
    for (n, deleted) in [(7, "null"), (8, "null"), (9, "now()")] {
        let cut = uuid::Uuid::now_v7();
        let (series, episode) = (&ids.series, &ids.episode);
        sql.push_str(&format!(
            "insert into cuts (id, series_id, episode_id, name, cut_date, format, source_name, title, rate, start_frame, duration_frames,
             locked, source_sha256, source, warnings, version, created_at, updated_at, deleted_at) values ('{cut}',
             '{series}', '{episode}', 'EP01_CUT_29010{n}', '2029-01-0{n}', 'edl', '', 'EP01', '25', 0, 0, false, '', '', '[]',
             1, '2029-01-0{n}', '2029-01-0{n}', {deleted});"
        ));
        for (at, kind) in ["file", "unknown", "black"].iter().enumerate() {
            sql.push_str(&format!(
                "insert into cut_events (cut_id, series_id, position, origin, event, track, picture, sound, enabled, kind, reel, clip,
                 source_name, rate, record_in, record_out, comments, match_kind, match_how) values ('{cut}', '{series}',
                 {at}, '1', '001', 'V', true, false, true, 'cut', '', '', '', '25', 0, 25, '[]', '{kind}', '');"
            ));
        }
    }
    test.db
        .connect()
        .await
        .batch_execute(&sql)
        .await
        .expect("rows");
}
