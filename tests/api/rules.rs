//! The rules of each field and across fields. Each refusal names the field, and nothing is kept.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::{TestApp, series_body};

use crate::api::samples::{Ids, KINDS};

/// Kind, changes to a sound body, and the fields that must be named.
type Case = (&'static str, Value, &'static [&'static str]);

fn cases() -> Vec<Case> {
    let mut all = of_the_shoot();
    all.extend(of_papers());
    all.extend(of_grants());
    all
}

fn of_the_shoot() -> Vec<Case> {
    vec![
        (
            "episodes",
            json!({"number": -1, "title": " "}),
            &["/number", "/title"],
        ),
        (
            "episodes",
            json!({"title": "x".repeat(201), "slot_seconds": 0}),
            &["/title", "/slot_seconds"],
        ),
        (
            "episodes",
            json!({"first_transmission": "0209-10-01"}),
            &["/first_transmission"],
        ),
        (
            "episodes",
            json!({"first_use": "2029-10-02", "first_transmission": "2029-10-01"}),
            &["/first_transmission"],
        ),
        ("episodes", json!({"notes": "a\u{0}b"}), &["/notes"]),
        (
            "scenes",
            json!({"position": -1, "title": ""}),
            &["/position", "/title"],
        ),
        (
            "scenes",
            json!({"starts_at": "10:00", "ends_at": "99:00:00:00"}),
            &["/starts_at", "/ends_at"],
        ),
        (
            "scenes",
            json!({"starts_at": "10:01:00:00", "ends_at": "10:00:59:24"}),
            &["/ends_at"],
        ),
        (
            "scenes",
            json!({"episode_id": "018f0000-0000-7000-8000-000000000000"}),
            &["/episode_id"],
        ),
        ("places", json!({"name": ""}), &["/name"]),
        (
            "shoot-days",
            json!({"day": "2828-03-14", "cards_expected": 501}),
            &["/day", "/cards_expected"],
        ),
        (
            "people",
            json!({"credited_name": "", "died": "2001-01-01"}),
            &["/credited_name", "/died"],
        ),
        (
            "drives",
            json!({"label": "", "free_bytes": 5_000_000_000_000_i64}),
            &["/label", "/free_bytes"],
        ),
        (
            "drives",
            json!({"capacity_bytes": -1, "free_bytes": null}),
            &["/capacity_bytes"],
        ),
        (
            "cards",
            json!({"state": "wiped"}),
            &["/wiped_by", "/wiped_on"],
        ),
        (
            "cards",
            json!({"state": "wiped", "wiped_by": "Pat Post", "wiped_on": "2028-03-13"}),
            &["/wiped_on"],
        ),
        ("cards", json!({"wiped_by": "Pat Post"}), &["/state"]),
        (
            "deliverables",
            json!({"item": "", "due_on": "1029-06-15"}),
            &["/item", "/due_on"],
        ),
        (
            "deliverables",
            json!({"status": "rejected"}),
            &["/status_note"],
        ),
        (
            "deliverables",
            json!({"status": "waived"}),
            &["/status_note"],
        ),
        (
            "specifications",
            json!({"needed_to": "2029-09-30"}),
            &["/needed_to"],
        ),
        (
            "specifications",
            json!({"territories": [], "media": []}),
            &["/territories", "/media"],
        ),
        (
            "specifications",
            json!({"territories": ["GB", "UK", "gb"], "media": ["televison"]}),
            &["/territories/1", "/territories/2", "/media/0"],
        ),
        (
            "specifications",
            json!({"territories_except": ["WORLD"], "media_except": ["television"]}),
            &["/territories_except", "/media_except"],
        ),
    ]
}

fn of_papers() -> Vec<Case> {
    vec![
        (
            "releases",
            json!({"kind": "location"}),
            &["/person_id", "/place_id"],
        ),
        ("releases", json!({"person_id": null}), &["/person_id"]),
        (
            "releases",
            json!({"filmed_to": "2028-03-13"}),
            &["/filmed_to"],
        ),
        // A minor's form is accepted only with a named guardian's signature and its date.
        (
            "releases",
            json!({"status": "ok", "signed_by": "self"}),
            &["/signed_by"],
        ),
        (
            "releases",
            json!({"status": "ok", "signed_by_name": " "}),
            &["/signed_by_name"],
        ),
        (
            "releases",
            json!({"status": "ok", "signed_by": null, "signed_on": null, "signed_by_name": ""}),
            &["/signed_on", "/signed_by", "/signed_by_name"],
        ),
        (
            "releases",
            json!({"kind": "appearance", "status": "signed_not_checked", "signed_on": null}),
            &["/signed_on"],
        ),
        ("releases", json!({"status": "asked"}), &["/status"]),
        (
            "releases",
            json!({"status": "problem", "status_note": ""}),
            &["/status_note"],
        ),
        ("releases", json!({"restrictions": []}), &["/restrictions"]),
        (
            "releases",
            json!({"status": "withdrawn_being_decided"}),
            &["/withdrawal"],
        ),
        ("releases", json!({"withdrawal": "accepted"}), &["/status"]),
        (
            "releases",
            json!({"restrictions": [
                {"kind": "not_in", "territories": []}, {"kind": "not_before", "date": "9999-01-01"},
                {"kind": "other", "words": ""}
            ]}),
            &[
                "/restrictions/0/territories",
                "/restrictions/1/date",
                "/restrictions/2/words",
            ],
        ),
        (
            "releases",
            json!({"document_id": "../etc/passwd"}),
            &["/document_id"],
        ),
        (
            "releases",
            json!({"document_id": "0".repeat(64)}),
            &["/document_id"],
        ),
        (
            "assets",
            json!({"title": "", "match_names": [""]}),
            &["/title", "/match_names/0"],
        ),
        (
            "assets",
            json!({"source": "javascript:alert(1)"}),
            &["/source"],
        ),
        (
            "assets",
            json!({"basis": "not_needed"}),
            &["/basis_note", "/basis_decided_by", "/basis_decided_on"],
        ),
        (
            "music",
            json!({"title": "", "iswc": "T-1", "isrc": "nonsense"}),
            &["/title", "/iswc", "/isrc"],
        ),
        ("licences", json!({"asset_id": null}), &["/asset_id"]),
        (
            "licences",
            json!({"side": "recording", "licensor": ""}),
            &["/licensor", "/side"],
        ),
        ("licences", json!({"signed_on": null}), &["/signed_on"]),
        ("licences", json!({"status": "asking"}), &["/status"]),
        (
            "licences",
            json!({"fee_minor": -1, "currency": "pound"}),
            &["/fee_minor", "/currency"],
        ),
        ("licences", json!({"currency": ""}), &["/currency"]),
        // ISO 4217: none of its codes.
        ("licences", json!({"currency": "XYZ"}), &["/currency"]),
        ("costs", json!({"currency": "XYZ"}), &["/currency"]),
        ("budgets", json!({"currency": "XYZ"}), &["/currency"]),
        // Nobody is born after today (common practice, no source).
        (
            "people",
            json!({"born": "2029-01-10", "died": null}),
            &["/born"],
        ),
        // R14: out later than in.
        (
            "assets",
            json!({"contents": [{"music_id": "018f0000-0000-7000-8000-000000000000", "presence": "heard",
                "face": "not_applicable", "from_seconds": 20, "to_seconds": 20}]}),
            &["/contents/0/music_id", "/contents/0/to_seconds"],
        ),
    ]
}

/// A grant is a document inside the record; its faults are named to the place.
fn of_grants() -> Vec<Case> {
    let grant = |changes: Value| {
        let mut grant = json!({
            "territories": ["GB"], "media": ["television"], "starts": "2029-10-01", "term": {"to": "2034-09-30"}
        });
        merge(&mut grant, &changes);
        json!({"grants": [grant]})
    };
    vec![
        (
            "licences",
            grant(json!({"term": {"to": "2029-09-30"}})),
            &["/grants/0/term/to"],
        ),
        (
            "licences",
            grant(json!({"term": {"months": 0}})),
            &["/grants/0/term/months"],
        ),
        (
            "licences",
            grant(json!({"long_stop": "2028-01-01"})),
            &["/grants/0/long_stop"],
        ),
        (
            "licences",
            grant(json!({"territories": ["XX"]})),
            &["/grants/0/territories/0"],
        ),
        (
            "releases",
            grant(json!({"media": []})),
            &["/grants/0/media"],
        ),
        (
            "releases",
            grant(json!({"starts": "1029-10-01"})),
            &["/grants/0/starts"],
        ),
    ]
}

fn merge(into: &mut Value, changes: &Value) {
    for (field, value) in changes.as_object().expect("fields") {
        into[field] = value.clone();
    }
}

fn pointers(problem: &Value) -> Vec<String> {
    problem["errors"]
        .as_array()
        .expect("errors")
        .iter()
        .map(|error| {
            assert!(
                error["detail"].as_str().is_some_and(|it| !it.is_empty()),
                "{error}"
            );
            error["pointer"].as_str().expect("a pointer").to_owned()
        })
        .collect()
}

#[tokio::test]
async fn each_fault_is_named_at_its_field_and_nothing_is_kept() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let ids = Ids::make(&admin, &test.series(&admin, "Harbour Season").await).await;
    for (kind, changes, expected) in cases() {
        let path = ids.path(kind);
        let before = count(&admin.get(&path).await.expect(200).value());
        let mut body = ids.body(kind, 500);
        merge(&mut body, &changes);
        let problem = admin.post(&path, &body).await.problem(422, "invalid");
        let mut found = pointers(&problem);
        found.sort();
        let mut wanted = expected.to_vec();
        wanted.sort_unstable();
        assert_eq!(found, wanted, "{kind} {changes}: {problem}");
        let after = count(&admin.get(&path).await.expect(200).value());
        assert_eq!(before, after, "{kind}");
    }
}

fn count(page: &Value) -> usize {
    page["items"].as_array().expect("items").len()
}

/// A word that is none of the field's, a number that does not fit, a date that is none: 400, never 500.
#[tokio::test]
async fn nonsense_is_never_taken_and_never_breaks_anything() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let ids = Ids::make(&admin, &test.series(&admin, "Harbour Season").await).await;
    for kind in &KINDS {
        let path = ids.path(kind.path);
        let sound = ids.body(kind.path, 600);
        for (field, was) in sound.as_object().expect("fields") {
            for odd in [
                json!({"a": [1]}),
                json!(1e300),
                json!("\u{0}"),
                json!("2029-02-30"),
                json!([[]]),
            ] {
                let mut body = sound.clone();
                body[field] = odd.clone();
                let reply = admin.post(&path, &body).await;
                assert!(
                    reply.status == 400 || reply.status == 422 || reply.status == 201,
                    "{} {field} {odd}: {}",
                    kind.path,
                    reply.text()
                );
                if reply.status == 201 {
                    // Plain text may hold anything that can be seen; the sample stays free for the next.
                    assert!(
                        was.is_string() && odd == "2029-02-30" || was.is_null(),
                        "{} {field} {odd}",
                        kind.path
                    );
                    let one = format!("{path}/{}", reply.id());
                    admin.delete(&one, 1).await.expect(200);
                }
            }
        }
    }
}

#[tokio::test]
async fn a_series_has_a_zone_a_pattern_and_a_rate() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    for (field, value) in [
        ("title", json!("")),
        ("zone", json!("Europe/Atlantis")),
        ("roll_pattern", json!("{date:YYYY}_{card}")),
        ("roll_pattern", json!("{card}{camera}")),
        ("frame_rate", json!("fast")),
        ("frame_rate", json!("25df")),
        ("adult_at", json!(12)),
        ("shoot_to", json!("2027-01-01")),
    ] {
        let mut body = series_body("Harbour Season");
        body[field] = value;
        let problem = admin
            .post("/api/series", &body)
            .await
            .problem(422, "invalid");
        assert_eq!(pointers(&problem), [format!("/{field}")]);
    }
}

/// A deliverable belongs to somebody of the series; who leaves keeps what they had.
#[tokio::test]
async fn an_owner_is_a_member() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    let path = ids.path("deliverables");
    let mut body = ids.body("deliverables", 1);
    let colleague = test
        .person("Col", &series, &[])
        .await
        .user_id
        .expect("an id");
    body["owner_id"] = colleague.to_string().into();
    let problem = admin.post(&path, &body).await.problem(422, "invalid");
    assert_eq!(pointers(&problem), ["/owner_id"]);
    test.give_roles(&series, colleague, &[Role::Coordinator])
        .await;
    let made = admin.post(&path, &body).await.expect(201).id();
    test.give_roles(&series, colleague, &[]).await;
    body["notes"] = "left the team".into();
    admin
        .put(&format!("{path}/{made}"), 1, &body)
        .await
        .expect(200);
}

/// R38: 2 files, 1 of them verified on two drives: not safe, and the other is named. An empty list is never safe.
#[tokio::test]
async fn a_card_is_not_wiped_while_copies_are_missing() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let ids = Ids::make(&admin, &test.series(&admin, "Harbour Season").await).await;
    let path = ids.path("cards");
    let mut body = ids.body("cards", 1);
    let card = admin.post(&path, &body).await.expect(201).id();
    let one = format!("{path}/{card}");
    merge(
        &mut body,
        &json!({"state": "wiped", "wiped_by": "Pat Post", "wiped_on": "2029-01-09"}),
    );
    let refused = admin.put(&one, 1, &body).await.problem(409, "unsafe_state");
    assert!(
        refused["detail"]
            .as_str()
            .expect("words")
            .contains("No file of this card")
    );
    let mut drives = Vec::new();
    for n in [1, 2] {
        let made = admin
            .post(&ids.path("drives"), &ids.body("drives", n))
            .await;
        drives.push(made.expect(201).id());
    }
    let conn = test.db.connect().await;
    conn.batch_execute(&footage(&ids.series, &card, &drives))
        .await
        .expect("rows");
    let refused = admin.put(&one, 1, &body).await.problem(409, "unsafe_state");
    let detail = refused["detail"].as_str().expect("words");
    assert!(
        detail.contains("A003C002.mov: fewer than two verified copies"),
        "{detail}"
    );
    assert!(!detail.contains("A003C001.mov"), "{detail}");
    conn.batch_execute("update copies set state = 'verified'")
        .await
        .expect("verified");
    let refused = admin.put(&one, 1, &body).await.problem(409, "unsafe_state");
    let detail = refused["detail"].as_str().expect("words");
    assert!(detail.contains("no report from post"), "{detail}");
    let reported = json!({"positive": true, "words": "All of it plays."});
    let safety = admin.post(&format!("{one}/reports"), &reported).await;
    assert_eq!(safety.expect(200).value()["safe"], true);
    // The report made it safe to wipe, which is a new version.
    admin.put(&one, 2, &body).await.expect(200);
    // In use: a drive that holds copies, and the card that holds files.
    let drive = format!("{}/{}", ids.path("drives"), drives[0]);
    admin.delete(&drive, 1).await.problem(409, "unsafe_state");
    admin.delete(&one, 3).await.problem(409, "unsafe_state");
}

/// Two files of a card on two drives; the second copy of the second file was found changed.
fn footage(series: &str, card: &str, drives: &[String]) -> String {
    let mut sql = String::new();
    for n in [1, 2] {
        let file = uuid::Uuid::now_v7();
        sql.push_str(&format!(
            "insert into files (id, series_id, card_id, name, stem, size, xxh128, hashes, kind, reel, created_at)
             values ('{file}', '{series}', '{card}', 'A003C00{n}.mov', 'a003c00{n}', 10, '{n}', '{{}}', 'picture', '',
             now());"
        ));
        for (at, drive) in drives.iter().enumerate() {
            let state = if n == 2 && at == 1 {
                "changed"
            } else {
                "verified"
            };
            let copy = uuid::Uuid::now_v7();
            sql.push_str(&format!(
                "insert into copies (id, series_id, file_id, drive_id, path, checked_at, state)
                 values ('{copy}', '{series}', '{file}', '{drive}', 'A003C00{n}.mov', now(), '{state}');"
            ));
        }
    }
    sql
}
