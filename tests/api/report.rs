//! The clearance and asset report (rulebook R50) in its four forms.

use serde_json::Value;
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;

use crate::api::season::Season;

async fn report(season: &Season, form: &str) -> waybill_tests::http::Reply {
    let path = season.at(&format!("episodes/{}/report.{form}", season.episode));
    season.admin.get(&path).await.expect(200)
}

#[tokio::test]
async fn the_report_lists_every_element_worst_first_with_what_it_rests_on() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let report = report(&season, "json").await.value();
    let header = &report["header"];
    assert_eq!(header["series"], "Harbour Season");
    assert_eq!(header["episode_number"], "4");
    assert_eq!(header["cut_name"], "EP04_CUT_290105_v1");
    assert_eq!(header["cut_version"], "1");
    assert_eq!(header["specification"]["name"], "Main transmission");
    assert_eq!(header["specification"]["version"], "issue 4");
    assert_eq!(header["made_at"], "2029-01-09T12:00:00Z");
    assert_eq!(header["made_by"], "Ada Admin");
    let rows = report["rows"].as_array().expect("a list");
    assert_eq!(rows.len(), 9);
    assert_eq!(
        (&rows[0]["state"], &rows[8]["state"]),
        (&"gap".into(), &"covered".into())
    );
    let of = |label: &str| {
        rows.iter()
            .find(|row| row["label"] == label)
            .expect("in it")
    };
    let newsreel = of("Harbour newsreel 1934");
    assert_eq!(newsreel["first_use"], "10:00:30:00");
    assert_eq!(newsreel["failing"][0]["days"][0]["from"], "2031-10-01");
    assert_eq!(newsreel["failing"][0]["all_territories"], true);
    assert_eq!(
        newsreel["papers"][0],
        "licence QA-1 from Quay Archive, signed on 2 Nov 2028"
    );
    assert_eq!(newsreel["needed_by"], "2029-06-15");
    assert_eq!(of("Ines Marlow")["needed_by"], Value::Null);
    assert_eq!(of("Ines Marlow")["credited_as"], "Ines Marlow");
    let uses = report["uses"].as_array().expect("a list");
    assert_eq!(uses.len(), 11);
    assert_eq!(uses[0]["source_file"], "A003C001.mov");
    // What lies ahead, the newsreel's end among it.
    let days = report["calendar"].as_array().expect("a list");
    let end = days.iter().find(|day| day["on"] == "2031-09-30");
    let end = end.expect("the end of its term");
    assert_eq!(
        (&end["what"], &end["label"]),
        (&"term ends".into(), &"Harbour newsreel 1934".into())
    );
    let summary = &report["summary"];
    assert_eq!(summary["blocked"], true);
    assert_eq!(
        summary["blocked_because"],
        "7 of 9 elements are not cleared for what this delivery needs: 4 have a gap, 1 is an unknown source, 1 is \
         unknown and 1 is not logged."
    );
    let cautions = report["cautions"].to_string();
    assert!(cautions.contains("not legal advice"));
    assert!(cautions.contains("under 18") && cautions.contains("anonymity"));
    let rules: Vec<&Value> = report["rules"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|rule| &rule["rule"])
        .collect();
    assert_eq!(
        serde_json::json!(rules),
        serde_json::json!(["R2", "R3", "R5", "R19", "R23", "R50"])
    );
    let integrity = &report["integrity"];
    assert_eq!(integrity["cut_file"], "EP04_CUT_290105_v1.edl");
    assert_eq!(integrity["cut_file_size"], crate::api::season::LIST.len());
    assert_eq!(
        (&integrity["events"], &integrity["events_matched"]),
        (&9.into(), &8.into())
    );
}

#[tokio::test]
async fn each_form_is_what_it_says_and_is_logged() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    for (form, begins, kind) in [
        ("pdf", &b"%PDF-1."[..], "application/pdf"),
        (
            "xlsx",
            b"PK\x03\x04",
            "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        ),
        (
            "csv",
            "\u{feff}series,".as_bytes(),
            "text/csv; charset=utf-8",
        ),
        ("json", b"{", "application/json"),
    ] {
        let reply = report(&season, form).await;
        assert!(reply.body.starts_with(begins), "{form}");
        assert_eq!(reply.header("content-type"), Some(kind));
        let name = format!("attachment; filename=\"EP04_clearance_290105_v1.{form}\"");
        assert_eq!(reply.header("content-disposition"), Some(name.as_str()));
    }
    // Our own page reads the data by script; that takes nothing out of the house.
    let page = season.admin.with("sec-fetch-dest", "empty");
    let address = season.at(&format!("episodes/{}/report.json", season.episode));
    page.get(&address).await.expect(200);
    let trail = season.at(&format!("audit?subject_id={}", season.cut));
    let trail = season.admin.get(&trail).await.expect(200).value();
    assert_eq!(trail["items"][0]["action"], "read");
    let downloads = trail["items"].as_array().expect("a list").iter();
    assert_eq!(
        downloads
            .filter(|line| line["action"] == "downloaded")
            .count(),
        4
    );
    assert_eq!(
        trail["items"][0]["after"]["file"],
        "EP04_clearance_290105_v1.json"
    );
}

/// No cell that a spreadsheet would run as a formula (OWASP, "CSV injection").
#[tokio::test]
async fn a_name_is_never_a_formula() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let title = serde_json::json!({"title": "=HYPERLINK(\"http://evil.example\")"});
    season.change("assets", &season.newsreel, &title).await;
    let csv = report(&season, "csv").await.text();
    assert!(csv.contains("HYPERLINK"));
    assert!(!csv.contains(",=") && !csv.contains(",\"="), "{csv}");
}

/// Rulebook 8: the broadcaster's contact gets no working notes and nothing of other buyers; what was issued is enough.
#[tokio::test]
async fn the_report_as_it_stands_is_not_for_a_delivery_contact() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at(&format!("episodes/{}/report.json", season.episode));
    let contact = test
        .person("Dora Delivery", &season.series, &[Role::DeliveryContact])
        .await;
    contact.get(&path).await.problem(403, "not_allowed");
    let post = test
        .person("Pia Post", &season.series, &[Role::PostSupervisor])
        .await;
    post.get(&path).await.expect(200);
    let producer = test
        .person("Asta Associate", &season.series, &[Role::AssociateProducer])
        .await;
    producer.get(&path).await.problem(403, "not_allowed");
}
