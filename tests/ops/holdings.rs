//! The counts of what lies on which drives, against a count file by file, whatever comes in and in whatever order.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};
use uuid::Uuid;
use waybill_server::ops::holdings::fold;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::footage::{Scan, body, clip};
use crate::api::verify::{Verification, drive};

const DRIVES: [&str; 4] = ["QUAY 1", "QUAY 2", "QUAY 3", "QUAY 4"];
const PLACES: usize = 9;
const CONTENTS: u64 = 12;

/// Knuth's linear congruential numbers (MMIX): the same run each time.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

fn path(place: usize) -> String {
    match place % 4 {
        // in no card
        3 => format!("LOOSE/C{place:03}.mov"),
        card => format!("2028030{0}_A00{0}_CAMA_QUAY/C{place:03}.mov", card + 1),
    }
}

fn content(number: u64) -> String {
    // one of them is empty
    "x".repeat(usize::try_from(number).expect("small"))
}

fn entries(numbers: &mut Numbers) -> Vec<Value> {
    (0..PLACES)
        .filter_map(|place| {
            let there = numbers.below(3) > 0;
            let number = numbers.below(CONTENTS);
            there.then(|| clip(&path(place), &content(number)))
        })
        .collect()
}

/// What the table says and a count of all files does not, or the other way round.
async fn differing(test: &TestApp) -> i64 {
    let sql = "with kept as (select series_id, card_id, drives, sum(files), sum(bytes) from holdings \
             group by series_id, card_id, drives having sum(files) <> 0 or sum(bytes) <> 0), \
         counted as (select x.series_id, x.card_id, x.drives, count(*)::numeric, sum(x.size)::numeric from ( \
             select f.series_id, f.card_id, f.size, array(select distinct c.drive_id from copies c \
                 where c.file_id = f.id and c.state = 'verified' order by 1) as drives from files f) x \
             group by x.series_id, x.card_id, x.drives) \
         select count(*) from ((table kept except table counted) union all (table counted except table kept)) d";
    let row = test.db.connect().await.query_one(sql, &[]).await;
    row.expect("a count").get(0)
}

/// Files of the catalogue: size, and on which devices at hand each is verified.
async fn on_devices(test: &TestApp) -> BTreeMap<Uuid, (i64, BTreeSet<Uuid>)> {
    let sql = "select f.id, f.size, coalesce(d.twin_of, d.id) from files f join copies c on c.file_id = f.id \
         join drives d on d.id = c.drive_id \
         where c.state = 'verified' and d.deleted_at is null and d.status in ('fine', 'check_due') \
             and coalesce(d.twin_of, d.id) not in (select coalesce(twin_of, id) from drives o \
                 where o.status in ('missing', 'mismatch'))";
    let rows = test.db.connect().await.query(sql, &[]).await;
    let mut all = BTreeMap::<Uuid, (i64, BTreeSet<Uuid>)>::new();
    for row in rows.expect("rows") {
        let entry = all.entry(row.get(0)).or_default();
        entry.0 = row.get(1);
        entry.1.insert(row.get(2));
    }
    all
}

/// Asks what dies with these drives, and counts it.
async fn compare(test: &TestApp, admin: &Client, series: &str, dead: &[String]) {
    let files = on_devices(test).await;
    let base = format!("/api/series/{series}/what-if");
    let query = format!("drives={}", dead.join(","));
    let answer = admin
        .get(&format!("{base}?{query}"))
        .await
        .expect(200)
        .value();
    let sql = "select coalesce(twin_of, id) from drives where id = any($1) and status in ('fine', 'check_due')";
    let ids: Vec<Uuid> = dead.iter().map(|id| id.parse().expect("an id")).collect();
    let rows = test.db.connect().await.query(sql, &[&ids]).await;
    let devices: BTreeSet<Uuid> = rows.expect("rows").iter().map(|row| row.get(0)).collect();
    for (name, left) in [("gone", 0), ("single", 1)] {
        let harmed = files.values().filter(|(_, on)| {
            on.intersection(&devices).count() > 0 && on.difference(&devices).count() == left
        });
        let sizes: Vec<i64> = harmed.map(|(size, _)| *size).collect();
        let counted = json!({ "files": sizes.len(), "bytes": sizes.iter().sum::<i64>() });
        assert_eq!(answer[name], counted, "{name} of {dead:?}");
        let list = format!("{base}/files?{query}&single={}", name == "single");
        let list = admin.get(&list).await.expect(200).value();
        let listed = list["items"].as_array().expect("a list");
        assert_eq!(listed.len(), sizes.len(), "the list of {name}");
        // page by page it is the same list
        for offset in 0..listed.len() {
            let page = format!(
                "{base}/files?{query}&single={}&offset={offset}",
                name == "single"
            );
            let page = admin.get(&page).await.expect(200).value();
            assert_eq!(
                page["items"].as_array().expect("a list")[..],
                listed[offset..]
            );
        }
    }
}

/// A verification that finds some of the places as they were, some gone, some renamed.
async fn verify(admin: &Client, series: &str, label: &str, numbers: &mut Numbers) {
    let id = drive(admin, series, label).await;
    let base = format!("/api/series/{series}/drives/{id}/expected");
    let known = admin.get(&base).await.expect(200).value();
    let mut lines = Vec::new();
    for (at, file) in known["items"]
        .as_array()
        .expect("a list")
        .iter()
        .enumerate()
    {
        let path: Vec<&str> = file["path"].as_array().expect("a path")[1..]
            .iter()
            .filter_map(Value::as_str)
            .collect();
        let found = |path: &[&str], result: &str| {
            json!({ "path": path, "size": file["size"], "hashes": file["hashes"], "result": result,
                "read": "2029-01-09T11:30:00Z" })
        };
        match numbers.below(4) {
            0 => lines.push(json!({ "path": path, "result": "missing" })),
            1 => {
                let name = format!("renamed {at} {}.mov", numbers.below(100));
                let mut line = found(&[path[0], &name], "renamed");
                line["previous_path"] = json!(path);
                lines.push(line);
            }
            _ => lines.push(found(&path, "verified")),
        }
    }
    if lines.is_empty() {
        return;
    }
    let run = Verification::begin(admin, series, &id, label).await;
    run.chunk(0, &lines).await.expect(200);
    run.complete(&lines).await.expect(200);
}

/// Removes a drive, restores it, or has it retired or back.
async fn change_drive(admin: &Client, series: &str, id: &str, numbers: &mut Numbers) {
    let at = format!("/api/series/{series}/drives/{id}");
    let there = admin.get(&at).await.expect(200).value();
    let version = there["version"].as_i64().expect("a version");
    let status = ["fine", "retired", "missing"][usize::try_from(numbers.below(3)).expect("small")];
    let body = json!({ "label": there["label"], "kind": "hdd", "status": status });
    admin.put(&at, version, &body).await.expect(200);
}

#[tokio::test]
async fn the_counts_are_those_of_a_count_file_by_file() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let mut numbers = Numbers(7);
    for label in DRIVES {
        let entries = entries(&mut numbers);
        Scan::new(&admin, &series, label, label)
            .send(&entries)
            .await;
    }
    let mut ids = Vec::new();
    for label in DRIVES {
        ids.push(drive(&admin, &series, label).await);
    }
    for step in 0..60 {
        test.clock.advance(chrono::TimeDelta::hours(1));
        let at = usize::try_from(numbers.below(4)).expect("small");
        match numbers.below(8) {
            0..3 => {
                let entries = entries(&mut numbers);
                if !entries.is_empty() {
                    Scan::new(&admin, &series, DRIVES[at], DRIVES[at])
                        .send(&entries)
                        .await;
                }
            }
            // one that is never completed
            3 => {
                let scan = Scan::new(&admin, &series, DRIVES[at], DRIVES[at]);
                scan.begin().await.expect(200);
                scan.chunk(0, &body(&entries(&mut numbers)))
                    .await
                    .expect(200);
            }
            4 | 5 => verify(&admin, &series, DRIVES[at], &mut numbers).await,
            6 => change_drive(&admin, &series, &ids[at], &mut numbers).await,
            _ => fold(&test.app, series.parse().expect("an id"))
                .await
                .expect("folded"),
        }
        assert_eq!(differing(&test).await, 0, "after step {step}");
        compare(&test, &admin, &series, &ids[at..=at]).await;
        if step % 5 == 0 {
            compare(
                &test,
                &admin,
                &series,
                &[ids[at].clone(), ids[(at + 1) % 4].clone()],
            )
            .await;
            compare(&test, &admin, &series, &ids).await;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn drives_that_come_in_together_are_counted_together() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let send = |at: usize| {
        let (admin, series) = (admin.clone(), series.clone());
        async move {
            let mut numbers = Numbers(at as u64);
            let scan = Scan::new(&admin, &series, DRIVES[at], DRIVES[at]);
            scan.begin().await.expect(200);
            let mut sent = Vec::new();
            for number in 0..6 {
                // another content at each place each time, the same contents on all drives
                let chunk = body(&entries(&mut numbers));
                scan.chunk(number, &chunk).await.expect(200);
                sent.push(chunk);
            }
            let files = sent
                .iter()
                .map(|chunk| chunk.iter().filter(|byte| **byte == b'\n').count());
            scan.complete(files.sum(), &sent).await.expect(200);
        }
    };
    let folds = async {
        for _ in 0..20 {
            fold(&test.app, series.parse().expect("an id"))
                .await
                .expect("folded");
        }
    };
    tokio::join!(send(0), send(1), send(2), send(3), folds);
    assert_eq!(differing(&test).await, 0);
}
