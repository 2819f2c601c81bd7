//! The demonstration: loads into an empty server as `waybill-server demo` does, with the real command, and holds every
//! state of clearance that it promises. Loading again changes nothing; a load that broke off goes on.

use std::collections::BTreeSet;
use std::path::PathBuf;

use serde_json::{Value, json};
use waybill_server::demo::{self, Loaded, Options};
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

/// Whose state must say what, and why. Kinds and states are the words of the API.
const PROMISED: [(&str, &str, &str, &str); 21] = [
    ("Wren Sallowfield", "person", "covered", ""),
    ("Pip Marrowby", "person", "gap", "guardian_missing"),
    ("Lark Pennifold", "person", "covered", "comes_of_age"),
    ("A club volunteer", "person", "gap", "face_must_be_blurred"),
    (
        "A club volunteer",
        "person",
        "gap",
        "clean_cover_undoes_blur",
    ),
    (
        "Hesper Quillfeather",
        "person",
        "covered",
        "withdrawal_requested",
    ),
    ("Mina Vellacourt", "person", "unknown", "age_unknown"),
    ("Rollo Harkaday", "person", "gap", "wrong_entity"),
    ("Tobiah Brackwater", "person", "gap", "unsigned"),
    ("Paper Lanterns at Ten", "music", "gap", "licence_unsigned"),
    (
        "Quickstep on the newsreel's sound",
        "music",
        "gap",
        "composition_missing",
    ),
    (
        "The Lighterman's Daughter",
        "music",
        "gap",
        "recording_missing",
    ),
    (
        "Launching the lifeboat, newsreel of 1954",
        "archive",
        "gap",
        "ends_too_early",
    ),
    (
        "The wave, filmed by a spectator on a telephone",
        "phone_video",
        "unknown",
        "start_unknown",
    ),
    (
        "Old boat on the mud, video found on the web",
        "web",
        "gap",
        "non_commercial_only",
    ),
    (
        "Front page, The Tallow Quay Packet",
        "newspaper",
        "gap",
        "ground_does_not_reach",
    ),
    (
        "Brine & Barrow Chandlery, sign on the boathouse",
        "brand",
        "gap",
        "ground_does_not_reach",
    ),
    (
        "Oystergate Ferries, logo on the regatta banner",
        "brand",
        "covered",
        "",
    ),
    ("The Herring Queen, mural", "artwork", "gap", "unsigned"),
    (
        "B003_C009.MOV",
        "unlogged_footage",
        "not_logged",
        "not_logged",
    ),
    (
        "“IMG_4471_WAVE_2.MP4”",
        "unknown_source",
        "unknown_source",
        "unknown_source",
    ),
];

/// Tables that a load fills, and the audit trail that would tell of any change.
const TABLES: [&str; 22] = [
    "users",
    "episodes",
    "scenes",
    "places",
    "people",
    "shoot_days",
    "assets",
    "music",
    "releases",
    "licences",
    "deliverables",
    "drives",
    "files",
    "copies",
    "cut_events",
    "log_entries",
    "cuts",
    "costs",
    "budgets",
    "custody_events",
    "issued_cue_sheets",
    "approvals",
];

fn options(test: &TestApp) -> Options {
    let exe = std::env::current_exe().expect("this test's own path");
    let programs = exe
        .parent()
        .and_then(|deps| deps.parent())
        .expect("the target folder");
    Options {
        folder: test.var().join("demo"),
        program: programs.join("waybill"),
        reset_passwords: false,
    }
}

async fn load(test: &TestApp) -> Loaded {
    demo::load(&test.app, &options(test))
        .await
        .unwrap_or_else(|error| panic!("{error:#}"))
}

/// Signs in with the printed address and password of a role.
async fn sign_in(test: &TestApp, loaded: &Loaded, user: &str) -> Client {
    let one = loaded
        .sign_ins
        .iter()
        .find(|one| one.email.starts_with(user));
    let one = one.expect("a sign-in for the role");
    let body = json!({ "email": one.email, "password": one.password });
    let reply = test
        .stranger()
        .post("/api/sign-in", &body)
        .await
        .expect(200);
    let cookie = reply.header("set-cookie").expect("a cookie");
    let session = cookie.split(';').next().expect("a session");
    test.stranger().with("cookie", session)
}

async fn rows(test: &TestApp, table: &str) -> i64 {
    let client = test.db.connect().await;
    let row = client
        .query_one(&format!("select count(*) from {table}"), &[])
        .await
        .expect("a count");
    row.get(0)
}

async fn all_rows(test: &TestApp) -> Vec<(&'static str, i64)> {
    let mut all = Vec::new();
    for table in TABLES {
        all.push((table, rows(test, table).await));
    }
    all
}

fn items(value: &Value) -> &[Value] {
    value["items"].as_array().map_or(&[], Vec::as_slice)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_demonstration_holds_what_it_promises() {
    let test = TestApp::bare().await;
    let loaded = load(&test).await;
    assert!(!loaded.was_there);
    let producer = sign_in(&test, &loaded, "producer@").await;
    let list = producer.get("/api/series").await.expect(200).value();
    let series = format!(
        "/api/series/{}",
        items(&list)[0]["id"].as_str().expect("a series")
    );
    let episodes = producer
        .get(&format!("{series}/episodes"))
        .await
        .expect(200)
        .value();
    let first = items(&episodes)
        .iter()
        .find(|one| one["number"] == 1)
        .expect("episode 1");
    let episode = format!("{series}/episodes/{}", first["id"].as_str().expect("an id"));

    let answer = producer
        .get(&format!("{episode}/clearance"))
        .await
        .expect(200)
        .value();
    promised(&answer);
    let report = producer
        .get(&format!("{episode}/report.json"))
        .await
        .expect(200)
        .value();
    reported(&report, &answer);

    let cuts = producer
        .get(&format!("{episode}/cuts"))
        .await
        .expect(200)
        .value();
    assert_eq!(items(&cuts).len(), 2);
    let cut = &items(&cuts)[0];
    assert_eq!(cut["cut_number"], 5);
    assert_eq!(
        (cut["locked"].as_bool(), cut["format"].as_str()),
        (Some(true), Some("edl"))
    );
    assert_eq!(cut["counts"]["unknown_sources"], 1, "{}", cut["counts"]);
    assert!(
        cut["counts"]["events"].as_i64().expect("a count") >= 80,
        "{}",
        cut["counts"]
    );

    let home = producer.get("/api/home").await.expect(200).value();
    assert!(
        home.to_string().contains("Publicity stills, 20"),
        "what is overdue: {home}"
    );
    // Lock week: what a series producer must find from here, each with its day.
    let listed = items(&home);
    for words in [
        "Hesper Quillfeather asked to withdraw",
        "Pip Marrowby, who is under 18, is signed by Jessamy Marrowby, aunt, not by a guardian",
        "Episode 1: Launching the lifeboat, newsreel of 1954 is cleared for free television",
        "on equal terms Foxglove Row Music",
    ] {
        let one = listed
            .iter()
            .find(|one| one["words"].to_string().contains(words));
        let one = one.unwrap_or_else(|| panic!("{words} is not on {home}"));
        assert_eq!(one["episode_id"], first["id"], "{one}");
        assert!(one["due_on"].is_string(), "{one}");
    }
    lock_week(&producer, &series, &episode, &answer).await;
    everybody_gets_in(&test, &loaded).await;
    many_true_files(&test).await;
    again(&test).await;
}

/// Each promised state with its reason, in the answer.
fn promised(answer: &Value) {
    let elements = answer["elements"].as_array().expect("elements");
    for (label, kind, state, code) in PROMISED {
        let found = elements.iter().find(|one| one["label"] == label);
        let found = found.unwrap_or_else(|| panic!("{label} is not in the answer"));
        assert_eq!(
            (&found["kind"], &found["state"]),
            (&json!(kind), &json!(state)),
            "{label}: {found}"
        );
        let reasons = found["reasons"].as_array().expect("reasons");
        let there = code.is_empty() || reasons.iter().any(|reason| reason["code"] == code);
        assert!(there, "{label} lacks {code}: {found}");
        if code == "ends_too_early" {
            // Source: rulebook R2: three years from signature are 264 days short; a leap day moves it by one.
            let sentence = found.to_string();
            assert!(
                (263..=265).any(|days| sentence.contains(&format!("{days} days"))),
                "{sentence}"
            );
        }
    }
    assert_eq!(answer["blocked"], true);
}

/// What a later cut does to what was sent and approved, the money, and the drives.
async fn lock_week(producer: &Client, series: &str, episode: &str, answer: &Value) {
    let read = async |path: String| producer.get(&path).await.expect(200).value();
    let sheet = read(format!("{episode}/cue-sheet")).await;
    let age = &sheet["since_issued"];
    assert_eq!(age["stale"], true, "{age}");
    let reasons = age["reasons"].to_string();
    assert!(
        reasons.contains("_v4") && reasons.contains("locked now is"),
        "{reasons}"
    );
    let titles: Vec<&str> = (age["changes"].as_array().expect("changes").iter())
        .filter_map(|change| change["title"].as_str())
        .collect();
    assert_eq!(titles, ["Paper Lanterns at Ten", "Tide Table"], "{age}");

    let approval = &answer["approval"];
    assert_eq!(approval["self_approved"], false, "{approval}");
    assert_eq!(approval["complete"], false);
    let reopened: Vec<&str> = (approval["reopened"].as_array().expect("reopened").iter())
        .filter_map(|one| one["label"].as_str())
        .collect();
    assert!(reopened.contains(&"Abel Dunmallet"), "{approval}");
    assert!(!reopened.contains(&"Wren Sallowfield"), "{approval}");

    // Source: rulebook R11: the publisher on equal terms goes from 1,200 to the recording's 1,500. By hand: the budget
    // of 5,400 less 1,180 + 640 + 50 + 1,500 + 1,200 + 300 + 400 leaves 130, and less the 300 of equal terms −170.
    let money = read(format!("{series}/cost-summary")).await;
    assert_eq!(money["equal_terms"][0]["more_minor"], 30_000, "{money}");
    assert_eq!(money["lines"][0]["left_minor"], -17_000, "{money}");
    // By hand: theme and font for the series, 4,500 + 320, in six equal parts; two pence are left for the first two.
    assert_eq!(money["lines"][0]["shared_minor"], 80_334, "{money}");
    assert_eq!(money["differences"], json!([]), "{money}");

    let showings = read(format!("{series}/showings")).await;
    let repeat = items(&showings).iter().find(|one| one["repeat"] == true);
    let id = repeat.and_then(|one| one["id"].as_str()).expect("a repeat");
    let then = read(format!("{series}/showings/{id}/findings")).await;
    let lapsed: Vec<&str> = (then["not_cleared"].as_array().expect("a list").iter())
        .filter(|one| one["lapsed"] == true)
        .filter_map(|one| one["label"].as_str())
        .collect();
    assert!(
        lapsed.contains(&"Launching the lifeboat, newsreel of 1954"),
        "{then}"
    );

    let drives = read(format!("{series}/drives")).await;
    let places: BTreeSet<&str> = (items(&drives).iter())
        .filter_map(|drive| drive["place"].as_str())
        .collect();
    assert!(places.len() > 1, "{places:?}");
}

/// The report says of each promised element the same, in words.
fn reported(report: &Value, answer: &Value) {
    let rows = report["rows"].as_array().expect("rows");
    assert_eq!(
        Some(rows.len()),
        answer["elements"].as_array().map(Vec::len)
    );
    for (label, _, state, code) in PROMISED {
        let row = rows.iter().find(|row| row["label"] == label);
        let row = row.unwrap_or_else(|| panic!("{label} is not in the report"));
        assert_eq!(row["state"], state, "{row}");
        let element = answer["elements"]
            .as_array()
            .expect("elements")
            .iter()
            .find(|one| one["label"] == label);
        let reasons = element.expect("in the answer")["reasons"]
            .as_array()
            .expect("reasons");
        for reason in reasons.iter().filter(|reason| reason["code"] == code) {
            let sentence = reason["sentence"].as_str().expect("a sentence");
            assert!(
                row.to_string().contains(&json!(sentence).to_string()),
                "{sentence} is not in {row}"
            );
        }
    }
}

async fn everybody_gets_in(test: &TestApp, loaded: &Loaded) {
    let text = loaded.text("http://localhost:8790/");
    for one in &loaded.sign_ins {
        assert!(
            text.contains(&one.email) && text.contains(&one.password),
            "{text}"
        );
        let client = sign_in(test, loaded, &one.email).await;
        let me = client.get("/api/me").await.expect(200).value();
        assert_eq!(me["series"][0]["roles"], json!(one.roles), "{}", one.email);
    }
    let roles: usize = loaded.sign_ins.iter().map(|one| one.roles.len()).sum();
    assert_eq!(roles, waybill_domain::perms::Role::ALL.len());
}

/// Two drives with the same rolls, one roll on one drive only, and at least 200 media files.
async fn many_true_files(test: &TestApp) {
    let client = test.db.connect().await;
    let count = async |sql: &str| -> i64 { client.query_one(sql, &[]).await.expect(sql).get(0) };
    assert!(
        count("select count(*) from files where start_frame is not null and kind <> 'other'").await
            >= 200
    );
    let copied = "select count(*) from (select file_id from copies group by file_id having count(*) = 2) as twice";
    assert!(count(copied).await >= 200);
    let alone = "select count(distinct k.name) from cards k join files f on f.card_id = k.id \
                 where (select count(*) from copies c where c.file_id = f.id) = 1";
    assert_eq!(count(alone).await, 1);
    assert_eq!(count("select count(*) from cards").await, 18);
    assert_eq!(
        count("select count(*) from cards where shoot_day_id is null").await,
        0
    );
    assert_eq!(
        count("select count(*) from cards where state = 'wiped'").await,
        1
    );
}

/// Loading again changes nothing; without the note that all is there, everything is found there one by one.
async fn again(test: &TestApp) {
    let (before, audit) = (all_rows(test).await, rows(test, "audit").await);
    let second = load(test).await;
    assert!(second.was_there);
    assert_eq!(
        (all_rows(test).await, rows(test, "audit").await),
        (before.clone(), audit)
    );
    let client = test.db.connect().await;
    let forget = "delete from server_facts where name = 'demo_loaded'";
    client.execute(forget, &[]).await.expect("the note is gone");
    let third = load(test).await;
    assert!(!third.was_there);
    assert_eq!(all_rows(test).await, before);

    let reset = Options {
        reset_passwords: true,
        ..options(test)
    };
    let text = "update users set password_hash = 'gone'";
    client.execute(text, &[]).await.expect("passwords are gone");
    let last = demo::load(&test.app, &reset)
        .await
        .unwrap_or_else(|error| panic!("{error:#}"));
    sign_in(test, &last, "edit@")
        .await
        .get("/api/me")
        .await
        .expect(200);
}

/// A server where others work is left alone.
#[tokio::test]
async fn the_demonstration_stays_away_from_other_people() {
    let test = TestApp::start().await;
    test.admin().await;
    let users = rows(&test, "users").await;
    let refused = demo::load(&test.app, &options(&test))
        .await
        .expect_err("refused");
    assert!(
        refused.to_string().contains("people work on this server"),
        "{refused}"
    );
    assert_eq!(rows(&test, "users").await, users);
}

/// Without the command nothing is begun.
#[tokio::test]
async fn a_missing_command_is_said_before_anything_is_made() {
    let test = TestApp::bare().await;
    let options = Options {
        program: PathBuf::from("/nowhere/waybill"),
        ..options(&test)
    };
    let refused = demo::load(&test.app, &options).await.expect_err("refused");
    assert!(
        refused.to_string().contains("/nowhere/waybill"),
        "{refused}"
    );
    assert_eq!(rows(&test, "users").await, 0);
}
