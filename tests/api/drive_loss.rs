//! What if a drive dies; what to copy so that nothing stands on one copy; how well footage is kept; names of cards.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};
use waybill_tests::http::Client;

use crate::api::footage::{ROLL, clip, send};
use crate::api::scans::{clips, start};
use crate::api::verify::drive;

/// Sets fields of a drive.
async fn set(client: &Client, series: &str, label: &str, fields: &Value) -> String {
    let id = drive(client, series, label).await;
    let at = format!("/api/series/{series}/drives/{id}");
    let there = client.get(&at).await.expect(200).value();
    let mut body = serde_json::Map::new();
    for name in [
        "label",
        "kind",
        "status",
        "place",
        "capacity_bytes",
        "free_bytes",
        "bought_on",
        "next_check_on",
    ] {
        body.insert(name.into(), there[name].clone());
    }
    for (name, value) in fields.as_object().expect("fields") {
        body.insert(name.clone(), value.clone());
    }
    let version = there["version"].as_i64().expect("a version");
    client
        .put(&at, version, &Value::Object(body))
        .await
        .expect(200);
    id
}

async fn get(client: &Client, series: &str, rest: &str) -> Value {
    let reply = client.get(&format!("/api/series/{series}/{rest}")).await;
    reply.expect(200).value()
}

#[tokio::test]
async fn the_answer_is_that_of_a_count_file_by_file() {
    let (_test, admin, series) = start().await;
    // which of 40 files lie on which of four drives: fixed, and without a pattern that a query could guess
    let mut on = BTreeMap::<usize, Vec<usize>>::new();
    for file in 0..40 {
        let bits = (file * 7 + file * file * 3) % 16;
        on.insert(
            file,
            (0..4).filter(|drive| bits >> drive & 1 == 1).collect(),
        );
    }
    let roll = |file: usize| format!("2028030{}_A00{}_CAMA_QUAY", file % 3 + 1, file % 3 + 1);
    let content = |file: usize| format!("picture {file} {}", "x".repeat(file));
    let mut ids = Vec::new();
    for drive_number in 0..4 {
        let files: Vec<Value> = (0..40)
            .filter(|file| on[file].contains(&drive_number))
            .map(|file| clip(&format!("{}/C{file:03}.mov", roll(file)), &content(file)))
            .collect();
        let label = format!("QUAY {drive_number}");
        send(&admin, &series, &label, &files).await;
        let place = ["office", "office", "home", ""][drive_number];
        ids.push(set(&admin, &series, &label, &json!({ "place": place })).await);
    }
    for dead in [vec![0], vec![1, 2], vec![0, 1, 2, 3], vec![3]] {
        let wanted: BTreeSet<usize> = dead.iter().copied().collect();
        let (mut gone, mut single) = ((0, 0), (0, 0));
        for (file, drives) in &on {
            let left = drives
                .iter()
                .filter(|drive| !wanted.contains(drive))
                .count();
            let hit = drives.iter().any(|drive| wanted.contains(drive));
            let bytes = content(*file).len();
            match (hit, left) {
                (true, 0) => gone = (gone.0 + 1, gone.1 + bytes),
                (true, 1) => single = (single.0 + 1, single.1 + bytes),
                _ => {}
            }
        }
        let list: Vec<&str> = dead
            .iter()
            .map(|drive: &usize| ids[*drive].as_str())
            .collect();
        let query = format!("drives={}", list.join(","));
        let answer = get(&admin, &series, &format!("what-if?{query}")).await;
        assert_eq!(
            answer["gone"],
            json!({ "files": gone.0, "bytes": gone.1 }),
            "{dead:?}"
        );
        assert_eq!(
            answer["single"],
            json!({ "files": single.0, "bytes": single.1 }),
            "{dead:?}"
        );
        let files = get(&admin, &series, &format!("what-if/files?{query}")).await;
        assert_eq!(files["items"].as_array().map(Vec::len), Some(gone.0));
        let files = get(
            &admin,
            &series,
            &format!("what-if/files?{query}&single=true"),
        )
        .await;
        assert_eq!(files["items"].as_array().map(Vec::len), Some(single.0));
        let by_card: u64 = answer["cards"]
            .as_array()
            .expect("cards")
            .iter()
            .filter_map(|card| card["gone"]["files"].as_u64())
            .sum();
        assert_eq!(by_card, gone.0 as u64);
    }
    let fire = get(&admin, &series, "what-if?place=Office").await;
    let pair = get(
        &admin,
        &series,
        &format!("what-if?drives={},{}", ids[0], ids[1]),
    )
    .await;
    assert_eq!(
        (&fire["gone"], &fire["lost"]),
        (&pair["gone"], &pair["lost"])
    );
    let odds = &fire["odds"];
    assert!(
        (odds["any"].as_f64().expect("a share") - 0.0613).abs() < 0.0001,
        "1 - 0.9843^4"
    );
    assert!(
        odds["caution"]
            .as_str()
            .is_some_and(|text| text.contains("population"))
    );
    let csv = admin
        .get(&format!(
            "/api/series/{series}/what-if/files.csv?place=office"
        ))
        .await
        .expect(200);
    assert_eq!(
        csv.text().lines().count() as u64,
        fire["gone"]["files"].as_u64().expect("a count") + 1
    );
}

#[tokio::test]
async fn the_plan_leaves_nothing_on_one_copy_or_says_why() {
    let (_test, admin, series) = start().await;
    let mut first = clips(3);
    first.push(clip("20280310_A002_CAMA_SHED/C001.mov", "alone"));
    send(&admin, &series, "QUAY 1", &first).await;
    send(&admin, &series, "QUAY 2", &clips(3)).await;
    let plan = get(&admin, &series, "copy-plan").await;
    assert_eq!(plan["wanted"], json!({ "files": 1, "bytes": 5 }));
    assert_eq!(plan["placed"]["files"], 0);
    assert!(
        plan["steps"][0]["why_not"]
            .as_str()
            .is_some_and(|why| why.contains("known free space")),
        "{plan}"
    );
    assert_eq!(plan["room_unknown"].as_array().map(Vec::len), Some(2));
    set(&admin, &series, "QUAY 1", &json!({ "place": "office" })).await;
    let room = json!({ "place": "office", "capacity_bytes": 1000, "free_bytes": 200 });
    set(&admin, &series, "QUAY 2", &room).await;
    let plan = get(&admin, &series, "copy-plan").await;
    assert_eq!(plan["placed"], plan["wanted"]);
    assert_eq!(plan["steps"][0]["to"]["label"], "QUAY 2");
    let apart = get(&admin, &series, "copy-plan?apart=true").await;
    assert!(
        apart["steps"][0]["why_not"]
            .as_str()
            .is_some_and(|why| why.contains("another place")),
        "{apart}"
    );
    // a tenth is kept free: 104 - 100 leave less than 5
    set(&admin, &series, "QUAY 2", &json!({ "free_bytes": 104 })).await;
    let plan = get(&admin, &series, "copy-plan").await;
    assert_eq!(plan["placed"]["files"], 0, "{plan}");
}

/// R39's example through the API: two hard disks in the office and one at home fail "two media".
#[tokio::test]
async fn a_card_is_kept_as_well_as_the_worst_of_its_files() {
    let (_test, admin, series) = start().await;
    for (label, place) in [
        ("QUAY 1", "office"),
        ("QUAY 2", "office"),
        ("QUAY 3", "home"),
    ] {
        send(&admin, &series, label, &clips(2)).await;
        let kept = json!({ "kind": "hdd", "place": place, "next_check_on": "2029-06-01" });
        set(&admin, &series, label, &kept).await;
    }
    let cards = get(&admin, &series, "cards").await;
    let card = cards["items"][0]["id"].as_str().expect("an id").to_owned();
    let kept = get(&admin, &series, &format!("cards/{card}/keeping")).await["kept"].clone();
    assert_eq!(
        kept["three_two_one"],
        json!({ "copies": 3, "media": 1, "off_site": 1 })
    );
    assert_eq!(
        (&kept["failing"], &kept["ladder"]["level"]),
        (&json!(["two media"]), &json!(3))
    );
    let all = get(&admin, &series, "keeping").await;
    assert_eq!(all["cards"][0]["kept"], kept);
    // one more file of the card, on one drive: the card is as bad as that file
    let mut more = clips(2);
    more.push(clip(&format!("{ROLL}/CLIPS/A001C009.mov"), "late"));
    send(&admin, &series, "QUAY 1", &more).await;
    let kept = get(&admin, &series, &format!("cards/{card}/keeping")).await["kept"].clone();
    assert_eq!(kept["three_two_one"]["copies"], 1);
    assert_eq!(kept["ladder"]["level"], 0);
}

#[tokio::test]
async fn names_are_checked_among_each_other_and_a_renaming_is_only_offered() {
    let (_test, admin, series) = start().await;
    let files = [
        clip("20280309_A001_CAMA_QUAY/C1.mov", "one"),
        clip("20280310_A003_CAMA_QUAY/C1.mov", "two"),
        clip("20281403_A004_CAMA_QUAY/C1.mov", "three"),
    ];
    send(&admin, &series, "QUAY 1", &files).await;
    let names = get(&admin, &series, "roll-names").await;
    let all = names["problems"].to_string();
    assert!(
        all.contains("1 number is missing") && all.contains("swapped"),
        "{all}"
    );
    assert_eq!(names["renamings"][0]["new"], "20280314_A004_CAMA_QUAY");
    assert!(names["script"].as_str().is_some_and(|text| {
        text.contains("rename '20281403_A004_CAMA_QUAY' '20280314_A004_CAMA_QUAY'")
    }));
    let cards = get(&admin, &series, "cards").await.to_string();
    assert!(
        cards.contains("20281403_A004_CAMA_QUAY"),
        "nothing is renamed"
    );
}

const SWAPPED: &str = "20281403_A004_CAMA_QUAY";
const RIGHT: &str = "20280314_A004_CAMA_QUAY";

/// Ids and days of the cards by name.
async fn cards_by_name(client: &Client, series: &str) -> BTreeMap<String, (Value, Value)> {
    let cards = get(client, series, "cards").await;
    let cards = cards["items"].as_array().expect("cards").iter();
    let of = |card: &Value| (card["id"].clone(), card["shot_on"].clone());
    cards
        .map(|card| (card["name"].as_str().expect("a name").to_owned(), of(card)))
        .collect()
}

#[tokio::test]
async fn a_card_renamed_here_is_the_same_card_when_its_folder_is() {
    let (_test, admin, series) = start().await;
    let at = format!("/api/series/{series}/roll-names");
    let change = |old: &str, new: &str| json!({ "renamings": [{ "old": old, "new": new }] });
    let old = [
        clip("20280309_A003_CAMA_QUAY/C1.mov", "two"),
        clip(&format!("{SWAPPED}/C1.mov"), "three"),
    ];
    let new = [old[0].clone(), clip(&format!("{RIGHT}/C1.mov"), "three")];
    send(&admin, &series, "QUAY 1", &old).await;
    let first = cards_by_name(&admin, &series).await;
    assert!(first[SWAPPED].1.is_null());

    let taken = change(SWAPPED, "20280309_A003_CAMA_QUAY");
    let refused = admin.post(&at, &taken).await.expect(409);
    assert!(refused.text().contains("Another card is called"));
    let names = admin.post(&at, &change(SWAPPED, RIGHT)).await.expect(200);
    assert_eq!(names.value()["problems"], json!([]));
    send(&admin, &series, "QUAY 1", &new).await;
    let then = cards_by_name(&admin, &series).await;
    assert_eq!(then.len(), 2);
    assert_eq!(then[RIGHT], (first[SWAPPED].0.clone(), json!("2028-03-14")));

    // back; then the folder's scan comes before the card's new name, and makes a bare card that gives way
    admin.post(&at, &change(RIGHT, SWAPPED)).await.expect(200);
    let more = [&new[..], &[clip("20280310_A005_CAMA_QUAY/C1.mov", "four")]].concat();
    send(&admin, &series, "QUAY 1", &more).await;
    assert!(cards_by_name(&admin, &series).await.contains_key(RIGHT));
    let names = get(&admin, &series, "roll-names").await;
    assert_eq!(names["renamings"][0]["new"], RIGHT);
    admin.post(&at, &change(SWAPPED, RIGHT)).await.expect(200);
    let last = cards_by_name(&admin, &series).await;
    assert_eq!(last[RIGHT], then[RIGHT]);
    assert!(!last.contains_key(SWAPPED));
    let gone = admin.post(&at, &change(SWAPPED, RIGHT)).await.expect(409);
    assert!(gone.text().contains("There is no card"));
}
