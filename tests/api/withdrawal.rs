//! A wish to withdraw: request, holding, decision, action; who may decide, and what that does to the answer.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::season::{LIST, Season};

struct Stage<'a> {
    season: &'a Season,
    path: String,
}

impl Stage<'_> {
    /// Sends the form with other steps, as somebody.
    async fn send(
        &self,
        who: &Client,
        stands: Value,
        status: &str,
        steps: Value,
    ) -> waybill_tests::http::Reply {
        let now = self.season.admin.get(&self.path).await.expect(200);
        let mut record = now.value();
        record["withdrawal"] = stands;
        record["status"] = status.into();
        record["details"] = json!({"withdrawal_steps": steps});
        for own in [
            "id",
            "series_id",
            "version",
            "created_at",
            "updated_at",
            "deleted_at",
        ] {
            record.as_object_mut().expect("a record").remove(own);
        }
        who.put(&self.path, now.version(), &record).await
    }

    async fn state(&self) -> String {
        let answer = self.season.clearance().await;
        let all = answer["elements"].as_array().expect("elements").clone();
        let one = all.into_iter().find(|one| one["label"] == "Ines Marlow");
        one.expect("in the answer")["state"]
            .as_str()
            .expect("a state")
            .to_owned()
    }
}

/// The address of the form that is in order.
async fn her_form(season: &Season) -> String {
    let at = season.at("releases");
    let releases = season.admin.get(&at).await.expect(200).value();
    let mut all = releases["items"].as_array().expect("a list").iter();
    let form = all.find(|one| one["kind"] == "appearance" && one["status"] == "ok");
    let id = form.expect("her form")["id"].as_str().expect("an id");
    season.at(&format!("releases/{id}"))
}

#[tokio::test]
async fn a_withdrawal_is_decided_by_who_answers_for_the_programme() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let stage = Stage {
        season: &season,
        path: her_form(&season).await,
    };
    let keeper = test
        .person("Asa", &season.series, &[Role::Coordinator])
        .await;
    let counsel = test.person("Cora", &season.series, &[Role::Counsel]).await;
    let asked =
        json!({"on": "2029-01-05", "step": "requested", "by": "Ines Marlow", "words": "she rang"});
    let held = json!({"on": "2029-01-09", "step": "holding", "by": "Asa"});
    let accepted =
        json!({"on": "2029-01-09", "step": "accepted", "by": "Cora", "words": "good reason"});
    let acted =
        json!({"on": "2029-01-09", "step": "acted", "by": "Ed", "words": "taken out of v2"});
    assert_eq!(stage.state().await, "covered");
    // Out of order: holding before anybody asked.
    let early = stage
        .send(
            &keeper,
            "holding".into(),
            "withdrawn_being_decided",
            json!([held]),
        )
        .await
        .problem(422, "invalid");
    assert_eq!(
        early["errors"][0]["pointer"],
        "/details/withdrawal_steps/0/step"
    );
    // Whoever keeps the releases enters the request and holds the uses.
    let holding = json!([asked, held]);
    stage
        .send(
            &keeper,
            "holding".into(),
            "withdrawn_being_decided",
            holding.clone(),
        )
        .await
        .expect(200);
    assert_eq!(stage.state().await, "gap");
    let today = || async { season.admin.get("/api/home").await.expect(200).text() };
    let said = today().await;
    assert!(
        said.contains("asked to withdraw; the uses are held until it is decided."),
        "{said}"
    );
    // They decide nothing, with steps or without, nor make the request vanish.
    let decided = json!([asked, held, accepted]);
    let refused = stage
        .send(&keeper, "accepted".into(), "problem", decided.clone())
        .await
        .problem(403, "not_allowed");
    assert!(
        refused["detail"]
            .to_string()
            .contains("series producer or counsel")
    );
    for (stands, steps) in [(Value::Null, json!([])), ("declined".into(), json!([]))] {
        stage
            .send(&keeper, stands, "ok", steps)
            .await
            .problem(403, "not_allowed");
    }
    let noted = |steps: Value| stage.send(&counsel, "accepted".into(), "signed_not_checked", steps);
    noted(decided.clone()).await.expect(200);
    assert_eq!(stage.state().await, "gap");
    let said = today().await;
    assert!(
        said.contains("has withdrawn, and that was accepted; the uses are to be taken out."),
        "{said}"
    );
    // What was done in the cut is entered by whoever did it; the decision stays as it is.
    let with_action = json!([asked, held, accepted, acted]);
    stage
        .send(
            &keeper,
            "accepted".into(),
            "signed_not_checked",
            with_action,
        )
        .await
        .expect(200);
    let changed =
        json!([asked, held, {"on": "2029-01-07", "step": "accepted", "by": "Cora"}, acted]);
    stage
        .send(&keeper, "accepted".into(), "signed_not_checked", changed)
        .await
        .problem(403, "not_allowed");
    let answer = season.clearance().await.to_string();
    assert!(
        answer.contains("has withdrawn, and that was accepted"),
        "{answer}"
    );
    // A new request may follow, and be declined: then the form holds again.
    let again = json!([asked, held, accepted, {"on": "2029-01-09", "step": "requested", "by": "her agent"},
        {"on": "2029-01-09", "step": "declined", "by": "Cora", "words": "she stays in after all"}]);
    stage
        .send(&counsel, "declined".into(), "ok", again)
        .await
        .expect(200);
    assert_eq!(stage.state().await, "covered");
}

#[tokio::test]
async fn who_withdrew_and_is_in_no_newest_cut_any_more_is_not_on_today() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let stage = Stage {
        path: her_form(&season).await,
        season: &season,
    };
    let counsel = test.person("Cora", &season.series, &[Role::Counsel]).await;
    let steps = json!([
        {"on": "2029-01-05", "step": "requested", "by": "Ines Marlow", "words": "she rang"},
        {"on": "2029-01-09", "step": "accepted", "by": "Cora", "words": "good reason"},
    ]);
    let accepted = stage.send(&counsel, "accepted".into(), "signed_not_checked", steps);
    accepted.await.expect(200);
    let is_told = async || {
        let today = season.admin.get("/api/home").await.expect(200).text();
        today.contains("Ines Marlow has withdrawn")
    };
    assert!(is_told().await);
    // delivered as it is, she is still in it
    let episode = season.episode.clone();
    let delivered = json!({"status": "delivered"});
    season.change("episodes", &episode, &delivered).await;
    assert!(is_told().await);
    // she is in the first two events
    let (head, rest) = LIST.split_once("001  ").expect("a first event");
    let (_, rest) = rest.split_once("003  A003").expect("a third event");
    let without = format!("{head}003  A003{rest}");
    let cut = season.import("EP04_CUT_290110_v2", &without).await;
    cut.expect(201);
    assert!(!is_told().await);
    let working = json!({"status": "cutting"});
    season.change("episodes", &episode, &working).await;
    assert!(!is_told().await);
}

/// Common practice, no source: the step says who did it and when; the server says who entered it and when.
#[tokio::test]
async fn who_enters_a_step_is_recorded_with_the_day() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let stage = Stage {
        path: her_form(&season).await,
        season: &season,
    };
    let counsel = test.person("Cora", &season.series, &[Role::Counsel]).await;
    let asked = json!({"step": "requested", "by": "Ines Marlow", "entered_by": "Nobody", "entered_on": "2020-01-01"});
    let send = |stands: &str, steps: Value| {
        let status = if stands == "accepted" {
            "signed_not_checked"
        } else {
            "withdrawn_being_decided"
        };
        stage.send(&counsel, stands.into(), status, steps)
    };
    let refused = async |stands: &str, steps: Value| {
        let answer = send(stands, steps).await.problem(422, "invalid");
        answer["errors"][0].clone()
    };
    // Who asked is somebody else than who types; a request without them is none.
    let nobody = refused("requested", json!([{"step": "requested"}])).await;
    assert_eq!(nobody["pointer"], "/details/withdrawal_steps/0/by");
    let earlier = json!({"on": "2029-01-08", "step": "requested", "by": "Ines Marlow"});
    let unsaid = refused("requested", json!([earlier])).await;
    assert_eq!(unsaid["pointer"], "/details/withdrawal_steps/0/words");
    assert!(
        unsaid["detail"].to_string().contains("9 Jan 2029"),
        "{unsaid}"
    );
    let to_come =
        json!({"on": "2029-01-10", "step": "requested", "by": "Ines Marlow", "words": "she will"});
    let to_come = refused("requested", json!([to_come])).await;
    assert_eq!(to_come["pointer"], "/details/withdrawal_steps/0/on");
    let kept = send("holding", json!([asked, {"step": "holding"}]))
        .await
        .expect(200)
        .value();
    let steps = kept["details"]["withdrawal_steps"].clone();
    let own = |step: &str, by: &str| {
        json!({"on": "2029-01-09", "step": step, "by": by, "words": "",
        "entered_by": "Cora", "entered_on": "2029-01-09"})
    };
    assert_eq!(
        steps,
        json!([own("requested", "Ines Marlow"), own("holding", "Cora")])
    );
    // Nobody decides under another's name; days later the steps that stand keep their notes.
    test.clock.advance(chrono::TimeDelta::days(2));
    let forged = json!([steps[0], steps[1], {"step": "accepted", "by": "Ada Admin"}]);
    let forged = refused("accepted", forged).await;
    assert_eq!(forged["pointer"], "/details/withdrawal_steps/2/by");
    let decided = json!([steps[0], steps[1], {"step": "accepted"}]);
    let kept = send("accepted", decided).await.expect(200).value();
    let after = &kept["details"]["withdrawal_steps"];
    assert_eq!((&after[0], &after[1]), (&steps[0], &steps[1]));
    assert_eq!(
        (&after[2]["by"], &after[2]["entered_by"], &after[2]["on"]),
        (&json!("Cora"), &json!("Cora"), &json!("2029-01-11"))
    );
}

/// Rulebook R25: 21 days before filming; a blank is no exemption; it stands under Today until then.
#[tokio::test]
async fn a_child_licence_is_asked_for_in_time() {
    let test = TestApp::start().await;
    let season = Season::make(&test).await;
    let child = season.person("Wren Tallow", "2017-04-01").await;
    let form = |details: Value| {
        json!({
            "kind": "minor", "person_id": child, "place_id": null, "asset_id": null, "status": "not_asked",
            "signed_by": null, "signed_on": null, "filmed_from": "2029-03-10", "filmed_to": null, "entity": "",
            "withdrawal": null, "document_id": null, "details": {"child": details}
        })
    };
    let id = season
        .create("releases", form(json!({"in_uk": true, "paid": true})))
        .await;
    let path = season.at(&format!("releases/{id}/child-licence"));
    let finding = season.admin.get(&path).await.expect(200).value()["finding"].clone();
    assert_eq!(finding["state"], "to_ask");
    assert_eq!(finding["apply_by"], "2029-02-17");
    assert_eq!(
        finding["sentence"],
        "A licence is needed for filming on 10 Mar 2029 (the child is paid): send the council's form by 17 Feb 2029."
    );
    let today = season.admin.get("/api/home").await.expect(200).text();
    assert!(today.contains("Child licence for Wren Tallow"), "{today}");
    let exempt = json!({"in_uk": true, "paid": false, "misses_school": false, "performed_on": ["2029-01-02"]});
    season
        .change("releases", &id, &json!({"details": {"child": exempt}}))
        .await;
    let finding = season.admin.get(&path).await.expect(200).value()["finding"].clone();
    assert_eq!(
        (&finding["state"], &finding["days_before"]),
        (&json!("exempt_day"), &json!(1))
    );
    let today = season.admin.get("/api/home").await.expect(200).text();
    assert!(!today.contains("Child licence for Wren Tallow"));
    let editor = test.person("Ed", &season.series, &[Role::Editor]).await;
    editor.get(&path).await.problem(403, "not_allowed");
}
