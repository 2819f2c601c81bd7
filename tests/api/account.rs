//! Getting in: set-up, sign-in and its brake, resets, sessions and device tokens.

use chrono::TimeDelta;
use serde_json::json;
use waybill_server::ops::sign_in::setup_token;
use waybill_tests::app::TestApp;
use waybill_tests::http::{Client, Reply};

pub const EMAIL: &str = "ada@breakwater.example";
pub const PASSWORD: &str = "slipway lantern copper heron";

/// The client that holds the session a reply gave.
#[track_caller]
pub fn signed_in(test: &TestApp, reply: &Reply) -> Client {
    let cookie = reply.header("set-cookie").expect("a cookie");
    for part in ["HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    assert!(!cookie.contains("Domain"), "{cookie}");
    let pair = cookie.split(';').next().expect("name and value");
    test.stranger().with("cookie", pair)
}

async fn set_up(test: &TestApp) -> Client {
    let token = setup_token(&test.app)
        .await
        .expect("a token")
        .expect("nobody can sign in");
    let body = json!({
        "token": token, "organisation": "Breakwater Films", "name": "Ada Admin", "email": EMAIL, "password": PASSWORD
    });
    let reply = test.stranger().post("/api/setup", &body).await.expect(201);
    let admin = signed_in(test, &reply);
    let again = test.stranger().post("/api/setup", &body).await;
    again.problem(403, "not_allowed");
    assert!(setup_token(&test.app).await.expect("an answer").is_none());
    admin
}

async fn sign_in(client: &Client, password: &str) -> Reply {
    let body = json!({"email": EMAIL, "password": password});
    client.post("/api/sign-in", &body).await
}

#[tokio::test]
async fn the_set_up_link_works_once() {
    let test = TestApp::bare().await;
    let health = test.stranger().get("/api/health").await.expect(200).value();
    assert_eq!(health["needs_setup"], true);
    let old = setup_token(&test.app)
        .await
        .expect("a token")
        .expect("nobody can sign in");
    let weak = json!({
        "token": old, "organisation": "", "name": "", "email": "nowhere", "password": "short"
    });
    let problem = test
        .stranger()
        .post("/api/setup", &weak)
        .await
        .problem(422, "invalid");
    assert_eq!(
        problem["errors"].as_array().expect("errors").len(),
        4,
        "{problem}"
    );
    let admin = set_up(&test).await;
    let me = admin.get("/api/me").await.expect(200).value();
    assert_eq!(
        (&me["user"]["is_admin"], &me["organisation"]),
        (&json!(true), &json!("Breakwater Films"))
    );
    let health = test.stranger().get("/api/health").await.expect(200).value();
    assert_eq!(health["needs_setup"], false);
}

/// A wrong address and a wrong password read the same; after a few failures the next try must wait, and waiting helps.
#[tokio::test]
async fn guessing_is_slowed() {
    let test = TestApp::bare().await;
    set_up(&test).await;
    let stranger = test.stranger();
    let wrong = sign_in(&stranger, "wrong lantern copper heron")
        .await
        .problem(400, "bad_request");
    let unknown = json!({"email": "nobody@breakwater.example", "password": PASSWORD});
    let unknown = stranger
        .post("/api/sign-in", &unknown)
        .await
        .problem(400, "bad_request");
    assert_eq!(wrong["detail"], unknown["detail"]);
    let mut tries = 1;
    let wait = loop {
        let reply = sign_in(&stranger, "wrong lantern copper heron").await;
        tries += 1;
        if reply.status == 429 {
            let wait: i64 = reply
                .header("retry-after")
                .expect("a wait")
                .parse()
                .expect("seconds");
            reply.problem(429, "rate_limited");
            break wait;
        }
        assert!(tries < 15, "never slowed");
    };
    assert!((1..=3600).contains(&wait), "{wait}");
    // The right password has to wait too, but is not locked out for good.
    sign_in(&stranger, PASSWORD)
        .await
        .problem(429, "rate_limited");
    test.clock.advance(TimeDelta::seconds(wait));
    let reply = sign_in(&stranger, PASSWORD).await.expect(200);
    signed_in(&test, &reply).get("/api/me").await.expect(200);
}

#[tokio::test]
async fn a_session_ends_at_once_and_of_itself() {
    let test = TestApp::bare().await;
    let first = set_up(&test).await;
    let reply = sign_in(&test.stranger(), PASSWORD).await.expect(200);
    let second = signed_in(&test, &reply);
    let list = first.get("/api/me/sign-ins").await.expect(200).value();
    let items = list["items"].as_array().expect("items");
    assert_eq!(items.len(), 2);
    let other = items
        .iter()
        .find(|item| item["id"] != list["current"])
        .expect("the second");
    let path = format!("/api/me/sign-ins/{}", other["id"].as_str().expect("an id"));
    first.send("DELETE", &path, &[], b"").await.expect(204);
    second.get("/api/me").await.problem(401, "unauthenticated");
    first
        .send("DELETE", &path, &[], b"")
        .await
        .problem(404, "not_found");
    first.get("/api/me").await.expect(200);
    first
        .send("POST", "/api/sign-out", &[], b"")
        .await
        .expect(204);
    first.get("/api/me").await.problem(401, "unauthenticated");
    let reply = sign_in(&test.stranger(), PASSWORD).await.expect(200);
    let third = signed_in(&test, &reply);
    test.clock.advance(TimeDelta::days(8));
    third.get("/api/me").await.problem(401, "unauthenticated");
}

#[tokio::test]
async fn a_device_token_is_withdrawn_at_once() {
    let test = TestApp::bare().await;
    let admin = set_up(&test).await;
    let made = admin
        .post("/api/me/device-tokens", &json!({"label": "cart laptop"}))
        .await
        .expect(201)
        .value();
    let token = made["token"].as_str().expect("a token").to_owned();
    let device = test
        .stranger()
        .with("authorization", &format!("Bearer {token}"));
    device.get("/api/me").await.expect(200);
    let list = admin.get("/api/me/device-tokens").await.expect(200).text();
    assert!(!list.contains(&token), "its text is shown once");
    // Another algorithm, another key, a cut-off signature: no way in.
    let (head, tail) = token.rsplit_once('.').expect("three parts");
    let claims = head.split_once('.').expect("two parts").1;
    for forged in [
        format!("{head}."),
        format!("{head}.{}", tail.chars().rev().collect::<String>()),
        // {"alg":"none","typ":"JWT"}
        format!("eyJhbGciOiJub25lIiwidHlwIjoiSldUIn0.{claims}."),
        "x".repeat(10_000),
    ] {
        let forger = test
            .stranger()
            .with("authorization", &format!("Bearer {forged}"));
        forger.get("/api/me").await.problem(401, "unauthenticated");
    }
    let id = made["device_token"]["id"].as_str().expect("an id");
    let path = format!("/api/me/device-tokens/{id}");
    let colleague = test.foreign_admin().await;
    colleague
        .send("DELETE", &path, &[], b"")
        .await
        .problem(404, "not_found");
    device.get("/api/me").await.expect(200);
    admin.send("DELETE", &path, &[], b"").await.expect(204);
    device.get("/api/me").await.problem(401, "unauthenticated");
}

#[tokio::test]
async fn a_forgotten_password_is_replaced_by_mail_once() {
    let test = TestApp::bare().await;
    let admin = set_up(&test).await;
    let stranger = test.stranger();
    for email in [EMAIL, "nobody@breakwater.example", "not an address"] {
        stranger
            .post("/api/password-resets", &json!({"email": email}))
            .await
            .expect(202);
    }
    let mails = test.mails().await;
    assert_eq!(mails.len(), 1, "{mails:?}");
    assert_eq!(
        (mails[0].kind.as_str(), mails[0].recipient.as_str()),
        ("password_reset", EMAIL)
    );
    assert!(!mails[0].text.contains(PASSWORD) && mails[0].html.contains("/reset#"));
    let token = mails[0].secret();
    let used = |password: &str| json!({"token": token, "password": password});
    stranger
        .post("/api/password-resets/use", &used("short"))
        .await
        .problem(422, "invalid");
    let fresh = "granite pulley ninety herons";
    stranger
        .post("/api/password-resets/use", &used(fresh))
        .await
        .expect(204);
    stranger
        .post("/api/password-resets/use", &used(PASSWORD))
        .await
        .problem(403, "not_allowed");
    // Whoever was signed in is out, and the old password is no good any more.
    admin.get("/api/me").await.problem(401, "unauthenticated");
    sign_in(&stranger, PASSWORD)
        .await
        .problem(400, "bad_request");
    sign_in(&stranger, fresh).await.expect(200);
    stranger
        .post("/api/password-resets", &json!({"email": EMAIL}))
        .await
        .expect(202);
    let late = test.mails().await[1].secret();
    test.clock.advance(TimeDelta::days(2));
    let late = json!({"token": late, "password": PASSWORD});
    stranger
        .post("/api/password-resets/use", &late)
        .await
        .problem(403, "not_allowed");
}

#[tokio::test]
async fn changing_a_password_ends_all_other_ways_in() {
    let test = TestApp::bare().await;
    let first = set_up(&test).await;
    let reply = sign_in(&test.stranger(), PASSWORD).await.expect(200);
    let second = signed_in(&test, &reply);
    let change = |old: &str, new: &str| json!({"old": old, "new": new});
    let path = "/api/me/password";
    let wrong = first
        .json(
            "PUT",
            path,
            &[],
            &change("wrong", "granite pulley ninety herons"),
        )
        .await;
    assert_eq!(
        wrong.problem(422, "invalid")["errors"][0]["pointer"],
        "/old"
    );
    let weak = first
        .json("PUT", path, &[], &change(PASSWORD, "aaaaaaaaaaaaaaaaaaaa"))
        .await;
    assert_eq!(weak.problem(422, "invalid")["errors"][0]["pointer"], "/new");
    second.get("/api/me").await.expect(200);
    let done = first
        .json(
            "PUT",
            path,
            &[],
            &change(PASSWORD, "granite pulley ninety herons"),
        )
        .await;
    done.expect(204);
    first.get("/api/me").await.expect(200);
    second.get("/api/me").await.problem(401, "unauthenticated");
}
