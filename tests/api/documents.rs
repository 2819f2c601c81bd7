//! Documents in and out: checked, kept by their content, served so that nothing in them runs.

use std::path::Path;

use serde_json::Value;
use waybill_domain::perms::Role;
use waybill_tests::app::TestApp;
use waybill_tests::http::{Client, Reply};

use crate::api::samples::Ids;

const PDF: &[u8] =
    b"%PDF-1.7\n1 0 obj\n<< /Type /Catalog >>\nendobj\ntrailer\n<< /Root 1 0 R >>\n%%EOF\n";
const PNG: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55\0\0\0\0IEND\xae\x42\x60\x82";
/// Of the bytes of `PDF`, by Python's hashlib.
const PDF_SHA256: &str = "4f0721b2855d0ba9449d707e357a71b818155573a87bd0b3bb57f66627230175";

async fn upload(client: &Client, ids: &Ids, name: &str, kind: &str, body: &[u8]) -> Reply {
    let path = format!("{}?name={name}", ids.path("documents"));
    client
        .send("PUT", &path, &[("content-type", kind)], body)
        .await
}

/// Files below a folder, whatever they are called.
fn files_below(folder: &Path) -> usize {
    std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| match entry.path() {
            path if path.is_dir() => files_below(&path),
            _ => 1,
        })
        .sum()
}

async fn rows(test: &TestApp) -> i64 {
    let conn = test.db.connect().await;
    let row = conn.query_one("select count(*) from documents", &[]).await;
    row.expect("a count").get(0)
}

async fn season(test: &TestApp) -> (Client, Ids) {
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    (admin, ids)
}

#[tokio::test]
async fn a_scan_comes_back_as_it_was_sent() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    let name = "%C3%9Cbung%20%221%22%3B%0D%0A.pdf";
    let kept = upload(&admin, &ids, name, "application/pdf", PDF)
        .await
        .expect(200)
        .value();
    assert_eq!(kept["id"], PDF_SHA256);
    assert_eq!(kept["size"], PDF.len());
    assert_eq!(kept["media_type"], "application/pdf");
    assert_eq!(kept["name"], "Übung \"1\";\r\n.pdf");
    let again = upload(&admin, &ids, "other.pdf", "application/pdf", PDF)
        .await
        .expect(200)
        .value();
    assert_eq!(again, kept, "the same content is one document");
    assert_eq!((rows(&test).await, files_below(test.var())), (1, 1));
    let back = admin
        .get(&format!("{}/{PDF_SHA256}", ids.path("documents")))
        .await
        .expect(200);
    assert_eq!(back.body, PDF);
    assert_eq!(back.header("content-type"), Some("application/pdf"));
    assert_eq!(
        back.header("content-security-policy"),
        Some("sandbox; default-src 'none'")
    );
    assert_eq!(back.header("x-content-type-options"), Some("nosniff"));
    assert_eq!(
        back.header("content-disposition"),
        Some(
            "attachment; filename=\"_bung _1_;__.pdf\"; filename*=UTF-8''%C3%9Cbung%20%221%22%3B%0D%0A.pdf"
        )
    );
    let mut release = ids.body("releases", 1);
    release["document_id"] = PDF_SHA256.into();
    admin
        .post(&ids.path("releases"), &release)
        .await
        .expect(201);
    let trail = admin
        .get(&format!("/api/series/{}/audit", ids.series))
        .await
        .expect(200)
        .value();
    let uploads = |line: &&Value| line["action"] == "uploaded";
    let lines = trail["items"].as_array().expect("items");
    assert_eq!(lines.iter().filter(uploads).count(), 1);
}

/// V5: whatever is wrong, the answer says so and nothing stays: no row, no file.
#[tokio::test]
async fn what_is_not_a_whole_paper_leaves_nothing_behind() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    let polyglot = [
        b"%PDF-1.7\n<script>alert(1)</script>\n".as_slice(),
        b"%%EOF",
    ]
    .concat();
    for (name, kind, body, status, code) in [
        (
            "a.pdf",
            "application/pdf",
            b"".as_slice(),
            400,
            "bad_request",
        ),
        (
            "a.pdf",
            "application/pdf",
            b"<!doctype html><html>%%EOF",
            415,
            "unsupported_type",
        ),
        (
            "a.pdf",
            "application/pdf",
            &polyglot,
            415,
            "unsupported_type",
        ),
        ("a.pdf", "application/pdf", &PDF[..40], 400, "bad_request"),
        ("a.png", "image/png", PDF, 415, "unsupported_type"),
        ("a.pdf", "image/png", PNG, 415, "unsupported_type"),
        ("a.png", "application/pdf", PNG, 415, "unsupported_type"),
        ("a.html", "text/html", b"<html>", 415, "unsupported_type"),
        ("a", "application/pdf", PDF, 415, "unsupported_type"),
        ("%00.pdf", "application/pdf", PDF, 422, "invalid"),
        ("", "application/pdf", PDF, 422, "invalid"),
    ] {
        let reply = upload(&admin, &ids, name, kind, body).await;
        assert_eq!(reply.status, status, "{name} {kind}: {}", reply.text());
        reply.problem(status, code);
    }
    let path = format!("{}?name=a.pdf", ids.path("documents"));
    let pdf = [("content-type", "application/pdf")];
    // Announced as too large: refused before the body is read.
    let large = admin
        .send_announced("PUT", &path, &pdf, b"%PDF-", Some((25 << 20) + 1))
        .await;
    large.problem(413, "too_large");
    let unsized_body = admin.send_announced("PUT", &path, &pdf, b"", None).await;
    unsized_body.problem(400, "bad_request");
    assert_eq!((rows(&test).await, files_below(test.var())), (0, 0));
}

/// A connection that goes away in the middle.
#[tokio::test]
async fn a_broken_upload_leaves_nothing_behind() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    let path = format!("{}?name=a.pdf", ids.path("documents"));
    let request = format!(
        "PUT {path} HTTP/1.1\r\nhost: localhost\r\ncookie: {}\r\nx-waybill: 1\r\ncontent-type: application/pdf\r\n\
         content-length: {}\r\n\r\n",
        admin
            .headers
            .iter()
            .find(|(name, _)| name == "cookie")
            .expect("a cookie")
            .1,
        PDF.len()
    );
    for _ in 0..5 {
        use tokio::io::AsyncWriteExt as _;
        let mut stream = tokio::net::TcpStream::connect(test.address)
            .await
            .expect("a connection");
        stream
            .write_all(request.as_bytes())
            .await
            .expect("the head");
        stream.write_all(&PDF[..50]).await.expect("half of it");
        drop(stream);
    }
    tokio::time::sleep(std::time::Duration::from_millis(300)).await;
    assert_eq!((rows(&test).await, files_below(test.var())), (0, 0));
    // The places for uploads are free again.
    upload(&admin, &ids, "a.pdf", "application/pdf", PDF)
        .await
        .expect(200);
}

#[tokio::test]
async fn scans_are_for_those_who_work_with_their_papers() {
    let test = TestApp::start().await;
    let (admin, ids) = season(&test).await;
    let mut people = Vec::new();
    for role in Role::ALL {
        people.push((role, test.person("Somebody", &ids.series, &[role]).await));
    }
    for (role, client) in &people {
        let sends = matches!(
            role,
            Role::SeriesProducer
                | Role::Counsel
                | Role::AssociateProducer
                | Role::Coordinator
                | Role::MusicSupervisor
        );
        let reply = upload(client, &ids, "a.pdf", "application/pdf", PDF).await;
        assert_eq!(
            reply.status,
            if sends { 200 } else { 403 },
            "{role:?}: {}",
            reply.text()
        );
    }
    let mut release = ids.body("releases", 1);
    release["document_id"] = PDF_SHA256.into();
    admin
        .post(&ids.path("releases"), &release)
        .await
        .expect(201);
    let one = format!("{}/{PDF_SHA256}", ids.path("documents"));
    for (role, client) in &people {
        // The scan of a release is not for who sees only licences.
        let reads = matches!(
            role,
            Role::SeriesProducer
                | Role::Counsel
                | Role::AssociateProducer
                | Role::Coordinator
                | Role::DataLead
        );
        assert_eq!(
            client.get(&one).await.status,
            if reads { 200 } else { 403 },
            "{role:?}"
        );
    }
    let other = test.series(&admin, "Other").await;
    let elsewhere = admin
        .get(&format!("/api/series/{other}/documents/{PDF_SHA256}"))
        .await;
    elsewhere.problem(404, "not_found");
    test.foreign_admin()
        .await
        .get(&one)
        .await
        .problem(404, "not_found");
    for id in ["..%2F..%2Fetc%2Fpasswd", &"0".repeat(64)] {
        let reply = admin.get(&format!("{}/{id}", ids.path("documents"))).await;
        reply.problem(404, "not_found");
    }
}
