//! An invented episode with a cut in which each thing that can be wrong is wrong once. No person, company or programme
//! in it is real. Catalogued files are put into the database as a scan would leave them.

use serde_json::{Value, json};
use waybill_tests::app::TestApp;
use waybill_tests::http::{Client, Reply};

/// The edit list: rowers, an archive newsreel, a phone video, a song, a clip that nobody knows, black.
pub const LIST: &str = "TITLE: EP04 HIGH WATER\nFCM: NON-DROP FRAME\n\n\
    001  A003     V     C        10:00:01:00 10:00:11:00 10:00:00:00 10:00:10:00\n\
    * FROM CLIP NAME: A003C001.MOV\n\
    002  A003     V     C        10:00:25:00 10:00:35:00 10:00:10:00 10:00:20:00\n\
    * FROM CLIP NAME: A003C001.MOV\n\
    003  A003     V     C        10:05:01:00 10:05:06:00 10:00:20:00 10:00:25:00\n\
    * FROM CLIP NAME: A003C002.MOV\n\
    004  A003     V     C        10:10:01:00 10:10:06:00 10:00:25:00 10:00:30:00\n\
    * FROM CLIP NAME: A003C003.MOV\n\
    005  AX       V     C        00:00:05:00 00:00:15:00 10:00:30:00 10:00:40:00\n\
    * FROM CLIP NAME: NEWSREEL_34.MOV\n\
    006  AX       V     C        00:00:00:00 00:00:04:00 10:00:40:00 10:00:44:00\n\
    * FROM CLIP NAME: IMG_4471.MOV\n\
    007  AX       V     C        00:00:00:00 00:00:04:00 10:00:44:00 10:00:48:00\n\
    * FROM CLIP NAME: MYSTERY_CLIP.MOV\n\
    008  BL       V     C        00:00:00:00 00:00:02:00 10:00:48:00 10:00:50:00\n\
    009  AX       AA    C        00:00:00:00 00:00:20:00 10:00:50:00 10:01:10:00\n\
    * FROM CLIP NAME: SLACKWATER_MIX.WAV\n";

/// What the tests change.
pub struct Season {
    pub admin: Client,
    pub series: String,
    pub episode: String,
    pub specification: String,
    pub cut: String,
    pub newsreel: String,
    pub song: String,
    pub place: String,
    pub files: [String; 3],
    pub minor_release: String,
    pub newsreel_licence: String,
    pub blurred_log: String,
}

impl Season {
    /// The address of something in the series.
    pub fn at(&self, path: &str) -> String {
        format!("/api/series/{}/{path}", self.series)
    }

    /// Makes it all.
    pub async fn make(test: &TestApp) -> Self {
        let admin = test.admin().await;
        let mut season = Self {
            series: test.series(&admin, "Harbour Season").await,
            admin,
            episode: String::new(),
            specification: String::new(),
            cut: String::new(),
            newsreel: String::new(),
            song: String::new(),
            place: String::new(),
            files: Default::default(),
            minor_release: String::new(),
            newsreel_licence: String::new(),
            blurred_log: String::new(),
        };
        season.delivery().await;
        season.papers().await;
        season.footage(test).await;
        let cut = season.import("EP04_CUT_290105_v1", LIST).await.expect(201);
        season.cut = cut.id();
        season
    }

    /// Creates a record; its id.
    pub async fn create(&self, kind: &str, body: Value) -> String {
        self.admin
            .post(&self.at(kind), &body)
            .await
            .expect(201)
            .id()
    }

    /// Sends a list as a cut of the episode.
    pub async fn import(&self, name: &str, list: &str) -> Reply {
        let path = self.at(&format!(
            "episodes/{}/cuts?name={name}&file={name}.edl",
            self.episode
        ));
        let headers = [("content-type", "text/plain")];
        self.admin
            .send("POST", &path, &headers, list.as_bytes())
            .await
    }

    /// The clearance as it is now.
    pub async fn clearance(&self) -> Value {
        let path = self.at(&format!("episodes/{}/clearance", self.episode));
        self.admin.get(&path).await.expect(200).value()
    }

    /// The events of the cut as they are now.
    pub async fn events(&self) -> Vec<Value> {
        let path = self.at(&format!("cuts/{}/events", self.cut));
        let strip = self.admin.get(&path).await.expect(200).value();
        strip["items"].as_array().expect("a list").clone()
    }

    /// Changes some fields of a record.
    pub async fn change(&self, kind: &str, id: &str, changes: &Value) {
        let path = self.at(&format!("{kind}/{id}"));
        let record = self.admin.get(&path).await.expect(200).value();
        let mut fields = fields(&record);
        for (name, value) in changes.as_object().expect("fields") {
            fields[name] = value.clone();
        }
        let version = record["version"].as_i64().expect("a version");
        self.admin.put(&path, version, &fields).await.expect(200);
    }

    /// The record of a kind that fits; there has to be one.
    pub async fn find(&self, kind: &str, fits: impl Fn(&Value) -> bool) -> Value {
        let list = self.admin.get(&self.at(kind)).await.expect(200).value();
        let all = list["items"].as_array().expect("a list");
        let found = all.iter().find(|one| fits(one));
        found
            .unwrap_or_else(|| panic!("none of {kind} fits: {list}"))
            .clone()
    }

    async fn delivery(&mut self) {
        self.episode = self
            .create(
                "episodes",
                json!({
                    "number": 4, "title": "High Water", "status": "cutting", "slot_seconds": null,
                    "first_transmission": "2029-10-01", "first_transmission_planned": null, "delivered": null,
                    "delivery_planned": null, "first_use": null
                }),
            )
            .await;
        self.specification = self
            .create(
                "specifications",
                json!({
                    "name": "Main transmission", "broadcaster": "Northern Channel", "edition": "issue 4",
                    "territories": ["GB", "IE"], "media": ["television.free", "on_demand.catch_up"],
                    "needed_from": "2029-10-01", "needed_to": "2032-09-30"
                }),
            )
            .await;
        self.create(
            "deliverables",
            json!({
                "episode_id": self.episode, "specification_id": self.specification, "item": "Programme file",
                "due_on": "2029-06-15", "owner_id": null, "status": "in_work"
            }),
        )
        .await;
        for (position, kind, title, from) in [
            (0, "cold_open", "Mist", "10:00:00:00"),
            (1, "scene", "The race", "10:00:20:00"),
        ] {
            let scene = json!({
                "episode_id": self.episode, "position": position, "kind": kind, "title": title, "starts_at": from,
                "ends_at": null
            });
            self.create("scenes", scene).await;
        }
    }

    async fn papers(&mut self) {
        let asset = |title: &str, class: &str, name: &str| {
            json!({
                "class": class, "title": title, "basis": "licensed", "basis_decided_on": null, "match_names": [name]
            })
        };
        self.newsreel = self
            .create(
                "assets",
                asset("Harbour newsreel 1934", "archive", "NEWSREEL_34.mov"),
            )
            .await;
        let phone = self
            .create(
                "assets",
                asset("Regatta phone video", "phone_video", "IMG_4471"),
            )
            .await;
        self.song = self
            .create(
                "music",
                json!({"title": "Slack Water Song", "origin": "commercial", "match_names": ["slackwater_mix.wav"]}),
            )
            .await;
        self.newsreel_licence = self
            .create(
                "licences",
                self.licence("asset_id", &self.newsreel, "whole", "2031-09-30"),
            )
            .await;
        let mut phone = self.licence("asset_id", &phone, "whole", "2040-01-01");
        phone["grants"][0]["starts"] = "first_use".into();
        phone["grants"][0]["term"] = json!({"months": 60});
        self.create("licences", phone).await;
        self.create(
            "licences",
            self.licence("music_id", &self.song, "recording", "2040-01-01"),
        )
        .await;
        self.place = self
            .create("places", json!({"name": "Old boathouse"}))
            .await;
        let mut location = release("place_id", &self.place, "location");
        location["signed_by"] = "owner".into();
        self.create("releases", location).await;
    }

    /// A signed licence that ends on `to`.
    pub fn licence(&self, what: &str, id: &str, side: &str, to: &str) -> Value {
        let mut licence = json!({
            "asset_id": null, "music_id": null, "side": side, "licensor": "Quay Archive", "reference": "QA-1",
            "status": "signed", "signed_on": "2028-11-02", "grants": [grant(json!({"to": to}))], "fee_minor": null,
            "payment_due": null, "allows_promotion": false, "document_id": null
        });
        licence[what] = id.into();
        licence
    }

    async fn footage(&mut self, test: &TestApp) {
        let day = json!({"day": "2028-03-14", "place_ids": [], "cards_expected": 1});
        let day = self.create("shoot-days", day).await;
        let card = self
            .create(
                "cards",
                json!({
                    "name": "20280314_A003_CAMB_SLIPWAY", "camera": "CAMB", "number": "A003", "shoot_day_id": day,
                    "shot_on": "2028-03-14", "state": "offloading", "wiped_on": null
                }),
            )
            .await;
        for (at, minute) in [0, 5, 10].into_iter().enumerate() {
            let name = format!("A003C00{}.mov", at + 1);
            let start = (10 * 60 + minute) * 60 * 25;
            self.files[at] = catalogue(test, &self.series, Some(&card), &name, start, 1500).await;
        }
        let cox = self.person("Ines Marlow", "1990-02-01").await;
        self.create("releases", release("person_id", &cox, "appearance"))
            .await;
        let junior = self.person("Tam Rudd", "2013-05-05").await;
        let mut form = release("person_id", &junior, "appearance");
        form["status"] = "signed_not_checked".into();
        self.minor_release = self.create("releases", form).await;
        let masked = self.person("Olive Strand", "1985-05-05").await;
        let mut form = release("person_id", &masked, "appearance");
        form["status"] = "restricted_ok".into();
        form["restrictions"] = json!([{"kind": "blur_face"}]);
        form["details"] = json!({"disguise": agreed_disguise("public")});
        self.create("releases", form).await;
        self.log(0, "person", &cox, Some((0, 750))).await;
        self.log(0, "person", &junior, Some((500, 1500))).await;
        self.log(0, "place", &self.place, None).await;
        self.blurred_log = self.log(1, "person", &masked, None).await;
    }

    /// Somebody with a date of birth; the id.
    pub async fn person(&self, name: &str, born: &str) -> String {
        self.create(
            "people",
            json!({
                "credited_name": name, "credited_name_confirmed_on": null, "born": born, "age_band": null, "died": null
            }),
        )
        .await
    }

    /// Says what is in a file, or in some of its frames; the entry's id.
    pub async fn log(
        &self,
        file: usize,
        kind: &str,
        id: &str,
        range: Option<(i64, i64)>,
    ) -> String {
        let mut entry = json!({"file_ids": [self.files[file]], "kind": kind});
        if kind != "nothing" {
            entry[format!("{kind}_id")] = id.into();
        }
        if let Some((from, to)) = range {
            entry["from"] = from.into();
            entry["to"] = to.into();
        }
        let made = self
            .admin
            .post(&self.at("log"), &entry)
            .await
            .expect(201)
            .value();
        made["items"][0]["id"].as_str().expect("an id").to_owned()
    }
}

/// A disguise as it was agreed: from viewers, or from people who know them.
pub fn agreed_disguise(from: &str) -> Value {
    json!({"from": from, "how": "blurred whole, from the first frame", "agreed_with": "herself, by the producer",
        "agreed_on": "2028-03-14"})
}

/// A signed form for everything that the delivery needs.
fn release(what: &str, id: &str, kind: &str) -> Value {
    let mut release = json!({
        "kind": kind, "person_id": null, "place_id": null, "asset_id": null, "status": "ok", "signed_by": "self",
        "signed_on": "2028-03-14", "filmed_from": null, "filmed_to": null,
        "entity": "Breakwater Films Ltd", "consideration": "1 GBP", "allows_editing": true, "allows_promotion": true,
        "grants": [grant("perpetuity".into())], "restrictions": [], "withdrawal": null, "document_id": null
    });
    release[what] = id.into();
    release
}

fn grant(term: Value) -> Value {
    json!({
        "territories": ["GB", "IE"], "media": ["television.free", "on_demand.catch_up"], "starts": "2028-01-01",
        "term": term
    })
}

/// Puts a picture file into the catalogue as a scan would; its id.
pub async fn catalogue(
    test: &TestApp,
    series: &str,
    card: Option<&str>,
    name: &str,
    start: i64,
    frames: i64,
) -> String {
    let id = uuid::Uuid::now_v7().to_string();
    let stem = name
        .rsplit_once('.')
        .map_or(name, |(stem, _)| stem)
        .to_lowercase();
    let card = card.map_or("null".to_owned(), |card| format!("'{card}'"));
    let hash = id.replace('-', "");
    let sql = format!(
        "insert into files (id, series_id, card_id, name, stem, size, xxh128, hashes, kind, reel, rate_num, rate_den, \
           drop_frame, start_frame, frame_count, created_at) \
         values ('{id}', '{series}', {card}, '{name}', '{stem}', 1000, '{hash}', '{{}}', 'picture', 'A003', 25, 1, \
           false, {start}, {frames}, '2028-03-14T18:00:00Z')"
    );
    test.db
        .connect()
        .await
        .batch_execute(&sql)
        .await
        .expect("a file");
    id
}

/// A record as it is sent: without what the server alone says of it.
pub fn fields(record: &Value) -> Value {
    let mut fields = record.as_object().expect("a record").clone();
    for own in [
        "id",
        "series_id",
        "version",
        "created_at",
        "updated_at",
        "deleted_at",
    ] {
        fields.remove(own);
    }
    fields.into()
}
