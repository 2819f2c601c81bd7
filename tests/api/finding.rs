//! Finding files, against a count that reads every path of small made-up catalogues.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};
use waybill_domain::footage::words::fold;
use waybill_domain::perms::Role;
use waybill_server::db::finding::ask::{self, Ask, Hit, Steps};
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::footage::{ROLL, Scan, clip, entry, send};

/// Numbers that look drawn, the same in every run (Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", 2014).
struct Drawn(u64);

impl Drawn {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((z ^ (z >> 31)) % end as u64).expect("small")
    }

    fn of<'a>(&mut self, all: &[&'a str]) -> &'a str {
        all[self.below(all.len())]
    }
}

const FOLDERS: [&str; 9] = [
    "20280309_A001_CAMA_SLIPWAY",
    "20280310_A002_CAMA_HARBOUR",
    "20280311_B001_CAMB_CAFÉ",
    "harbour sound",
    "100% ready",
    "A_1",
    "(.*)",
    "Ångström",
    "slips\\way",
];
const NAMES: [&str; 8] = [
    "clip", "Harbour", "100%", "a_1", "take", "é", "O'Brien", "slip",
];

/// Every hit of a search, page by page; each page is asked for by the one before.
async fn found(client: &Client, series: &str, query: &str) -> Vec<String> {
    let mut all = Vec::new();
    let mut after = String::new();
    let mut total = Value::Null;
    loop {
        let path = format!("/api/series/{series}/files?limit=7&{query}{after}");
        let page = client.get(&path).await.expect(200).value();
        if after.is_empty() {
            total = page["total"].clone();
        }
        for item in page["items"].as_array().expect("a list") {
            all.push(item["id"].as_str().expect("an id").to_owned());
        }
        match page["next"].as_str() {
            Some(next) => after = format!("&after={next}"),
            None => break,
        }
    }
    assert_eq!(total, all.len(), "{query}");
    all
}

/// The words of a path as they are looked for: a root named as its drive is left out.
fn place(drive: &str, root: &str, path: &str) -> (String, String) {
    let (folder, name) = path.rsplit_once('/').unwrap_or(("", path));
    let root = if root == drive { "" } else { root };
    (fold(&format!("{root} {folder}")), fold(name))
}

#[tokio::test]
async fn every_word_is_found_where_reading_every_path_finds_it() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let mut drawn = Drawn(7);
    for round in 0..4 {
        // in the last, no content lies in two places, and there are more folders than are looked up at once
        let (alone, count) = if round < 3 { (false, 40) } else { (true, 70) };
        let series = test.series(&admin, &format!("Season {round}")).await;
        // content to the places at which it lies
        let mut places = BTreeMap::<String, Vec<(String, String)>>::new();
        for (drive, root) in [
            ("QUAY 1", "QUAY 1"),
            ("QUAY 2", "RUSHES"),
            ("SHED", "Café 9"),
        ] {
            let mut paths = BTreeSet::new();
            for at in 0..count {
                let depth = drawn.below(3);
                let mut path: Vec<&str> = (0..depth).map(|_| drawn.of(&FOLDERS)).collect();
                let folder = format!("{drive} {at}");
                if alone {
                    path.push(&folder);
                }
                let name = format!("{}{}.mov", drawn.of(&NAMES), drawn.below(4));
                path.push(&name);
                paths.insert(path.join("/"));
            }
            let entries: Vec<Value> = paths
                .iter()
                .map(|path| {
                    let content = if alone {
                        format!("{drive} {path}")
                    } else {
                        format!("{}", drawn.below(60))
                    };
                    let made = entry(path, &content);
                    let hash = made["hashes"]["xxh128"].as_str().expect("a hash");
                    let at = places.entry(hash.to_owned()).or_default();
                    at.push(place(drive, root, path));
                    made
                })
                .collect();
            Scan::new(&admin, &series, drive, root).send(&entries).await;
        }
        let ids = ids_by_hash(&admin, &series).await;
        assert_eq!(ids.len(), places.len());
        let parts = [
            "harbour", "a_1", "100%", "%", "_", "(.*)", "slip", "é", "e", "cama", "a00", "0",
            ".mov", "\\", "o'b", "rushes", "ang", "ready", "p1.m", "nothing", "1.mov", "quay",
        ];
        for _ in 0..60 {
            let asked: Vec<&str> = (0..=drawn.below(2)).map(|_| drawn.of(&parts)).collect();
            let terms: Vec<String> = asked.iter().map(|part| fold(part)).collect();
            let fits = |(folder, name): &(String, String)| {
                terms
                    .iter()
                    .all(|term| folder.contains(term) || name.contains(term))
            };
            let wanted: BTreeSet<&String> = places
                .iter()
                .filter(|(_, at)| at.iter().any(fits))
                .map(|(hash, _)| &ids[hash])
                .collect();
            let query: String = url::form_urlencoded::Serializer::new(String::new())
                .append_pair("q", &asked.join(" "))
                .finish();
            let hits = found(&admin, &series, &query).await;
            let hits_once: BTreeSet<&String> = hits.iter().collect();
            assert_eq!(hits_once.len(), hits.len(), "{asked:?}: none twice");
            if hits_once != wanted {
                let page = admin
                    .get(&format!("/api/series/{series}/files?{query}"))
                    .await;
                assert_ne!(page.value()["read_as"], json!([]), "{asked:?}");
                assert!(wanted.is_empty(), "{asked:?}");
            }
        }
    }
}

/// However little is read at a time, and by whatever, the hits are those of reading all at once, in their order and after
/// any of them.
#[tokio::test]
async fn hits_do_not_depend_on_what_is_read_at_a_time() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Season").await;
    let mut drawn = Drawn(11);
    let mut entries = BTreeMap::new();
    for at in 0..400 {
        let day = format!("{:02}", drawn.below(20) + 1);
        let folder = match drawn.below(3) {
            0 => format!("202803{day}_A0{day}_CAMA_SLIPWAY"),
            1 => format!("{}/{}", drawn.of(&FOLDERS), drawn.below(30)),
            _ => format!("harbour {}", drawn.below(30)),
        };
        let name = format!("{}{}.mov", drawn.of(&NAMES), drawn.below(12));
        let path = format!("{folder}/{name}");
        entries.insert(path.clone(), entry(&path, &format!("{at}")));
    }
    let entries: Vec<Value> = entries.into_values().collect();
    Scan::new(&admin, &series, "QUAY 1", "QUAY 1")
        .send(&entries)
        .await;
    let series = series.parse().expect("an id");
    let conn = &mut *test.app.pool.get().await.expect("a connection");
    // lists of all folders that say a word, and of all names with it
    let usual = Steps {
        looked_at: 0,
        ..Steps::USUAL
    };
    let small = Steps {
        walked: 1,
        stretch: 2,
        saying: 1,
        by_name: 3,
        each: 0,
        of_each: 1,
        many_names: 0,
        names_a_folder: 1,
        looked_at: 0,
    };
    let ways = [
        small,
        Steps {
            each: 1_000,
            ..small
        },
        Steps {
            each: 1_000,
            of_each: 3,
            names_a_folder: 1_000,
            ..small
        },
        Steps {
            by_name: 1_000,
            names_a_folder: 1_000,
            ..small
        },
        Steps {
            looked_at: 1_000,
            ..small
        },
        Steps {
            by_name: 1_000,
            names_a_folder: 0,
            ..small
        },
    ];
    for words in [
        vec!["harbour"],
        vec!["a_1"],
        vec!["slip"],
        vec!["0"],
        vec!["1"],
        vec!["take", "harbour"],
        vec!["clip", "1"],
        vec!["cama", "slip"],
        vec!["o'b"],
        vec!["mov"],
        vec!["nothing"],
        vec!["harbour", "slip", "1"],
    ] {
        let words = words.into_iter().map(|word| vec![fold(word)]).collect();
        let ask = Ask {
            words,
            ..Ask::default()
        };
        let all = ask::hits_by(conn, series, &ask, None, 10_000, usual)
            .await
            .expect("hits");
        assert!(all.is_sorted());
        for steps in ways {
            for (after, most) in [
                (None, 1),
                (None, 7),
                (None, 10_000),
                (Some(2), 5),
                (Some(40), 60),
            ] {
                let behind = after.and_then(|at: usize| all.get(at).copied());
                let wanted: Vec<Hit> = (all.iter().copied())
                    .filter(|hit| behind.is_none_or(|behind| *hit > behind))
                    .take(most)
                    .collect();
                let found = ask::hits_by(conn, series, &ask, behind, most, steps)
                    .await
                    .expect("hits");
                assert_eq!(found, wanted, "{ask:?}, {most} after {after:?}, {steps:?}");
            }
        }
    }
}

async fn ids_by_hash(client: &Client, series: &str) -> BTreeMap<String, String> {
    let mut all = BTreeMap::new();
    for id in found(client, series, "").await {
        let file = client
            .get(&format!("/api/series/{series}/files/{id}"))
            .await;
        let file = file.expect(200).value();
        all.insert(
            file["hashes"]["xxh128"]
                .as_str()
                .expect("a hash")
                .to_owned(),
            id,
        );
    }
    all
}

async fn names(client: &Client, series: &str, query: &str) -> Vec<String> {
    let page = client
        .get(&format!("/api/series/{series}/files?{query}"))
        .await
        .expect(200)
        .value();
    let items = page["items"].as_array().expect("a list").iter();
    items
        .map(|item| item["name"].as_str().unwrap_or_default().to_owned())
        .collect()
}

#[tokio::test]
async fn a_slip_of_the_pen_is_forgiven_and_said() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let all = [
        entry("gymnasium/clip0137.mov", "1"),
        entry("gymnasium/clip0138.mov", "2"),
        entry("harbour/clip0137.mov", "3"),
    ];
    send(&admin, &series, "QUAY 1", &all).await;
    let page = admin
        .get(&format!(
            "/api/series/{series}/files?q=gymansium%20clpi0137"
        ))
        .await
        .expect(200)
        .value();
    assert_eq!(page["items"].as_array().map(Vec::len), Some(1));
    assert_eq!(page["total"], 1);
    assert_eq!(
        page["read_as"],
        json!([
            { "typed": "gymansium", "words": ["gymnasium"] },
            { "typed": "clpi0137", "words": ["clip0137"] },
        ])
    );
    // another number is another clip, and what stands somewhere is taken as typed
    for q in ["clip0139", "harbour%20clip0138"] {
        let page = admin
            .get(&format!("/api/series/{series}/files?q={q}"))
            .await;
        let page = page.expect(200).value();
        assert_eq!(
            (&page["items"], &page["read_as"]),
            (&json!([]), &json!([])),
            "{q}"
        );
    }
}

#[tokio::test]
async fn the_newest_day_comes_first_also_when_a_day_is_put_right() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let all = [
        clip("20280309_A001_CAMA_SLIPWAY/one.mov", "1"),
        clip("20280311_A003_CAMA_SLIPWAY/three.mov", "3"),
        clip("20280310_A002_CAMA_SLIPWAY/two.mov", "2"),
    ];
    send(&admin, &series, "QUAY 1", &all).await;
    assert_eq!(
        names(&admin, &series, "q=slipway").await,
        ["three.mov", "two.mov", "one.mov"]
    );
    assert_eq!(names(&admin, &series, "on=2028-03-10").await, ["two.mov"]);
    let cards = admin
        .get(&format!("/api/series/{series}/cards?q=A001"))
        .await
        .expect(200)
        .value();
    let card = &cards["items"][0];
    let mut fields = json!({});
    for name in [
        "shoot_day_id",
        "name",
        "camera",
        "number",
        "state",
        "wiped_on",
    ] {
        fields[name] = card[name].clone();
    }
    fields["shot_on"] = json!("2028-03-12");
    let one = format!(
        "/api/series/{series}/cards/{}",
        card["id"].as_str().expect("an id")
    );
    admin
        .put(&one, card["version"].as_i64().expect("a version"), &fields)
        .await
        .expect(200);
    for query in ["q=slipway", "kind=picture", "camera=cama", ""] {
        assert_eq!(
            names(&admin, &series, query).await,
            ["one.mov", "three.mov", "two.mov"],
            "{query}"
        );
    }
    assert_eq!(
        names(&admin, &series, "roll=a001").await,
        names(&admin, &series, "roll=A001").await
    );
    assert_eq!(names(&admin, &series, "on=2028-03-12").await, ["one.mov"]);
}

#[tokio::test]
async fn people_are_together_only_where_one_frame_shows_them_all() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let all: Vec<Value> = (1..=4)
        .map(|n| clip(&format!("{ROLL}/A001C00{n}.mov"), &format!("{n}")))
        .collect();
    send(&admin, &series, "QUAY 1", &all).await;
    let files = found(&admin, &series, "").await;
    let mut people = Vec::new();
    for name in ["Tam Oriel", "Wren Askew"] {
        let person = json!({ "credited_name": name, "age_band": "adult" });
        let made = admin
            .post(&format!("/api/series/{series}/people"), &person)
            .await;
        people.push(made.expect(201).id());
    }
    let log = async |file: usize, person: usize, range: Option<(i64, i64)>, presence: &str| {
        let mut body = json!({ "file_ids": [files[file]], "kind": "person", "person_id": people[person],
            "presence": presence });
        if let Some((from, to)) = range {
            (body["from"], body["to"]) = (json!(from), json!(to));
        }
        admin
            .post(&format!("/api/series/{series}/log"), &body)
            .await
            .expect(201);
    };
    // side by side for ten frames; one after the other; one only heard; one all the time
    log(0, 0, Some((0, 30)), "on_camera").await;
    log(0, 1, Some((20, 50)), "on_camera").await;
    log(1, 0, Some((0, 20)), "on_camera").await;
    log(1, 1, Some((20, 50)), "on_camera").await;
    log(2, 0, Some((0, 30)), "on_camera").await;
    log(2, 1, Some((0, 30)), "voice").await;
    log(3, 0, None, "on_camera").await;
    log(3, 1, Some((40, 45)), "background").await;
    let both = format!("person={},{}", people[0], people[1]);
    assert_eq!(
        names(&admin, &series, &both).await,
        ["A001C001.mov", "A001C004.mov"]
    );
    for query in [
        format!("{both}&q=a001"),
        format!("{both}&kind=picture&roll=A001"),
    ] {
        assert_eq!(names(&admin, &series, &query).await.len(), 2, "{query}");
    }
    assert_eq!(
        names(&admin, &series, &format!("person={}", people[1]))
            .await
            .len(),
        4
    );
    admin
        .get(&format!("/api/series/{series}/files?person=nobody"))
        .await
        .problem(400, "bad_request");
    let facets = admin
        .get(&format!("/api/series/{series}/file-facets?q=c00%20wren"))
        .await
        .expect(200)
        .value();
    assert_eq!(facets["meant"][0]["words"], "Wren Askew");
    assert_eq!(facets["counted"], 0);
    let facets = admin
        .get(&format!("/api/series/{series}/file-facets?q=c00"))
        .await
        .expect(200)
        .value();
    let count = |filter: &str| -> Vec<(String, i64)> {
        let all = facets["facets"].as_array().expect("a list").iter();
        all.filter(|facet| facet["filter"] == filter)
            .map(|facet| {
                let words = facet["words"].as_str().expect("words").to_owned();
                (words, facet["files"].as_i64().expect("a count"))
            })
            .collect()
    };
    assert_eq!(
        count("person"),
        [("Tam Oriel".into(), 4), ("Wren Askew".into(), 4)]
    );
    assert_eq!(count("on"), [("2028-03-09".into(), 4)]);
    assert_eq!(count("drive"), [("QUAY 1".into(), 4)]);
    assert_eq!(facets["complete"], true);
}

#[tokio::test]
async fn a_timecode_a_digest_and_a_roll_find_their_files() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let mut hashed = entry("notes.txt", "n");
    // of the empty text, by RFC 1321
    hashed["hashes"]["md5"] = json!("d41d8cd98f00b204e9800998ecf8427e");
    let all = [clip(&format!("{ROLL}/one.mov"), "1"), hashed];
    send(&admin, &series, "QUAY 1", &all).await;
    for (query, wanted) in [
        ("timecode=10:00:00:00", 1),
        ("timecode=10:00:01:24", 1),
        ("timecode=10:00:02:00", 0),
        ("timecode=09:59:59:24", 0),
        ("timecode=10:00:01:24&q=one", 1),
        ("timecode=10:00:01:24&q=two", 0),
        ("hash=D41D8CD98F00B204E9800998ECF8427E", 1),
        ("hash=d41d8cd98f00b204e9800998ecf8427f", 0),
        ("hash=d41d8cd98f00b204e9800998ecf8427e&q=notes", 1),
        ("roll=A001", 1),
        ("roll=20280309_a001_cama_slipway", 1),
        ("roll=A002", 0),
        ("camera=CAMA", 1),
    ] {
        assert_eq!(names(&admin, &series, query).await.len(), wanted, "{query}");
    }
    for query in [
        "timecode=noon",
        "hash=noon",
        "hash=d41d8cd98f00b204e9800998ecf8427",
    ] {
        let path = format!("/api/series/{series}/files?{query}");
        admin.get(&path).await.problem(400, "bad_request");
    }
}

/// Clips are looked for by about how long they are: none is lost at the bounds between lengths.
#[tokio::test]
async fn a_clip_of_any_length_is_found_at_its_first_and_last_frame() {
    const LENGTHS: [i64; 20] = [
        1, 2, 99, 100, 101, 399, 400, 401, 1599, 1600, 6399, 6400, 25_599, 25_600, 102_399,
        102_400, 409_599, 409_600, 409_601, 2_000_000,
    ];
    const START: i64 = 1000;
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let all: Vec<Value> = (0..LENGTHS.len())
        .map(|at| clip(&format!("{ROLL}/c{at:02}.mov"), &at.to_string()))
        .collect();
    send(&admin, &series, "QUAY 1", &all).await;
    let db = test.db.connect().await;
    for (at, length) in LENGTHS.iter().enumerate() {
        let set = "update files set rate_num = 25, rate_den = 1, drop_frame = false, start_frame = $1, frame_count = $2 \
             where name = $3";
        let name = format!("c{at:02}.mov");
        let changed = db.execute(set, &[&START, length, &name]).await;
        assert_eq!(changed.expect("a file"), 1);
    }
    let label = |frame: i64| {
        let (seconds, frames) = (frame / 25, frame % 25);
        let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
        format!("{hours:02}:{minutes:02}:{:02}:{frames:02}", seconds % 60)
    };
    let frames = LENGTHS
        .iter()
        .flat_map(|length| [START + length - 1, START + length]);
    for frame in frames.chain([0, START - 1, START]) {
        let holding = |(_, length): &(usize, &i64)| START <= frame && frame < START + **length;
        let wanted: Vec<String> = (LENGTHS.iter().enumerate().filter(holding))
            .map(|(at, _)| format!("c{at:02}.mov"))
            .collect();
        for also in ["", "&q=mov", "&camera=cama"] {
            let query = format!("timecode={}{also}", label(frame));
            let mut found = names(&admin, &series, &query).await;
            found.sort_unstable();
            assert_eq!(found, wanted, "{query}");
        }
    }
}

#[tokio::test]
async fn what_is_another_series_stays_there() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let other = test.series(&admin, "Other Season").await;
    send(&admin, &series, "QUAY 1", &[entry("harbour/a.mov", "1")]).await;
    let id = found(&admin, &series, "").await.remove(0);
    assert!(found(&admin, &other, "q=harbour").await.is_empty());
    admin
        .get(&format!("/api/series/{other}/files?after={id}"))
        .await
        .problem(400, "bad_request");
    let music = test
        .person("Mo Music", &series, &[Role::MusicSupervisor])
        .await;
    let stranger = test.person("No Body", &other, &[Role::Editor]).await;
    for path in ["files?q=a", "file-facets?q=a"] {
        let path = format!("/api/series/{series}/{path}");
        music.get(&path).await.problem(403, "not_allowed");
        stranger.get(&path).await.problem(404, "not_found");
    }
}
