//! Scans made up for tests: entries with true hashes, sent as the command sends them.

use serde_json::{Value, json};
use twox_hash::XxHash3_128;
use waybill_domain::manifest::{chunk_digest, scan_digest};
use waybill_tests::http::{Client, Reply};

/// The folder of a roll, by the series' pattern.
pub const ROLL: &str = "20280309_A001_CAMA_SLIPWAY";

/// A file of a scan, with this content.
pub fn entry(path: &str, content: &str) -> Value {
    json!({
        "path": path.split('/').collect::<Vec<_>>(),
        "size": content.len(),
        "modified": "2028-03-09T16:00:00Z",
        "read": "2028-03-09T18:00:00Z",
        "hashes": { "xxh128": format!("{:032x}", XxHash3_128::oneshot(content.as_bytes())) },
    })
}

/// A clip of two seconds from 10:00:00:00 at 25 frames a second.
pub fn clip(path: &str, content: &str) -> Value {
    let mut clip = entry(path, content);
    clip["media"] = json!({
        "container": "quick_time",
        "duration": { "num": 2, "den": 1 },
        "frame_count": 50,
        "rate": { "num": 25, "den": 1 },
        "start": { "label": "10:00:00:00", "frame": 900_000, "rate": { "num": 25, "den": 1 }, "drop": false },
        "reel": "A001",
        "width": 64,
        "height": 36,
        "codec": "mp4v",
    });
    clip
}

/// A chunk's body.
pub fn body(entries: &[Value]) -> Vec<u8> {
    entries
        .iter()
        .flat_map(|entry| format!("{entry}\n").into_bytes())
        .collect()
}

/// One scan on its way to the server.
pub struct Scan<'a> {
    pub client: &'a Client,
    pub base: String,
    pub start: Value,
}

impl<'a> Scan<'a> {
    pub fn new(client: &'a Client, series: &str, drive: &str, root: &str) -> Self {
        Self {
            client,
            base: format!("/api/series/{series}/scans"),
            start: json!({
                "id": uuid::Uuid::now_v7(),
                "drive": drive,
                "root": root,
                "tool": "test 1",
                "hashes": ["xxh128"],
                "started": "2028-03-09T18:00:00Z",
            }),
        }
    }

    pub async fn begin(&self) -> Reply {
        self.client.post(&self.base, &self.start).await
    }

    pub fn at(&self, rest: &str) -> String {
        format!(
            "{}/{}/{rest}",
            self.base,
            self.start["id"].as_str().expect("an id")
        )
    }

    pub async fn chunk(&self, number: usize, body: &[u8]) -> Reply {
        let path = self.at(&format!("chunks/{number}?digest={}", chunk_digest(body)));
        self.client
            .send(
                "PUT",
                &path,
                &[("content-type", "application/x-ndjson")],
                body,
            )
            .await
    }

    pub async fn complete(&self, files: usize, chunks: &[Vec<u8>]) -> Reply {
        let digest = scan_digest(chunks.iter().map(|chunk| chunk_digest(chunk)));
        let whole = json!({ "files": files, "digest": digest });
        self.client.post(&self.at("complete"), &whole).await
    }

    /// All of it in one chunk; the summary.
    pub async fn send(&self, entries: &[Value]) -> Value {
        self.begin().await.expect(200);
        let chunk = body(entries);
        self.chunk(0, &chunk).await.expect(200);
        self.complete(entries.len(), &[chunk])
            .await
            .expect(200)
            .value()
    }
}

/// Sends a scan of a drive whose folder has the drive's label.
pub async fn send(client: &Client, series: &str, drive: &str, entries: &[Value]) -> Value {
    Scan::new(client, series, drive, drive).send(entries).await
}

/// The warnings of a summary, joined.
pub fn warnings(summary: &Value) -> String {
    let all = summary["warnings"].as_array().expect("a list").iter();
    all.filter_map(Value::as_str).collect::<Vec<_>>().join("\n")
}
