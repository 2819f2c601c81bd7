//! Background work with a clock that the test sets: reminders, mails, the queue.

mod issued;
mod mails;
mod queue;
mod reminders;

use chrono::{DateTime, Utc};
use serde_json::{Value, json};
use waybill_server::jobs::timetable::{self, Look};
use waybill_server::jobs::worker;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

/// What the metronome and the workers do at one instant.
async fn tick(test: &TestApp) {
    timetable::act(&test.app, Look::Plan)
        .await
        .expect("planned");
    timetable::act(&test.app, Look::Due)
        .await
        .expect("enqueued");
    worker::run_due(&test.app).await.expect("worked");
}

/// Sets the clock.
fn at(test: &TestApp, instant: &str) {
    let instant: DateTime<Utc> = instant.parse().expect("an instant");
    test.clock.set(instant);
}

/// An episode of a series; its id.
async fn episode(admin: &Client, series: &str) -> String {
    let body = json!({
        "number": 3, "title": "The long race", "status": "cutting", "slot_seconds": 3480,
        "first_transmission": null, "first_transmission_planned": null, "delivered": null,
        "delivery_planned": null, "first_use": null, "notes": ""
    });
    let path = format!("/api/series/{series}/episodes");
    admin.post(&path, &body).await.expect(201).id()
}

/// A deliverable due on a day.
fn deliverable(episode: &str, due_on: &str, status: &str, owner: Option<uuid::Uuid>) -> Value {
    json!({
        "episode_id": episode, "specification_id": null, "item": "Clearance report",
        "due_on": due_on, "owner_id": owner, "status": status, "status_note": "", "notes": ""
    })
}
