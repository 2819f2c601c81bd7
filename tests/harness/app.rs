//! The real server over a database of the test's own: real HTTP on a free port, a clock that stands still, documents
//! and scratch files in a temporary folder, mails kept in memory.

use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;

use actix_web::HttpServer;
use actix_web::dev::ServerHandle;
use actix_web::web::Data;
use chrono::{DateTime, Utc};
use serde_json::{Value, json};
use waybill_server::app::App;
use waybill_server::blobs::Blobs;
use waybill_server::clock::FixedClock;
use waybill_server::config::Config;
use waybill_server::db::pool;
use waybill_server::http::router;
use waybill_server::mail::carrier::Carrier;

use crate::db::TestDb;
use crate::http::Client;

/// What the clock shows at the start of every test.
pub const NOON: &str = "2029-01-09T12:00:00Z";

/// A running server. Dropping it stops it and drops its database.
pub struct TestApp {
    /// What handlers and jobs get; tests may call operations with it.
    pub app: App,
    pub clock: Arc<FixedClock>,
    pub db: TestDb,
    pub address: SocketAddr,
    /// The organisation that [`TestApp::start`] made.
    pub organisation: uuid::Uuid,
    var: tempfile::TempDir,
    handle: ServerHandle,
}

impl TestApp {
    /// A server with an organisation and nobody in it.
    pub async fn start() -> Self {
        let mut test = Self::bare().await;
        let conn = &mut *test.app.pool.get().await.expect("a connection");
        test.organisation = waybill_server::db::users::insert_organisation(
            conn,
            "Breakwater Films",
            test.app.now(),
        )
        .await
        .expect("an organisation");
        test
    }

    /// A server that nobody has set up.
    pub async fn bare() -> Self {
        let db = TestDb::new().await;
        let var = tempfile::tempdir().expect("a temporary folder");
        let folder = var.path().display().to_string();
        let config = Config::read(|name| match name {
            "WAYBILL_VAR" => Some(folder.clone()),
            "WAYBILL_URL" => Some("http://localhost".into()),
            "WAYBILL_POOL" => Some("8".into()),
            _ => None,
        })
        .expect("settings");
        let pool = pool::open(&db.url(), config.pool_size).expect("a pool");
        let now: DateTime<Utc> = NOON.parse().expect("an instant");
        let clock = Arc::new(FixedClock::new(now));
        let blobs = Blobs::folder(&var.path().join("documents")).expect("a folder");
        let carrier = Carrier::memory(&config.mail_from).expect("a carrier");
        let app = App::new(config, pool, clock.clone(), blobs, carrier)
            .await
            .expect("an app");
        let (address, handle) = serve(&app);
        Self {
            app,
            clock,
            db,
            address,
            organisation: uuid::Uuid::nil(),
            var,
            handle,
        }
    }

    /// A client that is not signed in.
    pub fn stranger(&self) -> Client {
        Client::new(self.address)
    }

    /// The server's own folder.
    pub fn var(&self) -> &Path {
        self.var.path()
    }

    /// A series made by `admin`; its id.
    pub async fn series(&self, admin: &Client, title: &str) -> String {
        let made = admin.post("/api/series", &series_body(title)).await;
        made.expect(201).id()
    }
}

impl Drop for TestApp {
    fn drop(&mut self) {
        // The order goes out with the call; nobody needs to wait for the answer.
        drop(self.handle.stop(false));
    }
}

fn serve(app: &App) -> (SocketAddr, ServerHandle) {
    let shared = Data::new(app.clone());
    let document = Data::new(router::document());
    let server = HttpServer::new(move || waybill_server::service!(shared, document))
        .client_request_timeout(router::HEAD_WITHIN)
        .workers(1)
        .disable_signals()
        .bind("127.0.0.1:0")
        .expect("a free port");
    let address = server.addrs()[0];
    let server = server.run();
    let handle = server.handle();
    tokio::spawn(server);
    (address, handle)
}

/// The settings of a series.
pub fn series_body(title: &str) -> Value {
    json!({
        "title": title,
        "producer_entity": "Breakwater Films Ltd",
        "zone": "Europe/London",
        "roll_pattern": "{date:YYYYMMDD}_{card}_{camera}_{words}",
        "frame_rate": "25",
        "adult_at": 18,
        "consideration_required": true,
        "holidays": [],
        "shoot_from": "2028-03-01",
        "shoot_to": "2028-09-30"
    })
}
