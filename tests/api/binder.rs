//! The release and licence binder over HTTP, with scans as people send them: what general tools made of forms and
//! photographs, one under a password, one that broke off. Read back by qpdf and poppler.

use std::path::Path;
use std::process::Command;

use serde_json::{Value, json};
use waybill_tests::app::TestApp;
use waybill_tests::http::Client;

use crate::api::samples::Ids;

/// One import, in picture.
const CUT: &str = "TITLE: EP01\nFCM: NON-DROP FRAME\n\n\
001  AX       V     C        00:00:10:00 00:00:22:00 10:00:00:00 10:00:12:00\n* FROM CLIP NAME: NEWSREEL_1934.mov\n";

/// Name, type, and pages that the binder takes from it.
const SCANS: [(&str, &str, usize); 6] = [
    ("form.pdf", "application/pdf", 2),
    ("licence.pdf", "application/pdf", 2),
    ("photo.jpg", "image/jpeg", 1),
    ("photo.png", "image/png", 1),
    ("locked.pdf", "application/pdf", 0),
    ("broken.pdf", "application/pdf", 0),
];

/// Uploads a scan and enters a licence with it; the scan's hash.
async fn licence_with(admin: &Client, ids: &Ids, (name, kind, _): (&str, &str, usize)) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("api/binder");
    let bytes = std::fs::read(folder.join(name)).expect("a sample");
    let path = format!("{}?name={name}", ids.path("documents"));
    let sent = admin
        .send("PUT", &path, &[("content-type", kind)], &bytes)
        .await;
    let id = sent.expect(200).id();
    let mut body = ids.body("licences", 1);
    body["licensor"] = json!(format!("Owner of {name}"));
    body["document_id"] = json!(id);
    admin.post(&ids.path("licences"), &body).await.expect(201);
    id
}

/// What is half-written is refused before it is kept, with what to do.
async fn half_is_refused(admin: &Client, ids: &Ids) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("api/binder");
    let bytes = std::fs::read(folder.join("licence.pdf")).expect("a sample");
    let path = format!("{}?name=half.pdf", ids.path("documents"));
    let kind = [("content-type", "application/pdf")];
    let refused = admin.send("PUT", &path, &kind, &bytes[..3000]).await;
    let words = refused.problem(400, "bad_request").to_string();
    assert!(words.contains("half-written"), "{words}");
}

fn said(program: &str, options: &[&str]) -> String {
    let output = Command::new(program)
        .args(options)
        .output()
        .unwrap_or_else(|error| panic!("{program}: {error} (tests/run installs it)"));
    let (out, err) = (
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr),
    );
    assert!(
        output.status.success(),
        "{program} {options:?}: {out} {err}"
    );
    out.into_owned()
}

/// ISO 32000-1 12.3.3 (outlines) as qpdf reads it; SHA-256 of each scan as the upload answered it.
#[tokio::test]
async fn real_scans_are_bound_with_their_hashes() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let series = test.series(&admin, "Harbour Season").await;
    let ids = Ids::make(&admin, &series).await;
    let episode = format!("/api/series/{series}/episodes/{}", ids.episode);
    let cut = format!("{episode}/cuts?name=EP01_CUT_290101_v1&rate=25&format=edl");
    let plain = [("content-type", "text/plain")];
    admin
        .send("POST", &cut, &plain, CUT.as_bytes())
        .await
        .expect(201);
    half_is_refused(&admin, &ids).await;
    let mut hashes = Vec::new();
    for scan in SCANS {
        hashes.push(licence_with(&admin, &ids, scan).await);
    }
    let made = admin
        .get(&format!("{episode}/binder.pdf"))
        .await
        .expect(200);

    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("binder.pdf");
    std::fs::write(&file, &made.body).expect("written");
    let file = file.to_str().expect("a plain path");
    said("qpdf", &["--check", file]);
    let text = said("pdftotext", &["-layout", file, "-"]);
    for ((name, ..), hash) in SCANS.iter().zip(&hashes) {
        let text: String = text.chars().filter(|c| !c.is_whitespace()).collect();
        assert!(text.contains(hash.as_str()), "the hash of {name}");
        assert!(
            text.contains(&format!("Ownerof{name}")),
            "{name} in the contents"
        );
    }
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "Scan “locked.pdf” is encrypted",
        "scan “broken.pdf” can’t be read",
    ] {
        assert!(
            words.to_lowercase().contains(&part.to_lowercase()),
            "{part} in {words}"
        );
    }
    assert!(words.contains("Appearance release"), "the form's own pages");

    // Contents on one page, a cover for each paper (one licence has no scan), then the scans' pages.
    let papers = SCANS.len() + 1;
    let scanned: usize = SCANS.iter().map(|(_, _, pages)| pages).sum();
    let pages = said("qpdf", &["--show-npages", file]);
    assert_eq!(pages.trim(), (1 + papers + scanned).to_string());
    let outlines: Value =
        serde_json::from_str(&said("qpdf", &["--json", "--json-key=outlines", file]))
            .expect("JSON");
    let marks = outlines["outlines"].as_array().expect("bookmarks");
    assert_eq!(marks.len(), 1 + papers);
    assert_eq!(marks[0]["title"], "Contents");
    // Each bookmark leads to its cover: the page after those before it.
    let mut page = 2;
    for mark in &marks[1..] {
        let title = mark["title"].as_str().expect("a title");
        assert_eq!(mark["destpageposfrom1"], page, "{title}");
        let scan = SCANS.iter().find(|(name, ..)| title.ends_with(name));
        page += 1 + scan.map_or(0, |(_, _, pages)| *pages);
    }
}
