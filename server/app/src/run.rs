//! Starting and stopping: the log, the listener, the signals, and the order in which things end.

use actix_web::HttpServer;
use actix_web::web::Data;
use anyhow::{Context, Result};
use tokio::sync::watch;
use tracing_subscriber::EnvFilter;

use crate::app::App;
use crate::db::pool;
use crate::http::router;
use crate::jobs::timetable::{self, Look};
use crate::jobs::worker;
use crate::ops::sign_in;
use crate::service;

/// Background jobs at the same time.
const WORKERS: usize = 2;

/// Sets up the log: lines for people on a terminal, JSON lines elsewhere; `WAYBILL_LOG` filters.
pub fn logging() {
    use std::io::IsTerminal;
    let filter = EnvFilter::try_from_env("WAYBILL_LOG").unwrap_or_else(|_| EnvFilter::new("info"));
    let log = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr);
    if std::io::stderr().is_terminal() {
        log.with_target(false).init();
    } else {
        log.json().init();
    }
}

/// Serves until a signal comes; then stops listening, lets running requests end, and closes the pool.
///
/// # Errors
/// When the address can't be listened on, or the database went away before the start was over.
pub async fn serve(app: App) -> Result<()> {
    let listen = app.config.listen;
    let setup = sign_in::setup_token(&app).await?;
    let language = pool::language(&app.pool).await?;
    if !pool::is_english(&language) {
        // deploy/README.md says what to do
        tracing::warn!(language, "database.messages_not_english");
    }
    let document = Data::new(router::document());
    let shared = Data::new(app.clone());
    let factory = {
        let shared = shared.clone();
        move || service!(shared, document)
    };
    let server = HttpServer::new(factory)
        // An answer in several pieces would else wait for the other side's delayed acknowledgement, some 40 ms.
        .tcp_nodelay(true)
        .client_request_timeout(router::HEAD_WITHIN)
        .disable_signals()
        .shutdown_timeout(10)
        .workers(std::thread::available_parallelism().map_or(2, usize::from))
        .bind(listen)
        .with_context(|| format!("can't listen on {listen}; is another server running there?"))?
        .run();
    println!("Waybill is at {}", app.config.url);
    if let Some(token) = setup {
        println!("Nobody can sign in yet. Make the first administrator here (works once):");
        println!("  {}", app.config.link(&format!("/set-up#{token}")));
    }
    let handle = server.handle();
    let serving = tokio::spawn(server);
    timetable::act(&app, Look::Plan).await?;
    let mut metronome = timetable::start(app.clone()).await?;
    let (stop, stopped) = watch::channel(false);
    let workers: Vec<_> = (0..WORKERS)
        .map(|_| tokio::spawn(worker::work(app.clone(), stopped.clone())))
        .collect();
    signal().await?;
    tracing::info!("server.stopping");
    handle.stop(true).await;
    serving.await.context("server task")?.context("server")?;
    metronome.shutdown().await.context("metronome")?;
    // Nobody is left who would not hear it.
    let _ = stop.send(true);
    for worker in workers {
        worker.await.context("worker")?;
    }
    app.pool.close();
    Ok(())
}

/// Waits for Ctrl-C or a request to end.
async fn signal() -> Result<()> {
    use tokio::signal::unix::{SignalKind, signal};
    let mut terminate = signal(SignalKind::terminate()).context("signal handler")?;
    tokio::select! {
        result = tokio::signal::ctrl_c() => result.context("signal handler"),
        _ = terminate.recv() => Ok(()),
    }
}
