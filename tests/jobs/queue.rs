//! The queue's promises: nothing is lost with a dead worker, nothing is held by two, what can't be run stays to be
//! seen.

use std::collections::BTreeSet;

use chrono::TimeDelta;
use serde_json::json;
use waybill_server::jobs::{queue, worker};
use waybill_server::ops::outbox;
use waybill_tests::app::TestApp;

async fn enqueue(test: &TestApp, kind: &str, key: Option<&str>) {
    let conn = &mut *test.app.pool.get().await.expect("a connection");
    let (now, key) = (test.app.now(), key.map(str::to_owned));
    outbox::enqueue(conn, now, kind, json!({}), key, TimeDelta::zero())
        .await
        .expect("enqueued");
}

/// Dead or not, and the last error, of each job.
async fn jobs(test: &TestApp) -> Vec<(bool, Option<String>)> {
    let connection = test.db.connect().await;
    let rows = connection
        .query("select dead_at is not null, last_error from jobs", &[])
        .await
        .expect("rows");
    rows.into_iter()
        .map(|row| (row.get(0), row.get(1)))
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_dead_workers_job_is_claimed_again_when_the_lease_is_over() {
    let test = TestApp::start().await;
    enqueue(&test, "send_mail", None).await;
    let conn = &mut *test.app.pool.get().await.expect("a connection");
    let first = queue::claim(conn, test.app.now(), 10)
        .await
        .expect("claimed");
    assert_eq!(first.len(), 1);
    let none = queue::claim(conn, test.app.now(), 10).await.expect("asked");
    assert!(none.is_empty(), "leased");
    test.clock.advance(queue::LEASE);
    let second = queue::claim(conn, test.app.now(), 10)
        .await
        .expect("claimed");
    assert_eq!((second[0].id, second[0].attempts), (first[0].id, 2));
    // The first worker was only slow: its result comes too late to count.
    queue::finish(conn, &first[0], Ok(()), test.app.now())
        .await
        .expect("no fault");
    assert_eq!(jobs(&test).await.len(), 1);
    queue::finish(conn, &second[0], Ok(()), test.app.now())
        .await
        .expect("finished");
    assert!(jobs(&test).await.is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn two_workers_never_hold_the_same_job() {
    let test = TestApp::start().await;
    for _ in 0..40 {
        enqueue(&test, "send_mail", None).await;
    }
    let claims: Vec<_> = (0..8)
        .map(|_| {
            let app = test.app.clone();
            tokio::spawn(async move {
                let conn = &mut *app.pool.get().await.expect("a connection");
                queue::claim(conn, app.now(), 5).await.expect("claimed")
            })
        })
        .collect();
    let mut seen = BTreeSet::new();
    for claim in claims {
        for job in claim.await.expect("no panic") {
            assert!(seen.insert(job.id), "held by two");
        }
    }
    assert_eq!(seen.len(), 40);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_job_that_nobody_knows_is_dead_and_stays_to_be_seen() {
    let test = TestApp::start().await;
    enqueue(&test, "make_coffee", None).await;
    worker::run_due(&test.app).await.expect("worked");
    let jobs = jobs(&test).await;
    assert!(jobs[0].0, "dead");
    assert!(
        jobs[0]
            .1
            .as_deref()
            .expect("an error")
            .contains("make_coffee")
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_keeps_a_second_live_job_out() {
    let test = TestApp::start().await;
    enqueue(&test, "send_mail", Some("once")).await;
    enqueue(&test, "send_mail", Some("once")).await;
    assert_eq!(jobs(&test).await.len(), 1);
}
