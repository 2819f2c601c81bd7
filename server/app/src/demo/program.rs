//! The real command against the real server: serves this database on a port of this machine for as long as the load
//! takes, and runs `waybill` with a device token.

use std::path::{Path, PathBuf};

use actix_web::HttpServer;
use actix_web::dev::ServerHandle;
use actix_web::web::Data;
use anyhow::{Context, Result, bail};

use crate::app::App;
use crate::http::router;
use crate::service;

/// A server for the command, and where the command is.
pub struct Program {
    path: PathBuf,
    /// Folder for the journals of scans.
    state: PathBuf,
    server: String,
    handle: ServerHandle,
}

impl Program {
    /// Begins to serve.
    pub fn start(app: &App, path: &Path, state: &Path) -> Result<Self> {
        let document = Data::new(router::document());
        let shared = Data::new(app.clone());
        let server = HttpServer::new(move || service!(shared, document))
            .client_request_timeout(router::HEAD_WITHIN)
            .disable_signals()
            .workers(1)
            .bind(("127.0.0.1", 0))
            .context("no free port for the command")?;
        let address = server.addrs().first().copied().context("no address")?;
        let server = server.run();
        let handle = server.handle();
        tokio::spawn(server);
        Ok(Self {
            path: path.to_path_buf(),
            state: state.to_path_buf(),
            server: format!("http://{address}"),
            handle,
        })
    }

    /// Runs the command; its last line, for a person.
    pub async fn run(&self, token: &str, series: &str, args: &[&str]) -> Result<String> {
        let output = tokio::process::Command::new(&self.path)
            .args(args)
            .args(["--to", &self.server, "--series", series])
            .env("WAYBILL_TOKEN", token)
            .env("WAYBILL_STATE", &self.state)
            .output()
            .await
            .with_context(|| format!("starting {}", self.path.display()))?;
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        if !output.status.success() {
            let fault = String::from_utf8_lossy(&output.stderr).into_owned();
            bail!(
                "`waybill {}`: {} {}",
                args.join(" "),
                said.trim(),
                fault.trim()
            );
        }
        Ok(said.lines().last().unwrap_or_default().to_owned())
    }

    /// Stops serving.
    pub async fn stop(self) {
        self.handle.stop(true).await;
    }
}
