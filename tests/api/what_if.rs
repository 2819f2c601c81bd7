//! "What if" compares without storing; an approval freezes what it covered, and a change reopens only what it touches.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::rights::{element, said};
use crate::api::season::{Season, fields};

const REEL: &str = "Harbour newsreel 1934";

async fn try_it(season: &Season, steps: Value) -> Value {
    let path = season.at(&format!("episodes/{}/clearance/what-if", season.episode));
    season
        .admin
        .post(&path, &json!({"steps": steps}))
        .await
        .expect(200)
        .value()
}

#[tokio::test]
async fn what_a_change_would_do_is_shown_and_not_stored() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let before = season.clearance().await;
    let reel = &season.newsreel_licence;
    let extend = json!({"change": "extend", "paper": reel, "to": "2032-09-30"});
    let found = try_it(
        &season,
        json!([{"change": extend, "fee_minor": 120_000, "currency": "GBP"}]),
    )
    .await;
    assert_eq!(
        (&found["won"], &found["lost"]),
        (&json!(4), &json!(0)),
        "two territories, two media"
    );
    assert_eq!(
        found["fees"],
        json!([{"currency": "GBP", "minor": 120_000}])
    );
    assert_eq!(found["elements"][0]["label"], REEL);
    assert_eq!(found["elements"][0]["after"], "covered");
    assert_eq!(
        found["elements"][0]["won"][0]["place"],
        "the UK and Ireland"
    );
    assert_eq!(season.clearance().await, before, "nothing was stored");
    let grant = json!({
        "territories": ["WORLD"], "media": ["all"], "starts": "2029-01-01", "term": "perpetuity"
    });
    let add = json!({"change": "add_grant", "element": season.song, "side": "composition", "grant": grant,
        "allows_promotion": false});
    let found = try_it(&season, json!([{"change": add, "fee_minor": 5_000, "currency": "EUR"},
        {"change": {"change": "add_territories", "territories": ["FR"]}, "fee_minor": 5_000, "currency": "EUR"}])).await;
    assert_eq!(found["fees"], json!([{"currency": "EUR", "minor": 10_000}]));
    let song = found["elements"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|one| one["label"] == "Slack Water Song")
        .expect("the song");
    assert_eq!(
        song["after"], "gap",
        "the recording is not licensed in France"
    );
    assert_eq!(song["won"][0]["cells"], 4);
    assert_eq!(song["newly_open"][0]["territories"], json!(["FR"]));
    let dropped = try_it(
        &season,
        json!([{"change": {"change": "drop", "element": season.newsreel}}]),
    )
    .await;
    assert_eq!(dropped["elements"][0]["after"], Value::Null);
    assert_eq!(dropped["after"]["counts"]["gap"], 3);
    let moved = json!([{"change": {"change": "move_first_transmission", "to": "2030-01-01"}}]);
    assert_eq!(try_it(&season, moved).await["won"], 0);
}

#[tokio::test]
async fn steps_that_mean_nothing_are_named() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at(&format!("episodes/{}/clearance/what-if", season.episode));
    for (step, pointer) in [
        (
            json!({"change": {"change": "drop", "element": "x"}}),
            "/steps/0/change/element",
        ),
        (
            json!({"change": {"change": "extend", "paper": "x", "to": "2032-09-30"}}),
            "/steps/0/change/paper",
        ),
        (
            json!({"change": {"change": "add_territories", "territories": ["QQ"]}}),
            "/steps/0/change/territories/0",
        ),
        (
            json!({"change": {"change": "add_territories", "territories": ["Nowhere land"]}}),
            "/steps/0/change/territories/0",
        ),
        (
            json!({"change": {"change": "add_territories", "territories": ["FR"]}, "fee_minor": 5}),
            "/steps/0/currency",
        ),
    ] {
        let refused = season
            .admin
            .post(&path, &json!({"steps": [step]}))
            .await
            .problem(422, "invalid");
        assert_eq!(refused["errors"][0]["pointer"], pointer, "{refused}");
    }
    season
        .admin
        .post(&path, &json!({"steps": []}))
        .await
        .problem(422, "invalid");
    season
        .admin
        .post(&path, &json!({"steps": [{"change": {"change": "sing"}}]}))
        .await
        .problem(400, "bad_request");
}

/// Costs and a budget: the newsreel agreed at 1,000, 400 of it paid, with a step-up still open and one too late; the
/// phone video quoted at 800 on equal terms with all imports; 5,000 to spend.
async fn with_money(test: &TestApp) -> Season {
    let season = Season::make(test).await;
    let newsreel = &season.newsreel_licence;
    let phone = season
        .find("licences", |one| {
            one["asset_id"].is_string() && one["id"] != newsreel.as_str()
        })
        .await["id"]
        .clone();
    let phone = phone.as_str().expect("an id");
    let terms = json!({"licensor": "Rill Ferry", "terms": {"most_favoured": "whole_programme"}});
    season.change("licences", phone, &terms).await;
    let budget = json!({"episode_id": season.episode, "title": "Archive", "currency": "GBP", "amount_minor": 500_000});
    season.create("budgets", budget).await;
    let cost = |licence: &str, quoted: Value, agreed: Value, paid: Value| {
        json!({
            "licence_id": licence, "episode_id": season.episode, "currency": "GBP", "quoted_minor": quoted,
            "agreed_minor": agreed, "paid_minor": paid, "paid_on": null,
        })
    };
    let mut reel = cost(newsreel, Value::Null, 100_000.into(), 40_000.into());
    reel["step_ups"] = json!([
        {"what": "World", "amount_minor": 20_000, "until": "2090-01-31"},
        {"what": "Europe", "amount_minor": 7_000, "until": "2020-01-31"},
    ]);
    season.create("costs", reel).await;
    let quoted = cost(phone, 80_000.into(), Value::Null, Value::Null);
    season.create("costs", quoted).await;
    season
}

/// The line of a currency; the money in it, and what is left.
fn line(found: &Value, currency: &str) -> [Value; 6] {
    let lines = found["costs"]["lines"].as_array().expect("lines");
    let line = lines.iter().find(|one| one["currency"] == currency);
    let line = line.expect("a line of that currency");
    [
        "fees_minor",
        "step_ups_minor",
        "raised_minor",
        "saved_minor",
        "cost_minor",
        "left_after_minor",
    ]
    .map(|name| line[name].clone())
}

/// Issue 4, items 6 and 7: the cost of each what-if. A step-up of the licence that is extended counts where no fee is
/// typed, and the other import on equal terms is raised with it (R11); another currency stays apart; what is agreed and
/// not paid is saved with the element. Sums by hand.
#[tokio::test]
async fn what_a_change_would_cost_is_worked_from_the_costs() {
    let test = TestApp::start().await;
    let season = with_money(&test).await;
    let reel = &season.newsreel_licence;
    let extend = json!({"change": "extend", "paper": reel, "to": "2032-09-30"});
    let found = try_it(&season, json!([{"change": extend}])).await;
    // 1,200 for the newsreel: the phone video goes from 800 to that, and not to 1,000 as it stands
    let sums = [0, 20_000, 20_000, 0, 40_000, 260_000];
    assert_eq!(line(&found, "GBP"), sums.map(Value::from), "{found}");
    assert_eq!(found["costs"]["lines"][0]["left_before_minor"], 300_000);
    let said = found["costs"]["step_ups"].to_string();
    assert!(
        said.contains("“World” can be taken for GBP 200.00, until 31 Jan 2090"),
        "{said}"
    );
    assert!(!said.contains("Europe"), "too late: {said}");
    let said = found["costs"]["equal_terms"].to_string();
    let words = "goes from GBP 800.00 to GBP 1,200.00, GBP 400.00 more (R11). As it stands, GBP 200.00 more.";
    assert!(said.contains(words), "{said}");

    let fee = |minor: i64, currency: &str| json!([{"change": extend, "fee_minor": minor, "currency": currency}]);
    let found = try_it(&season, fee(30_000, "GBP")).await;
    let sums = [30_000, 0, 30_000, 0, 60_000, 240_000];
    assert_eq!(line(&found, "GBP"), sums.map(Value::from), "{found}");
    assert_eq!(found["costs"]["step_ups"][0]["counted"], false);
    let found = try_it(&season, fee(5_000, "EUR")).await;
    assert_eq!(line(&found, "EUR")[4..], [json!(5_000), Value::Null]);
    assert_eq!(line(&found, "GBP")[4..], [json!(0), json!(300_000)]);

    let grant = json!({
        "territories": ["WORLD"], "media": ["all"], "starts": "2029-01-01", "term": "perpetuity"
    });
    let add = json!({"change": "add_grant", "element": season.newsreel, "side": "whole", "grant": grant,
        "allows_promotion": false});
    let grant = json!([{"change": add, "fee_minor": 30_000, "currency": "GBP"}]);
    let found = try_it(&season, grant).await;
    assert_eq!(line(&found, "GBP")[4..], [60_000, 240_000].map(Value::from));

    let further = json!([{"change": {"change": "add_territories", "territories": ["FR"]}}]);
    let found = try_it(&season, further).await;
    assert_eq!(line(&found, "GBP")[1], 20_000, "{found}");

    let drop = json!([{"change": {"change": "drop", "element": season.newsreel}}]);
    let found = try_it(&season, drop).await;
    let sums = [0, 0, -20_000, 60_000, -80_000, 380_000];
    assert_eq!(line(&found, "GBP"), sums.map(Value::from), "{found}");
    let said = found["costs"]["savings"][0]["sentence"].to_string();
    let words = "GBP 1,000.00 is agreed, GBP 400.00 of it paid; GBP 600.00 is saved";
    assert!(said.contains(words), "{said}");
}

/// Source: rulebook 8: an editor sees cuts, not fees.
#[tokio::test]
async fn who_may_not_see_fees_is_told_no_costs_of_a_change() {
    let test = TestApp::start().await;
    let season = with_money(&test).await;
    let editor = test
        .person("Edda Editor", &season.series, &[Role::Editor])
        .await;
    let path = season.at(&format!("episodes/{}/clearance/what-if", season.episode));
    let drop = json!({"steps": [{"change": {"change": "drop", "element": season.newsreel}}]});
    let found = editor.post(&path, &drop).await.expect(200).value();
    assert_eq!(found["costs"], Value::Null);
}

async fn approve(season: &Season, who: &Client) -> waybill_tests::http::Reply {
    let path = season.at(&format!("episodes/{}/approvals", season.episode));
    who.post(&path, &json!({"note": "seen with counsel"})).await
}

/// An approval covers what was looked at: a licence shortened in between is a conflict, and nothing is approved.
/// Source: rulebook 8, by what an approval is for; how it is told, common practice, no source.
#[tokio::test]
async fn an_approval_does_not_cover_what_nobody_saw() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at(&format!("episodes/{}/approvals", season.episode));
    let producer = test
        .person("Pia Producer", &season.series, &[Role::SeriesProducer])
        .await;
    let seen = season.clearance().await["fingerprint"].clone();
    let cox = element(&season.clearance().await, "Ines Marlow");
    let form = season
        .find("releases", |one| one["person_id"] == cox["id"])
        .await["id"]
        .clone();
    let form = form.as_str().expect("an id");
    season
        .change("releases", form, &json!({"allows_promotion": false}))
        .await;
    let refused = producer
        .post(&path, &json!({"note": "", "seen": seen}))
        .await;
    let refused = refused.problem(412, "stale");
    assert!(
        refused["detail"].to_string().contains("has changed since"),
        "{refused}"
    );
    let now = season.clearance().await;
    assert_eq!(now["approval"], Value::Null);
    let body = json!({"note": "", "seen": now["fingerprint"]});
    producer.post(&path, &body).await.expect(201);
}

/// Rulebook 8: a person with the right to; self-approval is marked; a later change reopens only what it touches.
#[tokio::test]
async fn an_approval_freezes_what_it_covered() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let editor = test
        .person("Edda Editor", &season.series, &[Role::Editor])
        .await;
    approve(&season, &editor).await.problem(403, "not_allowed");
    assert_eq!(season.clearance().await["approval"], Value::Null);
    let producer = test
        .person("Pia Producer", &season.series, &[Role::SeriesProducer])
        .await;
    let made = approve(&season, &producer).await.expect(201).value();
    assert_eq!(
        (&made["self_approved"], &made["covered"]),
        (&json!(false), &json!(2)),
        "{made}"
    );
    assert_eq!(made["complete"], false);
    let approval = season.clearance().await["approval"].clone();
    assert_eq!(approval["approved_by"], "Pia Producer");
    assert_eq!(
        (
            approval["stands"].as_array().expect("a list").len(),
            &approval["reopened"]
        ),
        (2, &json!([]))
    );
    // Something before it in the cut moves it along, and touches nothing.
    let longer = crate::api::season::LIST.replace(
        "10:00:48:00 10:00:50:00",
        "10:00:48:00 10:00:50:00\n\
        010  BL       V     C        00:00:00:00 00:00:01:00 10:01:10:00 10:01:11:00",
    );
    season
        .import("EP04_CUT_290106_v1", &longer)
        .await
        .expect(201);
    let approval = season.clearance().await["approval"].clone();
    assert_eq!(
        approval["stands"].as_array().expect("a list").len(),
        2,
        "{approval}"
    );
    assert_eq!(
        approval["cut_name"], "EP04_CUT_290105_v1",
        "frozen with the cut that was approved"
    );
    let cox = element(&season.clearance().await, "Ines Marlow");
    let form = season
        .find("releases", |one| one["person_id"] == cox["id"])
        .await["id"]
        .clone();
    season
        .change(
            "releases",
            form.as_str().expect("an id"),
            &json!({"allows_promotion": false}),
        )
        .await;
    let approval = season.clearance().await["approval"].clone();
    assert_eq!(approval["reopened"][0]["label"], "Ines Marlow");
    assert_eq!(approval["stands"].as_array().expect("a list").len(), 1);
    // The producer mends a licence herself, and approves again: marked.
    let path = season.at(&format!("licences/{}", season.newsreel_licence));
    let mut licence = season.admin.get(&path).await.expect(200).value();
    licence = fields(&licence);
    licence["grants"][0]["term"] = json!({"to": "2032-09-30"});
    producer.put(&path, 1, &licence).await.expect(200);
    assert_eq!(said(&season.clearance().await, REEL).0, "covered");
    let again = approve(&season, &producer).await.expect(201).value();
    assert_eq!(
        (&again["self_approved"], &again["covered"]),
        (&json!(true), &json!(3))
    );
    let withdraw = season.at(&format!(
        "approvals/{}/withdraw",
        again["id"].as_str().expect("an id")
    ));
    producer.post(&withdraw, &json!({})).await.expect(204);
    producer
        .post(&withdraw, &json!({}))
        .await
        .problem(404, "not_found");
    let list = season.at(&format!(
        "episodes/{}/approvals?spec={}",
        season.episode, season.specification
    ));
    let list = producer.get(&list).await.expect(200).value();
    assert_eq!(list["items"].as_array().expect("a list").len(), 2);
    assert_eq!(list["items"][0]["withdrawn_by"], "Pia Producer");
}
