//! Cuts: what is taken, what is refused and how, which is the latest, and where their sources come from.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;

use crate::api::season::{LIST, Season, catalogue};

/// Nothing is kept of what is refused, and each refusal says what and what to do.
#[tokio::test]
async fn what_is_no_cut_is_refused_in_words_and_leaves_nothing() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at(&format!("episodes/{}/cuts", season.episode));
    let broken_list = &LIST[..LIST.find("10:00:01:00 10:00:11").expect("in it")];
    let text = "text/plain";
    let cases: [(&str, &[u8], u16, &str, &str); 9] = [
        ("name=a", b"", 422, "invalid", "The file is empty"),
        ("name=a", b"hello\nworld", 415, "unsupported_type", "line 1"),
        (
            "name=a",
            b"\x89PNG\r\n\x1a\n\0\0",
            415,
            "unsupported_type",
            "PNG",
        ),
        ("name=a", b"<xmeml/>", 415, "unsupported_type", "XML"),
        (
            "name=a",
            b"{\"OTIO_SCHEMA\":\"Timeline.1\",",
            422,
            "invalid",
            "breaks off",
        ),
        (
            "name=a",
            b"{\"a\": 1}",
            415,
            "unsupported_type",
            "OpenTimelineIO",
        ),
        ("name=a", broken_list.as_bytes(), 422, "invalid", "line 4"),
        ("name=a&rate=24.5", LIST.as_bytes(), 422, "invalid", "24.5"),
        ("name=", LIST.as_bytes(), 422, "invalid", "fill this in"),
    ];
    for (query, body, status, code, words) in cases {
        let asked = format!("{path}?{query}");
        let reply = season
            .admin
            .send("POST", &asked, &[("content-type", text)], body)
            .await;
        let problem = reply.problem(status, code);
        assert!(problem.to_string().contains(words), "{query}: {problem}");
    }
    let at_30 = LIST.replace("10:00:44:00 10:00:48:00", "10:00:44:00 10:00:48:29");
    let wrong = season
        .import("EP04_CUT_290106_v1", &at_30)
        .await
        .problem(422, "invalid");
    assert_eq!(wrong["errors"][0]["pointer"], "/rate");
    let words = wrong["errors"][0]["detail"].as_str().expect("words");
    assert!(words.contains("ine 16") && words.contains("30"), "{words}");
    // a body that is shorter than announced
    let asked = format!("{path}?name=half");
    let half = season
        .admin
        .send_announced("POST", &asked, &[], LIST.as_bytes(), Some(LIST.len() + 100))
        .await;
    half.problem(400, "bad_request");
    let large = vec![b' '; (20 << 20) + 1];
    season
        .admin
        .send("POST", &asked, &[], &large)
        .await
        .problem(413, "too_large");
    let kept = season.admin.get(&path).await.expect(200).value();
    assert_eq!(kept["items"].as_array().expect("a list").len(), 1);
}

#[tokio::test]
async fn a_cut_keeps_what_the_list_says_and_warns_with_lines() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let cut = season
        .admin
        .get(&season.at(&format!("cuts/{}", season.cut)))
        .await
        .expect(200);
    assert_eq!(cut.header("etag"), Some("\"1\""));
    let cut = cut.value();
    assert_eq!(
        (&cut["cut_date"], &cut["cut_number"], &cut["rate"]),
        (&json!("2029-01-05"), &json!(1), &json!("25"))
    );
    assert_eq!(
        (&cut["start"], &cut["end"]),
        (&json!("10:00:00:00"), &json!("10:01:10:00"))
    );
    assert_eq!(
        cut["counts"],
        json!({"events": 9, "files": 4, "imports": 2, "music": 1, "black": 1, "unknown_sources": 1})
    );
    let unsorted = LIST.replace("10:00:50:00 10:01:10:00", "10:00:00:00 10:00:20:00");
    let other = season
        .import("EP05_rough", &unsorted)
        .await
        .expect(201)
        .value();
    let warnings: Vec<&str> = (other["warnings"].as_array().expect("a list").iter())
        .map(|warning| warning["text"].as_str().expect("words"))
        .collect();
    assert_eq!(other["warnings"][0]["at"], "line 19", "{warnings:?}");
    assert!(
        warnings.iter().any(|words| words.contains("has no date")),
        "{warnings:?}"
    );
    assert!(
        warnings
            .iter()
            .any(|words| words.contains("says episode 5")),
        "{warnings:?}"
    );
}

/// Rulebook R48: the latest cut is the one with the highest date, then version; undated ones come last.
#[tokio::test]
async fn the_latest_cut_is_the_one_with_the_highest_date_and_version() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    for (at, name) in [
        "lock",
        "EP04_CUT_290106_v1",
        "EP04_CUT_290106_v10",
        "EP04_CUT_290106_v9",
    ]
    .into_iter()
    .enumerate()
    {
        let list = LIST.replace("HIGH WATER", &format!("HIGH WATER {at}"));
        season.import(name, &list).await.expect(201);
    }
    let path = season.at(&format!("episodes/{}/cuts", season.episode));
    let list = season.admin.get(&path).await.expect(200).value();
    let names: Vec<&str> = (list["items"].as_array().expect("a list").iter())
        .map(|cut| cut["name"].as_str().expect("a name"))
        .collect();
    assert_eq!(
        names,
        [
            "EP04_CUT_290106_v10",
            "EP04_CUT_290106_v9",
            "EP04_CUT_290106_v1",
            "EP04_CUT_290105_v1",
            "lock"
        ]
    );
    let current: Vec<bool> = (list["items"].as_array().expect("a list").iter())
        .map(|cut| cut["current"] == true)
        .collect();
    assert_eq!(current, [true, false, false, false, false]);
    assert_eq!(
        season.clearance().await["cut"]["name"],
        "EP04_CUT_290106_v10"
    );
}

#[tokio::test]
async fn the_same_content_is_taken_once() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let again = season
        .import("EP04_CUT_290107_v1", LIST)
        .await
        .problem(409, "conflict");
    let words = again["detail"].as_str().expect("words");
    assert!(
        words.contains("EP04_CUT_290105_v1") && words.contains("9 Jan 2029"),
        "{words}"
    );
    let low = LIST.replace("HIGH", "LOW");
    let both = tokio::join!(
        season.import("EP04_CUT_290108_v1", &low),
        season.import("EP04_CUT_290108_v2", &low),
    );
    let mut statuses = [both.0.status, both.1.status];
    statuses.sort_unstable();
    assert_eq!(statuses, [201, 409]);
    let path = season.at(&format!("cuts/{}", season.cut));
    season.admin.delete(&path, 1).await.expect(200);
    season.import("EP04_CUT_290107_v1", LIST).await.expect(201);
}

#[tokio::test]
async fn a_locked_cut_is_unlocked_with_a_reason_and_not_deleted() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at(&format!("cuts/{}", season.cut));
    let lock = format!("{path}/lock");
    season
        .admin
        .put(&lock, 1, &json!({"locked": true}))
        .await
        .expect(200);
    season
        .admin
        .put(&lock, 1, &json!({"locked": true}))
        .await
        .problem(412, "stale");
    season
        .admin
        .delete(&path, 2)
        .await
        .problem(409, "unsafe_state");
    let bare = season
        .admin
        .put(&lock, 2, &json!({"locked": false}))
        .await
        .problem(422, "invalid");
    assert_eq!(bare["errors"][0]["pointer"], "/reason");
    let why = json!({"locked": false, "reason": "a caption was wrong"});
    season.admin.put(&lock, 2, &why).await.expect(200);
    let trail = season.at(&format!("audit?subject_id={}", season.cut));
    let trail = season.admin.get(&trail).await.expect(200).value();
    let line = &trail["items"][0];
    assert_eq!(line["action"], "unlocked");
    assert_eq!(line["after"]["reason"], "a caption was wrong");
    season.admin.delete(&path, 3).await.expect(200);
    let back = season
        .admin
        .post(&format!("{path}/restore"), &json!({}))
        .await
        .expect(200);
    assert_eq!(back.value()["deleted_at"], Value::Null);
}

#[tokio::test]
async fn events_are_matched_in_the_order_of_evidence() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let found: Vec<(String, String)> = (season.events().await.iter())
        .map(|event| {
            let part = |name: &str| event["match"][name].as_str().expect("a word").to_owned();
            (part("kind"), part("label"))
        })
        .collect();
    let expected = [
        ("file", "A003C001.mov"),
        ("file", "A003C001.mov"),
        ("file", "A003C002.mov"),
        ("file", "A003C003.mov"),
        ("asset", "Harbour newsreel 1934"),
        ("asset", "Regatta phone video"),
        ("unknown", ""),
        ("black", ""),
        ("music", "Slack Water Song"),
    ]
    .map(|(kind, label)| (kind.to_owned(), label.to_owned()));
    assert_eq!(found, expected);
}

/// A choice by hand holds for every event with the same source, in this cut and in those to come, until it is undone.
#[tokio::test]
async fn a_match_by_hand_is_remembered_for_the_series() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let at = |n: u32| season.at(&format!("cuts/{}/events/{n}/match", season.cut));
    let choose = |body: Value| {
        let path = at(7);
        let admin = season.admin.clone();
        async move { admin.json("PUT", &path, &[], &body).await }
    };
    choose(json!({})).await.problem(422, "invalid");
    choose(json!({"file_id": season.files[1], "asset_id": season.newsreel}))
        .await
        .problem(422, "invalid");
    choose(json!({"asset_id": season.song}))
        .await
        .problem(422, "invalid");
    let cut = choose(json!({"file_id": season.files[1]}))
        .await
        .expect(200)
        .value();
    assert_eq!(cut["counts"]["unknown_sources"], 0);
    let how = season.events().await[6]["match"]["how"]
        .as_str()
        .expect("words")
        .to_owned();
    assert!(how.starts_with("chosen by hand"), "{how}");
    let next = season
        .import("EP04_CUT_290110_v1", &LIST.replace("HIGH", "LOW"))
        .await;
    assert_eq!(next.expect(201).value()["counts"]["unknown_sources"], 0);
    let cut = choose(json!({"none": true})).await.expect(200).value();
    assert_eq!(cut["counts"]["unknown_sources"], 1);
    let missing = season
        .admin
        .json("PUT", &at(77), &[], &json!({"none": true}))
        .await;
    missing.problem(404, "not_found");
}

#[tokio::test]
async fn what_is_catalogued_later_is_found_later() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    catalogue(&test, &season.series, None, "Mystery_Clip.mov", 0, 500).await;
    let again = season.at(&format!("cuts/{}/match", season.cut));
    let cut = season
        .admin
        .post(&again, &json!({}))
        .await
        .expect(200)
        .value();
    assert_eq!(cut["counts"]["unknown_sources"], 0);
    // a second file of that name: several fit, and no guess is made
    catalogue(&test, &season.series, None, "Mystery_Clip.mov", 0, 600).await;
    let cut = season
        .admin
        .post(&again, &json!({}))
        .await
        .expect(200)
        .value();
    assert_eq!(cut["counts"]["unknown_sources"], 1);
    let event = &season.events().await[6];
    assert!(
        event["match"]["how"]
            .as_str()
            .expect("words")
            .starts_with("Several files fit")
    );
    assert!(
        event["words"]
            .as_str()
            .expect("words")
            .contains("choose one"),
        "{event}"
    );
    // a change of an import is followed at once
    let names = json!({"match_names": ["another.mov"]});
    season.change("assets", &season.newsreel, &names).await;
    assert_eq!(season.events().await[4]["match"]["kind"], "unknown");
}

#[tokio::test]
async fn roles_decide_who_may_do_what_with_cuts() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let cuts = season.at(&format!("episodes/{}/cuts", season.episode));
    let one = season.at(&format!("cuts/{}", season.cut));
    let music = test
        .person("Mira Music", &season.series, &[Role::MusicSupervisor])
        .await;
    music.get(&cuts).await.expect(200);
    music
        .send("POST", &format!("{cuts}?name=x"), &[], LIST.as_bytes())
        .await
        .problem(403, "not_allowed");
    music.delete(&one, 1).await.problem(403, "not_allowed");
    let editor = test
        .person("Edda Editor", &season.series, &[Role::Editor])
        .await;
    let list = LIST.replace("HIGH", "LOW");
    editor
        .send(
            "POST",
            &format!("{cuts}?name=EP04_x_290101"),
            &[],
            list.as_bytes(),
        )
        .await
        .expect(201);
    editor
        .put(&format!("{one}/lock"), 1, &json!({"locked": true}))
        .await
        .problem(403, "not_allowed");
    let contact = test
        .person("Dora Delivery", &season.series, &[Role::DeliveryContact])
        .await;
    contact.get(&one).await.problem(403, "not_allowed");
    let stranger = test.person("Stig Stranger", &season.series, &[]).await;
    stranger.get(&one).await.problem(404, "not_found");
    let elsewhere = test.series(&season.admin, "Another series").await;
    let foreign = format!("/api/series/{elsewhere}/cuts/{}", season.cut);
    season.admin.get(&foreign).await.problem(404, "not_found");
    test.stranger()
        .get(&one)
        .await
        .problem(401, "unauthenticated");
}
