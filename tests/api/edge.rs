//! The edge: who is let in at all, forged calls, and faults that the framework would word itself.

use serde_json::{Value, json};
use waybill_domain::perms::Role;
use waybill_server::http::router;
use waybill_tests::app::TestApp;
use waybill_tests::http::Reply;

use crate::api::samples::Ids;

/// Routes that need no sign-in.
const OPEN: [(&str, &str); 6] = [
    ("get", "/api/health"),
    ("post", "/api/setup"),
    ("post", "/api/sign-in"),
    ("post", "/api/password-resets"),
    ("post", "/api/password-resets/use"),
    ("post", "/api/invitations/accept"),
];

/// Every documented method and path, with `series` in the place of the series and a fresh id elsewhere.
fn routes(series: &str) -> Vec<(String, String, String)> {
    let document = serde_json::to_value(router::document()).expect("JSON");
    let mut routes = Vec::new();
    for (path, item) in document["paths"].as_object().expect("paths") {
        for method in item.as_object().expect("methods").keys() {
            let mut filled = path.replace("{series}", series);
            while let Some((before, rest)) = filled.split_once('{') {
                let (name, after) = rest.split_once('}').expect("closed");
                let value = match name {
                    "n" | "position" => "1".to_owned(),
                    _ => uuid::Uuid::now_v7().to_string(),
                };
                filled = format!("{before}{value}{after}");
            }
            routes.push((method.clone(), path.clone(), filled));
        }
    }
    routes
}

#[tokio::test]
async fn every_route_is_there_and_asks_who_you_are() {
    let test = TestApp::start().await;
    let stranger = test.stranger();
    let nowhere = uuid::Uuid::now_v7().to_string();
    let mut asked = 0;
    for (method, template, path) in routes(&nowhere) {
        let open = OPEN.contains(&(method.as_str(), template.as_str()));
        let reply = stranger
            .json(
                &method.to_uppercase(),
                &path,
                &[("if-match", "\"1\"")],
                &json!({}),
            )
            .await;
        if open {
            assert!(
                ![401, 404, 405].contains(&reply.status),
                "{method} {template}: {}",
                reply.text()
            );
        } else {
            reply.problem(401, "unauthenticated");
        }
        asked += 1;
    }
    assert!(asked > 90, "only {asked} routes");
}

/// A member of one series is a stranger to every other: each reading route says 404, whatever it reads.
#[tokio::test]
async fn another_series_does_not_exist_for_you() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let (own, other) = (
        test.series(&admin, "Harbour Season").await,
        test.series(&admin, "Other").await,
    );
    let member = test
        .person("Mo Member", &own, &[Role::SeriesProducer])
        .await;
    let foreign = test.foreign_admin().await;
    for (method, template, path) in routes(&other) {
        if method != "get" || !template.starts_with("/api/series/{series}") {
            continue;
        }
        for client in [&member, &foreign] {
            client.get(&path).await.problem(404, "not_found");
        }
    }
}

#[tokio::test]
async fn a_change_with_a_cookie_must_come_from_our_pages() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let body = waybill_tests::app::series_body("Harbour Season");
    let bare = admin.without("x-waybill");
    bare.post("/api/series", &body)
        .await
        .problem(403, "not_allowed");
    for (name, value) in [
        ("sec-fetch-site", "cross-site"),
        ("origin", "https://elsewhere.example"),
    ] {
        let forged = admin.with(name, value).post("/api/series", &body).await;
        forged.problem(403, "not_allowed");
    }
    let none = admin.get("/api/series").await.expect(200).value();
    assert_eq!(none["items"], json!([]));
    // Reading needs no header; a token needs none either.
    bare.get("/api/series").await.expect(200);
    let made = admin
        .post("/api/me/device-tokens", &json!({"label": "cart laptop"}))
        .await;
    let token = made.expect(201).value()["token"]
        .as_str()
        .expect("a token")
        .to_owned();
    let device = test
        .stranger()
        .without("x-waybill")
        .with("authorization", &format!("Bearer {token}"));
    device.post("/api/series", &body).await.expect(201);
}

/// actix's own answers would be plain text.
#[tokio::test]
async fn faults_of_the_framework_are_problems() {
    let test = TestApp::start().await;
    let admin = test.admin().await;
    let ids = Ids::make(&admin, &test.series(&admin, "Harbour Season").await).await;
    let places = ids.path("places");
    let json_type = [("content-type", "application/json")];
    let send = async |method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]| -> Reply {
        admin.send(method, path, headers, body).await
    };
    send("POST", &places, &json_type, b"{\"name\": ")
        .await
        .problem(400, "bad_request");
    send("POST", &places, &json_type, b"{\"name\": 7}")
        .await
        .problem(400, "bad_request");
    send(
        "POST",
        &places,
        &json_type,
        b"{\"name\": \"Slip\", \"colour\": 1}",
    )
    .await
    .problem(400, "bad_request");
    send("POST", &places, &[("content-type", "text/plain")], b"{}")
        .await
        .problem(415, "unsupported_type");
    send("POST", &places, &json_type, &vec![b' '; 3 << 20])
        .await
        .problem(413, "too_large");
    send("GET", "/api/nothing-here", &[], b"")
        .await
        .problem(404, "not_found");
    send("GET", &format!("{places}/not-an-id"), &[], b"")
        .await
        .problem(404, "not_found");
    send("GET", &format!("{places}?colour=red"), &[], b"")
        .await
        .problem(400, "bad_request");
    send("GET", &format!("{places}?q=%00"), &[], b"")
        .await
        .problem(400, "bad_request");
    let reply = send("PATCH", &places, &json_type, b"{}").await;
    assert_eq!(reply.header("allow"), Some("GET, POST"));
    reply.problem(405, "method_not_allowed");
}

#[tokio::test]
async fn answers_carry_the_headers_that_keep_a_browser_safe() {
    let test = TestApp::start().await;
    let reply = test.stranger().get("/api/health").await.expect(200);
    for (name, part) in [
        ("content-security-policy", "frame-ancestors 'none'"),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cache-control", "no-store"),
    ] {
        let value = reply.header(name).unwrap_or_default();
        assert!(value.contains(part), "{name}: {value}");
    }
    assert!(reply.header("x-request-id").is_some());
    let served: Value = test
        .stranger()
        .get("/api/openapi.json")
        .await
        .expect(200)
        .value();
    assert_eq!(
        served,
        serde_json::to_value(router::document()).expect("JSON")
    );
    test.stranger().get("/api/docs").await.expect(200);
}
