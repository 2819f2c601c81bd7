//! Cue sheets over HTTP: made from a cut, completed, issued, out of date after a later lock; who may what.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::{Client, Reply};

use crate::api::samples::Ids;

/// Tide for 40 s in two pieces on two tracks that touch; Lanterns from 5 s before its end; the rest of a quiet minute.
const FIRST: &str = "TITLE: EP01\nFCM: NON-DROP FRAME\n\n\
001  AX       A      C        00:00:00:00 00:00:30:00 10:00:00:00 10:00:30:00\n* FROM CLIP NAME: MX_TIDE.wav\n\
002  AX       A2     C        00:00:30:00 00:00:40:00 10:00:30:00 10:00:40:00\n* FROM CLIP NAME: MX_TIDE.wav\n\
003  AX       A      C        00:00:00:00 00:00:30:12 10:00:35:00 10:01:05:12\n* FROM CLIP NAME: MX_LANTERNS.wav\n\
004  BL       V      C        00:00:00:00 00:02:00:00 10:00:00:00 10:02:00:00\n";

/// The later lock: Lanterns gave way to Ebb.
fn second() -> String {
    FIRST.replace("MX_LANTERNS.wav", "MX_EBB.wav")
}

struct Stage {
    test: TestApp,
    admin: Client,
    series: String,
    episode: String,
    lanterns: String,
}

async fn stage() -> Stage {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    let music = ids.path("music");
    let tide = json!({
        "title": "Tide Table", "origin": "commissioned", "match_names": ["MX_TIDE.wav"], "publisher_note": "Unpublished",
        "parties": [{ "name": "Perran Loxtarn", "role": "composer", "society": "QRS", "ipi": "", "share": 10_000 }],
    });
    let lanterns = json!({
        "title": "Paper Lanterns at Ten", "origin": "commercial", "composers": "Vesna Tarrow, Col Addlestrop",
        "match_names": ["MX_LANTERNS.wav"], "label": "Bittern Lane Records",
    });
    let ebb =
        json!({ "title": "Morning Ebb 4", "origin": "production", "match_names": ["MX_EBB.wav"] });
    admin.post(&music, &tide).await.expect(201);
    let lanterns = admin.post(&music, &lanterns).await.expect(201).id();
    admin.post(&music, &ebb).await.expect(201);
    Stage {
        episode: ids.episode.clone(),
        test,
        admin,
        series,
        lanterns,
    }
}

impl Stage {
    fn at(&self, rest: &str) -> String {
        format!(
            "/api/series/{}/episodes/{}/{rest}",
            self.series, self.episode
        )
    }

    async fn import(&self, name: &str, text: &str) -> Value {
        let path = self.at(&format!("cuts?name={name}&rate=25&format=edl"));
        let sent = self
            .admin
            .send(
                "POST",
                &path,
                &[("content-type", "text/plain")],
                text.as_bytes(),
            )
            .await;
        sent.expect(201).value()
    }

    async fn lock(&self, cut: &Value) {
        let path = format!(
            "/api/series/{}/cuts/{}/lock",
            self.series,
            cut["id"].as_str().expect("an id")
        );
        let version = cut["version"].as_i64().expect("a version");
        let body = json!({ "locked": true });
        self.admin.put(&path, version, &body).await.expect(200);
    }

    async fn sheet(&self) -> Value {
        self.admin
            .get(&self.at("cue-sheet"))
            .await
            .expect(200)
            .value()
    }

    /// Says of cue `number` of the sheet how it is used, on `version` of what was said.
    async fn say(
        &self,
        client: &Client,
        sheet: &Value,
        number: usize,
        version: i64,
        usage: &str,
    ) -> Reply {
        let line = &sheet["sheet"]["lines"][number - 1];
        let body = json!({
            "cut_id": sheet["sheet"]["head"]["cut_id"], "music_id": line["music_id"],
            "record_in": line["from_frame"], "record_out": line["to_frame"],
            "usage": usage, "vocals": "instrumental", "performer_visible": null, "note": "ask the mixer",
        });
        client.put(&self.at("cue-sheet/cue"), version, &body).await
    }
}

fn strings(value: &Value) -> Vec<&str> {
    value
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(Value::as_str)
        .collect()
}

/// R13, R14: pieces that touch on two tracks are one cue; where two are heard at once the second begins where the first
/// ends; by hand: 40 s and 25.48 s are 40 and 25, all frames 65.48 s are 65.
#[tokio::test]
async fn cues_come_from_the_cut() {
    let stage = stage().await;
    stage
        .admin
        .get(&stage.at("cue-sheet"))
        .await
        .problem(409, "conflict");
    stage.import("EP01_CUT_290101_v1", FIRST).await;
    let sheet = stage.sheet().await["sheet"].take();
    let lines = sheet["lines"].as_array().expect("lines");
    assert_eq!(lines.len(), 2, "{sheet:#}");
    let of = |line: &Value| {
        (
            line["title"].as_str().unwrap_or_default().to_owned(),
            line["starts"].as_str().unwrap_or_default().to_owned(),
            line["counted_frames"].as_i64(),
            line["seconds"].as_i64(),
        )
    };
    assert_eq!(
        of(&lines[0]),
        (
            "Tide Table".into(),
            "10:00:00:00".into(),
            Some(1_000),
            Some(40)
        )
    );
    assert_eq!(
        of(&lines[1]),
        (
            "Paper Lanterns at Ten".into(),
            "10:00:35:00".into(),
            Some(637),
            Some(25)
        )
    );
    assert_eq!(sheet["music_seconds"], 65);
    assert_eq!(sheet["head"]["programme_seconds"], 120);
    assert!(
        strings(&sheet["open"])
            .iter()
            .any(|open| open.contains("not locked"))
    );
    let open = strings(&lines[1]["open"]);
    assert!(
        open.iter().any(|open| open.starts_with("Usage")),
        "{open:?}"
    );
    assert!(
        open.iter().any(|open| open.contains("one by one")),
        "{open:?}"
    );
    // Rounding up, as heard, summed cue by cue: 40 and 31 (30.48) are 71.
    let fields = json!({
        "gap_frames": 0, "rounding": "up", "overlaps": "as_heard", "total": "of_cues", "country": "GB",
    });
    let path = stage.at("cue-sheet/settings");
    stage.admin.put(&path, 0, &fields).await.expect(200);
    let sheet = stage.sheet().await["sheet"].take();
    assert_eq!(
        (&sheet["music_seconds"], &sheet["other_seconds"]),
        (&json!(71), &json!(66))
    );
    assert_eq!(sheet["head"]["country"], "GB");
    // Two who change the same version: one wins.
    stage
        .admin
        .put(&path, 0, &fields)
        .await
        .problem(412, "stale");
    let wild =
        json!({ "gap_frames": 900, "rounding": "up", "overlaps": "as_heard", "total": "of_cues" });
    stage
        .admin
        .put(&path, 1, &wild)
        .await
        .problem(422, "invalid");
}

/// R16: completed, issued and kept as sent; a later lock that replaced a cue makes it stale, and says what changed.
#[tokio::test]
async fn a_sheet_is_issued_and_goes_stale() {
    let stage = stage().await;
    let cut = stage.import("EP01_CUT_290101_v1", FIRST).await;
    let issue = json!({ "cut_id": cut["id"], "with_open_points": false });
    let issued = stage.at("cue-sheets");
    stage
        .admin
        .post(&issued, &issue)
        .await
        .problem(409, "unsafe_state");
    stage.lock(&cut).await;
    let sheet = stage.sheet().await;
    let after = stage
        .say(&stage.admin, &sheet, 1, 0, "theme")
        .await
        .expect(200)
        .value();
    assert_eq!(after["sheet"]["lines"][0]["details"]["usage"], "theme");
    assert_eq!(
        after["entries"][0],
        json!({ "number": 1, "version": 1, "note": "ask the mixer" })
    );
    // R15: the series has one episode, so a theme is doubted.
    assert!(strings(&after["sheet"]["lines"][0]["doubts"])[0].contains("fewer than two"));
    stage
        .say(&stage.admin, &sheet, 1, 0, "background")
        .await
        .problem(412, "stale");
    stage
        .say(&stage.admin, &sheet, 1, 1, "background")
        .await
        .expect(200);
    stage
        .say(&stage.admin, &sheet, 2, 0, "background")
        .await
        .expect(200);
    stage
        .admin
        .post(&issued, &issue)
        .await
        .problem(409, "unsafe_state");
    let open = json!({ "cut_id": cut["id"], "with_open_points": true });
    let first = stage.admin.post(&issued, &open).await.expect(201).value();
    assert_eq!((&first["number"], &first["cues"]), (&json!(1), &json!(2)));
    let files = format!(
        "/api/series/{}/cue-sheets/{}",
        stage.series,
        first["id"].as_str().expect("an id")
    );
    let pdf = stage.admin.get(&format!("{files}/pdf")).await.expect(200);
    assert!(pdf.body.starts_with(b"%PDF"));
    assert!(
        pdf.header("content-disposition")
            .is_some_and(|name| name.contains("EP01_cue_sheet_1_"))
    );
    let csv = stage
        .admin
        .get(&format!("{files}/csv"))
        .await
        .expect(200)
        .text();
    assert!(
        csv.contains("Paper Lanterns at Ten") && !csv.contains("ask the mixer"),
        "{csv}"
    );
    assert_eq!(stage.sheet().await["since_issued"]["stale"], false);
    // A later cut that isn't locked changes nothing yet.
    let later = stage.import("EP01_CUT_290108_v2", &second()).await;
    assert_eq!(stage.sheet().await["since_issued"]["stale"], false);
    stage.lock(&later).await;
    let now = stage.sheet().await;
    let age = &now["since_issued"];
    assert_eq!(age["stale"], true);
    let reasons = strings(&age["reasons"]).join(" ");
    assert!(
        reasons.contains("EP01_CUT_290101_v1")
            && reasons.contains("locked now is EP01_CUT_290108_v2"),
        "{reasons}"
    );
    let kinds: Vec<&str> = (age["changes"].as_array().expect("changes").iter())
        .filter_map(|change| change["kind"].as_str())
        .collect();
    assert_eq!(kinds, ["added", "removed"], "{age:#}");
    // What was said of the theme came along, marked; the new cue is blank.
    let lines = &now["sheet"]["lines"];
    assert_eq!(lines[0]["taken"], "same_place");
    assert_eq!(lines[1]["details"]["usage"], Value::Null);
    // As it was sent, byte for byte.
    assert_eq!(
        stage
            .admin
            .get(&format!("{files}/pdf"))
            .await
            .expect(200)
            .body,
        pdf.body
    );
}

/// R16: an edit of the music after the sheet's date makes it stale, too.
#[tokio::test]
async fn an_edited_piece_makes_the_sheet_stale() {
    let stage = stage().await;
    let cut = stage.import("EP01_CUT_290101_v1", FIRST).await;
    stage.lock(&cut).await;
    let open = json!({ "cut_id": cut["id"], "with_open_points": true });
    stage
        .admin
        .post(&stage.at("cue-sheets"), &open)
        .await
        .expect(201);
    let path = format!("/api/series/{}/music/{}", stage.series, stage.lanterns);
    let changed = json!({
        "title": "Paper Lanterns at Ten", "origin": "commercial", "match_names": ["MX_LANTERNS.wav"],
        "iswc": "T-034.524.680-1",
        "parties": [
            { "name": "Vesna Tarrow", "role": "composer", "share": 5_000 },
            { "name": "Col Addlestrop", "role": "author", "share": 4_000 },
            { "name": "Foxglove Row Music", "role": "publisher", "share": 10_000 },
        ],
    });
    stage.admin.put(&path, 1, &changed).await.expect(200);
    let now = stage.sheet().await;
    assert_eq!(now["since_issued"]["stale"], true);
    let words = now["since_issued"]["changes"][0]["words"]
        .as_str()
        .unwrap_or_default();
    assert!(words.contains("shares were edited"), "{words}");
    let open = strings(&now["sheet"]["lines"][1]["open"]);
    assert!(
        open.contains(&"Writers’ shares come to 90 %, not 100 %."),
        "{open:?}"
    );
    // Numbers are kept in the one form of their scheme (ISO 15707, ISO 3901), however they were typed, and checked.
    let mut typed = changed.clone();
    typed["iswc"] = json!("t0345246801");
    typed["isrc"] = json!("gba012600001");
    let kept = stage.admin.put(&path, 2, &typed).await.expect(200).value();
    assert_eq!(
        (&kept["iswc"], &kept["isrc"]),
        (&json!("T-034.524.680-1"), &json!("GB-A01-26-00001"))
    );
    let mut wrong = changed;
    wrong["iswc"] = json!("T-034.524.680-2");
    wrong["parties"][0]["ipi"] = json!("12345678901");
    let refused = stage
        .admin
        .put(&path, 3, &wrong)
        .await
        .problem(422, "invalid");
    let at: Vec<&str> = (refused["errors"].as_array().expect("errors").iter())
        .filter_map(|error| error["pointer"].as_str())
        .collect();
    assert_eq!(at, ["/iswc", "/parties/0/ipi"]);
}

/// Rulebook 8: the music supervisor completes and issues; the broadcaster's contact gets the sheet, not the work on it.
#[tokio::test]
async fn each_role_sees_its_part() {
    let stage = stage().await;
    let cut = stage.import("EP01_CUT_290101_v1", FIRST).await;
    stage.lock(&cut).await;
    let music = stage
        .test
        .person("Mus", &stage.series, &[Role::MusicSupervisor])
        .await;
    let contact = stage
        .test
        .person("Con", &stage.series, &[Role::DeliveryContact])
        .await;
    let data = stage
        .test
        .person("Dat", &stage.series, &[Role::DataLead])
        .await;
    let sheet = music.get(&stage.at("cue-sheet")).await.expect(200).value();
    stage
        .say(&music, &sheet, 1, 0, "background")
        .await
        .expect(200);
    let open = json!({ "cut_id": cut["id"], "with_open_points": true });
    let made = music
        .post(&stage.at("cue-sheets"), &open)
        .await
        .expect(201)
        .value();
    let file = format!(
        "/api/series/{}/cue-sheets/{}/xlsx",
        stage.series,
        made["id"].as_str().expect("an id")
    );
    for path in ["cue-sheet", "cue-sheet/draft/pdf"] {
        contact
            .get(&stage.at(path))
            .await
            .problem(403, "not_allowed");
        data.get(&stage.at(path)).await.problem(403, "not_allowed");
    }
    contact.get(&file).await.expect(200);
    data.get(&file).await.problem(403, "not_allowed");
    let list = contact
        .get(&stage.at("cue-sheets"))
        .await
        .expect(200)
        .value();
    assert_eq!(list["items"][0]["age"]["stale"], false);
    stage
        .say(&contact, &sheet, 1, 1, "theme")
        .await
        .problem(403, "not_allowed");
    contact
        .post(&stage.at("cue-sheets"), &open)
        .await
        .problem(403, "not_allowed");
    let stranger = stage.test.person("Str", &stage.series, &[]).await;
    stranger.get(&file).await.problem(404, "not_found");
}

/// R17: a filing day becomes a deliverable once, with its date.
#[tokio::test]
async fn filing_days_become_deliverables() {
    let stage = stage().await;
    stage.import("EP01_CUT_290101_v1", FIRST).await;
    let sheet = stage.sheet().await;
    let due: Vec<&Value> = (sheet["filing"].as_array().expect("days").iter())
        .map(|one| &one["due"])
        .collect();
    // Planned transmission 1 Oct 2029, planned delivery 15 Jun 2029.
    assert_eq!(
        due,
        [
            &json!("2029-06-15"),
            &json!("2029-10-15"),
            &json!("2030-01-01"),
            &json!("2030-01-31")
        ]
    );
    let path = stage.at("cue-sheet/filing");
    let body = json!({ "rule": "two_weeks" });
    let made = stage.admin.post(&path, &body).await.expect(201).value();
    assert_eq!(
        (&made["due_on"], &made["status"]),
        (&json!("2029-10-15"), &json!("not_started"))
    );
    stage
        .admin
        .post(&path, &body)
        .await
        .problem(409, "conflict");
    assert_eq!(stage.sheet().await["filing"][1]["switched_on"], true);
}
