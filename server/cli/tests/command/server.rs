//! A server that answers as the contract says, sometimes late, sometimes not at all.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::thread;

use serde_json::{Value, json};
use waybill_domain::manifest::{FileEntry, chunk_digest, read_chunk, scan_digest};
use waybill_domain::verification::{self, ExpectedFile, VerifiedFile, VerifyResult};

pub const SERIES: &str = "0198c0de-0000-7000-8000-000000000001";

/// A request as it came.
struct Asked {
    method: String,
    path: String,
    headers: BTreeMap<String, String>,
    body: Vec<u8>,
}

/// What a server remembers of one scan and one verification.
#[derive(Default)]
pub struct Scans {
    pub start: Value,
    pub chunks: BTreeMap<u32, (String, Vec<FileEntry>)>,
    pub complete: bool,
    /// Answers to give before the true ones, the first one last: a status, 0 for a dropped connection, or 1 for the
    /// true one.
    pub trouble: Vec<u16>,
    pub requests: Vec<String>,
    /// What is known on the drive "H", the scanned folder first in each path, by path.
    pub expected: Vec<ExpectedFile>,
    /// Pictures that came, by file and kind; files are numbered in the order of their contents.
    pub pictures: BTreeMap<String, Vec<u8>>,
    /// Path of each content, once each.
    pub contents: Vec<String>,
    pub verification: Value,
    pub verified: Vec<VerifiedFile>,
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

    pub fn trouble(&self, answers: &[u16]) {
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
        Some(1) => answer(&asked, scans),
        Some(status) => (status, json!({ "title": "Too busy", "status": status })),
        None => answer(&asked, scans),
    };
    let text = body.to_string();
    let head = format!(
        "HTTP/1.1 {status} X\r\nContent-Type: application/json\r\nContent-Length: {}\r\nRetry-After: 2\r\n\
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
            if body() != json!({ "email": "ada@example.org", "password": "oars and tides" }) {
                let wrong = "The address or the password is wrong.";
                return Some((400, json!({ "code": "bad_request", "detail": wrong })));
            }
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
        ("GET", ["series", SERIES, "people"]) => {
            let people = [
                ("p1", "Ada Quill", "Ada Q."),
                ("p2", "Ben Sand", "Ben Sand"),
            ];
            let people = people.map(|(id, full, credited)| {
                json!({ "id": id, "legal_name": full, "credited_name": credited })
            });
            (200, json!({ "items": people, "next": null }))
        }
        ("GET", ["series", SERIES, "files"]) => {
            (200, json!({ "items": [], "next": null, "total": 0 }))
        }
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
            let number: u32 = number.parse().expect("a number");
            if number as usize > scans.chunks.len() {
                let detail = "Send the missing ones first.";
                return (409, json!({ "title": "Conflict", "detail": detail }));
            }
            scans.chunks.insert(number, (digest, files));
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
        (_, ["series", SERIES, "pictures", "lacking"]) => lacking(asked, scans),
        ("PUT", ["series", SERIES, "files", file, "pictures", kind]) => {
            let is_jpeg = asked
                .headers
                .get("content-type")
                .is_some_and(|v| v == "image/jpeg");
            assert!(is_jpeg && asked.body.starts_with(&[0xff, 0xd8]));
            let place = format!("{file}/{kind}");
            assert!(scans.pictures.insert(place, asked.body.clone()).is_none());
            (200, json!({ "poster": null, "contact_sheet": null }))
        }
        (_, ["series", SERIES, "drives", rest @ ..]) => drives(asked, rest, query, scans),
        _ => (
            404,
            json!({ "title": "Not found", "detail": format!("No {path}.") }),
        ),
    }
}

/// Which contents have not two pictures.
fn lacking(asked: &Asked, scans: &mut Scans) -> (u16, Value) {
    let body: Value = serde_json::from_slice(&asked.body).expect("JSON");
    let files: Vec<&FileEntry> = scans.chunks.values().flat_map(|(_, files)| files).collect();
    let mut items = Vec::new();
    for (at, content) in body["contents"]
        .as_array()
        .expect("a list")
        .iter()
        .enumerate()
    {
        let is_it = |file: &&&FileEntry| {
            let known = file
                .hashes
                .values()
                .any(|hash| content["xxh128"] == hash.as_str());
            known && content["size"] == file.size
        };
        let file = files.iter().find(is_it).expect("a file of the scan");
        let path = file.path.join("/");
        let number = scans.contents.iter().position(|known| *known == path);
        let number = number.unwrap_or_else(|| {
            scans.contents.push(path);
            scans.contents.len() - 1
        });
        let lacks = |kind| !scans.pictures.contains_key(&format!("{number}/{kind}"));
        if lacks("poster") || lacks("contact_sheet") {
            items.push(json!({
                "at": at, "file_id": number.to_string(),
                "lacks_poster": lacks("poster"), "lacks_contact_sheet": lacks("contact_sheet"),
            }));
        }
    }
    (200, json!({ "items": items }))
}

/// Pages of two, so that a test needs few files.
const PAGE: usize = 2;

fn drives(asked: &Asked, parts: &[&str], query: &str, scans: &mut Scans) -> (u16, Value) {
    let query: BTreeMap<String, String> = form_urlencoded(query);
    let body = || serde_json::from_slice::<Value>(&asked.body).expect("JSON");
    match (asked.method.as_str(), parts) {
        ("GET", []) => {
            let one = json!({ "id": "d1", "label": query["q"].to_uppercase() });
            let items = if query["q"] == "none" {
                vec![]
            } else {
                vec![one]
            };
            (200, json!({ "items": items, "next": null }))
        }
        ("GET", ["d1", "expected"]) => {
            let root = query.get("root").map(|root| format!("{root}/"));
            let root = root.unwrap_or_default();
            let after = format!("{root}{}", query["after"]);
            let text = |file: &ExpectedFile| file.path.join("/");
            let known = scans.expected.iter();
            let known = known.filter(|file| text(file).starts_with(&root) && text(file) > after);
            let mut items: Vec<ExpectedFile> = known.take(PAGE + 1).cloned().collect();
            let more = items.len() > PAGE;
            items.truncate(PAGE);
            for file in &mut items {
                file.path = file.path.split_off(root.matches('/').count());
            }
            let next = items.last().filter(|_| more).map(text);
            (200, json!({ "items": items, "next": next }))
        }
        ("POST", ["d1", "verifications"]) => {
            scans.verification = body();
            let id = &scans.verification["id"];
            (200, json!({ "id": id, "next_chunk": 0, "complete": false }))
        }
        ("PUT", ["d1", "verifications", _, "chunks", "0"]) => {
            assert_eq!(query["digest"], chunk_digest(&asked.body));
            scans.verified = verification::read_chunk(&asked.body).expect("lines");
            (200, json!({ "next_chunk": 1 }))
        }
        ("POST", ["d1", "verifications", _, "complete"]) => {
            assert_eq!(body()["files"], json!(scans.verified.len()));
            let is_verified = |file: &&VerifiedFile| file.result == VerifyResult::Verified;
            let verified = scans.verified.iter().filter(is_verified).count();
            (
                200,
                json!({ "verified": verified, "next_check_on": "2029-07-09" }),
            )
        }
        _ => (404, json!({ "title": "Not found" })),
    }
}

fn form_urlencoded(query: &str) -> BTreeMap<String, String> {
    let url = url::Url::parse(&format!("http://x/?{query}")).expect("a query");
    url.query_pairs().into_owned().collect()
}
