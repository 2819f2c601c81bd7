//! Scans that come at the same time: nothing twice, nothing lost, nobody locked out.

use serde_json::Value;
use waybill_tests::app::TestApp;

use crate::api::footage::{ROLL, Scan, body, entry, warnings};

async fn count(test: &TestApp, sql: &str) -> i64 {
    test.db
        .connect()
        .await
        .query_one(sql, &[])
        .await
        .expect("a count")
        .get(0)
}

fn files(count: usize, backwards: bool) -> Vec<Value> {
    let mut all: Vec<Value> = (0..count)
        .map(|n| entry(&format!("{ROLL}/A001C{n:04}.mov"), &format!("picture {n}")))
        .collect();
    if backwards {
        all.reverse();
    }
    all
}

#[tokio::test(flavor = "multi_thread")]
async fn four_drives_with_the_same_files_at_once() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let labels = ["QUAY 1", "QUAY 2", "QUAY 3", "QUAY 4"];
    let send = |at: usize| {
        let (admin, series) = (admin.clone(), series.clone());
        async move {
            Scan::new(&admin, &series, labels[at], labels[at])
                .send(&files(1500, at % 2 == 1))
                .await
        }
    };
    let (a, b, c, d) = tokio::join!(send(0), send(1), send(2), send(3));
    let new: i64 = [a, b, c, d]
        .iter()
        .filter_map(|summary| summary["new_files"].as_i64())
        .sum();
    assert_eq!(new, 1500, "each content is new once");
    assert_eq!(count(&test, "select count(*) from files").await, 1500);
    assert_eq!(
        count(
            &test,
            "select count(*) from copies where state = 'verified'"
        )
        .await,
        6000
    );
    assert_eq!(
        count(
            &test,
            "select count(*) from cards where state = 'two_copies_checked'"
        )
        .await,
        1
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_chunk_at_the_same_moment_counts_once() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let scan = Scan::new(&admin, &series, "QUAY 1", "QUAY 1");
    let (first, second) = tokio::join!(scan.begin(), scan.begin());
    assert!(
        [&first, &second].iter().any(|reply| reply.status == 200),
        "{}",
        first.text()
    );
    let chunk = body(&files(500, false));
    let (first, second) = tokio::join!(scan.chunk(0, &chunk), scan.chunk(0, &chunk));
    first.expect(200);
    second.expect(200);
    let chunks = [chunk];
    let (first, second) = tokio::join!(scan.complete(500, &chunks), scan.complete(500, &chunks));
    assert_eq!(first.expect(200).value(), second.expect(200).value());
    assert_eq!(count(&test, "select count(*) from copies").await, 500);
    assert_eq!(count(&test, "select new_files::int8 from scans").await, 500);
    assert_eq!(
        count(
            &test,
            "select count(*) from audit where subject_kind = 'scan'"
        )
        .await,
        1
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn drives_that_look_alike_are_completed_at_the_same_moment() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    for round in 0..6 {
        let series = test.series(&admin, &format!("Season {round}")).await;
        let all = files(300, false);
        let chunk = [body(&all)];
        let scans: Vec<Scan<'_>> = ["QUAY 1", "QUAY 2", "QUAY 3", "QUAY 4"]
            .iter()
            .map(|label| Scan::new(&admin, &series, label, "RUSHES"))
            .collect();
        for scan in &scans {
            scan.begin().await.expect(200);
            scan.chunk(0, &chunk[0]).await.expect(200);
        }
        let (a, b, c, d) = tokio::join!(
            scans[0].complete(300, &chunk),
            scans[1].complete(300, &chunk),
            scans[2].complete(300, &chunk),
            scans[3].complete(300, &chunk),
        );
        for reply in [a, b, c, d] {
            reply.expect(200);
        }
        // all four may be one drive, until somebody says otherwise
        let alone =
            format!("select count(*) from drives where series_id = '{series}' and twin_of is null");
        assert_eq!(count(&test, &alone).await, 1, "round {round}");
        let cards = format!(
            "select count(*) from cards where series_id = '{series}' and state = 'two_copies_checked'"
        );
        assert_eq!(count(&test, &cards).await, 0, "round {round}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_scan_begins_while_one_of_a_likely_twin_closes() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let all = files(40, false);
    let first = Scan::new(&admin, &series, "QUAY 1", "RUSHES");
    first.send(&all).await;
    Scan::new(&admin, &series, "QUAY 2", "RUSHES")
        .send(&all)
        .await;
    // a file is gone from the second, and whoever closes its scan waits to note that
    let closing = Scan::new(&admin, &series, "QUAY 2", "RUSHES");
    closing.begin().await.expect(200);
    let chunk = [body(&all[1..])];
    closing.chunk(0, &chunk[0]).await.expect(200);
    let mut other = test.db.connect().await;
    let held = other.transaction().await.expect("a transaction");
    let lock = "select 1 from copies where path = $1 and drive_id = (select id from drives where label = 'QUAY 2') \
        for update";
    let path = format!("RUSHES/{ROLL}/A001C0000.mov");
    let locked = held.query(lock, &[&path]).await.expect("a row");
    assert_eq!(locked.len(), 1);
    let closes = closing.complete(39, &chunk);
    let begins = async {
        waits(&test, "update copies%").await;
        let scan = Scan::new(&admin, &series, "QUAY 3", "RUSHES");
        let begun = tokio::time::timeout(std::time::Duration::from_secs(5), scan.begin()).await;
        held.rollback().await.expect("let go");
        begun
    };
    let (closed, begun) = tokio::join!(closes, begins);
    begun.expect("begun while the other closed").expect(200);
    let summary = closed.expect(200).value();
    assert!(
        warnings(&summary).contains("1 file is known in this folder"),
        "{summary}"
    );
    let alone = "select count(*) from drives where label = 'QUAY 2' and twin_of is not null and one_with is not null";
    assert_eq!(count(&test, alone).await, 1);
    let cards = "select count(*) from cards where state = 'offloading' and least_copies = 1";
    assert_eq!(count(&test, cards).await, 1);
}

/// Until a statement of this form waits for a lock.
async fn waits(test: &TestApp, form: &str) {
    let client = test.db.connect().await;
    let sql = "select count(*) from pg_stat_activity where datname = current_database() \
        and wait_event_type = 'Lock' and query like $1";
    for _ in 0..500 {
        let row = client.query_one(sql, &[&form]).await.expect("a count");
        if row.get::<_, i64>(0) > 0 {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(10)).await;
    }
    panic!("no statement like {form} waits");
}
