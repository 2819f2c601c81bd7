//! Drives that lie on one device are one copy, whoever sends what of them and in which order; until a whole scan shows
//! another device.

use std::process::Command;

use chrono::TimeDelta;
use serde_json::{Value, json};
use waybill_tests::http::Client;

use crate::api::copying::{Cart, ROLL, items, knows};
use crate::api::footage::{ROLL as CLIPS, Scan, send, warnings};
use crate::api::scans::{clips, start};

async fn get(client: &Client, path: &str) -> Value {
    client.get(path).await.expect(200).value()
}

async fn drive(client: &Client, series: &str, label: &str) -> String {
    let drives = items(client, &format!("/api/series/{series}/drives")).await;
    let found = drives.iter().find(|drive| drive["label"] == label);
    found.expect("the drive")["id"]
        .as_str()
        .expect("an id")
        .to_owned()
}

async fn contents(client: &Client, series: &str, label: &str) -> Value {
    let id = drive(client, series, label).await;
    get(
        client,
        &format!("/api/series/{series}/drives/{id}/contents"),
    )
    .await
}

async fn card(client: &Client, series: &str) -> Value {
    let cards = items(client, &format!("/api/series/{series}/cards")).await;
    assert_eq!(cards.len(), 1, "{cards:?}");
    cards[0].clone()
}

async fn state(client: &Client, series: &str) -> String {
    card(client, series).await["state"]
        .as_str()
        .expect("text")
        .to_owned()
}

/// Sets the state of a drive; its id.
async fn set(client: &Client, series: &str, label: &str, status: &str) -> String {
    let id = drive(client, series, label).await;
    let at = format!("/api/series/{series}/drives/{id}");
    let there = get(client, &at).await;
    let mut fields = json!({ "label": label, "status": status });
    for name in [
        "kind",
        "capacity_bytes",
        "free_bytes",
        "bought_on",
        "next_check_on",
    ] {
        fields[name] = there[name].clone();
    }
    let version = there["version"].as_i64().expect("a version");
    client.put(&at, version, &fields).await.expect(200);
    id
}

/// A scan of `root` on a drive that says what names its device.
fn named<'a>(
    client: &'a Client,
    series: &str,
    (label, root): (&str, &str),
    devices: &[&str],
) -> Scan<'a> {
    let mut scan = Scan::new(client, series, label, root);
    scan.start["devices"] = json!(devices);
    scan
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_card_copied_to_two_folders_of_one_device_has_one_copy() {
    let (test, admin, series) = start().await;
    let cart = Cart::new(&test, &admin).await;
    cart.card(5);
    let said = cart
        .run(&cart.copy_and_tell(ROLL, ["QUAY 1", "QUAY 2"]))
        .await;
    assert!(said.contains("one and two are on one device"), "{said}");
    assert!(
        said.contains("QUAY 2 lies on the same device as QUAY 1: together they are one copy."),
        "{said}"
    );
    let base = format!("/api/series/{series}");
    let id = card(&admin, &series).await["id"]
        .as_str()
        .expect("an id")
        .to_owned();
    let at = format!("{base}/cards/{id}");
    let good = json!({ "positive": true, "words": "" });
    let safety = admin
        .post(&format!("{at}/reports"), &good)
        .await
        .expect(200)
        .value();
    assert_eq!(state(&admin, &series).await, "offloading");
    assert_eq!(safety["safe"], false);
    assert_eq!(
        safety["one_device"],
        json!(["QUAY 1 and QUAY 2 are one device, or may be: together they are one copy."])
    );
    let reasons = safety["reasons"].as_array().expect("reasons");
    assert!(
        reasons.len() == 3 && reasons.iter().all(|one| one["code"] == "too_few_copies"),
        "{safety}"
    );
    let kept = get(&admin, &format!("{at}/keeping")).await["kept"].clone();
    assert_eq!(
        (&kept["holds"], &kept["three_two_one"]["copies"]),
        (&json!(false), &json!(1))
    );
    assert!(kept["failing"].to_string().contains("copies"), "{kept}");
    for (label, other) in [("QUAY 1", "QUAY 2"), ("QUAY 2", "QUAY 1")] {
        let held = contents(&admin, &series, label).await;
        assert_eq!(
            (&held["beside"], &held["only_copies"]),
            (&json!([other]), &json!(3))
        );
        // one of them dies, and the other with it
        let dead = drive(&admin, &series, label).await;
        let loss = get(&admin, &format!("{base}/what-if?drives={dead}")).await;
        assert_eq!(loss["gone"]["files"], 3, "{loss}");
        assert_eq!(loss["lost"].as_array().map(Vec::len), Some(2), "{loss}");
        let said = "QUAY 1 and QUAY 2 are one device, or may be: what hits one hits all.";
        assert_eq!(loss["one_device"], json!([said]));
        // nobody's word makes two of them
        let at = format!("{base}/drives/{dead}/separate");
        let held = admin.post(&at, &json!({})).await.expect(200).value();
        assert_eq!(held["beside"], json!([other]));
        assert_eq!(state(&admin, &series).await, "offloading");
    }
    // told again from the receipt, as it was
    let (path, receipt) = cart.receipt();
    cart.run(&[
        "copy",
        "send",
        &path,
        "--to",
        &cart.server,
        "--series",
        &series,
    ])
    .await;
    knows(&admin, &series, &receipt, ["QUAY 1", "QUAY 2"]).await;
}

/// A file system in memory, unmounted at the end.
struct Mounted(std::path::PathBuf);

impl Mounted {
    /// None where this machine lets nobody mount, which is said.
    fn at(path: std::path::PathBuf) -> Option<Self> {
        std::fs::create_dir_all(&path).expect("a folder");
        let mut mount = Command::new("mount");
        mount
            .args(["-t", "tmpfs", "-o", "size=50m", "tmpfs"])
            .arg(&path);
        match mount.status() {
            Ok(status) if status.success() => Some(Self(path)),
            other => {
                eprintln!("NOT TESTED on this machine: mount says {other:?}");
                None
            }
        }
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_card_copied_to_two_devices_has_two_copies() {
    let (test, admin, series) = start().await;
    let cart = Cart::new(&test, &admin).await;
    let Some(_two) = Mounted::at(cart.path("two")) else {
        return;
    };
    cart.card(6);
    let said = cart
        .run(&cart.copy_and_tell(ROLL, ["QUAY 1", "QUAY 2"]))
        .await;
    assert!(
        !said.contains("one device") && !said.contains("same device"),
        "{said}"
    );
    let receipt = cart.receipt().1;
    assert_eq!(receipt["same_device"], json!([]));
    knows(&admin, &series, &receipt, ["QUAY 1", "QUAY 2"]).await;
    assert_eq!(state(&admin, &series).await, "two_copies_checked");
    // what is in memory has no name that lasts
    assert_eq!(
        contents(&admin, &series, "QUAY 2").await["device_known"],
        false
    );
}

/// The folders count as two copies of the card.
async fn the_two_have_parted(admin: &Client, series: &str) {
    assert_eq!(contents(admin, series, "QUAY 1").await["beside"], json!([]));
    assert_eq!(state(admin, series).await, "two_copies_checked");
}

#[tokio::test]
async fn folders_of_one_device_scanned_apart_are_one_copy_until_one_has_moved() {
    let (test, admin, series) = start().await;
    let hour = || test.clock.advance(TimeDelta::hours(1));
    named(&admin, &series, ("QUAY 2", "two"), &["fs-1", "disk:x"])
        .send(&clips(3))
        .await;
    let summary = named(&admin, &series, ("QUAY 1", "one"), &["fs-1"])
        .send(&clips(3))
        .await;
    assert!(
        warnings(&summary).contains("QUAY 1 lies on the same device as QUAY 2"),
        "{summary}"
    );
    assert_eq!(state(&admin, &series).await, "offloading");

    // a program that can't tell lifts nothing, nor does a scan of another folder, nor one that is not whole
    hour();
    send(&admin, &series, "QUAY 1", &clips(3)).await;
    Scan::new(&admin, &series, "QUAY 1", "one")
        .send(&clips(3))
        .await;
    named(&admin, &series, ("QUAY 1", "else"), &["fs-2"])
        .send(&clips(3))
        .await;
    let mut part = named(&admin, &series, ("QUAY 1", "one"), &["fs-2"]);
    part.start["skipped"] =
        json!([{ "path": "", "reason": "unreadable", "detail": "it went away" }]);
    part.send(&clips(3)).await;
    named(&admin, &series, ("QUAY 1", "one"), &["fs-2"])
        .begin()
        .await
        .expect(200);
    assert_eq!(state(&admin, &series).await, "offloading");
    assert_eq!(
        contents(&admin, &series, "QUAY 1").await["beside"],
        json!(["QUAY 2"])
    );

    // the folder itself, read whole on another device
    hour();
    named(&admin, &series, ("QUAY 1", "one"), &["fs-2"])
        .send(&clips(3))
        .await;
    the_two_have_parted(&admin, &series).await;
}

#[tokio::test]
async fn what_cannot_be_compared_keeps_two_folders_together() {
    let (test, admin, series) = start().await;
    let hour = || test.clock.advance(TimeDelta::hours(1));
    for (label, root) in [("QUAY 1", "one"), ("QUAY 2", "two")] {
        named(&admin, &series, (label, root), &["disk:naa.5"])
            .send(&clips(3))
            .await;
    }
    for (devices, unsure) in [
        // a computer that tells the file system only, then one that tells both; the same disk, then one more of it
        (&["fs-1"][..], true),
        (&["fs-1", "disk:naa.5"], false),
        (&["fs-2"], true),
        (&["fs-1", "disk:naa.6"], false),
    ] {
        hour();
        let summary = named(&admin, &series, ("QUAY 1", "one"), devices)
            .send(&clips(3))
            .await;
        assert_eq!(state(&admin, &series).await, "offloading", "{devices:?}");
        let said = warnings(&summary).contains("QUAY 1 is still one copy with QUAY 2");
        assert_eq!(said, unsure, "{devices:?}: {summary}");
    }
    // the disk is known on both sides, and the file system
    hour();
    named(&admin, &series, ("QUAY 1", "one"), &["fs-3", "disk:naa.7"])
        .send(&clips(3))
        .await;
    the_two_have_parted(&admin, &series).await;
}

#[tokio::test]
async fn what_one_run_saw_together_stays_together_whatever_is_told_later() {
    let (test, admin, series) = start().await;
    let at = |label: &'static str, folder: &str| (label, format!("{folder}/{CLIPS}"));
    let (one, two) = (at("QUAY 1", "one"), at("QUAY 2", "two"));
    let run = "run:0190a1b2/0";
    for (label, root) in [&one, &two] {
        named(&admin, &series, (label, root), &[run])
            .send(&clips(3))
            .await;
    }
    assert_eq!(state(&admin, &series).await, "offloading");
    // two parts of one disk have names of their own
    test.clock.advance(TimeDelta::hours(1));
    named(&admin, &series, (one.0, &one.1), &["fs-1"])
        .send(&clips(3))
        .await;
    named(&admin, &series, (two.0, &two.1), &["fs-2"])
        .send(&clips(3))
        .await;
    assert_eq!(state(&admin, &series).await, "offloading");
}

#[tokio::test]
async fn a_card_that_was_safe_is_not_from_the_moment_that_one_device_is_told() {
    let (_test, admin, series) = start().await;
    named(&admin, &series, ("QUAY 1", "one"), &["fs-1"])
        .send(&clips(3))
        .await;
    named(&admin, &series, ("QUAY 2", "two"), &["fs-2"])
        .send(&clips(3))
        .await;
    let id = card(&admin, &series).await["id"]
        .as_str()
        .expect("an id")
        .to_owned();
    let report = format!("/api/series/{series}/cards/{id}/reports");
    admin
        .post(&report, &json!({ "positive": true, "words": "" }))
        .await
        .expect(200);
    assert_eq!(state(&admin, &series).await, "safe_to_wipe");

    // begun, and not a file has come yet
    let scan = named(&admin, &series, ("QUAY 2", "more"), &["fs-1"]);
    scan.begin().await.expect(200);
    assert_eq!(state(&admin, &series).await, "offloading");
    // it holds nothing, so it says nothing
    scan.complete(0, &[]).await.problem(409, "unsafe_state");
    assert_eq!(state(&admin, &series).await, "safe_to_wipe");

    let summary = named(&admin, &series, ("QUAY 2", "more"), &["fs-1"])
        .send(&clips(1))
        .await;
    let said = warnings(&summary);
    assert!(
        said.contains("together they are one copy") && said.contains("was safe to wipe"),
        "{said}"
    );
    // the first of the two goes; the other stays one copy
    let first = set(&admin, &series, "QUAY 1", "retired").await;
    assert_eq!(contents(&admin, &series, "QUAY 2").await["only_copies"], 3);
    assert_eq!(state(&admin, &series).await, "offloading");
    // what hits it hits the other, also while it is itself away
    let at = format!("/api/series/{series}/what-if?drives={first}");
    assert_eq!(get(&admin, &at).await["gone"]["files"], 3);
}

#[tokio::test]
async fn a_drive_that_is_missing_takes_those_on_its_device_with_it() {
    let (_test, admin, series) = start().await;
    for (label, root, device) in [
        ("QUAY 1", "one", "fs-1"),
        ("QUAY 2", "two", "fs-1"),
        ("QUAY 3", "three", "fs-3"),
    ] {
        named(&admin, &series, (label, root), &[device])
            .send(&clips(3))
            .await;
    }
    let base = format!("/api/series/{series}");
    let id = card(&admin, &series).await["id"]
        .as_str()
        .expect("an id")
        .to_owned();
    let good = json!({ "positive": true, "words": "" });
    let at = format!("{base}/cards/{id}");
    admin
        .post(&format!("{at}/reports"), &good)
        .await
        .expect(200);
    assert_eq!(state(&admin, &series).await, "safe_to_wipe");

    for (status, words) in [("missing", "is missing"), ("mismatch", "has a mismatch")] {
        let first = set(&admin, &series, "QUAY 1", status).await;
        let why = |by: &str| {
            format!(
                "QUAY 2 doesn't count as a copy: {by} {words}, and the two share a device or may be one drive. That \
                 ends when {by} is scanned without a fault, or retired."
            )
        };
        assert_eq!(state(&admin, &series).await, "offloading", "{status}");
        let safety = get(&admin, &format!("{at}/safety")).await;
        assert_eq!(safety["safe"], false);
        assert_eq!(safety["one_device"], json!([why("QUAY 1")]));
        let held = |label: &'static str| contents(&admin, &series, label);
        assert_eq!(held("QUAY 2").await["held_back"], json!([why("QUAY 1")]));
        assert_eq!(held("QUAY 1").await["held_back"], json!([]));
        assert_eq!(held("QUAY 3").await["only_copies"], 3);
        // 3-2-1 and the question what dies agree
        let kept = get(&admin, &format!("{at}/keeping")).await["kept"].clone();
        assert_eq!(kept["three_two_one"]["copies"], 1, "{kept}");
        let loss = get(&admin, &format!("{base}/what-if?drives={first}")).await;
        assert_eq!(
            (&loss["gone"]["files"], &loss["single"]["files"]),
            (&json!(0), &json!(0))
        );
        let labels: Vec<&str> = (loss["not_counted"].as_array().expect("drives"))
            .iter()
            .filter_map(|drive| drive["label"].as_str())
            .collect();
        assert_eq!(labels, ["QUAY 1", "QUAY 2"]);
        let third = drive(&admin, &series, "QUAY 3").await;
        let loss = get(&admin, &format!("{base}/what-if?drives={third}")).await;
        assert_eq!(loss["gone"]["files"], 3, "{loss}");

        // a scan of the other says why it doesn't count
        let summary = named(&admin, &series, ("QUAY 2", "two"), &["fs-1"])
            .send(&clips(3))
            .await;
        assert!(warnings(&summary).contains(&why("QUAY 1")), "{summary}");
        assert_eq!(state(&admin, &series).await, "offloading");

        // found, or its label out of use
        set(&admin, &series, "QUAY 1", "retired").await;
        assert_eq!(state(&admin, &series).await, "safe_to_wipe");
        set(&admin, &series, "QUAY 1", "fine").await;
        assert_eq!(state(&admin, &series).await, "safe_to_wipe");
        assert_eq!(held("QUAY 2").await["held_back"], json!([]));
    }
    // read again where it was missing
    set(&admin, &series, "QUAY 1", "missing").await;
    named(&admin, &series, ("QUAY 1", "one"), &["fs-1"])
        .send(&clips(3))
        .await;
    assert_eq!(state(&admin, &series).await, "safe_to_wipe");
}
