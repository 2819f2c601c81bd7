//! A card copied with the real command, and what the server knows of it then: the card, its copies, that they are
//! verified and when; told at once, told later from the receipt, by several people at the same time. The drives are
//! folders of one device, so the card has one copy; `one_device` copies to two devices.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::time::Duration;

use serde_json::{Value, json};
use tokio::process::{Child, Command};
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::scans::start;

pub const ROLL: &str = "20280309_A001_CAMA_SLIPWAY";

/// `waybill copy` of the folder `card` to these drives, with the receipt in `paper`; what these cards hold is noise, so
/// no pictures.
fn copying<'a>(roll: &'a str, drives: &[&'a str]) -> Vec<&'a str> {
    let mut args = vec!["copy", "card", "--roll", roll, "--receipt", "paper"];
    args.extend(drives.iter().flat_map(|drive| ["--to", drive]));
    args.push("--no-pictures");
    args
}

/// Somebody at a cart: a home of their own, a device token, folders that stand for drives.
pub struct Cart {
    home: tempfile::TempDir,
    token: String,
    pub server: String,
}

impl Cart {
    pub async fn new(test: &TestApp, person: &Client) -> Self {
        let label = json!({ "label": "cart laptop" });
        let made = person.post("/api/me/device-tokens", &label).await;
        let token = made.expect(201).value()["token"]
            .as_str()
            .map(str::to_owned);
        Self {
            home: tempfile::tempdir().expect("a temporary folder"),
            token: token.expect("a token"),
            server: format!("http://{}", test.address),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    /// A card of a few files, different for each `seed`.
    pub fn card(&self, seed: u8) {
        for (name, length) in [
            ("CLIPS/A001C001.mov", 3 << 20),
            ("CLIPS/A001C002.mov", 70_001),
            ("A001.txt", 12),
        ] {
            let path = self.path("card").join(name);
            fs::create_dir_all(path.parent().expect("a folder")).expect("folders");
            let bytes: Vec<u8> = (0..length)
                .map(|place: usize| (place * 31 % 251) as u8 ^ seed)
                .collect();
            fs::write(path, bytes).expect("a file");
        }
    }

    fn start(&self, args: &[&str]) -> Child {
        let test = std::env::current_exe().expect("this test's own path");
        let programs = test
            .parent()
            .and_then(Path::parent)
            .expect("the target folder");
        for drive in ["one", "two"] {
            fs::create_dir_all(self.path(drive)).expect("a folder");
        }
        let mut command = Command::new(programs.join("waybill"));
        command.args(args).current_dir(self.home.path());
        for name in [
            "XDG_CONFIG_HOME",
            "XDG_STATE_HOME",
            "WAYBILL_STATE",
            "WAYBILL_SERVER",
            "WAYBILL_SERIES",
        ] {
            command.env_remove(name);
        }
        command
            .env("HOME", self.home.path())
            .env("WAYBILL_TOKEN", &self.token);
        command
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
            .spawn()
            .expect("the program `waybill` beside the tests")
    }

    pub async fn run(&self, args: &[&str]) -> String {
        ended(self.start(args)).await
    }

    fn copy<'a>(&'a self, roll: &'a str) -> Vec<&'a str> {
        copying(roll, &["one", "two"])
    }

    /// The copy that tells the server at once; the labels of its drives.
    pub fn copy_and_tell<'a>(&'a self, roll: &'a str, drives: [&'a str; 2]) -> Vec<&'a str> {
        let mut args = self.copy(roll);
        args.extend(["--drive", drives[0], "--drive", drives[1]]);
        args.extend(["--to-server", &self.server, "--series", "Harbour Season"]);
        args
    }

    pub fn receipt(&self) -> (String, Value) {
        let entries = fs::read_dir(self.path("paper")).expect("receipts");
        let mut paths = entries.map(|entry| entry.expect("an entry").path());
        let path = paths.find(|path| path.extension().is_some_and(|end| end == "json"));
        let path = path.expect("a receipt");
        let text = fs::read(&path).expect("a file");
        (
            path.display().to_string(),
            serde_json::from_slice(&text).expect("JSON"),
        )
    }
}

async fn ended(child: Child) -> String {
    let Output {
        status,
        stdout,
        stderr,
    } = child.wait_with_output().await.expect("it was started");
    let text = format!(
        "{}{}",
        String::from_utf8_lossy(&stderr),
        String::from_utf8_lossy(&stdout)
    );
    assert!(status.success(), "{status}: {text}");
    text
}

/// Kills a copy to `one` and `two` with SIGKILL as soon as both have a file under its own name and more is to come.
async fn kill_midway(cart: &Cart) {
    let long = fs::File::create(cart.path("card/Z001.mov")).expect("a file");
    // takes no room on the card, and a while to copy
    long.set_len(300 << 20).expect("room");
    let mut child = cart.start(&cart.copy(ROLL));
    let first = |drive: &str| cart.path(drive).join(ROLL).join("CLIPS/A001C001.mov");
    while !(first("one").exists() && first("two").exists()) {
        assert!(
            child.try_wait().expect("a child").is_none(),
            "it ended first"
        );
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    child.kill().await.expect("it runs");
    assert!(!cart.path("paper").exists(), "a killed copy has no receipt");
}

pub async fn items(client: &Client, path: &str) -> Vec<Value> {
    let list = client.get(path).await.expect(200).value();
    list["items"].as_array().expect("a list").clone()
}

/// What the server says of a roll is what its receipt says.
pub async fn knows(client: &Client, series: &str, receipt: &Value, drives: [&str; 2]) {
    let base = format!("/api/series/{series}");
    let roll = &receipt["roll"]["name"];
    let cards = items(client, &format!("{base}/cards")).await;
    let card = cards
        .iter()
        .find(|card| card["name"] == *roll)
        .expect("the card");
    let together = receipt["same_device"] == json!([[0, 1]]);
    let (state, devices) = match together {
        true => ("offloading", 1),
        false => ("two_copies_checked", 2),
    };
    assert_eq!(card["state"], state, "{card}");
    let copies = items(client, &format!("{base}/card-copies")).await;
    let counted = copies
        .iter()
        .find(|one| one["id"] == card["id"])
        .expect("the card");
    assert_eq!(
        (&counted["files"], &counted["bytes"], &counted["copies"]),
        (
            &receipt["card"]["totals"]["files"],
            &receipt["card"]["totals"]["bytes"],
            &json!(devices)
        )
    );
    let card = card["id"].as_str().expect("an id");
    let files = items(client, &format!("{base}/files?card={card}")).await;
    let recorded = receipt["files"].as_array().expect("files");
    assert_eq!(files.len(), recorded.len());
    for file in &files {
        let id = file["id"].as_str().expect("an id");
        let detail = client
            .get(&format!("{base}/files/{id}"))
            .await
            .expect(200)
            .value();
        let same = |one: &&Value| {
            let path = one["path"].as_str().expect("text");
            path.rsplit('/').next() == file["name"].as_str()
        };
        let known = recorded.iter().find(same).expect("a file of the receipt");
        assert_eq!(detail["hashes"]["xxh128"], known["hashes"]["xxh128"]);
        assert_eq!(file["size"], known["size"]);
        let copies = file["copies"].as_array().expect("copies");
        assert_eq!(copies.len(), 2, "{file}");
        for (number, label) in drives.iter().enumerate() {
            let copy = copies
                .iter()
                .find(|copy| copy["drive"] == *label)
                .expect("the drive");
            assert_eq!(copy["state"], "verified");
            let instant = |value: &Value| -> chrono::DateTime<chrono::Utc> {
                value.as_str().expect("text").parse().expect("an instant")
            };
            let apart = instant(&copy["checked_at"]) - instant(&known["verified"][number]);
            assert!(apart.num_milliseconds().abs() < 2, "{copy} {known}");
            let folder = receipt["destinations"][number]["folder"]
                .as_str()
                .expect("text");
            let folder = folder.rsplit('/').next().expect("a name");
            let path = format!(
                "{folder}/{}/{}",
                roll.as_str().expect("text"),
                known["path"].as_str().expect("text")
            );
            assert_eq!(copy["path"], path.as_str());
        }
    }
    for label in drives {
        let all = items(client, &format!("{base}/drives")).await;
        let drive = all
            .iter()
            .find(|drive| drive["label"] == label)
            .expect("the drive");
        let id = drive["id"].as_str().expect("an id");
        let checks = items(client, &format!("{base}/drives/{id}/checks")).await;
        assert!(
            checks.iter().any(|check| check["how"] == "copy"),
            "{checks:?}"
        );
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_copied_card_stands_on_the_server_as_it_was_copied() {
    let (test, admin, series) = start().await;
    let cart = Cart::new(&test, &admin).await;
    cart.card(1);
    let said = cart
        .run(&cart.copy_and_tell(ROLL, ["QUAY 1", "QUAY 2"]))
        .await;
    assert!(said.contains("Sent: 3 new to the series"), "{said}");
    let (path, receipt) = cart.receipt();
    assert_eq!(receipt["is_whole"], true);
    knows(&admin, &series, &receipt, ["QUAY 1", "QUAY 2"]).await;
    // again changes nothing
    let again = cart
        .run(&[
            "copy",
            "send",
            &path,
            "--to",
            &cart.server,
            "--series",
            &series,
        ])
        .await;
    assert!(again.contains("already has this scan"), "{again}");
    knows(&admin, &series, &receipt, ["QUAY 1", "QUAY 2"]).await;
    assert_eq!(
        items(&admin, &format!("/api/series/{series}/scans"))
            .await
            .len(),
        2
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_card_copied_without_a_server_is_told_later() {
    let (test, admin, series) = start().await;
    let cart = Cart::new(&test, &admin).await;
    cart.card(2);
    cart.run(&cart.copy(ROLL)).await;
    assert!(
        items(&admin, &format!("/api/series/{series}/cards"))
            .await
            .is_empty()
    );
    let (path, receipt) = cart.receipt();
    // the card is wiped and the drives are away when it is sent
    for folder in ["card", "one", "two"] {
        fs::rename(cart.path(folder), cart.path(&format!("{folder} away"))).expect("a free name");
    }
    let args = [
        "copy",
        "send",
        &path,
        "--to",
        &cart.server,
        "--series",
        "Harbour Season",
    ];
    let drives = ["--drive", "QUAY 3", "--drive", "QUAY 4"];
    let said = cart.run(&[&args[..], &drives].concat()).await;
    assert!(said.contains("3 new to the series"), "{said}");
    knows(&admin, &series, &receipt, ["QUAY 3", "QUAY 4"]).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_copy_that_was_killed_and_finished_is_told_as_it_stands() {
    let (test, admin, series) = start().await;
    let cart = Cart::new(&test, &admin).await;
    cart.card(3);
    kill_midway(&cart).await;
    assert!(
        items(&admin, &format!("/api/series/{series}/cards"))
            .await
            .is_empty()
    );
    cart.run(&cart.copy(ROLL)).await;
    let (path, receipt) = cart.receipt();
    assert_eq!(receipt["is_whole"], true);
    let place = ["--to", &cart.server, "--series", "Harbour Season"];
    let drives = ["--drive", "QUAY 1", "--drive", "QUAY 2"];
    let args = [&["copy", "send", &path][..], &place, &drives].concat();
    cart.run(&args).await;
    knows(&admin, &series, &receipt, ["QUAY 1", "QUAY 2"]).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_damaged_after_a_kill_is_not_told_as_verified() {
    let (test, admin, series) = start().await;
    let cart = Cart::new(&test, &admin).await;
    cart.card(4);
    kill_midway(&cart).await;
    // a file that the killed copy had verified on the second drive loses a bit
    let damaged = cart.path("two").join(ROLL).join("CLIPS/A001C001.mov");
    let mut bytes = fs::read(&damaged).expect("a copy");
    bytes[1_234_567] ^= 4;
    fs::write(&damaged, bytes).expect("a file");
    let refused = cart.start(&cart.copy(ROLL)).wait_with_output().await;
    let refused = refused.expect("it was started");
    let said = String::from_utf8_lossy(&refused.stderr);
    assert_eq!(refused.status.code(), Some(65), "{said}");
    assert!(said.contains("A001C001.mov"), "{said}");
    assert!(!cart.path("paper").exists(), "{said}");
    // so the first drive alone gets its copy, and the server is told of that
    cart.run(&copying(ROLL, &["one"])).await;
    let (path, receipt) = cart.receipt();
    let place = ["--to", &cart.server, "--series", "Harbour Season"];
    let args = [&["copy", "send", &path, "--drive", "QUAY 1"][..], &place].concat();
    cart.run(&args).await;
    let base = format!("/api/series/{series}");
    let cards = items(&admin, &format!("{base}/cards")).await;
    let states: Vec<_> = cards
        .iter()
        .map(|card| (&card["name"], &card["state"]))
        .collect();
    // one copy is not two: the card is not done with
    assert_eq!(states, [(&json!(ROLL), &json!("offloading"))]);
    let files = items(&admin, &format!("{base}/files")).await;
    assert_eq!(
        files.len(),
        receipt["files"].as_array().expect("files").len()
    );
    for file in files {
        let copies = file["copies"].as_array().expect("copies");
        let said: Vec<_> = copies
            .iter()
            .map(|copy| (&copy["drive"], &copy["state"]))
            .collect();
        assert_eq!(said, [(&json!("QUAY 1"), &json!("verified"))], "{file}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn people_copying_at_once_do_not_get_in_each_others_way() {
    let (test, admin, series) = start().await;
    let rolls = [
        ROLL,
        "20280309_B001_CAMB_SLIPWAY",
        "20280310_A002_CAMA_QUAY",
    ];
    let drives = [
        ["QUAY 1", "QUAY 2"],
        ["QUAY 3", "QUAY 4"],
        ["QUAY 5", "QUAY 6"],
    ];
    let mut carts = Vec::new();
    for (number, name) in ["Ada Oar", "Bo Thwart", "Cy Rudder"]
        .into_iter()
        .enumerate()
    {
        let person = test.person(name, &series, &[Role::PostSupervisor]).await;
        let cart = Cart::new(&test, &person).await;
        cart.card(u8::try_from(number).expect("few"));
        carts.push(cart);
    }
    let each = || carts.iter().zip(rolls).zip(drives);
    let started: Vec<Child> = each()
        .map(|((cart, roll), drives)| cart.start(&cart.copy_and_tell(roll, drives)))
        .collect();
    for child in started {
        ended(child).await;
    }
    for ((cart, _), drives) in each() {
        knows(&admin, &series, &cart.receipt().1, drives).await;
    }
}
