//! Sending to a server that answers as the contract says, sometimes late, sometimes not at all.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::thread;

use serde_json::{Value, json};
use waybill_domain::manifest::{FileEntry, chunk_digest, read_chunk, scan_digest};

use crate::support::{Ended, Scratch};

const SERIES: &str = "0198c0de-0000-7000-8000-000000000001";

/// A request as it came.
struct Asked {
    method: String,
    path: String,
    headers: BTreeMap<String, String>,
    body: Vec<u8>,
}

/// What a server remembers of one scan.
#[derive(Default)]
pub struct Scans {
    pub start: Value,
    pub chunks: BTreeMap<u32, (String, Vec<FileEntry>)>,
    pub complete: bool,
    /// Answers to give before the true ones: a status, or 0 for a dropped connection.
    trouble: Vec<u16>,
    requests: Vec<String>,
}

pub struct Server {
    pub url: String,
    pub scans: Arc<Mutex<Scans>>,
}

impl Server {
    pub fn start() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let url = format!("http://{}", listener.local_addr().expect("an address"));
        let scans = Arc::new(Mutex::new(Scans::default()));
        let shared = Arc::clone(&scans);
        thread::spawn(move || {
            for stream in listener.incoming() {
                serve(
                    stream.expect("a connection"),
                    &mut shared.lock().expect("no panic"),
                );
            }
        });
        Self { url, scans }
    }

    fn trouble(&self, answers: &[u16]) {
        self.scans.lock().expect("no panic").trouble = answers.to_vec();
    }
}

fn read_request(stream: &TcpStream) -> Option<Asked> {
    let mut reader = BufReader::new(stream);
    let mut line = String::new();
    reader.read_line(&mut line).ok()?;
    let mut words = line.split_whitespace().map(str::to_owned);
    let (method, path) = (words.next()?, words.next()?);
    let mut headers = BTreeMap::new();
    loop {
        let mut line = String::new();
        reader.read_line(&mut line).ok()?;
        let Some((name, value)) = line.split_once(':') else {
            break;
        };
        headers.insert(name.to_ascii_lowercase(), value.trim().to_owned());
    }
    let length = headers
        .get("content-length")
        .and_then(|n| n.parse().ok())
        .unwrap_or(0);
    let mut body = vec![0; length];
    reader.read_exact(&mut body).ok()?;
    Some(Asked {
        method,
        path,
        headers,
        body,
    })
}

fn serve(mut stream: TcpStream, scans: &mut Scans) {
    let Some(asked) = read_request(&stream) else {
        return;
    };
    scans
        .requests
        .push(format!("{} {}", asked.method, asked.path));
    let (status, body) = match scans.trouble.pop() {
        Some(0) => return,
        Some(status) => (status, json!({ "title": "Too busy", "status": status })),
        None => answer(&asked, scans),
    };
    let text = body.to_string();
    let head = format!(
        "HTTP/1.1 {status} X\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\
         Set-Cookie: waybill=session; HttpOnly; Path=/\r\nConnection: close\r\n\r\n",
        text.len()
    );
    // the program may have been killed meanwhile
    let _ = stream.write_all([head.as_bytes(), text.as_bytes()].concat().as_slice());
}

/// Signing in without a token: as a page would, with a header that other sites cannot send.
fn sign_in(asked: &Asked) -> Option<(u16, Value)> {
    let has = |name: &str, value: &str| asked.headers.get(name).is_some_and(|v| v == value);
    if asked.method != "POST" || !has("x-waybill", "1") {
        return None;
    }
    let body = || serde_json::from_slice::<Value>(&asked.body).expect("JSON");
    match asked.path.as_str() {
        "/api/sign-in" => {
            assert_eq!(
                body(),
                json!({ "email": "ada@example.org", "password": "oars and tides" })
            );
            Some((200, json!({ "name": "Ada Wren" })))
        }
        "/api/me/device-tokens" if has("cookie", "waybill=session") => {
            assert_eq!(body(), json!({ "label": "Ada's laptop" }));
            Some((201, json!({ "device_token": {}, "token": "sesame" })))
        }
        "/api/sign-out" => Some((204, Value::Null)),
        _ => None,
    }
}

fn answer(asked: &Asked, scans: &mut Scans) -> (u16, Value) {
    if let Some(answer) = sign_in(asked) {
        return answer;
    }
    if asked.headers.get("authorization").map(String::as_str) != Some("Bearer sesame") {
        let detail = "Sign in first.";
        return (
            401,
            json!({ "title": "Unauthorized", "detail": detail, "code": "unauthenticated" }),
        );
    }
    let path = asked.path.trim_start_matches("/api/");
    let (path, query) = path.split_once('?').unwrap_or((path, ""));
    let parts: Vec<&str> = path.split('/').collect();
    match (asked.method.as_str(), parts.as_slice()) {
        ("GET", ["me"]) => (200, json!({ "user": { "name": "Ada Wren" } })),
        ("GET", ["series"]) => {
            let one = json!({ "id": SERIES, "title": "Harbour Rowing" });
            (200, json!({ "items": [one], "next": null }))
        }
        ("GET", ["series", SERIES]) => (200, json!({ "roll_pattern": "{card}_{date:YYMMDD}" })),
        ("GET", ["series", SERIES, "episodes"]) => (
            200,
            json!({ "items": [{ "id": "e2", "number": 2, "title": "Ebb" }], "next": null }),
        ),
        ("POST", ["series", SERIES, "episodes", "e2", "cuts"]) => {
            assert!(query.contains("name=rough"), "{query}");
            (
                201,
                json!({ "name": "rough", "counts": { "unknown": 1 }, "warnings": ["Mixed counts"] }),
            )
        }
        ("GET", ["series", SERIES, "episodes", "e2", "report.csv"]) => (200, json!("a,b")),
        ("POST", ["series", SERIES, "scans"]) => {
            scans.start = serde_json::from_slice(&asked.body).expect("JSON");
            let next = u32::try_from(scans.chunks.len()).expect("few");
            (
                201,
                json!({ "id": scans.start["id"], "next_chunk": next, "complete": scans.complete }),
            )
        }
        ("PUT", ["series", SERIES, "scans", _, "chunks", number]) => {
            let digest = chunk_digest(&asked.body);
            assert_eq!(query, format!("digest={digest}"));
            let files = read_chunk(&asked.body).expect("entries");
            scans
                .chunks
                .insert(number.parse().expect("a number"), (digest, files));
            (204, Value::Null)
        }
        ("POST", ["series", SERIES, "scans", _, "complete"]) => {
            let body: Value = serde_json::from_slice(&asked.body).expect("JSON");
            let files: usize = scans.chunks.values().map(|(_, files)| files.len()).sum();
            let digest = scan_digest(scans.chunks.values().map(|(digest, _)| digest));
            assert_eq!(
                (&body["files"], &body["digest"]),
                (&json!(files), &json!(digest))
            );
            scans.complete = true;
            (
                200,
                json!({ "new_files": files, "known_files": 0, "new_copies": files, "cards_made": 1 }),
            )
        }
        _ => (
            404,
            json!({ "title": "Not found", "detail": format!("No {path}.") }),
        ),
    }
}

fn send(scratch: &Scratch, server: &Server, token: &str) -> Ended {
    let args = [
        "scan",
        "drive",
        "--drive",
        "H",
        "--to",
        &server.url,
        "--series",
        "harbour rowing",
    ];
    let mut command = scratch.command(&args);
    crate::support::ended(
        command
            .env("WAYBILL_TOKEN", token)
            .output()
            .expect("it starts"),
    )
}

#[test]
fn a_scan_arrives_in_chunks_and_again_in_none() {
    let (scratch, server) = (Scratch::new(), Server::start());
    for number in 0..2_500 {
        scratch.write(
            format!("A001_260314/{number:04}"),
            number.to_string().as_bytes(),
        );
    }
    let first = send(&scratch, &server, "sesame");
    assert_eq!(first.code, 0, "{}", first.err);
    assert!(
        first.out.contains("Sent: 2500 new to the series"),
        "{}",
        first.out
    );
    {
        let scans = server.scans.lock().expect("no panic");
        assert_eq!(
            scans
                .chunks
                .values()
                .map(|(_, f)| f.len())
                .collect::<Vec<_>>(),
            [2_000, 500]
        );
        assert_eq!(
            (&scans.start["drive"], &scans.start["root"]),
            (&json!("H"), &json!("drive"))
        );
        let (_, files) = &scans.chunks[&1];
        assert_eq!(
            files[0].roll.as_ref().map(|roll| roll.card.as_str()),
            Some("A001")
        );
    }
    let second = send(&scratch, &server, "sesame");
    assert!(
        second.out.contains("already has this scan"),
        "{}",
        second.out
    );
    let scans = server.scans.lock().expect("no panic");
    assert_eq!(
        scans
            .requests
            .iter()
            .filter(|r| r.starts_with("PUT"))
            .count(),
        2
    );
}

#[test]
fn a_busy_server_is_asked_again_and_chunks_that_it_has_are_not_sent() {
    let (scratch, server) = (Scratch::new(), Server::start());
    for number in 0..2_001 {
        scratch.write(format!("{number:04}"), b"");
    }
    // a dropped connection, then two refusals, spread over the first requests
    server.trouble(&[503, 0]);
    let sent = send(&scratch, &server, "sesame");
    assert_eq!(sent.code, 0, "{}", sent.err);
    // the server lost the second chunk before it was complete
    {
        let mut scans = server.scans.lock().expect("no panic");
        scans.complete = false;
        scans.chunks.remove(&1);
        scans.requests.clear();
    }
    assert_eq!(send(&scratch, &server, "sesame").code, 0);
    let scans = server.scans.lock().expect("no panic");
    let puts: Vec<_> = scans
        .requests
        .iter()
        .filter(|r| r.starts_with("PUT"))
        .collect();
    assert!(
        matches!(puts.as_slice(), [one] if one.contains("/chunks/1?")),
        "{puts:?}"
    );
}

#[test]
fn a_refusal_is_a_sentence_and_an_exit_code() {
    let (scratch, server) = (Scratch::new(), Server::start());
    scratch.write("a", b"a");
    let refused = send(&scratch, &server, "wrong");
    assert_eq!(refused.code, 77);
    assert_eq!(refused.err, "waybill: The server says: Sign in first.\n");
    let args = [
        "scan",
        "drive",
        "--drive",
        "H",
        "--to",
        &server.url,
        "--series",
        "x",
    ];
    let not_signed_in = scratch.run(&args);
    assert_eq!(not_signed_in.code, 77);
    assert!(
        not_signed_in.err.contains("waybill sign-in --to"),
        "{}",
        not_signed_in.err
    );
    let unknown = crate::support::ended(
        scratch
            .command(&args)
            .env("WAYBILL_TOKEN", "sesame")
            .output()
            .expect("it starts"),
    );
    assert_eq!(
        (unknown.code, unknown.err.as_str()),
        (66, "waybill: There is no series \"x\".\n")
    );
}

#[test]
fn cuts_are_sent_and_reports_are_fetched() {
    let (scratch, server) = (Scratch::new(), Server::start());
    std::fs::write(scratch.path("rough.edl"), "TITLE: X\n").expect("room");
    let place = ["--to", &server.url, "--series", SERIES];
    let run = |args: &[&str]| {
        let mut command = scratch.command(&[args, &place[..]].concat());
        crate::support::ended(
            command
                .env("WAYBILL_TOKEN", "sesame")
                .output()
                .expect("it starts"),
        )
    };
    let cut = run(&["cut", "send", "rough.edl", "--episode", "2"]);
    assert_eq!(cut.code, 0, "{}", cut.err);
    assert_eq!(
        (cut.out.as_str(), cut.err.as_str()),
        (
            "Cut \"rough\" is on the server: unknown 1.\n",
            "Mixed counts\n",
        )
    );
    let report = run(&["report", "ebb", "--format", "csv", "--out", "report.csv"]);
    assert_eq!(report.code, 0, "{}", report.err);
    assert_eq!(
        std::fs::read_to_string(scratch.path("report.csv")).expect("it is there"),
        "\"a,b\""
    );
}

#[cfg(unix)]
#[test]
fn a_kept_token_can_be_read_by_its_owner_only() {
    use std::os::unix::fs::PermissionsExt;
    use std::process::Stdio;
    let (scratch, server) = (Scratch::new(), Server::start());
    let file = scratch.path(".config/waybill/tokens.json");
    let sign_in = |more: &[&str], typed: &str| {
        let mut command = scratch.command(&[&["sign-in", "--to", &server.url], more].concat());
        command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let mut child = command.spawn().expect("it starts");
        child
            .stdin
            .take()
            .expect("piped")
            .write_all(typed.as_bytes())
            .expect("it reads");
        crate::support::ended(child.wait_with_output().expect("it was started"))
    };
    let refused = sign_in(&["--token-stdin"], "guess\n");
    assert_eq!(refused.code, 77, "{}", refused.err);
    assert!(!file.exists(), "a token that does not work is not kept");
    let signed_in = sign_in(
        &["--label", "Ada's laptop"],
        "ada@example.org\noars and tides\n",
    );
    assert_eq!(signed_in.code, 0, "{}", signed_in.err);
    assert!(
        signed_in.out.starts_with("Signed in as Ada Wren."),
        "{}",
        signed_in.out
    );
    let mode = std::fs::metadata(&file)
        .expect("it is kept")
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o600);
    std::fs::set_permissions(&file, PermissionsExt::from_mode(0o644)).expect("ours");
    scratch.write("a", b"a");
    let args = [
        "scan",
        "drive",
        "--drive",
        "H",
        "--to",
        &server.url,
        "--series",
        SERIES,
    ];
    let open = scratch.run(&args);
    assert_eq!(open.code, 77);
    assert!(open.err.contains("chmod 600"), "{}", open.err);
    std::fs::set_permissions(&file, PermissionsExt::from_mode(0o600)).expect("ours");
    assert_eq!(scratch.run(&args).code, 0);
}
