//! Migration 0014 gives every file that is there a folder and a name. Tried on rows: a catalogue is taken back to
//! before it, in the form that the program of that time wrote, and forward again; then back and forward once more.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde_json::{Value, json};
use tokio_postgres::Client as Database;
use waybill_domain::footage::words::fold;
use waybill_server::db::migrate;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use super::rows;
use crate::api::footage::{ROLL, Scan, clip, entry};

/// The step that is tried.
const STEP: &str = "0014";

/// Takes steps back until the one before [`STEP`] is the last.
async fn back(database: &Database) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations");
    let mut steps: Vec<String> = std::fs::read_dir(&folder)
        .expect("the migrations")
        .filter_map(|entry| entry.expect("a folder").file_name().into_string().ok())
        .filter(|name| name.as_str() >= STEP && name.starts_with('0'))
        .collect();
    steps.sort_unstable();
    for step in steps.iter().rev() {
        let sql = std::fs::read_to_string(folder.join(step).join("down.sql")).expect("a way back");
        let done = format!(
            "begin; {sql}; delete from __diesel_schema_migrations where version = '{}'; commit",
            step.split('_').next().unwrap_or_default()
        );
        database
            .batch_execute(&done)
            .await
            .unwrap_or_else(|error| panic!("{step}: {error}"));
    }
}

/// What a search of all pages finds.
async fn found(client: &Client, series: &str, q: &str) -> BTreeSet<String> {
    let query: String = url::form_urlencoded::Serializer::new(String::new())
        .append_pair("q", q)
        .append_pair("limit", "500")
        .finish();
    let page = client
        .get(&format!("/api/series/{series}/files?{query}"))
        .await
        .expect(200)
        .value();
    assert_eq!(page["read_as"], json!([]), "{q}");
    let items = page["items"].as_array().expect("a list").iter();
    items
        .map(|item| item["id"].as_str().expect("an id").to_owned())
        .collect()
}

/// Each file with the text in which the program of that time looked for words: the first path, then the reel.
async fn written(database: &Database) -> BTreeMap<String, String> {
    let sql = "select f.id::text, (select c.path from copies c where c.file_id = f.id order by c.id limit 1), f.reel \
         from files f";
    let rows = database.query(sql, &[]).await.expect("files");
    rows.iter()
        .map(|row| {
            let text = format!("{} {}", row.get::<_, String>(1), row.get::<_, String>(2));
            (row.get(0), fold(&text))
        })
        .collect()
}

async fn write(database: &Database, folded: &BTreeMap<String, String>) {
    for (id, text) in folded {
        database
            .execute(
                "update files set folded = $2 where id::text = $1",
                &[id, text],
            )
            .await
            .expect("a row");
    }
}

/// Drives as they come: a card on two of them, names of every kind, a copy under another name on the second.
async fn fill(client: &Client, series: &str) {
    let takes = [
        clip(&format!("{ROLL}/A001C001.mov"), "1"),
        clip(&format!("{ROLL}/A001C002.mov"), "2"),
        clip("20280310_A002_CAMA_HARBOUR/SUB/A002C001.mov", "3"),
        entry("harbour sound/Ängström 7.wav", "4"),
        entry("harbour sound/take  9.WAV", "5"),
        entry("100% ready/a_1 (final).txt", "6"),
        entry("notes/notes", "7"),
        entry("loose.txt", "8"),
        entry("Łódź/łódka.mov", "9"),
    ];
    Scan::new(client, series, "QUAY 1", "QUAY 1")
        .send(&takes)
        .await;
    second(client, series).await;
}

async fn second(client: &Client, series: &str) {
    let copies = [
        clip(&format!("{ROLL}/A001C001.mov"), "1"),
        entry("renamed/seagulls.wav", "4"),
        entry("renamed/only here.txt", "10"),
    ];
    Scan::new(client, series, "QUAY 2", "RUSHES")
        .send(&copies)
        .await;
}

const ASKED: [&str; 20] = [
    "a001",
    "slipway",
    "A001C001.mov",
    "harbour",
    "sound ang",
    "angstrom",
    "take 9",
    "100%",
    "a_1",
    "(final)",
    "notes",
    "loose",
    "quay",
    "rushes",
    "łód",
    "mov",
    "cama c00",
    "only here",
    "sub c001",
    "20280310",
];

async fn check(client: &Client, series: &str, folded: &BTreeMap<String, String>) {
    for q in ASKED {
        let words = fold(q);
        let wanted: BTreeSet<String> = folded
            .iter()
            .filter(|(_, text)| words.split(' ').all(|word| text.contains(word)))
            .map(|(id, _)| id.clone())
            .collect();
        assert!(!wanted.is_empty(), "{q} is somewhere");
        assert_eq!(found(client, series, q).await, wanted, "{q}");
    }
}

/// Each file with the words of its folder, the folder's card and day, and the words of its name; the log with its
/// folders; where folders lie; and how many rows there are of what this step does not make.
async fn state(database: &Database) -> Vec<String> {
    let mut all = rows(
        database,
        "select format('%s: %s | %s | %s | %s', f.id, o.words, o.card_id, o.modified_on, n.words) \
         from files f join folders o on o.key = f.folder join names n on n.id = f.name_id order by f.id",
    )
    .await;
    all.extend(
        rows(
            database,
            "select format('%s: %s', l.id, o.words) from log_entries l join folders o on o.key = l.folder order by l.id",
        )
        .await,
    );
    all.extend(
        rows(
            database,
            "select format('%s on %s', o.words, d.label) from folder_drives h join folders o on o.key = h.folder \
             join drives d on d.id = h.drive_id order by 1",
        )
        .await,
    );
    for table in [
        "files",
        "copies",
        "cards",
        "drives",
        "log_entries",
        "scans",
        "people",
    ] {
        all.extend(
            rows(
                database,
                &format!("select '{table} ' || count(*) from {table}"),
            )
            .await,
        );
    }
    all
}

#[tokio::test(flavor = "multi_thread")]
async fn every_file_that_was_there_is_placed_and_found() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    fill(&admin, &series).await;
    log(&admin, &series).await;
    let database = test.db.connect().await;
    let folded = written(&database).await;
    assert_eq!(folded.len(), 10);

    back(&database).await;
    write(&database, &folded).await;
    migrate::up(&test.db.url()).await.expect("up");
    check(&admin, &series, &folded).await;
    let missing = "select name from files where folder not in (select key from folders) \
         or name_id not in (select id from names)";
    assert_eq!(rows(&database, missing).await, [""; 0]);
    let first = state(&database).await;
    assert!(first.iter().any(|line| line.ends_with("| a001c001.mov")));
    assert!(first.iter().any(|line| line == "rushes renamed on QUAY 2"));

    back(&database).await;
    migrate::up(&test.db.url()).await.expect("up again");
    assert_eq!(state(&database).await, first, "back and forward");
    check(&admin, &series, &folded).await;

    // what only the second place says was never in those rows; the next scan of that drive tells it
    assert!(found_nothing(&admin, &series, "seagulls").await);
    second(&admin, &series).await;
    assert_eq!(found(&admin, &series, "seagulls").await.len(), 1);
}

async fn found_nothing(client: &Client, series: &str, q: &str) -> bool {
    let page = client
        .get(&format!("/api/series/{series}/files?q={q}"))
        .await
        .expect(200)
        .value();
    page["items"] == json!([])
}

async fn log(client: &Client, series: &str) {
    let person = json!({ "credited_name": "Tam Oriel", "age_band": "adult" });
    let people = format!("/api/series/{series}/people");
    let person = client.post(&people, &person).await.expect(201).id();
    let ids: Vec<Value> = found(client, series, "a001c")
        .await
        .into_iter()
        .map(Value::from)
        .collect();
    let body =
        json!({ "file_ids": ids, "kind": "person", "person_id": person, "presence": "on_camera" });
    let log = format!("/api/series/{series}/log");
    client.post(&log, &body).await.expect(201);
}
