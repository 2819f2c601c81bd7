//! Scans of drives: what comes in is what is known, sending again is harmless, what is lost is said.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::footage::{ROLL, Scan, body, clip, entry, send, warnings};

pub async fn start() -> (TestApp, Client, String) {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    (test, admin, series)
}

pub fn clips(count: usize) -> Vec<Value> {
    let name = |n| format!("{ROLL}/CLIPS/A001C{n:03}.mov");
    (1..=count)
        .map(|n| clip(&name(n), &format!("picture {n}")))
        .collect()
}

pub async fn one(test: &TestApp, sql: &str) -> i64 {
    test.db
        .connect()
        .await
        .query_one(sql, &[])
        .await
        .expect("a count")
        .get(0)
}

#[tokio::test]
async fn a_scan_makes_files_copies_a_card_and_a_drive() {
    let (test, admin, series) = start().await;
    let summary = send(&admin, &series, "QUAY 1", &clips(3)).await;
    assert_eq!(
        (
            &summary["new_files"],
            &summary["known_files"],
            &summary["new_copies"],
            &summary["cards_made"]
        ),
        (&json!(3), &json!(0), &json!(3), &json!(1))
    );
    assert!(
        warnings(&summary).contains("9 Mar 2028"),
        "no shoot day is entered: {summary}"
    );
    let cards = admin
        .get(&format!("/api/series/{series}/cards"))
        .await
        .expect(200)
        .value();
    let card = &cards["items"][0];
    assert_eq!(
        (
            &card["name"],
            &card["camera"],
            &card["number"],
            &card["shot_on"],
            &card["state"]
        ),
        (
            &json!(ROLL),
            &json!("CAMA"),
            &json!("A001"),
            &json!("2028-03-09"),
            &json!("offloading")
        )
    );
    let scans = admin
        .get(&format!("/api/series/{series}/scans"))
        .await
        .expect(200)
        .value();
    let scan = &scans["items"][0];
    assert_eq!(
        (&scan["state"], &scan["files"], &scan["bytes"]),
        (&json!("complete"), &json!(3), &json!(27))
    );
    let lines = "select count(*) from audit where subject_kind in ('drive', 'card', 'scan')";
    // the drive is made and its next check is set; the card is made; the scan is complete
    assert_eq!(one(&test, lines).await, 4);
    assert_eq!(
        one(
            &test,
            "select count(*) from scan_chunks where copies is not null"
        )
        .await,
        0
    );
}

#[tokio::test]
async fn a_second_scan_changes_nothing_whatever_the_case_of_the_label() {
    let (test, admin, series) = start().await;
    const ALL: &str = "select hashtext(string_agg(t, '|'))::int8 from (select f::text as t from files f \
        union all select c::text from copies c union all select d::text from drives d \
        union all select k::text from cards k order by 1) x";
    send(&admin, &series, "QUAY 1", &clips(3)).await;
    let before = one(&test, ALL).await;
    let again = Scan::new(&admin, &series, "quay 1", "QUAY 1")
        .send(&clips(3))
        .await;
    assert_eq!(
        (
            &again["new_files"],
            &again["known_files"],
            &again["new_copies"]
        ),
        (&json!(0), &json!(3), &json!(0))
    );
    assert_eq!(one(&test, ALL).await, before);
}

#[tokio::test]
async fn every_step_may_be_repeated_and_another_content_is_refused() {
    let (test, admin, series) = start().await;
    let all = clips(4);
    let chunks = [body(&all[..2]), body(&all[2..])];
    let scan = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
    scan.begin().await.expect(200);
    scan.chunk(1, &chunks[1]).await.problem(409, "conflict");
    scan.chunk(0, &chunks[0]).await.expect(200);
    let next = scan.chunk(0, &chunks[0]).await.expect(200).value();
    assert_eq!(next["next_chunk"], 1);
    scan.chunk(0, &chunks[1]).await.problem(409, "conflict");
    assert_eq!(scan.begin().await.expect(200).value()["next_chunk"], 1);
    let early = scan.complete(4, &chunks).await.problem(409, "conflict");
    assert!(
        early["detail"]
            .as_str()
            .is_some_and(|text| text.contains("2 came")),
        "{early}"
    );
    scan.chunk(1, &chunks[1]).await.expect(200);
    let other = [chunks[1].clone(), chunks[0].clone()];
    scan.complete(4, &other).await.problem(409, "conflict");
    let summary = scan.complete(4, &chunks).await.expect(200).value();
    assert_eq!(scan.complete(4, &chunks).await.expect(200).value(), summary);
    assert_eq!(scan.begin().await.expect(200).value()["complete"], true);
    scan.chunk(2, &chunks[0]).await.problem(409, "conflict");
    assert_eq!(one(&test, "select count(*) from copies").await, 4);
}

/// The later chunk may come first, wait for the earlier, or overtake it and be sent again: what is known in the end is
/// the same, and each card is told of once.
#[tokio::test]
async fn chunks_under_way_at_once_leave_what_one_after_the_other_leaves() {
    const ALL: &str = "select hashtext(string_agg(t, '|'))::int8 from ( \
        select concat(f.name, f.xxh128, k.name, o.words) as t from files f left join cards k on k.id = f.card_id \
            join folders o on o.key = f.folder \
        union all select concat(c.path, f.xxh128, c.state) from copies c join files f on f.id = c.file_id \
        union all select concat(k.name, k.files, k.bytes) from cards k \
        union all select concat(h.drives <> '{}', sum(h.files), sum(h.bytes)) from holdings h \
            group by h.drives <> '{}' having sum(h.files) <> 0 \
        union all select concat(a.action, a.subject_kind, count(*)) from audit a \
            where a.subject_kind = 'card' group by a.action, a.subject_kind order by 1) x";
    // a card in two chunks, contents that come twice, new folders and names in each
    let entries: Vec<Value> = (0..60)
        .map(|n| {
            let roll = format!("20280309_A{:03}_CAMA_SLIPWAY", 1 + n / 8);
            entry(
                &format!("{roll}/{}/C{:03}.mov", n / 3, n % 16),
                &format!("picture {}", n % 50),
            )
        })
        .collect();
    let chunks: Vec<Vec<u8>> = entries.chunks(5).map(body).collect();
    let mut left = Vec::new();
    for at_once in [1, 2, 2, 2] {
        let (test, admin, series) = start().await;
        let scan = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
        scan.begin().await.expect(200);
        // long before its turn: refused, and nothing of it is told
        scan.chunk(1, &chunks[1]).await.problem(409, "conflict");
        for (at, pair) in chunks.chunks(at_once).enumerate() {
            let first = at * at_once;
            let second = async {
                match pair.get(1) {
                    Some(body) => Some(scan.chunk(first + 1, body).await),
                    None => None,
                }
            };
            let (one, other) = tokio::join!(scan.chunk(first, &pair[0]), second);
            one.expect(200);
            match other {
                Some(reply) if reply.status == 409 => {
                    scan.chunk(first + 1, &pair[1]).await.expect(200);
                }
                Some(reply) => drop(reply.expect(200)),
                None => {}
            }
        }
        let summary = scan.complete(60, &chunks).await.expect(200).value();
        let told = [
            &summary["new_files"],
            &summary["known_files"],
            &summary["new_copies"],
            &summary["cards_made"],
        ];
        assert_eq!(told, [50, 0, 60, 8]);
        left.push(one(&test, ALL).await);
    }
    assert!(left.iter().all(|one| *one == left[0]), "{left:?}");
}

#[tokio::test]
async fn bad_input_is_refused_whole() {
    let (test, admin, series) = start().await;
    let mut scan = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
    scan.start["file_count"] = 0.into();
    scan.begin().await.problem(422, "invalid");
    scan.start["file_count"] = 2.into();
    scan.start["hashes"] = json!(["md5"]);
    let fault = scan.begin().await.problem(422, "invalid");
    assert_eq!(fault["errors"][0]["pointer"], "/hashes");
    assert_eq!(one(&test, "select count(*) from drives").await, 0);
    scan.start["hashes"] = json!(["xxh128"]);
    scan.begin().await.expect(200);
    let sound = clip(&format!("{ROLL}/a.mov"), "a");
    let mut no_hash = sound.clone();
    no_hash["hashes"] = json!({ "md5": "900150983cd24fb0d6963f7d28e17f72" });
    let mut outside = sound.clone();
    outside["path"] = json!(["..", "a.mov"]);
    for bad in [no_hash, outside, sound.clone(), json!({ "path": ["a"] })] {
        let fault = scan
            .chunk(0, &body(&[sound.clone(), bad]))
            .await
            .problem(400, "bad_request");
        assert!(
            fault["detail"]
                .as_str()
                .is_some_and(|text| text.contains("ine 2")),
            "{fault}"
        );
    }
    let damaged = scan.at(&format!("chunks/0?digest={}", "0".repeat(64)));
    admin
        .send("PUT", &damaged, &[], &body(&[sound]))
        .await
        .problem(400, "bad_request");
    scan.chunk(0, &vec![b' '; 9 << 20])
        .await
        .problem(413, "too_large");
    assert_eq!(one(&test, "select count(*) from files").await, 0);
    scan.complete(0, &[]).await.problem(409, "unsafe_state");
    assert_eq!(one(&test, "select count(*) from scans").await, 0);
}

#[tokio::test]
async fn shoot_days_say_what_did_not_arrive() {
    let (_test, admin, series) = start().await;
    let day =
        json!({ "day": "2028-03-09", "title": "Launch", "place_ids": [], "cards_expected": 2 });
    admin
        .post(&format!("/api/series/{series}/shoot-days"), &day)
        .await
        .expect(201);
    let later =
        json!({ "day": "2030-03-09", "title": "Later", "place_ids": [], "cards_expected": 2 });
    admin
        .post(&format!("/api/series/{series}/shoot-days"), &later)
        .await
        .expect(201);
    let summary = send(&admin, &series, "QUAY 1", &clips(3)).await;
    assert!(!warnings(&summary).contains("no shoot day"), "{summary}");
    let arrivals = admin
        .get(&format!("/api/series/{series}/arrivals"))
        .await
        .expect(200)
        .value();
    assert_eq!(
        arrivals["items"].as_array().map(Vec::len),
        Some(1),
        "a day to come owes nothing"
    );
    let first = &arrivals["items"][0];
    assert_eq!(
        (
            &first["expected"],
            &first["arrived"],
            &first["two_copies"],
            &first["missing"]
        ),
        (&json!(2), &json!(1), &json!(0), &json!(1))
    );
}

#[tokio::test]
async fn odd_names_are_kept_and_said() {
    let (_test, admin, series) = start().await;
    let odd = [
        entry("20281309_B001_CAMB_X/a", "a"),
        entry("20280309_b002_CAMB_pier/b", "b"),
        entry("Fähre 100%/Übung \u{1F6A2} 'x'.txt", "c"),
    ];
    let summary = send(&admin, &series, "QUAY 1", &odd).await;
    let said = warnings(&summary);
    for part in [
        "20281309 is not a date",
        "'b' is not allowed",
        "no folder named by the pattern",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let found = admin
        .get(&format!("/api/series/{series}/files?q=fahre%20100%25"))
        .await
        .expect(200)
        .value();
    assert_eq!(
        found["items"][0]["copies"][0]["path"],
        "QUAY 1/Fähre 100%/Übung \u{1F6A2} 'x'.txt"
    );
}

#[tokio::test]
async fn only_those_who_may_send_or_see() {
    let (test, _admin, series) = start().await;
    let music = test
        .person("Mo Music", &series, &[Role::MusicSupervisor])
        .await;
    let editor = test.person("Ed Editor", &series, &[Role::Editor]).await;
    let counsel = test.person("Coe Counsel", &series, &[Role::Counsel]).await;
    let nobody = test.person("No Body", &series, &[]).await;
    send(&editor, &series, "QUAY 1", &clips(1)).await;
    Scan::new(&counsel, &series, "QUAY 1", "X")
        .begin()
        .await
        .problem(403, "not_allowed");
    Scan::new(&nobody, &series, "QUAY 1", "X")
        .begin()
        .await
        .problem(404, "not_found");
    for path in ["scans", "files", "log", "arrivals"] {
        let path = format!("/api/series/{series}/{path}");
        counsel.get(&path).await.expect(200);
        music.get(&path).await.problem(403, "not_allowed");
        nobody.get(&path).await.problem(404, "not_found");
        test.stranger()
            .get(&path)
            .await
            .problem(401, "unauthenticated");
    }
}

#[tokio::test]
async fn a_card_copied_twice_under_two_names_says_whose_content_it_holds() {
    const OTHER: &str = "20280309_A002_CAMA_SLIPWAY";
    let (_test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(3)).await;
    let again: Vec<Value> = (1..=3)
        .map(|n| {
            clip(
                &format!("{OTHER}/CLIPS/A001C{n:03}.mov"),
                &format!("picture {n}"),
            )
        })
        .collect();
    let summary = send(&admin, &series, "QUAY 2", &again).await;
    assert!(
        warnings(&summary).contains(
            "3 of its files have the same content as files of another card and stay with that one"
        ),
        "{summary}"
    );
    let cards = admin
        .get(&format!("/api/series/{series}/cards"))
        .await
        .expect(200)
        .value();
    let id = |name: &str| {
        let mut all = cards["items"].as_array().expect("a list").iter();
        all.find(|card| card["name"] == name).expect("it was made")["id"].clone()
    };
    let keeping = async |name: &str| {
        let card = id(name);
        let at = format!(
            "/api/series/{series}/cards/{}/keeping",
            card.as_str().expect("an id")
        );
        admin.get(&at).await.expect(200).value()
    };
    let other = keeping(OTHER).await;
    assert_eq!(
        other,
        json!({ "kept": null, "elsewhere": [{ "card_id": id(ROLL), "name": ROLL, "files": 3 }] })
    );
    let own = keeping(ROLL).await;
    assert_eq!(
        (&own["elsewhere"], &own["kept"]["amount"]["files"]),
        (&json!([]), &json!(3))
    );
}
