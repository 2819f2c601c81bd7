//! A plain HTTP/1.1 client: one connection for each request, nothing followed, nothing hidden. Faults of a client (a
//! body that breaks off, a missing header) can be made on purpose.

use std::fmt::Write as _;
use std::net::SocketAddr;

use serde_json::Value;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// Somebody who asks.
#[derive(Clone, Debug)]
pub struct Client {
    address: SocketAddr,
    /// Sent with each request: the session, the bearer token, the header of our own pages.
    pub headers: Vec<(String, String)>,
    /// The person, for tests that look into the database.
    pub user_id: Option<uuid::Uuid>,
}

/// What came back.
#[derive(Debug)]
pub struct Reply {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
    asked: String,
}

impl Client {
    /// Not signed in; says that it is a page of ours.
    pub fn new(address: SocketAddr) -> Self {
        Self {
            address,
            headers: vec![("x-waybill".into(), "1".into())],
            user_id: None,
        }
    }

    /// The same client with one more header in each request.
    #[must_use]
    pub fn with(&self, name: &str, value: &str) -> Self {
        let mut client = self.without(name);
        client.headers.push((name.into(), value.into()));
        client
    }

    /// The same client without a header.
    #[must_use]
    pub fn without(&self, name: &str) -> Self {
        let mut client = self.clone();
        client.headers.retain(|(known, _)| known != name);
        client
    }

    pub async fn get(&self, path: &str) -> Reply {
        self.send("GET", path, &[], b"").await
    }

    pub async fn post(&self, path: &str, body: &Value) -> Reply {
        self.json("POST", path, &[], body).await
    }

    /// A PUT of version `version`.
    pub async fn put(&self, path: &str, version: i64, body: &Value) -> Reply {
        let version = format!("\"{version}\"");
        self.json("PUT", path, &[("if-match", &version)], body)
            .await
    }

    /// A DELETE of version `version`.
    pub async fn delete(&self, path: &str, version: i64) -> Reply {
        let version = format!("\"{version}\"");
        self.send("DELETE", path, &[("if-match", &version)], b"")
            .await
    }

    /// JSON with any method.
    pub async fn json(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &Value,
    ) -> Reply {
        let mut headers = headers.to_vec();
        headers.push(("content-type", "application/json"));
        self.send(method, path, &headers, body.to_string().as_bytes())
            .await
    }

    /// Anything, with its true length.
    pub async fn send(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &[u8],
    ) -> Reply {
        self.send_announced(method, path, headers, body, Some(body.len()))
            .await
    }

    /// Anything, with whatever length is announced; then the sending side is closed.
    pub async fn send_announced(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &[u8],
        length: Option<usize>,
    ) -> Reply {
        let mut head =
            format!("{method} {path} HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n");
        let own = self
            .headers
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()));
        for (name, value) in own.chain(headers.iter().copied()) {
            let _ = write!(head, "{name}: {value}\r\n");
        }
        if let Some(length) = length {
            let _ = write!(head, "content-length: {length}\r\n");
        }
        head.push_str("\r\n");
        let mut stream = TcpStream::connect(self.address)
            .await
            .expect("the server listens");
        stream
            .write_all(head.as_bytes())
            .await
            .expect("the head goes out");
        // The server may answer and hang up before it has read everything.
        let _ = stream.write_all(body).await;
        if length.is_some_and(|length| length != body.len()) {
            let _ = stream.shutdown().await;
        }
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer).await;
        Reply::read(&answer, format!("{method} {path}"))
    }
}

impl Reply {
    fn read(answer: &[u8], asked: String) -> Self {
        let end = answer
            .windows(4)
            .position(|window| window == b"\r\n\r\n")
            .unwrap_or_else(|| panic!("{asked}: no answer ({} bytes)", answer.len()));
        let head = String::from_utf8_lossy(&answer[..end]).into_owned();
        let mut lines = head.lines();
        let status = lines
            .next()
            .and_then(|line| line.split(' ').nth(1))
            .and_then(|code| code.parse().ok())
            .unwrap_or_else(|| panic!("{asked}: {head}"));
        let headers: Vec<(String, String)> = lines
            .filter_map(|line| line.split_once(':'))
            .map(|(name, value)| (name.to_ascii_lowercase(), value.trim().to_owned()))
            .collect();
        let mut reply = Self {
            status,
            headers,
            body: answer[end + 4..].to_vec(),
            asked,
        };
        if reply.header("transfer-encoding") == Some("chunked") {
            reply.body = unchunk(&reply.body);
        }
        reply
    }

    /// A header by its name in lower case.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers
            .iter()
            .find(|(known, _)| known == name)
            .map(|(_, value)| value.as_str())
    }

    /// The body as JSON.
    pub fn value(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|error| panic!("{}: {error}: {}", self.asked, self.text()))
    }

    /// The body as text.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// Stops the test when the status is another.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}: {}", self.asked, self.text());
        self
    }

    /// Stops the test unless this is a problem (RFC 9457) with this status and code; gives the problem.
    #[track_caller]
    pub fn problem(self, status: u16, code: &str) -> Value {
        let reply = self.expect(status);
        let kind = reply.header("content-type").unwrap_or_default();
        assert!(
            kind.starts_with("application/problem+json"),
            "{}: {kind}: {}",
            reply.asked,
            reply.text()
        );
        let problem = reply.value();
        assert_eq!(problem["code"], code, "{}: {problem}", reply.asked);
        assert_eq!(problem["status"], status, "{}: {problem}", reply.asked);
        assert!(
            problem["detail"].as_str().is_some_and(|it| !it.is_empty())
                && problem["instance"].is_string(),
            "{}: {problem}",
            reply.asked
        );
        problem
    }

    /// The field `id` of the body.
    #[track_caller]
    pub fn id(&self) -> String {
        self.value()["id"]
            .as_str()
            .unwrap_or_else(|| panic!("{}: no id in {}", self.asked, self.text()))
            .to_owned()
    }

    /// The field `version` of the body.
    #[track_caller]
    pub fn version(&self) -> i64 {
        self.value()["version"]
            .as_i64()
            .unwrap_or_else(|| panic!("{}: no version in {}", self.asked, self.text()))
    }
}

fn unchunk(mut body: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    while let Some(end) = body.windows(2).position(|window| window == b"\r\n") {
        let size = std::str::from_utf8(&body[..end])
            .ok()
            .and_then(|text| usize::from_str_radix(text.trim(), 16).ok())
            .expect("the size of a chunk");
        if size == 0 {
            break;
        }
        whole.extend_from_slice(&body[end + 2..end + 2 + size]);
        body = &body[end + 2 + size + 2..];
    }
    whole
}
