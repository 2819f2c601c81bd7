//! Still pictures of clips: sent once for each content, seen by those who may see the file.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_tests::http::{Client, Reply};

use crate::api::footage::send;
use crate::api::samples::Ids;
use crate::api::scans::{clips, start};

/// What a general tool made of a photograph (`binder/README.md`).
const PHOTO: &[u8] = include_bytes!("binder/photo.jpg");
const JPEG: [(&str, &str); 1] = [("content-type", "image/jpeg")];

/// The same picture with a comment in it (ITU-T T.81, B.2.4.5): other bytes.
fn with_comment() -> Vec<u8> {
    [&PHOTO[..2], b"\xff\xfe\x00\x04hi", &PHOTO[2..]].concat()
}

fn contents(files: &[Value]) -> Value {
    let one = |file: &Value| json!({ "xxh128": file["hashes"]["xxh128"], "size": file["size"] });
    json!({ "contents": files.iter().map(one).collect::<Vec<_>>() })
}

async fn lacking(client: &Client, series: &str, files: &[Value]) -> Value {
    let at = format!("/api/series/{series}/pictures/lacking");
    let answer = client.post(&at, &contents(files)).await.expect(200).value();
    answer["items"].clone()
}

async fn put(client: &Client, series: &str, file: &str, kind: &str, content: &[u8]) -> Reply {
    let at = format!("/api/series/{series}/files/{file}/pictures/{kind}");
    client.send("PUT", &at, &JPEG, content).await
}

async fn ids(client: &Client, series: &str) -> Vec<String> {
    let page = client.get(&format!("/api/series/{series}/files")).await;
    let page = page.expect(200).value();
    let items = page["items"].as_array().expect("a list").iter();
    items
        .map(|item| item["id"].as_str().expect("an id").to_owned())
        .collect()
}

#[tokio::test]
async fn pictures_are_asked_for_sent_once_and_shown_with_the_file() {
    let (test, admin, series) = start().await;
    let files = clips(3);
    send(&admin, &series, "QUAY 1", &files[..2]).await;
    let editor = test.person("Ed", &series, &[Role::Editor]).await;

    // the third is unknown to the series
    let asked = lacking(&editor, &series, &files).await;
    let places: Vec<&Value> = asked.as_array().expect("a list").iter().collect();
    assert_eq!(places.len(), 2, "{asked}");
    assert_eq!((&places[0]["at"], &places[1]["at"]), (&json!(0), &json!(1)));
    assert_eq!(places[0]["lacks_poster"], true);
    let first = places[0]["file_id"].as_str().expect("an id");

    let sent = put(&editor, &series, first, "poster", PHOTO).await;
    let link = sent.expect(200).value()["poster"].clone();
    let link = link.as_str().expect("a link");
    let again = lacking(&editor, &series, &files).await;
    assert_eq!(
        (&again[0]["lacks_poster"], &again[0]["lacks_contact_sheet"]),
        (&json!(false), &json!(true))
    );
    // a picture that is there stays
    let other = put(&editor, &series, first, "poster", &with_comment()).await;
    assert_eq!(other.expect(200).value()["poster"], link);
    put(&editor, &series, first, "contact_sheet", &with_comment())
        .await
        .expect(200);
    let rest = lacking(&editor, &series, &files).await;
    assert_eq!(
        (rest.as_array().map(Vec::len), &rest[0]["at"]),
        (Some(1), &json!(1))
    );

    let page = editor.get(&format!("/api/series/{series}/files")).await;
    let items = page.expect(200).value()["items"].clone();
    let hit = |id: &str, is: bool| {
        let items = items.as_array().expect("a list").iter();
        let mut items = items.filter(|item| (item["id"] == id) == is);
        items.next().expect("a hit").clone()
    };
    assert_eq!(hit(first, true)["poster"], link);
    assert!(hit(first, true)["contact_sheet"].is_string());
    assert_eq!(hit(first, false)["poster"], Value::Null);
    let detail = editor
        .get(&format!("/api/series/{series}/files/{first}"))
        .await;
    assert_eq!(detail.expect(200).value()["poster"], link);

    let shown = editor.get(link).await.expect(200);
    assert_eq!(shown.body, PHOTO);
    for (name, value) in [
        ("content-type", "image/jpeg"),
        ("x-content-type-options", "nosniff"),
        ("cache-control", "private, max-age=31536000, immutable"),
        ("content-security-policy", "sandbox; default-src 'none'"),
    ] {
        assert_eq!(shown.header(name), Some(value));
    }
    let vary = shown.header("vary").expect("a header").to_owned();
    assert!(vary.contains("Cookie"), "{vary}");
    let named = shown.header("content-disposition").expect("a header");
    assert!(named.starts_with("inline; filename=\"A001C00"), "{named}");
    let tag = shown.header("etag").expect("a tag").to_owned();
    let known = editor
        .send("GET", link, &[("if-none-match", &tag)], b"")
        .await;
    assert!(known.expect(304).body.is_empty());
}

#[tokio::test]
async fn what_is_no_picture_is_refused() {
    let (_test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(1)).await;
    let file = ids(&admin, &series).await.remove(0);
    let at = format!("/api/series/{series}/files/{file}/pictures/poster");
    let png = [("content-type", "image/png")];
    let refused = admin.send("PUT", &at, &png, PHOTO).await;
    refused.problem(415, "unsupported_type");
    let refused = put(&admin, &series, &file, "poster", b"<html>").await;
    refused.problem(415, "unsupported_type");
    let refused = put(&admin, &series, &file, "poster", &PHOTO[..5000]).await;
    refused.problem(400, "bad_request");
    let large = [PHOTO, &vec![0; 1 << 20]].concat();
    let refused = put(&admin, &series, &file, "poster", &large).await;
    refused.problem(413, "too_large");
    let refused = put(&admin, &series, &file, "portrait", PHOTO).await;
    refused.problem(404, "not_found");
    let refused = put(&admin, &series, &series, "poster", PHOTO).await;
    refused.problem(404, "not_found");
    let many: Vec<Value> = clips(1).into_iter().cycle().take(5_001).collect();
    let at = format!("/api/series/{series}/pictures/lacking");
    let refused = admin.post(&at, &contents(&many)).await;
    refused.problem(400, "bad_request");
    assert_eq!(
        lacking(&admin, &series, &clips(1)).await[0]["lacks_poster"],
        true
    );
}

#[tokio::test]
async fn a_picture_is_seen_by_those_who_may_see_the_file() {
    let (test, admin, series) = start().await;
    send(&admin, &series, "QUAY 1", &clips(1)).await;
    let file = ids(&admin, &series).await.remove(0);
    let sent = put(&admin, &series, &file, "poster", PHOTO).await;
    let link = sent.expect(200).value()["poster"].clone();
    let link = link.as_str().expect("a link").to_owned();
    for role in Role::ALL {
        use waybill_domain::perms::{Action, may};
        let person = test.person(&format!("{role:?}"), &series, &[role]).await;
        let sees = may(&[role], false, Action::ViewFootage);
        person.get(&link).await.expect(if sees { 200 } else { 403 });
        let tag = link.rsplit('/').next().expect("a hash");
        let tag = [("if-none-match", &*format!("\"{tag}\""))];
        let known = person.send("GET", &link, &tag, b"").await;
        known.expect(if sees { 304 } else { 403 });
        let sends = may(&[role], false, Action::SendScan);
        let sent = put(&person, &series, &file, "poster", PHOTO).await;
        sent.expect(if sends { 200 } else { 403 });
    }
    let outside = test.person("Col", &series, &[]).await;
    outside.get(&link).await.expect(404);
    // the same hash in a series that has no such file
    let other = test.series(&admin, "Other").await;
    admin.get(&link.replace(&series, &other)).await.expect(404);

    // in a cut: who sees cuts and no footage is shown none
    let made = Ids::make(&admin, &series).await;
    let cut = "TITLE: EP01\nFCM: NON-DROP FRAME\n\n001  A001     V     C        \
               10:00:00:00 10:00:01:00 10:00:00:00 10:00:01:00\n* FROM CLIP NAME: A001C001.mov\n";
    let at = format!(
        "episodes/{}/cuts?name=EP01_CUT_290101_v1&rate=25&format=edl",
        made.episode
    );
    let sent = admin
        .send(
            "POST",
            &made.path(&at),
            &[("content-type", "text/plain")],
            cut.as_bytes(),
        )
        .await;
    let events = made.path(&format!("cuts/{}/events", sent.expect(201).id()));
    let seen = admin.get(&events).await.expect(200).value();
    assert_eq!(seen["items"][0]["match"]["poster"], link, "{seen}");
    let music = test.person("Mo", &series, &[Role::MusicSupervisor]).await;
    let seen = music.get(&events).await.expect(200).value();
    let matched = &seen["items"][0]["match"];
    assert_eq!(
        (&matched["file_id"], &matched["poster"]),
        (&json!(file), &Value::Null)
    );
}
