//! Papers and money over HTTP: the lists that go with a delivery, the binder, the checklist, costs and who sees them.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::samples::Ids;
use crate::api::season::{Season, fields};

/// A newsreel from 10:00:00:00 for 12 s, a piece of music from 10:00:04:00 for 6 s, and a source that nobody knows.
const CUT: &str = "TITLE: EP01\nFCM: NON-DROP FRAME\n\n\
001  AX       V     C        00:00:10:00 00:00:22:00 10:00:00:00 10:00:12:00\n* FROM CLIP NAME: NEWSREEL_1934.mov\n\
002  AX       A     C        00:00:00:00 00:00:06:00 10:00:04:00 10:00:10:00\n* FROM CLIP NAME: MX_FAREWELL.wav\n\
003  XR7      V     C        00:00:00:00 00:00:03:00 10:00:12:00 10:00:15:00\n* FROM CLIP NAME: WHATEVER.mov\n";

struct Stage {
    test: TestApp,
    admin: Client,
    ids: Ids,
}

async fn stage() -> Stage {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    let mut music = ids.body("music", 1);
    music["match_names"] = json!(["MX_FAREWELL.wav"]);
    let path = format!("{}/{}", ids.path("music"), ids.music);
    admin.put(&path, 1, &music).await.expect(200);
    let stage = Stage { test, admin, ids };
    let path = stage.at("cuts?name=EP01_CUT_290101_v1&rate=25&format=edl");
    let plain = [("content-type", "text/plain")];
    stage
        .admin
        .send("POST", &path, &plain, CUT.as_bytes())
        .await
        .expect(201);
    stage
}

impl Stage {
    fn at(&self, rest: &str) -> String {
        format!(
            "/api/series/{}/episodes/{}/{rest}",
            self.ids.series, self.ids.episode
        )
    }

    async fn paper(&self, kind: &str) -> Value {
        self.admin
            .get(&self.at(&format!("papers/{kind}")))
            .await
            .expect(200)
            .value()
    }
}

fn cells(section: &Value) -> Vec<Vec<String>> {
    (section["rows"].as_array().expect("rows").iter())
        .map(|row| {
            (row["cells"].as_array().expect("cells").iter())
                .map(|cell| cell.as_str().unwrap_or_default().to_owned())
                .collect()
        })
        .collect()
}

/// Second by second: each use with its ends and length, the unknown source too; the head says cut and delivery.
#[tokio::test]
async fn the_log_has_every_use() {
    let stage = stage().await;
    let paper = stage.paper("third_party").await;
    let rows = cells(&paper["sections"][0]);
    let short: Vec<[&str; 4]> = (rows.iter())
        .map(|row| {
            [
                row[0].as_str(),
                row[1].as_str(),
                row[2].as_str(),
                row[3].as_str(),
            ]
        })
        .collect();
    assert_eq!(
        short[0],
        ["10:00:00:00", "10:00:12:00", "12", "Harbour newsreel 1934"]
    );
    assert_eq!(
        short[1],
        ["10:00:04:00", "10:00:10:00", "6", "The Pilot's Farewell"]
    );
    assert_eq!(short[2][0], "10:00:12:00");
    assert_eq!(rows[0][5], "Quay Archive");
    assert_eq!(rows.len(), 3, "{rows:?}");
    assert_eq!(paper["cut"], "EP01_CUT_290101_v1");
    let facts = paper["facts"].to_string();
    assert!(
        facts.contains("Main broadcaster, 4, January 2029"),
        "{facts}"
    );
    for form in ["pdf", "xlsx", "csv"] {
        let path = stage.at(&format!("papers/third_party/{form}"));
        let file = stage.admin.get(&path).await.expect(200);
        let name = format!("EP01_third_party_log_EP01_CUT_290101_v1.{form}");
        assert!(
            file.header("content-disposition")
                .is_some_and(|head| head.contains(&name))
        );
        assert!(!file.body.is_empty());
    }
}

/// Owners in their own words; music without entered writers stays open only where it is not in the public domain.
#[tokio::test]
async fn credits_are_the_owners_words() {
    let stage = stage().await;
    let paper = stage.paper("credits").await;
    let owners = cells(&paper["sections"][2]);
    assert!(
        owners.iter().any(|row| row[0] == "Quay Archive"),
        "{owners:?}"
    );
    let music = cells(&paper["sections"][3]);
    assert_eq!(music[0][1], "traditional");
    let chain = stage.paper("chain_of_title").await;
    assert_eq!(chain["title"], "Chain of title");
    // A shoot day has a crew, and no crew contract is entered: a gap that is named.
    let gaps = chain["sections"][3].to_string();
    assert!(gaps.contains("No crew contract is entered"), "{gaps}");
    // How a term was counted bears on neither.
    assert_eq!(paper["assumptions"], json!([]));
    assert_eq!(chain["assumptions"], json!([]));
}

/// Source: rulebook R12 (each side to 100 %): one signed publisher of two does not give the composition; an agreement of
/// somebody who owns nothing of it may, and that is said; what the production owns itself needs no further paper.
#[tokio::test]
async fn the_chain_asks_each_owner_of_each_side() {
    let stage = stage().await;
    let ids = &stage.ids;
    let series = format!("/api/series/{}", ids.series);
    let own = stage.admin.get(&series).await.expect(200).value()["producer_entity"].clone();
    let mut piece = ids.body("music", 1);
    piece["origin"] = json!("commissioned");
    piece["match_names"] = json!(["MX_FAREWELL.wav"]);
    piece["composition_public_domain"] = json!(false);
    piece["same_work_id"] = Value::Null;
    piece["parties"] = json!([
        {"name": "Perran Loxtarn", "role": "composer", "share": 10_000},
        {"name": "Foxglove Row", "role": "publisher", "share": 6_000},
        {"name": "Second Row", "role": "publisher", "share": 4_000},
        {"name": own, "role": "recording_owner", "share": 10_000},
    ]);
    let path = format!("{}/{}", ids.path("music"), ids.music);
    let old = stage.admin.get(&path).await.expect(200).value();
    let version = old["version"].as_i64().expect("a version");
    stage.admin.put(&path, version, &piece).await.expect(200);
    let mut licence = ids.body("licences", 1);
    licence["asset_id"] = Value::Null;
    licence["music_id"] = json!(ids.music);
    licence["status"] = json!("signed");
    let mut sign = async |side: &str, licensor: &str| {
        licence["side"] = json!(side);
        licence["licensor"] = json!(licensor);
        let made = stage.admin.post(&ids.path("licences"), &licence).await;
        made.expect(201);
    };
    let missing = async || {
        let chain = stage.paper("chain_of_title").await;
        cells(&chain["sections"][2])[0][4].to_string()
    };
    assert!(
        missing()
            .await
            .contains("No signed agreement for the recording.")
    );
    sign("composition", "Foxglove Row").await;
    sign("recording", "Ada Engineer").await;
    let said = missing().await;
    let words = "No signed agreement for 40 % of the composition, held by Second Row.";
    assert!(said.contains(words), "{said}");
    assert!(
        !said.contains("Foxglove") && !said.contains("recording"),
        "{said}"
    );
    sign("composition", "Perran Loxtarn").await;
    let said = missing().await;
    assert!(
        said.contains("that Perran Loxtarn gave it too is not on record"),
        "{said}"
    );
    sign("composition", "Second Row").await;
    assert_eq!(missing().await, "");
}

/// Own material is not asked for a credit line, one wording stands once whatever it is owed for, a name that was promised
/// away stands nowhere; and the table form has all lists of the paper.
#[tokio::test]
async fn credits_ask_only_what_is_owed() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at(&format!("episodes/{}/papers/credits", season.episode));
    let lists = async || {
        let paper = season.admin.get(&path).await.expect(200).value();
        (cells(&paper["sections"][0]), cells(&paper["sections"][2]))
    };
    let about = |rows: &[Vec<String>], title: &str| -> Vec<String> {
        let fits = |row: &&Vec<String>| row[1].split("; ").any(|one| one == title);
        rows.iter().filter(fits).map(|row| row[0].clone()).collect()
    };
    let assets = season
        .admin
        .get(&season.at("assets"))
        .await
        .expect(200)
        .value();
    let (_, before) = lists().await;
    let used: Vec<&Value> = (assets["items"].as_array().expect("a list").iter())
        .filter(|one| !about(&before, one["title"].as_str().expect("a title")).is_empty())
        .collect();
    let [one, other] = used[..] else {
        panic!("the cut uses {used:?}");
    };
    let named = |one: &Value, what: &str| one[what].as_str().expect("a text").to_owned();
    let line = json!({"credit_line": "From the Quay Archive"});
    season.change("assets", &named(one, "id"), &line).await;
    season.change("assets", &named(other, "id"), &line).await;
    let (_, both) = lists().await;
    assert_eq!(
        about(&both, &named(one, "title")),
        ["From the Quay Archive"]
    );
    assert_eq!(
        both.iter()
            .filter(|row| row[0] == "From the Quay Archive")
            .count(),
        1,
        "{both:?}"
    );
    let own = json!({"credit_line": "", "basis": "own"});
    season.change("assets", &named(other, "id"), &own).await;
    assert!(about(&lists().await.1, &named(other, "title")).is_empty());
    let person = season
        .find("people", |one| one["credited_name"] == "Ines Marlow")
        .await;
    let form = season
        .find("releases", |one| one["person_id"] == person["id"])
        .await;
    let unnamed = json!({"status": "restricted_ok", "restrictions": [{"kind": "no_name"}]});
    season
        .change("releases", &named(&form, "id"), &unnamed)
        .await;
    let (people, _) = lists().await;
    let hers = people
        .iter()
        .find(|row| row[0] == "not to be named")
        .expect("her row");
    assert!(hers[4].contains("leave them out of the roller"), "{hers:?}");
    let table = season.admin.get(&format!("{path}/csv")).await.expect(200);
    let table = String::from_utf8_lossy(&table.body).into_owned();
    assert!(!table.contains("Ines Marlow"), "{table}");
    assert!(table.contains("From the Quay Archive"), "{table}");
}

/// Rulebook 3.1: without a signed paper of each of the crew the ownership of the footage is open; one contract does not
/// speak for the others. Who wrote and who arranged are credited apart (common practice, no source).
#[tokio::test]
async fn each_of_the_crew_and_of_the_writers_is_named() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let id = |one: &Value| one["id"].as_str().expect("an id").to_owned();
    let day = season.find("shoot-days", |_| true).await;
    let crew = json!({"crew": "Wren Tolk, camera: Odo Marsh (B); two runners"});
    season.change("shoot-days", &id(&day), &crew).await;
    let form = season
        .find("releases", |one| one["kind"] == "location")
        .await;
    let mut contract = fields(&form);
    contract["kind"] = json!("crew");
    contract["place_id"] = Value::Null;
    contract["person_id"] = json!(season.person("Wren  tolk", "1990-01-01").await);
    season.create("releases", contract).await;
    let paper = |kind: &str| season.at(&format!("episodes/{}/papers/{kind}", season.episode));
    let chain = season.admin.get(&paper("chain_of_title")).await.expect(200);
    let gaps = chain.value()["sections"][3].to_string();
    assert!(
        gaps.contains("Work on 1 shoot day: No crew contract of Odo Marsh is entered."),
        "{gaps}"
    );
    assert!(
        !gaps.contains("of Wren Tolk") && !gaps.contains("runners"),
        "{gaps}"
    );
    let song = json!({
        "composers": "Traditional",
        "parties": [{"name": "Ines Corrowby", "role": "arranger", "share": 10_000}],
    });
    season.change("music", &season.song, &song).await;
    let credits = season
        .admin
        .get(&paper("credits"))
        .await
        .expect(200)
        .value();
    let music = cells(&credits["sections"][3]);
    assert_eq!(music[0][1], "Traditional; Ines Corrowby (arranger)");
}

/// An answer is kept on its version; it does not close a point against which the records stand.
#[tokio::test]
async fn an_answer_does_not_talk_the_records_away() {
    let stage = stage().await;
    let path = stage.at("checklist/music");
    let yes = json!({ "answer": "yes", "note": "all done" });
    stage.admin.put(&path, 0, &yes).await.expect(200);
    stage.admin.put(&path, 0, &yes).await.problem(412, "stale");
    let counsel = stage.at("checklist/counsel");
    stage.admin.put(&counsel, 0, &yes).await.expect(200);
    let list = stage
        .admin
        .get(&stage.at("checklist"))
        .await
        .expect(200)
        .value();
    let point = |item: &str| {
        let points = list["points"].as_array().expect("points");
        points
            .iter()
            .find(|one| one["item"] == item)
            .cloned()
            .expect("the point")
    };
    assert_eq!(
        (&point("music")["answer"], &point("music")["open"]),
        (&json!("yes"), &json!(true))
    );
    assert_eq!(point("counsel")["open"], false);
    assert_eq!(point("outline")["open"], true);
    let nothing = json!({ "answer": "not_applicable" });
    stage
        .admin
        .put(&stage.at("checklist/title"), 0, &nothing)
        .await
        .problem(422, "invalid");
    stage
        .admin
        .put(&stage.at("checklist/none"), 0, &yes)
        .await
        .problem(404, "not_found");
    let editor = stage
        .test
        .person("Ed", &stage.ids.series, &[Role::Editor])
        .await;
    editor
        .put(&counsel, 1, &yes)
        .await
        .problem(403, "not_allowed");
}

/// One document of all scans; who sees no releases gets none, and a broken scan stops nothing.
#[tokio::test]
async fn the_binder_holds_what_its_reader_may_open() {
    let stage = stage().await;
    let binder = stage.at("binder.pdf");
    let made = stage.admin.get(&binder).await.expect(200);
    assert!(made.body.starts_with(b"%PDF"));
    let contact = stage
        .test
        .person("Con", &stage.ids.series, &[Role::DeliveryContact])
        .await;
    contact.get(&binder).await.problem(403, "not_allowed");
    // Rulebook 8: no working notes, whatever the paper and its form.
    for kind in ["third_party", "credits", "checklist", "chain_of_title"] {
        for form in ["", "/pdf"] {
            let path = stage.at(&format!("papers/{kind}{form}"));
            contact.get(&path).await.problem(403, "not_allowed");
        }
    }
    let music = stage
        .test
        .person("Mus", &stage.ids.series, &[Role::MusicSupervisor])
        .await;
    music.get(&binder).await.expect(200);
    let data = stage
        .test
        .person("Dat", &stage.ids.series, &[Role::DataLead])
        .await;
    data.get(&stage.at("papers/credits"))
        .await
        .problem(403, "not_allowed");
}

/// R11 over HTTP: label 5,000, publisher 4,000 on equal terms: 1,000 more. Currencies are not added; who may not see
/// fees sees none, in the audit trail neither.
#[tokio::test]
async fn costs_stand_against_the_budget() {
    let stage = stage().await;
    let ids = &stage.ids;
    let mut licence = ids.body("licences", 1);
    licence["asset_id"] = Value::Null;
    licence["music_id"] = json!(ids.music);
    licence["fee_minor"] = Value::Null;
    let mut side = async |side: &str, licensor: &str| {
        licence["side"] = json!(side);
        licence["licensor"] = json!(licensor);
        stage
            .admin
            .post(&ids.path("licences"), &licence)
            .await
            .expect(201)
            .id()
    };
    let (label, publisher) = (
        side("recording", "Tidemark").await,
        side("composition", "Foxglove Row").await,
    );
    let cost = |licence: &str, agreed: i64, equal: bool, currency: &str| {
        json!({
            "licence_id": licence, "episode_id": ids.episode, "currency": currency, "quoted_minor": null,
            "agreed_minor": agreed, "paid_minor": null, "paid_on": null, "most_favoured": equal,
            "step_ups": [{ "what": "World", "amount_minor": 5_000, "until": null, "taken": equal }], "notes": "",
        })
    };
    for body in [
        cost(&label, 505_000, false, "GBP"),
        cost(&publisher, 400_000, true, "GBP"),
        cost(&ids.licence, 100, false, "EUR"),
    ] {
        stage
            .admin
            .post(&ids.path("costs"), &body)
            .await
            .expect(201);
    }
    stage
        .admin
        .post(&ids.path("budgets"), &ids.body("budgets", 1))
        .await
        .expect(201);
    let path = format!("/api/series/{}/cost-summary", ids.series);
    let sum = stage.admin.get(&path).await.expect(200).value();
    let lines = sum["lines"].as_array().expect("lines");
    let of = |currency: &str| {
        lines
            .iter()
            .find(|line| line["currency"] == currency)
            .cloned()
            .expect("a line")
    };
    assert_eq!(of("GBP")["agreed_minor"], 910_000);
    // R11: the publisher is owed 1,000 more.
    assert_eq!(of("GBP")["raised_minor"], 100_000);
    assert_eq!(of("GBP")["left_minor"], 400_000 - 910_000 - 100_000);
    assert_eq!(of("GBP")["step_ups_minor"], 5_000);
    assert_eq!(
        (&of("EUR")["agreed_minor"], &of("EUR")["left_minor"]),
        (&json!(100), &Value::Null)
    );
    assert_eq!(sum["equal_terms"][0]["more_minor"], 100_000, "{sum:#}");
    // R10: no licence has a minimum yet.
    assert_eq!(sum["billed"], json!([]));
    // The newsreel's licence says 480.00 and its cost something else.
    assert!(sum["differences"].to_string().contains("GBP 480.00"));
    for form in ["pdf", "xlsx", "csv"] {
        stage.admin.get(&format!("{path}/{form}")).await.expect(200);
    }
    let editor = stage.test.person("Ed", &ids.series, &[Role::Editor]).await;
    editor.get(&path).await.problem(403, "not_allowed");
    let data = stage
        .test
        .person("Dat", &ids.series, &[Role::DataLead])
        .await;
    let trail = format!("/api/series/{}/audit", ids.series);
    let seen = data.get(&trail).await.expect(200).text();
    assert!(
        !seen.contains("505000") && !seen.contains("48000"),
        "fees in the audit trail"
    );
    assert!(
        stage
            .admin
            .get(&trail)
            .await
            .expect(200)
            .text()
            .contains("505000")
    );
}

/// Rulebook R11: label 5,000, publishers 60/40 at 2,400 and 1,600 on equal terms: 3,000 and 2,000, 1,000 more. The other
/// way about a label on equal terms at 1,500 goes to what both publishers come to.
#[tokio::test]
async fn equal_terms_compare_whole_sides() {
    let stage = stage().await;
    let ids = &stage.ids;
    let mut piece = ids.body("music", 1);
    piece["parties"] = json!([
        {"name": "Foxglove Row", "role": "publisher", "share": 6_000},
        {"name": "Second Row", "role": "publisher", "share": 4_000},
    ]);
    let path = format!("{}/{}", ids.path("music"), ids.music);
    stage.admin.put(&path, 2, &piece).await.expect(200);
    let mut licence = ids.body("licences", 1);
    licence["asset_id"] = Value::Null;
    licence["music_id"] = json!(ids.music);
    licence["fee_minor"] = Value::Null;
    let mut costs = Vec::new();
    for (side, licensor, quoted) in [
        ("recording", "Tidemark", 500_000),
        ("composition", "Foxglove Row", 240_000),
        ("composition", "Second Row", 160_000),
    ] {
        licence["side"] = json!(side);
        licence["licensor"] = json!(licensor);
        let made = stage.admin.post(&ids.path("licences"), &licence).await;
        let cost = json!({
            "licence_id": made.expect(201).id(), "episode_id": ids.episode, "currency": "GBP",
            "quoted_minor": quoted, "agreed_minor": null, "paid_minor": null, "paid_on": null,
            "most_favoured": side == "composition",
        });
        let made = stage.admin.post(&ids.path("costs"), &cost).await;
        costs.push((made.expect(201).id(), cost));
    }
    let sum = format!("/api/series/{}/cost-summary", ids.series);
    let sum = async || stage.admin.get(&sum).await.expect(200).value();
    let said = sum().await["equal_terms"][0]["sentence"].clone();
    let said = said.as_str().expect("a sentence");
    for words in [
        "Foxglove Row (composition, 60 %) goes from GBP 2,400.00 to GBP 3,000.00",
        "Second Row (composition, 40 %) goes from GBP 1,600.00 to GBP 2,000.00",
        "GBP 1,000.00 more (R11)",
    ] {
        assert!(said.contains(words), "{said}");
    }
    for ((id, cost), quoted) in costs.iter_mut().zip([150_000, 120_000, 80_000]) {
        cost["quoted_minor"] = json!(quoted);
        cost["most_favoured"] = json!(quoted == 150_000);
        let path = format!("{}/{id}", ids.path("costs"));
        stage.admin.put(&path, 1, cost).await.expect(200);
    }
    let found = sum().await["equal_terms"].clone();
    assert_eq!(
        found[0]["sentence"]
            .as_str()
            .expect("a sentence")
            .split(": ")
            .last(),
        Some(
            "on equal terms Tidemark (recording) goes from GBP 1,500.00 to GBP 2,000.00, GBP 500.00 more (R11)."
        )
    );
}

/// Issue 4, item 9 (export of every table) and item 7; that a sum in a spreadsheet is made of numbers is common practice, no
/// source: the table has plain numbers and the currency in a column of its own.
#[tokio::test]
async fn costs_come_out_as_numbers() {
    let stage = stage().await;
    let ids = &stage.ids;
    let cost = json!({
        "licence_id": ids.licence, "episode_id": ids.episode, "currency": "EUR", "quoted_minor": 123_450,
        "agreed_minor": null, "paid_minor": 5, "paid_on": "2029-01-02",
        "step_ups": [{ "what": "World", "amount_minor": 7_000, "until": null }],
    });
    let made = stage.admin.post(&ids.path("costs"), &cost).await;
    made.expect(201);
    let mut budget = ids.body("budgets", 1);
    budget["currency"] = json!("EUR");
    budget["amount_minor"] = json!(100_000);
    budget["episode_id"] = json!(ids.episode);
    let made = stage.admin.post(&ids.path("budgets"), &budget).await;
    made.expect(201);
    let path = format!("/api/series/{}/cost-summary/csv", ids.series);
    let csv = stage.admin.get(&path).await.expect(200).text();
    let mut lines = csv.trim_start_matches('\u{FEFF}').lines();
    let heads: Vec<&str> = lines.next().expect("headings").split(',').collect();
    let of = |line: &str, head: &str| {
        let at = heads.iter().position(|one| *one == head).expect("a column");
        line.split(',').nth(at).expect("a cell").to_owned()
    };
    let rows: Vec<&str> = lines.collect();
    let part = |name: &str| {
        let found = rows
            .iter()
            .find(|row| row.contains(name) && row.contains("EUR"));
        *found.unwrap_or_else(|| panic!("no {name}: {csv}"))
    };
    let row = part("Against the budget");
    let cells = ["Currency", "Budget", "Quoted", "Paid", "Left"].map(|head| of(row, head));
    assert_eq!(
        cells,
        ["EUR", "1000.00", "1234.50", "0.05", "-234.50"],
        "{csv}"
    );
    let row = part("Licence by licence");
    let cells = ["Currency", "Quoted", "Agreed", "Step-ups not taken"].map(|head| of(row, head));
    assert_eq!(cells, ["EUR", "1234.50", "", "70.00"], "{csv}");
}

/// What was paid beyond what was agreed stands against the budget and is said; a step-up whose last day has passed can't
/// be taken any more. Source: common practice, no source.
#[tokio::test]
async fn what_was_paid_counts_and_is_compared() {
    let stage = stage().await;
    let ids = &stage.ids;
    let mut budget = ids.body("budgets", 1);
    budget["currency"] = json!("GBP");
    budget["amount_minor"] = json!(300_000);
    budget["episode_id"] = json!(ids.episode);
    stage
        .admin
        .post(&ids.path("budgets"), &budget)
        .await
        .expect(201);
    let cost = |agreed: Value| {
        json!({
            "licence_id": ids.licence, "episode_id": ids.episode, "currency": "GBP", "quoted_minor": null,
            "agreed_minor": agreed, "paid_minor": 290_000, "paid_on": "2026-01-02",
            "step_ups": [
                {"what": "Europe", "amount_minor": 7_000, "until": "2020-01-31"},
                {"what": "World", "amount_minor": 9_000, "until": "2090-01-31"},
            ],
        })
    };
    let made = stage
        .admin
        .post(&ids.path("costs"), &cost(Value::Null))
        .await;
    let made = made.expect(201).id();
    let sum = format!("/api/series/{}/cost-summary", ids.series);
    let sum = async || stage.admin.get(&sum).await.expect(200).value();
    let found = sum().await;
    let lines = found["lines"].as_array().expect("lines").iter();
    let line = lines
        .into_iter()
        .find(|one| one["episode_id"] == ids.episode.as_str());
    let line = line.expect("the episode's");
    assert_eq!(
        (&line["left_minor"], &line["step_ups_minor"]),
        (&json!(10_000), &json!(9_000)),
        "{line}"
    );
    let words = found["differences"].to_string();
    assert!(
        words.contains("GBP 2,900.00 was paid, and nothing is agreed."),
        "{words}"
    );
    let path = format!("{}/{made}", ids.path("costs"));
    stage
        .admin
        .put(&path, 1, &cost(json!(100)))
        .await
        .expect(200);
    let words = sum().await["differences"].to_string();
    let said = "GBP 2,900.00 was paid where GBP 1.00 is agreed, GBP 2,899.00 too much.";
    assert!(words.contains(said), "{words}");
}

/// Rulebook R10 over HTTP: the newsreel is used for 10 s in one cut; 30 s for the project are billed, and 10 s for each
/// use. Equal terms look as far as the licence says (R11): the phone video's owner is raised to the newsreel's fee.
#[tokio::test]
async fn costs_show_what_is_billed_at_least() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at("cost-summary");
    let sum = async || season.admin.get(&path).await.expect(200).value();
    assert_eq!(sum().await["billed"], json!([]));
    let least = |seconds: u32, per: &str| json!({"terms": {"minimum_billing": {"seconds": seconds, "per": per}}});
    let licence = &season.newsreel_licence;
    season
        .change("licences", licence, &least(30, "project"))
        .await;
    let billed = sum().await["billed"].clone();
    let one = &billed[0];
    assert_eq!(
        (&one["used_seconds"], &one["billed_seconds"]),
        (&json!(10), &json!(30))
    );
    assert_eq!(one["cuts"][0]["number"], 4);
    assert_eq!(
        one["sentence"],
        "Quay Archive, for “Harbour newsreel 1934”: 10 s in episode 4, 10 s in all; at least 30 s for the project: \
         30 s are billed (R10)."
    );
    season.change("licences", licence, &least(4, "cut")).await;
    assert_eq!(sum().await["billed"][0]["billed_seconds"], 10);
    let licences = season
        .admin
        .get(&season.at("licences"))
        .await
        .expect(200)
        .value();
    let all = licences["items"].as_array().expect("a list");
    let phone = all
        .iter()
        .find(|one| one["asset_id"] != season.newsreel.as_str() && one["asset_id"] != Value::Null);
    let phone = phone.expect("the phone video's")["id"]
        .as_str()
        .expect("an id");
    let terms = json!({"licensor": "Rill Ferry", "terms": {"most_favoured": "whole_programme"}});
    season.change("licences", phone, &terms).await;
    for (licence, agreed) in [(licence.as_str(), 60_000), (phone, 10_000)] {
        let cost = json!({"licence_id": licence, "episode_id": season.episode, "currency": "GBP", "quoted_minor": null,
            "agreed_minor": agreed, "paid_minor": null, "paid_on": null});
        season.create("costs", cost).await;
    }
    let terms = sum().await["equal_terms"].clone();
    assert_eq!(
        terms[0]["sentence"],
        "The whole programme: on equal terms Rill Ferry (whole) goes from GBP 100.00 to GBP 600.00, GBP 500.00 more \
         (R11)."
    );
    let today = season.admin.get("/api/home").await.expect(200).text();
    let said = "Episode 4: the whole programme: on equal terms Rill Ferry";
    assert!(today.contains(said), "{today}");
    let except = json!({"terms": {"most_favoured": "whole_programme", "most_favoured_except": "quay archive"}});
    season.change("licences", phone, &except).await;
    assert_eq!(sum().await["equal_terms"], json!([]));
}
