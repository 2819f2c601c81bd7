//! Captions of a cut: read, kept, checked against confirmed names (rulebook R36) and against what people asked for (R23).

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;

use crate::api::season::Season;

fn item(list: &Value, at: usize) -> &Value {
    &list["items"][at]
}

fn faults(list: &Value, at: usize) -> Vec<String> {
    let found = item(list, at)["findings"].as_array().expect("a list");
    let word = |one: &Value| one["fault"].as_str().expect("a word").to_owned();
    found.iter().map(word).collect()
}

#[tokio::test]
async fn captions_are_read_kept_and_compared_letter_by_letter() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at(&format!("cuts/{}/captions", season.cut));
    let empty = season.admin.get(&path).await.expect(200);
    assert_eq!((empty.version(), &empty.value()["items"]), (0, &json!([])));
    // The phone video's rower, in the first event; an accent in the name, typed as two code points.
    let ines = find(&season, "Ines Marlow").await;
    let confirmed = json!({"credited_name": "In\u{e9}s Marlow", "credited_name_confirmed_by": "herself",
        "credited_name_confirmed_on": "2029-01-03"});
    season.change("people", &ines, &confirmed).await;
    let lines = "10:00:02:00\t10:00:05:00\tIne\u{301}s Marlow\tCox\n10:00:31:00 | 10:00:33:00 | Ines Marlow\n\
                 10:00:40:00 10:00:42:00 The harbour, 1934";
    let read = season
        .admin
        .post(&format!("{path}/read"), &json!({"text": lines}))
        .await
        .expect(200)
        .value();
    assert_eq!(item(&read, 0)["person_id"], ines.as_str());
    assert_eq!(item(&read, 1)["person_id"], ines.as_str());
    assert_eq!(item(&read, 2)["person_id"], Value::Null);
    let mut items = read["items"].clone();
    items[2]["names_nobody"] = true.into();
    let kept = season
        .admin
        .put(&path, 0, &json!({"items": items}))
        .await
        .expect(200);
    assert_eq!(kept.version(), 1);
    let list = kept.value();
    assert_eq!(faults(&list, 0), Vec::<String>::new());
    assert_eq!(faults(&list, 1), ["differs", "not_there"]);
    assert_eq!(faults(&list, 2), Vec::<String>::new());
    assert_eq!(
        item(&list, 1)["findings"][0]["sentence"],
        "The caption says “Ines Marlow”; the name as credited is “In\u{e9}s Marlow” (accents differ)."
    );
    assert_eq!(list["open"], 1);
    season
        .admin
        .put(&path, 0, &json!({"items": items}))
        .await
        .problem(412, "stale");
    bad_input(&season, &path).await;
    // In the answer, on the credit list and on the insurer's checklist.
    let answer = season.clearance().await;
    let text = answer.to_string();
    assert!(text.contains("caption_differs") && text.contains("(accents differ)"));
    let credits = season.at(&format!("episodes/{}/papers/credits", season.episode));
    let credits = season.admin.get(&credits).await.expect(200).text();
    assert!(credits.contains("(accents differ)"), "{credits}");
    let list = season.at(&format!("episodes/{}/checklist", season.episode));
    let list = season.admin.get(&list).await.expect(200).value();
    let points = list["points"].as_array().expect("points");
    let point = points.iter().find(|one| one["item"] == "captions");
    assert_eq!(point.expect("the point")["records_open"], true);
    // A later cut offers them.
    let later =
        crate::api::season::LIST.replace("10:00:48:00 10:00:50:00", "10:00:48:00 10:00:49:00");
    let later = season
        .import("EP04_CUT_290107_v1", &later)
        .await
        .expect(201)
        .id();
    let later = season.at(&format!("cuts/{later}/captions"));
    let offered = season.admin.get(&later).await.expect(200).value();
    assert_eq!(offered["earlier"]["captions"], 3);
    assert_eq!(offered["earlier"]["cut_id"], season.cut.as_str());
}

async fn bad_input(season: &Season, path: &str) {
    let bad = json!({"items": [
        {"from": "10:00:05:00", "to": "10:00:02:00", "text": "A"},
        {"from": "ten", "to": "10:00:02:00", "text": ""},
        {"from": "10:00:01:00", "to": "10:00:02:00", "text": "B", "person_id": season.place},
    ]});
    let refused = season
        .admin
        .put(path, 1, &bad)
        .await
        .problem(422, "invalid");
    let pointers: Vec<&str> = (refused["errors"].as_array().expect("errors").iter())
        .map(|one| one["pointer"].as_str().expect("a pointer"))
        .collect();
    assert_eq!(
        pointers,
        [
            "/items/0/to",
            "/items/1/text",
            "/items/1/from",
            "/items/2/person_id"
        ]
    );
    let lines = json!({"text": "10:00:02:00 | Ines\n\n10:00:02:00 | 10:00:01:00 | Ines"});
    let read = season.admin.post(&format!("{path}/read"), &lines).await;
    let faults = read.problem(422, "invalid");
    assert_eq!(faults["errors"].as_array().expect("errors").len(), 2);
    assert!(faults["errors"][1]["detail"].to_string().contains("Line 3"));
}

#[tokio::test]
async fn a_name_agreed_otherwise_blocks_and_turns() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let path = season.at(&format!("cuts/{}/captions", season.cut));
    let ines = find(&season, "Ines Marlow").await;
    let releases = season
        .admin
        .get(&season.at("releases"))
        .await
        .expect(200)
        .value();
    let all = releases["items"].as_array().expect("a list");
    let form = all.iter().find(|one| one["person_id"] == ines.as_str());
    let form = form.expect("her form")["id"]
        .as_str()
        .expect("an id")
        .to_owned();
    let only =
        json!({"status": "restricted_ok", "restrictions": [{"kind": "named_as", "name": "Ines"}]});
    season.change("releases", &form, &only).await;
    let caption = |text: &str| json!({"items": [{"from": "10:00:02:00", "to": "10:00:05:00", "text": text, "person_id": ines}]});
    let said = |answer: &Value| {
        let all = answer["elements"].as_array().expect("elements").clone();
        let one = all.into_iter().find(|one| one["label"] == "Ines Marlow");
        let one = one.expect("in the answer");
        (
            one["state"].as_str().expect("a state").to_owned(),
            one["reasons"].to_string(),
        )
    };
    season
        .admin
        .put(&path, 0, &caption("Ines Marlow"))
        .await
        .expect(200);
    let (state, reasons) = said(&season.clearance().await);
    assert_eq!(state, "gap", "{reasons}");
    assert!(
        reasons.contains("agreed to be named only as “Ines”"),
        "{reasons}"
    );
    season
        .admin
        .put(&path, 1, &caption("Ines\nCox"))
        .await
        .expect(200);
    let (state, reasons) = said(&season.clearance().await);
    assert_eq!(state, "restricted", "{reasons}");
    let none = json!({"restrictions": [{"kind": "no_name"}]});
    season.change("releases", &form, &none).await;
    let (state, reasons) = said(&season.clearance().await);
    assert_eq!(state, "gap", "{reasons}");
    assert!(reasons.contains("name_must_not_be_shown"), "{reasons}");
    // Who logs footage enters captions; who only sees cuts reads them.
    let counsel = test.person("Cora", &season.series, &[Role::Counsel]).await;
    counsel.get(&path).await.expect(200);
    counsel
        .put(&path, 2, &caption("Ines"))
        .await
        .problem(403, "not_allowed");
    let contact = test
        .person("Con", &season.series, &[Role::DeliveryContact])
        .await;
    contact.get(&path).await.problem(403, "not_allowed");
}

async fn find(season: &Season, name: &str) -> String {
    let people = season
        .admin
        .get(&season.at("people"))
        .await
        .expect(200)
        .value();
    let all = people["items"].as_array().expect("a list");
    let one = all.iter().find(|one| one["credited_name"] == name);
    one.expect("a person")["id"]
        .as_str()
        .expect("an id")
        .to_owned()
}
