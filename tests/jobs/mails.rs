//! Mails over a real SMTP conversation: what goes over the wire, refusals for now and for ever, trying again.

use chrono::TimeDelta;
use serde_json::json;
use waybill_server::mail::carrier::Carrier;
use waybill_tests::app::TestApp;
use waybill_tests::smtp::Sink;

use super::tick;

fn carrier(url: &str) -> Carrier {
    Carrier::smtp(url, "Waybill <waybill@waybill.example>").expect("a carrier")
}

async fn with_sink() -> (TestApp, Sink) {
    let sink = Sink::start().await;
    let mut test = TestApp::start().await;
    test.app.carrier = carrier(&sink.url());
    (test, sink)
}

async fn invite(test: &TestApp, email: &str) {
    let admin = test.admin().await;
    let body = json!({ "email": email, "series_id": null, "roles": [] });
    admin.post("/api/invitations", &body).await.expect(201);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_mail_goes_over_the_wire_with_both_bodies_and_its_stored_message_id() {
    let (test, sink) = with_sink().await;
    invite(&test, "new@breakwater.example").await;
    tick(&test).await;
    let taken = sink.taken();
    assert_eq!(taken.len(), 1);
    assert_eq!(taken[0].to, "RCPT TO:<new@breakwater.example>");
    assert!(
        taken[0]
            .from
            .starts_with("MAIL FROM:<waybill@waybill.example>")
    );
    assert_eq!(taken[0].header("Auto-Submitted"), Some("auto-generated"));
    let connection = test.db.connect().await;
    let row = connection
        .query_one("select message_id, state, body_text from mails", &[])
        .await
        .expect("one mail");
    assert_eq!(taken[0].header("Message-ID"), Some(row.get::<_, &str>(0)));
    assert_eq!(row.get::<_, &str>(1), "sent");
    assert_eq!(
        row.get::<_, &str>(2),
        "",
        "the body with its link is not kept"
    );
    for kind in ["text/plain; charset=utf-8", "text/html; charset=utf-8"] {
        assert!(taken[0].data.contains(kind), "{kind}");
    }
    assert!(
        taken[0].data.lines().all(|line| line.len() <= 998),
        "RFC 5322 2.1.1"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refusal_for_now_is_tried_again_after_a_minute() {
    let (test, sink) = with_sink().await;
    invite(&test, "new@breakwater.example").await;
    sink.answer("451 4.3.0 try again later");
    tick(&test).await;
    test.clock.advance(TimeDelta::seconds(59));
    tick(&test).await;
    assert!(sink.taken().is_empty(), "not before a minute");
    let list = test
        .admin()
        .await
        .get("/api/mails")
        .await
        .expect(200)
        .value();
    assert_eq!(list["items"][0]["state"], "due");
    let said = list["items"][0]["last_answer"].to_string();
    assert!(said.contains("try again later"), "{said}");
    test.clock.advance(TimeDelta::seconds(1));
    tick(&test).await;
    assert_eq!(sink.taken().len(), 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refusal_for_ever_is_shown_can_be_sent_again_and_blocks_nobody_else() {
    let (test, sink) = with_sink().await;
    invite(&test, "gone@breakwater.example").await;
    sink.answer_recipient("550 5.1.1 no such mailbox");
    tick(&test).await;
    invite(&test, "there@breakwater.example").await;
    tick(&test).await;
    assert_eq!(sink.taken().len(), 1);
    let admin = test.admin().await;
    let list = admin.get("/api/mails").await.expect(200).value();
    let items = list["items"].as_array().expect("a list");
    let failed = items
        .iter()
        .find(|mail| mail["state"] == "failed")
        .expect("the refused one");
    assert!(
        failed["last_answer"]
            .to_string()
            .contains("no such mailbox")
    );
    let id = failed["id"].as_str().expect("an id");
    let again = format!("/api/mails/{id}/send-again");
    admin.post(&again, &json!({})).await.expect(204);
    tick(&test).await;
    assert_eq!(sink.taken().len(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_that_is_away_burns_no_mail_and_what_comes_too_late_is_not_sent() {
    let mut test = TestApp::start().await;
    test.app.carrier = carrier("smtp://127.0.0.1:9");
    invite(&test, "new@breakwater.example").await;
    tick(&test).await;
    assert_eq!(test.mails().await[0].state, "due");
    let sink = Sink::start().await;
    test.app.carrier = carrier(&sink.url());
    test.clock.advance(TimeDelta::days(8));
    tick(&test).await;
    assert_eq!(
        test.mails().await[0].state,
        "useless",
        "an invitation ends after seven days"
    );
    assert!(sink.taken().is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn line_breaks_in_a_name_add_no_header() {
    let (test, sink) = with_sink().await;
    let admin = test.admin().await;
    let body = json!({ "name": "Eve\r\nBcc: all@breakwater.example", "mail_choice": "each" });
    admin.json("PUT", "/api/me", &[], &body).await.expect(200);
    let body = json!({ "email": "new@breakwater.example", "series_id": null, "roles": [] });
    admin.post("/api/invitations", &body).await.expect(201);
    tick(&test).await;
    assert_eq!(sink.taken().len(), 1);
    assert_eq!(sink.taken()[0].header("Bcc"), None);
}
