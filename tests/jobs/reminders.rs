//! R6 from the record to the mail: thresholds, nine in the morning of the series' zone, one per threshold, moved
//! dates, what is done, what was missed, and each person's choice.

use serde_json::json;
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use super::{at, deliverable, episode, tick};

/// A series with an episode, and somebody who is reminded besides the series' maker.
struct Stage {
    test: TestApp,
    admin: Client,
    series: String,
    episode: String,
}

impl Stage {
    async fn set() -> Self {
        let test = TestApp::start().await;
        let admin = test.admin().await;
        let series = test.series(&admin, "Low Water").await;
        let episode = episode(&admin, &series).await;
        // The administrator made the series and so is its producer; this is about one person's mails.
        let producer = admin.user_id.expect("made with an id");
        test.person("Morris Manager", &series, &[Role::DataLead])
            .await;
        test.give_roles(&series, producer, &[]).await;
        Self {
            test,
            admin,
            series,
            episode,
        }
    }

    async fn post_supervisor(&self, name: &str) -> Client {
        self.test
            .person(name, &self.series, &[Role::PostSupervisor])
            .await
    }

    fn path(&self) -> String {
        format!("/api/series/{}/deliverables", self.series)
    }

    async fn due(&self, on: &str) -> String {
        let body = deliverable(&self.episode, on, "in_work", None);
        self.admin.post(&self.path(), &body).await.expect(201).id()
    }

    fn sent(&self) -> Vec<String> {
        let sent = self.test.app.carrier.sent();
        sent.into_iter().map(|letter| letter.subject).collect()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_deadline_is_told_once_per_threshold_at_nine_in_the_morning() {
    let stage = Stage::set().await;
    let owner = stage.post_supervisor("Olive Owner").await;
    stage.post_supervisor("Percy Post").await;
    let body = deliverable(&stage.episode, "2029-02-21", "in_work", owner.user_id);
    stage.admin.post(&stage.path(), &body).await.expect(201);

    // 30 days before is Monday 22 January; London is on UTC then.
    at(&stage.test, "2029-01-22T08:59:59Z");
    tick(&stage.test).await;
    assert!(stage.sent().is_empty(), "not before nine");
    at(&stage.test, "2029-01-22T09:00:00Z");
    tick(&stage.test).await;
    tick(&stage.test).await;
    let said = "Low Water: “Clearance report” of episode 3, “The long race” is due on Wed 21 Feb 2029, in 30 days";
    assert_eq!(stage.sent(), [said], "once, to the owner only");
    let text = &stage.test.app.carrier.sent()[0].text;
    let link = format!(
        "http://localhost/s/{}/delivery/deliverables?record=",
        stage.series
    );
    assert!(text.contains(&link), "a deep link: {text}");
    // From a week before, all who may change it are told.
    at(&stage.test, "2029-02-14T09:00:00Z");
    tick(&stage.test).await;
    assert_eq!(stage.sent().len(), 3);
}

#[tokio::test(flavor = "multi_thread")]
async fn nine_in_the_morning_follows_the_clock_change() {
    let stage = Stage::set().await;
    // Summer time begins in London on Sunday 25 March 2029.
    stage.due("2029-04-02").await;
    let rows = stage
        .test
        .db
        .connect()
        .await
        .query(
            "select to_char(fire_at at time zone 'UTC', 'MM-DD HH24:MI') from reminders order by fire_at",
            &[],
        )
        .await
        .expect("rows");
    let fire_at: Vec<String> = rows.into_iter().map(|row| row.get(0)).collect();
    // 30 days before is a Saturday, one day before a Sunday: both go to the Friday.
    assert_eq!(
        fire_at,
        [
            "02-01 09:00",
            "03-02 09:00",
            "03-19 09:00",
            "03-26 08:00",
            "03-30 08:00"
        ]
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_moved_date_is_planned_anew_and_a_done_thing_is_not_told() {
    let stage = Stage::set().await;
    stage.post_supervisor("Percy Post").await;
    let one = format!("{}/{}", stage.path(), stage.due("2029-01-22").await);
    let moved = deliverable(&stage.episode, "2029-01-30", "in_work", None);
    stage.admin.put(&one, 1, &moved).await.expect(200);
    at(&stage.test, "2029-01-15T10:00:00Z");
    tick(&stage.test).await;
    assert!(stage.sent().is_empty(), "a week before the old date");
    at(&stage.test, "2029-01-16T10:00:00Z");
    tick(&stage.test).await;
    assert_eq!(stage.sent().len(), 1, "14 days before the new date");
    let done = deliverable(&stage.episode, "2029-01-30", "accepted", None);
    stage.admin.put(&one, 2, &done).await.expect(200);
    at(&stage.test, "2029-02-20T10:00:00Z");
    tick(&stage.test).await;
    assert_eq!(stage.sent().len(), 1, "accepted: nobody is told any more");
}

#[tokio::test(flavor = "multi_thread")]
async fn after_an_outage_only_the_newest_missed_reminder_goes_out_and_weekly_ones_follow() {
    let stage = Stage::set().await;
    stage.post_supervisor("Percy Post").await;
    stage.due("2029-02-21").await;
    // Down from January until the day before: four thresholds were missed.
    at(&stage.test, "2029-02-20T12:00:00Z");
    tick(&stage.test).await;
    assert_eq!(stage.sent().len(), 1, "{:?}", stage.sent());
    assert!(stage.sent()[0].ends_with("tomorrow"));
    at(&stage.test, "2029-02-28T09:00:00Z");
    tick(&stage.test).await;
    assert_eq!(stage.sent().len(), 2, "{:?}", stage.sent());
    assert!(stage.sent()[1].ends_with("7 days overdue"));
}

#[tokio::test(flavor = "multi_thread")]
async fn everyone_chooses_each_digest_or_none() {
    let stage = Stage::set().await;
    stage.post_supervisor("Edna Each").await;
    for (name, choice) in [("Dora Digest", "digest"), ("Nils None", "none")] {
        let person = stage.post_supervisor(name).await;
        let body = json!({ "name": name, "mail_choice": choice });
        person.json("PUT", "/api/me", &[], &body).await.expect(200);
    }
    stage.due("2029-01-16").await;
    stage.due("2029-01-16").await;
    at(&stage.test, "2029-01-15T09:00:00Z");
    tick(&stage.test).await;
    assert_eq!(
        stage.sent().len(),
        2,
        "Edna's two; Dora's wait for each other"
    );
    at(&stage.test, "2029-01-15T09:05:00Z");
    tick(&stage.test).await;
    tick(&stage.test).await;
    assert_eq!(stage.sent().len(), 3);
    assert_eq!(stage.sent()[2], "2 reminders");
    let text = &stage.test.app.carrier.sent()[2].text;
    assert_eq!(text.matches("/delivery/deliverables?record=").count(), 2);
}
