//! Scans that come at the same time: nothing twice, nothing lost, nobody locked out.

use serde_json::Value;
use waybill_tests::app::TestApp;

use crate::api::footage::{ROLL, Scan, body, entry};

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
