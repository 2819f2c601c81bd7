//! Lists going out and coming back: unchanged, changed, with several grants, conditions and shares.

use serde_json::{Value, json};
use waybill_tests::app::TestApp;
use waybill_tests::http::Reply;

use super::{Lists, outcomes};

impl Lists {
    async fn export(&self, kind: &str, form: &str) -> Reply {
        let ask = json!({ "kind": kind, "form": form });
        let path = self.path("sheet-exports");
        self.client.post(&path, &ask).await.expect(200)
    }

    async fn create(&self, kind: &str, body: Value) -> String {
        self.client
            .post(&self.path(kind), &body)
            .await
            .expect(201)
            .id()
    }
}

#[tokio::test]
async fn what_goes_out_comes_back_the_same() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    lists
        .all_at_once(
            "people",
            "Name,Notes,Contact\n=1+1,\"a\nb; c\",+44 7700 900123\nAnn Lee,-,x\nAnn Lee,,y\n",
            &json!({
                "choices": [{ "number": 5, "act": "new" }]
            }),
        )
        .await;
    lists
        .all_at_once("music", "Title,Artist\nLow Water,The Slipway\n", &json!({}))
        .await;
    let csv = "Track,Side,Licensor,Territory,Media,Start,Term,Fee,Currency\nLow Water,sync,Tide Songs,UK; Ireland,TV; SVOD,signature,3 years,1250.50,GBP\n";
    lists.all_at_once("licences", csv, &json!({})).await;
    for kind in ["people", "music", "licences"] {
        for form in ["csv", "xlsx"] {
            let ask = json!({ "kind": kind, "form": form });
            let reply = lists
                .client
                .post(&lists.path("sheet-exports"), &ask)
                .await
                .expect(200);
            if form == "csv" {
                assert!(!reply.text().contains(",=1+1") && !reply.text().contains(",+44"));
            }
            let id = lists.send(kind, &reply.body).await;
            let seen = lists.preview(&id, &json!({})).await;
            let count = lists.records(kind).await.len();
            assert_eq!(seen["counts"]["same"], count, "{kind} {form} {seen:#}");
            lists
                .import(&id, &json!({}), &seen["fingerprint"], false)
                .await
                .problem(409, "conflict");
        }
    }
    // Only what the page shows, in its order.
    let people = lists.records("people").await;
    let ask = json!({ "kind": "people", "form": "csv", "ids": [people[2]["id"], people[0]["id"]] });
    let some = lists
        .client
        .post(&lists.path("sheet-exports"), &ask)
        .await
        .expect(200)
        .text();
    assert_eq!(some.matches("Ann Lee").count(), 1);
    assert!(some.find("Ann Lee") < some.find("'=1+1"));
}

/// A record of each kind that holds more than one thing in a field.
async fn rich(lists: &Lists) {
    let person = lists.create("people", json!({ "credited_name": "Ann Lee", "credited_name_confirmed_on": null, "born": null, "age_band": null, "died": null })).await;
    let other = lists.create("people", json!({ "credited_name": "Bo Ek", "credited_name_confirmed_on": null, "born": null, "age_band": null, "died": null })).await;
    lists
        .create(
            "territory-groups",
            json!({ "name": "Harbour coasts", "territories": ["GB", "IE"], "notes": "" }),
        )
        .await;
    let grants = json!([
        { "territories": ["Harbour coasts", "FR"], "territories_except": ["IE"], "media": ["television", "cinema"], "media_except": ["television.pay"],
          "starts": "2029-01-01", "term": { "months": 60 }, "counting": "after",
          "limits": { "runs": { "allowed": 4, "counting": "each" }, "episodes": [1], "versions": ["broadcast"] },
          "options": [{ "months": 24, "notice_days": 90, "price": "as before", "taken_up_on": null }] },
        { "territories": ["WORLD"], "media": ["all"], "starts": "first_use", "term": null, "long_stop": "2040-01-01" },
    ]);
    lists.create("releases", json!({
        "kind": "appearance", "person_id": person, "place_id": null, "asset_id": null, "status": "ok", "signed_by": "self",
        "signed_by_name": "Ann Lee", "signed_on": "2029-01-02", "filmed_from": null, "filmed_to": null, "entity": "Breakwater Films Ltd",
        "allows_editing": true, "allows_promotion": true, "grants": grants, "withdrawal": null, "document_id": null,
        "restrictions": [
            { "kind": "no_name" }, { "kind": "not_in", "territories": ["US", "CA"] }, { "kind": "not_before", "date": "2030-01-01" },
            { "kind": "not_beside", "person": other }, { "kind": "approval", "words": "sees the cut; says yes", "approved_on": "2029-01-03" },
            { "kind": "other", "words": "no name" },
        ],
    })).await;
    let song = lists.create("music", json!({
        "title": "Low Water", "origin": "commercial", "match_names": ["LOW.WAV"], "composition_territories": ["GB", "154"],
        "parties": [
            { "name": "Ann Lee", "role": "composer_author", "society": "TIDE", "ipi": "", "share": 6667 },
            { "name": "Bo Ek", "role": "arranger", "share": 3333 },
            { "name": "Quay Music", "role": "publisher", "share": 10000 },
        ],
        "share_convention": "each_side", "publisher_note": "",
    })).await;
    lists.create("licences", json!({
        "asset_id": null, "music_id": song, "side": "recording", "licensor": "Tidemark", "status": "signed", "signed_on": "2029-01-02",
        "grants": grants, "fee_minor": 125_050, "currency": "GBP", "payment_due": null, "allows_promotion": false, "document_id": null,
    })).await;
}

const RICH: [&str; 3] = ["releases", "music", "licences"];

/// The whole way round over HTTP: nothing that a list shows, and nothing that it does not show, is another afterwards.
#[tokio::test]
async fn grants_conditions_and_shares_come_back() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    rich(&lists).await;
    for kind in RICH {
        let before = lists.records(kind).await;
        for form in ["csv", "xlsx"] {
            let sent = lists.export(kind, form).await;
            let id = lists.send(kind, &sent.body).await;
            let seen = lists.preview(&id, &json!({})).await;
            assert_eq!(outcomes(&seen), [(2, "same")], "{kind} {form}: {seen:#}");
        }
        // Another note, and the same list again.
        let table = lists.export(kind, "csv").await.text();
        let (heads, row) = table.split_once("\r\n").expect("rows");
        let changed = format!("{heads},Comment\r\n{},by hand\r\n", row.trim_end());
        let ask = if heads.contains("Notes") {
            changed.replace(",Notes", ",Remark")
        } else {
            changed
        };
        lists.all_at_once(kind, ask, &json!({})).await;
        let mut after = lists.records(kind).await;
        assert_eq!(after[0]["notes"], "by hand");
        after[0]["notes"] = before[0]["notes"].clone();
        for own in ["version", "updated_at"] {
            after[0][own] = before[0][own].clone();
        }
        assert_eq!(after, before, "{kind}");
    }
}

/// A line more in the cells of a grant is a grant more; what a list does not show of the others stays.
#[tokio::test]
async fn a_grant_is_added_by_a_line() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    rich(&lists).await;
    let table = lists.export("licences", "csv").await.text();
    let more = table
        .replace("(2) WORLD", "(2) WORLD\n(3) US")
        .replace("(2) all", "(2) all\n(3) cinema")
        .replace("(2) first use", "(2) first use\n(3) 2030-01-01")
        .replace("(1) 60 months\n(2)", "(1) 48 months\n(2)\n(3) perpetuity");
    let id = lists.send("licences", &more).await;
    let seen = lists.preview(&id, &json!({})).await;
    assert_eq!(outcomes(&seen), [(2, "changes")], "{seen:#}");
    let import = lists
        .import(&id, &json!({}), &seen["fingerprint"], false)
        .await;
    import.expect(201);
    let licence = lists.records("licences").await.remove(0);
    let grants = licence["grants"].as_array().expect("grants");
    assert_eq!(grants.len(), 3);
    assert_eq!(grants[0]["term"], json!({ "months": 48 }));
    assert_eq!(grants[0]["limits"]["runs"]["allowed"], 4);
    assert_eq!(grants[0]["options"][0]["price"], "as before");
    assert_eq!(
        (&grants[1]["term"], &grants[1]["long_stop"]),
        (&Value::Null, &json!("2040-01-01"))
    );
    assert_eq!(
        (&grants[2]["territories"], &grants[2]["term"]),
        (&json!(["US"]), &json!("perpetuity"))
    );
}

/// A licence over several rows, as teams' own lists have it, is one record; the preview says which rows it took so.
#[tokio::test]
async fn rows_below_are_further_grants() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    lists
        .create(
            "music",
            json!({ "title": "Low Water", "origin": "commercial" }),
        )
        .await;
    let table = "Track,Side,Licensor,Territory,Media,Start,Term,Fee,Currency\n\
        Low Water,sync,Tide Songs,UK; Ireland,TV,2029-01-01,3 years,1250.50,GBP\n\
        ,,,US,SVOD,,2031-12-31,,\n";
    let id = lists.send("licences", table).await;
    let seen = lists.preview(&id, &json!({})).await;
    assert_eq!(outcomes(&seen), [(2, "new")], "{seen:#}");
    assert!(
        seen["warnings"]
            .to_string()
            .contains("Row 3 says a further grant"),
        "{seen:#}"
    );
    lists
        .import(&id, &json!({}), &seen["fingerprint"], false)
        .await
        .expect(201);
    let licence = lists.records("licences").await.remove(0);
    assert_eq!(licence["fee_minor"], 125_050);
    let grants = licence["grants"].as_array().expect("grants");
    assert_eq!(grants.len(), 2);
    assert_eq!(grants[1]["territories"], json!(["US"]));
    assert_eq!(
        (&grants[1]["starts"], &grants[1]["term"]),
        (&json!("2029-01-01"), &json!({ "to": "2031-12-31" }))
    );
}

/// What a record names may have gone since: the preview says so, row by row, not the import.
#[tokio::test]
async fn a_lost_reference_is_named_in_its_row() {
    let test = TestApp::start().await;
    let lists = Lists::new(&test).await;
    rich(&lists).await;
    let table = lists.export("licences", "csv").await.text();
    let conn = test.db.connect().await;
    // Refused over HTTP while a licence names it; a row of a restored copy may look like this.
    conn.batch_execute("update music set deleted_at = created_at")
        .await
        .expect("changed");
    let table = table
        .replace("Low Water", "")
        .replace("Tidemark", "Tidemark Records");
    let id = lists.send("licences", &table).await;
    let seen = lists.preview(&id, &json!({})).await;
    assert_eq!(outcomes(&seen), [(2, "faulty")], "{seen:#}");
    assert!(
        seen["rows"][0]["faults"]
            .to_string()
            .contains("no such record"),
        "{seen:#}"
    );
}
