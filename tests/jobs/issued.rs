//! Word to the broadcaster's contacts about what was issued to them, over a real SMTP conversation.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_server::mail::carrier::Carrier;
use waybill_tests::app::TestApp;
use waybill_tests::smtp::Sink;

use super::tick;
use crate::api::season::Season;

async fn issue(season: &Season, note: &str) -> Value {
    let at = season.at(&format!("episodes/{}/issued", season.episode));
    let ask = json!({"kind": "credits", "form": "csv", "note": note});
    season.admin.post(&at, &ask).await.expect(201).value()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_delivery_contacts_are_told_what_was_issued_and_what_was_taken_back() {
    let sink = Sink::start().await;
    let mut test = TestApp::start().await;
    test.app.carrier =
        Carrier::smtp(&sink.url(), "Waybill <waybill@waybill.example>").expect("a carrier");
    let season = Season::make(&test).await;
    let roles = [Role::DeliveryContact];
    let contact = test.person("Con Tact", &season.series, &roles).await;
    let quiet = test.person("Quill Still", &season.series, &roles).await;
    let none = json!({"name": "Quill Still", "mail_choice": "none"});
    quiet.json("PUT", "/api/me", &[], &none).await.expect(200);
    test.person("Ed", &season.series, &[Role::Editor]).await;
    // A number that nobody is to read in a mail: what is said with it stands under Issued only.
    let paper = issue(&season, "Ring her on 01632 960983.").await;
    tick(&test).await;
    let taken = sink.taken();
    assert_eq!(
        taken.len(),
        1,
        "one contact wants mail; nobody else is told"
    );
    let own = contact.get("/api/me").await.expect(200).value();
    let address = own["user"]["email"].as_str().expect("an address");
    assert_eq!(taken[0].to, format!("RCPT TO:<{address}>"));
    let told = &test.mails().await[0];
    assert_eq!(
        (told.kind.as_str(), told.state.as_str()),
        ("notice", "sent")
    );
    assert!(
        told.subject
            .ends_with("Credit list of episode 4, “High Water” was issued"),
        "{}",
        told.subject
    );
    assert!(
        taken[0]
            .data
            .contains(&format!("/s/{}/delivery/issued", season.series))
    );
    for hidden in [
        "960983",
        "Ines Marlow",
        paper["file_name"].as_str().expect("a name"),
    ] {
        assert!(!taken[0].data.contains(hidden), "{hidden} is in the mail");
    }
    // Sent in error: whoever has a copy is to know.
    let one = season.at(&format!("issued/{}", paper["id"].as_str().expect("an id")));
    let back = json!({"taken_back": true});
    season.admin.json("PUT", &one, &[], &back).await.expect(200);
    // Asked twice, told once.
    season.admin.json("PUT", &one, &[], &back).await.expect(200);
    tick(&test).await;
    assert_eq!(sink.taken().len(), 2);
    let told = &test.mails().await[1];
    assert!(told.subject.ends_with("was taken back"), "{}", told.subject);
}

#[tokio::test]
async fn what_is_not_issued_is_told_to_nobody() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    test.person("Con", &season.series, &[Role::DeliveryContact])
        .await;
    let at = season.at(&format!("episodes/{}/issued", season.episode));
    let too_long = json!({"kind": "credits", "form": "csv", "note": "x".repeat(2001)});
    season
        .admin
        .post(&at, &too_long)
        .await
        .problem(422, "invalid");
    assert!(test.mails().await.is_empty());
}
